/* recover: from wherever the board is to the place where drawing goes on. */
#include "link/runner.h"

#include <math.h>
#include <string.h>

enum {
    TRIES = 3,              /* recoveries without a stroke drawn in between */
    LOOK_EVERY_US = 300000, /* for an unplugged port */
    CLOSED_US = 300000,     /* long enough for the board to see it */
    DEFAULT_REPLUG_S = 600,
};
static const double clearance = 1; /* mm beyond the slack, so that it is taken up for certain */
static const double origin_tolerance = 0.01; /* mm */

static gboolean command_words(DtRunner *r, DtLineKind kind, const char *format, ...)
    G_GNUC_PRINTF(3, 4);

static gboolean command_words(DtRunner *r, DtLineKind kind, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *words = g_strdup_vprintf(format, list);
    va_end(list);
    char text[DT_PROGRAM_LONGEST + 1];
    dt_program_join_words(r->program, words, text, sizeof text);
    return dt_runner_command(r, text, kind);
}

static gboolean wait_s(DtRunner *r, double seconds)
{
    const gint64 end = g_get_monotonic_time() + (gint64)(seconds * 1e6);
    while (g_get_monotonic_time() < end)
        if (!dt_runner_pump(r, end))
            return FALSE;
    return TRUE;
}

gboolean dt_runner_lift(DtRunner *r)
{
    if (!dt_runner_command(r, r->profile->dialect.pen_up, DT_LINE_PEN_UP))
        return FALSE;
    if (!dt_program_knows(r->program, "G4"))
        return wait_s(r, r->profile->lift_s);
    char p[G_ASCII_DTOSTR_BUF_SIZE];
    g_ascii_formatd(p, sizeof p, "%.3f", r->profile->lift_s / dt_program_dwell_unit_s(r->program));
    return command_words(r, DT_LINE_DWELL, "G4 P%s", p);
}

gboolean dt_runner_home(DtRunner *r)
{
    if (!dt_runner_command(r, r->profile->dialect.home, DT_LINE_HOME))
        return FALSE;
    r->homed = r->at_home = TRUE;
    if (!dt_runner_ask(r, r->profile->dialect.reply_timeout_s))
        return r->trouble == TROUBLE_NONE; /* it has no way to tell */
    const DtBoardState *s = &r->state;
    if (s->at_switch[0] || s->at_switch[1])
        dt_runner_trouble(r, TROUBLE_SWITCH,
                          "the %s end switch is still pressed after homing; is it stuck?",
                          s->at_switch[0] ? "X" : "Y");
    else if (s->word == DT_BOARD_UNHOMED || fabs(s->x) > origin_tolerance ||
             fabs(s->y) > origin_tolerance)
        dt_runner_trouble(r, TROUBLE_SWITCH,
                          "homing ended at X %.3f Y %.3f mm and not at the origin", s->x, s->y);
    return r->trouble == TROUBLE_NONE;
}

gboolean dt_runner_go_to(DtRunner *r, DtPoint to)
{
    const double unit = r->before.unit;
    r->told.at = to;
    r->at_home = FALSE;
    const int decimals = CLAMP(r->profile->dialect.decimals, 0, 9);
    char format[8], x[G_ASCII_DTOSTR_BUF_SIZE], y[G_ASCII_DTOSTR_BUF_SIZE];
    g_snprintf(format, sizeof format, "%%.%df", decimals);
    g_ascii_formatd(x, sizeof x, format, (to.x - r->before.offset.x) / unit);
    g_ascii_formatd(y, sizeof y, format, (to.y - r->before.offset.y) / unit);
    return command_words(r, DT_LINE_MOVE, "G0 X%s Y%s", x, y);
}

static double greatest_slack(const DtProfile *p, int axis)
{
    double most = 0;
    for (size_t i = 0; i < p->backlash[axis].n; i++)
        most = MAX(most, p->backlash[axis].value[i] / p->scale[axis]);
    return most;
}

/* The way of one axis to where it was: first `from`, then `over`, then its place. Coming from below
 * the carriage stands where the drive does; from above it lags by the whole slack; and where it
 * stood in between, the drive goes on from below to the carriage's place and then back to its own.
 */
typedef struct {
    double from, over;
    gboolean from_below;
} Approach;

static Approach approach_of(const DtProfile *p, const DtProgramState *t, int axis)
{
    const double at = axis == 0 ? t->at.x : t->at.y;
    const double stands = axis == 0 ? t->carriage.x : t->carriage.y;
    const double lag = stands - at, slack = greatest_slack(p, axis);
    const gboolean between =
        lag > 1e-6 && dt_machine_follow(p, axis, stands, at - 1e-4) == stands;
    if (!between && (lag > 1e-6 || t->side[axis] < 0))
        return (Approach){MIN(at + slack + clearance, p->travel[axis]), at, FALSE};
    return (Approach){MAX(stands - slack - clearance, 0), stands, TRUE};
}

gboolean dt_runner_return_to(DtRunner *r, const DtProgramState *t)
{
    const DtProfile *p = r->profile;
    const Approach x = approach_of(p, t, 0), y = approach_of(p, t, 1);
    /* Too near to the low end to come from below: homing itself takes the slack up that way. */
    const gboolean near = (x.from_below && x.over - x.from < greatest_slack(p, 0) + 0.05) ||
                          (y.from_below && y.over - y.from < greatest_slack(p, 1) + 0.05);
    if (near && !r->at_home && !dt_runner_home(r))
        return FALSE;
    return dt_runner_go_to(r, dt_point(x.from, y.from)) &&
           dt_runner_go_to(r, dt_point(x.over, y.over)) && dt_runner_go_to(r, t->at);
}

gboolean dt_runner_restate_modes(DtRunner *r, const DtProgramState *t)
{
    const char *units = t->unit > 2 ? "G20" : "G21";
    if (dt_program_knows(r->program, units) && !dt_runner_command(r, units, DT_LINE_OTHER))
        return FALSE;
    if (t->speed >= 0 && !command_words(r, DT_LINE_OTHER, "S%g", t->speed))
        return FALSE;
    return !dt_program_knows(r->program, "G90") || dt_runner_command(r, "G90", DT_LINE_OTHER);
}

static gboolean seek(DtRunner *r, size_t drawn)
{
    g_autoptr(GError) error = NULL;
    if (!dt_program_seek(r->program, drawn, &error)) {
        dt_runner_trouble(r, TROUBLE_PROGRAM, "%s", error->message);
        return FALSE;
    }
    r->has_line = r->at_end = FALSE;
    r->before = r->acked = r->told = r->drawn_state = *dt_program_state(r->program);
    r->drawn = r->proved = drawn;
    r->homed = FALSE;
    return TRUE;
}

gboolean dt_runner_bring_up(DtRunner *r, size_t drawn)
{
    if (!seek(r, drawn) || !dt_runner_lift(r))
        return FALSE;
    if (drawn == 0 && r->totals.homes)
        return TRUE; /* the program does the rest itself, from its first line on */
    if (!dt_runner_home(r) || !dt_runner_restate_modes(r, &r->before))
        return FALSE;
    if (drawn > 0 && !dt_runner_return_to(r, &r->before))
        return FALSE;
    if (r->before.relative && !dt_runner_command(r, "G91", DT_LINE_OTHER))
        return FALSE;
    r->needs_motion = r->needs_feed = TRUE;
    return TRUE;
}

/* After trouble ----------------------------------------------------------------------------- */

/* Opens what was found. Until a port can be opened a moment may pass in which the system sets it
 * up; `why` keeps what stood in the way. */
static gboolean open_found(DtRunner *r, char *found, GError **why)
{
    if (strcmp(found, r->port_path) != 0) {
        g_autofree char *text = g_strdup_printf("found again as %s", found);
        dt_journal_port(r->journal, r->id, found, NULL);
        dt_runner_tell(r, DT_RUN_WAITING, text);
    }
    g_free(r->port_path);
    r->port_path = found;
    r->trouble = TROUBLE_NONE;
    g_clear_error(why);
    return dt_runner_connect(r, why);
}

/* Says what a person can do, and ends the search. */
static gboolean give_up_port(DtRunner *r, const GError *why)
{
    r->trouble = TROUBLE_NONE;
    if (why != NULL)
        dt_runner_trouble(r, TROUBLE_UNPLUGGED, "%s", why->message);
    else
        dt_runner_trouble(r, TROUBLE_UNPLUGGED, "%s: the port has not come back", r->port_path);
    r->recoveries = TRIES;
    return FALSE;
}

static gboolean plug_in_again(DtRunner *r)
{
    const double patience = r->options.replug_s > 0 ? r->options.replug_s : DEFAULT_REPLUG_S;
    const gint64 end = g_get_monotonic_time() + (gint64)(patience * 1e6);
    g_autoptr(GError) why = NULL;
    dt_port_release(r->port);
    dt_runner_tell(r, DT_RUN_WAITING, "the port is gone; plug the board in again");
    while (g_get_monotonic_time() < end) {
        if (g_atomic_int_get(&r->wishes) & WISH_STOP) {
            r->trouble = TROUBLE_NONE;
            dt_runner_trouble(r, TROUBLE_STOPPED, "stopped by hand while the port was gone");
            return FALSE;
        }
        g_usleep(LOOK_EVERY_US);
        char *found = dt_port_find_again(r->port);
        if (found == NULL)
            continue;
        if (open_found(r, found, &why))
            return TRUE;
        if (r->trouble == TROUBLE_STOPPED)
            return FALSE;
    }
    return give_up_port(r, why);
}

/* The board is there, but what it had in hand is lost. */
static gboolean meet_again(DtRunner *r)
{
    r->trouble = TROUBLE_NONE;
    dt_traffic_reset(r->traffic, 1);
    if (r->wanted > 0)
        dt_traffic_reset(r->traffic, r->wanted);
    else if (dt_runner_ask(r, r->profile->dialect.reply_timeout_s))
        dt_traffic_reset(r->traffic, r->state.line % 99999 + 1);
    r->wanted = 0;
    return r->trouble == TROUBLE_NONE;
}

static gboolean can_recover(const DtRunner *r)
{
    return r->trouble == TROUBLE_RESET || r->trouble == TROUBLE_UNPLUGGED ||
           r->trouble == TROUBLE_ABANDONED || r->trouble == TROUBLE_SILENT;
}

/* Opening the port anew resets many boards, which lifts the pen (common practice, no source): the
 * only thing that still helps with one that hangs. */
static gboolean open_again(DtRunner *r)
{
    g_autofree char *text = g_strdup(r->trouble_text);
    r->trouble = TROUBLE_NONE;
    dt_port_close(r->port);
    r->port = NULL;
    g_usleep(CLOSED_US);
    g_autoptr(GError) error = NULL;
    if (dt_runner_connect(r, &error))
        return TRUE;
    if (r->trouble != TROUBLE_STOPPED) {
        r->trouble = TROUBLE_NONE;
        dt_runner_trouble(r, TROUBLE_SILENT, "%s", text);
        r->recoveries = TRIES;
    }
    return FALSE;
}

static gboolean find_board(DtRunner *r)
{
    switch (r->trouble) {
    case TROUBLE_UNPLUGGED:
        return plug_in_again(r);
    case TROUBLE_SILENT:
        return open_again(r);
    default:
        return meet_again(r);
    }
}

gboolean dt_runner_recover(DtRunner *r)
{
    g_autofree char *what = g_strdup(r->trouble_text);
    while (can_recover(r) && r->recoveries++ < TRIES) {
        const size_t drawn = r->drawn;
        dt_journal_event(r->journal, r->id, "recovering", r->trouble_text, NULL);
        dt_runner_tell(r, DT_RUN_WAITING, r->trouble_text);
        r->homed = FALSE;
        const gboolean met = find_board(r);
        if (!met && !can_recover(r))
            return FALSE;
        if (met && dt_runner_bring_up(r, drawn)) {
            dt_runner_tell(r, DT_RUN_RECOVERED, what);
            return TRUE;
        }
        r->drawn = drawn;
    }
    return FALSE;
}
