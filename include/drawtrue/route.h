/* route: joins, orders, reverses and starts strokes for the least time. */
#pragma once

#include "drawtrue/base.h"
#include "drawtrue/ink.h"

/* The times and limits of a machine that decide the order, by axis (0: X, 1: Y). */
typedef struct {
    double speed[2];        /* fastest, mm/s */
    double acceleration[2]; /* mm/s^2 */
    double pull_in[2];      /* mm/s at which the axis may start or stop without a ramp; may be 0 */
    double lift_s, drop_s;  /* moving the pen up and down, settle time included */
    double change_s;        /* one pen change by hand */
    double slack[2];        /* lost motion to be taken up when an axis reverses, mm */
} DtCost;

/* Time of a straight move from rest to rest, s: both axes start and stop together along the line,
 * at the fastest path speed and acceleration that keep each axis within its limits, starting and
 * ending at the fastest path speed whose axis speeds are within pull_in (trapezoid or
 * triangle profile; e.g. Biagiotti and Melchiorri 2008, "Trajectory Planning for Automatic Machines
 * and Robots", 3.2). */
double dt_route_move_s(const DtCost *c, DtPoint from, DtPoint to);

/* Highest speed, and acceleration, along the direction d (any length) that keep each axis within
 * its limit. A diagonal is faster than either axis alone. */
double dt_route_speed_along(const DtCost *c, DtPoint d);
double dt_route_acceleration_along(const DtCost *c, DtPoint d);

typedef struct {
    double budget_s;     /* stop improving after this much processor time; 0: no limit */
    uint64_t iterations; /* of the order search; 0: only the start and local search. Only a
                          * budget of iterations gives the same order on every run. */
    uint64_t seed;
    double join;          /* gaps up to this length, mm, are drawn across instead of lifting the
                           * pen */
    gboolean one_way;     /* fills: every stroke in one direction along the axis with most lost
                           * motion */
    int one_way_axis;     /* 0 or 1 */
    gboolean keep_order;  /* no reordering at all, for comparison */
    gboolean light_first; /* pens from light to dark; otherwise in the order of the rack */
    DtPoint start, end;   /* where the pen comes from, and where it goes afterwards */
    DtPoint change_at;    /* where pens are changed */
    gboolean cut;         /* strokes may be cut where they touch or cross */
    double retrace;       /* mm: the pen may retrace lines of up to this length; 0: never */
    double run_in;        /* one_way: mm, pen up, on the way to a fill stroke that take up the
                           * slack; more than the axis' lost motion */
} DtRouteOptions;

#define DT_ROUTE_OPTIONS_DEFAULT                                                                   \
    ((DtRouteOptions){.iterations = 20000,                                                         \
                      .seed = 1,                                                                   \
                      .join = 0.2,                                                                 \
                      .one_way_axis = 1,                                                           \
                      .cut = TRUE,                                                                 \
                      .retrace = 3,                                                                \
                      .run_in = 1})

/* One line drawn with the pen down: points from `first`, in this order. A closed loop repeats
 * its first point at its end here. `stroke` is the index, in the set given to dt_route_order, of
 * its first stroke. */
typedef struct {
    size_t first, n;
    uint16_t pen;
    size_t stroke;
    gboolean has_run_in;
    DtPoint run_in; /* if has_run_in: the travel to the first point passes through here, so that
                     * it ends in the direction in which the slack is to be taken up */
} DtPolyline;

/* Runs in drawing order; those of one pen are consecutive. */
typedef struct {
    DtPoint *pts;
    size_t n_pts, cap_pts;
    DtPolyline *polylines;
    size_t n, cap;
    gboolean is_cut;    /* strokes were cut where they touch or cross */
    size_t retraced;    /* number of retraced lines */
    double retraced_mm; /* their length */
} DtSequence;

void dt_sequence_init(DtSequence *s);
void dt_sequence_clear(DtSequence *s);
/* Frees the polylines; the counts stay. */
void dt_sequence_forget_points(DtSequence *s);
void dt_sequence_begin(DtSequence *s, unsigned pen, size_t stroke);
void dt_sequence_point(DtSequence *s, DtPoint p); /* appends to the last polyline */
double dt_sequence_ink_mm(const DtSequence *s);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtSequence, dt_sequence_clear)

/* Orders the strokes into `out`. No stroke is lost; with o->cut a stroke may be drawn in several
 * runs. The result never costs more than the given order. Fails with DT_ERROR_INPUT on points
 * that are not finite or limits that are not positive. */
gboolean dt_route_order(const DtStrokes *strokes, const DtCost *cost, const DtRack *rack,
                        const DtRouteOptions *o, DtSequence *out, GError **error);
