/* tidy: prepares the path of the carriage through one run for motors with backlash. Private to
 * the room. */
#pragma once

#include "machine/correct.h"

/* A position of the carriage, commanded mm. turn[i] is 0, or, for an axis i that waits here, the
 * direction (-1 or 1) in which it moves afterwards: the share taken[i] of its slack, 0 to 1, has
 * been taken up by then, evenly on the way from the previous point. */
typedef struct {
    double at[2];
    double way; /* the matching place on the given run: index of its point plus the fraction of the
              * line after it */
    double taken[2];
    int8_t turn[2];
} DtCarriagePoint;

/* How the path may deviate from the given run, all in commanded mm. Together the deviations
 * never exceed `most`. */
typedef struct {
    double most;
    double reversal;  /* an axis skips reversals of up to twice this */
    double corner;    /* depth to which a corner may be cut */
    double depth;     /* distance before its extreme position at which an axis may turn round */
    double least_way; /* travel of the other axis during a wait, per mm of slack */
} DtWayRule;

enum { DT_TIDY_RULES = 2 };

/* The rules worth trying; returns their number. The first leaves out only what no motor could
 * follow; others use the profile's tolerance. */
size_t dt_tidy_rules(const DtProfile *p, double thin, DtWayRule rules[DT_TIDY_RULES]);

/* Leaves out points within a quarter of a step, or `thin`, of the line between those that stay. */
void dt_tidy_straighten(const DtProfile *p, double thin, GArray *points);

/* Applies the rule to `given`, DtCarriagePoint elements with `way` 0, 1, 2..., and writes the
 * result to `out`; `spare` is scratch. */
void dt_tidy_run(const DtProfile *p, const GArray *given, const DtWayRule *rule, GArray *out,
                 GArray *spare);

/* Reduces speeds with the pen down to what the profile's wire can keep up with. */
void dt_feeds_for_wire(const DtProfile *p, DtMoves *m);
/* The next lower of a few standard speeds, mm/s, so that most lines need not state a new one. */
double dt_feeds_step(double speed);

/* The steps of it, each a file of its own ------------------------------------------------------ */

/* One axis without the reversals of up to twice `least`: between two larger ones it is monotone,
 * and as near to its old path as that allows. */
void dt_legs_straighten(DtCarriagePoint *c, size_t n, int axis, double least);

/* Cuts corners where that lets the pen keep more of its speed. */
void dt_corners_cut(const DtProfile *p, const GArray *given, const DtWayRule *rule,
                    const GArray *points, GArray *out);

/* Lets an axis wait near each of its turns while the other moves on. */
void dt_waits_put(const DtProfile *p, const GArray *given, const DtWayRule *rule, int axis,
                  const GArray *points, GArray *out);

/* The point a fraction f of the way from a to b. */
DtCarriagePoint dt_tidy_between(const DtCarriagePoint *a, const DtCarriagePoint *b, double f);

/* Squared distance of a point from the matching place on the given run. */
double dt_tidy_off2(const GArray *given, const DtCarriagePoint *c);
