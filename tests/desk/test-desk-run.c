/* The desk with a machine at its port, without pages: what is drawn, moved by hand and learnt there, and what pages
 * would be told of it. The virtual machine runs in a thread of its own, faster than the clock. */
#include "place.h"

#include "drawtrue/rig.h"
#include "support/font-leaks.h"

#include <math.h>
#include <string.h>

typedef struct {
    Place p;
    DtRig *rig;
    GThread *thread;
    volatile int stop;
} Bed;

static gpointer serve(gpointer user)
{
    Bed *b = user;
    g_assert_true(dt_rig_serve(b->rig, FALSE, FALSE, &b->stop, NULL));
    return NULL;
}

static void bed_init(Bed *b, const char *rig)
{
    static const char truth[] = "[truth]\nscale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0\n"
                                "backlash_y = 0\nwave = 0\n";
    g_autoptr(GError) error = NULL;
    g_autofree char *text = g_strconcat(truth, rig, NULL);
    b->rig = dt_rig_new_from_text(text, "rig", &error);
    g_assert_no_error(error);
    b->stop = 0;
    place_init_at(&b->p, dt_rig_open_port(b->rig, &error));
    g_assert_no_error(error);
    b->thread = g_thread_new("rig", serve, b);
}

static void bed_clear(Bed *b)
{
    place_clear(&b->p);
    b->stop = 1;
    g_thread_join(b->thread);
    dt_rig_free(b->rig);
}

/* An action of a page that has seen everything; `values` as in JSON, with a comma before each. */
static void does(Bed *b, const char *action, const char *values)
{
    DtSnapshot s;
    dt_session_snapshot(b->p.d->session, &s);
    g_autofree char *json = g_strdup_printf("{\"serial\": %u, \"revision\": %u%s}", s.serial,
                                            b->p.d->drawing.revision, values);
    done(&b->p, action, json);
}

static DtSnapshot session(Bed *b)
{
    DtSnapshot s;
    dt_session_snapshot(b->p.d->session, &s);
    return s;
}

static gboolean may(Bed *b, DtRequest request)
{
    return (session(b).may & 1u << request) != 0;
}

/* Goes on wherever a person is waited for. Meanwhile the page is told how far it is. */
static void draw_to_the_end(Bed *b)
{
    double told_strokes = 0;
    while (b->p.d->phase == DT_DESK_RUN_ACTIVE) {
        JsonObject *run = told(&b->p, DT_PART_RUN, "run");
        told_strokes = MAX(told_strokes, number_of(run, "strokes"));
        json_object_unref(run);
        if (may(b, DT_REQUEST_GO_ON)) {
            DtSnapshot s = session(b);
            dt_session_request(b->p.d->session, DT_REQUEST_GO_ON, s.serial);
        }
        g_main_context_iteration(NULL, TRUE);
    }
    g_assert_cmpfloat(told_strokes, >, 0);
}

static void wait_for(Bed *b, DtState state)
{
    while (session(b).state != state)
        g_main_context_iteration(NULL, TRUE);
    while (g_main_context_iteration(NULL, FALSE))
        ;
}

static void open_label(Bed *b)
{
    done(&b->p, "open", "{\"path\": \"label.svg\"}");
    settle(&b->p);
    g_assert_cmpint(b->p.d->drawing.state, ==, DT_DRAFT_READY);
    g_assert_cmpint(b->p.d->phase, ==, DT_DESK_RUN_READY);
}

static double ink_on_paper(Bed *b)
{
    DtRigFigures f;
    dt_rig_figures(b->rig, &f);
    return f.ink_mm;
}

/* All of the label, once and again; the page learns of each step. */
static void test_a_drawing_is_drawn(void)
{
    Bed b;
    bed_init(&b, "");
    open_label(&b);
    JsonObject *bed = told(&b.p, DT_PART_DRAWING, "drawing");
    const int first_ink = (int)json_object_get_int_member(bed, "ink"),
              first_picture = (int)json_object_get_int_member(bed, "picture");
    g_assert_cmpint(first_ink, >, 0);
    g_assert_cmpint(first_picture, >, 0);
    json_object_unref(bed);
    done(&b.p, "set-options", "{\"values\": {\"true_size\": true}}");
    settle(&b.p);
    bed = told(&b.p, DT_PART_DRAWING, "drawing");
    g_assert_cmpint(json_object_get_int_member(bed, "ink"), >, first_ink);
    g_assert_cmpint(json_object_get_int_member(bed, "picture"), >, first_picture);
    const double planned_mm = number_of(object_of(bed, "report"), "ink_mm");
    json_object_unref(bed);
    const guint log_before = b.p.d->log_number;
    const gint64 before_ms = g_get_real_time() / 1000;
    does(&b, "start", ", \"despite\": true");
    draw_to_the_end(&b);
    const gint64 after_ms = g_get_real_time() / 1000;
    JsonObject *run = told(&b.p, DT_PART_RUN, "run");
    g_assert_cmpstr(text_of(run, "phase"), ==, "ended");
    g_assert_cmpstr(text_of(run, "ended"), ==, "done");
    g_assert_cmpint(json_object_get_int_member(run, "id"), ==, 1);
    g_assert_cmpint(json_object_get_int_member(run, "resumes"), ==, 0);
    g_assert_false(json_object_get_boolean_member(run, "silent"));
    g_assert_cmpfloat(number_of(run, "done"), ==, 1);
    g_assert_cmpint(json_object_get_int_member(run, "stroke"), ==, 2);
    g_assert_cmpint(json_object_get_int_member(run, "strokes"), ==, 2);
    g_assert_cmpfloat_with_epsilon(number_of(run, "ink_mm"), planned_mm, 0.01);
    g_assert_cmpfloat_with_epsilon(ink_on_paper(&b), planned_mm, 1);
    g_assert_cmpfloat(number_of(run, "from_s"), ==, 0);
    json_object_unref(run);
    JsonObject *s = told(&b.p, DT_PART_SESSION, "session");
    g_assert_cmpfloat(number_of(s, "event_ms"), >=, (double)before_ms - 1);
    g_assert_cmpfloat(number_of(s, "event_ms"), <=, (double)after_ms + 1);
    json_object_unref(s);
    g_assert_cmpuint(b.p.d->log_number, >, log_before);
    JsonObject *log = told(&b.p, DT_PART_LOG, "log");
    g_assert_false(json_object_has_member(log, "unfinished"));
    json_object_unref(log);
    g_autofree char *program = g_strdup(b.p.d->drawing.program);
    done(&b.p, "again", "{}");
    settle(&b.p);
    g_assert_true(g_file_test(program, G_FILE_TEST_EXISTS)); /* the log names it */
    g_assert_cmpint(b.p.d->phase, ==, DT_DESK_RUN_READY);
    does(&b, "start", ", \"despite\": true");
    draw_to_the_end(&b);
    g_assert_cmpint(b.p.d->ended_state, ==, DT_STATE_DONE);
    g_assert_cmpfloat_with_epsilon(ink_on_paper(&b), 2 * planned_mm, 2);
    bed_clear(&b);
}

/* The pen by hand to both corners of the sheet, and the drawing laid there. */
static void test_a_sheet_is_laid_where_its_corners_are_touched(void)
{
    Bed b;
    bed_init(&b, "");
    open_label(&b);
    const DtBox paper = b.p.d->drawing.paper;
    const double wide = paper.x1 - paper.x0;
    g_autofree char *right = g_strdup_printf(", \"kind\": \"by\", \"x\": %.3f, \"y\": 0", wide);
    does(&b, "jog", ", \"kind\": \"home\"");
    wait_for(&b, DT_STATE_READY);
    JsonObject *s = told(&b.p, DT_PART_SESSION, "session");
    g_assert_true(json_object_get_boolean_member(s, "homed"));
    g_assert_true(json_object_get_boolean_member(s, "placed"));
    g_assert_false(json_object_get_boolean_member(s, "pen_down"));
    json_object_unref(s);
    does(&b, "jog", ", \"kind\": \"to\", \"x\": 30, \"y\": 25");
    wait_for(&b, DT_STATE_READY);
    does(&b, "touch-corner", ", \"which\": \"left\"");
    does(&b, "jog", right);
    wait_for(&b, DT_STATE_READY);
    does(&b, "touch-corner", ", \"which\": \"right\"");
    settle(&b.p);
    g_assert_cmpint(b.p.d->drawing.state, ==, DT_DRAFT_READY);
    /* the laid program keeps the number that makes its name the only one */
    g_autofree char *name = g_path_get_basename(b.p.d->drawing.program);
    g_assert_true(
        g_regex_match_simple("^[A-Za-z]+-[0-9]{8}-[0-9]{6}-[0-9]+-laid\\.nc$", name, 0, 0));
    g_assert_true(g_file_test(b.p.d->drawing.program, G_FILE_TEST_IS_REGULAR));
    JsonObject *bed = told(&b.p, DT_PART_DRAWING, "drawing");
    JsonArray *left = json_object_get_array_member(bed, "left"),
              *other = json_object_get_array_member(bed, "right");
    g_assert_cmpfloat_with_epsilon(json_array_get_double_element(left, 0), 30, 0.02);
    g_assert_cmpfloat_with_epsilon(json_array_get_double_element(left, 1), 25, 0.02);
    g_assert_cmpfloat_with_epsilon(json_array_get_double_element(other, 0), 30 + wide, 0.02);
    json_object_unref(bed);
    refused(&b.p, "touch-corner", "{\"which\": \"up\", \"serial\": 1}", DT_ERROR_INPUT,
            "the machine's state has changed");
    done(&b.p, "forget-corners", "{}");
    settle(&b.p);
    bed = told(&b.p, DT_PART_DRAWING, "drawing");
    g_assert_true(json_object_get_null_member(bed, "left"));
    g_assert_true(json_object_get_null_member(bed, "right"));
    json_object_unref(bed);
    does(&b, "jog", ", \"kind\": \"end\"");
    wait_for(&b, DT_STATE_CLOSED);
    bed_clear(&b);
}

/* What a controller takes goes into one's own profile. */
static void test_a_controller_is_learnt(void)
{
    Bed b;
    bed_init(&b, "[vocabulary]\nwords = G0 G1 G4 G21 G28 G90 M0 M2 M3 M5 F N P S X Y\n");
    done(&b.p, "new-profile", "{\"name\": \"mine\"}");
    settle(&b.p);
    does(&b, "learn", ", \"may_move\": false");
    JsonObject *learn = told(&b.p, DT_PART_LEARN, "learn");
    g_assert_true(json_object_get_boolean_member(learn, "active"));
    json_object_unref(learn);
    while (b.p.d->learning)
        g_main_context_iteration(NULL, TRUE);
    learn = told(&b.p, DT_PART_LEARN, "learn");
    g_assert_false(json_object_get_boolean_member(learn, "active"));
    g_assert_nonnull(strstr(text_of(learn, "text"), "what was learnt is in"));
    g_assert_nonnull(strstr(text_of(learn, "text"), "mine.ini"));
    g_assert_cmpuint(json_array_get_length(json_object_get_array_member(learn, "found")), >, 3);
    json_object_unref(learn);
    settle(&b.p);
    g_autofree char *path = g_build_filename(b.p.folder, "mine.ini", NULL), *text = NULL;
    g_assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_assert_nonnull(strstr(text, "\nwords = "));
    bed_clear(&b);
}

/* A switch that closes in the first stroke breaks the run off; resumed from the page, that stroke is drawn again,
 * and the other one once. */
static void test_a_broken_off_run_is_resumed(void)
{
    Bed b;
    bed_init(&b, "[faults]\nlist = switch x at line 20\n");
    open_label(&b);
    JsonObject *bed = told(&b.p, DT_PART_DRAWING, "drawing");
    const double planned_mm = number_of(object_of(bed, "report"), "ink_mm");
    json_object_unref(bed);
    does(&b, "start", ", \"despite\": true");
    draw_to_the_end(&b);
    JsonObject *run = told(&b.p, DT_PART_RUN, "run");
    g_assert_cmpstr(text_of(run, "phase"), ==, "ended");
    g_assert_cmpstr(text_of(run, "ended"), ==, "failed");
    g_assert_nonnull(strstr(text_of(run, "text"), "the X axis ran into its end switch"));
    g_assert_false(json_object_get_boolean_member(run, "silent"));
    json_object_unref(run);
    const double begun_mm = ink_on_paper(&b);
    g_assert_cmpfloat(begun_mm, >, 5);
    g_assert_cmpfloat(begun_mm, <, planned_mm / 2);
    JsonObject *log = told(&b.p, DT_PART_LOG, "log");
    g_assert_cmpint(json_object_get_int_member(object_of(log, "unfinished"), "run"), ==, 1);
    json_object_unref(log);
    does(&b, "resume", ", \"run\": 1, \"back_strokes\": 0, \"from_place\": false");
    while (b.p.d->draft != NULL) /* its picture */
        g_main_context_iteration(NULL, TRUE);
    g_assert_cmpint(b.p.d->drawing.state, ==, DT_DRAFT_SEEN);
    g_assert_cmpint(b.p.d->phase, ==, DT_DESK_RUN_READY);
    does(&b, "start", ", \"despite\": true");
    draw_to_the_end(&b);
    run = told(&b.p, DT_PART_RUN, "run");
    g_assert_cmpstr(text_of(run, "ended"), ==, "done");
    g_assert_cmpint(json_object_get_int_member(run, "id"), ==, 1);
    g_assert_cmpint(json_object_get_int_member(run, "stroke"), ==, 2);
    json_object_unref(run);
    const double all_mm = ink_on_paper(&b);
    g_assert_cmpfloat(all_mm, >, planned_mm + begun_mm - 2);
    g_assert_cmpfloat(all_mm, <, planned_mm + begun_mm + 2);
    log = told(&b.p, DT_PART_LOG, "log");
    g_assert_false(json_object_has_member(log, "unfinished"));
    json_object_unref(log);
    bed_clear(&b);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/desk-run/drawn", test_a_drawing_is_drawn);
    g_test_add_func("/desk-run/laid", test_a_sheet_is_laid_where_its_corners_are_touched);
    g_test_add_func("/desk-run/learnt", test_a_controller_is_learnt);
    g_test_add_func("/desk-run/resumed", test_a_broken_off_run_is_resumed);
    return g_test_run();
}
