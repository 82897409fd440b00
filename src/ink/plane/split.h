/* split (private to ink): snap rounding of segments on the integer grid. */
#pragma once

#include "ink/plane/plane.h"

/* A segment from a to b, a before b in the order of dt_node_compare(). */
typedef struct {
    DtNode a, b;
} DtSegment;

/* Segment i runs through nodes[chain[first[i]]], ..., nodes[chain[first[i+1]-1]], from a to b.
 * Nodes are in rising order of dt_node_compare(). */
typedef struct {
    DtNode *nodes;
    size_t n_nodes;
    uint32_t *first, *chain;
} DtSplit;

/* By y, then by x. */
static inline int dt_node_compare(DtNode p, DtNode q)
{
    if (p.y != q.y)
        return p.y < q.y ? -1 : 1;
    return p.x < q.x ? -1 : p.x > q.x;
}

/* Twice the signed area of pqr: exact within the plane's reach. */
static inline int64_t dt_node_turn(DtNode p, DtNode q, DtNode r)
{
    return ((int64_t)q.x - p.x) * ((int64_t)r.y - p.y) -
           ((int64_t)q.y - p.y) * ((int64_t)r.x - p.x);
}

/* Fails with DT_ERROR_INPUT if the segments cross too often to finish in reasonable time. */
gboolean dt_split_segments(const DtSegment *s, size_t n, DtSplit *out, GError **error);
void dt_split_clear(DtSplit *s);
