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

/* The controller's limits lie above all that a speed test tries: its own fastest travel would lose steps.
 * Pen up, such a sheet makes gentle ramps itself, as chains of short pieces. */
static void travel_gently(Hand *h, DtPoint to)
{
    enum { PIECES = 16 };
    const double share = 0.5;
    const DtProfile *p = h->p;
    const DtPoint from = h->drive;
    const double way = dt_point_distance(from, to);
    const double start = share * MIN(p->pull_in[0], p->pull_in[1]);
    const double top = share * MIN(p->speed[0], p->speed[1]);
    const double a = share * MIN(p->acceleration[0], p->acceleration[1]);
    const double ramp = MIN(MAX(top * top - start * start, 0) / (2 * a), way / 2);
    for (int i = 1; i <= 2 * PIECES + 1; i++) {
        const double end = i <= PIECES       ? ramp * i / PIECES
                           : i == PIECES + 1 ? way - ramp
                                             : way - ramp * (2 * PIECES + 1 - i) / PIECES;
        const double slower = i <= PIECES       ? ramp * (i - 1) / PIECES
                              : i == PIECES + 1 ? ramp
                                                : way - end;
        h->drive = i == 2 * PIECES + 1 ? to : dt_point_lerp(from, to, end / way);
        dt_carriage_drive(&h->carriage, h->drive);
        put(h, DT_MOVE_TRAVEL, sqrt(start * start + 2 * a * slower), 0);
    }
}

static gboolean go(Hand *h, DtMoveKind kind, DtPoint to, double feed_mm_s, GError **error)
{
    if (!within_travel(h->p, to)) {
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "mark %zu of the sheet needs x %.2f, y %.2f mm, and the machine travels from 0 to "
            "%g mm and from 0 to %g mm",
            h->mark + 1, to.x, to.y, h->p->travel[0], h->p->travel[1]);
        return FALSE;
    }
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
    put(h, DT_MOVE_PEN_DOWN, 0, (float)m->drop_s);
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
        home(h);
        return TRUE;
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
