/* lower bound: the least time in which any machine within the profile's limits could draw given strokes
 * within the profile's tolerance, in any order and direction, cut anywhere, gone back over anywhere, gaps
 * up to the join drawn across.
 *
 * Each term is less than what no plan can avoid:
 *
 * - ink (`straight_s`): of each stroke points 1.5 mm apart; the pen must come within the tolerance of each,
 *   and from one to the next takes no less than the nearest places near them are apart, each axis at its
 *   fastest.
 * - turns (`turning_s`), of strokes that touch no other one: where the ink turns back along an axis by
 *   more than four times the tolerance, that axis must come down to its pull-in, take up its lost motion
 *   and speed up again. What this needs beyond the ink's own time is added, on the one axis where it is
 *   more, but no more than a lift takes, for the stroke may be cut there. A loop leaves out its two
 *   dearest.
 * - lifts: one run for each pen and group of strokes that come within the join of one another.
 * - travel: per pen, from where it starts and to where it ends the shortest hop to anywhere on a stroke,
 *   and a minimum spanning tree over the groups; each by the fastest hop from rest to rest between places
 *   within the tolerance.
 *
 * Left out: corners that do not turn back, the slower of the two axes' turns, turns where strokes touch,
 * lost motion after travel, and hops and lines gone over twice within a group. A stroke that crosses itself
 * is taken as one that does not. */
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
