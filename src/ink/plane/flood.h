/* flood (private to ink): from what lies at one place to what lies on either side of every edge that
 * is connected with it, face by face. */
#pragma once

#include "ink/plane/label.h"

/* Chains of edges through nodes of degree two: what lies on their two sides is the same all along. */
typedef struct {
    uint32_t *chain; /* of each edge */
    uint8_t *back;   /* the edge runs against its chain */
    GArray *speaker; /* uint32_t: the edge that represents each chain */
} DtChains;

/* What is known at the present place. */
typedef struct {
    /* Crosses an edge: way -1 from its left to its right, seen from a to b, +1 the other way. */
    void (*cross)(uint32_t edge, int way, gpointer user);
    int32_t (*face)(gpointer user);
    gpointer user;
} DtFloodPlace;

typedef struct DtFlood DtFlood;

/* Both are used by the result until it is freed; the stars of g are put in order round their nodes. */
DtFlood *dt_flood_new(DtGraph *g, const DtNode *nodes, const DtChains *c);
void dt_flood_free(DtFlood *f);

/* Whether two chains are connected if and only if this is the same for both: a chain of the group. */
uint32_t dt_flood_group(DtFlood *f, uint32_t chain);
/* Fills in the faces of the speakers of all chains that are connected with an edge, from that edge's
 * side (0 left, 1 right) where the place is, and to which it returns. */
void dt_flood_from(DtFlood *f, uint32_t edge, int side, DtFloodPlace place);
