/* patch: one step of a tone scale, and the pen's dot gain from such steps. */
#include "ink/fill/fill.h"

#include <math.h>

gboolean dt_ink_tone_patch(DtBox box, double coverage, const DtPen *pen, unsigned index,
                           const DtInkOptions *o, DtStrokes *out, GError **error)
{
    if (!(coverage > 0))
        return TRUE;
    DtPoint corners[4] = {{box.x0, box.y0}, {box.x1, box.y0}, {box.x1, box.y1}, {box.x0, box.y1}};
    g_auto(DtLines) outline, region;
    dt_lines_init(&outline);
    dt_lines_init(&region);
    dt_lines_append(&outline, corners, 4, TRUE);
    DtFillStyle f = {.hatch = o->hatch,
                     .angle = o->angle,
                     .pitch = o->pitch > 0 ? o->pitch : pen->tip,
                     .tip = pen->tip,
                     .pen = index,
                     .shape = -1,
                     .edge = o->edge,
                     .coverage = MIN(coverage, 1)};
    return dt_region_clean(&outline, DT_PLANE_NONZERO, &region, error) &&
           dt_fill_area(&region, &f, out, error);
}

#define MOST_GAIN 10.0

double dt_ink_hatch_light(double share, double paper, double ink, double n)
{
    return pow(pow(paper, 1 / n) * (1 - share) + pow(ink, 1 / n) * share, n);
}

static double squares(const double *share, const double *seen, size_t n_steps, double paper,
                      double ink, double n)
{
    double sum = 0;
    for (size_t i = 0; i < n_steps; i++) {
        const double off = dt_ink_hatch_light(share[i], paper, ink, n) - seen[i];
        sum += off * off;
    }
    return sum;
}

/* A step reflects less the larger n is, so that each has one best n; the sum over all is first
 * evaluated on a grid, then minimised by golden sections. */
double dt_ink_fit_dot_gain(const double *share, const double *seen, size_t n_steps, double paper,
                           double ink)
{
    enum { GRID = 90, ROUNDS = 40 };
    const double golden = (sqrt(5) - 1) / 2, step = (MOST_GAIN - 1) / GRID;
    double best = 1, least = G_MAXDOUBLE;
    gboolean any = FALSE;
    for (size_t i = 0; i < n_steps; i++)
        any |= share[i] > 0 && share[i] < 1;
    if (!any || !(paper > ink) || !(ink >= 0))
        return 0;
    for (int i = 0; i <= GRID; i++) {
        const double s = squares(share, seen, n_steps, paper, ink, 1 + i * step);
        if (s < least) {
            least = s;
            best = 1 + i * step;
        }
    }
    double lo = MAX(best - step, 1), hi = MIN(best + step, MOST_GAIN);
    for (int i = 0; i < ROUNDS; i++) {
        const double a = hi - golden * (hi - lo), b = lo + golden * (hi - lo);
        if (squares(share, seen, n_steps, paper, ink, a) <
            squares(share, seen, n_steps, paper, ink, b))
            hi = b;
        else
            lo = a;
    }
    return (lo + hi) / 2;
}
