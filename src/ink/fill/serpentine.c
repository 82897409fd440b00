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

/* The end of a free interval to which the pen may continue from crossing i, and the path there;
 * the one on the next line up has priority. UINT32_MAX if there is none. */
static uint32_t best_join(const Serpentine *s, uint32_t i, GArray *path, GArray *scratch)
{
    uint32_t best = UINT32_MAX;
    int32_t best_line = INT32_MIN;
    for (int step = -1; step <= 1; step += 2) {
        uint32_t j = neighbour(s, i, step);
        if (s->used[j / 2] || j / 2 == i / 2)
            continue;
        int32_t line = s->h->c[j].line;
        if (line <= best_line || !dt_hatch_are_adjacent(s->h, &s->h->c[i], &s->h->c[j]) ||
            !stretch(s, i, j, step, scratch))
            continue;
        best = j;
        best_line = line;
        g_array_set_size(path, 0);
        g_array_append_vals(path, scratch->data, scratch->len);
    }
    return best;
}

static void follow(Serpentine *s, uint32_t start, GArray *path, GArray *scratch, DtLines *out)
{
    dt_lines_begin(out);
    for (uint32_t i = start; i != UINT32_MAX;) {
        s->used[i / 2] = 1;
        DtPoint end = dt_hatch_point(s->h, &s->h->c[i ^ 1]);
        dt_lines_point(out, dt_hatch_point(s->h, &s->h->c[i]));
        dt_lines_point(out, end);
        uint32_t next = best_join(s, i ^ 1, path, scratch);
        if (next != UINT32_MAX)
            dt_hatch_add_bends((const DtPoint *)(const void *)path->data, path->len, end,
                               dt_hatch_point(s->h, &s->h->c[next]), FLAT, out);
        i = next;
    }
}

void dt_hatch_serpentine(const DtHatching *h, const DtLines *region, double reach, DtLines *out)
{
    size_t n = 2 * h->n;
    Serpentine s = {
        h, region, reach, g_new(uint32_t, n + 1), g_new(uint32_t, n + 1), g_new0(uint8_t, h->n + 1),
        n};
    dt_hatch_order_along(h, s.order);
    for (size_t i = 0; i < n; i++)
        s.place[s.order[i]] = (uint32_t)i;
    GArray *path = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    GArray *scratch = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    for (size_t i = 0; i < h->n; i++)
        if (!s.used[i])
            follow(&s, (uint32_t)(2 * i), path, scratch, out);
    g_array_free(path, TRUE);
    g_array_free(scratch, TRUE);
    g_free(s.order);
    g_free(s.place);
    g_free(s.used);
}
