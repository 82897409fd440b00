/* stipple (private to ink): points as dense as a picture is dark, by weighted centroidal Voronoi cells
 * (Secord 2002, "Weighted Voronoi stippling"; Lloyd 1982). */
#pragma once

#include "ink/picture/grid.h"

/* What points stand for. */
typedef enum {
    DT_POINTS_DOTS, /* each is drawn as a dot */
    DT_POINTS_TOUR, /* one line passes through all */
} DtPointsUse;

/* How many points a pen of width `tip` mm needs for the picture's tone: by the area of its dots, or by
 * the length of a tour: through evenly spaced points a short one is about sqrt(points * area) long,
 * between the 0.7124 of random points (Beardwood, Halton and Hammersley 1959) and the 1.075 of a
 * hexagonal grid, every step of which is as long as the shortest. */
size_t dt_stipple_count(const DtShareGrid *g, double tip, DtPointsUse use);

/* Places n points; the same for the same input. `energy`, where not NULL, gets the sum of squared
 * distances to the nearest point, weighted, after each of `rounds` rounds. Free with g_free(). */
DtPoint *dt_stipple_points(const DtShareGrid *g, size_t n, double tip, DtPointsUse use, int rounds,
                           double *energy);
