/* eye-fit: a fit of readings by least squares, with what the uncertainty and the tests need. */
#include "truing/eye/eye-fit.h"

#include "truing/solve/least-squares.h"

#include <math.h>

gboolean dt_eye_fit(int readings, int rows, int n, const double *a, const double *b, DtEyeFit *f)
{
    dt_eye_fit_clear(f);
    f->n = n;
    f->x = g_new(double, n);
    f->covariance = g_new(double, n *n);
    if (!dt_least_squares((gsize)rows, (gsize)n, a, b, f->x, f->covariance, &f->left)) {
        dt_eye_fit_clear(f);
        return FALSE;
    }
    f->hat = g_new(double, readings *readings);
    dt_hat_matrix((gsize)readings, (gsize)n, a, f->covariance, f->hat);
    return TRUE;
}

void dt_eye_fit_clear(DtEyeFit *f)
{
    g_free(f->x);
    g_free(f->covariance);
    g_free(f->hat);
    *f = (DtEyeFit){0};
}

double dt_eye_fit_sd(const DtEyeFit *f, int i)
{
    return sqrt(f->covariance[i * f->n + i]);
}
