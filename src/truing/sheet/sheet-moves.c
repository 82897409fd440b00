/* sheet-moves: the marks of a sheet to what the drives must do. The drives go exactly where the marks
 * say; the profile is asked for the travel, the pace and the pens alone. */
#include "drawtrue/code.h"
#include "drawtrue/truing.h"
#include "drawtrue/work.h"

#include <math.h>

typedef struct {
    const DtTestSheet *sheet;
    const DtProfile *p;
    DtCost cost;
    DtCarriage carriage; /* where the profile takes it to be */
    DtPoint drive;       /* commanded mm */
    int way[2];          /* in which each axis was driven last */
    DtMoves *out;
    uint16_t pen;
    size_t mark;   /* at hand */
    size_t stroke; /* the first mark of those drawn without a lift */
} Hand;

static void put(Hand *h, DtMoveKind kind, double feed_mm_s, float wait_s)
{
    const DtPoint ink = dt_carriage_ink(&h->carriage, h->carriage.at);
    const DtMove m = {.kind = kind,
                      .to = h->drive,
                      .ink = dt_point_add(ink, h->p->rack.pens[h->pen].offset),
                      .feed_mm_s = feed_mm_s,
                      .pen = h->pen,
                      .wait_s = wait_s,
                      .polyline = h->stroke};
    dt_moves_append(h->out, &m);
}

static gboolean within_travel(const DtProfile *p, DtPoint at)
{
    const double slop = 1e-9;
    return at.x >= -slop && at.y >= -slop && at.x <= p->travel[0] + slop &&
           at.y <= p->travel[1] + slop;
}

static int sign(double v)
{
    return (v > 0) - (v < 0);
}

/* Speed test ------------------------------------------------------------------------------------- */

/* Such a sheet makes its ramps itself, as chains of short pieces of rising feed, since the controller's
 * limits lie above all that it tries: at them its own fastest travel would lose steps. */
typedef struct {
    double start, top, acceleration; /* mm/s, mm/s^2 */
    int pieces;                      /* of equal gain in speed, and so of equal time */
} Ramp;

/* Pieces so fine that their steps of speed are small against a pull-in rate, and so coarse that a line on
 * the wire does not take longer than a piece, beyond what a short queue holds. */
static Ramp make_ramp(double start, double top, double acceleration, double most_mm)
{
    const double fine_mm_s = 0.8, line_s = 0.004, most_pieces = 40, long_mm = 2;
    const double queue = most_mm > long_mm ? 12 : 2;
    const double least_top = MIN(start, top);
    Ramp r = {least_top, top, acceleration, 1};
    if (acceleration <= 0)
        return r;
    r.top = MAX(MIN(top, sqrt(start * start + 2 * acceleration * most_mm)), least_top);
    const double gain = r.top - r.start;
    const double most = MIN(queue + gain / acceleration / line_s, most_pieces);
    r.pieces = (int)CLAMP(ceil(gain / fine_mm_s), 1, most);
    return r;
}

/* Speed at the beginning of piece `i`. */
static double ramp_speed(const Ramp *r, int i)
{
    return r->start + (r->top - r->start) * i / r->pieces;
}

/* From its start to the beginning of piece `i`: v^2 = v0^2 + 2 a s. */
static double ramp_mm(const Ramp *r, int i)
{
    const double v = ramp_speed(r, i);
    return r->acceleration > 0 ? (v * v - r->start * r->start) / (2 * r->acceleration) : 0;
}

static double ramp_feed(const Ramp *r, int i)
{
    return (ramp_speed(r, i) + ramp_speed(r, i + 1)) / 2;
}

static void put_piece(Hand *h, DtPoint to, double feed_mm_s)
{
    h->drive = to;
    dt_carriage_drive(&h->carriage, to);
    put(h, DT_MOVE_TRAVEL, feed_mm_s, 0);
}

/* Pen up, up to `top` and down to `start` again. */
static void travel_on_ramps(Hand *h, DtPoint to, double start, double top, double acceleration)
{
    const DtPoint from = h->drive;
    const double way = dt_point_distance(from, to);
    const Ramp r = make_ramp(start, top, acceleration, way / 2);
    const double ramp = ramp_mm(&r, r.pieces);
    for (int i = 0; i < r.pieces && ramp > 0; i++)
        put_piece(h, dt_point_lerp(from, to, ramp_mm(&r, i + 1) / way), ramp_feed(&r, i));
    if (way - 2 * ramp > 1e-6)
        put_piece(h, dt_point_lerp(from, to, (way - ramp) / way), r.top);
    for (int i = r.pieces - 1; i >= 0 && ramp > 0; i--)
        put_piece(h, dt_point_lerp(from, to, (way - ramp_mm(&r, i)) / way), ramp_feed(&r, i));
}

/* From a start at `start`, mm/s, over the first `s` mm: v^2 = v0^2 + 2 a s. */
static double time_over(double s, double start, double top, double acceleration)
{
    const double ramp = (top * top - start * start) / (2 * acceleration);
    if (s > ramp)
        return (top - start) / acceleration + (s - ramp) / top;
    return (sqrt(start * start + 2 * acceleration * s) - start) / acceleration;
}

static double way_within(double t, double start, double top, double acceleration)
{
    const double ramp_s = (top - start) / acceleration, on = MIN(t, ramp_s);
    return start * on + acceleration * on * on / 2 + MAX(t - ramp_s, 0) * top;
}

/* At one speed to where the next piece is slower. A controller may begin to slow down some milliseconds too early,
 * but not before the last line: this is a short one. */
static void put_level(Hand *h, DtPoint to, double time_s, double step_mm)
{
    const double last_steps = 0.2, way = dt_point_distance(h->drive, to);
    if (way > 2 * last_steps * step_mm)
        put_piece(h, dt_point_lerp(to, h->drive, last_steps * step_mm / way), way / time_s);
    put_piece(h, to, way / time_s);
}

/* A way of a few steps takes as long as one with a ramp up and down would, and its first and last step come
 * when they would: whether a rotor swings depends on little else. A chain of fine pieces takes longer, for
 * a controller need not reach the speed of a piece that lasts a few milliseconds. So these are one piece or
 * three, each at one speed, which begin and end a part of a step outside the way. */
static void turn_on_steps(Hand *h, const DtMark *m, double step_mm)
{
    const double piece_s = 0.0055, most_over = 0.4, written_mm = 0.001;
    const double way = dt_point_distance(m->from, m->to), top = m->feed_mm_s;
    const double start = MIN(m->start_mm_s / 2, top), a = m->acceleration_mm_s2;
    const double half_s = time_over(way / 2, start, top, a);
    const gboolean even = 2 * half_s < 3 * piece_s;
    const double end_s = even ? half_s : 2 * half_s / 3;
    const double end_mm = even ? way / 2 : way_within(end_s, start, top, a);
    const double first =
        time_over(step_mm / 2, start, top, a) / end_s; /* share of the first piece */
    double over =
        first < 1 ? CLAMP((first * end_mm - step_mm / 2) / (1 - first), 0, most_over * step_mm) : 0;
    over = floor(over / written_mm) *
           written_mm; /* or the way would not be as long as its time is for */
    const DtPoint end = dt_point_lerp(m->from, m->to, 1 + over / way);
    if (even) {
        put_level(h, end, 2 * half_s, step_mm);
        return;
    }
    const DtPoint up = dt_point_lerp(m->from, m->to, end_mm / way);
    put_piece(h, up, dt_point_distance(h->drive, up) / end_s);
    put_level(h, dt_point_lerp(m->to, m->from, end_mm / way), 2 * (half_s - end_s), step_mm);
    put_level(h, end, end_s, step_mm);
}

static void travel_gently(Hand *h, DtPoint to)
{
    const double share = 0.5, speed_share = 0.8;
    const DtProfile *p = h->p;
    travel_on_ramps(h, to, share * MIN(p->pull_in[0], p->pull_in[1]),
                    speed_share * MIN(p->speed[0], p->speed[1]),
                    share * MIN(p->acceleration[0], p->acceleration[1]));
}

static gboolean check_travel(const Hand *h, DtPoint to, GError **error)
{
    if (within_travel(h->p, to))
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "mark %zu of the sheet needs x %.2f, y %.2f mm, and the machine travels from 0 to "
                "%g mm and from 0 to %g mm",
                h->mark + 1, to.x, to.y, h->p->travel[0], h->p->travel[1]);
    return FALSE;
}

static gboolean go(Hand *h, DtMoveKind kind, DtPoint to, double feed_mm_s, GError **error)
{
    if (!check_travel(h, to, error))
        return FALSE;
    if (to.x == h->drive.x && to.y == h->drive.y)
        return TRUE;
    h->way[0] = to.x != h->drive.x ? sign(to.x - h->drive.x) : h->way[0];
    h->way[1] = to.y != h->drive.y ? sign(to.y - h->drive.y) : h->way[1];
    if (kind == DT_MOVE_TRAVEL && (h->sheet->kinds & DT_SHEET_SPEED)) {
        travel_gently(h, to);
        return TRUE;
    }
    h->drive = to;
    dt_carriage_drive(&h->carriage, to);
    put(h, kind, feed_mm_s, 0);
    return TRUE;
}

static gboolean change_pen(Hand *h, uint16_t pen, GError **error)
{
    if (pen >= h->p->rack.n) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "mark %zu of the sheet wants pen %u of a rack of %zu", h->mark + 1, pen + 1u,
                    h->p->rack.n);
        return FALSE;
    }
    if (pen == h->pen)
        return TRUE;
    if (!go(h, DT_MOVE_TRAVEL, h->p->change_at, 0, error))
        return FALSE;
    h->pen = pen;
    put(h, DT_MOVE_PEN_CHANGE, 0, 0);
    return TRUE;
}

/* To the mark's beginning, each axis with an approach coming from that side with its slack taken up. An
 * axis that came the same way before the last mark and would not turn round on the way to this one goes
 * on to the mark first: each mark has a reversal of its own. */
static gboolean approach(Hand *h, const DtMark *m, GError **error)
{
    const double from[2] = {m->from.x, m->from.y}, drive[2] = {h->drive.x, h->drive.y};
    const double over = m->needs_no_reversal ? 0 : h->sheet->overrun;
    double past[2], back[2];
    for (int i = 0; i < 2; i++) {
        const int way = m->approach[i];
        back[i] = from[i] - way * over;
        const gboolean turns = way == 0 || h->way[i] != way || (back[i] - drive[i]) * way < 0;
        past[i] = turns ? back[i] : from[i];
    }
    return go(h, DT_MOVE_TRAVEL, dt_point(past[0], past[1]), 0, error) &&
           go(h, DT_MOVE_TRAVEL, dt_point(back[0], back[1]), 0, error) &&
           go(h, DT_MOVE_TRAVEL, m->from, 0, error);
}

/* Whether the mark goes on where the one before ends. */
static gboolean is_joined(const DtMark *before, const DtMark *m)
{
    return before->kind == m->kind && before->part == m->part && before->row == m->row &&
           before->pen == m->pen && m->approach[0] == 0 && m->approach[1] == 0 &&
           before->to.x == m->from.x && before->to.y == m->from.y;
}

static gboolean begin_stroke(Hand *h, const DtMark *m, GError **error)
{
    if (h->mark > 0 && is_joined(m - 1, m))
        return TRUE;
    h->stroke = h->mark;
    if (!change_pen(h, m->pen, error) || !approach(h, m, error))
        return FALSE;
    put(h, DT_MOVE_PEN_DOWN, m->drop_word, (float)m->drop_s);
    return TRUE;
}

static gboolean draw(Hand *h, const DtMark *m, GError **error)
{
    const double usual = dt_route_speed_along(&h->cost, dt_point_sub(m->to, m->from));
    if (!begin_stroke(h, m, error) ||
        !go(h, DT_MOVE_DRAW, m->to, m->feed_mm_s > 0 ? m->feed_mm_s : usual, error))
        return FALSE;
    if (h->mark + 1 == h->sheet->n || !is_joined(m, m + 1))
        put(h, DT_MOVE_PEN_UP, 0, (float)m->lift_s);
    return TRUE;
}

static void home(Hand *h)
{
    h->drive = dt_point(0, 0);
    h->way[0] = h->way[1] = 1;
    dt_carriage_init(&h->carriage, h->p);
    put(h, DT_MOVE_HOME, 0, 0);
}

static gboolean run(Hand *h, const DtMark *m, GError **error)
{
    const double most_steps = 30.5, step_mm = 1 / h->p->steps_per_mm[m->axis];
    const gboolean there = dt_point_distance(h->drive, m->from) < step_mm / 2;
    if ((!there && !go(h, DT_MOVE_TRAVEL, m->from, 0, error)) || !check_travel(h, m->to, error))
        return FALSE;
    h->way[0] = m->to.x != h->drive.x ? sign(m->to.x - h->drive.x) : h->way[0];
    h->way[1] = m->to.y != h->drive.y ? sign(m->to.y - h->drive.y) : h->way[1];
    /* an axis that turns round jumps from one half to the other */
    if (dt_point_distance(m->from, m->to) < most_steps * step_mm)
        turn_on_steps(h, m, step_mm);
    else
        travel_on_ramps(h, m->to, m->start_mm_s / 2, m->feed_mm_s, m->acceleration_mm_s2);
    return TRUE;
}

static gboolean pause_for_turn(Hand *h, GError **error)
{
    if (!go(h, DT_MOVE_TRAVEL, h->p->change_at, 0, error))
        return FALSE;
    put(h, DT_MOVE_TURN_PAPER, 0, 0);
    return TRUE;
}

static gboolean take(Hand *h, const DtMark *m, GError **error)
{
    switch (m->kind) {
    case DT_MARK_HOME:
        if ((m->from.x != 0 || m->from.y != 0) && !go(h, DT_MOVE_TRAVEL, m->from, 0, error))
            return FALSE;
        home(h);
        return TRUE;
    case DT_MARK_RUN:
        return run(h, m, error);
    case DT_MARK_PAUSE:
        return pause_for_turn(h, error);
    default:
        return draw(h, m, error);
    }
}

static gboolean take_all(Hand *h, GError **error)
{
    put(h, DT_MOVE_PEN_UP, 0, 0);
    home(h);
    for (h->mark = 0; h->mark < h->sheet->n; h->mark++)
        if (!dt_work_check(error) || !take(h, &h->sheet->marks[h->mark], error))
            return FALSE;
    if (!go(h, DT_MOVE_TRAVEL, h->p->park, 0, error))
        return FALSE;
    put(h, DT_MOVE_END, 0, 0);
    return TRUE;
}

gboolean dt_sheet_moves(const DtTestSheet *s, const DtProfile *p, DtMoves *out, GError **error)
{
    Hand h = {.sheet = s, .p = p, .cost = dt_profile_cost(p), .out = out};
    dt_moves_clear(out);
    if (s->n > 0)
        h.pen = MIN(s->marks[0].pen, (uint16_t)(p->rack.n - 1));
    if (take_all(&h, error))
        return TRUE;
    dt_moves_clear(out);
    return FALSE;
}

char *dt_sheet_write(const DtTestSheet *s, const DtProfile *p, gsize *len, GError **error)
{
    g_auto(DtMoves) moves = {0};
    const DtWriteOptions o = {.tries_limits = (s->kinds & (DT_SHEET_SETTLE | DT_SHEET_SPEED)) != 0};
    return dt_sheet_moves(s, p, &moves, error) ? dt_code_write_as(p, &moves, &o, len, error) : NULL;
}
