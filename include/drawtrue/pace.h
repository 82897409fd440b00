/* pace: how long a controller takes over a program that arrives line by line over a serial line.
 *
 * A line is sent once its bytes and those not yet answered fit into the receive buffer, and
 * takes ten bits a byte (8N1). The controller accepts it when it has arrived, all lines before
 * it are accepted, and the planner has room for its blocks; a line that waits for the motion to
 * end is accepted then. The reply comes back over the wire, and a delay later the sender has
 * read it. The planner holds a number of blocks, keeps every speed low enough to come to rest at
 * the end of the last known block, and speeds up again when more blocks arrive.
 *
 * Blocks, limits and junctions are those of clock.h, which looks far ahead and ignores the wire. */
#pragma once

#include "drawtrue/machine.h"

enum { DT_PACE_MOST_BLOCKS = 512 };

typedef struct {
    double length, twice_a; /* mm, twice the acceleration */
    double top2, junction2, entry2,
        rest2; /* mm^2/s^2: highest, highest at entry, planned at entry, from or to rest */
} DtPaceBlock;

/* The reply to a line: bytes and lines sent up to its end, and when the sender has read it. */
typedef struct {
    guint64 bytes, lines;
    double at;
} DtPaceAnswer;

typedef struct {
    /* the wire */
    double byte_s, delay_s; /* time of one byte; from the end of a reply until the sender has
                             * read it */
    guint accept_bytes;     /* how a reply begins; a number follows */
    guint64 window;         /* most bytes in flight; 0: one line at a time */
    DtPaceAnswer *answers;  /* a ring of those that the sender may not have read yet */
    guint first_answer, n_answers, answers_room; /* room: a power of two */
    guint64 sent_bytes, sent_lines, known_bytes, known_lines;
    double known_at;   /* when the sender learnt that */
    double wire_free;  /* when the wire to the controller is free */
    double reply_free; /* when the wire back is free */
    double arrived;    /* arrival of the current line */
    double taken;      /* when the latest line was accepted; the next one cannot be before */
    gboolean has_line;

    /* the planner */
    double speed[2], acceleration[2], pull_in[2];
    guint depth;
    DtPaceBlock block[DT_PACE_MOST_BLOCKS];
    guint first, n;  /* first and number of blocks in the ring */
    double ux, uy;   /* direction in which the last block ends */
    double at, v2;   /* within the first block: position, mm, and speed squared */
    double now;      /* the motion is computed up to this time, s */
    gboolean down;   /* of the pen */
    gboolean hungry; /* it has come to rest with the pen down, because no line came or at the end */
    size_t starved;  /* stops with the pen down because the next line had not arrived */
} DtPace;

/* For the profile's axes and the dialect's wire. Clear it afterwards. */
void dt_pace_init(DtPace *c, const DtProfile *p);
void dt_pace_clear(DtPace *c);
/* The next line of the program: bytes on the wire, including its end. The following calls belong
 * to it. */
void dt_pace_line(DtPace *c, guint bytes);
/* A straight move; parameters as for dt_clock_move(). */
void dt_pace_move(DtPace *c, double dx, double dy, double length, double feed);
/* A piece of an arc; parameters as for dt_clock_arc(). */
void dt_pace_arc(DtPace *c, const double leave[2], const double arrive[2], double length,
                 double feed, double turn);
/* The line waits until all motion has ended and then for `s` seconds: a dwell, a pen word, a
 * stop. */
void dt_pace_wait(DtPace *c, double s);
/* The time until everything known is done, s, at the highest speeds: a lower bound. */
double dt_pace_so_far(const DtPace *c);
/* The time until everything is done, s. */
double dt_pace_finish(DtPace *c);
