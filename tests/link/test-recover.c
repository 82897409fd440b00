/* recover: what goes on after a mishap: every stroke is drawn, the one at hand once more. */
#include "stage.h"

#include <fcntl.h>
#include <gio/gio.h>
#include <poll.h>
#include <pty.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static void test_a_board_that_resets_is_homed_and_its_stroke_drawn_again(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .reset_at = 45}, 4, 20);
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 11 11 12 13 ");
    g_assert_nonnull(strchr(s.events->str, 'R'));
    stage_clear(&s);
}

static void hear_recovery(const DtEvent *e, void *user)
{
    Stage *s = user;
    stage_hear(e, user);
    if (e->kind == DT_EVENT_RECOVERED && e->text != NULL)
        g_string_append_printf(s->events, "<%s>", e->text);
}

/* Which lines it has done cannot be known then: the stroke is drawn again from its start. */
static void test_a_board_that_counts_otherwise_draws_its_stroke_again(void)
{
    static const struct {
        FakeFaults faults;
        const char *says;
    } cases[] = {
        {{.greeting = GREETING, .check = TRUE, .count_from_start_at = 45},
         "the board has dropped its lines: it stands at X 11.000 Y "},
        {{.greeting = GREETING, .check = TRUE, .count_back_at = 45},
         "the board asks again for line "},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        stage_set(&s, &cases[i].faults, 4, 20);
        s.hear = hear_recovery;
        gboolean good = stage_draw(&s, &error);
        g_assert_no_error(error);
        g_assert_true(good);
        g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
        g_assert_cmpstr(strokes, ==, "10 11 11 12 13 ");
        if (strstr(s.events->str, cases[i].says) == NULL)
            g_error("%s", s.events->str);
        stage_clear(&s);
    }
}

/* As a noisy line does to a long stroke: many times, each time further. */
static void test_it_recovers_as_long_as_it_gets_further(void)
{
    static const unsigned resets[] = {10, 20, 15, 20, 21, 20, 19, 30, 40, 50, 60, 0};
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .resets = resets}, 2, 60);
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 10 10 10 10 10 10 10 10 10 10 10 11 ");
    stage_clear(&s);
}

static void test_it_stops_where_it_gets_no_further(void)
{
    static const unsigned resets[] = {30, 30, 20, 29, 60, 0};
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .resets = resets}, 2, 60);
    g_assert_false(stage_draw(&s, &error));
    g_assert_nonnull(strstr(error->message, "the board restarted"));
    g_assert_nonnull(strstr(error->message, "0 of 2 strokes are drawn"));
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 10 10 10 ");
    g_assert_cmpstr(fake_executed(s.fake)->pdata[fake_executed(s.fake)->len - 1], ==, "M2");
    stage_clear(&s);
}

/* A line in mid-stroke is garbled: the board stands and hears nothing for as long as the wire is given to fall
 * quiet, and a pen that it then lifts has lost nothing. */
static void test_a_pen_lifted_in_silence_is_no_mishap(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s,
              &(FakeFaults){.greeting = GREETING, .check = TRUE, .garble_line = 25, .lifts = TRUE},
              4, 20);
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_assert_nonnull(strchr(s.events->str, 'r'));
    g_assert_null(strchr(s.events->str, 'R'));
    stage_assert_executed_once(&s);
    stage_clear(&s);
}

/* The 55th line sent is the last motion of stroke 2: without a check nothing but the place tells
 * that it is gone.
 */
static void test_a_stroke_that_ended_elsewhere_is_drawn_again(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = FALSE, .skip_at = 55}, 4, 20);
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 11 11 12 13 ");
    stage_clear(&s);
}

/* As an editor does that writes the file anew in place. */
static void shorten_program(const DtEvent *e, void *user)
{
    Stage *s = user;
    if (e->at.line > 15 && s->pause_after++ == 0)
        g_assert_cmpint(truncate(s->program, 300), ==, 0);
}

static void test_a_program_that_is_changed_in_mid_run_is_not_drawn_on(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 2}, 4, 20);
    s.hear = shorten_program;
    g_assert_false(stage_draw(&s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "job.nc: the file was changed"));
    g_assert_nonnull(strstr(error->message, " of 4 strokes are drawn"));
    stage_clear(&s);
}

static void touch_program(const DtEvent *e, void *user)
{
    Stage *s = user;
    stage_hear(e, user);
    if (e->at.line > 15 && s->pause_after++ == 0)
        g_assert_cmpint(utimensat(AT_FDCWD, s->program, NULL, 0), ==, 0);
}

static void test_a_program_that_is_only_touched_is_drawn_on(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 2}, 4, 20);
    s.hear = touch_program;
    g_assert_true(stage_draw(&s, &error));
    stage_assert_executed_once(&s);
    stage_clear(&s);
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
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .hang_up_at = 45}, 4, 20);
    GThread *t = g_thread_new("plug", plug_later, s.fake);
    g_assert_true(stage_draw(&s, &error));
    g_thread_join(t);
    g_assert_no_error(error);
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 11 11 12 13 ");
    stage_clear(&s);
}

/* Whether this process has the file of this name open. */
static gboolean has_open(const char *name)
{
    GDir *d = g_dir_open("/proc/self/fd", 0, NULL);
    gboolean open = FALSE;
    for (const char *n; (n = g_dir_read_name(d)) != NULL;) {
        g_autofree char *fd = g_build_filename("/proc/self/fd", n, NULL),
                        *file = g_file_read_link(fd, NULL);
        open |= file != NULL && g_str_has_prefix(file, name);
    }
    g_dir_close(d);
    return open;
}

static void plug_in_once_let_go(const DtEvent *e, void *user)
{
    Stage *s = user;
    stage_hear(e, user);
    if (e->at.state != DT_STATE_UNPLUGGED || s->pause_after++ > 0)
        return;
    g_autofree char *name = g_file_read_link(fake_port(s->fake), NULL);
    g_assert_nonnull(name);
    g_assert_false(has_open(name));
    fake_plug_in_again(s->fake);
}

/* A port that is kept open keeps its name, and the board comes back under another (common practice, no
 * source). */
static void test_a_port_that_is_gone_is_let_go_of(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    const FakeFaults faults = {
        .greeting = GREETING, .check = TRUE, .hang_up_at = 45, .leaves_link = TRUE};
    stage_set(&s, &faults, 4, 20);
    s.hear = plug_in_once_let_go;
    g_assert_true(stage_draw(&s, &error));
    g_assert_no_error(error);
    g_assert_cmpuint(s.pause_after, >, 0);
    stage_clear(&s);
}

/* Another program's terminal is given the name at which the link still points. Returns its master,
 * -1 where the system gives it to nobody. */
static int take_name(const char *name)
{
    int masters[32], found = -1;
    size_t n = 0;
    while (n < G_N_ELEMENTS(masters) && found < 0) {
        char given[64];
        int slave;
        g_assert_cmpint(openpty(&masters[n], &slave, given, NULL, NULL), ==, 0);
        close(slave);
        if (strcmp(given, name) == 0)
            found = masters[n];
        else
            n++;
    }
    while (n-- > 0)
        close(masters[n]);
    return found;
}

static gpointer plug_in_after_another(gpointer stage)
{
    const Stage *s = stage;
    g_autofree char *name = g_file_read_link(fake_port(s->fake), NULL);
    while (g_file_test(name, G_FILE_TEST_EXISTS))
        g_usleep(10000);
    const int other = take_name(name);
    struct pollfd sent = {other, POLLIN, 0};
    if (other < 0)
        g_test_message("the system gives %s to nobody", name);
    else
        for (int i = 0; i < 15; i++) { /* a terminal that nobody has open reports POLLHUP alone */
            g_usleep(100000);
            poll(&sent, 1, 0);
            g_assert_cmpint(sent.revents & POLLIN, ==, 0);
        }
    fake_plug_in_again(s->fake);
    g_usleep(500000);
    if (other >= 0)
        close(other);
    return NULL;
}

static void test_nothing_is_sent_to_another_that_was_given_the_name(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    const FakeFaults faults = {
        .greeting = GREETING, .check = TRUE, .hang_up_at = 45, .leaves_link = TRUE};
    stage_set(&s, &faults, 4, 20);
    GThread *t = g_thread_new("plug", plug_in_after_another, &s);
    gboolean good = stage_draw(&s, &error);
    g_thread_join(t);
    g_assert_no_error(error);
    g_assert_true(good);
    stage_clear(&s);
}

/* Something that is no port stands under the name for a while, as a device file does before its
 * rights are set. */
static gpointer plug_in_slowly(gpointer stage)
{
    const Stage *s = stage;
    g_usleep(600000);
    int made = -1; /* the port hangs up when it has got its lines, however busy the computer is */
    for (int i = 0; i < 2000 && (made = symlink(s->program, fake_port(s->fake))) != 0; i++)
        g_usleep(10000);
    g_assert_cmpint(made, ==, 0);
    return plug_later(s->fake);
}

static void test_a_port_that_cannot_be_opened_at_first_is_tried_again(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .hang_up_at = 45}, 4, 20);
    GThread *t = g_thread_new("plug", plug_in_slowly, &s);
    gboolean good = stage_draw(&s, &error);
    g_thread_join(t);
    g_assert_no_error(error);
    g_assert_true(good);
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 11 11 12 13 ");
    stage_clear(&s);
}

/* A board without a mark of its own that comes back under another name is not found: the run says
 * how to go on, and nothing is lost. */
static void test_a_board_under_another_name_is_drawn_on_by_its_port(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .hang_up_at = 45}, 4, 20);
    g_autofree char *first = g_file_read_link(fake_port(s.fake), NULL);
    s.port = first;
    s.options.replug_s = 1;
    g_assert_false(stage_draw(&s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    if (strstr(error->message, "the port has not come back: 1 of 4 strokes") == NULL)
        g_error("%s", error->message);
    g_assert_nonnull(strstr(error->message, "--port"));
    g_assert_cmpstr(s.events->str, ==, "www"); /* connecting, the cause, what to do: once */
    g_clear_error(&error);
    stage_restart(&s);
    g_assert_true(stage_resume(&s, &(DtResume){0}, &error));
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "11 12 13 ");
    stage_clear(&s);
}

static void test_a_run_goes_on_where_it_broke_off(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .silent_from = 60}, 4, 20);
    g_assert_false(stage_draw(&s, &error));
    g_assert_nonnull(strstr(error->message, "drawtrue resume"));
    g_clear_error(&error);
    stage_restart(&s);
    s.session = dt_session_new(s.profile, s.port);
    s.run = dt_run_resume(s.session, &(DtResume){0}, &s.options, &error);
    g_assert_no_error(error);
    size_t n;
    const DtConcern *c = dt_run_concerns(s.run, &n);
    while (n > 0 && c->kind != DT_CONCERN_RESUMES)
        c++, n--;
    g_assert_cmpuint(n, >, 0);
    g_assert_cmpuint(c->stroke, ==, 3);
    g_assert_cmpuint(c->strokes, ==, 4);
    g_assert_cmpstr(dt_run_program(s.run), ==, s.program);
    g_assert_true(drawing_run(s.run, s.hear, &s, &error));
    fake_stop(s.fake);
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "12 13 ");
    g_assert_null(dt_run_resume(s.session, &(DtResume){0}, &s.options, &error)); /* all is done */
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    stage_clear(&s);
}

/* Stroke i stands upright at X 9 + i, from Y 5 on. */
static void stop_at_once(const DtEvent *e, void *user)
{
    Stage *s = user;
    if (e->kind == DT_EVENT_PEN_CHANGE)
        dt_run_request(s->run, DT_REQUEST_STOP, 0);
}

/* What earlier parts of the run have drawn counts, though nothing has moved in this one. */
static void test_a_resumed_run_that_is_stopped_at_once_tells_all_its_ink(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .silent_from = 60}, 4, 20);
    g_assert_false(stage_draw(&s, &error));
    g_clear_error(&error);
    stage_restart(&s);
    s.options.pens_ready = FALSE; /* asks whether the pen is in */
    s.hear = stop_at_once;
    g_assert_false(stage_resume(&s, &(DtResume){.back_strokes = 1}, &error));
    g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
    /* one stroke of 2 mm */
    g_assert_nonnull(strstr(error->message, "1 of 4 strokes are drawn (0.002 m of ink)"));
    stage_clear(&s);
}

static void test_it_goes_back_to_the_place_pointed_at(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 4, 20);
    DtStrokeAt at;
    g_assert_true(dt_link_stroke_at(s.profile, s.program, dt_point(11.9, 6), &at, &error));
    g_assert_cmpuint(at.stroke, ==, 3);
    g_assert_cmpfloat_with_epsilon(at.away_mm, 0.1, 1e-9);
    g_assert_true(stage_draw(&s, &error));
    const gint64 run = dt_run_id(s.run);
    DtResume from = {.run = run, .from_place = TRUE, .place = {60, 60}};
    g_assert_null(dt_run_resume(s.session, &from, &s.options, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "stroke 4, "));
    g_clear_error(&error);
    stage_restart(&s);
    from.place = dt_point(11.9, 6);
    g_assert_true(stage_resume(&s, &from, &error));
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "12 13 ");
    stage_clear(&s);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/recover/reset",
                    test_a_board_that_resets_is_homed_and_its_stroke_drawn_again);
    g_test_add_func("/link/recover/counts-otherwise",
                    test_a_board_that_counts_otherwise_draws_its_stroke_again);
    g_test_add_func("/link/recover/further", test_it_recovers_as_long_as_it_gets_further);
    g_test_add_func("/link/recover/no-further", test_it_stops_where_it_gets_no_further);
    g_test_add_func("/link/recover/lifted", test_a_pen_lifted_in_silence_is_no_mishap);
    g_test_add_func("/link/recover/proved", test_a_stroke_that_ended_elsewhere_is_drawn_again);
    g_test_add_func("/link/recover/changed",
                    test_a_program_that_is_changed_in_mid_run_is_not_drawn_on);
    g_test_add_func("/link/recover/touched", test_a_program_that_is_only_touched_is_drawn_on);
    g_test_add_func("/link/recover/unplugged", test_an_unplugged_board_is_found_again);
    g_test_add_func("/link/recover/let-go", test_a_port_that_is_gone_is_let_go_of);
    g_test_add_func("/link/recover/name-given-to-another",
                    test_nothing_is_sent_to_another_that_was_given_the_name);
    g_test_add_func("/link/recover/opened-late",
                    test_a_port_that_cannot_be_opened_at_first_is_tried_again);
    g_test_add_func("/link/recover/other-name",
                    test_a_board_under_another_name_is_drawn_on_by_its_port);
    g_test_add_func("/link/recover/resume", test_a_run_goes_on_where_it_broke_off);
    g_test_add_func("/link/recover/stopped-at-once",
                    test_a_resumed_run_that_is_stopped_at_once_tells_all_its_ink);
    g_test_add_func("/link/recover/pointed", test_it_goes_back_to_the_place_pointed_at);
    return g_test_run();
}
