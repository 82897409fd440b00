/* recover: from any state of the board to the place where drawing continues. */
#include "link/run.h"

#include <string.h>

enum {
    TRIES = 3,              /* recoveries in a row that got no further */
    LOOK_EVERY_US = 300000, /* for an unplugged port */
    CLOSED_US = 300000,     /* long enough for the board to see it */
    DEFAULT_REPLUG_S = 600,
};

static gboolean seek(DtRun *r, size_t drawn)
{
    DtSession *s = r->session;
    g_autoptr(GError) error = NULL;
    if (!dt_program_seek(r->program, drawn, &error)) {
        dt_session_trouble(s, TROUBLE_PROGRAM, "%s", error->message);
        return FALSE;
    }
    r->has_line = r->at_end = FALSE;
    r->before = r->acked = s->sent = r->drawn_state = *dt_program_state(r->program);
    r->drawn = r->proved = drawn;
    s->homed = FALSE;
    return TRUE;
}

gboolean dt_run_bring_up(DtRun *r, size_t drawn)
{
    DtSession *s = r->session;
    if (!seek(r, drawn))
        return FALSE;
    if (s->snapshot.state != DT_STATE_RECOVERING)
        dt_session_enter(s, DT_STATE_HOMING, NULL);
    if (!dt_session_move_pen(s, FALSE))
        return FALSE;
    if (drawn == 0 && r->totals.homes)
        return TRUE; /* the program does the rest itself, from its first line on */
    if (!dt_session_home(s) || !dt_session_restate_modes(s, &r->before))
        return FALSE;
    if (drawn > 0 && !dt_session_return_to(s, &r->before))
        return FALSE;
    if (r->before.relative && !dt_session_command(s, "G91", DT_LINE_OTHER, 0))
        return FALSE;
    r->needs_motion = r->needs_feed = TRUE;
    return TRUE;
}

/* After trouble ----------------------------------------------------------------------------- */

/* Opens the port that was found. It may take a moment until the system has set it up; `why`
 * keeps the obstacle. */
static gboolean open_found(DtRun *r, const char *found, GError **why)
{
    DtSession *s = r->session;
    const DtDialect *d = &s->profile->dialect;
    /* A board that greets nobody identifies itself by its state. */
    const gboolean asks = *d->greeting == '\0' && dt_session_can_ask(s);
    if (strcmp(found, s->port_path) != 0)
        dt_journal_port(r->journal, r->id, found, NULL);
    dt_session_set_port(s, found);
    s->trouble = TROUBLE_NONE;
    g_clear_error(why);
    return dt_session_connect(s, why) && (!asks || dt_session_ask(s, d->reply_timeout_s));
}

/* Says what a person can do, and ends the search. */
static gboolean give_up_port(DtRun *r, const GError *why)
{
    DtSession *s = r->session;
    s->trouble = TROUBLE_NONE;
    if (why != NULL)
        dt_session_trouble(s, TROUBLE_UNPLUGGED, "%s", why->message);
    else
        dt_session_trouble(s, TROUBLE_UNPLUGGED, "%s: the port has not come back", s->port_path);
    r->recoveries = TRIES;
    return FALSE;
}

static gboolean plug_in_again(DtRun *r)
{
    DtSession *s = r->session;
    const double patience = r->options.replug_s > 0 ? r->options.replug_s : DEFAULT_REPLUG_S;
    const gint64 end = g_get_monotonic_time() + (gint64)(patience * 1e6);
    g_autoptr(GError) why = NULL;
    dt_port_release(s->port);
    dt_session_enter(s, DT_STATE_UNPLUGGED, NULL);
    while (g_get_monotonic_time() < end) {
        if (dt_session_wants(s, WANTS(STOP))) {
            s->trouble = TROUBLE_NONE;
            dt_session_trouble(s, TROUBLE_STOPPED, "stopped by hand while the port was gone");
            return FALSE;
        }
        g_usleep(LOOK_EVERY_US);
        g_autofree char *found = dt_port_find_again(s->port);
        if (found == NULL)
            continue;
        if (open_found(r, found, &why))
            return TRUE;
        if (s->trouble == TROUBLE_STOPPED)
            return FALSE;
    }
    return give_up_port(r, why);
}

/* The board is present, but its pending work is lost. */
static gboolean meet_again(DtSession *s)
{
    s->trouble = TROUBLE_NONE;
    dt_traffic_reset(s->traffic, 1);
    if (s->wanted > 0)
        dt_traffic_reset(s->traffic, s->wanted);
    else if (dt_session_ask(s, s->profile->dialect.reply_timeout_s))
        dt_traffic_reset(s->traffic, s->state.line % LAST_NUMBER + 1);
    s->wanted = 0;
    return s->trouble == TROUBLE_NONE;
}

static gboolean can_recover(const DtSession *s)
{
    return s->trouble == TROUBLE_RESET || s->trouble == TROUBLE_UNPLUGGED ||
           s->trouble == TROUBLE_ABANDONED || s->trouble == TROUBLE_SILENT;
}

/* Reopening the port resets many boards, which lifts the pen (common practice, no source): the
 * only remaining way to help one that hangs. */
static gboolean open_again(DtRun *r)
{
    DtSession *s = r->session;
    g_autofree char *text = g_strdup(s->trouble_text);
    s->trouble = TROUBLE_NONE;
    dt_port_close(s->port);
    s->port = NULL;
    g_usleep(CLOSED_US);
    g_autoptr(GError) error = NULL;
    if (dt_session_connect(s, &error))
        return TRUE;
    if (s->trouble != TROUBLE_STOPPED) {
        s->trouble = TROUBLE_NONE;
        dt_session_trouble(s, TROUBLE_SILENT, "%s", text);
        r->recoveries = TRIES;
    }
    return FALSE;
}

static gboolean find_board(DtRun *r)
{
    switch (r->session->trouble) {
    case TROUBLE_UNPLUGGED:
        return plug_in_again(r);
    case TROUBLE_SILENT:
        return open_again(r);
    default:
        return meet_again(r->session);
    }
}

/* On a bad line a long stroke is interrupted many times, each time elsewhere. */
static void note_progress(DtRun *r)
{
    if (r->acked_line <= r->farthest_line)
        return;
    r->farthest_line = r->acked_line;
    r->recoveries = 0;
}

gboolean dt_run_recover(DtRun *r)
{
    DtSession *s = r->session;
    note_progress(r);
    g_autofree char *what = g_strdup(s->trouble_text);
    while (can_recover(s) && r->recoveries++ < TRIES) {
        const size_t drawn = r->drawn;
        dt_journal_event(r->journal, r->id, "recovering", s->trouble_journal, NULL);
        dt_session_enter(s, DT_STATE_RECOVERING, s->trouble_text);
        s->homed = FALSE;
        const gboolean met = find_board(r);
        if (!met && !can_recover(s))
            return FALSE;
        if (met && dt_run_bring_up(r, drawn)) {
            dt_session_tell(s, DT_EVENT_RECOVERED, what);
            dt_session_enter(s, DT_STATE_DRAWING, NULL);
            return TRUE;
        }
        r->drawn = drawn;
    }
    return FALSE;
}
