/* eye-fit: a fit of readings by least squares, and of what is usual as further observations. Private to the room. */
#pragma once

#include <glib.h>

/* `x` and its covariance, n by n; `left` is the sum of the squared residuals; `hat` is the hat matrix of the
 * readings. Zeroed it is empty. */
typedef struct {
    int n;
    double *x, *covariance, *hat, left;
} DtEyeFit;

/* Of `n` unknowns, to `rows` rows of observations by their standard deviations, the first `readings` of which are
 * readings. What *f held is freed. FALSE where they do not determine the unknowns: *f is empty then. */
gboolean dt_eye_fit(int readings, int rows, int n, const double *a, const double *b, DtEyeFit *f);
void dt_eye_fit_clear(DtEyeFit *f);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtEyeFit, dt_eye_fit_clear)

/* The standard uncertainty of an unknown. */
double dt_eye_fit_sd(const DtEyeFit *f, int i);
