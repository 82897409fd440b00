/* edge-rows: edges that cross the rows, some rows at a time, sorted along each. */
#include "ink/look/edge-rows.h"

#include "drawtrue/work.h"
#include "ink/plane/radix.h"

#include <math.h>
#include <stdlib.h>

/* Rows that are taken together. */
enum { BAND = 64 };
/* Crossings nearer than this, mm, are at one place: regions are on a grid of about a thousandth. */
#define ONE_PLACE 0.002

typedef struct {
    double at;
    float edge;
    int32_t row, paint;
    int enters; /* 1: the paint begins there, -1: it ends */
} Crossing;

/* A ring, and the rows that it crosses. */
typedef struct {
    int paint, first, end;
    size_t ring;
    double weight;
} Ring;

typedef struct {
    const DtScan *s;
    int first, end; /* rows */
    GArray *out;    /* Crossing */
} Band;

double dt_scan_ring_weight(const DtLines *l, size_t ring, double tip)
{
    const double length = dt_lines_length(l, ring), least = G_PI / 2 * tip;
    return length > 0 && length < least ? least / length : 1;
}

static DtPoint turned(const DtScan *s, DtPoint p)
{
    return s->upright ? (DtPoint){p.y, p.x} : p;
}

/* A row belongs to an edge from its lower end on, up to below its upper one. */
static int first_row(const DtScan *s, double y)
{
    const double from = s->upright ? s->box.x0 : s->box.y0;
    return (int)CLAMP(ceil((y - from) / s->step - 0.5), -1, G_MAXINT / 2);
}

static void add_edge(const Band *b, DtPoint p, DtPoint q, int paint, double weight)
{
    const DtScan *s = b->s;
    const DtPoint lower = turned(s, p), upper = turned(s, q);
    const gboolean rises = lower.y < upper.y;
    const DtPoint lo = rises ? lower : upper, hi = rises ? upper : lower;
    const int from = MAX(first_row(s, lo.y), b->first), to = MIN(first_row(s, hi.y), b->end);
    if (from >= to)
        return;
    const double dx = hi.x - lo.x, dy = hi.y - lo.y, y0 = s->upright ? s->box.x0 : s->box.y0;
    const double edge = fabs(dx) < dy || (fabs(dx) == dy && !s->upright)
                            ? weight * s->step * hypot(dx, dy) / dy
                            : 0;
    /* the area is on the left of an edge */
    const int enters = rises == s->upright ? 1 : -1;
    for (int row = from; row < to; row++) {
        const double y = y0 + (row + 0.5) * s->step;
        const Crossing c = {lo.x + dx * (y - lo.y) / dy, (float)edge, row, paint, enters};
        g_array_append_val(b->out, c);
    }
}

static void add_ring(const Band *b, const Ring *r)
{
    const DtLines *l = &g_array_index(b->s->regions, DtLines, r->paint);
    const DtPoint *p = dt_lines_at(l, r->ring);
    const size_t n = dt_lines_count(l, r->ring);
    for (size_t i = 0; i < n; i++)
        add_edge(b, p[i], p[i + 1 < n ? i + 1 : 0], r->paint, r->weight);
}

static int by_first_row(const void *pa, const void *pb)
{
    const Ring *a = pa, *b = pb;
    return (a->first > b->first) - (a->first < b->first);
}

static void add_rings(const DtScan *s, int paint, int rows, GArray *out)
{
    const DtLines *l = &g_array_index(s->regions, DtLines, paint);
    for (size_t i = 0; i < l->n; i++) {
        const DtPoint *p = dt_lines_at(l, i);
        double lo = G_MAXDOUBLE, hi = -G_MAXDOUBLE;
        for (size_t k = 0; k < dt_lines_count(l, i); k++) {
            lo = MIN(lo, turned(s, p[k]).y);
            hi = MAX(hi, turned(s, p[k]).y);
        }
        Ring r = {paint, MAX(first_row(s, lo), 0), MIN(first_row(s, hi), rows), i, 1};
        if (r.first >= r.end)
            continue;
        r.weight = dt_scan_ring_weight(l, i, s->tip);
        g_array_append_val(out, r);
    }
}

/* By row, then by place, to a thousandth of the rows' distance. */
static void sort_crossings(const Band *b, Crossing *sorted)
{
    const DtScan *s = b->s;
    const double from = s->upright ? s->box.y0 : s->box.x0, per = 1024 / s->step;
    const Crossing *c = (const Crossing *)(const void *)b->out->data;
    g_autofree DtKey *keys = g_new(DtKey, b->out->len + 1);
    for (guint i = 0; i < b->out->len; i++) {
        const double at = CLAMP((c[i].at - from) * per + 1e9, 0, 4e9);
        keys[i] = (DtKey){(uint64_t)(c[i].row - b->first) << 32 | (uint64_t)at, i};
    }
    dt_radix_sort(keys, b->out->len);
    for (guint i = 0; i < b->out->len; i++)
        sorted[i] = c[keys[i].id];
}

/* The paint beyond several crossings at one place. */
static int paint_beyond(const Crossing *c, size_t n, int before)
{
    int beyond = before;
    for (size_t i = 0; i < n;) {
        int sum = 0;
        const int paint = c[i].paint;
        size_t k = i;
        for (; k < n && c[k].paint == paint; k++)
            sum += c[k].enters;
        if (sum > 0)
            return paint;
        if (sum < 0 && paint == before)
            beyond = -1;
        i = k;
    }
    return beyond;
}

static int by_paint(const void *pa, const void *pb)
{
    const Crossing *a = pa, *b = pb;
    return (a->paint > b->paint) - (a->paint < b->paint);
}

static size_t add_change(Crossing *c, size_t n, int *paint, GArray *changes)
{
    size_t k = 1;
    DtScanChange change = {c[0].at, *paint, -1, (double)c[0].edge};
    for (; k < n && c[k].row == c[0].row && c[k].at < c[0].at + ONE_PLACE; k++)
        change.edge = MAX(change.edge, (double)c[k].edge);
    if (k > 1)
        qsort(c, k, sizeof *c, by_paint);
    *paint = change.beyond = paint_beyond(c, k, *paint);
    if (change.beyond != change.before)
        g_array_append_val(changes, change);
    return k;
}

static void call_rows(const Band *b, DtScanRow row, void *user)
{
    g_autofree Crossing *c = g_new(Crossing, b->out->len + 1);
    g_autoptr(GArray) changes = g_array_new(FALSE, FALSE, sizeof(DtScanChange));
    sort_crossings(b, c);
    for (size_t i = 0; i < b->out->len;) {
        const int here = c[i].row;
        int paint = -1;
        g_array_set_size(changes, 0);
        while (i < b->out->len && c[i].row == here)
            i += add_change(c + i, b->out->len - i, &paint, changes);
        row(here, (const DtScanChange *)(const void *)changes->data, changes->len, user);
    }
}

void dt_scan_rows(const DtScan *s, DtScanRow row, void *user)
{
    const double height = s->upright ? dt_box_width(s->box) : dt_box_height(s->box);
    const int rows = (int)ceil(height / s->step);
    g_autoptr(GArray) rings = g_array_new(FALSE, FALSE, sizeof(Ring));
    g_autoptr(GArray) present = g_array_new(FALSE, FALSE, sizeof(Ring));
    g_autoptr(GArray) crossings = g_array_new(FALSE, FALSE, sizeof(Crossing));
    for (guint i = 0; i < s->regions->len && !dt_work_stopped(); i++)
        add_rings(s, (int)i, rows, rings);
    g_array_sort(rings, by_first_row);
    guint next = 0;
    for (int first = 0; first < rows && !dt_work_stopped(); first += BAND) {
        const Band b = {s, first, MIN(first + BAND, rows), crossings};
        g_array_set_size(crossings, 0);
        for (; next < rings->len && g_array_index(rings, Ring, next).first < b.end; next++)
            g_array_append_val(present, g_array_index(rings, Ring, next));
        guint left = 0;
        for (guint i = 0; i < present->len; i++) {
            const Ring r = g_array_index(present, Ring, i);
            add_ring(&b, &r);
            if (r.end > b.end)
                g_array_index(present, Ring, left++) = r;
        }
        g_array_set_size(present, left);
        call_rows(&b, row, user);
    }
}
