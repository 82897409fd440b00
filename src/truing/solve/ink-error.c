/* ink-error: see ink-error.h. */
#include "truing/solve/ink-error.h"

#include "truing/solve/least-squares.h"

#include <math.h>
#include <string.h>

enum { ACROSS = 13, DOWN = 9, POINTS = ACROSS * DOWN * 4 };

/* Places all over what was measured, driven in each of the four pairs of directions. */
static DtPoint place_of(const DtModel *m, int i, int way[2])
{
    const DtCurve *x = &m->curves[DT_CURVE_POSITION], *y = &m->curves[DT_CURVE_POSITION + 1];
    const int at = i / 4;
    way[0] = i % 2 ? 1 : -1;
    way[1] = i / 2 % 2 ? 1 : -1;
    return dt_point(x->from + x->step * (x->n - 1) * (at % ACROSS) / (ACROSS - 1.0),
                    y->from + y->step * (y->n - 1) * (at / ACROSS) / (DOWN - 1.0));
}

static int rising(const void *a, const void *b)
{
    const double d = *(const double *)a - *(const double *)b;
    return (d > 0) - (d < 0);
}

/* Where the ink is off its place, with the unknowns as they are. */
static void find_off(const DtModel *m, DtPoint off[POINTS])
{
    for (int i = 0; i < POINTS; i++) {
        int way[2];
        const DtPoint at = place_of(m, i, way);
        off[i] = dt_point_sub(dt_model_ink(m, at, way, NULL, NULL), at);
    }
}

/* Of the lines that are taken to run there, in all directions alike: ink that is off along its own line
 * does not show. */
static DtPoint normal_of(int i)
{
    const double golden = 2.399963229728653;
    return dt_point(cos(golden * i), sin(golden * i));
}

/* 95 % of the lines' errors are smaller. How the paper lies is no error of the machine: the best shift and
 * turn are taken off first. */
static double p95_of(const DtModel *m, DtPoint off[POINTS])
{
    DtPoint at[POINTS], mean_at = {0, 0}, mean_off = {0, 0};
    double cross = 0, size = 0, away[POINTS];
    for (int i = 0; i < POINTS; i++) {
        int way[2];
        at[i] = place_of(m, i, way);
        mean_at = dt_point_add(mean_at, dt_point_scale(at[i], 1.0 / POINTS));
        mean_off = dt_point_add(mean_off, dt_point_scale(off[i], 1.0 / POINTS));
    }
    for (int i = 0; i < POINTS; i++) {
        at[i] = dt_point_sub(at[i], mean_at);
        off[i] = dt_point_sub(off[i], mean_off);
        cross += dt_point_cross(at[i], off[i]);
        size += dt_point_dot(at[i], at[i]);
    }
    for (int i = 0; i < POINTS; i++) {
        const double turn = cross / size;
        const DtPoint left = {off[i].x + turn * at[i].y, off[i].y - turn * at[i].x};
        away[i] = fabs(dt_point_dot(left, normal_of(i)));
    }
    qsort(away, POINTS, sizeof *away, rising);
    return away[(int)(0.95 * POINTS)];
}

double dt_ink_share(DtModel *m, int first, int n, const double *has)
{
    DtPoint with[POINTS], without[POINTS];
    g_autofree double *kept = g_memdup2(m->b + first, (gsize)n * sizeof *kept);
    find_off(m, with);
    for (int i = 0; i < n; i++)
        m->b[first + i] = has ? has[i] : 0;
    find_off(m, without);
    memcpy(m->b + first, kept, (size_t)n * sizeof *kept);
    for (int i = 0; i < POINTS; i++)
        with[i] = dt_point_sub(with[i], without[i]);
    return p95_of(m, with);
}

double dt_ink_before(const DtModel *m, const gboolean *leave_out)
{
    DtPoint off[POINTS];
    g_autofree double *b = g_new(double, m->n);
    DtModel counted = *m;
    counted.b = b;
    for (int i = 0; i < m->n; i++)
        b[i] = leave_out[i] ? 0 : m->b[i];
    find_off(&counted, off);
    return p95_of(&counted, off);
}

/* The median of many machines that the evidence allows; they are drawn from the unknowns' covariance. */
double dt_ink_after(const DtModel *m, const DtModelFit *fit, const gboolean *leave_out,
                    const double scatter[2][2])
{
    enum { MACHINES = 41 };
    double found[MACHINES];
    const int n = m->n;
    g_autofree double *rows = g_new0(double, 2 * (gsize)n * POINTS), *b = g_new(double, n),
                      *root = g_memdup2(fit->v, (gsize)n * (gsize)n * sizeof *root);
    if (!dt_cholesky((gsize)n, root))
        return NAN;
    g_autoptr(GRand) r = g_rand_new_with_seed(1);
    for (int i = 0; i < POINTS; i++) {
        int way[2];
        const DtPoint c = place_of(m, i, way);
        dt_model_ink(m, c, way, rows + 2 * i * n, rows + (2 * i + 1) * n);
    }
    for (int k = 0; k < MACHINES; k++) {
        DtPoint off[POINTS];
        dt_draw_normal(r, n, root, b);
        for (int i = 0; i < n; i++)
            b[i] = leave_out[i] ? 0 : b[i];
        for (int i = 0; i < POINTS; i++) {
            int way[2];
            double by[2] = {0, 0};
            place_of(m, i, way);
            for (int axis = 0; axis < 2; axis++) {
                const double *row = rows + (2 * i + axis) * n;
                for (int j = 0; j < n; j++)
                    by[axis] += row[j] * b[j];
                by[axis] += scatter[axis][way[axis] < 0] * dt_draw_standard(r);
            }
            off[i] = dt_point(by[0], by[1]);
        }
        found[k] = p95_of(m, off);
    }
    qsort(found, MACHINES, sizeof *found, rising);
    return found[MACHINES / 2];
}
