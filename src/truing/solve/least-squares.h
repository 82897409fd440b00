/* least-squares: linear least squares by LAPACK. Private to the room. Matrices are row by row. */
#pragma once

#include <glib.h>

/* The x that makes |A x - b| least, for an m by n matrix A (m >= n), by Householder reflections of A with
 * its columns brought to the same length and pivoted (LAPACK dgeqp3; Golub 1965). `covariance`, n by n,
 * which may be NULL, is (A'A)^-1: the uncertainty of x where every row of A and b has been divided by
 * its standard deviation. `rss`, which may be NULL, is the sum of the squared residuals. FALSE where the
 * rank of A is less than n. A and b are kept. */
gboolean dt_least_squares(gsize m, gsize n, const double *a, const double *b, double *x,
                          double *covariance, double *rss);

/* What each of the first `m` rows takes from their right sides, A C A' into `hat`, m by m, with C the covariance by
 * all rows, further ones of which may hold the usual sizes of the unknowns ("hat matrix"). */
void dt_hat_matrix(gsize m, gsize n, const double *a, const double *covariance, double *hat);

/* The inverse of a symmetric positive definite n by n matrix, in place, by Cholesky's method; FALSE, and
 * the matrix spoilt, where it is not. *log_det, which may be NULL, is the logarithm of the determinant
 * of the matrix given. */
gboolean dt_invert_positive(gsize n, double *a, double *log_det);

/* The lower Cholesky factor L of a symmetric positive definite matrix, L L' = A, in its place; FALSE where it
 * is not. */
gboolean dt_cholesky(gsize n, double *a);
/* A standard normal number (Box and Muller 1958). */
double dt_draw_standard(GRand *r);
/* n numbers with the covariance of which `root` is the Cholesky factor. */
void dt_draw_normal(GRand *r, int n, const double *root, double *out);
/* The median of n numbers, which it sorts; 0 of none. */
double dt_median(double *v, gsize n);
