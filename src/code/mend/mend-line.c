/* mend-line: what replaces a line that cannot stay as it is. */
#include "code/mend/census.h"
#include "code/mend/mend.h"

#include <math.h>
#include <string.h>

gboolean dt_mend_moves_xy(const DtAction *a)
{
    return a->to[0] != a->from[0] || a->to[1] != a->from[1];
}

gboolean dt_mend_is_motion(const DtAction *a)
{
    return a->kind == ACT_TRAVERSE || a->kind == ACT_FEED || a->kind == ACT_ARC;
}

static double least_speed(const DtProfile *p)
{
    return MIN(p->speed[0], p->speed[1]);
}

gboolean dt_mend_draws(const DtMend *m, const DtAction *a)
{
    return a->kind != ACT_TRAVERSE || (m->reading.rapids_draw && m->meant == PEN_DOWN);
}

gboolean dt_mend_is_within(const DtMend *m, DtPoint p)
{
    const double *travel = m->profile->travel;
    return p.x >= -1e-6 && p.y >= -1e-6 && p.x <= travel[0] + 1e-6 && p.y <= travel[1] + 1e-6;
}

gboolean dt_mend_is_arc_within(const DtMend *m, const DtAction *a)
{
    return dt_mend_is_within(m, dt_point(a->centre[0] - a->radius, a->centre[1] - a->radius)) &&
           dt_mend_is_within(m, dt_point(a->centre[0] + a->radius, a->centre[1] + a->radius));
}

double dt_mend_feed(const DtMend *m, const DtAction *a)
{
    const double *speed = m->profile->speed;
    double steady = floor(least_speed(m->profile) * 60 + 1e-6);
    double wanted = a->feed * 60;
    if (!(wanted > 0))
        return steady;
    if (a->kind == ACT_ARC)
        return MIN(wanted, steady);
    double dx = fabs(a->to[0] - a->from[0]), dy = fabs(a->to[1] - a->from[1]);
    double length = hypot(dx, dy);
    gboolean within =
        a->feed * dx <= speed[0] * length * 1.001 && a->feed * dy <= speed[1] * length * 1.001;
    return within ? wanted : steady;
}

gboolean dt_mend_is_pen_word(const DtMend *m, const DtAction *a, DtPenState *state)
{
    if (a->kind == ACT_PEN)
        *state = a->turn ? PEN_DOWN : PEN_UP;
    else if (a->kind == ACT_SPINDLE)
        *state = dt_reading_action(&m->reading, &m->rule, &m->reader->block, a);
    else
        return FALSE;
    return *state != PEN_UNKNOWN;
}

gboolean dt_mend_is_strange(const DtMend *m, const DtCodeBlock *b)
{
    return dt_reading_foreign_word(&m->words, b) != NULL &&
           dt_reading_block(&m->reading, &m->rule, b) == PEN_UNKNOWN;
}

/* Before an action -------------------------------------------------------------------------- */

static void lift_with_change(DtMend *m, const char *why)
{
    if (dt_emit_undo_drop(&m->emit))
        dt_mend_change(m, "the pen does not come down where it draws nothing");
    if (m->emit.pen == PEN_UP)
        return;
    if (m->emit.pen == PEN_DOWN || m->emit.homed)
        dt_mend_change(m, "the pen is lifted %s", _(why));
    else
        dt_mend_change(m, "the pen is lifted at the start");
    dt_emit_lift(&m->emit);
}

static void settle_with_change(DtMend *m)
{
    if (dt_emit_settle(&m->emit))
        dt_mend_change(m, "a dwell lets the pen settle");
}

/* What a program leaves to the settings of the control it was made for is not known: it is told. */
static void tell_modes(DtMend *m)
{
    const gboolean units = m->stated & 1u << G_UNITS, distance = m->stated & 1u << G_DISTANCE;
    if (!units)
        dt_mend_change(m, "no G20 or G21 before the first move: lengths are taken as mm");
    if (!distance)
        dt_mend_change(m, "no G90 or G91 before the first move: positions are taken as absolute");
    if (units && distance)
        dt_mend_change(m, "the modes that the moves rely on are given");
}

static void start_safely(DtMend *m)
{
    if (m->emit.pen == PEN_UNKNOWN && m->meant != PEN_DOWN) {
        dt_mend_change(m, "the pen is lifted at the start");
        dt_emit_lift(&m->emit);
    }
    if (!m->emit.homed && m->profile->dialect.home && *m->profile->dialect.home) {
        dt_mend_change(m, "homing is added before the first move");
        dt_emit_home(&m->emit);
    }
    m->emit.homed = TRUE;
    dt_emit_modes(&m->emit);
    if (m->emit.modes_given) /* by now, or earlier for a pen that an axis moves */
        tell_modes(m);
    m->emit.modes_given = FALSE;
}

static void prepare_motion(DtMend *m, const DtAction *a)
{
    if (!dt_mend_moves_xy(a) && a->kind != ACT_ARC)
        return;
    start_safely(m);
    if (m->reading.kind == READ_MOVES)
        m->meant = a->kind == ACT_TRAVERSE ? PEN_UP : PEN_DOWN;
    if (!dt_mend_draws(m, a) && dt_emit_undo_drop(&m->emit))
        dt_mend_change(m, "the pen drops after the travel");
    if (!dt_mend_draws(m, a))
        lift_with_change(m, "over a travel");
    if (dt_mend_draws(m, a) && m->meant == PEN_DOWN && m->emit.pen != PEN_DOWN) {
        dt_mend_change(m, "the pen is dropped again");
        dt_emit_drop(&m->emit);
    }
    settle_with_change(m);
}

static void prepare_end(DtMend *m)
{
    lift_with_change(m, "before the end");
    DtPoint park = m->profile->park;
    gboolean at_rest = dt_point_distance(m->emit.at, dt_point(0, 0)) <= 0.01 ||
                       dt_point_distance(m->emit.at, park) <= 0.01;
    if (!m->moved || at_rest)
        return;
    dt_mend_change(m, "the carriage goes back to the origin");
    dt_emit_travel(&m->emit, dt_point(0, 0));
}

void dt_mend_prepare(DtMend *m, const DtAction *a)
{
    DtPenState state;
    if (dt_mend_is_motion(a)) {
        prepare_motion(m, a);
    } else if (a->kind == ACT_HOME) {
        lift_with_change(m, "before homing");
        settle_with_change(m);
    } else if (a->kind == ACT_PAUSE || a->kind == ACT_MAY_PAUSE || a->kind == ACT_TOOL) {
        lift_with_change(m, "while the program waits");
    } else if (a->kind == ACT_END) {
        prepare_end(m);
    } else if (dt_mend_is_pen_word(m, a, &state) && state != m->emit.pen) {
        if (state == PEN_DOWN)
            start_safely(m); /* the position of the carriage is unknown before homing */
        if (m->emit.pen != PEN_UNKNOWN)
            settle_with_change(m);
    }
}

/* Actions anew ------------------------------------------------------------------------------ */

/* The part of a segment within the travel (Liang and Barsky 1984); FALSE if there is none. */
static gboolean clip(const double travel[2], DtPoint *a, DtPoint *b)
{
    double t0 = 0, t1 = 1;
    const double from[2] = {a->x, a->y}, way[2] = {b->x - a->x, b->y - a->y};
    for (int i = 0; i < 2; i++) {
        if (way[i] == 0) {
            if (from[i] < 0 || from[i] > travel[i])
                return FALSE;
            continue;
        }
        double enter = (0 - from[i]) / way[i], leave = (travel[i] - from[i]) / way[i];
        t0 = MAX(t0, MIN(enter, leave));
        t1 = MIN(t1, MAX(enter, leave));
    }
    if (t0 > t1)
        return FALSE;
    DtPoint p = *a, q = *b;
    *a = dt_point_lerp(p, q, t0);
    *b = dt_point_lerp(p, q, t1);
    return TRUE;
}

/* Reported once for each stretch outside the travel. */
static void tell_outside(DtMend *m, DtPoint to)
{
    if (m->outside)
        return;
    m->outside = TRUE;
    if (m->options.clip)
        dt_mend_change(m, "what lies beyond the travel is left out");
    else
        dt_mend_problem(m, 1,
                        "X %.6g mm, Y %.6g mm lies beyond the travel of %g x %g mm; --clip leaves "
                        "such parts out",
                        to.x, to.y, m->profile->travel[0], m->profile->travel[1]);
}

/* Brings the pen to `from`, pen up, if the text has it elsewhere. */
static void come_to(DtMend *m, DtPoint from)
{
    if (dt_point_distance(m->emit.at, from) < pow(10, -m->emit.decimals[0]))
        return;                       /* a difference of this size is rounding */
    if (!dt_emit_undo_drop(&m->emit)) /* it has drawn nothing yet where it came down */
        dt_emit_lift(&m->emit);
    dt_emit_travel(&m->emit, from);
}

static void note_meant(DtMend *m, double mm)
{
    m->meant_mm += mm;
    m->meant_pieces++;
}

static void draw_to(DtMend *m, DtPoint from, DtPoint to, double feed)
{
    DtPoint a = from, b = to;
    m->beyond = !dt_mend_is_within(m, to);
    if (dt_mend_is_within(m, from) && dt_mend_is_within(m, to)) {
        m->outside = FALSE;
    } else {
        tell_outside(m, dt_mend_is_within(m, to) ? from : to);
        if (!clip(m->profile->travel, &a, &b))
            return;
    }
    if (dt_point_distance(a, b) < 1e-9)
        return;
    note_meant(m, dt_point_distance(a, b));
    come_to(m, a);
    dt_emit_drop(&m->emit);
    dt_emit_draw(&m->emit, b, feed);
}

static void travel_to(DtMend *m, DtPoint to)
{
    m->beyond = !dt_mend_is_within(m, to);
    if (m->beyond) { /* a line that begins there starts where it enters the travel */
        dt_mend_change(m, "a travel beyond the machine's is left out");
        return;
    }
    m->outside = FALSE;
    dt_emit_lift(&m->emit);
    dt_emit_travel(&m->emit, to);
}

static gboolean arc_can_stay(const DtMend *m, const DtAction *a)
{
    const DtVocabulary *v = &m->words;
    if (!dt_vocabulary_takes_g(v, 20) || !dt_vocabulary_takes_g(v, 30) ||
        !dt_vocabulary_takes_letter(v, 'I') || !dt_vocabulary_takes_letter(v, 'J'))
        return FALSE;
    if (a->first != 0 || a->second != 1 || fabs(a->radius - a->end_radius) > 0.001)
        return FALSE;
    return dt_mend_is_arc_within(m, a);
}

static void rewrite_arc(DtMend *m, const DtAction *a)
{
    double feed = dt_mend_feed(m, a);
    DtPoint from = {a->from[0], a->from[1]}, to = {a->to[0], a->to[1]};
    if (m->meant != PEN_DOWN) {
        travel_to(m, to);
        return;
    }
    double off = fabs(a->radius - a->end_radius);
    if (off > MAX(0.5, 0.05 * a->radius)) {
        dt_mend_problem(m, m->fault_column, "%s",
                        m->fault->len ? m->fault->str : _("a broken arc"));
        return;
    }
    if (arc_can_stay(m, a)) {
        note_meant(m, fabs(a->sweep) * a->radius);
        come_to(m, from);
        dt_emit_drop(&m->emit);
        dt_emit_arc(&m->emit, to, dt_point(a->centre[0], a->centre[1]), a->sweep < 0, feed);
        return;
    }
    int n = dt_arc_chords(a);
    for (int i = 1; i <= n; i++) {
        double at[AXES];
        dt_arc_point(a, (double)i / n, at);
        DtPoint next = i < n ? dt_point(at[0], at[1]) : to;
        draw_to(m, from, next, feed);
        from = next;
    }
}

/* Where Z falls or rises within a move, a machine with a Z axis draws part of it. */
static void note_slope(DtMend *m, const DtAction *a, DtPenState before, DtPenState after)
{
    const double least = 0.5; /* mm: less is hardly seen beside the width of a line */
    const double mm = dt_action_length(a);
    if (!dt_reading_goes_by_z(&m->reading, &m->rule) || a->kind == ACT_TRAVERSE ||
        before == after || before == PEN_UNKNOWN || a->to[2] == a->from[2] || mm < least)
        return;
    if (m->slopes.n++ == 0)
        m->slopes.line = m->line;
    m->slopes.mm += mm;
}

/* A move of Z that means a lift: upward motion comes before the move, downward motion after it. */
static void rewrite_motion(DtMend *m, const DtAction *a)
{
    const DtPenState says = dt_reading_action(&m->reading, &m->rule, &m->reader->block, a);
    DtPenState before = m->meant, after = says == PEN_UNKNOWN ? before : says;
    note_slope(m, a, before, after);
    if (after == PEN_UP) {
        m->meant = PEN_UP;
        dt_emit_lift(&m->emit);
    }
    DtPoint from = {a->from[0], a->from[1]}, to = {a->to[0], a->to[1]};
    if (a->kind == ACT_ARC)
        rewrite_arc(m, a);
    else if (dt_mend_moves_xy(a) && dt_mend_draws(m, a) && m->meant == PEN_DOWN)
        draw_to(m, from, to, dt_mend_feed(m, a));
    else if (dt_mend_moves_xy(a))
        travel_to(m, to);
    m->moved |= dt_mend_moves_xy(a);
    if (after == PEN_DOWN) {
        m->meant = PEN_DOWN;
        if (before != PEN_DOWN && !dt_mend_moves_xy(a) && !m->beyond && m->moved) {
            start_safely(m);
            dt_emit_drop(&m->emit);
        }
    }
}

static void rewrite_pause(DtMend *m, const DtAction *a)
{
    if (a->kind == ACT_TOOL) {
        g_autofree char *text = g_strdup_printf("pen %d", a->tool);
        dt_emit_comment(&m->emit, text, strlen(text));
    }
    const char *word = a->kind == ACT_MAY_PAUSE ? "M1" : "M0";
    dt_emit_text(&m->emit, word, strlen(word));
}

void dt_mend_rewrite(DtMend *m, const DtAction *a)
{
    DtPenState state;
    if (dt_mend_is_pen_word(m, a, &state)) {
        m->meant = state;
        m->after_pen = TRUE;
        if (state == PEN_DOWN && !m->beyond && m->moved)
            dt_emit_drop(&m->emit);
        else if (state == PEN_UP)
            dt_emit_lift(&m->emit);
        return;
    }
    switch (a->kind) {
    case ACT_TRAVERSE:
    case ACT_FEED:
    case ACT_ARC:
        m->feeds_lifted |=
            a->kind != ACT_TRAVERSE && m->meant != PEN_DOWN &&
            dt_point_distance(dt_point(a->from[0], a->from[1]), dt_point(a->to[0], a->to[1])) > 0;
        rewrite_motion(m, a);
        break;
    case ACT_DWELL: {
        double seconds = a->seconds * m->words.dwell_unit_s;
        gboolean was_ms = dt_mend_is_in_ms(m, seconds, m->after_pen);
        dt_emit_dwell(&m->emit, was_ms ? MAX(seconds / 1000, m->emit.settle_s) : seconds);
        break;
    }
    case ACT_HOME:
        dt_emit_home(&m->emit);
        break;
    case ACT_PAUSE:
    case ACT_MAY_PAUSE:
    case ACT_TOOL:
        rewrite_pause(m, a);
        break;
    case ACT_END:
        if (m->profile->dialect.program_end && *m->profile->dialect.program_end)
            dt_emit_text(&m->emit, m->profile->dialect.program_end,
                         strcspn(m->profile->dialect.program_end, "\r\n"));
        m->end_told = TRUE;
        break;
    case ACT_SPINDLE:
    case ACT_PEN:
        break;
    }
    m->after_pen = FALSE;
}

/* Actions of a line that stays -------------------------------------------------------------- */

static void follow_motion(DtMend *m, const DtAction *a)
{
    const DtPenState says = dt_reading_action(&m->reading, &m->rule, &m->reader->block, a);
    if (m->rule.kind == LIFT_BY_Z && says != PEN_UNKNOWN)
        m->meant = m->emit.pen = says;
    if (!dt_mend_moves_xy(a) && a->kind != ACT_ARC)
        return;
    m->moved = TRUE;
    if (a->kind != ACT_TRAVERSE && m->meant == PEN_DOWN)
        note_meant(m, a->kind == ACT_ARC ? fabs(a->sweep) * a->radius
                                         : hypot(a->to[0] - a->from[0], a->to[1] - a->from[1]));
    m->emit.at = dt_point(a->to[0], a->to[1]);
    m->beyond = m->outside = FALSE; /* it would not have stayed */
}

void dt_mend_follow(DtMend *m, const DtAction *a)
{
    DtPenState state;
    DtEmit *e = &m->emit;
    m->after_pen = dt_mend_is_pen_word(m, a, &state);
    if (m->after_pen) {
        if (state != e->pen && !(state == PEN_UP && e->pen == PEN_UNKNOWN))
            e->settle_s = state == PEN_DOWN ? m->profile->drop_s : m->profile->lift_s;
        m->meant = e->pen = state;
    } else if (dt_mend_is_motion(a)) {
        follow_motion(m, a);
    } else if (a->kind == ACT_DWELL) {
        e->settle_s -= a->seconds * m->words.dwell_unit_s;
    } else if (a->kind == ACT_HOME) {
        e->homed = TRUE;
        e->at = dt_point(0, 0);
    } else if (a->kind == ACT_END) {
        m->end_told = TRUE;
    }
}

void dt_mend_finish(DtMend *m)
{
    if (!m->end_told)
        prepare_end(m);
    m->end_told = TRUE;
}
