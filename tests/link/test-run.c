/* run: a program drawn on a small controller of our own that plays every kind of odd reply. What is
 * pinned here: each line is executed once and in order, or the run ends with the right words. */
#include "drawtrue/link.h"
#include "fake.h"

#include <gio/gio.h>
#include <glib/gstdio.h>
#include <string.h>
#include <unistd.h>

#define GREETING "drawtrue controller 1 ready"

typedef struct {
    DtProfile *profile;
    Fake *fake;
    char *folder, *program, *journal;
    DtRunOptions options;
    GString *events; /* a letter per event */
    DtRunner *runner;
    unsigned pause_after; /* progress events */
    unsigned changes;
} Stage;

static void hear(const DtRunEvent *e, void *user)
{
    Stage *s = user;
    static const char letters[] = "wpcrxPRd";
    g_assert_cmpfloat(e->done, >=, 0);
    g_assert_cmpfloat(e->done, <=, 1);
    if (e->kind != DT_RUN_PROGRESS)
        g_string_append_c(s->events, letters[e->kind]);
    if (e->kind == DT_RUN_PEN_CHANGE)
        s->changes++;
    if ((e->kind == DT_RUN_PEN_CHANGE || e->kind == DT_RUN_PAUSED) && s->runner != NULL)
        dt_run_go_on(s->runner);
}

/* Strokes of `segments` segments each, in the writer's own form. */
static char *write_program(const char *folder, unsigned strokes, unsigned segments)
{
    GString *g = g_string_new("(drawtrue 0 for plotter, profile x)\nG21\nG90\nM5\nG4P0.01\nG28\n");
    for (unsigned i = 0; i < strokes; i++) {
        if (i == 2)
            g_string_append(g, "G0X0Y50\n(pen red)\nM0\n");
        g_string_append_printf(g, "(stroke %u pen %s)\nG0X%uY5\nM3S40\nG4P0.01\n", i + 1,
                               i < 2 ? "black" : "red", 10 + i);
        for (unsigned k = 1; k <= segments; k++)
            g_string_append_printf(g, k == 1 ? "G1X%uY%.1fF600\n" : "X%uY%.1f\n", 10 + i,
                                   5 + k * 0.1);
        g_string_append(g, "M5\nG4P0.01\n");
    }
    g_string_append(g, "G0X0Y0\nM2\n");
    char *path = g_build_filename(folder, "job.nc", NULL);
    g_assert_true(g_file_set_contents(path, g->str, (gssize)g->len, NULL));
    g_string_free(g, TRUE);
    return path;
}

/* What a controller is to execute of the program: its lines without comments. */
static GPtrArray *expected_lines(const char *program)
{
    g_autofree char *text = NULL;
    g_assert_true(g_file_get_contents(program, &text, NULL, NULL));
    GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
    g_auto(GStrv) raw = g_strsplit(text, "\n", -1);
    for (char **l = raw; *l != NULL; l++)
        if (**l != '\0' && **l != '(')
            g_ptr_array_add(lines, g_strdup(*l));
    return lines;
}

static void set_stage(Stage *s, const FakeFaults *faults, unsigned strokes, unsigned segments)
{
    *s = (Stage){0};
    s->profile = dt_profile_new();
    s->profile->dialect.line_check = faults->check;
    s->profile->dialect.reply_timeout_s = 1.5;
    s->folder = g_dir_make_tmp("drawtrue-run-XXXXXX", NULL);
    s->program = write_program(s->folder, strokes, segments);
    s->journal = g_build_filename(s->folder, "journal.db", NULL);
    s->fake = fake_new(faults);
    s->events = g_string_new(NULL);
    s->options = (DtRunOptions){
        .port = fake_port(s->fake),
        .journal = s->journal,
        .pens_ready = TRUE,
        .listener = hear,
        .user = s,
        .replug_s = 3,
        .other_machine = TRUE,
    };
}

static void clear_stage(Stage *s)
{
    dt_run_free(s->runner);
    fake_free(s->fake);
    dt_profile_free(s->profile);
    g_string_free(s->events, TRUE);
    g_autofree char *command = g_strdup_printf("rm -r '%s'", s->folder);
    g_assert_cmpint(system(command), ==, 0);
    g_free(s->folder);
    g_free(s->program);
    g_free(s->journal);
}

static gboolean draw(Stage *s, GError **error)
{
    s->runner = dt_run_new(s->profile, s->program, &s->options, error);
    gboolean good = s->runner != NULL && dt_run_draw(s->runner, error);
    fake_stop(s->fake);
    return good;
}

/* The program's lines stand at the end of what was executed; before them only our own pen-up. */
static void assert_executed_once(Stage *s)
{
    g_autoptr(GPtrArray) want = expected_lines(s->program);
    GPtrArray *got = fake_executed(s->fake);
    g_assert_cmpuint(got->len, >=, want->len);
    const guint ours = got->len - want->len;
    g_assert_cmpuint(ours, <=, 2);
    for (guint i = 0; i < want->len; i++)
        g_assert_cmpstr(got->pdata[ours + i], ==, want->pdata[i]);
}

static void run_clean(const FakeFaults *faults)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, faults, 4, 20);
    gboolean good = draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    assert_executed_once(&s);
    g_assert_cmpuint(s.changes, ==, 1);
    g_assert_cmpuint(fake_most_unanswered(s.fake), <, (guint)s.profile->dialect.window + 4);
    clear_stage(&s);
}

static void test_every_line_is_executed_once_in_order(void)
{
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = FALSE});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 2});
}

static void test_a_board_that_is_up_already_is_asked(void)
{
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .resumes_silently = TRUE});
}

static void test_lost_doubled_garbled_and_late_replies(void)
{
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .drop_reply = 14});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .double_reply = 14});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .garble_reply = 14});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .late_reply = 14});
}

static void test_a_garbled_line_is_sent_again(void)
{
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .garble_line = 20});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .lose_line_end = 20});
}

static void test_an_unasked_hold_is_released(void)
{
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .hold_at = 20});
}

static void test_send_and_wait_where_the_window_is_unknown(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 3, 10);
    s.profile->dialect.window = 0;
    g_assert_true(draw(&s, &error));
    assert_executed_once(&s);
    g_assert_cmpuint(fake_most_unanswered(s.fake), <=, 40); /* one line and a question */
    clear_stage(&s);
}

static void fail_with(const FakeFaults *faults, const char *words, int code)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, faults, 4, 20);
    g_assert_false(draw(&s, &error));
    g_assert_error(error, DT_ERROR, code);
    if (strstr(error->message, words) == NULL)
        g_error("'%s' does not say '%s'", error->message, words);
    clear_stage(&s);
}

static void test_what_cannot_be_mended_stops_with_the_right_words(void)
{
    fail_with(&(FakeFaults){.check = TRUE, .deaf_to_ask = TRUE}, "has not answered for 1.5 s",
              DT_ERROR_INPUT);
    fail_with(&(FakeFaults){.check = TRUE, .noise_only = TRUE, .deaf_to_ask = TRUE}, "baud",
              DT_ERROR_INPUT);
    fail_with(&(FakeFaults){.greeting = GREETING, .check = TRUE, .silent_from = 30},
              "has not answered", DT_ERROR_INPUT);
    fail_with(&(FakeFaults){.greeting = GREETING, .refuse_at = 12}, "refuses", DT_ERROR_INPUT);
    fail_with(&(FakeFaults){.greeting = GREETING, .check = TRUE, .trip_at = 25}, "X",
              DT_ERROR_INPUT);
}

static void test_a_refused_line_is_named_and_the_pen_lifted(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .refuse_at = 13}, 4, 20);
    g_assert_false(draw(&s, &error));
    g_assert_nonnull(strstr(error->message, "job.nc:13: "));
    g_assert_nonnull(strstr(error->message, "0 of 4 strokes are drawn"));
    GPtrArray *got = fake_executed(s.fake);
    g_assert_cmpstr(got->pdata[got->len - 2], ==, "M5");
    g_assert_cmpstr(got->pdata[got->len - 1], ==, "M2"); /* lets the motors go */
    g_assert_nonnull(strchr(s.events->str, 'x'));
    clear_stage(&s);
}

/* Strokes executed, by their pen-downs' places: "10 11 12". */
static char *strokes_of(GPtrArray *lines)
{
    GString *s = g_string_new(NULL);
    const char *place = "";
    for (guint i = 0; i < lines->len; i++) {
        const char *l = lines->pdata[i];
        if (strncmp(l, "G0X", 3) == 0)
            place = l + 3;
        else if (strcmp(l, "M3S40") == 0)
            g_string_append_printf(s, "%.2s ", place);
    }
    return g_string_free(s, FALSE);
}

static void test_a_board_that_resets_is_homed_and_its_stroke_drawn_again(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .reset_at = 45}, 4, 20);
    gboolean good = draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_autofree char *strokes = strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 11 11 12 13 ");
    g_assert_nonnull(strchr(s.events->str, 'R'));
    clear_stage(&s);
}

/* The 55th line sent is the last motion of stroke 2: without a check nothing but the place tells
 * that it is gone.
 */
static void test_a_stroke_that_ended_elsewhere_is_drawn_again(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = FALSE, .skip_at = 55}, 4, 20);
    gboolean good = draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_autofree char *strokes = strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 11 11 12 13 ");
    clear_stage(&s);
}

static gpointer plug_later(gpointer fake)
{
    g_usleep(600000);
    fake_plug_in_again(fake);
    return NULL;
}

static void test_an_unplugged_board_is_found_again(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .hang_up_at = 45}, 4, 20);
    GThread *t = g_thread_new("plug", plug_later, s.fake);
    g_assert_true(draw(&s, &error));
    g_thread_join(t);
    g_assert_no_error(error);
    g_autofree char *strokes = strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 11 11 12 13 ");
    clear_stage(&s);
}

/* Something that is no port stands under the name for a while, as a device file does before its
 * rights are set. */
static gpointer plug_in_slowly(gpointer stage)
{
    const Stage *s = stage;
    g_usleep(600000);
    g_assert_cmpint(symlink(s->program, fake_port(s->fake)), ==, 0);
    return plug_later(s->fake);
}

static void test_a_port_that_cannot_be_opened_at_first_is_tried_again(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .hang_up_at = 45}, 4, 20);
    GThread *t = g_thread_new("plug", plug_in_slowly, &s);
    gboolean good = draw(&s, &error);
    g_thread_join(t);
    g_assert_no_error(error);
    g_assert_true(good);
    g_autofree char *strokes = strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 11 11 12 13 ");
    clear_stage(&s);
}

/* A board without a mark of its own that comes back under another name is not found: the run says
 * how to go on, and nothing is lost. */
static void test_a_board_under_another_name_is_drawn_on_by_its_port(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .hang_up_at = 45}, 4, 20);
    g_autofree char *first = g_file_read_link(fake_port(s.fake), NULL);
    s.options.port = first;
    s.options.replug_s = 1;
    g_assert_false(draw(&s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "the port has not come back: 1 of 4 strokes"));
    g_assert_nonnull(strstr(error->message, "--port"));
    g_assert_cmpstr(s.events->str, ==, "www"); /* connecting, the cause, what to do: once */
    g_clear_error(&error);
    dt_run_free(s.runner);
    fake_free(s.fake);

    s.fake = fake_new(&(FakeFaults){.greeting = GREETING, .check = TRUE});
    s.options.port = fake_port(s.fake);
    s.runner = dt_run_resume(s.profile, 0, 0, 0, &s.options, &error);
    g_assert_no_error(error);
    g_assert_true(dt_run_draw(s.runner, &error));
    fake_stop(s.fake);
    g_autofree char *strokes = strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "11 12 13 ");
    clear_stage(&s);
}

static void test_a_run_goes_on_where_it_broke_off(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .silent_from = 60}, 4, 20);
    g_assert_false(draw(&s, &error));
    g_assert_nonnull(strstr(error->message, "drawtrue resume"));
    g_clear_error(&error);
    dt_run_free(s.runner);
    fake_free(s.fake);

    s.fake = fake_new(&(FakeFaults){.greeting = GREETING, .check = TRUE});
    s.options.port = fake_port(s.fake);
    s.runner = dt_run_resume(s.profile, 0, 0, 0, &s.options, &error);
    g_assert_no_error(error);
    g_assert_true(dt_run_draw(s.runner, &error));
    fake_stop(s.fake);
    g_autofree char *strokes = strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "12 13 ");
    g_assert_null(dt_run_resume(s.profile, 0, 0, 0, &s.options, &error)); /* all is done */
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    clear_stage(&s);
}

static void pause_at_first(const DtRunEvent *e, void *user)
{
    Stage *s = user;
    hear(e, user);
    if (e->line > 15 && s->pause_after++ == 0)
        dt_run_pause_at_lift(s->runner);
}

static void test_a_pause_comes_at_the_next_lift(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 5}, 4, 20);
    s.options.listener = pause_at_first;
    gboolean good = draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_assert_nonnull(strchr(s.events->str, 'P'));
    assert_executed_once(&s);
    clear_stage(&s);
}

static void park_once(const DtRunEvent *e, void *user)
{
    Stage *s = user;
    hear(e, user);
    if (e->line > 15 && s->pause_after++ == 0)
        dt_run_park(s->runner);
}

/* Away to the park place and back to where the program stood; then nothing is left out or done
 * twice. */
static void test_parked_it_returns_to_the_same_point(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 5}, 4, 20);
    s.options.listener = park_once;
    s.profile->park = dt_point(3, 4);
    gboolean good = draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    GPtrArray *got = fake_executed(s.fake);
    g_autoptr(GPtrArray) want = expected_lines(s.program);
    guint next = 0, parked = 0;
    for (guint i = 0; i < got->len; i++) {
        parked += g_str_has_prefix(got->pdata[i], "G0X3.000Y4.000");
        if (next < want->len && g_str_has_prefix(got->pdata[i], want->pdata[next]))
            next++; /* the first motion after the return says its feed anew */
    }
    g_assert_cmpuint(parked, ==, 1);
    g_assert_cmpuint(next, ==, want->len);
    clear_stage(&s);
}

static void stop_at_change(const DtRunEvent *e, void *user)
{
    Stage *s = user;
    if (e->kind == DT_RUN_PEN_CHANGE)
        dt_run_stop(s->runner);
}

static void test_a_stop_at_a_pen_change_is_reported_right(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 4, 5);
    s.options.pens_ready = FALSE;
    s.options.listener = stop_at_change;
    g_assert_false(draw(&s, &error));
    g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
    g_assert_nonnull(strstr(error->message, "2 of 4 strokes are drawn"));
    g_assert_null(strstr(error->message, "no longer answers"));
    clear_stage(&s);
}

static void wait_at_change(const DtRunEvent *e, void *user)
{
    Stage *s = user;
    if (e->line == 0 && s->pause_after++ == 0)
        dt_run_pause_at_change(s->runner);
    if (e->kind == DT_RUN_PEN_CHANGE && e->text != NULL) {
        g_string_append_c(s->events, 'w');
        dt_run_go_on(s->runner);
    }
}

static void test_it_waits_at_a_pen_change_when_asked(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 4, 5);
    s.options.listener = wait_at_change;
    g_assert_true(draw(&s, &error));
    g_assert_cmpstr(s.events->str, ==, "w");
    assert_executed_once(&s);
    clear_stage(&s);
}

/* Stroke i stands upright at X 9 + i, from Y 5 on. */
static void test_it_goes_back_to_the_place_pointed_at(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 4, 20);
    DtStrokeAt at;
    g_assert_true(dt_link_stroke_at(s.profile, s.program, dt_point(11.9, 6), &at, &error));
    g_assert_cmpuint(at.stroke, ==, 3);
    g_assert_cmpfloat_with_epsilon(at.away_mm, 0.1, 1e-9);
    g_assert_true(draw(&s, &error));
    const gint64 run = dt_run_id(s.runner);
    g_assert_null(dt_run_resume_at(s.profile, run, dt_point(60, 60), &s.options, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "stroke 4, "));
    g_clear_error(&error);
    g_clear_pointer(&s.runner, dt_run_free);
    fake_free(s.fake);
    s.fake = fake_new(&(FakeFaults){.greeting = GREETING, .check = TRUE});
    s.options.port = fake_port(s.fake);
    s.runner = dt_run_resume_at(s.profile, run, dt_point(11.9, 6), &s.options, &error);
    g_assert_no_error(error);
    g_assert_true(dt_run_draw(s.runner, &error));
    fake_stop(s.fake);
    g_autofree char *strokes = strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "12 13 ");
    clear_stage(&s);
}

static void test_another_machine_s_program_is_told(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
    g_assert_null(dt_link_misfit(s.profile, s.program, &error));
    g_free(s.profile->name);
    s.profile->name = g_strdup("plot"); /* the program says "plotter" */
    g_autofree char *text = dt_link_misfit(s.profile, s.program, &error);
    g_assert_no_error(error);
    g_assert_nonnull(strstr(text, "made for the machine 'plotter' with profile x"));
    s.options.other_machine = FALSE;
    g_assert_null(dt_run_new(s.profile, s.program, &s.options, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    fake_stop(s.fake);
    clear_stage(&s);
}

static void test_ports_that_cannot_be_opened(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_stage(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
    s.options.port = "/dev/no-such-port";
    g_assert_false(draw(&s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "no such port"));
    g_clear_error(&error);
    dt_run_free(s.runner);
    s.options.port = s.program;
    g_assert_false(draw(&s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "not a serial port"));
    size_t n; /* of this computer, whatever it has */
    DtLinkPort *ports = dt_link_ports(&n);
    for (size_t i = 0; i < n; i++)
        g_assert_cmpstr(ports[i].path, !=, "");
    dt_link_ports_free(ports, n);
    clear_stage(&s);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/run/once-in-order", test_every_line_is_executed_once_in_order);
    g_test_add_func("/link/run/asked", test_a_board_that_is_up_already_is_asked);
    g_test_add_func("/link/run/odd-replies", test_lost_doubled_garbled_and_late_replies);
    g_test_add_func("/link/run/garbled-line", test_a_garbled_line_is_sent_again);
    g_test_add_func("/link/run/hold", test_an_unasked_hold_is_released);
    g_test_add_func("/link/run/send-and-wait", test_send_and_wait_where_the_window_is_unknown);
    g_test_add_func("/link/run/right-words", test_what_cannot_be_mended_stops_with_the_right_words);
    g_test_add_func("/link/run/refused", test_a_refused_line_is_named_and_the_pen_lifted);
    g_test_add_func("/link/run/reset",
                    test_a_board_that_resets_is_homed_and_its_stroke_drawn_again);
    g_test_add_func("/link/run/proved", test_a_stroke_that_ended_elsewhere_is_drawn_again);
    g_test_add_func("/link/run/unplugged", test_an_unplugged_board_is_found_again);
    g_test_add_func("/link/run/opened-late",
                    test_a_port_that_cannot_be_opened_at_first_is_tried_again);
    g_test_add_func("/link/run/other-name",
                    test_a_board_under_another_name_is_drawn_on_by_its_port);
    g_test_add_func("/link/run/resume", test_a_run_goes_on_where_it_broke_off);
    g_test_add_func("/link/run/pause", test_a_pause_comes_at_the_next_lift);
    g_test_add_func("/link/run/parked", test_parked_it_returns_to_the_same_point);
    g_test_add_func("/link/run/stop-at-change", test_a_stop_at_a_pen_change_is_reported_right);
    g_test_add_func("/link/run/wait-at-change", test_it_waits_at_a_pen_change_when_asked);
    g_test_add_func("/link/run/pointed", test_it_goes_back_to_the_place_pointed_at);
    g_test_add_func("/link/run/misfit", test_another_machine_s_program_is_told);
    g_test_add_func("/link/run/ports", test_ports_that_cannot_be_opened);
    return g_test_run();
}
