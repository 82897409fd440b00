/* delaunay (private to ink): Delaunay triangulation on the grid, by exact arithmetic. */
#pragma once

#include "ink/plane/plane.h"

/* Triangle i has corners v[3i], v[3i+1], v[3i+2], counterclockwise; across its edge from corner
 * k to corner k+1 is triangle t[3i+k], UINT32_MAX if there is none. */
typedef struct {
    uint32_t *v, *t;
    size_t n;
} DtTriangles;

/* Triangulates n distinct points that are sorted by x, then by y. Time grows as n log n. */
void dt_delaunay(const DtNode *p, size_t n, DtTriangles *out);
void dt_triangles_clear(DtTriangles *t);
