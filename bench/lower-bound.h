/* lower bound: the least time in which any machine within the profile's limits could draw given
 * strokes, each whole and once, in any order, direction and start, gaps up to the join drawn
 * across.
 *
 * Each term is less than what no plan can avoid:
 *
 * - ink: each segment at the fastest that the limits of the axes allow along it (`straight_s`); and
 *   where the ink turns back along an axis, that axis must come down to its pull-in, take up its
 *   lost motion as the profile has it, and speed up again. Between two such turns the drive of one
 *   axis goes its own way plus the lost motion, from no more than its pull-in to no more than that:
 *   a rest-to-rest profile of that axis alone. What this needs beyond the time that the ink between
 *   the turns takes anyway is unavoidable (`turning_s`). It is reckoned for each stroke on the one
 *   axis where it is more. In favour of the plan: the ink may be missed by a step and a half
 *   everywhere; where it runs along the turn, the other axis' time there counts for both sides; a
 *   loop may start where it saves the two dearest; a stroke's ends are taken at any speed, but for
 *   ends of runs that stand alone.
 * - lifts: per pen and per group of strokes that could be drawn in one go, one run at least, and
 * half the ends that can only be the end of a run: no end of another stroke lies within twice the
 * join and not more than one loop, so that no way leads on, not even round a loop that is passed.
 * Groups: a loop and whatever comes within the join of it; open strokes whose ends do.
 * - travel: per pen, from where it starts and to where it ends the shortest hop to any stroke, and
 * a minimum spanning tree over the groups; each by the fastest hop from rest to rest.
 *
 * Left out, so that the bound is below what is possible: corners that do not turn back, the slower
 * of the two axes' turns, lost motion after travel, hops within a group. */
#pragma once

#include "drawtrue/machine.h"

typedef struct {
    double straight_s, turning_s, travel_s, lift_s;
    double sum_s;
    size_t runs;
} LowerBound;

/* `start` is where the first pen comes from and the last goes to, `change_at` where the others do;
 * commanded mm. */
LowerBound lower_bound(const DtProfile *p, const DtStrokes *strokes, double join, DtPoint start,
                       DtPoint change_at);
