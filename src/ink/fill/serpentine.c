/* serpentine: hatch lines joined along the edge, so that the pen stays down. Along a ring of the
 * region: between two consecutive crossings the ring stays between two neighbouring hatch lines,
 * so that this part of the edge is a join that never leaves the region. */
#include "ink/fill/hatch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Bends of a join flatter than this (mm) are drawn straight. */
#define FLAT 0.005

typedef struct {
    const DtHatching *h;
    const DtLines *region;
    double reach;
    double tip;      /* 0: only lines without a gap between them are joined */
    uint32_t *order; /* crossings in the order in which the rings meet them */
    uint32_t *place; /* of each crossing in that order */
    uint8_t *used;   /* of each interval */
    size_t n;        /* crossings */
} Serpentine;

static int compare_along(const void *pa, const void *pb, void *user)
{
    const DtCrossing *c = user;
    const DtCrossing *a = &c[*(const uint32_t *)pa], *b = &c[*(const uint32_t *)pb];
    if (a->ring != b->ring)
        return a->ring < b->ring ? -1 : 1;
    if (a->edge != b->edge)
        return a->edge < b->edge ? -1 : 1;
    int64_t ka = (int64_t)a->way * a->line, kb = (int64_t)b->way * b->line;
    return (ka > kb) - (ka < kb);
}

void dt_hatch_order_along(const DtHatching *h, uint32_t *order)
{
    for (size_t i = 0; i < 2 * h->n; i++)
        order[i] = (uint32_t)i;
    g_qsort_with_data(order, (gint)(2 * h->n), sizeof *order, compare_along, h->c);
}

/* The crossing after (step 1) or before (step -1) crossing i on its ring; itself if it is the
 * only one. */
static uint32_t neighbour(const Serpentine *s, uint32_t i, int step)
{
    const DtCrossing *c = s->h->c;
    size_t p = s->place[i];
    if (step > 0 && p + 1 < s->n && c[s->order[p + 1]].ring == c[i].ring)
        return s->order[p + 1];
    if (step < 0 && p > 0 && c[s->order[p - 1]].ring == c[i].ring)
        return s->order[p - 1];
    /* Round the ring: to its first or its last crossing. */
    if (step > 0) {
        while (p > 0 && c[s->order[p - 1]].ring == c[i].ring)
            p--;
    } else {
        while (p + 1 < s->n && c[s->order[p + 1]].ring == c[i].ring)
            p++;
    }
    return s->order[p];
}

/* The part of the ring from crossing i to its neighbour j, without the ends; FALSE if it is
 * longer than the reach. */
static gboolean stretch(const Serpentine *s, uint32_t i, uint32_t j, int step, GArray *path)
{
    const DtCrossing *a = &s->h->c[i], *b = &s->h->c[j];
    const DtPoint *ring = dt_lines_at(s->region, a->ring);
    size_t n = dt_lines_count(s->region, a->ring);
    double left = s->reach;
    DtPoint at = dt_hatch_point(s->h, a);
    g_array_set_size(path, 0);
    gboolean around = a->edge == b->edge && (step > 0) != (a->way * a->line < b->way * b->line);
    for (size_t e = a->edge; e != b->edge || around; around = FALSE) {
        DtPoint corner = ring[step > 0 ? (e + 1) % n : e];
        e = step > 0 ? (e + 1) % n : (e + n - 1) % n;
        left -= dt_point_distance(at, corner);
        if (left < 0)
            return FALSE;
        g_array_append_val(path, corner);
        at = corner;
    }
    return left >= dt_point_distance(at, dt_hatch_point(s->h, b));
}

void dt_hatch_add_bends(const DtPoint *p, size_t n, DtPoint a, DtPoint b, double flat, DtLines *out)
{
    double worst = flat;
    size_t at = n;
    for (size_t i = 0; i < n; i++) {
        double d = dt_point_segment_distance(p[i], a, b);
        if (d > worst) {
            worst = d;
            at = i;
        }
    }
    if (at == n)
        return;
    dt_hatch_add_bends(p, at, a, p[at], flat, out);
    dt_lines_point(out, p[at]);
    dt_hatch_add_bends(p + at + 1, n - at - 1, p[at], b, flat, out);
}

/* Joins across gaps ---------------------------------------------------------------------------
 * A join across a gap would darken the edge by its ink. So the ends of both lines are set back: what
 * they lack is what the join inks. */

/* The widest gap that is joined across, and the longest join per distance of its lines. */
#define WIDEST_GAP_TIPS 1.0
#define LONGEST_SLANT 2.5

static DtPoint along_lines(const Serpentine *s)
{
    return dt_point(cos(s->h->grid.angle), sin(s->h->grid.angle));
}

static double line_v(const Serpentine *s, uint32_t i)
{
    return dt_point_cross(along_lines(s), dt_hatch_point(s->h, &s->h->c[i]));
}

/* How far the ends i and j of two lines are set back for a join of a length: a pen inks `tip` times the
 * length between the lines, and a corner where the lines had round ends. */
static double set_back(const Serpentine *s, uint32_t i, uint32_t j, double length)
{
    const double apart = fabs(line_v(s, i) - line_v(s, j));
    return ((apart - s->tip) / 2 + (0.25 - G_PI / 16) * s->tip) * length / apart;
}

/* The farthest point of the edge from crossing i, which goes to the strip between two lines, on
 * side 1 (rising u) or -1; FALSE if the edge is longer than the reach. */
static gboolean farthest_in_strip(const Serpentine *s, uint32_t i, gboolean upwards, int side,
                                  GArray *path, double *u)
{
    const DtCrossing *c = s->h->c;
    const int step = (c[i].way > 0) == upwards ? 1 : -1;
    const uint32_t j = neighbour(s, i, step);
    const DtPoint way = along_lines(s);
    if (!stretch(s, i, j, step, path))
        return FALSE;
    *u = side > 0 ? MAX(c[i].u, c[j].u) : MIN(c[i].u, c[j].u);
    for (guint k = 0; k < path->len; k++) {
        const double at = dt_point_dot(way, g_array_index(path, DtPoint, k));
        *u = side > 0 ? MAX(*u, at) : MIN(*u, at);
    }
    return TRUE;
}

/* Whether a path from line to line goes on from the one to the other without turning back. */
static gboolean is_monotone(const Serpentine *s, uint32_t i, uint32_t j, const GArray *path)
{
    const DtPoint way = along_lines(s);
    const double up = line_v(s, j) > line_v(s, i) ? 1 : -1;
    double before = line_v(s, i);
    for (guint k = 0; k < path->len; k++) {
        const double v = dt_point_cross(way, g_array_index(path, DtPoint, k));
        if (up * (v - before) < 0)
            return FALSE;
        before = v;
    }
    return up * (line_v(s, j) - before) >= 0;
}

static double path_length(const Serpentine *s, uint32_t i, uint32_t j, const GArray *path)
{
    DtPoint at = dt_hatch_point(s->h, &s->h->c[i]);
    double sum = 0;
    for (guint k = 0; k < path->len; k++) {
        sum += dt_point_distance(at, g_array_index(path, DtPoint, k));
        at = g_array_index(path, DtPoint, k);
    }
    return sum + dt_point_distance(at, dt_hatch_point(s->h, &s->h->c[j]));
}

static double interval_length(const Serpentine *s, uint32_t i)
{
    return s->h->c[i | 1].u - s->h->c[i & ~1u].u;
}

/* Whether the pen may go from end i to end j of adjacent lines across the gap between these, along a path
 * moved inwards by *back. */
static gboolean may_cross_gap(const Serpentine *s, uint32_t i, uint32_t j, const GArray *path,
                              GArray *scratch, double *back)
{
    const double apart = fabs(line_v(s, i) - line_v(s, j)), length = path_length(s, i, j, path);
    if (!(s->tip > 0) || apart > (1 + WIDEST_GAP_TIPS) * s->tip ||
        ABS(s->h->c[i].line - s->h->c[j].line) != 1 || (i & 1) != (j & 1) ||
        length > LONGEST_SLANT * apart || !is_monotone(s, i, j, path))
        return FALSE;
    *back = set_back(s, i, j, length);
    if (MIN(interval_length(s, i), interval_length(s, j)) < 2 * *back + s->tip)
        return FALSE;
    /* Nothing else of the edge may lie where the path is moved to. */
    const gboolean upwards = s->h->c[j].line > s->h->c[i].line;
    const int side = (i & 1) ? 1 : -1;
    double other[2],
        nearest = side > 0 ? MIN(s->h->c[i].u, s->h->c[j].u) : MAX(s->h->c[i].u, s->h->c[j].u);
    for (guint k = 0; k < path->len; k++) {
        const double u = dt_point_dot(along_lines(s), g_array_index(path, DtPoint, k));
        nearest = side > 0 ? MIN(nearest, u) : MAX(nearest, u);
    }
    return farthest_in_strip(s, i ^ 1, upwards, side, scratch, &other[0]) &&
           farthest_in_strip(s, j ^ 1, !upwards, side, scratch, &other[1]) &&
           side * (nearest - other[0]) > *back && side * (nearest - other[1]) > *back;
}

/* Following ---------------------------------------------------------------------------------- */

typedef struct {
    uint32_t to; /* a crossing; UINT32_MAX: none */
    double back; /* mm by which the ends of both lines are set back */
    GArray *path;
} Join;

/* Whether two ends may be joined without setting them back. */
static gboolean are_adjacent(const Serpentine *s, uint32_t i, uint32_t j)
{
    return (s->tip <= 0 || s->h->band.n > 1) &&
           dt_hatch_are_adjacent(s->h, &s->h->c[i], &s->h->c[j]);
}

/* The end of a free interval to which the pen may continue from crossing i, and the path there;
 * the one on the next line up has priority. */
static void find_join(const Serpentine *s, uint32_t i, Join *best, GArray *path, GArray *scratch)
{
    int32_t best_line = INT32_MIN;
    best->to = UINT32_MAX;
    best->back = 0;
    for (int step = -1; step <= 1; step += 2) {
        uint32_t j = neighbour(s, i, step);
        double back = 0;
        if (s->used[j / 2] || j / 2 == i / 2)
            continue;
        int32_t line = s->h->c[j].line;
        if (line <= best_line || !stretch(s, i, j, step, path) ||
            (!are_adjacent(s, i, j) && !may_cross_gap(s, i, j, path, scratch, &back)))
            continue;
        best_line = line;
        best->to = j;
        best->back = back;
        g_array_set_size(best->path, 0);
        g_array_append_vals(best->path, path->data, path->len);
    }
}

/* Along the lines, from the end i inwards. */
static DtPoint inwards(const Serpentine *s, uint32_t i, double by)
{
    return dt_point_scale(along_lines(s), (i & 1) ? -by : by);
}

static void draw_join(const Serpentine *s, uint32_t i, Join *join, DtLines *out)
{
    const DtPoint by = inwards(s, i, join->back);
    const DtPoint from = dt_point_add(dt_hatch_point(s->h, &s->h->c[i]), by);
    const DtPoint to = dt_point_add(dt_hatch_point(s->h, &s->h->c[join->to]), by);
    DtPoint *p = (DtPoint *)(void *)join->path->data;
    for (guint k = 0; k < join->path->len; k++)
        p[k] = dt_point_add(p[k], by);
    dt_lines_point(out, from);
    dt_hatch_add_bends(p, join->path->len, from, to, FLAT, out);
    dt_lines_point(out, to);
}

static void follow(Serpentine *s, uint32_t start, Join *join, GArray *path, GArray *scratch,
                   DtLines *out)
{
    dt_lines_begin(out);
    dt_lines_point(out, dt_hatch_point(s->h, &s->h->c[start]));
    for (uint32_t i = start; i != UINT32_MAX; i = join->to) {
        s->used[i / 2] = 1;
        find_join(s, i ^ 1, join, path, scratch);
        if (join->to != UINT32_MAX)
            draw_join(s, i ^ 1, join, out);
        else
            dt_lines_point(out, dt_hatch_point(s->h, &s->h->c[i ^ 1]));
    }
}

static void join_lines(const DtHatching *h, const DtLines *region, double reach, double tip,
                       DtLines *out)
{
    size_t n = 2 * h->n;
    Serpentine s = {.h = h,
                    .region = region,
                    .reach = reach,
                    .tip = tip,
                    .order = g_new(uint32_t, n + 1),
                    .place = g_new(uint32_t, n + 1),
                    .used = g_new0(uint8_t, h->n + 1),
                    .n = n};
    dt_hatch_order_along(h, s.order);
    for (size_t i = 0; i < n; i++)
        s.place[s.order[i]] = (uint32_t)i;
    Join join = {.path = g_array_new(FALSE, FALSE, sizeof(DtPoint))};
    GArray *path = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    GArray *scratch = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    for (size_t i = 0; i < h->n; i++)
        if (!s.used[i])
            follow(&s, (uint32_t)(2 * i), &join, path, scratch, out);
    g_array_free(join.path, TRUE);
    g_array_free(path, TRUE);
    g_array_free(scratch, TRUE);
    g_free(s.order);
    g_free(s.place);
    g_free(s.used);
}

void dt_hatch_serpentine(const DtHatching *h, const DtLines *region, double reach, DtLines *out)
{
    join_lines(h, region, reach, 0, out);
}

/* A ring that no line crosses might obstruct a join. */
static gboolean has_islands(const DtHatching *h, const DtLines *region)
{
    g_autofree uint8_t *crossed = g_new0(uint8_t, region->n + 1);
    size_t n = 0;
    for (size_t i = 0; i < 2 * h->n; i++) {
        n += !crossed[h->c[i].ring];
        crossed[h->c[i].ring] = 1;
    }
    return n < region->n;
}

void dt_hatch_meander(const DtHatching *h, const DtLines *region, double reach, double tip,
                      DtLines *out)
{
    const gboolean islands = has_islands(h, region);
    if (islands && h->band.n < 2)
        dt_hatch_plain(h, out);
    else
        join_lines(h, region, reach, islands ? 0 : tip, out);
}
