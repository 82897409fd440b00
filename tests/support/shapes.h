/* Outlines for property tests: whatever an artist, or a fault, may hand in. */
#pragma once

#include "drawtrue/ink.h"

#include <math.h>

/* A ring of n random points on a grid of `cells` per 40 mm: few cells give coincident edges,
 * repeated points and points on edges; cells == 0 gives points anywhere. */
static inline void random_ring(GRand *rand, int n, int cells, DtLines *out)
{
    dt_lines_begin(out);
    for (int i = 0; i < n; i++) {
        DtPoint p = cells > 0 ? dt_point(40.0 / cells * g_rand_int_range(rand, 0, cells + 1),
                                         40.0 / cells * g_rand_int_range(rand, 0, cells + 1))
                              : dt_point(g_rand_double_range(rand, 0, 40),
                                         g_rand_double_range(rand, 0, 40));
        dt_lines_point(out, p);
    }
    dt_lines_close(out);
}

/* One to three rings of three to `most` points. */
static inline void random_outline(GRand *rand, int most, DtLines *out)
{
    static const int cells[] = {0, 4, 10, 40, 0};
    int rings = g_rand_int_range(rand, 1, 4);
    for (int i = 0; i < rings; i++)
        random_ring(rand, g_rand_int_range(rand, 3, most + 1), cells[g_rand_int_range(rand, 0, 5)],
                    out);
}

/* A wavy disc with a wavy hole. */
static inline void wavy_disc(DtPoint at, double r, int waves, int n, DtLines *out)
{
    for (int hole = 0; hole < 2; hole++) {
        dt_lines_begin(out);
        for (int i = 0; i < n; i++) {
            double a = (hole ? -2 : 2) * G_PI * i / n;
            double q = r * (hole ? 0.4 : 1) * (1 + 0.15 * sin(waves * a));
            dt_lines_point(out, dt_point(at.x + q * cos(a), at.y + q * sin(a)));
        }
        dt_lines_close(out);
    }
}

static inline double distance_to_edges(const DtLines *l, DtPoint p)
{
    double d = G_MAXDOUBLE;
    for (size_t i = 0; i < l->n; i++) {
        const DtPoint *q = dt_lines_at(l, i);
        size_t n = dt_lines_count(l, i);
        for (size_t k = 0; k + (l->closed[i] ? 0 : 1) < n; k++)
            d = MIN(d, dt_point_segment_distance(p, q[k], q[(k + 1) % n]));
    }
    return d;
}
