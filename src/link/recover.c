/* recover: from wherever the board is to the place where drawing goes on. */
#include "runner.h"

#include <math.h>
#include <string.h>

enum {
    TRIES = 3,              /* recoveries without a stroke drawn in between */
    LOOK_EVERY_US = 300000, /* for an unplugged port */
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
    g_autofree char *text = g_strdup_vprintf(format, list);
    va_end(list);
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
    return command_words(r, DT_LINE_DWELL, "G4P%s", p);
}

static gboolean home(DtRunner *r)
{
    if (!dt_runner_command(r, r->profile->dialect.home, DT_LINE_HOME))
        return FALSE;
    r->homed = TRUE;
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
    const int decimals = CLAMP(r->profile->dialect.decimals, 0, 9);
    char format[8], x[G_ASCII_DTOSTR_BUF_SIZE], y[G_ASCII_DTOSTR_BUF_SIZE];
    g_snprintf(format, sizeof format, "%%.%df", decimals);
    g_ascii_formatd(x, sizeof x, format, to.x / unit);
    g_ascii_formatd(y, sizeof y, format, to.y / unit);
    return command_words(r, DT_LINE_MOVE, "G0X%sY%s", x, y);
}

static double slack_at(const DtTable *t)
{
    double most = 0;
    for (size_t i = 0; i < t->n; i++)
        most = MAX(most, t->value[i]);
    return most;
}

gboolean dt_runner_return_to(DtRunner *r, const DtTrack *t)
{
    double at[2] = {t->at.x, t->at.y}, by_way_of[2];
    gboolean too_near = FALSE;
    for (int i = 0; i < 2; i++) {
        const double slack = slack_at(&r->profile->backlash[i]);
        by_way_of[i] = CLAMP(at[i] - t->side[i] * (slack + clearance), 0, r->profile->travel[i]);
        too_near |= t->side[i] > 0 && at[i] - by_way_of[i] < slack + 0.05;
    }
    /* Too near to the low end to come from below: homing itself takes the slack up that way. */
    if (too_near && !home(r))
        return FALSE;
    return dt_runner_go_to(r, dt_point(by_way_of[0], by_way_of[1])) && dt_runner_go_to(r, t->at);
}

static gboolean restate_modes(DtRunner *r, const DtTrack *t)
{
    const char *units = t->unit > 2 ? "G20" : "G21";
    if (dt_program_knows(r->program, units) && !dt_runner_command(r, units, DT_LINE_OTHER))
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
    r->before = r->acked = r->told = r->drawn_track = *dt_program_track(r->program);
    r->drawn = drawn;
    r->homed = FALSE;
    return TRUE;
}

gboolean dt_runner_bring_up(DtRunner *r, size_t drawn)
{
    if (!seek(r, drawn) || !dt_runner_lift(r))
        return FALSE;
    if (drawn == 0 && r->totals.homes)
        return TRUE; /* the program does the rest itself, from its first line on */
    if (!home(r) || !restate_modes(r, &r->before))
        return FALSE;
    if (drawn > 0 && !dt_runner_return_to(r, &r->before))
        return FALSE;
    if (r->before.relative && !dt_runner_command(r, "G91", DT_LINE_OTHER))
        return FALSE;
    r->needs_motion = r->needs_feed = TRUE;
    return TRUE;
}

/* After trouble ----------------------------------------------------------------------------------
 */

static gboolean plug_in_again(DtRunner *r)
{
    const double patience = r->options.replug_s > 0 ? r->options.replug_s : DEFAULT_REPLUG_S;
    const gint64 end = g_get_monotonic_time() + (gint64)(patience * 1e6);
    dt_runner_tell(r, DT_RUN_WAITING, "the port is gone; plug the board in again");
    while (g_get_monotonic_time() < end) {
        if (g_atomic_int_get(&r->wishes) & WISH_STOP) {
            r->trouble = TROUBLE_NONE;
            dt_runner_trouble(r, TROUBLE_STOPPED, "stopped by hand while the port was gone");
            return FALSE;
        }
        g_usleep(LOOK_EVERY_US);
        g_autofree char *found = dt_port_find_again(r->port);
        if (found == NULL)
            continue;
        g_free(r->port_path);
        r->port_path = g_steal_pointer(&found);
        r->trouble = TROUBLE_NONE;
        g_autoptr(GError) error = NULL;
        if (dt_runner_connect(r, &error))
            return TRUE;
        if (r->trouble == TROUBLE_STOPPED)
            return FALSE;
        r->trouble = TROUBLE_UNPLUGGED;
    }
    return FALSE;
}

/* The board is there, but what it had in hand is lost. */
static gboolean meet_again(DtRunner *r)
{
    r->trouble = TROUBLE_NONE;
    dt_wire_reset(r->wire, 1);
    if (dt_runner_ask(r, r->profile->dialect.reply_timeout_s))
        dt_wire_reset(r->wire, r->state.line % 99999 + 1);
    return r->trouble == TROUBLE_NONE;
}

static gboolean can_recover(const DtRunner *r)
{
    return r->trouble == TROUBLE_RESET || r->trouble == TROUBLE_UNPLUGGED ||
           r->trouble == TROUBLE_ABANDONED;
}

gboolean dt_runner_recover(DtRunner *r)
{
    g_autofree char *what = g_strdup(r->trouble_text);
    while (can_recover(r) && r->recoveries++ < TRIES) {
        const size_t drawn = r->drawn;
        dt_journal_event(r->journal, r->id, "recovering", r->trouble_text, NULL);
        dt_runner_tell(r, DT_RUN_WAITING, r->trouble_text);
        r->homed = FALSE;
        gboolean met = r->trouble == TROUBLE_UNPLUGGED ? plug_in_again(r) : meet_again(r);
        if (!met && !can_recover(r))
            return FALSE;
        if (met && dt_runner_bring_up(r, drawn)) {
            dt_runner_tell(r, DT_RUN_RECOVERED, what);
            return TRUE;
        }
        r->drawn = drawn;
        if (r->trouble == TROUBLE_UNPLUGGED && dt_port_fd(r->port) < 0)
            return FALSE;
    }
    return FALSE;
}
