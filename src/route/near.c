/* near: k-d tree and Hilbert order. */
#include "route/near.h"

#include <math.h>
#include <string.h>

#define LEAF 6

/* Building ----------------------------------------------------------------------------------- */

static inline double coordinate(DtPoint p, int axis)
{
    return axis ? p.y : p.x;
}

static void swap(DtNear *t, uint32_t i, uint32_t j)
{
    DtPoint p = t->at[i];
    t->at[i] = t->at[j];
    t->at[j] = p;
    uint32_t k = t->item[i];
    t->item[i] = t->item[j];
    t->item[j] = k;
}

/* Puts the element of rank `k` of [lo,hi) at its place, smaller ones before it (Hoare's FIND). */
static void select_rank(DtNear *t, uint32_t lo, uint32_t hi, uint32_t k, int axis)
{
    while (hi - lo > 1) {
        double a = coordinate(t->at[lo], axis), b = coordinate(t->at[(lo + hi) / 2], axis),
               c = coordinate(t->at[hi - 1], axis);
        double pivot = MAX(MIN(a, b), MIN(MAX(a, b), c));
        uint32_t i = lo, j = hi - 1;
        for (;;) {
            while (coordinate(t->at[i], axis) < pivot)
                i++;
            while (coordinate(t->at[j], axis) > pivot)
                j--;
            if (i >= j)
                break;
            swap(t, i++, j--);
        }
        uint32_t split = j + 1; /* [lo,split) <= pivot <= [split,hi) */
        if (split == hi)
            split--;
        if (k < split)
            hi = split;
        else
            lo = split;
    }
}

static void build(DtNear *t, uint32_t lo, uint32_t hi)
{
    while (hi - lo > LEAF) {
        DtBox box = DT_BOX_EMPTY;
        for (uint32_t i = lo; i < hi; i++) {
            DtPoint p = t->at[i];
            box = (DtBox){MIN(box.x0, p.x), MIN(box.y0, p.y), MAX(box.x1, p.x), MAX(box.y1, p.y)};
        }
        uint32_t mid = lo + (hi - lo) / 2;
        int axis = box.y1 - box.y0 > box.x1 - box.x0;
        select_rank(t, lo, hi, mid, axis);
        t->axis[mid] = (uint8_t)axis;
        build(t, lo, mid);
        lo = mid + 1;
    }
}

void dt_near_init(DtNear *t, const DtPoint *at, const uint32_t *items, uint32_t n)
{
    t->n = n;
    t->at = g_new(DtPoint, n);
    t->item = g_new(uint32_t, n);
    t->axis = g_new0(uint8_t, n);
    for (uint32_t i = 0; i < n; i++) {
        t->item[i] = items ? items[i] : i;
        t->at[i] = at[t->item[i]];
    }
    build(t, 0, n);
}

void dt_near_clear(DtNear *t)
{
    g_free(t->at);
    g_free(t->item);
    g_free(t->axis);
    memset(t, 0, sizeof *t);
}

/* Finding ------------------------------------------------------------------------------------ */

static inline gboolean in_quadrant(const DtNearQuery *q, DtPoint p)
{
    if (q->quadrant < 0)
        return TRUE;
    gboolean left = p.x < q->at.x || (p.x <= q->at.x && p.y > q->at.y);
    gboolean below = p.y < q->at.y || (p.y <= q->at.y && p.x < q->at.x);
    return q->quadrant == (left ? 1 : 0) + (below ? 2 : 0);
}

/* Nothing that is as far as this is of use. */
static inline double limit_of(const DtNearQuery *q)
{
    return q->found == q->k ? q->d2[q->k - 1] : INFINITY;
}

static void accept(DtNearQuery *q, DtPoint p, uint32_t item, double d2)
{
    if (!in_quadrant(q, p) || (q->accept && !q->accept(item, q->user)))
        return;
    unsigned i = q->found < q->k ? q->found++ : q->k - 1;
    for (; i > 0 && q->d2[i - 1] > d2; i--) {
        q->d2[i] = q->d2[i - 1];
        q->item[i] = q->item[i - 1];
    }
    q->d2[i] = d2;
    q->item[i] = item;
}

static inline double square_of(DtPoint d)
{
    return d.x * d.x + d.y * d.y;
}

static inline void offer(const DtNear *t, DtNearQuery *q, uint32_t from, uint32_t to)
{
    const DtPoint *at = t->at, self = q->at;
    double limit = limit_of(q);
    for (uint32_t i = from; i < to; i++) {
        const DtPoint p = at[i];
        const double d2 = square_of(dt_point(p.x - self.x, p.y - self.y));
        if (d2 >= limit)
            continue;
        accept(q, p, t->item[i], d2);
        limit = limit_of(q);
    }
}

/* Whether nothing nearer can be on the other side of a line at the distance `gap`: no point there
 * is nearer than the corner of its cell, which is `away` in each axis (Arya and Mount 1993). The limit
 * of leaves was set for a search that looks at the line only. */
static inline gboolean is_too_far(const DtNearQuery *q, double gap, DtPoint away)
{
    return (q->patience > 0 ? gap * gap : square_of(away)) >= limit_of(q);
}

/* In a cell of the tree that is `away` in each axis, 0 for those that it spans. FALSE once the limit
 * of leaves is reached. */
static gboolean find(const DtNear *t, DtNearQuery *q, uint32_t lo, uint32_t hi, DtPoint away)
{
    const int quadrant = q->quadrant;
    while (hi - lo > LEAF) {
        const uint32_t mid = lo + (hi - lo) / 2;
        const int axis = t->axis[mid];
        const double gap = coordinate(q->at, axis) - coordinate(t->at[mid], axis);
        const gboolean low_first = gap < 0;
        /* A quadrant is entirely on one side of each of the two lines through the query. */
        const gboolean wants_low = quadrant < 0 || (quadrant & (axis ? 2 : 1));
        const gboolean skip_far = quadrant >= 0 && (low_first ? wants_low : !wants_low) && gap != 0;
        if (!(low_first ? find(t, q, lo, mid, away) : find(t, q, mid + 1, hi, away)))
            return FALSE;
        offer(t, q, mid, mid + 1);
        away = axis ? dt_point(away.x, gap) : dt_point(gap, away.y);
        if (skip_far || is_too_far(q, gap, away))
            return TRUE;
        if (low_first)
            lo = mid + 1;
        else
            hi = mid;
    }
    offer(t, q, lo, hi);
    return q->patience == 0 || --q->patience > 0;
}

void dt_near_find(const DtNear *t, DtNearQuery *q)
{
    q->found = 0;
    if (q->k > 0)
        find(t, q, 0, t->n, dt_point(0, 0));
}

/* Hilbert order ------------------------------------------------------------------------------ */

/* Distance along the curve of order 16 (the iterative form of Warren 2012, "Hacker's Delight",
 * chapter 16: rotate and reflect quadrant by quadrant). */
static uint32_t curve_key(uint32_t x, uint32_t y)
{
    uint32_t key = 0;
    for (uint32_t s = 1u << 15; s > 0; s >>= 1) {
        uint32_t rx = (x & s) != 0, ry = (y & s) != 0;
        key = key << 2 | ((3 * rx) ^ ry);
        if (ry == 0) {
            if (rx == 1) {
                x = ~x & 0xffff;
                y = ~y & 0xffff;
            }
            uint32_t w = x;
            x = y;
            y = w;
        }
    }
    return key;
}

/* One pass of a stable radix sort by 11 bits of the key. */
static void radix_pass(const uint64_t *from, uint64_t *to, uint32_t n, unsigned shift)
{
    uint32_t start[2049] = {0};
    for (uint32_t i = 0; i < n; i++)
        start[(from[i] >> shift & 2047) + 1]++;
    for (unsigned b = 0; b < 2048; b++)
        start[b + 1] += start[b];
    for (uint32_t i = 0; i < n; i++)
        to[start[from[i] >> shift & 2047]++] = from[i];
}

void dt_near_curve(const DtPoint *at, uint32_t n, uint32_t *order)
{
    DtBox box = DT_BOX_EMPTY;
    for (uint32_t i = 0; i < n; i++)
        box = (DtBox){MIN(box.x0, at[i].x), MIN(box.y0, at[i].y), MAX(box.x1, at[i].x),
                      MAX(box.y1, at[i].y)};
    double side = MAX(box.x1 - box.x0, box.y1 - box.y0);
    double scale = side > 0 ? 65535 / side : 0;
    g_autofree uint64_t *a = g_new(uint64_t, n), *b = g_new(uint64_t, n);
    for (uint32_t i = 0; i < n; i++) {
        uint32_t x = (uint32_t)((at[i].x - box.x0) * scale);
        uint32_t y = (uint32_t)((at[i].y - box.y0) * scale);
        a[i] = (uint64_t)curve_key(MIN(x, 65535), MIN(y, 65535)) << 32 | i;
    }
    radix_pass(a, b, n, 32);
    radix_pass(b, a, n, 43);
    radix_pass(a, b, n, 54);
    for (uint32_t i = 0; i < n; i++)
        order[i] = (uint32_t)b[i];
}
