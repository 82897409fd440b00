/* work: what a listener and another thread see of long work, and how JSON is written. */
#include "drawtrue/base.h"
#include "drawtrue/json.h"
#include "drawtrue/work.h"

#include <gio/gio.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

typedef struct {
    unsigned calls;
    DtWorkState last;
} Seen;

static void see(const DtWorkState *state, void *user)
{
    Seen *s = user;
    s->calls++;
    s->last = *state;
}

/* Each stage is told as it begins, whole stages and parts of them count from 0 to 1. */
static void test_progress_by_stages_and_parts(void)
{
    Seen seen = {0};
    g_autoptr(DtWork) w = dt_work_new(see, &seen);
    g_assert_cmpint(dt_work_state(w).stage, ==, DT_STAGE_WAITING);
    DtWork *before = dt_work_enter(w);
    g_assert_null(before);
    dt_work_report(0.4); /* before any stage has begun */
    g_assert_cmpfloat_with_epsilon(dt_work_state(w).done, 0.4, 1e-6);
    g_assert_cmpint(dt_work_state(w).stage, ==, DT_STAGE_WAITING);
    for (int stage = DT_STAGE_READ; stage < DT_STAGE_COUNT; stage++) {
        const unsigned calls = seen.calls;
        dt_work_begin((DtStage)stage);
        g_assert_cmpuint(seen.calls, ==, calls + 1);
        g_assert_cmpint(seen.last.stage, ==, stage);
        g_assert_cmpfloat(seen.last.done, ==, 0);
        dt_work_report(0.25);
        g_assert_cmpfloat_with_epsilon(dt_work_state(w).done, 0.25, 1e-6);
        g_assert_cmpint(dt_work_state(w).stage, ==, stage);
        dt_work_set_range(0.5, 0.75);
        dt_work_report(0);
        g_assert_cmpfloat_with_epsilon(dt_work_state(w).done, 0.5, 1e-6);
        dt_work_report(0.5);
        g_assert_cmpfloat_with_epsilon(dt_work_state(w).done, 0.625, 1e-6);
        dt_work_report(7);
        g_assert_cmpfloat_with_epsilon(dt_work_state(w).done, 0.75, 1e-6);
        dt_work_report(-7);
        g_assert_cmpfloat_with_epsilon(dt_work_state(w).done, 0.5, 1e-6);
        dt_work_set_range(0, 1);
        dt_work_report(1);
        g_assert_cmpfloat(dt_work_state(w).done, ==, 1);
        g_assert_cmpint(dt_work_state(w).stage, ==, stage);
    }
    const unsigned calls = seen.calls;
    for (int i = 0; i < 100000; i++) /* no more often than every 50 ms */
        dt_work_report(i / 1e5);
    g_assert_cmpuint(seen.calls - calls, <, 10000);
    const gint64 end = g_get_monotonic_time() + 200 * 1000;
    while (g_get_monotonic_time() < end)
        dt_work_report(0.5);
    g_assert_cmpuint(seen.calls, >, calls); /* but now and then */
    dt_work_leave(before);
    dt_work_begin(DT_STAGE_READ); /* no current work: nothing is told */
    dt_work_report(0.5);
    dt_work_set_range(0, 0.5);
    g_assert_cmpint(dt_work_state(w).stage, ==, DT_STAGE_COUNT - 1);
}

/* Work within work is told apart, and NULL keeps the work that there is. */
static void test_cancel_reaches_the_current_work_alone(void)
{
    g_autoptr(DtWork) outer = dt_work_new(NULL, NULL);
    g_autoptr(DtWork) inner = dt_work_new(NULL, NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_work_check(&error));
    DtWork *first = dt_work_enter(outer);
    dt_work_begin(DT_STAGE_READ); /* without a listener */
    g_assert_cmpint(dt_work_state(outer).stage, ==, DT_STAGE_READ);
    DtWork *second = dt_work_enter(inner);
    g_assert_true(second == outer);
    dt_work_cancel(outer);
    g_assert_true(dt_work_is_cancelled(outer));
    g_assert_false(dt_work_is_cancelled(inner));
    g_assert_true(dt_work_check(&error));
    DtWork *third = dt_work_enter(NULL);
    g_assert_true(third == inner);
    g_assert_true(dt_work_check(&error));
    dt_work_leave(third);
    dt_work_leave(second);
    g_assert_true(dt_work_stopped());
    g_assert_false(dt_work_check(&error));
    g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
    dt_work_leave(first);
    g_assert_false(dt_work_stopped());
    DtWork *same = dt_work_ref(inner);
    dt_work_unref(same);
    dt_work_unref(NULL);
    g_assert_false(dt_work_is_cancelled(inner)); /* is still there */
}

/* A stage is whole again, whatever part of the one before was being done. */
static void test_a_stage_begins_whole(void)
{
    g_autoptr(DtWork) w = dt_work_new(NULL, NULL);
    DtWork *before = dt_work_enter(w);
    dt_work_begin(DT_STAGE_READ);
    dt_work_set_range(0.5, 0.75);
    dt_work_report(0.5);
    g_assert_cmpfloat_with_epsilon(dt_work_state(w).done, 0.625, 0.002);
    dt_work_begin(DT_STAGE_INK);
    g_assert_cmpfloat(dt_work_state(w).done, ==, 0);
    dt_work_report(0.25);
    g_assert_cmpfloat_with_epsilon(dt_work_state(w).done, 0.25, 0.002);
    dt_work_leave(before);
}

static void test_stages_have_names(void)
{
    for (int i = 0; i < DT_STAGE_COUNT; i++)
        for (int k = 0; k < i; k++)
            g_assert_cmpstr(dt_stage_word((DtStage)i), !=, dt_stage_word((DtStage)k));
    g_assert_cmpstr(dt_stage_word(DT_STAGE_INK), ==, "ink");
    g_assert_cmpstr(dt_stage_title(DT_STAGE_INK), ==, "planning strokes");
}

/* Numbers in the fewest digits that stand for them, lengths and times to a thousandth, all else to four
 * places; what is no number is null (RFC 8259 has no other word for it). */
static void test_json_numbers(void)
{
    JsonBuilder *b = dt_json_begin();
    const double values[] = {0.1, 2, -0.0, NAN};
    dt_json_number(b, "length_mm", 1.23456);
    dt_json_number(b, "time_s", 0.0004);
    dt_json_number(b, "steps_per_mm", 1.23456);
    dt_json_number(b, "rate", 1.23456);
    dt_json_number(b, "large", 123456789012.25);
    dt_json_number(b, "none", INFINITY);
    dt_json_number(b, "third", 0.3);
    dt_json_numbers(b, "all", values, G_N_ELEMENTS(values));
    dt_json_begin_array(b, "empty");
    json_builder_end_array(b);
    json_builder_set_member_name(b, "nothing");
    json_builder_begin_object(b);
    json_builder_end_object(b);
    dt_json_text(b, "text", "tab\t\302\205\177\303\244");
    g_autofree char *text = dt_json_end(b);
    g_assert_cmpstr(text, ==,
                    "{\n"
                    "  \"length_mm\" : 1.235,\n"
                    "  \"time_s\" : 0.0,\n"
                    "  \"steps_per_mm\" : 1.2346,\n"
                    "  \"rate\" : 1.2346,\n"
                    "  \"large\" : 123456789012.25,\n"
                    "  \"none\" : null,\n"
                    "  \"third\" : 0.3,\n"
                    "  \"all\" : [\n"
                    "    0.1,\n"
                    "    2.0,\n"
                    "    0.0,\n"
                    "    null\n"
                    "  ],\n"
                    "  \"empty\" : [],\n"
                    "  \"nothing\" : {},\n"
                    "  \"text\" : \"tab\\t\\u0085\\u007f\303\244\"\n"
                    "}\n");
    g_autoptr(JsonParser) parser = json_parser_new();
    g_assert_true(json_parser_load_from_data(parser, text, -1, NULL));

    /* what is handed over exactly is written exactly: in 15, 16 or 17 digits */
    g_autoptr(JsonBuilder) exact = json_builder_new();
    json_builder_begin_array(exact);
    json_builder_add_double_value(exact, 0.1);
    json_builder_add_double_value(exact, 1 / 3.0);
    json_builder_add_double_value(exact, 0.1 + 0.2);
    json_builder_end_array(exact);
    g_autofree char *digits = dt_json_write(exact, FALSE);
    g_assert_cmpstr(digits, ==, "[0.1,0.3333333333333333,0.30000000000000004]");
}

/* Only what this program wrote may be replaced: by how each kind begins. */
static void test_what_may_be_replaced(void)
{
    static const struct {
        const char *text;
        DtFileKind kind;
        gboolean ours;
    } files[] = {{"(drawtrue 1.0)\nG0 X1\n", DT_FILE_PROGRAM, TRUE},
                 {";drawtrue 1.0\nG0 X1\n", DT_FILE_PROGRAM, TRUE},
                 {"(drawtru", DT_FILE_PROGRAM, FALSE},
                 {"(drawtrue 1.0)\nG0 X1\n", DT_FILE_INK, FALSE},
                 {"%PDF-1.5\n(drawtrue)", DT_FILE_PICTURE, TRUE},
                 {"%PDF-1.5\n(another)", DT_FILE_PICTURE, FALSE},
                 {"\xff\xd8\xff...drawtrue", DT_FILE_PICTURE, TRUE},
                 {"  12.000345 s    100   20 steps  G0 X1", DT_FILE_TRACE, TRUE},
                 {"12.0 s 100 steps", DT_FILE_TRACE, FALSE},
                 {"{\"unit\": \"mm\",\n\"figures\": {}}", DT_FILE_INK, TRUE},
                 {"{\"unit\": \"in\",\n\"figures\": {}}", DT_FILE_INK, FALSE},
                 {"", DT_FILE_PROGRAM, TRUE}};
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "a", NULL);
    g_autofree char *below = g_build_filename(path, "b", NULL);
    g_autofree char *missing = g_build_filename(folder, "c", "b", NULL);
    g_autofree char *fresh = g_build_filename(folder, "new", NULL);
    for (size_t i = 0; i < G_N_ELEMENTS(files); i++) {
        g_autoptr(GError) error = NULL;
        g_assert_true(dt_base_write_file(path, files[i].text, strlen(files[i].text), NULL));
        g_assert_cmpint(dt_base_check_output(path, files[i].kind, NULL, FALSE, &error), ==,
                        files[i].ours);
        g_assert_true(files[i].ours == (error == NULL));
        g_assert_true(dt_base_check_output(path, files[i].kind, NULL, TRUE, NULL));
    }
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_base_check_output(fresh, DT_FILE_PROGRAM, NULL, FALSE, &error));
    g_assert_no_error(error);
    g_assert_false(dt_base_check_output(below, DT_FILE_PROGRAM, NULL, FALSE, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_clear_error(&error);
    g_assert_false(dt_base_check_output(missing, DT_FILE_PROGRAM, NULL, FALSE, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_clear_error(&error);
    g_assert_false(dt_base_check_output(folder, DT_FILE_PROGRAM, NULL, TRUE, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_unlink(path);
    g_rmdir(folder);
}

static void test_a_pipe_is_refused_at_once(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "pipe", NULL);
    g_autofree char *file = g_build_filename(folder, "file", NULL);
    g_autoptr(GError) error = NULL;
    g_assert_cmpint(mkfifo(path, 0600), ==, 0);
    g_assert_null(dt_base_read_file(path, 10, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "a pipe"));
    g_clear_error(&error);
    g_assert_null(dt_base_read_file(folder, 10, NULL, &error));
    g_assert_nonnull(strstr(error->message, "a folder"));
    g_clear_error(&error);
    g_assert_null(dt_base_read_file("/dev/null", 10, NULL, &error));
    g_assert_nonnull(strstr(error->message, "a device"));
    g_clear_error(&error);
    /* as large as is allowed, and a byte more */
    g_assert_true(dt_base_write_file(file, "12345", 5, NULL));
    g_autofree char *text = dt_base_read_file(file, 5, NULL, &error);
    g_assert_cmpstr(text, ==, "12345");
    g_assert_null(dt_base_read_file(file, 4, NULL, &error));
    g_assert_nonnull(strstr(error->message, "5 bytes are more than the limit of 4"));
    g_unlink(path);
    g_unlink(file);
    g_rmdir(folder);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/base/work/whole-stages", test_a_stage_begins_whole);
    g_test_add_func("/base/work/progress", test_progress_by_stages_and_parts);
    g_test_add_func("/base/work/cancel", test_cancel_reaches_the_current_work_alone);
    g_test_add_func("/base/work/names", test_stages_have_names);
    g_test_add_func("/base/json/numbers", test_json_numbers);
    g_test_add_func("/base/replaced", test_what_may_be_replaced);
    g_test_add_func("/base/pipes", test_a_pipe_is_refused_at_once);
    return g_test_run();
}
