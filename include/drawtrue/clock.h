/* clock: how long a stream of moves takes, in constant memory: straight blocks, trapezoid speeds
 * within each axis' highest speed and acceleration, junctions within each axis' pull-in, a full
 * stop wherever the caller says so. The look-ahead reaches over DT_CLOCK_BLOCKS blocks. */
#pragma once

#include "drawtrue/machine.h"

enum { DT_CLOCK_BLOCKS = 512 };

typedef struct {
    double length, top, twice_a; /* mm, fastest speed, twice the acceleration */
    double top2, entry2;         /* speeds squared; entry2 is the fastest entry */
    double rough_s;              /* at its fastest speed all along */
    size_t tag;
} DtClockBlock;

typedef struct {
    double speed[2], acceleration[2], pull_in[2];
    DtClockBlock block[DT_CLOCK_BLOCKS];
    int n;
    double enter2;  /* speed squared at which block[0] is entered */
    double ux, uy;  /* direction in which the last block ends */
    double seconds; /* of the blocks that are done */
    double rough_s; /* of the others, at full speed: a lower bound */
    size_t tag;     /* given to the blocks that are added */
    void (*took)(size_t tag, double seconds, void *user); /* for each block done; may be NULL */
    void *user;
} DtClock;

void dt_clock_init(DtClock *c, const DtProfile *p);
/* A straight move by (dx, dy) != 0 of this length; feed G_MAXDOUBLE for as fast as the axes go. */
void dt_clock_move(DtClock *c, double dx, double dy, double length, double feed);
/* An arc of this radius, cut by the controller into chords that turn by `turn` each: it leaves
 * along (ux0, uy0) and arrives along (ux1, uy1), less than a quarter turn on. */
void dt_clock_arc(DtClock *c, const double leave[2], const double arrive[2], double length,
                  double feed, double turn);
/* Comes to rest. `seconds` then counts all moves. */
void dt_clock_stop(DtClock *c);
