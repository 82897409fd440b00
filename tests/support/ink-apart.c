/* ink-apart: see ink-apart.h. */
#include "support/ink-apart.h"

#include "drawtrue/geom.h"

#include <math.h>

static const double sample_mm = 0.1;

/* From a point to a polyline, near the place where the last one was found. */
static double distance(DtPoint p, const DtRigStroke *s, size_t *near)
{
    const DtPoint *at = (const DtPoint *)s->xy;
    if (s->n == 1)
        return dt_point_distance(p, at[0]);
    double least = G_MAXDOUBLE;
    size_t best = 0;
    for (size_t reach = 40; least > 0.005; reach *= 8) {
        const size_t from = *near > reach ? *near - reach : 0, to = MIN(*near + reach, s->n - 1);
        for (size_t k = from; k < to; k++) {
            const double d = dt_point_segment_distance(p, at[k], at[k + 1]);
            best = d < least ? k : best;
            least = MIN(least, d);
        }
        if (from == 0 && to == s->n - 1)
            break;
    }
    *near = best;
    return least;
}

static double farthest(const DtRigStroke *a, const DtRigStroke *b)
{
    const DtPoint *at = (const DtPoint *)a->xy;
    double most = 0;
    size_t near = 0;
    for (size_t k = 0; k < a->n; k++) {
        const double length = k + 1 < a->n ? dt_point_distance(at[k], at[k + 1]) : 0;
        most = MAX(most, distance(at[k], b, &near));
        for (double d = sample_mm; d < length; d += sample_mm)
            most = MAX(most, distance(dt_point_lerp(at[k], at[k + 1], d / length), b, &near));
    }
    return most;
}

double ink_apart(const DtRig *a, const DtRig *b)
{
    const size_t n = dt_rig_stroke_count(a);
    double most = 0;
    if (n != dt_rig_stroke_count(b))
        return G_MAXDOUBLE;
    for (size_t i = 0; i < n; i++) {
        const DtRigStroke s = dt_rig_stroke(a, i), t = dt_rig_stroke(b, i);
        if (g_strcmp0(s.pen, t.pen) != 0)
            return G_MAXDOUBLE;
        most = MAX(most, MAX(farthest(&s, &t), farthest(&t, &s)));
    }
    return most;
}
