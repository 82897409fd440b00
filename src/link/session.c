/* session: between the poll loop, the traffic and the person. */
#include "link/runner.h"

#include <errno.h>
#include <math.h>
#include <gio/gio.h>
#include <poll.h>
#include <stdint.h>
#include <string.h>
#include <unistd.h>

enum {
    FIRST_ASK_US = 2000000, /* a board that starts up may take bytes for something else */
    ASK_EVERY_US = 250000,
    TELL_EVERY_US = 100000,
};

void dt_runner_trouble(DtRunner *r, Trouble t, const char *format, ...)
{
    if (r->trouble != TROUBLE_NONE)
        return; /* the first one is the cause */
    va_list list;
    va_start(list, format);
    g_free(r->trouble_text);
    r->trouble_text = g_strdup_vprintf(format, list);
    va_end(list);
    r->trouble = t;
}

/* Events -------------------------------------------------------------------------------------- */

static int find_pen(const DtRunner *r, const char *name)
{
    for (size_t i = 0; i < r->profile->rack.n; i++)
        if (g_strcmp0(r->profile->rack.pens[i].name, name) == 0)
            return (int)i;
    return -1;
}

void dt_runner_tell(DtRunner *r, DtRunEventKind kind, const char *text)
{
    if (r->options.listener == NULL)
        return;
    const char *pen = kind == DT_RUN_PEN_CHANGE ? r->before.pen : r->acked.pen;
    const double all = MAX(r->totals.seconds, 1e-9);
    const DtRunEvent e = {
        .kind = kind,
        .done = kind == DT_RUN_DONE ? 1 : MIN(1, r->acked.seconds / all),
        .left_s = kind == DT_RUN_DONE
                      ? 0
                      : MAX(0, all - r->acked.seconds) * r->pace + (r->acked.homed ? 0 : r->home_s),
        .ink_mm = r->acked.ink_mm,
        .travel_mm = r->acked.travel_mm,
        .pen = find_pen(r, pen),
        .pen_name = pen,
        .line = r->acked_line,
        .stroke = r->drawn,
        .strokes = r->totals.strokes,
        .text = text,
    };
    r->told_us = g_get_monotonic_time();
    r->options.listener(&e, r->options.user);
}

static void tell_progress(DtRunner *r)
{
    if (g_get_monotonic_time() - r->told_us >= TELL_EVERY_US)
        dt_runner_tell(r, DT_RUN_PROGRESS, NULL);
}

gboolean dt_runner_take_wish(DtRunner *r, int wish)
{
    return (g_atomic_int_and((guint *)&r->wishes, (guint)~wish) & (guint)wish) != 0;
}

/* What the traffic tells -------------------------------------------------------------------- */

void dt_runner_journal_stroke(DtRunner *r, const DtProgramState *t)
{
    const DtJournalStroke s = {
        .stroke = t->drawn,
        .line = r->acked_line,
        .pen = t->pen,
        .ink_mm = t->ink_mm - r->drawn_state.ink_mm,
        .travel_mm = t->travel_mm - r->drawn_state.travel_mm,
        .time_s = r->earlier_s + (double)(g_get_monotonic_time() - r->start_us) / 1e6,
    };
    g_autoptr(GError) error = NULL;
    if (!dt_journal_stroke(r->journal, r->id, &s, &error)) {
        dt_runner_trouble(r, TROUBLE_JOURNAL, "%s", error->message);
        if (r->failure == NULL)
            r->failure = g_steal_pointer(&error);
        return;
    }
    r->drawn = t->drawn;
    r->drawn_state = *t;
    r->recoveries = 0;
}

/* A board takes the line that homes when it has homed. */
static void journal_homing(DtRunner *r)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];
    g_ascii_formatd(text, sizeof text, "%.2f",
                    (double)(g_get_monotonic_time() - r->answered_us) / 1e6);
    dt_journal_event(r->journal, r->id, "homed", text, NULL);
}

static void on_taken(const DtSent *s, void *user)
{
    DtRunner *r = user;
    if (s->kind == DT_LINE_HOME && s->number > 0)
        journal_homing(r);
    r->answered_us = g_get_monotonic_time();
    r->recent_s[r->recent++ % PLANNED] = s->seconds;
    if (s->kind == DT_LINE_HOME)
        r->homed = TRUE;
    if (s->kind == DT_LINE_PEN_UP) /* is it where the stroke ends? see is_astray() */
        dt_traffic_urgent(r->traffic, r->profile->dialect.ask_state);
    if (s->number == 0)
        return; /* one of our own */
    r->acked = s->after;
    r->acked_line = s->number;
    if (s->settled && s->after.drawn > r->drawn && !dt_runner_proves_strokes(r))
        dt_runner_journal_stroke(r, &s->after);
    tell_progress(r);
}

static void on_refused(const DtSent *s, const char *reason, void *user)
{
    DtRunner *r = user;
    if (r->expects_refusals)
        return; /* of what was dropped */
    if (s == NULL) {
        dt_runner_trouble(r, TROUBLE_REFUSED, "the controller refuses: %s", reason);
        return;
    }
    g_autofree char *text = g_strndup(s->text, s->len - 1);
    if (s->number > 0)
        dt_runner_trouble(r, TROUBLE_REFUSED, "%s:%zu: the controller refuses '%s': %s",
                          r->program_path, s->number, text, reason);
    else
        dt_runner_trouble(r, TROUBLE_REFUSED, "the controller refuses '%s': %s", text, reason);
}

static void on_greeting(const char *text, void *user)
{
    DtRunner *r = user;
    if (!r->expects_greeting)
        dt_runner_trouble(r, TROUBLE_RESET, "the board started anew in mid-run ('%s')", text);
    r->greeted = TRUE;
}

/* A board that has taken no line since is one that was reset; the others' switches were hit. */
static void tell_lost_position(DtRunner *r, const DtBoardState *s)
{
    if (s->line == 0)
        dt_runner_trouble(r, TROUBLE_RESET, "the board started anew in mid-run");
    else
        dt_runner_trouble(r, TROUBLE_SWITCH, "the %s ran into its end switch",
                          s->at_switch[0]   ? "X axis"
                          : s->at_switch[1] ? "Y axis"
                                            : "machine");
}

gboolean dt_runner_proves_strokes(const DtRunner *r)
{
    const DtDialect *d = &r->profile->dialect;
    return !d->line_check && *d->ask_state != '\0' && !r->tells_nothing;
}

/* Within a step, by the last state heard. */
gboolean dt_runner_stands_at(const DtRunner *r, DtPoint to)
{
    return fabs(r->state.x - to.x) <= 0.01 + 1 / r->profile->steps_per_mm[0] &&
           fabs(r->state.y - to.y) <= 0.01 + 1 / r->profile->steps_per_mm[1];
}

/* Where lines that the board had taken were dropped: it counts from the start again, or certainly
 * stands at the end of the line taken last, but not at its place or with the pen the other way. A
 * pen-up line is taken only when all motion has ended, and what follows it is a dwell. */
static gboolean is_astray(const DtRunner *r, const DtBoardState *s)
{
    if (dt_traffic_count_is_lost(r->traffic, s))
        return TRUE; /* even in the first homing */
    if (!r->homed)
        return FALSE;
    if (s->line == 0 && r->profile->dialect.line_check)
        return TRUE;
    const DtSent *last = dt_traffic_find(r->traffic, s->line);
    if (last == NULL || !s->has_position)
        return FALSE;
    if (s->word != DT_BOARD_STILL && last->kind != DT_LINE_PEN_UP)
        return FALSE;
    return !dt_runner_stands_at(r, last->after.at) ||
           (s->pen_known && s->pen_down != last->after.pen_down);
}

static void on_state(const DtBoardState *s, void *user)
{
    DtRunner *r = user;
    r->heard_state = TRUE;
    r->state = *s;
    const DtDialect *d = &r->profile->dialect;
    if (r->expects_greeting)
        return;
    if (s->word == DT_BOARD_UNHOMED && r->homed) {
        tell_lost_position(r, s);
        return;
    }
    if (is_astray(r, s))
        dt_runner_trouble(r, TROUBLE_ABANDONED,
                          "the board has dropped its lines: it stands at X %.3f Y %.3f mm, the pen "
                          "%s",
                          s->x, s->y, s->pen_down ? "down" : "up");
    /* Noise can look like a byte that acts at once: nobody asked for this hold. */
    if ((s->word == DT_BOARD_HELD && !r->expects_hold) ||
        (s->word == DT_BOARD_STOPPED && !r->expects_stop))
        dt_traffic_urgent(r->traffic, d->go_on);
}

static void on_disagreed(unsigned wanted, void *user)
{
    DtRunner *r = user;
    r->wanted = wanted;
    if (wanted == 0)
        dt_runner_trouble(r, TROUBLE_ABANDONED,
                          "the board stands, and not where the lines end that it was sent");
    dt_runner_trouble(r, TROUBLE_ABANDONED, "the board wants line %u once more that it had taken",
                      wanted);
}

static void on_repeated(const DtSent *from, void *user)
{
    DtRunner *r = user;
    g_autofree char *text = g_strdup_printf("sent again from line %zu on", from->number);
    dt_runner_tell(r, DT_RUN_REPEATED, text);
}

const DtTrafficEvents dt_runner_traffic_events = {
    .taken = on_taken,
    .refused = on_refused,
    .greeting = on_greeting,
    .state = on_state,
    .disagreed = on_disagreed,
    .repeated = on_repeated,
};

/* The loop ------------------------------------------------------------------------------------ */

static void write_output(DtRunner *r)
{
    gsize n;
    g_autoptr(GError) error = NULL;
    const char *bytes = dt_traffic_output(r->traffic, &n);
    if (n == 0)
        return;
    gssize done = dt_port_write(r->port, bytes, n, &error);
    if (done < 0)
        dt_runner_trouble(r, TROUBLE_UNPLUGGED, "%s", error->message);
    else
        dt_traffic_written(r->traffic, (gsize)done);
}

static void read_input(DtRunner *r)
{
    char bytes[1024];
    g_autoptr(GError) error = NULL;
    gssize n = dt_port_read(r->port, bytes, sizeof bytes, &error);
    if (n < 0)
        dt_runner_trouble(r, TROUBLE_UNPLUGGED, "%s", error->message);
    else if (n > 0)
        dt_traffic_feed(r->traffic, bytes, (gsize)n, g_get_monotonic_time());
}

/* How long a board that cannot be asked may take over what it was sent. */
static double work_s(const DtRunner *r)
{
    double work = 0;
    for (size_t i = 0; i < PLANNED; i++)
        work += r->recent_s[i];
    return work;
}

static gint64 silent_at(const DtRunner *r)
{
    const DtDialect *d = &r->profile->dialect;
    if (dt_traffic_in_flight(r->traffic) == 0)
        return G_MAXINT64;
    double patience = d->reply_timeout_s + dt_traffic_work_s(r->traffic);
    if (*d->ask_state == '\0')
        patience += work_s(r);
    return dt_traffic_alive_us(r->traffic) + (gint64)(patience * 1e6);
}

static void wait_for_bytes(DtRunner *r, gint64 until_us)
{
    gsize pending;
    dt_traffic_output(r->traffic, &pending);
    struct pollfd fds[2] = {
        {dt_port_fd(r->port), (short)(POLLIN | (pending ? POLLOUT : 0)), 0},
        {r->wake, POLLIN, 0},
    };
    gint64 wait_us = CLAMP(until_us - g_get_monotonic_time(), 0, G_USEC_PER_SEC);
    if (poll(fds, 2, (int)((wait_us + 999) / 1000)) < 0 && errno != EINTR)
        dt_runner_trouble(r, TROUBLE_UNPLUGGED, "poll: %s", g_strerror(errno));
    uint64_t count;
    if ((fds[1].revents & POLLIN) && read(r->wake, &count, sizeof count) < 0)
        return; /* another wake-up has emptied it */
}

gboolean dt_runner_pump(DtRunner *r, gint64 until_us)
{
    if (r->trouble != TROUBLE_NONE)
        return FALSE;
    write_output(r);
    if (r->trouble == TROUBLE_NONE) {
        gint64 tick_us = dt_traffic_tick(r->traffic, g_get_monotonic_time());
        write_output(r);
        wait_for_bytes(r, MIN(until_us, MIN(tick_us, silent_at(r))));
        read_input(r);
    }
    if (g_get_monotonic_time() >= silent_at(r))
        dt_runner_trouble(r, TROUBLE_SILENT, "the controller has not answered for %g s",
                          r->profile->dialect.reply_timeout_s);
    if (g_atomic_int_get(&r->wishes) & WISH_STOP)
        dt_runner_trouble(r, TROUBLE_STOPPED, "stopped by hand");
    return r->trouble == TROUBLE_NONE;
}

gboolean dt_runner_settle(DtRunner *r)
{
    while (dt_traffic_in_flight(r->traffic) > 0)
        if (!dt_runner_pump(r, G_MAXINT64))
            return FALSE;
    return r->trouble == TROUBLE_NONE;
}

double dt_runner_home_s(const DtRunner *r)
{
    double s = 0; /* slower than usual, and slower still at the switches */
    for (int i = 0; i < 2; i++)
        s += 10 + 3 * r->profile->travel[i] / r->profile->speed[i];
    return s;
}

gboolean dt_runner_command(DtRunner *r, const char *text, DtLineKind kind)
{
    if (*text == '\0')
        return TRUE;
    while (!dt_traffic_has_room(r->traffic, text))
        if (!dt_runner_pump(r, G_MAXINT64))
            return FALSE;
    if (kind == DT_LINE_HOME)
        r->told.at = dt_point(0, 0);
    if (kind == DT_LINE_PEN_DOWN || kind == DT_LINE_PEN_UP)
        r->told.pen_down = kind == DT_LINE_PEN_DOWN;
    DtSent s = {.kind = kind, .after = r->told};
    g_strlcpy(s.text, text, sizeof s.text);
    if (kind == DT_LINE_HOME)
        s.seconds = dt_runner_home_s(r);
    dt_traffic_push(r->traffic, &s, g_get_monotonic_time());
    return dt_runner_settle(r);
}

gboolean dt_runner_ask(DtRunner *r, double patience_s)
{
    if (*r->profile->dialect.ask_state == '\0')
        return FALSE;
    r->heard_state = FALSE;
    const gint64 end = g_get_monotonic_time() + (gint64)(patience_s * 1e6);
    gint64 ask_us = 0;
    while (!r->heard_state && g_get_monotonic_time() < end) {
        if (g_get_monotonic_time() >= ask_us) {
            dt_traffic_urgent(r->traffic, r->profile->dialect.ask_state);
            ask_us = g_get_monotonic_time() + ASK_EVERY_US;
        }
        if (!dt_runner_pump(r, MIN(ask_us, end)))
            return FALSE;
    }
    return r->heard_state;
}

gboolean dt_runner_stand_still(DtRunner *r)
{
    const DtDialect *d = &r->profile->dialect;
    if (*d->ask_state == '\0' || r->tells_nothing) {
        gint64 end = g_get_monotonic_time() + (gint64)(work_s(r) * 1e6);
        while (g_get_monotonic_time() < end)
            if (!dt_runner_pump(r, end))
                return FALSE;
        return TRUE;
    }
    for (;;) {
        if (!dt_runner_ask(r, d->reply_timeout_s)) {
            dt_runner_trouble(r, TROUBLE_SILENT, "the controller does not tell its state");
            return FALSE;
        }
        if (r->state.word != DT_BOARD_MOVING && r->state.word != DT_BOARD_HOMING)
            return TRUE;
        gint64 again = g_get_monotonic_time() + ASK_EVERY_US / 2;
        while (g_get_monotonic_time() < again)
            if (!dt_runner_pump(r, again))
                return FALSE;
    }
}

gboolean dt_runner_send_stop(DtRunner *r)
{
    r->expects_stop = TRUE;
    r->told = *dt_program_state(r->program);
    DtSent s = {.number = r->line.number, .kind = DT_LINE_STOP, .settled = TRUE, .after = r->told};
    g_strlcpy(s.text, r->line.text, sizeof s.text);
    dt_traffic_push(r->traffic, &s, g_get_monotonic_time());
    r->heard_state = FALSE;
    while (dt_traffic_in_flight(r->traffic) > 0) {
        if (r->heard_state && r->state.word == DT_BOARD_STOPPED)
            break; /* it answers when it is let go on */
        if (!dt_runner_pump(r, G_MAXINT64))
            return FALSE;
    }
    return r->trouble == TROUBLE_NONE;
}

gboolean dt_runner_end_stop(DtRunner *r)
{
    r->expects_stop = FALSE;
    dt_traffic_urgent(r->traffic, r->profile->dialect.go_on);
    return dt_runner_settle(r);
}

gboolean dt_runner_wait_for(DtRunner *r, int wishes)
{
    const gint64 start_us = g_get_monotonic_time();
    gboolean good = TRUE;
    while (good && !(g_atomic_int_get(&r->wishes) & wishes))
        good = dt_runner_pump(r, G_MAXINT64);
    r->start_us += g_get_monotonic_time() - start_us; /* a person's time is not the machine's */
    return good;
}

/* Opening ------------------------------------------------------------------------------------- */

static void set_no_answer(const DtRunner *r, GError **error)
{
    size_t noise, all;
    dt_traffic_noise(r->traffic, &noise, &all);
    const DtDialect *d = &r->profile->dialect;
    if (all == 0)
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "%s: the controller has not answered for %g s; is it the right port, and is the "
            "board powered?",
            r->port_path, d->reply_timeout_s);
    else if (noise * 5 >= all)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: %zu of %zu bytes received at %d baud are not text; the controller runs at "
                    "another baud rate",
                    r->port_path, noise, all, d->baud);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: what answers is not the controller of the profile: it never said '%s'",
                    r->port_path, *d->greeting ? d->greeting : d->accept);
}

/* Silence after opening ends the board's start-up. */
static gboolean wait_out(DtRunner *r, double seconds)
{
    const gint64 end = g_get_monotonic_time() + (gint64)(seconds * 1e6);
    while (g_get_monotonic_time() < end)
        if (!dt_runner_pump(r, end))
            return FALSE;
    return TRUE;
}

/* Whatever the board still has of a program is dropped, and both sides count lines alike again. */
static gboolean quieten(DtRunner *r)
{
    const DtDialect *d = &r->profile->dialect;
    if (*d->abandon != '\0')
        dt_traffic_urgent(r->traffic, d->abandon);
    /* What it said before that is still on its way. */
    r->expects_refusals = TRUE;
    const gboolean quiet = wait_out(r, 0.1) && dt_runner_stand_still(r);
    r->expects_refusals = FALSE;
    if (!quiet)
        return FALSE;
    if (!dt_runner_ask(r, d->reply_timeout_s))
        return FALSE;
    dt_traffic_reset(r->traffic, r->state.line % 99999 + 1);
    return TRUE;
}

static gboolean await_board(DtRunner *r)
{
    const DtDialect *d = &r->profile->dialect;
    const gint64 start = g_get_monotonic_time();
    const gint64 end = start + (gint64)(d->reply_timeout_s * 1e6);
    gint64 ask_us = start + MIN(FIRST_ASK_US, (end - start) / 2);
    if (*d->greeting == '\0')
        return wait_out(r, 0.5);
    while (!r->greeted && g_get_monotonic_time() < end) {
        if (*d->ask_state != '\0' && g_get_monotonic_time() >= ask_us) {
            dt_traffic_urgent(r->traffic, d->ask_state);
            ask_us = g_get_monotonic_time() + ASK_EVERY_US;
        }
        if (!dt_runner_pump(r, MIN(end, *d->ask_state ? ask_us : end)))
            return FALSE;
        if (r->heard_state)
            return quieten(r);
    }
    return r->greeted;
}

gboolean dt_runner_connect(DtRunner *r, GError **error)
{
    if (r->port != NULL)
        dt_port_release(r->port);
    DtPort *port = dt_port_open(r->port_path, r->profile->dialect.baud, error);
    if (port == NULL)
        return FALSE;
    dt_port_close(r->port);
    r->port = port;
    dt_traffic_reset(r->traffic, 1);
    r->greeted = r->heard_state = FALSE;
    r->expects_greeting = TRUE;
    g_autofree char *text = g_strdup_printf("waiting for the controller at %s", r->port_path);
    dt_runner_tell(r, DT_RUN_WAITING, text);
    gboolean ready = await_board(r);
    r->expects_greeting = FALSE;
    if (ready)
        return TRUE;
    if (r->trouble == TROUBLE_NONE || r->trouble == TROUBLE_SILENT)
        set_no_answer(r, error);
    else if (r->trouble == TROUBLE_STOPPED)
        g_set_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED, "%s", r->trouble_text);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s", r->trouble_text);
    return FALSE;
}

/* Where the carriage rests after a run; a board that does not want to is left where it is. */
static void park(DtRunner *r)
{
    const DtPoint at = r->profile->park;
    if (dt_runner_lift(r))
        dt_runner_go_to(r, at);
}

gboolean dt_runner_lift_at_last(DtRunner *r, gboolean parks)
{
    if (r->port == NULL || dt_port_fd(r->port) < 0 || r->trouble == TROUBLE_UNPLUGGED)
        return FALSE;
    const DtDialect *d = &r->profile->dialect;
    g_atomic_int_set(&r->wishes, 0);
    r->trouble = TROUBLE_NONE;
    r->expects_greeting = TRUE; /* whatever it says now is no further trouble */
    dt_traffic_reset(r->traffic, 1);
    if (*d->abandon != '\0')
        quieten(r);
    if (r->trouble != TROUBLE_NONE || !dt_runner_command(r, d->pen_up, DT_LINE_PEN_UP))
        return FALSE;
    if (parks && r->homed)
        park(r);
    if (*d->program_end != '\0')
        dt_runner_command(r, d->program_end, DT_LINE_OTHER); /* which lets the motors go */
    return TRUE;
}
