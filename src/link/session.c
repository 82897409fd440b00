/* session: its lifetime, its thread, its requests and its events. */
#include "link/run.h"

#include <gio/gio.h>
#include <stdint.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

/* What may be asked ------------------------------------------------------------------------- */

#define TO_COME (WANTS(PAUSE_AT_LIFT) | WANTS(PAUSE_NOW) | WANTS(PARK))

static const struct {
    DtWaits waits;
    guint may;
    DtEventKind tells;
} states[] = {
    [DT_STATE_CLOSED] = {DT_WAITS_FOR_NOTHING, 0, DT_EVENT_STATE},
    [DT_STATE_OPENING] = {DT_WAITS_FOR_BOARD, WANTS(STOP), DT_EVENT_WAITING},
    [DT_STATE_READY] = {DT_WAITS_FOR_NOTHING, 0, DT_EVENT_STATE},
    [DT_STATE_HOMING] = {DT_WAITS_FOR_NOTHING, WANTS(STOP), DT_EVENT_STATE},
    [DT_STATE_JOGGING] = {DT_WAITS_FOR_NOTHING, WANTS(STOP), DT_EVENT_STATE},
    [DT_STATE_LEARNING] = {DT_WAITS_FOR_NOTHING, WANTS(STOP), DT_EVENT_STATE},
    [DT_STATE_DRAWING] = {DT_WAITS_FOR_NOTHING, WANTS(STOP), DT_EVENT_STATE},
    [DT_STATE_PEN_CHANGE] = {DT_WAITS_FOR_PERSON, WANTS(GO_ON) | WANTS(STOP), DT_EVENT_PEN_CHANGE},
    [DT_STATE_PAUSED] = {DT_WAITS_FOR_PERSON, WANTS(GO_ON) | WANTS(PARK) | WANTS(STOP),
                         DT_EVENT_PAUSED},
    [DT_STATE_HELD] = {DT_WAITS_FOR_PERSON, WANTS(GO_ON) | WANTS(PARK) | WANTS(STOP),
                       DT_EVENT_PAUSED},
    [DT_STATE_PARKED] = {DT_WAITS_FOR_PERSON, WANTS(GO_ON) | WANTS(STOP), DT_EVENT_PAUSED},
    [DT_STATE_UNPLUGGED] = {DT_WAITS_FOR_PORT, WANTS(STOP), DT_EVENT_WAITING},
    [DT_STATE_RECOVERING] = {DT_WAITS_FOR_BOARD, WANTS(STOP), DT_EVENT_WAITING},
    [DT_STATE_ENDING] = {DT_WAITS_FOR_BOARD, 0, DT_EVENT_STATE},
};

/* A run in progress can be asked to pause later; the lock is held. */
static guint what_may(const DtSession *s, DtState state)
{
    guint may = state < G_N_ELEMENTS(states) ? states[state].may : 0;
    if (s->run == NULL || may == 0)
        return may;
    if (states[state].waits != DT_WAITS_FOR_PERSON)
        may |= TO_COME | (s->requests & TO_COME ? WANTS(GO_ON) : 0);
    return may | WANTS(PAUSE_AT_LIFT) | WANTS(PAUSE_AT_CHANGE);
}

static void wake(DtSession *s)
{
    const uint64_t one = 1;
    if (write(s->wake, &one, sizeof one) < 0)
        return; /* it is full of wake-ups already */
}

static gboolean moves(DtRequest request)
{
    return request == DT_REQUEST_GO_ON || request == DT_REQUEST_PARK;
}

gboolean dt_session_request(DtSession *s, DtRequest request, guint serial)
{
    static const guint drops[DT_N_REQUESTS] = {
        [DT_REQUEST_GO_ON] = TO_COME,
        [DT_REQUEST_PAUSE_AT_LIFT] = WANTS(GO_ON),
        [DT_REQUEST_PAUSE_NOW] = WANTS(GO_ON),
        [DT_REQUEST_PARK] = WANTS(GO_ON),
    };
    if (request < 0 || request >= DT_N_REQUESTS)
        return FALSE;
    g_mutex_lock(&s->lock);
    const gboolean stale = serial != 0 && serial != s->snapshot.serial && moves(request);
    const gboolean may = !stale && (s->snapshot.may & 1u << request);
    if (may) {
        guint add = 1u << request;
        if (request == DT_REQUEST_PAUSE_NOW && *s->profile->dialect.hold == '\0')
            add = WANTS(PAUSE_AT_LIFT);
        if (request == DT_REQUEST_PARK)
            add |= WANTS(PAUSE_AT_LIFT);
        if (request == DT_REQUEST_GO_ON && s->snapshot.waits != DT_WAITS_FOR_PERSON)
            add = 0;
        s->requests = (s->requests & ~drops[request]) | add;
        s->snapshot.may = what_may(s, s->snapshot.state);
    }
    g_mutex_unlock(&s->lock);
    if (may)
        wake(s);
    return may;
}

gboolean dt_session_wants(DtSession *s, guint requests)
{
    g_mutex_lock(&s->lock);
    const gboolean wants = (s->requests & requests) != 0;
    g_mutex_unlock(&s->lock);
    return wants;
}

gboolean dt_session_take(DtSession *s, guint requests)
{
    g_mutex_lock(&s->lock);
    const gboolean made = (s->requests & requests) != 0;
    s->requests &= ~requests;
    s->snapshot.may = what_may(s, s->snapshot.state);
    g_mutex_unlock(&s->lock);
    return made;
}

/* Events and snapshots ---------------------------------------------------------------------- */

/* A board that holds has lifted the pen in the middle of its line; one that can report has said
 * so. */
static gboolean holds_pen_up(const DtSession *s, DtState state)
{
    return state == DT_STATE_HELD &&
           (*s->profile->dialect.ask_state == '\0' || s->state.word == DT_BOARD_HELD);
}

/* What the session's thread knows; the lock is held. */
static void describe(const DtSession *s, DtSnapshot *out)
{
    const DtProfile *p = s->profile;
    if (s->run != NULL)
        dt_run_describe(s->run, out);
    out->pen = dt_rack_find_spelled(&p->rack, out->pen_name);
    if (out->pen >= 0)
        g_strlcpy(out->pen_name, p->rack.pens[out->pen].name, sizeof out->pen_name);
    out->homed = out->position_known = s->homed;
    out->pen_down = s->taken.pen_down && !holds_pen_up(s, out->state);
    out->at = s->taken.carriage;
    const DtCarriage carriage = dt_session_carriage(p, &s->taken);
    out->tip = dt_carriage_ink(&carriage, out->at);
    if (out->pen >= 0)
        out->tip = dt_point_add(out->tip, p->rack.pens[out->pen].offset);
    out->may = what_may(s, out->state);
}

static void forget_run(DtSnapshot *out)
{
    out->done = out->left_s = out->ink_mm = out->travel_mm = 0;
    out->line = out->stroke = out->strokes = 0;
    out->silent = FALSE;
}

void dt_session_publish(DtSession *s)
{
    g_mutex_lock(&s->lock);
    describe(s, &s->snapshot);
    g_mutex_unlock(&s->lock);
}

static void change_state(DtSession *s, DtState state)
{
    s->requests &= ~WANTS(GO_ON);
    s->snapshot.state = state;
    s->snapshot.serial++;
    s->snapshot.waits = state < G_N_ELEMENTS(states) ? states[state].waits : DT_WAITS_FOR_NOTHING;
    describe(s, &s->snapshot);
}

void dt_session_enter(DtSession *s, DtState state, const char *text)
{
    s->last_event_us = g_get_monotonic_time();
    g_mutex_lock(&s->lock);
    change_state(s, state);
    dt_session_post(s, dt_event_new(states[state].tells, &s->snapshot, text, 0, NULL));
    g_mutex_unlock(&s->lock);
}

static void tell(DtSession *s, DtEventKind kind, const char *text, size_t line)
{
    s->last_event_us = g_get_monotonic_time();
    g_mutex_lock(&s->lock);
    describe(s, &s->snapshot);
    dt_session_post(s, dt_event_new(kind, &s->snapshot, text, line, NULL));
    g_mutex_unlock(&s->lock);
}

void dt_session_tell(DtSession *s, DtEventKind kind, const char *text)
{
    tell(s, kind, text, 0);
}

void dt_session_tell_repeated(DtSession *s, size_t line)
{
    tell(s, DT_EVENT_REPEATED, NULL, line);
}

void dt_session_snapshot(DtSession *s, DtSnapshot *out)
{
    g_mutex_lock(&s->lock);
    *out = s->snapshot;
    g_mutex_unlock(&s->lock);
}

/* The thread -------------------------------------------------------------------------------- */

/* FALSE when the session ends. */
static gboolean next_task(DtSession *s, DtTask *task, gpointer *data)
{
    g_mutex_lock(&s->lock);
    *task = s->task;
    *data = s->task_data;
    s->task = NULL;
    const gboolean goes_on = *task != NULL || !s->quit;
    g_mutex_unlock(&s->lock);
    return goes_on;
}

/* Between tasks: notices if the board resets or disappears. */
static void idle(DtSession *s)
{
    if (dt_session_pump(s, G_MAXINT64))
        return;
    g_autofree char *text = g_strdup(s->trouble_text);
    dt_session_close(s);
    g_mutex_lock(&s->lock);
    const gboolean busy = s->busy; /* the task that starts opens the port itself */
    g_mutex_unlock(&s->lock);
    if (!busy)
        dt_session_enter(s, DT_STATE_CLOSED, text);
}

/* Whoever receives the end may start something else at once. */
void dt_session_finish(DtSession *s, const DtTaskEnd *end, const char *text)
{
    s->last_event_us = g_get_monotonic_time();
    g_mutex_lock(&s->lock);
    if (end != NULL) {
        change_state(s, end->state);
        DtEvent *e = dt_event_new(DT_EVENT_ENDED, &s->snapshot, end->cause, 0, end->error);
        end->ended(&s->snapshot, end->data);
        dt_session_post(s, e);
    }
    s->run = NULL;
    s->requests = 0;
    s->busy = FALSE;
    change_state(s, s->port != NULL ? DT_STATE_READY : DT_STATE_CLOSED);
    forget_run(&s->snapshot);
    dt_session_post(s, dt_event_new(DT_EVENT_STATE, &s->snapshot, text, 0, NULL));
    g_mutex_unlock(&s->lock);
}

static gpointer work(gpointer data)
{
    DtSession *s = data;
    DtTask task;
    gpointer task_data;
    while (next_task(s, &task, &task_data))
        if (task != NULL)
            task(s, task_data);
        else
            idle(s);
    if (s->homed) /* otherwise nothing has moved, or the motors are off */
        dt_session_lift_at_last(s, FALSE);
    dt_session_close(s);
    return NULL;
}

gboolean dt_session_begin(DtSession *s, DtState state, DtTask task, gpointer data, GError **error)
{
    g_mutex_lock(&s->lock);
    const gboolean free = !s->busy && !s->quit;
    if (free) {
        s->busy = TRUE;
        s->requests = 0;
        s->task = task;
        s->task_data = data;
        s->snapshot.state = state;
        s->snapshot.serial++;
        s->snapshot.waits = states[state].waits;
        s->snapshot.may = WANTS(STOP);
        if (s->thread == NULL)
            s->thread = g_thread_new("session", work, s);
    }
    g_mutex_unlock(&s->lock);
    if (free)
        wake(s);
    else
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                            "the machine is busy; one thing at a time");
    return free;
}

gboolean dt_session_has_port(DtSession *s)
{
    g_mutex_lock(&s->lock);
    const gboolean has = s->port_path != NULL && *s->port_path != '\0';
    g_mutex_unlock(&s->lock);
    return has;
}

void dt_session_set_port(DtSession *s, const char *path)
{
    g_mutex_lock(&s->lock);
    g_free(s->port_path);
    s->port_path = g_strdup(path);
    g_mutex_unlock(&s->lock);
}

/* Life -------------------------------------------------------------------------------------- */

DtSession *dt_session_new(const DtProfile *p, const char *port)
{
    DtSession *s = g_new0(DtSession, 1);
    g_atomic_ref_count_init(&s->refs);
    g_mutex_init(&s->lock);
    s->profile = p;
    s->port_path = g_strdup(port);
    s->wake = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    s->listeners = dt_session_new_listeners();
    s->traffic = dt_traffic_new(&p->dialect, &dt_session_traffic_events, s);
    s->snapshot = (DtSnapshot){.state = DT_STATE_CLOSED, .serial = 1, .pen = -1};
    s->sent = s->taken =
        (DtProgramState){.motion = -1, .unit = 1, .speed = -1, .side = {1, 1}, .lean = {1, 1}};
    return s;
}

DtSession *dt_session_ref(DtSession *s)
{
    g_atomic_ref_count_inc(&s->refs);
    return s;
}

void dt_session_unref(DtSession *s)
{
    if (s == NULL || !g_atomic_ref_count_dec(&s->refs))
        return;
    g_mutex_lock(&s->lock);
    s->quit = TRUE;
    s->requests |= s->busy ? WANTS(STOP) : 0;
    g_mutex_unlock(&s->lock);
    wake(s);
    if (s->thread != NULL)
        g_thread_join(s->thread);
    g_ptr_array_unref(s->listeners);
    dt_traffic_free(s->traffic);
    dt_learnt_clear(&s->learnt);
    g_clear_error(&s->learn_error);
    if (s->wake >= 0)
        close(s->wake);
    g_mutex_clear(&s->lock);
    g_free(s->trouble_text);
    g_free(s->trouble_journal);
    g_free(s->port_path);
    g_free(s);
}
