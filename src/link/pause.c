/* pause: where the run waits for a person: to change a pen, to look at the sheet. */
#include "link/run.h"

#include "drawtrue/code.h"

#include <string.h>

/* Sends the program's stop (M0) and waits until the board has stopped there. */
static gboolean send_stop(DtRun *r)
{
    DtSession *s = r->session;
    s->expects_stop = TRUE;
    s->sent = *dt_program_state(r->program);
    DtSent line = {
        .number = r->line.number, .kind = DT_LINE_STOP, .settled = TRUE, .after = s->sent};
    g_strlcpy(line.text, r->line.text, sizeof line.text);
    dt_traffic_push(s->traffic, &line, g_get_monotonic_time());
    s->heard_state = FALSE;
    while (dt_traffic_in_flight(s->traffic) > 0) {
        if (s->heard_state && s->state.word == DT_BOARD_STOPPED)
            break; /* it answers when it is continued */
        if (!dt_session_pump(s, G_MAXINT64))
            return FALSE;
    }
    return s->trouble == TROUBLE_NONE;
}

static gboolean end_stop(DtSession *s)
{
    s->expects_stop = FALSE;
    dt_traffic_urgent(s->traffic, s->profile->dialect.go_on);
    return dt_session_settle(s);
}

/* A board that cannot report its state cannot say that it has stopped, and may answer only after
 * it is continued: it is not sent the stop, and simply gets no lines. */
static gboolean can_be_stopped(const DtRun *r)
{
    const DtSession *s = r->session;
    return *s->profile->dialect.go_on != '\0' && dt_session_can_ask(s) &&
           dt_program_knows(r->program, "M0");
}

/* The paper cannot have been turned in advance, as a pen may have been inserted. */
static gboolean wait_for_turn(DtRun *r)
{
    DtSession *s = r->session;
    dt_session_enter(
        s, DT_STATE_PEN_CHANGE,
        _("turn it a quarter turn counter-clockwise, and lay its lower left corner where that "
          "was before"));
    const gboolean good = dt_session_wait_for(s, WANTS(GO_ON));
    if (good)
        dt_session_enter(s, DT_STATE_DRAWING, NULL);
    return good;
}

static gboolean wait_for_pen(DtRun *r)
{
    DtSession *s = r->session;
    if (r->before.turns_paper)
        return wait_for_turn(r);
    if (!dt_session_take(s, WANTS(PAUSE_AT_CHANGE)) && r->options.pens_ready) {
        r->next_pen = r->before.pen;
        dt_session_tell(s, DT_EVENT_PEN_CHANGE, NULL);
        r->next_pen = NULL;
        return TRUE;
    }
    r->next_pen = r->before.pen;
    dt_session_enter(s, DT_STATE_PEN_CHANGE, NULL);
    const gboolean good = dt_session_wait_for(s, WANTS(GO_ON));
    r->next_pen = NULL;
    if (good)
        dt_session_enter(s, DT_STATE_DRAWING, NULL);
    return good;
}

gboolean dt_run_name_pen(DtRun *r, const char *pen)
{
    DtSession *s = r->session;
    g_autofree char *text = g_strdup_printf("(pen %s)", pen);
    const int longest = s->profile->dialect.longest_line;
    if (*pen == '\0' || !dt_code_takes(s->profile, "(") ||
        (longest > 0 && strlen(text) > (gsize)longest))
        return TRUE;
    return dt_session_command(s, text, DT_LINE_OTHER, 0);
}

/* The current line needs a person: everything is answered and the machine stands still. */
void dt_run_change_pen(DtRun *r)
{
    DtSession *s = r->session;
    if (!dt_session_stand_still(s))
        return;
    const gboolean stops = can_be_stopped(r);
    if (((r->resumed || r->options.names_pens) && !dt_run_name_pen(r, r->before.pen)) ||
        (stops && !send_stop(r)))
        return;
    dt_journal_event(r->journal, r->id, "pen change", r->before.pen, NULL);
    if (!wait_for_pen(r) || (stops && !end_stop(s)))
        return;
    r->has_line = FALSE;
}

/* Out of the way, so that the sheet can be seen. */
static gboolean park(DtRun *r)
{
    DtSession *s = r->session;
    if (!dt_session_restate_modes(s, &r->before) || !dt_session_go_to(s, s->profile->park, 0) ||
        !dt_session_stand_still(s))
        return FALSE;
    dt_session_enter(s, DT_STATE_PARKED, NULL);
    return TRUE;
}

/* To the position of the program, each axis with the slack on the same side as before. */
static gboolean come_back(DtRun *r)
{
    DtSession *s = r->session;
    if (!dt_session_return_to(s, &r->before))
        return FALSE;
    r->needs_motion = r->needs_feed = TRUE;
    return !r->before.relative || dt_session_command(s, "G91", DT_LINE_OTHER, 0);
}

void dt_run_pause(DtRun *r)
{
    DtSession *s = r->session;
    if (!dt_session_stand_still(s))
        return;
    dt_session_take(s, WANTS(PAUSE_AT_LIFT));
    dt_journal_event(r->journal, r->id, "paused", "", NULL);
    gboolean parks = dt_session_take(s, WANTS(PARK)), parked = FALSE;
    if (!parks)
        dt_session_enter(s, DT_STATE_PAUSED, NULL);
    while (parks || !dt_session_take(s, WANTS(GO_ON))) {
        if (parks && !parked && !park(r))
            return;
        parked = parked || parks;
        if (!dt_session_wait_for(s, WANTS(GO_ON) | WANTS(PARK)))
            return;
        parks = dt_session_take(s, WANTS(PARK));
    }
    dt_session_take(s, WANTS(PAUSE_AT_LIFT));
    if (!parked || come_back(r))
        dt_session_enter(s, DT_STATE_DRAWING, NULL);
}

/* Waits until the board reports that it holds, if it can report. */
static gboolean await_hold(DtSession *s)
{
    static const double patience_s = 2, answer_s = 0.5;
    const gint64 end = g_get_monotonic_time() + (gint64)(patience_s * 1e6);
    while (dt_session_can_ask(s) && g_get_monotonic_time() < end) {
        if (dt_session_ask(s, answer_s) && s->state.word != DT_BOARD_MOVING)
            break;
        if (s->trouble != TROUBLE_NONE)
            return FALSE;
    }
    return TRUE;
}

/* The board decelerates along the line and lifts the pen while it is held; nothing is forgotten.
 * To park it first continues to the next lift. */
void dt_run_hold(DtRun *r)
{
    DtSession *s = r->session;
    dt_session_take(s, WANTS(PAUSE_NOW));
    dt_journal_event(r->journal, r->id, "held", "", NULL);
    s->expects_hold = TRUE;
    dt_traffic_urgent(s->traffic, s->profile->dialect.hold);
    gboolean good = await_hold(s);
    if (good) {
        dt_session_enter(s, DT_STATE_HELD, NULL);
        good = dt_session_wait_for(s, WANTS(GO_ON) | WANTS(PARK));
    }
    s->expects_hold = FALSE;
    if (!good)
        return;
    dt_traffic_urgent(s->traffic, s->profile->dialect.go_on);
    dt_session_enter(s, DT_STATE_DRAWING, NULL);
}
