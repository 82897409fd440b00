/* cuts: the steps that an exchange removes, sorted along the tour, and the segments between
 * them. Inline, since they are used in the innermost loop. Private to the search for short
 * tours. */
#pragma once

#include "route/tour.h"

/* The removed steps, sorted along the places. Step i has the ends 2i and 2i+1. */
typedef struct {
    int32_t gap[DT_TOUR_DEPTH];                        /* place before each */
    uint8_t left[DT_TOUR_DEPTH], right[DT_TOUR_DEPTH]; /* ends at the sides of each gap */
    uint8_t rank[DT_TOUR_DEPTH];                       /* of step i */
    /* Index of this arrangement among all those of the same number of steps: the order in which
     * they come, and which of their ends is first. */
    uint16_t arrangement;
} DtCuts;

/* Number of arrangements with fewer than k steps. One of k steps gives 2 (k + 1) of k + 1. */
static const uint16_t dt_cuts_fewer[DT_TOUR_DEPTH + 1] = {0, 1, 3, 11, 59, 443, 4283};

/* The arrangement of k steps and one more in the r-th segment along the places; its first end is the
 * one before the gap, or after it. */
static inline uint16_t dt_cuts_extended(uint16_t arrangement, int k, int r, gboolean first_before)
{
    return (uint16_t)(dt_cuts_fewer[k + 1] + (arrangement - dt_cuts_fewer[k]) * 2 * (k + 1) +
                      2 * r + (first_before ? 1 : 0));
}

/* Adds step k, between the places gap and gap + 1, to k cuts. */
static inline void dt_cuts_add(DtCuts *c, int k, int32_t gap, gboolean first_before)
{
    int r = k;
    for (; r > 0 && c->gap[r - 1] > gap; r--) {
        c->gap[r] = c->gap[r - 1];
        c->left[r] = c->left[r - 1];
        c->right[r] = c->right[r - 1];
        c->rank[c->left[r] / 2] = (uint8_t)r;
    }
    c->gap[r] = gap;
    c->left[r] = (uint8_t)(2 * k + (first_before ? 0 : 1));
    c->right[r] = (uint8_t)(2 * k + (first_before ? 1 : 0));
    c->rank[k] = (uint8_t)r;
    c->arrangement = dt_cuts_extended(c->arrangement, k, r, first_before);
}

/* The end to which the exchange joins end i. */
static inline int dt_cuts_joined(int i, int k)
{
    if (i & 1)
        return i + 1 == 2 * k ? 0 : i + 1;
    return i == 0 ? 2 * k - 1 : i - 1;
}

typedef struct {
    int segment, end; /* `end`: the one at which it is left */
    gboolean forward;
} DtCutsPassage;

/* Along the segment that is entered at an end. */
static inline DtCutsPassage dt_cuts_pass(const DtCuts *c, int k, int entered)
{
    int r = c->rank[entered / 2];
    if (c->left[r] == entered)
        return (DtCutsPassage){r, c->right[r > 0 ? r - 1 : k - 1], FALSE};
    r = r + 1 == k ? 0 : r + 1;
    return (DtCutsPassage){r, c->left[r], TRUE};
}

/* Where one more step may be removed so that closing gives one tour: a bit for each segment and
 * direction, at 2 * segment, plus one if the end that is joined to the last one comes before the
 * other. Segment j ends at gap j, and the first one continues after the last gap. For each
 * arrangement of fewer than DT_TOUR_DEPTH steps; static. */
const uint16_t *dt_cuts_closings(void);
