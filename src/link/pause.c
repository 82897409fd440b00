/* pause: where the run stands still for a person: a pen to change, a sheet to look at. */
#include "link/runner.h"

/* The line at hand asks for a person: all is answered and the machine stands. */
void dt_runner_change_pen(DtRunner *r)
{
    if (!dt_runner_stand_still(r))
        return;
    const gboolean told = *r->profile->dialect.go_on != '\0' && dt_program_knows(r->program, "M0");
    if (told && !dt_runner_send_stop(r))
        return;
    dt_runner_take_wish(r, WISH_GO_ON);
    dt_journal_event(r->journal, r->id, "pen change", r->before.pen, NULL);
    const gboolean waits = dt_runner_take_wish(r, WISH_PAUSE_AT_CHANGE) || !r->options.pens_ready;
    dt_runner_tell(r, DT_RUN_PEN_CHANGE, waits ? "put it in" : NULL);
    if (waits)
        dt_runner_wait_for(r, WISH_GO_ON);
    if (r->trouble != TROUBLE_NONE || (told && !dt_runner_end_stop(r)))
        return;
    r->has_line = FALSE;
}

/* Out of the way, so that the sheet can be seen. */
static gboolean park(DtRunner *r)
{
    if (!dt_runner_restate_modes(r, &r->before) || !dt_runner_go_to(r, r->profile->park) ||
        !dt_runner_stand_still(r))
        return FALSE;
    dt_runner_tell(r, DT_RUN_PAUSED, "parked with the pen up; it will return to the same point");
    return TRUE;
}

/* To where the program stands, each axis with the slack on the side on which it was. */
static gboolean come_back(DtRunner *r)
{
    if (!dt_runner_return_to(r, &r->before))
        return FALSE;
    r->needs_motion = r->needs_feed = TRUE;
    return !r->before.relative || dt_runner_command(r, "G91", DT_LINE_OTHER);
}

void dt_runner_pause(DtRunner *r)
{
    if (!dt_runner_stand_still(r))
        return;
    dt_runner_take_wish(r, WISH_PAUSE_AT_LIFT | WISH_GO_ON);
    dt_journal_event(r->journal, r->id, "paused", "", NULL);
    gboolean parks = dt_runner_take_wish(r, WISH_PARK), parked = FALSE;
    if (!parks)
        dt_runner_tell(r, DT_RUN_PAUSED, "with the pen up");
    while (parks || !dt_runner_take_wish(r, WISH_GO_ON)) {
        if (parks && !parked && !park(r))
            return;
        parked = parked || parks;
        if (!dt_runner_wait_for(r, WISH_GO_ON | WISH_PARK))
            return;
        parks = dt_runner_take_wish(r, WISH_PARK);
    }
    dt_runner_take_wish(r, WISH_PAUSE_AT_LIFT);
    if (parked)
        come_back(r);
}

/* The board slows down on the line and lifts the pen while it is held; nothing is forgotten. To
 * park it goes on to the next lift first. */
void dt_runner_hold(DtRunner *r)
{
    const DtDialect *d = &r->profile->dialect;
    dt_runner_take_wish(r, WISH_PAUSE_NOW | WISH_GO_ON);
    dt_journal_event(r->journal, r->id, "held", "", NULL);
    r->expects_hold = TRUE;
    dt_traffic_urgent(r->traffic, d->hold);
    dt_runner_tell(r, DT_RUN_PAUSED, "held where it is, the pen lifted");
    const gboolean good = dt_runner_wait_for(r, WISH_GO_ON | WISH_PARK);
    r->expects_hold = FALSE;
    if (good)
        dt_traffic_urgent(r->traffic, d->go_on);
}
