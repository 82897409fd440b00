/* model: where a mark is seen, as a function of all that is unknown of the machine and of the scanner.
 * Private to the room.
 *
 * Machine, for each axis, c commanded mm:
 *     u = (1 + scale) c                                   by the scale alone
 *     k = u + sine sin(t) + cosine cos(t) [+ slack(k)]    t = 2 pi u / turn of the pulley; the slack where
 *                                                         the axis was driven towards -
 *         + the same with the period of a gear's teeth, where one was found
 *     r = k + position(k) +- twist(k) / 2                 + where the other axis was driven towards +
 *     x = r_x + r_y sin(square) + straight_y(k_y),  y = r_y cos(square) + straight_x(k_x)
 * Scanner, the sheet's middle being at t on the glass and the sheet turned by phi:
 *     g = t + R(phi) (x - x_m, y_m - y)
 *     seen_x = (1 + scale_x) (g_x + skew g_y + across(g_y)),  seen_y = (1 + scale_y) (g_y + along(g_y))
 * across() and along() are the waviness of its carriage; its row of sensors is taken to be straight and
 * even. Both scans come from one scanner, and so share its scales, its skew and its waviness: a sheet turned
 * by a quarter then shows each of its errors against another one of the scanner's (reversal; Evans, Hocken
 * and Estler 1996). */
#pragma once

#include "drawtrue/truing.h"

/* Coefficients of hat functions on evenly spaced knots: a curve that is linear between them. */
typedef struct {
    int first, n; /* in the vector of unknowns */
    double from, step;
} DtCurve;

/* Curves in the order of their smoothness priors. */
typedef enum {
    DT_CURVE_POSITION,
    DT_CURVE_STRAIGHT = 2,
    DT_CURVE_SLACK = 4,
    DT_CURVE_TWIST = 6,
    DT_CURVE_WAVE = 8, /* across, along */
    DT_CURVES = 10,
} DtCurveId;

enum { DT_MOST_SCANS = 4, DT_BEND_TERMS = 18 };

/* One mark, or one piece of a long line, and where the scans show it. */
typedef struct {
    size_t mark;
    int piece;
    int axis;                          /* whose place it shows */
    int way[2];                        /* in which each axis was driven last */
    DtPoint middle;                    /* commanded mm */
    DtPoint along;                     /* direction of the stroke, commanded */
    int line;                          /* which long line it is a piece of; -1: none */
    const DtSeen *seen[DT_MOST_SCANS]; /* NULL: not seen */
    double weight;                     /* 1, less where it does not fit */
    gboolean surrounded;               /* by others that do not: it is left out */
} DtItem;

typedef struct {
    int first; /* x, y and angle, then the bends of a photograph */
    gboolean photograph;
} DtPoseBlock;

typedef struct {
    const DtProfile *p;
    const DtEvidence *e;
    DtItem *items;
    size_t n_items;
    int n_lines, n_scans;
    double turn[2];  /* mm of cord a turn of the pulley takes up */
    DtPoint middle;  /* of the sheet, commanded mm */
    double glass_mm; /* by which places on the glass are divided in the bends of a photograph */
    /* unknowns */
    int n;
    int scale[2], square, pulley[2], gear[2]; /* sine, cosine of both */
    double gear_period[2];                    /* mm; 0: none is known */
    int glass_scale[2], skew;
    int card[2]; /* how much longer and wider the card is than its size says, as a share */
    int lines;   /* offset across of each long line */
    DtCurve curves[DT_CURVES];
    DtPoseBlock pose[DT_MOST_SCANS];
    double *b; /* n of them */
} DtModel;

void dt_model_init(DtModel *m, const DtProfile *p, const DtEvidence *e);
void dt_model_clear(DtModel *m);

/* A mark that is no piece of a long line. */
DtItem dt_model_item(const DtTestSheet *s, size_t mark);
/* Whether it is a mark of a row along an axis: the one at the low end of the other axis, in the middle or at the high
 * end. */
gboolean dt_model_in_row(const DtModel *m, const DtItem *item, int axis, int row);

double dt_curve_at(const DtCurve *c, const double *b, double at);
/* Adds the derivatives of a curve's value by its coefficients, times `by`, to a row of all unknowns. */
void dt_curve_add(const DtCurve *c, double at, double by, double *row);

/* Where the ink is, bed mm, and the derivatives by the unknowns where `x_row` and `y_row` (n each, zeroed)
 * are not NULL. */
DtPoint dt_model_ink(const DtModel *m, DtPoint c, const int way[2], double *x_row, double *y_row);

/* Across the item as scan k shows it, towards + of the axis that it shows. */
DtPoint dt_model_normal(const DtModel *m, const DtItem *item, int k);
/* How far along its normal, towards + of the axis that it shows, scan k sees the item beyond where the
 * model has it, mm; `row` (n, zeroed) gets the derivatives of where the model has it. `scratch` has room
 * for 2n. */
double dt_model_residual(const DtModel *m, const DtItem *item, int k, double *row, double *scratch);

/* The middles of the two ticks between which a rule measures the gauge line of an axis, commanded mm; FALSE
 * where the sheet has none. */
gboolean dt_model_gauge_ticks(const DtTestSheet *s, int axis, DtPoint ticks[2]);
/* The mean of the rule's readings of an axis, mm. */
double dt_model_rule_mean(const DtEvidence *e, int axis);
