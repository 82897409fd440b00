/* eye-slack: slack along an axis, from the verniers whose combs were drawn to and fro. */
#include "truing/eye/eye.h"
#include "truing/sheet/sheet-parts.h"
#include "truing/solve/least-squares.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Lost motion varies from reversal to reversal: the least that cords and gears cause. */
static const double least_scatter_mm = 0.014;

static void gather(const DtTestSheet *s, const DtEyeReadings *r, int axis, double scale,
                   DtEyeSlack *k)
{
    for (size_t i = 0; i < r->n && k->n < DT_EYE_MOST_SLACK; i++) {
        const DtAsk *a = &r->asks[i];
        const DtEyeAnswer *e = &r->answers[i];
        double sd;
        if (a->part != DT_SHEET_SLACK || a->row >= DT_SLACK_TWIST_ROW || a->axis != axis ||
            e->n == 0 || !dt_eye_apart(s, a, e, scale, &k->at[k->n], &k->mm[k->n], &sd))
            continue;
        k->sd[k->n] = hypot(sd, least_scatter_mm);
        k->name[k->n++] = a->name;
    }
}

/* Weight of knot `i` in the value at a place. */
static double share(const DtEyeSlack *k, int i, double at)
{
    if (k->knots == 1)
        return 1;
    int low = 0;
    while (low + 2 < k->knots && at > k->knot[low + 1])
        low++;
    const double f = (at - k->knot[low]) / (k->knot[low + 1] - k->knot[low]);
    return i == low ? 1 - f : i == low + 1 ? f : 0;
}

/* Least squares for the values at the knots; the residual as chi-square. */
static gboolean fit_knots(DtEyeSlack *k, double *left)
{
    double a[DT_EYE_MOST_SLACK * DT_EYE_SLACK_KNOTS], b[DT_EYE_MOST_SLACK],
        covariance[DT_EYE_SLACK_KNOTS * DT_EYE_SLACK_KNOTS];
    for (int i = 0; i < k->n; i++) {
        for (int c = 0; c < k->knots; c++)
            a[i * k->knots + c] = share(k, c, k->at[i]) / k->sd[i];
        b[i] = k->mm[i] / k->sd[i];
    }
    if (!dt_least_squares((gsize)k->n, (gsize)k->knots, a, b, k->value, covariance, left))
        return FALSE;
    const int free = k->n - k->knots;
    k->scatters = free > 0 && *left > dt_eye_chi_square_95(free);
    const double wider = k->wider = k->scatters ? sqrt(*left / free) : 1;
    for (int c = 0; c < k->knots; c++)
        k->value_sd[c] = wider * sqrt(covariance[c * k->knots + c]);
    k->scatter = wider * k->sd[0];
    return TRUE;
}

/* The same slack everywhere, a straight line, or a bend in the middle: the first of them that is
 * consistent with the readings. */
static gboolean fit(DtEyeSlack *k, double low, double high)
{
    double left;
    for (k->knots = 1; k->knots <= MIN(k->n, DT_EYE_SLACK_KNOTS); k->knots++) {
        for (int c = 0; c < k->knots; c++)
            k->knot[c] = low + (high - low) * c / MAX(k->knots - 1, 1);
        if (!fit_knots(k, &left))
            break;
        if (!k->scatters || k->knots == MIN(k->n - 1, DT_EYE_SLACK_KNOTS))
            return TRUE;
    }
    k->knots = 1;
    return fit_knots(k, &left);
}

static double value_at(const DtEyeSlack *k, double at)
{
    double sum = 0;
    for (int c = 0; c < k->knots; c++)
        sum += share(k, c, at) * k->value[c];
    return sum;
}

static int rising(const void *a, const void *b)
{
    const double p = *(const double *)a, q = *(const double *)b;
    return (p > q) - (p < q);
}

/* The reading farthest from the middle one. */
static int odd_one(const DtEyeSlack *k, double *middle)
{
    double sorted[DT_EYE_MOST_SLACK];
    int odd = 0;
    memcpy(sorted, k->mm, sizeof sorted);
    qsort(sorted, (size_t)k->n, sizeof *sorted, rising);
    *middle = sorted[k->n / 2];
    for (int i = 1; i < k->n; i++)
        if (fabs(k->mm[i] - *middle) > fabs(k->mm[odd] - *middle))
            odd = i;
    return odd;
}

/* Readings that no slack of a machine explains: farther from a straight line than rails cause. */
static gboolean check_slack(DtEyeSlack *k, double low, double high, GError **error)
{
    static const double most_mm = 0.15, least_mm = -0.06;
    double left, middle;
    for (int i = 0; i < k->n; i++)
        if (k->mm[i] < least_mm) {
            g_set_error(
                error, DT_ERROR, DT_ERROR_INPUT,
                "%s: a slack of %.2f mm is not possible; read it again, at the numbers above 0",
                k->name[i], k->mm[i]);
            return FALSE;
        }
    k->knots = 2;
    k->knot[0] = low;
    k->knot[1] = high;
    if (k->n < 3 || !fit_knots(k, &left))
        return TRUE;
    for (int i = 0; i < k->n; i++)
        if (fabs(k->mm[i] - value_at(k, k->at[i])) > most_mm) {
            const int odd = odd_one(k, &middle);
            g_set_error(
                error, DT_ERROR, DT_ERROR_INPUT,
                "%s says %.2f mm of slack where the other readings of this axis say about %.2f; "
                "read them again",
                k->name[odd], k->mm[odd], middle);
            return FALSE;
        }
    return TRUE;
}

/* Whether what was fitted explains the readings significantly better (5 %) than the profile's table does. `off` gets
 * the root mean square of the difference of both at the verniers, mm. */
static gboolean differs(const DtEyeSlack *k, const DtTable *table, double *off)
{
    double gained = 0, squares = 0;
    for (int i = 0; i < k->n; i++) {
        const double has = dt_table_at(table, k->at[i]), fitted = MAX(value_at(k, k->at[i]), 0);
        gained += pow((k->mm[i] - has) / k->sd[i], 2) - pow((k->mm[i] - fitted) / k->sd[i], 2);
        squares += pow(fitted - has, 2) / k->n;
    }
    *off = sqrt(squares);
    return gained > k->wider * k->wider * dt_eye_chi_square_95(k->knots);
}

gboolean dt_eye_solve_slack(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                            int axis, double scale, DtEyeSlack *out, GError **error)
{
    const double start = axis == 0 ? s->paper_at.x : s->paper_at.y;
    const double size = axis == 0 ? s->paper_w : s->paper_h;
    const double low = round(scale * start), high = round(scale * (start + size));
    *out = (DtEyeSlack){0};
    gather(s, r, axis, scale, out);
    if (out->n == 0)
        return TRUE;
    if (!check_slack(out, low, high, error) || !fit(out, low, high))
        return FALSE;
    out->differs = differs(out, &p->backlash[axis], &out->off);
    return TRUE;
}
