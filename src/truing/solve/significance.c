/* significance: whether unknowns of the fit are more than noise. */
#include "truing/solve/least-squares.h"
#include "truing/solve/solve.h"

#include <math.h>

/* What chi-squared of n degrees of freedom exceeds in 1 of 100 cases (Wilson and Hilferty 1931). */
static double chi_squared_99(int n)
{
    const double z = 2.3263, t = 2.0 / (9.0 * n), c = 1 - t + z * sqrt(t);
    return n * c * c * c;
}

gboolean dt_stand_out(const DtModel *m, const DtModelFit *fit, int first, int n, const double *from)
{
    g_autofree double *v = g_new(double, n *n), *off = g_new(double, n);
    double sum = 0;
    for (int i = 0; i < n; i++) {
        off[i] = m->b[first + i] - (from ? from[i] : 0);
        for (int j = 0; j < n; j++)
            v[i * n + j] = fit->v[(size_t)(first + i) * (size_t)m->n + (size_t)(first + j)];
    }
    if (!dt_invert_positive((gsize)n, v, NULL))
        return FALSE;
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++)
            sum += off[i] * v[i * n + j] * off[j];
    return sum > chi_squared_99(n);
}
