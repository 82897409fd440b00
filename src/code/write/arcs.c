/* arcs: finds the longest arc from the first point on. */
#include "code/write/arcs.h"

#include <math.h>

static const double widest_sweep = 350 * G_PI / 180, largest_radius = 1000;

/* The circle through three points. */
static gboolean circle_through(DtPoint a, DtPoint b, DtPoint c, DtPoint *centre)
{
    DtPoint u = dt_point_sub(b, a), v = dt_point_sub(c, a);
    double twice = 2 * dt_point_cross(u, v);
    double uu = dt_point_dot(u, u), vv = dt_point_dot(v, v);
    if (fabs(twice) < 1e-12 * (uu + vv))
        return FALSE;
    *centre =
        dt_point_add(a, dt_point((v.y * uu - u.y * vv) / twice, (u.x * vv - v.x * uu) / twice));
    return TRUE;
}

/* Whether the points turn about the centre in one direction, and each point and chord midpoint
 * is within tolerance. */
static gboolean follows(const DtPoint *p, size_t n, DtPoint centre, double tolerance, double *sweep)
{
    double radius = dt_point_distance(p[0], centre), turned = 0;
    for (size_t i = 1; i < n; i++) {
        DtPoint from = dt_point_sub(p[i - 1], centre), to = dt_point_sub(p[i], centre);
        DtPoint middle = dt_point_scale(dt_point_add(from, to), 0.5);
        double step = atan2(dt_point_cross(from, to), dt_point_dot(from, to));
        if (fabs(hypot(to.x, to.y) - radius) > tolerance ||
            fabs(hypot(middle.x, middle.y) - radius) > tolerance)
            return FALSE;
        if (step == 0 || fabs(step) > G_PI / 3 || (turned != 0 && (step > 0) != (turned > 0)))
            return FALSE;
        turned += step;
    }
    *sweep = turned;
    return fabs(turned) <= widest_sweep && radius <= largest_radius;
}

static gboolean fits(const DtPoint *p, size_t n, double tolerance, DtArcFit *fit)
{
    DtArcFit f;
    if (!circle_through(p[0], p[n / 2], p[n - 1], &f.centre) ||
        !follows(p, n, f.centre, tolerance, &f.sweep))
        return FALSE;
    *fit = f;
    return TRUE;
}

size_t dt_arc_fit(const DtPoint *p, size_t n, double tolerance, DtArcFit *fit)
{
    size_t good = 0, most = MIN(n, MOST_ARC_POINTS);
    for (size_t k = LEAST_ARC_POINTS; k <= most && fits(p, k, tolerance, fit); k++)
        good = k;
    return good;
}
