/* lower bound: groups of strokes that touch, their runs, their travel and their ink. */
#include "lower-bound.h"
#include "turning.h"

#include <math.h>
#include <string.h>

/* Ink in bits no longer than half a cell of the grid, so that neighbours are found in nine cells.
 */
typedef struct {
    DtPoint a, b;
    uint32_t stroke, next; /* in the same cell */
} Bit;

/* A part of a stroke: a run may begin anywhere on it, since strokes may be cut. */
typedef struct {
    DtBox box; /* commanded mm: what the drives go, lost motion apart */
    uint32_t stroke;
    double hop_s; /* from the tree grown so far */
} Door;

typedef struct {
    const DtProfile *p;
    const DtStrokes *strokes;
    DtCost cost;
    double join;
    unsigned pen;
    uint32_t *group;  /* of each stroke: union-find by halving */
    GArray *bits;     /* Bit */
    GHashTable *cell; /* of its first bit */
    double cell_mm;
} Bound;

#define NONE G_MAXUINT32

static const DtStroke *stroke_of(const Bound *b, size_t i)
{
    return &b->strokes->strokes[i];
}

/* An open stroke that ends where it begins is a loop, too. */
static gboolean is_loop(const Bound *b, size_t i)
{
    const DtStroke *s = stroke_of(b, i);
    const DtPoint *p = b->strokes->pts + s->first;
    return s->n > 1 && (s->closed || (p[0].x == p[s->n - 1].x && p[0].y == p[s->n - 1].y));
}

/* Points; of a loop, the first one once. */
static size_t count_of(const Bound *b, size_t i)
{
    return stroke_of(b, i)->n - (is_loop(b, i) && !stroke_of(b, i)->closed ? 1 : 0);
}

static DtPoint point_of(const Bound *b, size_t i, size_t k)
{
    return b->strokes->pts[stroke_of(b, i)->first + k % count_of(b, i)];
}

static size_t edges_of(const Bound *b, size_t i)
{
    return count_of(b, i) - (is_loop(b, i) ? 0 : 1);
}

static gboolean is_drawn(const Bound *b, size_t i)
{
    return stroke_of(b, i)->pen == b->pen && stroke_of(b, i)->n > 0;
}

static uint32_t group_of(Bound *b, uint32_t i)
{
    while (b->group[i] != i)
        i = b->group[i] = b->group[b->group[i]];
    return i;
}

/* Grid --------------------------------------------------------------------------------------- */

static gpointer key_of(double x, double y)
{
    return GSIZE_TO_POINTER((gsize)((gint64)x * 1000003 + (gint64)y));
}

static double cell_at(const Bound *b, double v)
{
    return floor(v / b->cell_mm);
}

static void add_bit(Bound *b, uint32_t stroke, DtPoint p, DtPoint q)
{
    gpointer key = key_of(cell_at(b, (p.x + q.x) / 2), cell_at(b, (p.y + q.y) / 2)), first;
    Bit bit = {p, q, stroke, NONE};
    if (g_hash_table_lookup_extended(b->cell, key, NULL, &first))
        bit.next = GPOINTER_TO_UINT(first);
    g_hash_table_insert(b->cell, key, GUINT_TO_POINTER(b->bits->len));
    g_array_append_val(b->bits, bit);
}

static void cut_stroke(Bound *b, uint32_t i)
{
    if (edges_of(b, i) == 0)
        add_bit(b, i, point_of(b, i, 0), point_of(b, i, 0));
    for (size_t k = 0; k < edges_of(b, i); k++) {
        DtPoint p = point_of(b, i, k), q = point_of(b, i, k + 1);
        size_t n = 1 + (size_t)(2 * dt_point_distance(p, q) / b->cell_mm);
        for (size_t j = 0; j < n; j++)
            add_bit(b, i, dt_point_lerp(p, q, (double)j / (double)n),
                    dt_point_lerp(p, q, (double)(j + 1) / (double)n));
    }
}

typedef void (*Meeting)(Bound *b, const Bit *other, void *user);

/* Calls back for every bit whose middle lies in the nine cells around a place. */
static void each_near(Bound *b, DtPoint at, Meeting met, void *user)
{
    for (int dx = -1; dx <= 1; dx++)
        for (int dy = -1; dy <= 1; dy++) {
            gpointer first, key = key_of(cell_at(b, at.x) + dx, cell_at(b, at.y) + dy);
            if (!g_hash_table_lookup_extended(b->cell, key, NULL, &first))
                continue;
            for (uint32_t i = GPOINTER_TO_UINT(first); i != NONE;) {
                const Bit *other = &g_array_index(b->bits, Bit, i);
                met(b, other, user);
                i = other->next;
            }
        }
}

static gboolean cross(DtPoint a, DtPoint b, DtPoint c, DtPoint d)
{
    DtPoint u = dt_point_sub(b, a), v = dt_point_sub(d, c);
    return dt_point_cross(u, dt_point_sub(c, a)) * dt_point_cross(u, dt_point_sub(d, a)) <= 0 &&
           dt_point_cross(v, dt_point_sub(a, c)) * dt_point_cross(v, dt_point_sub(b, c)) <= 0;
}

static double apart(const Bit *x, const Bit *y)
{
    if (cross(x->a, x->b, y->a, y->b))
        return 0;
    return MIN(MIN(dt_point_segment_distance(x->a, y->a, y->b),
                   dt_point_segment_distance(x->b, y->a, y->b)),
               MIN(dt_point_segment_distance(y->a, x->a, x->b),
                   dt_point_segment_distance(y->b, x->a, x->b)));
}

/* Groups ------------------------------------------------------------------------------------- */

/* Cut anywhere and gone back over, whatever touches can be drawn in one go. */
static void meet_bit(Bound *b, const Bit *other, void *user)
{
    const Bit *bit = user;
    if (group_of(b, bit->stroke) != group_of(b, other->stroke) && apart(bit, other) <= b->join)
        b->group[group_of(b, bit->stroke)] = group_of(b, other->stroke);
}

static void group_strokes(Bound *b)
{
    double total = 0;
    for (uint32_t i = 0; i < b->strokes->n; i++)
        total += is_drawn(b, i) ? dt_strokes_length(b->strokes, i) : 0;
    b->cell_mm = MAX(MAX(1, 4 * b->join), total / 5e6);
    for (uint32_t i = 0; i < b->strokes->n; i++)
        if (is_drawn(b, i))
            cut_stroke(b, i);
    for (guint k = 0; k < b->bits->len; k++) {
        Bit bit = g_array_index(b->bits, Bit, k);
        each_near(b, dt_point_lerp(bit.a, bit.b, 0.5), meet_bit, &bit);
    }
}

typedef struct {
    size_t strokes, loops;
    GArray *lacks;
} Group;

/* Travel ------------------------------------------------------------------------------------- */

/* By so much the ink may be missed along an axis: the tolerance, and what rounding to steps adds. */
static double missed_mm(const DtProfile *p, int axis)
{
    return p->ink_tolerance / p->scale[axis] + 1.5 / p->steps_per_mm[axis];
}

/* Both ends of a hop may miss the ink. */
static double gap(const Bound *b, int axis, double a0, double a1, double b0, double b1)
{
    return MAX(0, MAX(b0 - a1, a0 - b1) - 2 * missed_mm(b->p, axis));
}

static DtBox commanded(const Bound *b, DtBox box, DtPoint at)
{
    return dt_box_add_point(box, dt_machine_command(b->p, at));
}

static double hop_s(const Bound *b, DtBox x, DtBox y)
{
    return dt_route_move_s(
        &b->cost, dt_point(0, 0),
        dt_point(gap(b, 0, x.x0, x.x1, y.x0, y.x1), gap(b, 1, x.y0, x.y1, y.y0, y.y1)));
}

static void add_door(GArray *doors, uint32_t stroke, DtBox box)
{
    Door d = {box, stroke, G_MAXDOUBLE};
    g_array_append_val(doors, d);
}

static void add_edge_doors(const Bound *b, GArray *doors, uint32_t stroke, size_t edge,
                           double most_mm)
{
    const DtPoint p = point_of(b, stroke, edge), q = point_of(b, stroke, edge + 1);
    const size_t n = 1 + (size_t)(dt_point_distance(p, q) / most_mm);
    for (size_t k = 0; k < n; k++) {
        const DtBox box = commanded(b, DT_BOX_EMPTY, dt_point_lerp(p, q, (double)k / (double)n));
        add_door(doors, stroke,
                 commanded(b, box, dt_point_lerp(p, q, (double)(k + 1) / (double)n)));
    }
}

/* Parts with enough points that there are not too many doors, and where there are few points, of edges cut
 * short, so that the boxes hug the strokes. */
static GArray *find_doors(const Bound *b)
{
    enum { MOST = 6000 };
    size_t points = 0;
    double ink = 0;
    for (uint32_t i = 0; i < b->strokes->n; i++) {
        points += is_drawn(b, i) ? count_of(b, i) : 0;
        ink += is_drawn(b, i) ? dt_strokes_length(b->strokes, i) : 0;
    }
    const size_t part = points / (MOST / 2) + 1;
    const double most_mm = MAX(0.5, ink / (MOST / 2));
    GArray *doors = g_array_new(FALSE, FALSE, sizeof(Door));
    for (uint32_t i = 0; i < b->strokes->n; i++) {
        const size_t edges = is_drawn(b, i) ? edges_of(b, i) : 0;
        if (is_drawn(b, i) && edges == 0)
            add_door(doors, i, commanded(b, DT_BOX_EMPTY, point_of(b, i, 0)));
        for (size_t k = 0; k < edges; k += part) {
            DtBox box = DT_BOX_EMPTY;
            const size_t last = MIN(k + part, edges);
            if (last == k + 1) {
                add_edge_doors(b, doors, i, k, most_mm);
                continue;
            }
            for (size_t j = k; j <= last; j++)
                box = commanded(b, box, point_of(b, i, j));
            add_door(doors, i, box);
        }
    }
    return doors;
}

static double nearest_s(const Bound *b, const GArray *doors, DtPoint from)
{
    double least = G_MAXDOUBLE;
    double lost[2] = {0};
    for (int axis = 0; axis < 2; axis++) /* the carriage stands there, or its drive does */
        for (size_t k = 0; k < b->p->backlash[axis].n; k++)
            lost[axis] = MAX(lost[axis], b->p->backlash[axis].value[k] / b->p->scale[axis]);
    const DtBox place = {from.x - lost[0], from.y - lost[1], from.x + lost[0], from.y + lost[1]};
    for (guint i = 0; i < doors->len; i++)
        least = MIN(least, hop_s(b, place, g_array_index(doors, Door, i).box));
    return doors->len > 0 ? least : 0;
}

/* Prim 1957, over the groups. */
static double spanning_s(Bound *b, GArray *doors)
{
    if (doors->len == 0)
        return 0;
    Door *d = (Door *)(void *)doors->data, latest = d[0];
    double sum = 0;
    d[0] = d[doors->len - 1];
    for (guint left = doors->len - 1; left > 0; left--) {
        guint next = 0;
        uint32_t of_latest = group_of(b, latest.stroke);
        for (guint i = 0; i < left; i++) {
            double s = group_of(b, d[i].stroke) == of_latest ? 0 : hop_s(b, latest.box, d[i].box);
            d[i].hop_s = MIN(d[i].hop_s, s);
            if (d[i].hop_s < d[next].hop_s)
                next = i;
        }
        sum += d[next].hop_s;
        latest = d[next];
        d[next] = d[left - 1];
    }
    return sum;
}

/* Ink ---------------------------------------------------------------------------------------- */

/* From anywhere near one point to anywhere near another, at full speed. */
static double passage_s(const Bound *b, const TurningPoint *from, const TurningPoint *to)
{
    double s = 0;
    for (int i = 0; i < 2; i++)
        s = MAX(s, (fabs(to->v[i] - from->v[i]) - 2 * missed_mm(b->p, i)) / b->p->speed[i]);
    return s;
}

/* The ink's time at full speed, near points that are some way apart and any way in between. */
static double straight_s(const Bound *b, const TurningPoint *at, size_t n)
{
    const double apart_mm = 1.5;
    double sum = 0;
    size_t from = 0;
    for (size_t k = 1; k < n; k++) {
        const double mm = hypot(at[k].v[0] - at[from].v[0], at[k].v[1] - at[from].v[1]);
        if (mm < apart_mm && k + 1 < n)
            continue;
        sum += passage_s(b, &at[from], &at[k]);
        from = k;
    }
    return sum;
}

static TurningAxis axis_of(const DtProfile *p, int i)
{
    return (TurningAxis){p->speed[i],     p->acceleration[i], p->pull_in[i],
                         missed_mm(p, i), &p->backlash[i],    p->scale[i]};
}

/* Time at full speed; what the turns lack beyond that is added to the group's. */
static double ink_s(const Bound *b, uint32_t i, Group *group)
{
    size_t n = edges_of(b, i) + 1;
    g_autofree TurningPoint *at = g_new(TurningPoint, n);
    g_autofree double *sum = g_new0(double, n);
    for (size_t k = 0; k < n; k++) {
        DtPoint c = dt_machine_command(b->p, point_of(b, i, k));
        at[k] = (TurningPoint){{c.x, c.y}};
        if (k == 0)
            continue;
        DtPoint d = dt_point(c.x - at[k - 1].v[0], c.y - at[k - 1].v[1]);
        double v = dt_route_speed_along(&b->cost, d);
        sum[k] = sum[k - 1] + (v > 0 ? hypot(d.x, d.y) / v : 0);
    }
    TurningWay w = {.at = at, .ink_s = sum, .n = n, .axis = {axis_of(b->p, 0), axis_of(b->p, 1)}};
    turning_lacks(&w, group->lacks);
    return straight_s(b, at, n);
}

static gint dearest_first(gconstpointer x, gconstpointer y)
{
    double a = *(const double *)x, b = *(const double *)y;
    return (a < b) - (a > b);
}

/* Where strokes touch, the pen may pass from one to another and not turn; a stroke alone may be cut at a
 * turn, for a lift; and a loop saves two legs by its own start. */
static double sum_lacks(const Bound *b, const Group *g)
{
    const double lift_s = b->p->lift_s + b->p->drop_s;
    double sum = 0;
    if (g->strokes > 1)
        return 0;
    g_array_sort(g->lacks, dearest_first);
    for (size_t i = 2 * g->loops; i < g->lacks->len; i++)
        sum += MIN(g_array_index(g->lacks, double, i), lift_s);
    return sum;
}

/* Sum ---------------------------------------------------------------------------------------- */

static void add_pen(Bound *b, LowerBound *sum)
{
    size_t n = b->strokes->n;
    for (uint32_t i = 0; i < n; i++)
        b->group[i] = i;
    g_array_set_size(b->bits, 0);
    g_hash_table_remove_all(b->cell);
    group_strokes(b);
    g_autofree Group *groups = g_new0(Group, n);
    for (uint32_t i = 0; i < n; i++) {
        if (!is_drawn(b, i))
            continue;
        Group *g = &groups[group_of(b, i)];
        if (!g->lacks)
            g->lacks = g_array_new(FALSE, FALSE, sizeof(double));
        g->strokes++;
        g->loops += is_loop(b, i) ? 1 : 0;
        sum->straight_s += ink_s(b, i, g);
    }
    for (size_t i = 0; i < n; i++) {
        sum->runs += groups[i].strokes > 0; /* whatever touches is drawn in one go */
        if (groups[i].lacks) {
            sum->turning_s += sum_lacks(b, &groups[i]);
            g_array_unref(groups[i].lacks);
        }
    }
}

static gboolean has_ink(const Bound *b)
{
    for (size_t i = 0; i < b->strokes->n; i++)
        if (is_drawn(b, i))
            return TRUE;
    return FALSE;
}

LowerBound lower_bound(const DtProfile *p, const DtStrokes *strokes, double join, DtPoint start,
                       DtPoint change_at)
{
    size_t n = MAX(strokes->n, 1);
    Bound b = {.p = p,
               .strokes = strokes,
               .cost = dt_profile_cost(p),
               .join = join,
               .group = g_new(uint32_t, n),
               .bits = g_array_new(FALSE, FALSE, sizeof(Bit)),
               .cell = g_hash_table_new(NULL, NULL)};
    LowerBound sum = {0};
    size_t pens = 0;
    double first_s = G_MAXDOUBLE, last_s = G_MAXDOUBLE; /* more than by way of the change place */
    for (b.pen = 0; b.pen < p->rack.n; b.pen++) {
        if (!has_ink(&b))
            continue;
        pens++;
        add_pen(&b, &sum);
        g_autoptr(GArray) doors = find_doors(&b);
        double from_start = nearest_s(&b, doors, start),
               from_change = nearest_s(&b, doors, change_at);
        sum.travel_s += 2 * from_change + spanning_s(&b, doors);
        first_s = MIN(first_s, from_start - from_change);
        last_s = MIN(last_s, from_start - from_change);
    }
    if (pens > 0)
        sum.travel_s += first_s + last_s;
    sum.lift_s = (double)sum.runs * (p->lift_s + p->drop_s);
    sum.sum_s = sum.straight_s + sum.turning_s + sum.travel_s + sum.lift_s;
    g_array_unref(b.bits);
    g_hash_table_unref(b.cell);
    g_free(b.group);
    return sum;
}
