/* label (private to ink): the unique edges of a split, and what lies on either side of each. */
#pragma once

#include "ink/paint/number-lists.h"
#include "ink/plane/split.h"

/* How a segment, from a to b, changes a layer's winding number. */
typedef struct {
    int32_t layer, by;
} DtTurn;

typedef struct {
    uint32_t a, b;    /* nodes, a < b: it rises, or is level and runs to the right */
    uint32_t segment; /* a segment that runs along it */
} DtGraphEdge;

typedef struct {
    DtGraphEdge *e;
    size_t n, n_nodes;
    uint32_t *turn_first; /* edge i's turns: turn[turn_first[i]] to turn[turn_first[i+1]-1] */
    DtTurn *turn;
    uint32_t *star_first; /* node i's edges: star[star_first[i]] ... */
    uint32_t *star;
    int32_t (*face)[2]; /* of each edge: the top layer, [0] on its left and [1] on its right,
                         * seen from a to b: a layer, -1 for none; n_layers + i for overlap i */
    size_t n_layers;
    DtNumberLists
        overlaps;       /* of layers, from a translucent one on top down to the first opaque one */
    int *overlap_label; /* of each overlap */
} DtGraph;

/* Makes the unique edges; chain_edge receives the next edge for each entry of split->chain. */
void dt_graph_make(DtGraph *g, const DtSplit *split, size_t n_segments, const DtTurn *turns,
                   const uint32_t *turn_first, uint32_t *chain_edge);
/* Fills in the faces. FALSE if there are too many overlaps. */
gboolean dt_graph_label(DtGraph *g, const DtNode *nodes, const DtPlaneLayer *layers,
                        size_t n_layers);
/* The label of a face. */
static inline int dt_graph_label_of(const DtGraph *g, const DtPlaneLayer *layers, int32_t face)
{
    if (face < 0)
        return 0;
    size_t i = (size_t)face;
    return i < g->n_layers ? layers[i].label : g->overlap_label[i - g->n_layers];
}
/* dt_plane_region() and dt_plane_regions(). */
void dt_graph_rings(const DtGraph *g, const DtNode *nodes, const DtPlaneLayer *layers, int label,
                    DtLines *out);
void dt_graph_all_rings(const DtGraph *g, const DtNode *nodes, const DtPlaneLayer *layers,
                        GArray *regions);
void dt_graph_clear(DtGraph *g);
