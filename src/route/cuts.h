/* cuts: the steps that an exchange removes, sorted along the tour, and the segments between them. They are
 * inline, for they stand in the innermost loop. Private to the search for short tours. */
#pragma once

#include "route/tour.h"

/* The removed steps, sorted along the places. Step i has the ends 2i and 2i+1. */
typedef struct {
    int32_t gap[DT_TOUR_DEPTH];                        /* place before each */
    uint8_t left[DT_TOUR_DEPTH], right[DT_TOUR_DEPTH]; /* ends at the sides of each gap */
    uint8_t rank[DT_TOUR_DEPTH];                       /* of step i */
} DtCuts;

/* cuts with step k, between the places gap and gap + 1; its first end is the one before it, or behind. */
static inline DtCuts dt_cuts_add(const DtCuts *cuts, int k, int32_t gap, gboolean first_before)
{
    DtCuts c = *cuts;
    int r = k;
    for (; r > 0 && c.gap[r - 1] > gap; r--) {
        c.gap[r] = c.gap[r - 1];
        c.left[r] = c.left[r - 1];
        c.right[r] = c.right[r - 1];
        c.rank[c.left[r] / 2] = (uint8_t)r;
    }
    c.gap[r] = gap;
    c.left[r] = (uint8_t)(2 * k + (first_before ? 0 : 1));
    c.right[r] = (uint8_t)(2 * k + (first_before ? 1 : 0));
    c.rank[k] = (uint8_t)r;
    return c;
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

/* Where one more step may be removed so that closing leaves one tour: a bit for each segment and way, at
 * 2 * segment, plus one where the end that is joined to the last one comes before the other. Segment j
 * ends at gap j, and the first one goes on behind the last gap.
 *
 * Without the closing step there is a path from the first to the last end, and perhaps there are rings
 * beside it. With none, a step of the path is removed whose end nearer to the first one is joined to the
 * last. With one ring, any step of it opens it. More of them are not joined by one step. */
static inline uint32_t dt_cuts_closings(const DtCuts *cuts, int k)
{
    uint32_t on_path = 0, in_ring = 0, ways = 0;
    const uint32_t all = (1u << k) - 1;
    for (int e = 0; e != 2 * k;) {
        DtCutsPassage p = dt_cuts_pass(cuts, k, e);
        ways |= (p.forward ? 2u : 1u) << 2 * p.segment;
        on_path |= 1u << p.segment;
        e = p.end == 2 * k - 1 ? 2 * k : dt_cuts_joined(p.end, k);
    }
    if (on_path == all)
        return ways;
    ways = 0;
    int first = 0;
    while (on_path >> first & 1)
        first++;
    DtCutsPassage p = {first, cuts->left[first], TRUE};
    do {
        ways |= 3u << 2 * p.segment;
        in_ring |= 1u << p.segment;
        p = dt_cuts_pass(cuts, k, dt_cuts_joined(p.end, k));
    } while (p.segment != first);
    return (on_path | in_ring) == all ? ways : 0;
}
