/* tour: a short closed tour through many nodes, some of which are tied in pairs. Sequential
 * k-opt moves by neighbour lists (Lin and Kernighan 1973; Johnson and McGeoch 1997; Helsgaun
 * 2009), started from greedy fragments, with a queue of nodes to examine (Bentley 1992), and
 * followed by local kicks with undo (Martin, Otto and Felten 1991; Applegate, Cook and Rohe
 * 2003). Private to route and its benchmarks. */
#pragma once

#include "route/metric.h"

#define DT_TOUR_NEAR 10        /* neighbours per node */
#define DT_TOUR_NEAR_LINKED 16 /* if nodes are ends of sections */
#define DT_TOUR_MOST_NEAR 16
#define DT_TOUR_DEPTH 6 /* most steps exchanged at once */

/* The kind of a node. Steps between two entries, or two exits, have a prohibitive cost. */
typedef enum {
    DT_SIDE_FREE = 0,
    DT_SIDE_ENTRY = 1,
    DT_SIDE_EXIT = 2,
    DT_SIDE_ANYWHERE = 4, /* a step to here costs nothing */
    DT_SIDE_LIFTED = 8,   /* the pen is up on this step, however short */
    DT_SIDE_LINKED = 16,  /* links give the cost of a step */
} DtTourSide;

#define DT_SIDE_DIRECTED (DT_SIDE_ENTRY | DT_SIDE_EXIT)

/* A node's neighbour; -1 behind the last one. */
typedef struct {
    int32_t node, cost;
} DtNearNode;

typedef struct {
    DtMetric metric;
    uint32_t n;
    /* Nodes, numbered along a Hilbert curve so that neighbours on paper are close in memory. */
    DtPoint *at;
    int32_t *tied;         /* the node that must stay next to this one; -1: none */
    uint8_t *side;         /* DtTourSide */
    uint32_t *label;       /* the caller's number */
    struct DtLinks *links; /* not owned; NULL: only the metric counts */
    uint32_t *end;         /* of each node, if there are links; G_MAXUINT32: none */
    DtNearNode *near;      /* `width` of them for each node, cheapest first */
    unsigned width;
    /* The tour: node at each position, position of each node. */
    int32_t *order, *pos;
    int64_t length;
} DtTour;

/* at, tied and side have n entries; tied and side may be NULL. They are copied. */
DtTour *dt_tour_new(const DtMetric *m, uint32_t n, const DtPoint *at, const int32_t *tied,
                    const uint8_t *side);
/* Uses links for the costs of steps: end[i] is the section's end that the caller's node i stands
 * for, or G_MAXUINT32. To be called before the neighbours are found. */
void dt_tour_set_links(DtTour *t, struct DtLinks *links, const uint32_t *end);
void dt_tour_free(DtTour *t);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtTour, dt_tour_free)

static inline const DtNearNode *dt_tour_near(const DtTour *t, int32_t a)
{
    return t->near + (size_t)a * t->width;
}

/* Fills the neighbour lists. */
void dt_tour_find_near(DtTour *t);
/* Starts from greedy fragments; needs the neighbour lists. */
void dt_tour_start(DtTour *t);
/* Starts from the caller's order, in which tied nodes must be adjacent. */
void dt_tour_set_order(DtTour *t, const uint32_t *order);
typedef struct {
    double until_s; /* processor time of the process at which to stop; 0: none */
    uint64_t kicks; /* at most; 0: local search only */
    uint64_t seed;
    double from, to; /* weight of this tour in the progress of the whole ordering */
} DtTourBudget;

/* Improves until the budget is used up. Ends early, with a valid tour, if the current work was
 * cancelled. */
void dt_tour_improve(DtTour *t, const DtTourBudget *b);

/* The tour in the caller's numbers. */
void dt_tour_order(const DtTour *t, uint32_t *order);

int32_t dt_tour_step_of_links(const DtTour *t, int32_t a, int32_t b);
int32_t dt_tour_step_of_sides(const DtTour *t, int32_t a, int32_t b, int32_t step);

/* What the step between two nodes costs. */
static inline int32_t dt_tour_step(const DtTour *t, int32_t a, int32_t b)
{
    uint8_t either = t->side[a] | t->side[b];
    if (either & DT_SIDE_LINKED)
        return dt_tour_step_of_links(t, a, b);
    int32_t step = dt_metric_step(&t->metric, t->at[a], t->at[b]);
    return either ? dt_tour_step_of_sides(t, a, b, step) : step;
}
