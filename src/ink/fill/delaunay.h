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

/* Whether d lies within the circle through a, b, c (counterclockwise). */
gboolean dt_delaunay_in_circle(const DtNode *p, uint32_t a, uint32_t b, uint32_t c, uint32_t d);

/* Directed edges by the nodes from which they go: to end[first[i]], ..., end[first[i+1]-1] from node i. */
typedef struct {
    uint32_t *first, *end;
} DtNodeEdges;

static inline gboolean dt_node_edges_have(const DtNodeEdges *e, uint32_t from, uint32_t to)
{
    for (uint32_t i = e->first[from]; i < e->first[from + 1]; i++)
        if (e->end[i] == to)
            return TRUE;
    return FALSE;
}

/* Forces the given edges into the triangulation of n nodes, except those that cross another one or pass
 * through a node. Time grows with the number of edges that they cross. */
void dt_delaunay_constrain(const DtNode *p, size_t n, const DtNodeEdges *given, DtTriangles *t);
