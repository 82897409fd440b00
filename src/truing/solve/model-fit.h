/* model-fit: the unknowns of the model from the evidence. Private to the room. */
#pragma once

#include "truing/solve/residuals.h"

/* Of marks along each axis: at the low end, in the middle and at the high end of the other. */
enum { DT_ROWS = 3 };

struct DtModelFit {
    double *v;        /* covariance of the unknowns, n by n */
    double *v_shared; /* the part of it that other sheets of the machine share */
    double sd
        [DT_CLASSES]; /* of an observation, mm; sums are divided by the square root of their number */
    double sd_used[DT_CLASSES];  /* by which the covariance was found; `sd` follow from it */
    double left[DT_CLASSES];     /* degrees of freedom */
    double tails[DT_CLASSES];    /* variance of the squares, by their mean squared: 2 if normal */
    double n[DT_CLASSES];        /* observations, each by its weight */
    double stiffness[DT_CURVES]; /* 1 / variance of a second difference, mm^-2 */
    gboolean wave_known;         /* scans a quarter turn apart tell the scanner's waviness */
    DtResiduals left_over;
};

/* Fits by iterated weighted least squares. The standard deviations of the classes and the stiffness of the
 * curves are those that make the evidence most likely (restricted maximum likelihood: Patterson and
 * Thompson 1971, by the iteration of Fellner 1986 and Schall 1991), so that no curve is smoothed more or
 * less than what was seen asks for. Items that are far from what the others say of them count less or not at
 * all, by a redescending function of their residuals (Hampel 1974) and deviations from the median of all. DT_ERROR_INPUT where the evidence contradicts itself. */
gboolean dt_fit_model(DtModel *m, DtModelFit *out, GError **error);
void dt_fit_clear(DtModelFit *f);

/* The standard deviation of a sum of unknowns with these weights; and what of it other sheets share. */
double dt_fit_sd(const DtModelFit *f, int n, const double *weights);
double dt_fit_sd_shared(const DtModelFit *f, int n, const double *weights);
