/* stipple (private to ink): points with the local density of a picture's darkness, by weighted
 * centroidal Voronoi cells (Secord 2002, "Weighted Voronoi stippling"; Lloyd 1982). */
#pragma once

#include "ink/picture/grid.h"

/* The meaning of the points. */
typedef enum {
    DT_POINTS_DOTS, /* each is drawn as a dot */
    DT_POINTS_TOUR, /* one line passes through all */
} DtPointsUse;

/* How many points a pen of width `tip` mm needs for the picture's tone: by the area of its dots, or by
 * the length of a tour: through evenly spaced points a short one is about sqrt(points * area) long,
 * between the 0.7124 of random points (Beardwood, Halton and Hammersley 1959) and the 1.075 of a
 * hexagonal grid, every step of which is as long as the shortest. */
size_t dt_stipple_count(const DtShareGrid *g, double tip, DtPointsUse use);

/* Places n points; deterministic. `energy`, if not NULL, receives the weighted sum of squared
 * distances to the nearest point after each of `rounds` rounds. Free with g_free(). */
DtPoint *dt_stipple_points(const DtShareGrid *g, size_t n, double tip, DtPointsUse use, int rounds,
                           double *energy);
