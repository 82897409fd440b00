/* turning: what it costs at least that an axis must slow down, take up its lost motion and speed up
 * again wherever the ink turns back along it; see lower-bound.h. */
#pragma once

#include "drawtrue/machine.h"

typedef struct {
    double speed, acceleration, pull_in; /* mm/s, mm/s^2 */
    double tolerance;                    /* mm by which the ink may be missed */
    const DtTable *lost;                 /* lost motion by place, true mm */
    double scale;                        /* true mm per commanded mm */
} TurningAxis;

typedef struct {
    double v[2];
} TurningPoint;

/* The ink of one stroke; a loop's first point is repeated at the end. */
typedef struct {
    const TurningPoint *at; /* commanded mm */
    const double *ink_s;    /* the ink's own time from the first point to each */
    size_t n;
    gboolean is_loop;
    gboolean from_rest, to_rest; /* it begins, ends with a run */
    TurningAxis axis[2];
} TurningWay;

/* Appends, for each leg between two turns, what the axis lacks beyond the ink's own time, s
 * (double): of the axis that lacks more in all. */
void turning_lacks(const TurningWay *w, GArray *lacks);
