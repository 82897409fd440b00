/* hatch: scan lines through outlines. */
#include "ink/fill/hatch.h"

#include "drawtrue/work.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_CROSSINGS 50000000
#define MOST_LINE 1000000000.0

typedef struct {
    double cos, sin;
    DtHatchGrid grid;
    DtHatchBand band;
} Frame;

static DtPoint turned(const Frame *f, DtPoint p)
{
    return dt_point(p.x * f->cos + p.y * f->sin, -p.x * f->sin + p.y * f->cos);
}

/* The band of a line; *place is that of the line in it. */
static int64_t band_of(int64_t line, DtHatchBand band, int64_t *place)
{
    const int64_t n = band.n;
    *place = (line % n + n) % n;
    return (line - *place) / n;
}

static double line_at(const DtHatchGrid *g, DtHatchBand band, int64_t k)
{
    if (band.n < 2)
        return g->shift + (double)k * g->pitch;
    int64_t place;
    const int64_t of = band_of(k, band, &place);
    return g->shift + (double)of * g->pitch + (double)place * band.apart;
}

/* The first line at or above v, by the same comparison that decides crossings. */
static int64_t first_line(double v, const Frame *f)
{
    int64_t k = (int64_t)ceil((v - f->grid.shift) / f->grid.pitch) * f->band.n;
    while (line_at(&f->grid, f->band, k - 1) >= v)
        k--;
    while (line_at(&f->grid, f->band, k) < v)
        k++;
    return k;
}

/* The lines from lo to below hi are first_line(lo) to first_line(hi) - 1. Each point's first
 * line is computed once, so that both of its edges agree. */
typedef struct {
    DtPoint at;
    int64_t line;
} Vertex;

static gboolean fail(GError **error, const char *text)
{
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, text);
    return FALSE;
}

static Vertex *turn_points(const DtLines *l, const Frame *f, GError **error)
{
    Vertex *v = g_new(Vertex, l->n_pts + 1);
    for (size_t i = 0; i < l->n_pts; i++) {
        v[i].at = turned(f, l->pts[i]);
        if (!isfinite(v[i].at.x) ||
            !(fabs((v[i].at.y - f->grid.shift) / f->grid.pitch) * f->band.n < MOST_LINE)) {
            fail(error, isfinite(v[i].at.x) && isfinite(v[i].at.y)
                            ? _("the hatch pitch is too fine for the size of the area")
                            : _("a point of the area to be hatched is not finite"));
            g_free(v);
            return NULL;
        }
        v[i].line = first_line(v[i].at.y, f);
    }
    return v;
}

typedef void (*EdgeFunc)(const Vertex *a, const Vertex *b, size_t ring, size_t edge, void *user);

static void each_edge(const DtLines *l, const Vertex *v, EdgeFunc f, void *user)
{
    for (size_t r = 0; r < l->n; r++) {
        size_t first = l->first[r], n = dt_lines_count(l, r);
        for (size_t i = 0; i < n; i++) {
            const Vertex *a = v + first + i, *b = v + first + (i + 1 < n ? i + 1 : 0);
            if (a->line != b->line)
                f(a, b, r, i, user);
        }
    }
}

typedef struct {
    int64_t lowest, highest;
    uint64_t n;
} Extent;

static void add_extent(const Vertex *a, const Vertex *b, size_t ring, size_t edge, void *user)
{
    (void)ring, (void)edge;
    Extent *e = user;
    int64_t lo = MIN(a->line, b->line), hi = MAX(a->line, b->line);
    e->lowest = MIN(e->lowest, lo);
    e->highest = MAX(e->highest, hi);
    e->n += (uint64_t)(hi - lo);
}

/* Crossings are sorted into their lines by counting. */
typedef struct {
    DtCrossing *c;
    size_t *fill;
    int64_t lowest;
    const Frame *frame;
} Sorter;

static void count_crossings(const Vertex *a, const Vertex *b, size_t ring, size_t edge, void *user)
{
    (void)ring, (void)edge;
    Sorter *s = user;
    for (int64_t k = MIN(a->line, b->line); k < MAX(a->line, b->line); k++)
        s->fill[k - s->lowest + 1]++;
}

static void put_crossings(const Vertex *a, const Vertex *b, size_t ring, size_t edge, void *user)
{
    Sorter *s = user;
    int8_t way = a->line < b->line ? 1 : -1;
    const Vertex *lo = way > 0 ? a : b, *hi = way > 0 ? b : a;
    double slope = (hi->at.x - lo->at.x) / (hi->at.y - lo->at.y);
    double left = MIN(lo->at.x, hi->at.x), right = MAX(lo->at.x, hi->at.x);
    for (int64_t k = lo->line; k < hi->line; k++) {
        double u = lo->at.x + (line_at(&s->frame->grid, s->frame->band, k) - lo->at.y) * slope;
        s->c[s->fill[k - s->lowest]++] =
            (DtCrossing){CLAMP(u, left, right), (int32_t)k, (uint32_t)ring, (uint32_t)edge, way};
    }
}

static int compare_u(const void *pa, const void *pb)
{
    const DtCrossing *a = pa, *b = pb;
    if (a->u != b->u)
        return a->u < b->u ? -1 : 1;
    if (a->ring != b->ring)
        return a->ring < b->ring ? -1 : 1;
    return (a->edge > b->edge) - (a->edge < b->edge);
}

static void sort_line(DtCrossing *c, size_t n)
{
    if (n > 16) {
        qsort(c, n, sizeof *c, compare_u);
        return;
    }
    for (size_t i = 1; i < n; i++) {
        DtCrossing t = c[i];
        size_t j = i;
        for (; j > 0 && compare_u(&c[j - 1], &t) > 0; j--)
            c[j] = c[j - 1];
        c[j] = t;
    }
}

/* Keeps those crossings of one line, sorted, at which the inside begins or ends; appends them to
 * the n that are kept. Intervals of zero length are dropped, and intervals that meet are merged. */
static size_t pair_line(const DtCrossing *c, size_t n, DtFillRule rule, DtCrossing *kept, size_t k)
{
    int winding = 0;
    size_t first = k;
    for (size_t i = 0; i < n; i++) {
        gboolean before = rule == DT_FILL_EVENODD ? (winding & 1) != 0 : winding != 0;
        winding += c[i].way;
        gboolean after = rule == DT_FILL_EVENODD ? (winding & 1) != 0 : winding != 0;
        if (before == after)
            continue;
        if (k > first && kept[k - 1].u == c[i].u)
            k--;
        else
            kept[k++] = c[i];
    }
    return k;
}

gboolean dt_hatch_lines(const DtLines *outline, DtFillRule rule, DtHatchGrid grid, DtHatching *out,
                        GError **error)
{
    return dt_hatch_bands(outline, rule, grid, DT_HATCH_SINGLE, out, error);
}

gboolean dt_hatch_bands(const DtLines *outline, DtFillRule rule, DtHatchGrid grid, DtHatchBand band,
                        DtHatching *out, GError **error)
{
    memset(out, 0, sizeof *out);
    out->grid = grid;
    out->band = band;
    if (!(grid.pitch > 0) || !isfinite(grid.pitch) || !isfinite(grid.angle) ||
        !isfinite(grid.shift))
        return fail(error, _("the hatch pitch must be greater than zero"));
    Frame f = {cos(grid.angle), sin(grid.angle), grid, band};
    g_autofree Vertex *v = turn_points(outline, &f, error);
    if (!v)
        return FALSE;
    Extent e = {INT64_MAX, INT64_MIN, 0};
    each_edge(outline, v, add_extent, &e);
    if (e.n == 0)
        return TRUE;
    if (e.n > MOST_CROSSINGS || e.highest - e.lowest > MOST_CROSSINGS)
        return fail(error, _("the hatch would have more than fifty million crossings"));
    size_t lines = (size_t)(e.highest - e.lowest);
    g_autofree size_t *fill = g_new0(size_t, lines + 1);
    out->c = g_new(DtCrossing, e.n);
    Sorter s = {out->c, fill, e.lowest, &f};
    each_edge(outline, v, count_crossings, &s);
    for (size_t i = 0; i < lines; i++)
        fill[i + 1] += fill[i];
    each_edge(outline, v, put_crossings, &s); /* fill[i] is then where line i ends */
    size_t kept = 0;
    for (size_t i = 0, start = 0; i < lines && !dt_work_stopped(); start = fill[i++]) {
        sort_line(out->c + start, fill[i] - start);
        kept = pair_line(out->c + start, fill[i] - start, rule, out->c, kept);
    }
    out->n = kept / 2;
    return TRUE;
}

void dt_hatching_clear(DtHatching *h)
{
    g_free(h->c);
    memset(h, 0, sizeof *h);
}

DtPoint dt_hatch_point(const DtHatching *h, const DtCrossing *c)
{
    double v = line_at(&h->grid, h->band, c->line);
    double k = cos(h->grid.angle), s = sin(h->grid.angle);
    return dt_point(c->u * k - v * s, c->u * s + v * k);
}

gboolean dt_hatch_are_adjacent(const DtHatching *h, const DtCrossing *a, const DtCrossing *b)
{
    int64_t place;
    return ABS(a->line - b->line) <= 1 && (h->band.n < 2 || band_of(a->line, h->band, &place) ==
                                                                band_of(b->line, h->band, &place));
}

double dt_hatch_length(const DtHatching *h)
{
    double sum = 0;
    for (size_t i = 0; i < h->n; i++)
        sum += h->c[2 * i + 1].u - h->c[2 * i].u;
    return sum;
}

void dt_hatch_plain(const DtHatching *h, DtLines *out)
{
    for (size_t i = 0; i < h->n; i++) {
        DtPoint ends[2] = {dt_hatch_point(h, &h->c[2 * i]), dt_hatch_point(h, &h->c[2 * i + 1])};
        dt_lines_append(out, ends, 2, FALSE);
    }
}
