/* board: connects the poll loop, the traffic and the users of the session. */
#include "link/run.h"

#include <errno.h>
#include <math.h>
#include <gio/gio.h>
#include <poll.h>
#include <stdint.h>
#include <string.h>
#include <unistd.h>

enum {
    FIRST_ASK_US = 2000000, /* a board that is starting up may misinterpret bytes */
    ASK_EVERY_US = 250000,
    TELL_EVERY_US = 100000,
    GO_ON_TRIES = 12, /* of a board that does not go on */
};

void dt_session_trouble(DtSession *s, Trouble t, const char *format, ...)
{
    if (s->trouble != TROUBLE_NONE)
        return; /* the first one is the cause */
    va_list list;
    va_start(list, format);
    g_free(s->trouble_text);
    s->trouble_text = g_strdup_vprintf(_(format), list);
    va_end(list);
    va_start(list, format);
    g_free(s->trouble_journal);
    s->trouble_journal = g_strdup_vprintf(format, list);
    va_end(list);
    s->trouble = t;
}

/* What the traffic tells -------------------------------------------------------------------- */

/* Time by which the board has executed what it accepted: it works without a break, and holds at
 * most this many lines. */
static void predict_standstill(DtSession *s, double seconds)
{
    const gint64 now = g_get_monotonic_time();
    s->recent_s[s->recent++ % PLANNED] = MAX(0, seconds);
    double most = 0;
    for (size_t i = 0; i < PLANNED; i++)
        most += s->recent_s[i];
    s->still_us =
        MIN(MAX(s->still_us, now) + (gint64)(MAX(0, seconds) * 1e6), now + (gint64)(most * 1e6));
}

/* A board that takes its time over the line that homes answers after homing; otherwise it may
 * only have queued it. */
static double homing_left_s(const DtSession *s)
{
    static const double at_once_s = 0.5;
    const double took = (double)(g_get_monotonic_time() - s->answered_us) / 1e6;
    return took > at_once_s ? 0 : dt_machine_home_s(s->profile);
}

static void tell_progress(DtSession *s)
{
    dt_session_publish(s);
    if (g_get_monotonic_time() - s->last_event_us >= TELL_EVERY_US)
        dt_session_tell(s, DT_EVENT_PROGRESS, NULL);
}

static void on_taken(const DtSent *line, void *user)
{
    DtSession *s = user;
    predict_standstill(s, line->kind == DT_LINE_HOME ? homing_left_s(s)
                          : line->number > 0         ? line->after.seconds - s->taken.seconds
                                                     : line->seconds);
    s->taken = line->after;
    if (line->kind == DT_LINE_HOME)
        s->homed = TRUE;
    if (s->run != NULL && line->number > 0)
        dt_run_taken(s->run, line);
    s->answered_us = g_get_monotonic_time();
    tell_progress(s);
}

static void on_refused(const DtSent *line, const char *reason, void *user)
{
    DtSession *s = user;
    if (s->expects_refusals)
        return; /* of what was dropped */
    if (line == NULL) {
        dt_session_trouble(s, TROUBLE_REFUSED, "the controller refuses: %s", reason);
        return;
    }
    g_autofree char *text = g_strndup(line->text, line->len - 1);
    if (s->run != NULL && line->number > 0)
        dt_session_trouble(s, TROUBLE_REFUSED, "%s:%zu: the controller refuses '%s': %s",
                           s->run->program_path, line->number, text, reason);
    else
        dt_session_trouble(s, TROUBLE_REFUSED, "the controller refuses '%s': %s", text, reason);
}

static void on_greeting(const char *text, void *user)
{
    DtSession *s = user;
    if (!s->expects_greeting)
        dt_session_trouble(s, TROUBLE_RESET, "the board restarted (%s)", text);
    s->greeted = TRUE;
}

/* A board that has accepted no line since then was reset; on the others a switch was hit. */
static void tell_lost_position(DtSession *s, const DtBoardState *state)
{
    if (state->line == 0)
        dt_session_trouble(s, TROUBLE_RESET, "the board restarted");
    else
        dt_session_trouble(s, TROUBLE_SWITCH, "the %s ran into its end switch",
                           state->at_switch[0]   ? _("X axis")
                           : state->at_switch[1] ? _("Y axis")
                                                 : _("machine"));
}

gboolean dt_session_can_ask(const DtSession *s)
{
    return *s->profile->dialect.ask_state != '\0' && !s->reports_no_position;
}

gboolean dt_session_stands_at(const DtSession *s, DtPoint to)
{
    return fabs(s->state.x - to.x) <= 0.01 + 1 / s->profile->steps_per_mm[0] &&
           fabs(s->state.y - to.y) <= 0.01 + 1 / s->profile->steps_per_mm[1];
}

/* Whether lines that the board had accepted were dropped: it counts from the start again. Since
 * it accepts lines only in order, nothing else proves that; a pen that is up where it should be
 * down was lifted by a board that received nothing for a while, and that lowers it again. */
static gboolean lost_lines(const DtSession *s, const DtBoardState *state)
{
    return dt_traffic_count_is_lost(s->traffic, state) || /* even in the first homing */
           (s->homed && state->line == 0 && s->profile->dialect.line_check);
}

/* Noise can look like a byte that acts at once: nobody requested this hold. */
static void let_go_on(DtSession *s, const DtBoardState *state)
{
    const gboolean stays = (state->word == DT_BOARD_HELD && !s->expects_hold) ||
                           (state->word == DT_BOARD_STOPPED && !s->expects_stop);
    s->stays = stays ? s->stays + 1 : 0;
    if (s->stays > GO_ON_TRIES)
        dt_session_trouble(
            s, TROUBLE_REFUSED,
            "the board stays stopped when the profile's 'go_on' is sent; 'drawtrue learn' "
            "finds out how this controller goes on");
    else if (stays)
        dt_traffic_urgent(s->traffic, s->profile->dialect.go_on);
}

static void on_state(const DtBoardState *state, void *user)
{
    DtSession *s = user;
    s->heard_state = TRUE;
    s->state = *state;
    if (s->lifts_at_last)
        let_go_on(s, state);
    if (s->expects_greeting)
        return;
    if (state->word == DT_BOARD_UNHOMED && s->homed) {
        tell_lost_position(s, state);
        return;
    }
    if (lost_lines(s, state))
        dt_session_trouble(s, TROUBLE_ABANDONED,
                           "the board has dropped its lines: it stands at X %.3f Y %.3f mm, the "
                           "pen %s",
                           state->x, state->y, state->pen_down ? _("down") : _("up"));
    let_go_on(s, state);
}

static void on_disagreed(unsigned wanted, void *user)
{
    DtSession *s = user;
    s->wanted = wanted;
    if (wanted == 0)
        dt_session_trouble(s, TROUBLE_ABANDONED,
                           "the board has stopped, but not where the lines sent to it end");
    dt_session_trouble(s, TROUBLE_ABANDONED,
                       "the board asks again for line %u, which it had accepted", wanted);
}

static void on_repeated(const DtSent *from, void *user)
{
    dt_session_tell_repeated(user, from->number);
}

static void on_other(const char *text, void *user)
{
    dt_settings_note(((DtSession *)user)->settings, text);
}

const DtTrafficEvents dt_session_traffic_events = {
    .other = on_other,
    .taken = on_taken,
    .refused = on_refused,
    .greeting = on_greeting,
    .state = on_state,
    .disagreed = on_disagreed,
    .repeated = on_repeated,
};

/* The loop ------------------------------------------------------------------------------------ */

static void write_output(DtSession *s)
{
    gsize n;
    g_autoptr(GError) error = NULL;
    const char *bytes = dt_traffic_output(s->traffic, &n);
    if (n == 0)
        return;
    gssize done = dt_port_write(s->port, bytes, n, &error);
    if (done < 0)
        dt_session_trouble(s, TROUBLE_UNPLUGGED, "%s", error->message);
    else
        dt_traffic_written(s->traffic, (gsize)done);
}

static void read_input(DtSession *s)
{
    char bytes[1024];
    g_autoptr(GError) error = NULL;
    gssize n = dt_port_read(s->port, bytes, sizeof bytes, &error);
    if (n < 0)
        dt_session_trouble(s, TROUBLE_UNPLUGGED, "%s", error->message);
    else if (n > 0)
        dt_traffic_feed(s->traffic, bytes, (gsize)n, g_get_monotonic_time());
}

static gint64 silent_at(const DtSession *s)
{
    const DtDialect *d = &s->profile->dialect;
    if (!dt_traffic_waits(s->traffic))
        return G_MAXINT64;
    const double patience = d->reply_timeout_s + dt_traffic_work_s(s->traffic);
    gint64 from = dt_traffic_alive_us(s->traffic);
    if (*d->ask_state == '\0')
        from = MAX(from, s->still_us);
    return from + (gint64)(patience * 1e6);
}

static void wait_for_bytes(DtSession *s, gint64 until_us)
{
    gsize pending;
    dt_traffic_output(s->traffic, &pending);
    struct pollfd fds[2] = {
        {s->port ? dt_port_fd(s->port) : -1, (short)(POLLIN | (pending ? POLLOUT : 0)), 0},
        {s->wake, POLLIN, 0},
    };
    gint64 wait_us = CLAMP(until_us - g_get_monotonic_time(), 0, G_USEC_PER_SEC);
    if (poll(fds, 2, (int)((wait_us + 999) / 1000)) < 0 && errno != EINTR)
        dt_session_trouble(s, TROUBLE_UNPLUGGED, "poll: %s", g_strerror(errno));
    uint64_t count;
    if ((fds[1].revents & POLLIN) && read(s->wake, &count, sizeof count) < 0)
        return; /* another wake-up has emptied it */
}

static void tell_silence(DtSession *s)
{
    const char *unknown = dt_traffic_unknown_reply(s->traffic);
    const double wait_s = s->profile->dialect.reply_timeout_s;
    if (*unknown != '\0')
        dt_session_trouble(s, TROUBLE_REFUSED,
                           "the controller has not answered for %g s but said '%s', which the "
                           "profile does not have",
                           wait_s, unknown);
    else
        dt_session_trouble(s, TROUBLE_SILENT, "the controller has not answered for %g s", wait_s);
}

gboolean dt_session_pump(DtSession *s, gint64 until_us)
{
    if (s->trouble != TROUBLE_NONE)
        return FALSE;
    if (s->port == NULL) {
        wait_for_bytes(s, until_us);
        return TRUE;
    }
    write_output(s);
    if (s->trouble == TROUBLE_NONE) {
        gint64 tick_us = dt_traffic_tick(s->traffic, g_get_monotonic_time());
        write_output(s);
        wait_for_bytes(s, MIN(until_us, MIN(tick_us, silent_at(s))));
        read_input(s);
    }
    if (g_get_monotonic_time() >= silent_at(s))
        tell_silence(s);
    if (dt_session_wants(s, WANTS(STOP)))
        dt_session_trouble(s, TROUBLE_STOPPED, "stopped by hand");
    return s->trouble == TROUBLE_NONE;
}

gboolean dt_session_settle(DtSession *s)
{
    while (dt_traffic_in_flight(s->traffic) > 0)
        if (!dt_session_pump(s, G_MAXINT64))
            return FALSE;
    return s->trouble == TROUBLE_NONE;
}

double dt_session_home_limit_s(const DtProfile *p)
{
    double seconds = 0; /* slower than usual, and slower still at the switches */
    for (int i = 0; i < 2; i++)
        seconds += 10 + 3 * p->travel[i] / p->speed[i];
    return seconds;
}

gboolean dt_session_command(DtSession *s, const char *text, DtLineKind kind, double work_s)
{
    if (*text == '\0')
        return s->trouble == TROUBLE_NONE;
    while (!dt_traffic_has_room(s->traffic, text))
        if (!dt_session_pump(s, G_MAXINT64))
            return FALSE;
    if (kind == DT_LINE_PEN_DOWN || kind == DT_LINE_PEN_UP)
        s->sent.pen_down = kind == DT_LINE_PEN_DOWN;
    DtSent line = {.kind = kind, .after = s->sent, .seconds = work_s};
    g_strlcpy(line.text, text, sizeof line.text);
    dt_traffic_push(s->traffic, &line, g_get_monotonic_time());
    return dt_session_settle(s);
}

gboolean dt_session_ask(DtSession *s, double patience_s)
{
    if (*s->profile->dialect.ask_state == '\0')
        return FALSE;
    s->heard_state = FALSE;
    const gint64 end = g_get_monotonic_time() + (gint64)(patience_s * 1e6);
    gint64 ask_us = 0;
    while (!s->heard_state && g_get_monotonic_time() < end) {
        if (g_get_monotonic_time() >= ask_us) {
            dt_traffic_urgent(s->traffic, s->profile->dialect.ask_state);
            ask_us = g_get_monotonic_time() + ASK_EVERY_US;
        }
        if (!dt_session_pump(s, MIN(ask_us, end)))
            return FALSE;
    }
    return s->heard_state;
}

gboolean dt_session_wait_s(DtSession *s, double seconds)
{
    const gint64 end = g_get_monotonic_time() + (gint64)(seconds * 1e6);
    while (g_get_monotonic_time() < end)
        if (!dt_session_pump(s, end))
            return FALSE;
    return s->trouble == TROUBLE_NONE;
}

/* A board that cannot be asked is given the predicted time of its work. */
static gboolean wait_for_standstill(DtSession *s)
{
    static const double margin_s = 0.3, margin = 0.05;
    const double left = (double)(s->still_us - g_get_monotonic_time()) / 1e6;
    return dt_session_wait_s(s, left > 0 ? left * (1 + margin) + margin_s : 0);
}

gboolean dt_session_stand_still(DtSession *s)
{
    const DtDialect *d = &s->profile->dialect;
    if (!dt_session_can_ask(s))
        return wait_for_standstill(s);
    for (;;) {
        if (!dt_session_ask(s, d->reply_timeout_s)) {
            dt_session_trouble(s, TROUBLE_SILENT, "the controller does not report its state");
            return FALSE;
        }
        if (s->state.word != DT_BOARD_MOVING && s->state.word != DT_BOARD_HOMING)
            return TRUE;
        if (!dt_session_wait_s(s, ASK_EVERY_US / 2e6))
            return FALSE;
    }
}

gboolean dt_session_wait_for(DtSession *s, guint requests)
{
    const gint64 start_us = g_get_monotonic_time();
    gboolean good = TRUE;
    while (good && !dt_session_wants(s, requests))
        good = dt_session_pump(s, G_MAXINT64);
    s->person_us += g_get_monotonic_time() - start_us;
    return good;
}

/* Opening ------------------------------------------------------------------------------------- */

static void set_no_answer(const DtSession *s, GError **error)
{
    size_t noise, all;
    dt_traffic_noise(s->traffic, &noise, &all);
    const DtDialect *d = &s->profile->dialect;
    if (all == 0)
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "%s: the controller has not answered for %g s; is it the right port, and is the "
            "board powered?",
            s->port_path, d->reply_timeout_s);
    else if (noise * 5 >= all)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: %zu of %zu bytes received at %d baud are not text; the controller runs at "
                    "another baud rate",
                    s->port_path, noise, all, d->baud);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: what answers is not the controller of the profile: it never said '%s'",
                    s->port_path, *d->greeting ? d->greeting : d->accept);
}

/* Waits until no more answers to earlier lines arrive. */
static gboolean hear_out(DtSession *s)
{
    static const double quiet_s = 0.25;
    const gint64 end = g_get_monotonic_time() + (gint64)(s->profile->dialect.reply_timeout_s * 1e6);
    size_t noise, before, heard = 0;
    do {
        before = heard;
        if (!dt_session_wait_s(s, quiet_s))
            return FALSE;
        dt_traffic_noise(s->traffic, &noise, &heard);
    } while (heard != before && g_get_monotonic_time() < end);
    return TRUE;
}

gboolean dt_session_quieten(DtSession *s)
{
    const DtDialect *d = &s->profile->dialect;
    if (*d->abandon != '\0')
        dt_traffic_urgent(s->traffic, d->abandon);
    /* Its earlier messages are still on their way. */
    s->expects_refusals = TRUE;
    const gboolean quiet = dt_session_can_ask(s)
                               ? dt_session_wait_s(s, 0.1) && dt_session_stand_still(s)
                               : hear_out(s);
    s->expects_refusals = FALSE;
    if (!quiet)
        return FALSE;
    if (!dt_session_ask(s, d->reply_timeout_s))
        return FALSE;
    dt_traffic_reset(s->traffic, s->state.line % 99999 + 1);
    return TRUE;
}

static gboolean await_board(DtSession *s)
{
    const DtDialect *d = &s->profile->dialect;
    const gint64 start = g_get_monotonic_time();
    const gint64 end = start + (gint64)(d->reply_timeout_s * 1e6);
    gint64 ask_us = start + MIN(FIRST_ASK_US, (end - start) / 2);
    if (*d->greeting == '\0')
        return dt_session_wait_s(s, 0.5);
    while (!s->greeted && g_get_monotonic_time() < end) {
        if (*d->ask_state != '\0' && g_get_monotonic_time() >= ask_us) {
            dt_traffic_urgent(s->traffic, d->ask_state);
            ask_us = g_get_monotonic_time() + ASK_EVERY_US;
        }
        if (!dt_session_pump(s, MIN(end, *d->ask_state ? ask_us : end)))
            return FALSE;
        if (s->heard_state)
            return dt_session_quieten(s);
    }
    return s->greeted;
}

gboolean dt_session_connect(DtSession *s, GError **error)
{
    if (s->port != NULL)
        dt_port_release(s->port);
    DtPort *port = dt_port_open(s->port_path, s->profile->dialect.baud, error);
    if (port == NULL)
        return FALSE;
    dt_port_close(s->port);
    s->port = port;
    dt_traffic_reset(s->traffic, 1);
    s->greeted = s->heard_state = FALSE;
    s->expects_greeting = TRUE;
    s->homed = s->at_home = s->reports_no_position = FALSE;
    s->still_us = 0;
    if (s->snapshot.state != DT_STATE_RECOVERING) /* only this thread changes it */
        dt_session_enter(s, DT_STATE_OPENING, s->port_path);
    gboolean ready = await_board(s);
    s->expects_greeting = FALSE;
    if (ready)
        return TRUE;
    if (s->trouble == TROUBLE_NONE || s->trouble == TROUBLE_SILENT)
        set_no_answer(s, error);
    else if (s->trouble == TROUBLE_STOPPED)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED, "%s", s->trouble_text);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s", s->trouble_text);
    return FALSE;
}

void dt_session_close(DtSession *s)
{
    dt_port_close(s->port);
    s->port = NULL;
    s->homed = s->at_home = FALSE;
    s->trouble = TROUBLE_NONE;
    dt_traffic_reset(s->traffic, 1);
}
