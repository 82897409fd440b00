/* metric: the cost of a step from one point to another, as a whole number so that sums are exact
 * and the same on every machine. Private to route and its benchmarks. */
#pragma once

#include "drawtrue/route.h"

#include <math.h>

typedef enum {
    DT_METRIC_MOVE_TIME, /* microseconds on the machine, including lift and drop */
    DT_METRIC_ROUNDED,   /* Euclid, rounded to the nearest integer (TSPLIB95, EUC_2D) */
    DT_METRIC_CEILED,    /* Euclid, rounded up (TSPLIB95, CEIL_2D) */
} DtMetricKind;

/* Reciprocals of the limits per axis: saves a division in the innermost loop. */
typedef struct {
    DtMetricKind kind;
    double per_speed[2], per_acceleration[2], per_pull_in[2];
    double lift_s; /* lift and drop */
    double join2;  /* square of the longest gap drawn across; -1: every step has a lift */
} DtMetric;

/* No single step costs more than this; two of them and their sum stay within int32_t. */
#define DT_METRIC_LIMIT 1000000000

/* Replaces a pull-in of zero: finite, so that its product with a zero distance is zero. */
#define DT_METRIC_NO_PULL_IN 1e30

/* join: longest gap drawn across, mm; negative if every step has a lift. */
DtMetric dt_metric_of_cost(const DtCost *c, double join);

/* Rest to rest along a straight line whose extents are dx, dy >= 0, s. In units of the whole
 * path the speed limit is 1/v, the acceleration 1/a and the speed at both ends 1/p, each the
 * tighter of the two axes: a trapezoid, or a triangle if the path is too short to reach the
 * limit. */
static inline double dt_metric_move_s(const DtMetric *m, double dx, double dy)
{
    double v = MAX(dx * m->per_speed[0], dy * m->per_speed[1]);
    double a = MAX(dx * m->per_acceleration[0], dy * m->per_acceleration[1]);
    double p = MAX(dx * m->per_pull_in[0], dy * m->per_pull_in[1]);
    if (p <= v)
        return v;
    double top = 1 / v, bottom = 1 / p;
    double ramps = (top * top - bottom * bottom) * a;
    if (ramps <= 1)
        return 2 * (top - bottom) * a + (1 - ramps) * v;
    return 2 * (sqrt(bottom * bottom + 1 / a) - bottom) * a;
}

static inline int32_t dt_metric_step(const DtMetric *m, DtPoint a, DtPoint b)
{
    double dx = fabs(a.x - b.x), dy = fabs(a.y - b.y);
    double d2 = dx * dx + dy * dy;
    if (m->kind == DT_METRIC_ROUNDED)
        return (int32_t)(sqrt(d2) + 0.5);
    if (m->kind == DT_METRIC_CEILED)
        return (int32_t)ceil(sqrt(d2));
    double s = (d2 > 0 ? dt_metric_move_s(m, dx, dy) : 0) + (d2 > m->join2 ? m->lift_s : 0);
    s = s * 1e6 + 0.5;
    return s < DT_METRIC_LIMIT ? (int32_t)s : DT_METRIC_LIMIT;
}
