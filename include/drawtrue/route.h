/* route: in which order? Joins, orders, reverses and starts strokes for the least time. */
#pragma once

#include "drawtrue/base.h"
#include "drawtrue/ink.h"

/* What costs time on a machine, axis by axis (0: X, 1: Y). */
typedef struct {
    double speed[2];        /* fastest, mm/s */
    double acceleration[2]; /* mm/s^2 */
    double pull_in[2];      /* mm/s at which the axis may start or stop without a ramp; may be 0 */
    double lift_s, drop_s;  /* the pen's way up and down, settle time included */
    double change_s;        /* one pen change by hand */
    double slack[2];        /* lost motion taken up where an axis turns round, mm */
} DtCost;

/* Time of a straight move from rest to rest, s: both axes start and stop together along the line,
 * at the fastest path speed and acceleration that keep each axis within its limits, starting and
 * ending at the fastest path speed whose axis speeds are within pull_in (trapezoid or
 * triangle profile; e.g. Biagiotti and Melchiorri 2008, "Trajectory Planning for Automatic Machines
 * and Robots", 3.2). */
double dt_route_move_s(const DtCost *c, DtPoint from, DtPoint to);

/* Fastest speed, and acceleration, along the direction d (need not be of unit length) that keep
 * each axis within its limit. A diagonal is faster than either axis alone. */
double dt_route_speed_along(const DtCost *c, DtPoint d);
double dt_route_acceleration_along(const DtCost *c, DtPoint d);

typedef struct {
    double budget_s;     /* stop improving after this much processor time; 0: no time limit */
    uint64_t iterations; /* of the order search; 0: start and local search only.
                          * Only an iteration budget gives the same order on every run. */
    uint64_t seed;
    double join;          /* gaps up to this length, mm, are drawn across instead of lifted over */
    gboolean one_way;     /* fills: every stroke in one direction along its slackest axis */
    int one_way_axis;     /* 0 or 1 */
    gboolean keep_order;  /* no reordering at all, for comparison */
    gboolean light_first; /* pens from light to dark; otherwise in rack order */
    DtPoint start, end;   /* where the pen comes from, and goes to afterwards */
    DtPoint change_at;    /* where pens are changed */
    gboolean cut;         /* strokes may be cut where they touch or cross one another */
    double retrace;       /* mm: the pen may go back over lines of up to this length; 0: never */
    double run_in;        /* one_way: mm on the way to a fill stroke that take the slack up, pen up;
                           * more than the axis' lost motion */
} DtRouteOptions;

#define DT_ROUTE_OPTIONS_DEFAULT                                                                   \
    ((DtRouteOptions){.iterations = 20000,                                                         \
                      .seed = 1,                                                                   \
                      .join = 0.2,                                                                 \
                      .one_way_axis = 1,                                                           \
                      .cut = TRUE,                                                                 \
                      .retrace = 3,                                                                \
                      .run_in = 1})

/* One pen-down run: points from `first`, traced in this order. A closed loop repeats its first
 * point at its end here. `stroke` is the index, in the set given to dt_route_order, of its first
 * stroke. */
typedef struct {
    size_t first, n;
    uint16_t pen;
    size_t stroke;
    gboolean has_run_in;
    DtPoint run_in; /* where has_run_in: the travel to the first point goes through here, so that it
                     * ends in the direction in which the slack is to be taken up */
} DtPolyline;

/* Runs in drawing order; all of one pen stand together. */
typedef struct {
    DtPoint *pts;
    size_t n_pts, cap_pts;
    DtPolyline *polylines;
    size_t n, cap;
    gboolean is_cut;    /* strokes were cut where they touch or cross one another */
    size_t retraced;    /* ways back over drawn lines */
    double retraced_mm; /* their length */
} DtSequence;

void dt_sequence_init(DtSequence *s);
void dt_sequence_clear(DtSequence *s);
/* Frees the polylines; what was counted stays. */
void dt_sequence_forget_points(DtSequence *s);
void dt_sequence_begin(DtSequence *s, unsigned pen, size_t stroke);
void dt_sequence_point(DtSequence *s, DtPoint p); /* onto the last polyline */
double dt_sequence_ink_mm(const DtSequence *s);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtSequence, dt_sequence_clear)

/* Orders the strokes into `out`. No stroke is lost; with o->cut its ink may be drawn in several runs. The
 * result never costs more than the given order. Fails with DT_ERROR_INPUT on points that are not
 * finite or limits that are not positive. */
gboolean dt_route_order(const DtStrokes *strokes, const DtCost *cost, const DtRack *rack,
                        const DtRouteOptions *o, DtSequence *out, GError **error);
