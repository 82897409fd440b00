/* path: lines and cubics, built call by call. */
#include "drawtrue/geom.h"

#include <math.h>

void dt_path_init(DtPath *p)
{
    *p = (DtPath){0};
}

void dt_path_clear(DtPath *p)
{
    g_free(p->verb);
    g_free(p->pts);
    *p = (DtPath){0};
}

/* Adds a verb and room for n points; the caller fills them. */
static DtPoint *add(DtPath *p, DtPathVerb verb, size_t n)
{
    if (p->n_verb == p->cap_verb) {
        p->cap_verb = p->cap_verb ? p->cap_verb * 2 : 16;
        p->verb = g_renew(uint8_t, p->verb, p->cap_verb);
    }
    if (p->n_pts + n > p->cap_pts) {
        p->cap_pts = p->cap_pts ? p->cap_pts * 2 : 32;
        p->pts = g_renew(DtPoint, p->pts, p->cap_pts);
    }
    p->verb[p->n_verb++] = (uint8_t)verb;
    p->n_pts += n;
    return p->pts + p->n_pts - n;
}

void dt_path_move(DtPath *p, DtPoint to)
{
    *add(p, DT_PATH_MOVE, 1) = to;
}

void dt_path_line(DtPath *p, DtPoint to)
{
    *add(p, DT_PATH_LINE, 1) = to;
}

void dt_path_cubic(DtPath *p, DtPoint c1, DtPoint c2, DtPoint to)
{
    DtPoint *q = add(p, DT_PATH_CUBIC, 3);
    q[0] = c1;
    q[1] = c2;
    q[2] = to;
}

static DtPoint current(const DtPath *p)
{
    return p->n_pts > 0 ? p->pts[p->n_pts - 1] : (DtPoint){0, 0};
}

void dt_path_quad(DtPath *p, DtPoint c, DtPoint to)
{
    DtPoint from = current(p);
    dt_path_cubic(p, dt_point_lerp(from, c, 2.0 / 3), dt_point_lerp(to, c, 2.0 / 3), to);
}

/* The angle from u to v, signed: F.6.5.4. */
static double angle_between(DtPoint u, DtPoint v)
{
    return atan2(dt_point_cross(u, v), dt_point_dot(u, v));
}

/* An arc of the unit circle as cubics, mapped by m: control points at 4/3 tan(step/4) along the
 * tangents, which keeps the midpoint of each piece on the circle. */
static void unit_arc(DtPath *p, DtAffine m, double start, double sweep, DtPoint to)
{
    int n = (int)ceil(fabs(sweep) / G_PI_2 - 1e-9);
    n = CLAMP(n, 1, 4);
    double step = sweep / n, k = 4.0 / 3 * tan(step / 4);
    DtPoint a = {cos(start), sin(start)};
    for (int i = 1; i <= n; i++) {
        double angle = start + step * i;
        DtPoint b = {cos(angle), sin(angle)};
        dt_path_cubic(p, dt_affine_apply(m, (DtPoint){a.x - k * a.y, a.y + k * a.x}),
                      dt_affine_apply(m, (DtPoint){b.x + k * b.y, b.y - k * b.x}),
                      i == n ? to : dt_affine_apply(m, b));
        a = b;
    }
}

void dt_path_arc(DtPath *p, double rx, double ry, double rotation, gboolean large, gboolean sweep,
                 DtPoint to)
{
    DtPoint from = current(p);
    rx = fabs(rx);
    ry = fabs(ry);
    if (from.x == to.x && from.y == to.y)
        return; /* F.6.2: equal ends leave the arc out */
    if (!(rx > 0 && ry > 0)) {
        dt_path_line(p, to);
        return;
    }
    /* F.6.5 step 1: the half chord in the ellipse's own axes. */
    double c = cos(rotation), s = sin(rotation);
    double hx = (from.x - to.x) / 2, hy = (from.y - to.y) / 2;
    double x1 = c * hx + s * hy, y1 = -s * hx + c * hy;
    /* F.6.6: radii too small are scaled up to reach. */
    double ux = x1 / rx, uy = y1 / ry, lambda = ux * ux + uy * uy;
    if (lambda > 1) {
        rx *= sqrt(lambda);
        ry *= sqrt(lambda);
        ux = x1 / rx;
        uy = y1 / ry;
        lambda = 1;
    }
    /* Step 2 on the unit circle: the centre lies across the chord. */
    double k = lambda > 0 ? sqrt((1 - lambda) / lambda) : 0;
    if (large == sweep)
        k = -k;
    double ox = k * uy, oy = -k * ux;
    if (!isfinite(ox) || !isfinite(oy)) {
        dt_path_line(p, to);
        return;
    }
    /* Steps 3 and 4. */
    DtPoint start = {ux - ox, uy - oy}, end = {-ux - ox, -uy - oy};
    double turn = angle_between(start, end);
    if (sweep && turn < 0)
        turn += 2 * G_PI;
    if (!sweep && turn > 0)
        turn -= 2 * G_PI;
    DtAffine m = {.xx = c * rx, .yx = s * rx, .xy = -s * ry, .yy = c * ry};
    DtPoint centre = dt_affine_apply_vector(m, (DtPoint){ox, oy});
    m.x0 = centre.x + (from.x + to.x) / 2;
    m.y0 = centre.y + (from.y + to.y) / 2;
    unit_arc(p, m, atan2(start.y, start.x), turn, to);
}

void dt_path_close(DtPath *p)
{
    (void)add(p, DT_PATH_CLOSE, 0);
}

void dt_path_transform(DtPath *p, DtAffine m)
{
    for (size_t i = 0; i < p->n_pts; i++)
        p->pts[i] = dt_affine_apply(m, p->pts[i]);
}

/* Beyond this a product of coordinates overflows. */
#define LARGEST 1e100

typedef struct {
    double low, high;
} Range;

static void take(Range *r, double v)
{
    if (v < r->low)
        r->low = v;
    if (v > r->high)
        r->high = v;
}

static void take_at(Range *r, const double c[4], double t)
{
    if (!(t > 0 && t < 1))
        return;
    double u = 1 - t;
    take(r, u * u * (u * c[0] + 3 * t * c[1]) + t * t * (3 * u * c[2] + t * c[3]));
}

/* One coordinate of a cubic whose ends are already in the range: its extremes, where the
 * derivative a t^2 + 2 b t + c is zero. A curve lies within the hull of its control points. */
static void take_cubic(Range *r, const double c[4])
{
    if (c[1] >= r->low && c[1] <= r->high && c[2] >= r->low && c[2] <= r->high)
        return;
    double first = c[1] - c[0], second = c[2] - c[1], third = c[3] - c[2];
    double a = first - 2 * second + third, b = second - first;
    double root = b * b - a * first;
    if (!(root >= 0))
        return;
    /* The stable pair of roots: q/a and c/q. */
    double q = b > 0 ? -(b + sqrt(root)) : sqrt(root) - b;
    if (a != 0)
        take_at(r, c, q / a);
    if (q != 0)
        take_at(r, c, first / q);
}

static gboolean sound(DtPoint p)
{
    return fabs(p.x) < LARGEST && fabs(p.y) < LARGEST;
}

DtBox dt_path_box(const DtPath *p, DtAffine m)
{
    Range x = {G_MAXDOUBLE, -G_MAXDOUBLE}, y = x;
    const DtPoint *q = p->pts;
    DtPoint start = {0, 0}, at = start;
    for (size_t i = 0; i < p->n_verb; i++) {
        if (p->verb[i] == DT_PATH_CLOSE) {
            at = start;
            continue;
        }
        const gboolean cubic = p->verb[i] == DT_PATH_CUBIC;
        const DtPoint c1 = dt_affine_apply(m, q[0]);
        const DtPoint c2 = cubic ? dt_affine_apply(m, q[1]) : c1;
        const DtPoint to = cubic ? dt_affine_apply(m, q[2]) : c1;
        q += cubic ? 3 : 1;
        take(&x, to.x);
        take(&y, to.y);
        if (cubic && sound(at) && sound(c1) && sound(c2) && sound(to)) {
            take_cubic(&x, (double[]){at.x, c1.x, c2.x, to.x});
            take_cubic(&y, (double[]){at.y, c1.y, c2.y, to.y});
        }
        at = to;
        if (p->verb[i] == DT_PATH_MOVE)
            start = to;
    }
    return (DtBox){x.low, y.low, x.high, y.high};
}
