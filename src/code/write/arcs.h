/* arcs: circular arcs through flattened curves. Private. */
#pragma once

#include "drawtrue/geom.h"

enum { LEAST_ARC_POINTS = 5, MOST_ARC_POINTS = 256 };

typedef struct {
    DtPoint centre;
    double sweep; /* radians, > 0 anticlockwise */
} DtArcFit;

/* How many of the n points, from the first one on, lie on one arc that stays within `tolerance`
 * of the polyline; 0 if fewer than LEAST_ARC_POINTS do. */
size_t dt_arc_fit(const DtPoint *p, size_t n, double tolerance, DtArcFit *fit);
