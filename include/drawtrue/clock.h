/* clock: how long a stream of moves takes, in constant memory. Straight blocks, trapezoidal
 * speed profiles within each axis' top speed and acceleration, junctions within each axis'
 * pull-in, and a full stop wherever the caller asks for one. Looks DT_CLOCK_BLOCKS blocks ahead. */
#pragma once

#include "drawtrue/machine.h"

enum { DT_CLOCK_BLOCKS = 512 };

typedef struct {
    double length, top, twice_a; /* mm, fastest speed, twice the acceleration */
    double top2, entry2;         /* speeds squared; entry2 is the fastest entry */
    double rough_s;              /* at top speed throughout */
    size_t tag;
} DtClockBlock;

typedef struct {
    double speed[2], acceleration[2], pull_in[2];
    DtClockBlock block[DT_CLOCK_BLOCKS];
    int n;
    double enter2;  /* speed squared at which block[0] is entered */
    double ux, uy;  /* direction in which the last block ends */
    double seconds; /* of the finished blocks */
    double rough_s; /* of the other blocks at top speed: a lower bound */
    size_t tag;     /* attached to the blocks that are added */
    void (*took)(size_t tag, double seconds, void *user); /* called for each finished block; may
                                                           * be NULL */
    void *user;
} DtClock;

void dt_clock_init(DtClock *c, const DtProfile *p);
/* A straight move by (dx, dy) != 0 of this length; feed G_MAXDOUBLE means as fast as the axes
 * can. */
void dt_clock_move(DtClock *c, double dx, double dy, double length, double feed);
/* An arc of this radius, which the controller cuts into chords that turn by `turn` each: it
 * leaves along (ux0, uy0) and arrives along (ux1, uy1), less than a quarter turn later. */
void dt_clock_arc(DtClock *c, const double leave[2], const double arrive[2], double length,
                  double feed, double turn);
/* Brings the motion to rest. `seconds` then covers all moves. */
void dt_clock_stop(DtClock *c);
