/* drawing: pieces that own their points, and what is measured on them. */
#pragma once

#include "route/pieces.h"
#include "route/splice.h"

typedef struct {
    DtPieces set;
    GPtrArray *owned;
} Drawing;

static inline void drawing_init(Drawing *d)
{
    *d = (Drawing){.owned = g_ptr_array_new_with_free_func(g_free)};
}

static inline void add(Drawing *d, const DtPoint *pts, size_t n, gboolean closed)
{
    DtPoint *copy = g_memdup2(pts, n * sizeof *pts);
    g_ptr_array_add(d->owned, copy);
    dt_pieces_add(&d->set,
                  (DtPiece){.pts = copy, .n = n, .stroke = d->set.n, .closed = closed && n > 1});
}

static inline void drawing_clear(Drawing *d)
{
    g_ptr_array_unref(d->owned);
    g_free(d->set.p);
}

static inline size_t edges_of(const DtPiece *p)
{
    return p->closed ? p->n : p->n - 1;
}

static inline DtPoint vertex(const DtPiece *p, size_t i)
{
    return p->pts[i % p->n];
}

static inline double length(const DtPiece *p)
{
    double sum = 0;
    for (size_t e = 0; e < edges_of(p); e++)
        sum += dt_point_distance(vertex(p, e), vertex(p, e + 1));
    return sum;
}

static inline double total(const DtPieces *set)
{
    double sum = 0;
    for (size_t i = 0; i < set->n; i++)
        sum += length(&set->p[i]);
    return sum;
}

/* How far a place is from the line. */
static inline double distance_to(const DtPiece *p, DtPoint at)
{
    double least = dt_point_distance(at, p->pts[0]);
    for (size_t e = 0; e < edges_of(p); e++)
        least = MIN(least, dt_point_segment_distance(at, vertex(p, e), vertex(p, e + 1)));
    return least;
}
