/* pace: how long a controller takes over a program that comes to it line by line over a serial line.
 *
 * A line goes out once its bytes and those not answered yet fit into the receive buffer, and takes ten
 * bits a byte (8N1). It is taken when it is there, the lines before it are taken, and the planner has
 * room for its blocks; lines that wait for rest are taken then. The reply comes back over the wire, and
 * a delay later the sender has read it. The planner holds a number of blocks, keeps every speed such that
 * it can come to rest at the end of the last one it knows, and speeds up again where more come.
 *
 * The same blocks, limits and junctions as in clock.h, which looks far ahead and knows no wire. */
#pragma once

#include "drawtrue/machine.h"

enum { DT_PACE_MOST_BLOCKS = 512 };

typedef struct {
    double length, twice_a; /* mm, twice the acceleration */
    double top2, junction2, entry2,
        rest2; /* mm^2/s^2: fastest, fastest at entry, planned at entry, from
                                            * or to rest */
} DtPaceBlock;

typedef struct {
    /* the wire */
    double byte_s, delay_s; /* of one byte; from the end of a reply until the sender has read it */
    guint accept_bytes;     /* how a reply begins; a number follows */
    guint64 window;         /* bytes in flight at most; 0: one line at a time */
    GQueue answers;         /* what was answered when, that may still matter */
    guint64 sent_bytes, sent_lines, known_bytes, known_lines;
    double known_at;   /* when the sender knew that */
    double wire_free;  /* from when on the wire is free */
    double reply_free; /* and the one back */
    double arrived;    /* the line at hand */
    double taken;      /* the latest line: from when on another may be taken */
    gboolean has_line;

    /* the planner */
    double speed[2], acceleration[2], pull_in[2];
    guint depth;
    DtPaceBlock block[DT_PACE_MOST_BLOCKS];
    guint first, n;  /* of a ring */
    double ux, uy;   /* direction in which the last block ends */
    double at, v2;   /* in the first block: mm and speed squared */
    double now;      /* up to here the motion is worked out, s */
    gboolean down;   /* the pen */
    gboolean hungry; /* it has come to rest with the pen down, for want of a line or at the end */
    size_t starved;  /* stops with the pen down because the next line had not come */
} DtPace;

/* By the profile's axes and the dialect's wire. Clear it afterwards. */
void dt_pace_init(DtPace *c, const DtProfile *p);
void dt_pace_clear(DtPace *c);
/* The next line of the program: bytes on the wire, with its end. What follows belongs to it. */
void dt_pace_line(DtPace *c, guint bytes);
/* A straight move, as for dt_clock_move(). */
void dt_pace_move(DtPace *c, double dx, double dy, double length, double feed);
/* A piece of an arc, as for dt_clock_arc(). */
void dt_pace_arc(DtPace *c, const double leave[2], const double arrive[2], double length,
                 double feed, double turn);
/* The line waits until all motion is done, and then so long: a dwell, a pen word, a stop. */
void dt_pace_wait(DtPace *c, double s);
/* The time until all that is known is done, s, its speeds being the highest: never too long. */
double dt_pace_so_far(const DtPace *c);
/* The time until all is done, s. */
double dt_pace_finish(DtPace *c);
