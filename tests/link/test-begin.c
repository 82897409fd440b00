/* begin: what is refused before anything moves, from which stroke a run begins, and a homing that fails. */
#include "drawtrue/sheet-log.h"
#include "stage.h"

#include <gio/gio.h>
#include <math.h>
#include <string.h>

#define SOUND                                                                                      \
    &(FakeFaults)                                                                                  \
    {                                                                                              \
        .greeting = GREETING, .check = TRUE                                                        \
    }

static void assert_refused(GError **error, DtErrorCode code, const char *says)
{
    g_assert_true(g_error_matches(*error, DT_ERROR, (int)code));
    if (strstr((*error)->message, says) == NULL)
        g_error("'%s' lacks '%s'", (*error)->message, says);
    g_clear_error(error);
}

/* Without a port, and with numbers that are no place. */
static void test_what_needs_a_port_is_refused_without_one(void)
{
    static const DtJog unsound[] = {{DT_JOG_BY, NAN, 0, 0},
                                    {DT_JOG_TO, 0, INFINITY, 0},
                                    {DT_JOG_TO, 1, 1, -1},
                                    {DT_JOG_TO, 1, 1, NAN}};
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, SOUND, 1, 2);
    s.session = dt_session_new(s.profile, NULL);
    g_assert_null(dt_run_new(s.session, s.program, &s.options, &error));
    assert_refused(&error, DT_ERROR_USAGE, "a run needs a port");
    g_assert_false(dt_session_jog(s.session, &(DtJog){.kind = DT_JOG_HOME}, &error));
    assert_refused(&error, DT_ERROR_USAGE, "jogging needs a port");
    dt_session_unref(s.session);
    s.session = dt_session_new(s.profile, s.port);
    for (gsize i = 0; i < G_N_ELEMENTS(unsound); i++) {
        g_assert_false(dt_session_jog(s.session, &unsound[i], &error));
        assert_refused(&error, DT_ERROR_USAGE,
                       "a position that is not a number, or a negative speed");
    }
    g_assert_false(dt_session_jog(s.session, &(DtJog){DT_JOG_TO, 1, 1, 0}, &error));
    assert_refused(&error, DT_ERROR_INPUT, "the machine is not homed");
    stage_clear(&s);
}

/* A controller without comments cannot be told that a test sheet is too fast on purpose: the journal knows it. */
static void test_a_sheet_without_comments_may_try_limits(void)
{
    static const char too_fast[] = "G21G90\nG28\nM3S40\nG4P0.2\nG1X5F9000\nM5\nG4P0.2\nM2\n";
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, SOUND, 1, 2);
    g_autofree char *words = g_strconcat(s.profile->dialect.words, " comment:none", NULL);
    g_free(s.profile->dialect.words);
    s.profile->dialect.words = g_steal_pointer(&words);
    g_assert_true(g_file_set_contents(s.program, too_fast, -1, NULL));
    g_autofree char *sum = g_compute_checksum_for_string(G_CHECKSUM_SHA256, too_fast, -1);
    for (int is_sheet = 0; is_sheet < 2; is_sheet++) {
        const DtSheetRecord record = {.number = 1 + is_sheet,
                                      .machine = s.profile->name,
                                      .profile = (char *)"",
                                      .profile_sum = (char *)"",
                                      .program_sum = is_sheet ? sum : (char *)"another",
                                      .sheet = (char *)"{}"};
        g_assert_true(dt_sheet_log_add(s.journal, &record, &error));
        s.session = dt_session_new(s.profile, s.port);
        s.run = dt_run_new(s.session, s.program, &s.options, &error);
        if (is_sheet)
            g_assert_no_error(error);
        else
            assert_refused(&error, DT_ERROR_INPUT, "a feed of 9000 mm/min");
        g_clear_pointer(&s.run, dt_run_unref);
        g_clear_pointer(&s.session, dt_session_unref);
    }
    stage_clear(&s);
}

/* From another stroke than the first on, to the end; beyond the last one nothing is left to draw. */
static void test_strokes_are_left_out_at_the_beginning(void)
{
    static const struct {
        size_t skipped;
        const char *drawn;
    } cases[] = {{0, "10 11 12 13 "}, {1, "11 12 13 "}, {3, "13 "}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        stage_set(&s, SOUND, 4, 3);
        s.options.skip_strokes = cases[i].skipped;
        s.session = dt_session_new(s.profile, s.port);
        s.run = dt_run_new(s.session, s.program, &s.options, &error);
        g_assert_no_error(error);
        g_assert_true(drawing_run(s.run, NULL, NULL, &error));
        g_assert_no_error(error);
        fake_stop(s.fake);
        g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
        g_assert_cmpstr(strokes, ==, cases[i].drawn);
        stage_clear(&s);
    }
}

/* A run that broke off in its second stroke, with a fresh board for the rest. */
static void set_broken_off(Stage *s)
{
    g_autoptr(GError) error = NULL;
    stage_set(s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .hang_up_at = 45}, 4, 20);
    s->options.replug_s = 0.2;
    g_assert_false(stage_draw(s, &error));
    g_clear_error(&error);
    stage_restart(s);
}

/* A place is one of ink that is drawn; only so much is drawn again. */
static void test_a_run_is_resumed_from_a_place(void)
{
    static const struct {
        DtPoint place;
        const char *refused;
    } cases[] = {
        {{10.2, 6}, NULL},
        {{11, 6},
         "stroke 2 lies there, and only 1 are drawn; without a place the run goes on with the next "
         "one"},
        {{13, 7.2}, "stroke 4 lies there, and only 1 are drawn"},
        {{10, 0}, NULL}, /* 5 mm before its beginning */
        {{10, -0.1},
         "no ink lies within 5 mm of that place; stroke 1, 5.1 mm away, is the nearest"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        set_broken_off(&s);
        const DtResume from = {.from_place = TRUE, .place = cases[i].place};
        const gboolean good = stage_resume(&s, &from, &error);
        if (cases[i].refused != NULL) {
            g_assert_false(good);
            assert_refused(&error, DT_ERROR_INPUT, cases[i].refused);
            g_assert_cmpuint(fake_executed(s.fake)->len, ==, 0);
        } else {
            g_assert_no_error(error);
            g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
            g_assert_cmpstr(strokes, ==, "10 11 12 13 ");
        }
        stage_clear(&s);
    }
}

/* What was changed since is another drawing; a run that does not exist is named with the journal. */
static void test_what_cannot_be_resumed_says_why(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_broken_off(&s);
    g_assert_false(stage_resume(&s, &(DtResume){.run = 7}, &error));
    g_autofree char *none = g_strdup_printf("%s: there is no run 7", s.journal);
    assert_refused(&error, DT_ERROR_INPUT, none);
    g_autofree char *text = NULL, *changed = NULL;
    g_assert_true(g_file_get_contents(s.program, &text, NULL, NULL));
    changed = g_strconcat(text, "(more)\n", NULL);
    g_assert_true(g_file_set_contents(s.program, changed, -1, NULL));
    g_assert_false(stage_resume(&s, &(DtResume){.run = 1}, &error));
    assert_refused(&error, DT_ERROR_INPUT,
                   "the file is not the one that run 1 was drawing; it was changed since");
    g_assert_cmpuint(fake_executed(s.fake)->len, ==, 0);
    stage_clear(&s);
}

/* Without a port the run goes on at the one that it was drawn on, if that is still there. */
static void test_a_run_is_resumed_at_its_own_port(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .hang_up_at = 45}, 4, 20);
    s.options.replug_s = 0.2;
    s.session = dt_session_new(s.profile, s.port);
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    g_assert_false(drawing_run(s.run, NULL, NULL, &error));
    g_clear_error(&error);
    fake_plug_in_again(s.fake);
    while (!g_file_test(s.port, G_FILE_TEST_EXISTS))
        g_usleep(1000);
    dt_run_unref(s.run);
    dt_session_unref(s.session);
    s.session = dt_session_new(s.profile, NULL);
    s.run = dt_run_resume(s.session, &(DtResume){0}, &s.options, &error);
    g_assert_no_error(error);
    g_assert_true(drawing_run(s.run, NULL, NULL, &error));
    g_assert_no_error(error);
    fake_stop(s.fake);
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_true(g_str_has_suffix(strokes, " 11 12 13 "));
    stage_clear(&s);
}

/* Homing ends at the origin, with its switches released: else nothing is drawn. */
static void test_a_homing_that_ends_elsewhere_is_told(void)
{
    static const struct {
        FakeFaults faults;
        const char *says;
    } cases[] = {
        {{.at_switch = "x-"}, "the X end switch is still pressed after homing; is it stuck?"},
        {{.at_switch = "-y"}, "the Y end switch is still pressed after homing; is it stuck?"},
        {{.at_switch = "xy"}, "the X end switch is still pressed after homing; is it stuck?"},
        {{.homes_at = {1.5, 0}}, "homing ended at X 1.500 Y 0.000 mm and not at the origin"},
        {{.homes_at = {0, -2}}, "homing ended at X 0.000 Y -2.000 mm and not at the origin"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        FakeFaults faults = cases[i].faults;
        faults.greeting = GREETING;
        faults.check = TRUE;
        stage_set(&s, &faults, 1, 2);
        s.session = dt_session_new(s.profile, s.port);
        g_assert_false(drawing_jog(s.session, &(DtJog){.kind = DT_JOG_HOME}, &error));
        assert_refused(&error, DT_ERROR_INPUT, cases[i].says);
        DtSnapshot now;
        dt_session_snapshot(s.session, &now);
        g_assert_cmpint(now.state, !=, DT_STATE_READY);
        stage_clear(&s);
    }
}

typedef struct {
    DtState state;
    char *text;
} Heard;

static void hear_state(const DtEvent *e, void *user)
{
    Heard *h = user;
    if (e->kind != DT_EVENT_STATE)
        return;
    h->state = e->at.state;
    g_free(h->text);
    h->text = g_strdup(e->text);
}

/* Between motions, too: who looks away meanwhile must not move it as if it stood where it was. */
static void test_a_board_that_restarts_while_nothing_moves_is_noticed(void)
{
    Stage s;
    Heard heard = {DT_STATE_CLOSED, NULL};
    g_autoptr(GError) error = NULL;
    stage_set(&s, SOUND, 1, 2);
    s.session = dt_session_new(s.profile, s.port);
    const guint listener = dt_session_listen(s.session, hear_state, &heard);
    g_assert_true(drawing_jog(s.session, &(DtJog){.kind = DT_JOG_HOME}, &error));
    while (heard.state != DT_STATE_READY)
        g_main_context_iteration(NULL, TRUE);
    fake_restart(s.fake);
    while (heard.state == DT_STATE_READY)
        g_main_context_iteration(NULL, TRUE);
    g_assert_cmpint(heard.state, ==, DT_STATE_CLOSED);
    g_assert_cmpstr(heard.text, ==, "the board restarted (" GREETING ")");
    DtSnapshot now;
    dt_session_snapshot(s.session, &now);
    g_assert_false(now.homed || now.position_known);
    g_assert_false(dt_session_jog(s.session, &(DtJog){DT_JOG_BY, 1, 1, 0}, &error));
    assert_refused(&error, DT_ERROR_INPUT, "the machine is not homed");
    dt_session_unlisten(s.session, listener);
    g_free(heard.text);
    stage_clear(&s);
}

static void stop_where_the_port_is_gone(const DtEvent *e, void *user)
{
    Stage *s = user;
    if (e->at.state == DT_STATE_UNPLUGGED)
        dt_run_request(s->run, DT_REQUEST_STOP, 0);
}

/* Nobody has to wait for a board that does not come back. */
static void test_a_run_is_stopped_while_its_port_is_gone(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .hang_up_at = 45}, 4, 20);
    s.options.replug_s = 1000;
    s.hear = stop_where_the_port_is_gone;
    g_assert_false(stage_draw(&s, &error));
    g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
    if (strstr(error->message, "stopped by hand while the port was gone") == NULL)
        g_error("%s", error->message);
    stage_clear(&s);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/begin/port", test_what_needs_a_port_is_refused_without_one);
    g_test_add_func("/link/begin/sheet", test_a_sheet_without_comments_may_try_limits);
    g_test_add_func("/link/begin/skipped", test_strokes_are_left_out_at_the_beginning);
    g_test_add_func("/link/begin/place", test_a_run_is_resumed_from_a_place);
    g_test_add_func("/link/begin/not-resumed", test_what_cannot_be_resumed_says_why);
    g_test_add_func("/link/begin/own-port", test_a_run_is_resumed_at_its_own_port);
    g_test_add_func("/link/begin/homing", test_a_homing_that_ends_elsewhere_is_told);
    g_test_add_func("/link/begin/restarted",
                    test_a_board_that_restarts_while_nothing_moves_is_noticed);
    g_test_add_func("/link/begin/gone", test_a_run_is_stopped_while_its_port_is_gone);
    return g_test_run();
}
