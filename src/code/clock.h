/* clock: how long a stream of moves takes, in constant memory. The rule is that of
 * dt_machine_time(): straight blocks, trapezoid speeds within each axis' greatest speed and
 * acceleration, junctions within each axis' pull-in, a full stop wherever the pen moves. Private.
 */
#pragma once

#include "drawtrue/machine.h"

enum { CLOCK_BLOCKS = 512 };

typedef struct {
    double length, top2, twice_a, entry2; /* mm; speeds squared; entry2 is the fastest entry */
    double rest2;                         /* fastest from or to rest along it */
} DtClockBlock;

typedef struct {
    double speed[2], acceleration[2], pull_in[2];
    DtClockBlock block[CLOCK_BLOCKS];
    int n;
    double enter2;  /* speed squared at which block[0] is entered */
    double ux, uy;  /* direction of the last block */
    double seconds; /* of the blocks that are done */
} DtClock;

void dt_clock_init(DtClock *c, const DtProfile *p);
/* A straight move by (dx, dy) != 0 of this length; feed G_MAXDOUBLE for as fast as the axes go. */
void dt_clock_move(DtClock *c, double dx, double dy, double length, double feed);
/* Comes to rest. `seconds` then counts all moves. */
void dt_clock_stop(DtClock *c);
