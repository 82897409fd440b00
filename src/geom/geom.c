/* geom: points, boxes and affine maps. */
#include "drawtrue/geom.h"

#include <math.h>

double dt_point_distance(DtPoint a, DtPoint b)
{
    return hypot(b.x - a.x, b.y - a.y);
}

double dt_point_segment_distance(DtPoint p, DtPoint a, DtPoint b)
{
    DtPoint ab = dt_point_sub(b, a), ap = dt_point_sub(p, a);
    double length2 = dt_point_dot(ab, ab);
    if (!(length2 > 0))
        return dt_point_distance(p, a);
    double t = CLAMP(dt_point_dot(ap, ab) / length2, 0.0, 1.0);
    return dt_point_distance(p, dt_point_add(a, dt_point_scale(ab, t)));
}

gboolean dt_box_is_empty(DtBox b)
{
    return !(b.x0 <= b.x1 && b.y0 <= b.y1);
}

DtBox dt_box_add_point(DtBox b, DtPoint p)
{
    return (DtBox){MIN(b.x0, p.x), MIN(b.y0, p.y), MAX(b.x1, p.x), MAX(b.y1, p.y)};
}

DtBox dt_box_union(DtBox a, DtBox b)
{
    if (dt_box_is_empty(a))
        return b;
    if (dt_box_is_empty(b))
        return a;
    return (DtBox){MIN(a.x0, b.x0), MIN(a.y0, b.y0), MAX(a.x1, b.x1), MAX(a.y1, b.y1)};
}

DtBox dt_box_intersect(DtBox a, DtBox b)
{
    DtBox r = {MAX(a.x0, b.x0), MAX(a.y0, b.y0), MIN(a.x1, b.x1), MIN(a.y1, b.y1)};
    return dt_box_is_empty(r) ? DT_BOX_EMPTY : r;
}

DtBox dt_box_grow(DtBox b, double by)
{
    if (dt_box_is_empty(b))
        return b;
    DtBox r = {b.x0 - by, b.y0 - by, b.x1 + by, b.y1 + by};
    return dt_box_is_empty(r) ? DT_BOX_EMPTY : r;
}

gboolean dt_box_contains(DtBox b, DtPoint p)
{
    return p.x >= b.x0 && p.x <= b.x1 && p.y >= b.y0 && p.y <= b.y1;
}

DtAffine dt_affine_then(DtAffine first, DtAffine then)
{
    DtPoint x = dt_affine_apply_vector(then, (DtPoint){first.xx, first.yx});
    DtPoint y = dt_affine_apply_vector(then, (DtPoint){first.xy, first.yy});
    DtPoint o = dt_affine_apply(then, (DtPoint){first.x0, first.y0});
    return (DtAffine){.xx = x.x, .yx = x.y, .xy = y.x, .yy = y.y, .x0 = o.x, .y0 = o.y};
}

double dt_affine_determinant(DtAffine m)
{
    return m.xx * m.yy - m.xy * m.yx;
}

gboolean dt_affine_invert(DtAffine m, DtAffine *inverse)
{
    double det = dt_affine_determinant(m);
    double k = 1 / det;
    if (det == 0 || !isfinite(det) || !isfinite(k) || !isfinite(m.x0) || !isfinite(m.y0))
        return FALSE;
    *inverse = (DtAffine){.xx = m.yy * k,
                          .yx = -m.yx * k,
                          .xy = -m.xy * k,
                          .yy = m.xx * k,
                          .x0 = (m.xy * m.y0 - m.yy * m.x0) * k,
                          .y0 = (m.yx * m.x0 - m.xx * m.y0) * k};
    return TRUE;
}

DtAffine dt_affine_translate(double x, double y)
{
    return (DtAffine){.xx = 1, .yy = 1, .x0 = x, .y0 = y};
}

DtAffine dt_affine_scale(double x, double y)
{
    return (DtAffine){.xx = x, .yy = y};
}

DtAffine dt_affine_rotate(double angle)
{
    double c = cos(angle), s = sin(angle);
    return (DtAffine){.xx = c, .yx = s, .xy = -s, .yy = c};
}

DtBox dt_affine_apply_box(DtAffine m, DtBox b)
{
    if (dt_box_is_empty(b))
        return b;
    DtBox r = DT_BOX_EMPTY;
    r = dt_box_add_point(r, dt_affine_apply(m, (DtPoint){b.x0, b.y0}));
    r = dt_box_add_point(r, dt_affine_apply(m, (DtPoint){b.x1, b.y0}));
    r = dt_box_add_point(r, dt_affine_apply(m, (DtPoint){b.x1, b.y1}));
    return dt_box_add_point(r, dt_affine_apply(m, (DtPoint){b.x0, b.y1}));
}

/* Largest singular value of [a c; b d]: Blinn, "Consider the Lowly 2x2 Matrix", 1996. */
double dt_affine_max_stretch(DtAffine m)
{
    double e = (m.xx + m.yy) / 2, f = (m.xx - m.yy) / 2;
    double g = (m.yx + m.xy) / 2, h = (m.yx - m.xy) / 2;
    return hypot(e, h) + hypot(f, g);
}
