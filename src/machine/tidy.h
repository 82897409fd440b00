/* tidy: makes the path of the carriage through one run fit for motors with backlash. Private to the
 * room. */
#pragma once

#include "machine/correct.h"

/* A position of the carriage, commanded mm. turn[i] is 0, or the direction (-1 or 1) in which axis
 * i, which waits here, sets out afterwards: the part taken[i] of its slack, 0 to 1, is taken up by
 * then, evenly on the way from the point before. */
typedef struct {
    double at[2];
    double
        way; /* where the given run is then: the number of its point and the part of the line behind it */
    double taken[2];
    int8_t turn[2];
} DtCarriagePoint;

/* How the way may leave the run that was given, all in commanded mm. Together they never lead away
 * from it by more than `most`. */
typedef struct {
    double most;
    double reversal;  /* an axis does not follow a reversal of up to twice this */
    double corner;    /* by so much a corner may be cut off */
    double depth;     /* before its outermost place by which an axis may turn round */
    double least_way; /* of the other axis on a wait, for each mm of slack */
} DtWayRule;

enum { DT_TIDY_RULES = 2 };

/* The rules that are worth a try; returns how many. The first leaves out what no motor could follow and
 * no more; another makes use of the profile's tolerance. */
size_t dt_tidy_rules(const DtProfile *p, double thin, DtWayRule rules[DT_TIDY_RULES]);

/* Leaves out points that lie within a quarter of a step, or `thin`, of the line between those that
 * stay. */
void dt_tidy_straighten(const DtProfile *p, double thin, GArray *points);

/* `given`, of DtCarriagePoint with `way` 0, 1, 2..., by the rule, into `out`; `spare` is scratch. */
void dt_tidy_run(const DtProfile *p, const GArray *given, const DtWayRule *rule, GArray *out,
                 GArray *spare);

/* Lowers speeds with the pen down to what the profile's wire can keep up with. */
void dt_feeds_for_wire(const DtProfile *p, DtMoves *m);
/* The next lower of a few speeds, mm/s, so that most lines need not say a new one. */
double dt_feeds_step(double speed);

/* The steps of it, each a file of its own ------------------------------------------------------ */

/* One axis without the reversals of up to twice `least`: between two greater ones it goes one way
 * only, as near to where it was as that is possible. */
void dt_legs_straighten(DtCarriagePoint *c, size_t n, int axis, double least);

/* Cuts off corners where that lets the pen keep more of its speed. */
void dt_corners_cut(const DtProfile *p, const GArray *given, const DtWayRule *rule,
                    const GArray *points, GArray *out);

/* Lets an axis wait near each of its turns while the other goes on. */
void dt_waits_put(const DtProfile *p, const GArray *given, const DtWayRule *rule, int axis,
                  const GArray *points, GArray *out);

/* A part f of the way from a to b. */
DtCarriagePoint dt_tidy_between(const DtCarriagePoint *a, const DtCarriagePoint *b, double f);

/* How far a point is from where the given run is then, squared. */
double dt_tidy_off2(const GArray *given, const DtCarriagePoint *c);
