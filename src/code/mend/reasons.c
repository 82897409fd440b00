/* reasons: why a line of a program cannot stay as it is. */
#include "code/mend/mend.h"

#include <math.h>

static void because(DtMend *m, const char *format, ...) G_GNUC_PRINTF(2, 3);

static void because(DtMend *m, const char *format, ...)
{
    if (m->reason->len > 0)
        return;
    va_list args;
    va_start(args, format);
    g_string_append_vprintf(m->reason, _(format), args);
    va_end(args);
}

static void on_refusal(void *user, DtFindingKind kind, int column, const char *text)
{
    (void)kind;
    (void)column;
    because(user, "%s", text);
}

/* Modes that our text does not use. */
static void check_modes(DtMend *m, const DtCodeBlock *b)
{
    static const struct {
        int group;
        short from, to;
        const char *why;
    } modes[] = {
        {G_UNITS, 200, 200, N_("lengths are written in mm")},
        {G_DISTANCE, 910, 910, N_("distances are written from the origin")},
        {G_FEED_MODE, 930, 930, N_("feeds are written in mm a minute")},
        {G_SYSTEM, 550, 593, N_("lengths are written in machine coordinates")},
        {G_NON_MODAL, 920, 923, N_("lengths are written in machine coordinates")},
        {G_NON_MODAL, 100, 100, N_("lengths are written in machine coordinates")},
        {G_NON_MODAL, 530, 530, N_("lengths are written in machine coordinates")},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(modes); i++)
        if ((b->g_groups & (1u << modes[i].group)) && b->g[modes[i].group] >= modes[i].from &&
            b->g[modes[i].group] <= modes[i].to)
            because(m, "%s", _(modes[i].why));
    gboolean axes = (b->has & AXIS_LETTERS) != 0;
    const short motion = m->reader->modal[G_MOTION]; /* perhaps of an earlier line */
    if (axes && motion >= 810 && motion <= 890)
        because(m, "a canned cycle is written as its moves");
    if (axes && m->reader->modal[G_UNITS] == 200)
        because(m, "inches become mm");
    if (axes && m->reader->modal[G_DISTANCE] == 910)
        because(m, "incremental becomes absolute");
    if (axes && m->reader->modal[G_FEED_MODE] == 930)
        because(m, "inverse time feed becomes mm a minute");
    for (int axis = 0; axis < 3 && axes; axis++)
        if (m->reader->offset[axis] != 0)
            because(m, "an offset is added");
}

static void check_pen_word(DtMend *m, const DtAction *a)
{
    DtPenState state;
    const gboolean pen_word = dt_mend_is_pen_word(m, a, &state);
    if (a->kind == ACT_SPINDLE && !pen_word)
        because(m, "the spindle is not what lifts this file's pen");
    if (!pen_word)
        return;
    if (state == PEN_DOWN && m->beyond)
        because(m, "the pen does not come down beyond the travel");
    if (state == PEN_DOWN && !m->moved)
        because(m, "the pen does not come down before the first move");
    if (a->kind == ACT_PEN) {
        if (dt_reading_goes_by_letter(&m->reading))
            because(m, "moves with certain words %c draw", m->reading.letter);
        else if (m->reading.kind != READ_MACHINE)
            because(m, "another controller's pen word becomes this machine's");
        return;
    }
    if (m->rule.kind != LIFT_BY_SPINDLE) {
        because(m, "a spindle word becomes the pen's own line");
        return;
    }
    double want = state == PEN_DOWN ? m->rule.down_speed : m->rule.up_speed;
    int turn = state == PEN_DOWN ? m->rule.down_turn : m->rule.up_turn;
    if (a->turn != turn || (want >= 0 && (!a->speed_said || fabs(a->speed - want) > 0.01 * want)))
        because(m, "the pen's words are those of this machine");
}

/* Down, but not where this machine's pen draws. */
static gboolean is_other_depth(const DtMend *m, double z)
{
    const double way = fabs(m->rule.up_z - m->rule.down_z);
    return fabs(z - m->rule.down_z) > 0.05 * way;
}

static void check_motion(DtMend *m, const DtCodeBlock *b, const DtAction *a)
{
    const gboolean by_z = dt_reading_goes_by_z(&m->reading, &m->rule);
    const DtPenState says = dt_reading_action(&m->reading, &m->rule, b, a);
    if (says != PEN_UNKNOWN && m->rule.kind != LIFT_BY_Z)
        because(m, "a lift written as a move becomes the pen's words");
    if ((b->has & LETTER('Z')) && m->rule.kind == LIFT_BY_Z &&
        (!by_z || dt_pen_at_z(&m->rule, a->to[2]) != says ||
         (says == PEN_DOWN && is_other_depth(m, a->to[2]))))
        because(m, "the pen draws at the height of this machine");
    if (a->to[2] != a->from[2] && m->rule.kind != LIFT_BY_Z)
        because(m, "this machine has no Z axis");
    if (says == PEN_DOWN && m->beyond)
        because(m, "the pen does not come down beyond the travel");
    if (says == PEN_DOWN && !m->moved && !dt_mend_moves_xy(a))
        because(m, "the pen does not come down before the first move");
    if (b->has & AXIS_LETTERS & ~(LETTER('X') | LETTER('Y') | LETTER('Z')))
        because(m, "this machine has no axis of that name");
    if (a->kind == ACT_TRAVERSE && dt_mend_moves_xy(a) && dt_mend_draws(m, a))
        because(m, "a rapid that draws is written at feed");
    if (a->kind == ACT_ARC && !(b->has & (LETTER('X') | LETTER('Y'))))
        because(m, "a full circle gives its end");
    if (!dt_mend_moves_xy(a) && a->kind != ACT_ARC)
        return;
    if (!dt_mend_is_within(m, dt_point(a->to[0], a->to[1])) ||
        (a->kind == ACT_ARC && !dt_mend_is_arc_within(m, a)))
        because(m, "it goes beyond the travel");
    int code = a->kind == ACT_TRAVERSE ? 0 : a->kind == ACT_FEED ? 1 : a->sweep < 0 ? 2 : 3;
    if (!(b->g_groups & (1u << G_MOTION)) && m->emit.motion != code)
        because(m, "its G%d is given", code);
    if (dt_point_distance(dt_point(a->from[0], a->from[1]), m->emit.at) > 1e-9)
        because(m, "both of its coordinates are given");
    if (a->kind == ACT_TRAVERSE)
        return;
    double feed = dt_mend_feed(m, a);
    if (!(a->feed > 0))
        because(m, "a feed is given");
    else if (fabs(feed - a->feed * 60) > 1e-6)
        because(m, "the feed is one that the axes reach");
    else if (!(b->has & LETTER('F')) && fabs(m->emit.feed - feed) > 1e-6)
        because(m, "its feed is given");
}

/* A pen word, a motion and an end in one line: what has to be inserted between them. */
static void check_sequence(DtMend *m)
{
    double owed = 0;
    gboolean moved = FALSE;
    DtPenState pen = m->meant, state;
    for (guint i = 0; i < m->actions->len; i++) {
        const DtAction *a = &g_array_index(m->actions, DtAction, i);
        if (dt_mend_is_pen_word(m, a, &state) && state != pen) {
            owed = state == PEN_DOWN ? m->profile->drop_s : m->profile->lift_s;
            pen = state;
        } else if (a->kind == ACT_DWELL) {
            owed -= a->seconds * m->words.dwell_unit_s;
        } else if (dt_mend_is_motion(a) && owed > 0.0005) {
            because(m, "the pen needs a dwell between its word and the move");
        }
        moved |= dt_mend_is_motion(a) && (dt_mend_moves_xy(a) || a->kind == ACT_ARC);
        if ((a->kind == ACT_PAUSE || a->kind == ACT_MAY_PAUSE) && moved && pen == PEN_DOWN)
            because(m, "the pen goes up after the move and before the pause");
        if (a->kind == ACT_END && i > 0 &&
            (pen == PEN_DOWN || hypot(m->reader->at[0], m->reader->at[1]) > 0.01))
            because(m, "the pen goes up and to the origin before the end");
    }
}

static void check_home(DtMend *m, const DtCodeBlock *b)
{
    if ((b->has & AXIS_LETTERS) || !dt_block_matches(b, &m->home_line))
        because(m, "homing is this machine's own line");
}

/* A dwell for settling the pen lasts less than a minute; a larger P was meant in milliseconds. */
gboolean dt_mend_is_in_ms(const DtMend *m, double seconds, gboolean after_pen)
{
    return (after_pen || m->emit.settle_s > 0) && seconds >= 50;
}

static void check_dwell(DtMend *m, const DtAction *a, gboolean after_pen)
{
    double seconds = a->seconds * m->words.dwell_unit_s;
    if (dt_mend_is_in_ms(m, seconds, after_pen))
        because(m, "a dwell of %g s after a pen word is taken as %g ms", seconds, seconds);
}

void dt_mend_find_reason(DtMend *m, const DtCodeBlock *b)
{
    g_string_truncate(m->reason, 0);
    if (m->fault->len > 0)
        because(m, "%s", m->fault->str);
    const DtCodeWord *foreign = dt_reading_foreign_word(&m->words, b);
    if (foreign != NULL)
        because(m, "RS-274 has no %c%g", foreign->letter, foreign->value);
    if ((b->has & LETTER('N')) && block_value(b, 'N') > 99999)
        because(m, "its number is beyond 99999, which the standard does not have");
    dt_accept_block(&m->words, b, on_refusal, m);
    check_modes(m, b);
    gboolean after_pen = m->after_pen;
    for (guint i = 0; i < m->actions->len; i++) {
        const DtAction *a = &g_array_index(m->actions, DtAction, i);
        DtPenState state;
        check_pen_word(m, a);
        if (dt_mend_is_motion(a))
            check_motion(m, b, a);
        else if (a->kind == ACT_HOME)
            check_home(m, b);
        else if (a->kind == ACT_DWELL)
            check_dwell(m, a, after_pen);
        else if (a->kind == ACT_TOOL || (a->kind == ACT_PAUSE && b->m[M_STOP] != 0))
            because(m, "a change of tool is a pause for the pen");
        after_pen = dt_mend_is_pen_word(m, a, &state);
    }
    check_sequence(m);
}
