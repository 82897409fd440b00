/* search: a tour as an array of places, which exchanges rewrite and which can be restored.
 * Private to the search for short tours. */
#pragma once

#include "route/cuts.h"
#include "route/tour.h"

#define DT_SEARCH_FIXED (-1) /* a step that must stay: it joins a tied pair */

/* Microseconds by which a lower bound may be too high, since it is computed in single precision. */
#define DT_SEARCH_INEXACT 2

/* A node and the cost of the step to the next place, or DT_SEARCH_FIXED. */
typedef struct {
    int32_t node, step;
} DtPlace;

typedef struct {
    uint32_t from, n;
} DtRewrite;

/* Where a node is, in microseconds: no step costs less than the larger difference of the two. NAN if that is
 * not so. */
typedef struct {
    float x, y;
} DtBoundAt;

typedef struct {
    DtTour *t;
    uint32_t n;      /* places: as many as nodes */
    DtPlace *place;  /* [-1] and [n] repeat the last and the first one */
    int32_t *pos;    /* of each node; the tour's own */
    DtBoundAt *at;   /* of each node */
    float lift_from; /* a larger difference than this costs `lift` more, unless it is retraced */
    float lift;
    float
        retrace_less; /* microseconds by which a retrace may cost less than the larger difference */
    /* The current exchange removes (end[0],end[1]), (end[2],end[3])... and adds (end[1],end[2])
     * ... (end[2k-1],end[0]). */
    int32_t end[2 * DT_TOUR_DEPTH];
    int32_t gap[DT_TOUR_DEPTH];          /* the place before each removed step */
    uint8_t first_before[DT_TOUR_DEPTH]; /* whether that is the place of its first end */
    int closed_at;                       /* k of the exchange that was found */
    int64_t gain;                        /* of the exchange that was found */
    const uint16_t *closings;            /* dt_cuts_closings() */
    const int *breadth;                  /* how many continuations are followed after each step */
    const unsigned *closers; /* through how many near nodes an exchange is closed after each step */
    int patient; /* a closing after that many steps is made only if no deeper exchange gains more */
    /* Nodes that are still to be examined, first in first out. */
    int32_t *queue;
    uint8_t *queued;
    uint32_t head, waiting;
    /* The neighbours of each node, the smaller first, when it was last examined without success;
     * -1: not yet. Much of what one exchange moves is soon moved back by another. */
    int32_t (*vain)[2];
    /* Previous contents of what was rewritten, for undo. */
    DtPlace *kept;
    size_t n_kept, cap_kept;
    DtRewrite *rewrites;
    size_t n_rewrites, cap_rewrites;
} DtSearch;

void dt_search_init(DtSearch *s, DtTour *t);
/* Writes the order back to the tour. */
void dt_search_finish(DtSearch *s);

/* Makes the exchange of the first k steps. FALSE if that would move more nodes than allowed. */
gboolean dt_search_exchange(DtSearch *s, int k);
/* Swaps the three segments between four gaps, which ascend from one in [0,n) on and span less
 * than the tour: a double bridge. Returns its cost. */
int64_t dt_search_bridge(DtSearch *s, const uint32_t gap[4]);
void dt_search_undo(DtSearch *s);
void dt_search_forget(DtSearch *s);

/* Exchanges until no waiting node gains. Returns the gain. */
int64_t dt_search_settle(DtSearch *s, gboolean undoable);
/* Kicks until the budget is used up. */
void dt_search_kick(DtSearch *s, const DtTourBudget *b);

static inline void dt_search_look_at(DtSearch *s, int32_t a)
{
    if (s->queued[a])
        return;
    s->queued[a] = 1;
    uint32_t i = s->head + s->waiting++;
    s->queue[i >= s->n ? i - s->n : i] = a;
}

static inline int32_t dt_search_next(DtSearch *s)
{
    int32_t a = s->queue[s->head++];
    if (s->head == s->n)
        s->head = 0;
    s->waiting--;
    s->queued[a] = 0;
    return a;
}
