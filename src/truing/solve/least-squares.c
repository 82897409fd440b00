/* least-squares: see least-squares.h. */
#include "truing/solve/least-squares.h"

#include <lapacke.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Columns of A, each divided by its length, which goes to `size`; column by column as LAPACK likes it. */
static double *scaled_columns(gsize m, gsize n, const double *a, double *size)
{
    double *q = g_new(double, m *n);
    for (gsize j = 0; j < n; j++) {
        double sum = 0;
        for (gsize i = 0; i < m; i++)
            sum += a[i * n + j] * a[i * n + j];
        size[j] = sum > 0 ? sqrt(sum) : 1;
        for (gsize i = 0; i < m; i++)
            q[j * m + i] = a[i * n + j] / size[j];
    }
    return q;
}

/* (R'R)^-1 of the pivoted, scaled problem to that of the one given. */
static void fill_covariance(gsize m, gsize n, const double *q, const lapack_int *pivot,
                            const double *size, double *covariance)
{
    double *r = g_new0(double, n *n);
    for (gsize j = 0; j < n; j++)
        for (gsize i = 0; i <= j; i++)
            r[j * n + i] = q[j * m + i];
    LAPACKE_dpotri(LAPACK_COL_MAJOR, 'U', (lapack_int)n, r, (lapack_int)n);
    for (gsize j = 0; j < n; j++)
        for (gsize i = 0; i < n; i++) {
            const gsize pi = (gsize)pivot[i] - 1, pj = (gsize)pivot[j] - 1;
            const double v = i <= j ? r[j * n + i] : r[i * n + j];
            covariance[pi * n + pj] = v / (size[pi] * size[pj]);
        }
    g_free(r);
}

gboolean dt_least_squares(gsize m, gsize n, const double *a, const double *b, double *x,
                          double *covariance, double *rss)
{
    g_autofree double *size = g_new(double, n), *tau = g_new(double, n),
                      *y = g_memdup2(b, m * sizeof *b);
    g_autofree double *q = scaled_columns(m, n, a, size);
    g_autofree lapack_int *pivot = g_new0(lapack_int, n);
    const lapack_int rows = (lapack_int)m, columns = (lapack_int)n;
    if (m < n || LAPACKE_dgeqp3(LAPACK_COL_MAJOR, rows, columns, q, rows, pivot, tau) != 0 ||
        fabs(q[(n - 1) * m + n - 1]) <= 1e-15 * fabs(q[0]))
        return FALSE;
    LAPACKE_dormqr(LAPACK_COL_MAJOR, 'L', 'T', rows, 1, columns, q, rows, tau, y, rows);
    double sum = 0;
    for (gsize i = n; i < m; i++)
        sum += y[i] * y[i];
    if (rss)
        *rss = sum;
    LAPACKE_dtrtrs(LAPACK_COL_MAJOR, 'U', 'N', 'N', columns, 1, q, rows, y, rows);
    for (gsize j = 0; j < n; j++)
        x[pivot[j] - 1] = y[j] / size[pivot[j] - 1];
    if (covariance)
        fill_covariance(m, n, q, pivot, size, covariance);
    return TRUE;
}

void dt_hat_matrix(gsize m, gsize n, const double *a, const double *covariance, double *hat)
{
    g_autofree double *ac = g_new0(double, m *n);
    for (gsize i = 0; i < m; i++)
        for (gsize j = 0; j < n; j++)
            for (gsize k = 0; k < n; k++)
                ac[i * n + k] += a[i * n + j] * covariance[j * n + k];
    for (gsize i = 0; i < m; i++)
        for (gsize j = 0; j < m; j++) {
            hat[i * m + j] = 0;
            for (gsize k = 0; k < n; k++)
                hat[i * m + j] += ac[i * n + k] * a[j * n + k];
        }
}

gboolean dt_invert_positive(gsize n, double *a, double *log_det)
{
    const lapack_int order = (lapack_int)n;
    if (LAPACKE_dpotrf(LAPACK_COL_MAJOR, 'U', order, a, order) != 0)
        return FALSE;
    double sum = 0;
    for (gsize i = 0; i < n; i++)
        sum += 2 * log(a[i * n + i]);
    if (log_det)
        *log_det = sum;
    if (LAPACKE_dpotri(LAPACK_COL_MAJOR, 'U', order, a, order) != 0)
        return FALSE;
    for (gsize j = 0; j < n; j++)
        for (gsize i = 0; i < j; i++)
            a[i * n + j] = a[j * n + i];
    return TRUE;
}

gboolean dt_cholesky(gsize n, double *a)
{
    if (LAPACKE_dpotrf(LAPACK_ROW_MAJOR, 'L', (lapack_int)n, a, (lapack_int)n) != 0)
        return FALSE;
    for (gsize i = 0; i < n; i++)
        for (gsize j = i + 1; j < n; j++)
            a[i * n + j] = 0;
    return TRUE;
}

double dt_draw_standard(GRand *r)
{
    const double u = 1 - g_rand_double(r), v = g_rand_double(r);
    return sqrt(-2 * log(u)) * cos(2 * G_PI * v);
}

void dt_draw_normal(GRand *r, int n, const double *root, double *out)
{
    g_autofree double *z = g_new(double, n);
    for (int i = 0; i < n; i++)
        z[i] = dt_draw_standard(r);
    for (int i = 0; i < n; i++) {
        out[i] = 0;
        for (int j = 0; j <= i; j++)
            out[i] += root[(gsize)i * (gsize)n + (gsize)j] * z[j];
    }
}

static int rising(const void *a, const void *b)
{
    const double d = *(const double *)a - *(const double *)b;
    return (d > 0) - (d < 0);
}

double dt_median(double *v, gsize n)
{
    qsort(v, n, sizeof *v, rising);
    return n == 0 ? 0 : n % 2 ? v[n / 2] : (v[n / 2 - 1] + v[n / 2]) / 2;
}
