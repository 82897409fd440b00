/* positioning: lines of our own: lifting, homing, travel, and the way back to a position with
 * the slack of each axis on the same side as before. */
#include "link/session.h"

#include "drawtrue/code.h"

#include <math.h>

static const double clearance = 1; /* mm beyond the slack, so that it is certainly taken up */
static const double origin_tolerance = 0.01; /* mm */

static gboolean command_words(DtSession *s, DtLineKind kind, double work_s, const char *format, ...)
    G_GNUC_PRINTF(4, 5);

/* Words separated by blanks, which are left out if the controller does not need them. */
static gboolean command_words(DtSession *s, DtLineKind kind, double work_s, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *text = g_strdup_vprintf(format, list);
    va_end(list);
    if (!dt_dialect_needs_gaps(&s->profile->dialect)) {
        char *to = text;
        for (const char *c = text; *c != '\0'; c++)
            if (*c != ' ')
                *to++ = *c;
        *to = '\0';
    }
    return dt_session_command(s, text, kind, work_s);
}

gboolean dt_session_move_pen(DtSession *s, gboolean down)
{
    const DtProfile *p = s->profile;
    const double wait_s = down ? p->drop_s : p->lift_s;
    if (!dt_session_command(s, down ? p->dialect.pen_down : p->dialect.pen_up,
                            down ? DT_LINE_PEN_DOWN : DT_LINE_PEN_UP, 0))
        return FALSE;
    if (!dt_code_takes(p, "G4"))
        return dt_session_wait_s(s, wait_s);
    char dwell[G_ASCII_DTOSTR_BUF_SIZE];
    char format[8];
    const int decimals = CLAMP(p->dialect.decimals, 0, 3);
    g_snprintf(format, sizeof format, "%%.%df", decimals);
    const double fine = pow(10, decimals);
    g_ascii_formatd(dwell, sizeof dwell, format,
                    ceil(wait_s / dt_code_dwell_unit_s(p) * fine - 1e-6) /
                        fine); /* rather too long */
    return command_words(s, DT_LINE_DWELL, wait_s, "G4 P%s", dwell);
}

gboolean dt_session_home(DtSession *s)
{
    s->sent.at = s->sent.carriage = dt_point(0, 0);
    s->sent.side[0] = s->sent.side[1] = 1;
    s->sent.lean[0] = s->sent.lean[1] = 1;
    if (!dt_session_command(s, s->profile->dialect.home, DT_LINE_HOME,
                            dt_session_home_limit_s(s->profile)))
        return FALSE;
    s->homed = s->at_home = TRUE;
    if (!dt_session_ask(s, s->profile->dialect.reply_timeout_s))
        return s->trouble == TROUBLE_NONE; /* it has no way to tell */
    const DtBoardState *now = &s->state;
    if (now->at_switch[0] || now->at_switch[1])
        dt_session_trouble(s, TROUBLE_SWITCH,
                           "the %s end switch is still pressed after homing; is it stuck?",
                           now->at_switch[0] ? "X" : "Y");
    else if (now->word == DT_BOARD_UNHOMED || fabs(now->x) > origin_tolerance ||
             fabs(now->y) > origin_tolerance)
        dt_session_trouble(s, TROUBLE_SWITCH,
                           "homing ended at X %.3f Y %.3f mm and not at the origin", now->x,
                           now->y);
    return s->trouble == TROUBLE_NONE;
}

DtCarriage dt_session_carriage(const DtProfile *p, const DtProgramState *t)
{
    DtCarriage c;
    dt_carriage_init(&c, p);
    c.at = t->carriage;
    c.lean[0] = t->lean[0];
    c.lean[1] = t->lean[1];
    return c;
}

gboolean dt_session_go_to(DtSession *s, DtPoint to, double speed)
{
    const DtProfile *p = s->profile;
    const DtCost cost = dt_profile_cost(p);
    DtProgramState *sent = &s->sent;
    char format[8], x[G_ASCII_DTOSTR_BUF_SIZE], y[G_ASCII_DTOSTR_BUF_SIZE],
        feed[G_ASCII_DTOSTR_BUF_SIZE];
    g_snprintf(format, sizeof format, "%%.%df", CLAMP(p->dialect.decimals, 0, 9));
    g_ascii_formatd(x, sizeof x, format, (to.x - sent->offset.x) / sent->unit);
    g_ascii_formatd(y, sizeof y, format, (to.y - sent->offset.y) / sent->unit);
    g_ascii_formatd(feed, sizeof feed, format, speed * 60 / sent->unit);
    double work_s = dt_route_move_s(&cost, sent->at, to);
    if (speed > 0)
        work_s += dt_point_distance(sent->at, to) / speed;
    sent->at = to;
    DtCarriage c = dt_session_carriage(p, sent);
    dt_carriage_drive(&c, to);
    sent->carriage = c.at;
    sent->lean[0] = c.lean[0];
    sent->lean[1] = c.lean[1];
    s->at_home = FALSE;
    return speed > 0 ? command_words(s, DT_LINE_MOVE, work_s, "G1 X%s Y%s F%s", x, y, feed)
                     : command_words(s, DT_LINE_MOVE, work_s, "G0 X%s Y%s", x, y);
}

static double greatest_slack(const DtProfile *p, int axis)
{
    double most = 0;
    for (size_t i = 0; i < p->backlash[axis].n; i++)
        most = MAX(most, p->backlash[axis].value[i] / p->scale[axis]);
    return most;
}

/* The moves of one axis back to its earlier state: first `from`, then `over`, then its position.
 * Coming from below the carriage stands where the drive does; from above it lags by the whole
 * slack; if it was in between, the drive goes from below to the carriage's position and then
 * back to its own. */
typedef struct {
    double from, over;
    gboolean from_below;
} Approach;

static Approach approach_of(const DtProfile *p, const DtProgramState *t, int axis)
{
    const double at = axis == 0 ? t->at.x : t->at.y;
    const double stands = axis == 0 ? t->carriage.x : t->carriage.y;
    const double lag = stands - at, slack = greatest_slack(p, axis);
    const gboolean between = lag > 1e-6 && dt_machine_follow(p, axis, stands, at - 1e-4) == stands;
    if (!between && (lag > 1e-6 || t->side[axis] < 0))
        return (Approach){MIN(at + slack + clearance, p->travel[axis]), at, FALSE};
    return (Approach){MAX(stands - slack - clearance, 0), stands, TRUE};
}

gboolean dt_session_return_to(DtSession *s, const DtProgramState *t)
{
    const DtProfile *p = s->profile;
    const Approach x = approach_of(p, t, 0), y = approach_of(p, t, 1);
    /* Too near to the low end to come from below: homing itself takes the slack up in that
     * direction. */
    const gboolean near = (x.from_below && x.over - x.from < greatest_slack(p, 0) + 0.05) ||
                          (y.from_below && y.over - y.from < greatest_slack(p, 1) + 0.05);
    if (near && !s->at_home && !dt_session_home(s))
        return FALSE;
    return dt_session_go_to(s, dt_point(x.from, y.from), 0) &&
           dt_session_go_to(s, dt_point(x.over, y.over), 0) && dt_session_go_to(s, t->at, 0);
}

gboolean dt_session_restate_modes(DtSession *s, const DtProgramState *t)
{
    const char *units = t->unit > 2 ? "G20" : "G21";
    if (dt_code_takes(s->profile, units) && !dt_session_command(s, units, DT_LINE_OTHER, 0))
        return FALSE;
    if (t->speed >= 0 && !command_words(s, DT_LINE_OTHER, 0, "S%g", t->speed))
        return FALSE;
    s->sent.relative = FALSE;
    return !dt_code_takes(s->profile, "G90") || dt_session_command(s, "G90", DT_LINE_OTHER, 0);
}

/* To the park place; a board that refuses is left where it is. */
static void park(DtSession *s)
{
    if (dt_session_move_pen(s, FALSE) &&
        (!s->sent.relative || dt_session_restate_modes(s, &s->sent)))
        dt_session_go_to(s, s->profile->park, 0);
}

/* A board that cannot be asked for its line count shows it by its refusal. */
static gboolean lift_somehow(DtSession *s)
{
    const char *pen_up = s->profile->dialect.pen_up;
    s->wanted = 0;
    if (s->trouble == TROUBLE_NONE && dt_session_command(s, pen_up, DT_LINE_PEN_UP, 0))
        return TRUE;
    if (s->wanted == 0)
        return FALSE;
    s->trouble = TROUBLE_NONE;
    dt_traffic_reset(s->traffic, s->wanted);
    return dt_session_command(s, pen_up, DT_LINE_PEN_UP, 0);
}

gboolean dt_session_lift_at_last(DtSession *s, gboolean parks)
{
    if (s->port == NULL || dt_port_fd(s->port) < 0 || s->trouble == TROUBLE_UNPLUGGED)
        return FALSE;
    const DtDialect *d = &s->profile->dialect;
    dt_session_take(s, ~0u);
    s->trouble = TROUBLE_NONE;
    s->expects_greeting = TRUE; /* what it reports now is no additional trouble */
    dt_traffic_reset(s->traffic, 1);
    if (*d->abandon != '\0' || !dt_session_can_ask(s))
        dt_session_quieten(s);
    s->lifts_at_last = TRUE; /* a board that is held still would never do it */
    s->expects_hold = s->expects_stop = FALSE;
    s->stays = 0;
    const gboolean lifted = lift_somehow(s);
    if (lifted && parks && s->homed)
        park(s);
    if (lifted && *d->program_end != '\0')
        dt_session_command(s, d->program_end, DT_LINE_OTHER, 0); /* which switches the motors off */
    s->lifts_at_last = s->expects_greeting = FALSE;
    s->homed = FALSE;
    return lifted;
}
