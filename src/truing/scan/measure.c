/* measure: across the line, once a pixel along it, the middle of its darkness; then a straight line
 * through these middles, by least squares with the weights of Huber (1964), so that a speck or a stain's
 * edge has little say. The middles of neighbouring rows are not independent, because the lens blurs and
 * the edge's roughness has a grain: the uncertainty comes from their sum of autocovariances (Newey and
 * West 1987). */
#include "truing/scan/measure.h"

#include <math.h>
#include <string.h>

enum { ACROSS = 128, ROWS = 256 };

typedef struct {
    const DtScanPicture *p;
    DtPoint at, along, across;
    double step, reach; /* of samples across, pixels */
    int n;              /* samples across */
} Strip;

static double sample(const Strip *s, double along, double across)
{
    return dt_scan_grey_at(s->p, s->at.x + along * s->along.x + across * s->across.x,
                           s->at.y + along * s->along.y + across * s->across.y);
}

static double place(const Strip *s, int j)
{
    return (j - (s->n - 1) / 2.0) * s->step;
}

/* The mean over the length, across. */
static void find_profile(const Strip *s, double half, double *profile)
{
    const int rows = MAX((int)(2 * half), 1);
    for (int j = 0; j < s->n; j++) {
        double sum = 0;
        for (int i = 0; i <= rows; i++)
            sum += sample(s, -half + 2 * half * i / rows, place(s, j));
        profile[j] = sum / (rows + 1);
    }
}

/* Where the darkness passes half of its peak, on the side of `way`. */
static double edge(const Strip *s, const double *dark, int peak, int way)
{
    const double half = dark[peak] / 2;
    int j = peak;
    while (j + way >= 0 && j + way < s->n && dark[j + way] > half)
        j += way;
    if (j + way < 0 || j + way >= s->n)
        return NAN;
    const double f = (dark[j] - half) / (dark[j] - dark[j + way]);
    return place(s, j) + way * f * s->step;
}

/* The line roughly: its middle, width and contrast. */
static gboolean find_roughly(const Strip *s, double half, DtScanLine *out)
{
    double profile[ACROSS], dark[ACROSS];
    find_profile(s, half, profile);
    const int side = MAX(s->n / 8, 2);
    double low = 0, high = 0;
    for (int j = 0; j < side; j++) {
        low += profile[j] / side;
        high += profile[s->n - 1 - j] / side;
    }
    int peak = 0;
    for (int j = 0; j < s->n; j++) {
        dark[j] = low + (high - low) * j / (s->n - 1) - profile[j];
        if (dark[j] > dark[peak])
            peak = j;
    }
    const double paper = MAX((low + high) / 2, 1), e0 = edge(s, dark, peak, -1),
                 e1 = edge(s, dark, peak, 1);
    *out = (DtScanLine){(e0 + e1) / 2, 0, e1 - e0, dark[peak] / paper};
    return isfinite(e0) && isfinite(e1) && out->contrast > 0.12;
}

/* The middle of one row's darkness within `within` of `about`, its paper taken from both ends. */
static double row_middle(const Strip *s, double along, double about, double within, double *weight)
{
    const int n = MIN((int)ceil(2 * within / s->step) + 1, ACROSS);
    double v[ACROSS], sum = 0, moment = 0;
    const double step = 2 * within / (n - 1);
    for (int j = 0; j < n; j++)
        v[j] = sample(s, along, about - within + j * step);
    const int side = MAX(n / 8, 1);
    double low = 0, high = 0;
    for (int j = 0; j < side; j++) {
        low += v[j] / side;
        high += v[n - 1 - j] / side;
    }
    for (int j = 0; j < n; j++) {
        const double d = low + (high - low) * j / (n - 1) - v[j];
        sum += d;
        moment += d * (j * step - within);
    }
    *weight = sum;
    return about + moment / sum;
}

typedef struct {
    double x[ROWS], t[ROWS], weight[ROWS];
    int n;
} Rows;

/* Middles from their straight line; its value at 0. */
static double fit_rows(Rows *r, double *residual)
{
    double a = 0, b = 0;
    for (int round = 0; round < 8; round++) {
        double w = 0, x = 0, t = 0, xx = 0, xt = 0, sizes = 0;
        for (int i = 0; i < r->n; i++) {
            w += r->weight[i];
            x += r->weight[i] * r->x[i];
            t += r->weight[i] * r->t[i];
        }
        x /= w;
        t /= w;
        for (int i = 0; i < r->n; i++) {
            xx += r->weight[i] * (r->x[i] - x) * (r->x[i] - x);
            xt += r->weight[i] * (r->x[i] - x) * (r->t[i] - t);
        }
        b = xx > 0 ? xt / xx : 0;
        a = t - b * x;
        for (int i = 0; i < r->n; i++) {
            residual[i] = r->t[i] - a - b * r->x[i];
            sizes += MIN(fabs(residual[i]), 1);
        }
        const double limit =
            MAX(1.5 * 1.25 * sizes / r->n, 1e-3); /* 1.25 mean deviations: a standard one */
        for (int i = 0; i < r->n; i++)
            r->weight[i] = fabs(residual[i]) <= limit ? 1 : limit / fabs(residual[i]);
    }
    return a;
}

/* Of the mean of residuals that hang together over `grain` rows. */
static double deviation_of_mean(const Rows *r, const double *residual, int grain)
{
    double sum = 0, n = 0;
    for (int lag = 0; lag <= grain && lag < r->n; lag++) {
        double c = 0;
        for (int i = lag; i < r->n; i++)
            c += r->weight[i] * residual[i] * r->weight[i - lag] * residual[i - lag];
        sum += (lag ? 2 : 1) * (1 - (double)lag / (grain + 1)) * c;
    }
    for (int i = 0; i < r->n; i++)
        n += r->weight[i];
    return n > 0 && sum > 0 ? sqrt(sum) / n : 1;
}

gboolean dt_scan_measure_line(const DtScanPicture *p, DtPoint at, DtPoint along, double half,
                              double reach, DtScanLine *out)
{
    Strip s = {p, at, along, {-along.y, along.x}, 0.5, reach, 0};
    s.n = MIN((int)(2 * reach / s.step) + 1, ACROSS);
    s.step = 2 * reach / (s.n - 1);
    if (s.n < 8 || half < 2 || !find_roughly(&s, half, out))
        return FALSE;
    Rows r = {.n = MIN((int)(2 * half) + 1, ROWS)};
    double residual[ROWS];
    const double room =
        MIN(reach - fabs(out->offset), out->width * 0.5 + MAX(0.35 * out->width, 2.5));
    if (room < 0.6 * out->width)
        return FALSE;
    int kept = 0;
    for (int i = 0; i < r.n; i++) {
        double weight;
        r.x[kept] = -half + 2 * half * i / (r.n - 1);
        r.t[kept] = row_middle(&s, r.x[kept], out->offset, room, &weight);
        r.weight[kept] = 1;
        kept += weight > 0 && fabs(r.t[kept] - out->offset) < room / 2;
    }
    if (kept < r.n / 2)
        return FALSE;
    r.n = kept;
    out->offset = fit_rows(&r, residual);
    out->sd = hypot(deviation_of_mean(&r, residual, MAX(4, r.n / 8)), 0.005);
    return TRUE;
}

double dt_scan_middle(const DtScanPicture *p, DtPoint at, DtPoint across, double reach)
{
    const double least_dark = 0.1; /* of a line a third as wide as the reach, black on white */
    const Strip s = {p, at, {-across.y, across.x}, across, 0.5, reach, 0};
    double weight = 0;
    const double middle = row_middle(&s, 0, 0, reach, &weight);
    const double full = 255 * (2 * reach / s.step) / 6;
    return weight > least_dark * full && fabs(middle) < reach / 2 ? middle : NAN;
}
