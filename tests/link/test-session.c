/* session: what one thread draws, others watch and steer: events, snapshots, requests, jogging. */
#include "stage.h"

#include "link/session.h"

#include <gio/gio.h>
#include <string.h>

static void set_run(Stage *s, const FakeFaults *faults, unsigned strokes, unsigned segments)
{
    g_autoptr(GError) error = NULL;
    stage_set(s, faults, strokes, segments);
    s->session = dt_session_new(s->profile, s->port);
    s->run = dt_run_new(s->session, s->program, &s->options, &error);
    g_assert_no_error(error);
}

/* Jogging ----------------------------------------------------------------------------------- */

/* Onto the paper's corner: up, home, there within the travel, down and up again. */
static void test_jogging_moves_the_pen_and_no_further_than_it_can(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
    s.session = dt_session_new(s.profile, s.port);
    static const DtJog first[] = {{.kind = DT_JOG_HOME},
                                  {DT_JOG_BY, 30, 20, 0},
                                  {DT_JOG_BY, -1e6, -1e6, 0},
                                  {DT_JOG_BY, 1e6, 5, 0},
                                  {DT_JOG_TO, 25, 1e6, 10}};
    g_assert_false(drawing_jog(s.session, &first[1], &error)); /* not homed */
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    for (gsize i = 0; i < G_N_ELEMENTS(first); i++) {
        drawing_jog(s.session, &first[i], &error);
        g_assert_no_error(error);
    }
    DtSnapshot now;
    dt_session_snapshot(s.session, &now);
    g_assert_cmpint(now.state, ==, DT_STATE_READY);
    g_assert_true(now.homed && now.position_known);
    g_assert_cmpfloat(now.at.x, ==, 25);
    g_assert_cmpfloat(now.at.y, ==, s.profile->travel[1]);
    g_assert_true(drawing_jog(s.session, &(DtJog){.kind = DT_JOG_PEN_DOWN}, &error));
    dt_session_snapshot(s.session, &now);
    g_assert_true(now.pen_down);
    g_assert_true(drawing_jog(s.session, &(DtJog){.kind = DT_JOG_PEN_UP}, &error));
    g_assert_true(drawing_jog(s.session, &(DtJog){.kind = DT_JOG_END}, &error));
    dt_session_snapshot(s.session, &now);
    g_assert_cmpint(now.state, ==, DT_STATE_CLOSED);
    fake_stop(s.fake);
    g_autofree char *right = g_strdup_printf("G0X%.3fY5.000", s.profile->travel[0]);
    g_autofree char *top = g_strdup_printf("G1X25.000Y%.3fF600.000", s.profile->travel[1]);
    const char *const want[] = {
        "M5",     NULL, "G28", "G21", "G90", "G0X30.000Y20.000", "G0X0.000Y0.000", right, top,
        "M3 S40", NULL, "M5",  NULL,  "M5"};
    GPtrArray *got = fake_executed(s.fake);
    g_assert_cmpuint(got->len, >=, G_N_ELEMENTS(want));
    for (gsize i = 0; i < G_N_ELEMENTS(want); i++)
        if (want[i] != NULL) /* the dwells of the pen */
            g_assert_cmpstr(got->pdata[i], ==, want[i]);
    stage_clear(&s);
}

/* As when the page or the program is closed: nobody sees to the machine then. */
static void test_let_go_of_it_lifts_the_pen_where_it_stands(void)
{
    static const DtJog jogs[] = {
        {.kind = DT_JOG_HOME}, {DT_JOG_BY, 30, 20, 0}, {.kind = DT_JOG_PEN_DOWN}};
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
    s.profile->park = dt_point(3, 4);
    s.session = dt_session_new(s.profile, s.port);
    for (gsize i = 0; i < G_N_ELEMENTS(jogs); i++) {
        drawing_jog(s.session, &jogs[i], &error);
        g_assert_no_error(error);
    }
    g_clear_pointer(&s.session, dt_session_unref);
    fake_stop(s.fake);
    const char *const want[] = {"G0X30.000Y20.000", "M3 S40", "G4P0.150", "M5", "M2"};
    GPtrArray *got = fake_executed(s.fake);
    const guint first = got->len - G_N_ELEMENTS(want);
    for (guint i = 0; i < G_N_ELEMENTS(want); i++)
        g_assert_cmpstr(got->pdata[first + i], ==, want[i]);
    stage_clear(&s);
}

/* In the unit and with the digits that the board takes, and rather too long than too short. */
static void test_the_pen_is_waited_for_in_the_board_s_unit(void)
{
    static const struct {
        const char *setting;
        int decimals;
        double lift_s;
        const char *line;
    } cases[] = {{"", 3, 0.2, "G4P0.200"},
                 {" dwell:ms", 3, 0.2, "G4P200.000"},
                 {" dwell:ms", 0, 0.0123, "G4P13"},
                 {"", 1, 0.21, "G4P0.3"},
                 {"", 0, 0.2, "G4P1"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
        char *words = g_strconcat(s.profile->dialect.words, cases[i].setting, NULL);
        g_free(s.profile->dialect.words);
        s.profile->dialect.words = words;
        s.profile->dialect.decimals = cases[i].decimals;
        s.profile->lift_s = cases[i].lift_s;
        s.session = dt_session_new(s.profile, s.port);
        drawing_jog(s.session, &(DtJog){.kind = DT_JOG_HOME}, &error);
        g_assert_no_error(error);
        fake_stop(s.fake);
        GPtrArray *got = fake_executed(s.fake);
        g_assert_cmpuint(got->len, >=, 2);
        g_assert_cmpstr(got->pdata[0], ==, "M5");
        g_assert_cmpstr(got->pdata[1], ==, cases[i].line);
        stage_clear(&s);
    }
}

/* From wherever the carriage stands: the board says where that is while the pen is lifted. */
static void note_state(const DtEvent *e, void *user)
{
    GArray *states = user;
    const DtState last =
        states->len ? g_array_index(states, DtState, states->len - 1) : DT_STATE_CLOSED;
    if (e->at.state != last)
        g_array_append_val(states, e->at.state);
}

static gboolean give_up(gpointer user)
{
    *(gboolean *)user = TRUE;
    return G_SOURCE_REMOVE;
}

/* The first opens the port before. */
static void test_homing_by_hand_is_told(void)
{
    static const DtState expected[] = {DT_STATE_OPENING, DT_STATE_HOMING, DT_STATE_READY,
                                       DT_STATE_HOMING, DT_STATE_READY};
    Stage s;
    g_autoptr(GError) error = NULL;
    g_autoptr(GArray) states = g_array_new(FALSE, FALSE, sizeof(DtState));
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
    s.session = dt_session_new(s.profile, s.port);
    const guint listener = dt_session_listen(s.session, note_state, states);
    for (int i = 0; i < 2; i++) {
        drawing_jog(s.session, &(DtJog){.kind = DT_JOG_HOME}, &error);
        g_assert_no_error(error);
    }
    gboolean late = FALSE;
    const guint timer = g_timeout_add_seconds(20, give_up, &late);
    while (!late && states->len < G_N_ELEMENTS(expected)) /* events come when they come */
        g_main_context_iteration(NULL, TRUE);
    if (!late)
        g_source_remove(timer);
    g_assert_cmpmem(states->data, states->len * sizeof(DtState), expected, sizeof expected);
    dt_session_unlisten(s.session, listener);
    stage_clear(&s);
}

static void test_homing_again_is_homing(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .home_ms = 400}, 1, 2);
    s.profile->lift_s = 0.7; /* it is asked meanwhile */
    s.session = dt_session_new(s.profile, s.port);
    static const DtJog all[] = {
        {.kind = DT_JOG_HOME}, {DT_JOG_BY, 30, 20, 0}, {.kind = DT_JOG_HOME}, {DT_JOG_BY, 3, 2, 0}};
    for (gsize i = 0; i < G_N_ELEMENTS(all); i++) {
        drawing_jog(s.session, &all[i], &error);
        g_assert_no_error(error);
    }
    DtSnapshot now;
    dt_session_snapshot(s.session, &now);
    g_assert_cmpfloat(now.at.x, ==, 3);
    g_assert_cmpfloat(now.at.y, ==, 2);
    stage_clear(&s);
}

static void test_a_jog_that_cannot_begin_says_why(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .silent_from = 1}, 1, 2);
    s.session = dt_session_new(s.profile, s.port);
    g_assert_false(drawing_jog(s.session, &(DtJog){.kind = DT_JOG_HOME}, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "has not answered"));
    stage_clear(&s);
}

/* One thing at a time: no queue of motions that goes on when the key is let go. */
static void test_a_motion_is_refused_while_another_is_under_way(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .home_ms = 300}, 1, 2);
    s.session = dt_session_new(s.profile, s.port);
    g_assert_true(dt_session_jog(s.session, &(DtJog){.kind = DT_JOG_HOME}, &error));
    g_assert_false(dt_session_jog(s.session, &(DtJog){.kind = DT_JOG_HOME}, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    g_assert_no_error(error);
    g_assert_false(dt_run_start(s.run, ~0u, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    stage_clear(&s);
}

static void test_a_run_follows_a_jog_on_the_same_port(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_run(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 2, 5);
    g_assert_true(drawing_jog(s.session, &(DtJog){.kind = DT_JOG_HOME}, &error));
    g_assert_true(drawing_jog(s.session, &(DtJog){DT_JOG_BY, 5, 5, 0}, &error));
    g_assert_true(drawing_run(s.run, s.hear, &s, &error));
    g_assert_false(dt_run_start(s.run, ~0u, &error)); /* a second time */
    g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
    g_clear_error(&error);
    g_assert_false(drawing_jog(s.session, &(DtJog){DT_JOG_BY, 5, 5, 0}, &error)); /* motors off */
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    g_assert_true(drawing_jog(s.session, &(DtJog){.kind = DT_JOG_HOME}, &error));
    g_assert_no_error(error);
    stage_clear(&s);
}

/* Snapshots and events ---------------------------------------------------------------------- */

typedef struct {
    GThread *thread;
    Stage *stage;
    GPtrArray *events; /* kept beyond the session */
    gboolean listens, ended, closed;
} Ear;

static void keep(const DtEvent *e, void *user)
{
    Ear *ear = user;
    if (e->kind == DT_EVENT_PROGRESS || ear->closed)
        return;
    g_ptr_array_add(ear->events, dt_event_ref(e));
    ear->closed = ear->ended; /* with what the session goes on as */
    ear->ended = ear->ended || e->kind == DT_EVENT_ENDED;
}

static gpointer listen_apart(gpointer data)
{
    Ear *ear = data;
    GMainContext *context = g_main_context_new();
    g_main_context_push_thread_default(context);
    const guint listener = dt_session_listen(ear->stage->session, keep, ear);
    g_atomic_int_set(&ear->listens, TRUE);
    while (!ear->closed)
        g_main_context_iteration(context, TRUE);
    dt_session_unlisten(ear->stage->session, listener);
    g_main_context_pop_thread_default(context);
    g_main_context_unref(context);
    return NULL;
}

static void start_ear(Ear *ear, Stage *s)
{
    *ear = (Ear){.stage = s};
    ear->events = g_ptr_array_new_with_free_func((GDestroyNotify)dt_event_unref);
    ear->thread = g_thread_new("ear", listen_apart, ear);
    while (!g_atomic_int_get(&ear->listens))
        g_usleep(1000);
}

/* Each in its own thread; the events are values of their own, good when all else is gone. */
static void test_two_listeners_hear_the_same(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_run(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .garble_line = 20}, 4, 5);
    Ear a, b;
    start_ear(&a, &s);
    start_ear(&b, &s);
    g_assert_true(dt_run_start(s.run, ~0u, &error));
    g_assert_true(dt_run_wait(s.run, &error));
    g_thread_join(a.thread);
    g_thread_join(b.thread);
    stage_clear(&s);
    g_assert_cmpuint(a.events->len, ==, b.events->len);
    guint serial = 0, repeated = 0;
    for (guint i = 0; i < a.events->len; i++) {
        const DtEvent *e = a.events->pdata[i], *f = b.events->pdata[i];
        g_assert_true(e == f); /* shared, and never changed */
        g_assert_cmpuint(e->at.serial, >=, serial);
        serial = e->at.serial;
        repeated += e->kind == DT_EVENT_REPEATED;
        g_assert_true((e->line != 0) == (e->kind == DT_EVENT_REPEATED)); /* no other is of a line */
    }
    g_assert_cmpuint(repeated, >=, 1);
    const DtEvent *end = a.events->pdata[a.events->len - 2];
    const DtEvent *last = a.events->pdata[a.events->len - 1];
    g_assert_cmpint(end->kind, ==, DT_EVENT_ENDED);
    g_assert_no_error(end->error);
    g_assert_cmpint(last->kind, ==, DT_EVENT_STATE);
    g_assert_cmpint(last->at.state, ==, DT_STATE_READY);
    g_ptr_array_unref(a.events);
    g_ptr_array_unref(b.events);
}

static void wait_for_state(DtRun *r, DtState state, DtSnapshot *out)
{
    for (int i = 0; i < 2000; i++) {
        dt_run_snapshot(r, out);
        if (out->state == state)
            return;
        g_usleep(5000);
    }
    g_error("state %d and not %d", out->state, state);
}

/* Nobody listens: a snapshot is enough to steer by. */
static void test_a_snapshot_tells_where_it_is_and_what_may_be_asked(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_run(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 2}, 4, 5);
    dt_run_unref(s.run);
    s.options.pens_ready = FALSE;
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    DtSnapshot now;
    dt_run_snapshot(s.run, &now);
    g_assert_cmpint(now.state, ==, DT_STATE_CLOSED);
    g_assert_cmpuint(now.may, ==, 0);
    g_assert_false(dt_run_request(s.run, DT_REQUEST_STOP, 0)); /* not started */
    g_assert_true(dt_run_start(s.run, ~0u, &error));
    wait_for_state(s.run, DT_STATE_PEN_CHANGE, &now);
    g_assert_cmpint(now.waits, ==, DT_WAITS_FOR_PERSON);
    g_assert_cmpstr(now.pen_name, ==, "red");
    g_assert_cmpuint(now.stroke, ==, 2);
    g_assert_cmpuint(now.strokes, ==, 4);
    g_assert_true(now.position_known && !now.pen_down);
    const DtPoint at = dt_machine_ink_at(s.profile, dt_point(0, 50));
    g_assert_cmpfloat_with_epsilon(now.at.x, 0, 1e-9);
    g_assert_cmpfloat_with_epsilon(now.at.y, 50, 1e-9);
    g_assert_cmpfloat_with_epsilon(
        dt_point_distance(now.tip, dt_point_add(at, s.profile->rack.pens[now.pen].offset)), 0,
        now.pen < 0 ? 1e9 : 1e-9);
    g_assert_true(now.may & 1u << DT_REQUEST_GO_ON);
    g_assert_true(now.may & 1u << DT_REQUEST_STOP);
    g_assert_false(now.may & 1u << DT_REQUEST_PARK);
    g_assert_false(dt_run_request(s.run, DT_REQUEST_PARK, 0));
    g_assert_true(dt_run_request(s.run, DT_REQUEST_GO_ON, now.serial));
    g_assert_true(dt_run_wait(s.run, &error));
    dt_run_snapshot(s.run, &now);
    g_assert_cmpint(now.state, ==, DT_STATE_DONE);
    g_assert_cmpfloat(now.done, ==, 1);
    g_assert_cmpuint(now.may, ==, 0);
    stage_clear(&s);
}

/* Held in the middle of a stroke as often as one likes: the board says so, the pen is up meanwhile, and nothing is
 * drawn twice or left out. */
static void test_a_hold_leaves_no_trace(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_run(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 8}, 1, 250);
    g_assert_true(dt_run_start(s.run, ~0u, &error));
    DtSnapshot now;
    for (int i = 0; i < 2; i++) {
        do {
            g_usleep(2000);
            dt_run_snapshot(s.run, &now);
            g_assert_cmpint(now.state, !=, DT_STATE_DONE);
        } while (now.state != DT_STATE_DRAWING || !now.pen_down || now.line < 20 + 40 * (size_t)i);
        g_assert_true(now.may & 1u << DT_REQUEST_PAUSE_NOW);
        g_assert_true(dt_run_request(s.run, DT_REQUEST_PAUSE_NOW, now.serial));
        wait_for_state(s.run, DT_STATE_HELD, &now);
        g_assert_false(now.pen_down);
        g_assert_cmpint(now.waits, ==, DT_WAITS_FOR_PERSON);
        g_assert_false(now.may & 1u << DT_REQUEST_PAUSE_NOW);
        const size_t line = now.line;
        g_usleep(60000);
        dt_run_snapshot(s.run, &now);
        g_assert_cmpint(now.state, ==, DT_STATE_HELD);
        g_assert_cmpuint(now.line, <=, line + 1);
        g_assert_true(dt_run_request(s.run, DT_REQUEST_GO_ON, now.serial));
        wait_for_state(s.run, DT_STATE_DRAWING, &now);
    }
    g_assert_true(dt_run_wait(s.run, &error));
    g_assert_no_error(error);
    fake_stop(s.fake);
    stage_assert_executed_once(&s);
    stage_clear(&s);
}

/* On a board that cannot abandon its lines: it draws what it has taken, and lifts the pen. */
static void test_a_held_run_is_ended_with_the_pen_up(void)
{
    Stage s;
    DtSnapshot now;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 8}, 1, 250);
    g_free(s.profile->dialect.abandon);
    s.profile->dialect.abandon = g_strdup("");
    s.session = dt_session_new(s.profile, s.port);
    s.run = dt_run_new(s.session, s.program, &s.options, &error);
    g_assert_no_error(error);
    g_assert_true(dt_run_start(s.run, ~0u, &error));
    do {
        g_usleep(2000);
        dt_run_snapshot(s.run, &now);
        g_assert_cmpint(now.state, !=, DT_STATE_DONE);
    } while (now.state != DT_STATE_DRAWING || !now.pen_down || now.line < 20);
    g_assert_true(dt_run_request(s.run, DT_REQUEST_PAUSE_NOW, now.serial));
    wait_for_state(s.run, DT_STATE_HELD, &now);
    g_assert_true(dt_run_request(s.run, DT_REQUEST_STOP, now.serial));
    g_assert_false(dt_run_wait(s.run, &error));
    g_assert_nonnull(strstr(error->message, "stopped by hand"));
    g_assert_null(strstr(error->message, "no longer answers"));
    fake_stop(s.fake);
    const GPtrArray *got = fake_executed(s.fake);
    guint last = got->len - 1;
    while (last > 0 && !g_str_has_prefix(got->pdata[last], "X10Y"))
        last--;
    g_assert_cmpuint(last, >, 0);
    g_assert_cmpstr(got->pdata[last + 1], ==, "M5");
    g_assert_cmpstr(got->pdata[got->len - 1], ==, "M2");
    stage_clear(&s);
}

/* Whoever sees an old page must not let a machine move that stands for another reason now. */
static void test_what_moves_is_refused_when_the_state_has_changed(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_run(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 5}, 4, 20);
    DtSnapshot paused, now;
    g_assert_true(dt_run_start(s.run, ~0u, &error));
    wait_for_state(s.run, DT_STATE_DRAWING, &now);
    g_assert_true(
        dt_run_request(s.run, DT_REQUEST_PAUSE_AT_LIFT, 1)); /* stands still: never stale */
    wait_for_state(s.run, DT_STATE_PAUSED, &paused);
    g_assert_false(dt_run_request(s.run, DT_REQUEST_GO_ON, paused.serial - 1));
    g_assert_true(dt_run_request(s.run, DT_REQUEST_PARK, paused.serial));
    wait_for_state(s.run, DT_STATE_PARKED, &now);
    g_assert_false(dt_run_request(s.run, DT_REQUEST_GO_ON, paused.serial));
    g_assert_true(dt_run_request(s.run, DT_REQUEST_GO_ON, now.serial));
    g_assert_true(dt_run_wait(s.run, &error));
    g_assert_no_error(error);
    stage_clear(&s);
}

static gpointer stop_it(gpointer data)
{
    Stage *s = data;
    DtSnapshot now;
    wait_for_state(s->run, DT_STATE_DRAWING, &now);
    for (int i = 0; i < 200; i++) { /* as an impatient person does; only the first counts */
        dt_run_request(s->run, DT_REQUEST_STOP, 0);
        g_usleep(1000);
    }
    return NULL;
}

/* A second stop while the run lifts the pen and lets the motors go must not break that off. */
static void test_stopped_from_another_thread_again_and_again(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_run(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 5}, 4, 20);
    GThread *t = g_thread_new("stop", stop_it, &s);
    g_assert_true(dt_run_start(s.run, ~0u, &error));
    g_assert_false(dt_run_wait(s.run, &error));
    g_thread_join(t);
    g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
    g_assert_null(strstr(error->message, "no longer answers"));
    DtSnapshot now;
    dt_run_snapshot(s.run, &now);
    g_assert_cmpint(now.state, ==, DT_STATE_STOPPED);
    fake_stop(s.fake);
    GPtrArray *got = fake_executed(s.fake);
    g_assert_cmpstr(got->pdata[got->len - 1], ==, "M2"); /* lets the motors go */
    stage_clear(&s);
}

static void test_the_last_reference_ends_a_run(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    set_run(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 5}, 4, 20);
    DtSnapshot now;
    g_assert_true(dt_run_start(s.run, ~0u, &error));
    wait_for_state(s.run, DT_STATE_DRAWING, &now);
    g_assert_true(dt_run_ref(s.run) == s.run);
    dt_run_unref(s.run);
    dt_run_snapshot(s.run, &now);
    g_assert_cmpint(now.state, ==, DT_STATE_DRAWING); /* another one is left */
    g_clear_pointer(&s.run, dt_run_unref);
    fake_stop(s.fake);
    GPtrArray *got = fake_executed(s.fake);
    g_assert_cmpstr(got->pdata[got->len - 1], ==, "M2");
    stage_clear(&s);
}

/* A program's comments spell in ASCII: the pen's name is as in the rack, and its tip where it is in the holder, of the
 * first pen as of any other. */
static void test_a_snapshot_spells_each_pen_as_the_rack_does(void)
{
    Stage s;
    stage_set(&s, &(FakeFaults){.greeting = GREETING}, 1, 2);
    s.session = dt_session_new(s.profile, NULL);
    const DtRack *rack = &s.profile->rack;
    g_assert_cmpuint(rack->n, >, 1);
    for (size_t i = 0; i < rack->n; i++) {
        g_free(rack->pens[i].name);
        rack->pens[i].name = g_strdup_printf("gr\303\274n %zu", i);
        rack->pens[i].offset = dt_point(1.5 + (double)i, -0.25);
    }
    DtSnapshot now;
    dt_session_publish(s.session);
    dt_session_snapshot(s.session, &now);
    g_assert_cmpint(now.pen, ==, -1);
    const DtPoint bare = now.tip;
    for (size_t i = 0; i < rack->n; i++) {
        g_autofree char *spelled = dt_base_comment_text(rack->pens[i].name);
        g_assert_true(g_str_is_ascii(spelled));
        g_strlcpy(s.session->snapshot.pen_name, spelled, sizeof s.session->snapshot.pen_name);
        dt_session_publish(s.session);
        dt_session_snapshot(s.session, &now);
        g_assert_cmpint(now.pen, ==, (int)i);
        g_assert_cmpstr(now.pen_name, ==, rack->pens[i].name);
        g_assert_cmpfloat_with_epsilon(now.tip.x - bare.x, 1.5 + (double)i, 1e-9);
        g_assert_cmpfloat_with_epsilon(now.tip.y - bare.y, -0.25, 1e-9);
    }
    stage_clear(&s);
}

/* What was learnt is handed over once; where learning failed its error is, as often as it is asked for. */
static void test_what_was_learnt_is_handed_over_once(void)
{
    Stage s;
    stage_set(&s, &(FakeFaults){.greeting = GREETING}, 1, 2);
    s.session = dt_session_new(s.profile, NULL);
    g_autoptr(GError) error = NULL;
    DtLearnt out = {0};
    s.session->learnt = (DtLearnt){.accept = g_strdup("yes"), .window = 77};
    g_assert_true(dt_session_learnt(s.session, &out, &error));
    g_assert_cmpstr(out.accept, ==, "yes");
    g_assert_cmpint(out.window, ==, 77);
    dt_learnt_clear(&out);
    g_assert_true(dt_session_learnt(s.session, &out, &error));
    g_assert_null(out.accept);
    g_assert_cmpint(out.window, ==, 0);
    g_set_error_literal(&s.session->learn_error, DT_ERROR, DT_ERROR_INPUT, "mute");
    for (int i = 0; i < 2; i++) {
        g_assert_false(dt_session_learnt(s.session, &out, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_cmpstr(error->message, ==, "mute");
        g_clear_error(&error);
    }
    g_assert_false(dt_session_learn(s.session, &(DtLearnOptions){0}, &error)); /* no port */
    g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
    stage_clear(&s);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/session/jog", test_jogging_moves_the_pen_and_no_further_than_it_can);
    g_test_add_func("/link/session/let-go", test_let_go_of_it_lifts_the_pen_where_it_stands);
    g_test_add_func("/link/session/dwell-unit", test_the_pen_is_waited_for_in_the_board_s_unit);
    g_test_add_func("/link/session/home-told", test_homing_by_hand_is_told);
    g_test_add_func("/link/session/home-again", test_homing_again_is_homing);
    g_test_add_func("/link/session/jog-not", test_a_jog_that_cannot_begin_says_why);
    g_test_add_func("/link/session/busy", test_a_motion_is_refused_while_another_is_under_way);
    g_test_add_func("/link/session/jog-then-run", test_a_run_follows_a_jog_on_the_same_port);
    g_test_add_func("/link/session/two-listeners", test_two_listeners_hear_the_same);
    g_test_add_func("/link/session/snapshot",
                    test_a_snapshot_tells_where_it_is_and_what_may_be_asked);
    g_test_add_func("/link/session/spelled", test_a_snapshot_spells_each_pen_as_the_rack_does);
    g_test_add_func("/link/session/learnt", test_what_was_learnt_is_handed_over_once);
    g_test_add_func("/link/session/hold", test_a_hold_leaves_no_trace);
    g_test_add_func("/link/session/held-and-ended", test_a_held_run_is_ended_with_the_pen_up);
    g_test_add_func("/link/session/stale", test_what_moves_is_refused_when_the_state_has_changed);
    g_test_add_func("/link/session/stopped", test_stopped_from_another_thread_again_and_again);
    g_test_add_func("/link/session/last-reference", test_the_last_reference_ends_a_run);
    return g_test_run();
}
