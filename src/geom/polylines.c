/* polylines: many polylines in two flat arrays. */
#include "drawtrue/geom.h"

#include <math.h>
#include <string.h>

/* Many sets hold one short line and never grow: the first time they get only what they need. */
static size_t grown(size_t cap, size_t need)
{
    if (cap == 0)
        return need;
    cap = MAX(cap, 8);
    while (cap < need)
        cap += cap / 2;
    return cap;
}

static void reserve_points(DtLines *l, size_t more)
{
    if (l->n_pts + more <= l->cap_pts)
        return;
    l->cap_pts = grown(l->cap_pts, l->n_pts + more);
    l->pts = g_renew(DtPoint, l->pts, l->cap_pts);
}

static void reserve_lines(DtLines *l, size_t more)
{
    if (l->n + more <= l->cap)
        return;
    l->cap = grown(l->cap, l->n + more);
    l->first = g_renew(size_t, l->first, l->cap + 1);
    l->closed = g_renew(uint8_t, l->closed, l->cap);
}

void dt_lines_init(DtLines *l)
{
    *l = (DtLines){0};
}

void dt_lines_clear(DtLines *l)
{
    g_free(l->pts);
    g_free(l->first);
    g_free(l->closed);
    *l = (DtLines){0};
}

void dt_lines_begin(DtLines *l)
{
    reserve_lines(l, 1);
    l->first[l->n] = l->n_pts;
    l->closed[l->n] = FALSE;
    l->n++;
    l->first[l->n] = l->n_pts;
}

void dt_lines_point(DtLines *l, DtPoint p)
{
    if (G_UNLIKELY(l->n_pts == l->cap_pts))
        reserve_points(l, 1);
    l->pts[l->n_pts++] = p;
    l->first[l->n] = l->n_pts;
}

void dt_lines_close(DtLines *l)
{
    if (l->n > 0)
        l->closed[l->n - 1] = TRUE;
}

void dt_lines_append(DtLines *l, const DtPoint *pts, size_t n, gboolean closed)
{
    dt_lines_begin(l);
    reserve_points(l, n);
    if (n > 0)
        memcpy(l->pts + l->n_pts, pts, n * sizeof *pts);
    l->n_pts += n;
    l->first[l->n] = l->n_pts;
    l->closed[l->n - 1] = closed != FALSE;
}

void dt_lines_append_lines(DtLines *l, const DtLines *other)
{
    if (other->n == 0)
        return;
    size_t n = other->n, n_pts = other->n_pts, base = l->n_pts;
    reserve_lines(l, n);
    reserve_points(l, n_pts);
    if (n_pts > 0)
        memcpy(l->pts + base, other->pts, n_pts * sizeof *l->pts);
    memcpy(l->closed + l->n, other->closed, n);
    for (size_t i = 0; i <= n; i++)
        l->first[l->n + i] = base + other->first[i];
    l->n += n;
    l->n_pts += n_pts;
}

void dt_lines_copy(DtLines *to, const DtLines *from)
{
    dt_lines_init(to);
    dt_lines_append_lines(to, from);
}

void dt_lines_transform(DtLines *l, DtAffine m)
{
    for (size_t i = 0; i < l->n_pts; i++)
        l->pts[i] = dt_affine_apply(m, l->pts[i]);
}

DtBox dt_lines_box(const DtLines *l)
{
    DtBox b = DT_BOX_EMPTY;
    for (size_t i = 0; i < l->n_pts; i++)
        b = dt_box_add_point(b, l->pts[i]);
    return b;
}

double dt_lines_length(const DtLines *l, size_t i)
{
    const DtPoint *p = dt_lines_at(l, i);
    size_t n = dt_lines_count(l, i);
    double sum = 0;
    for (size_t j = 1; j < n; j++)
        sum += dt_point_distance(p[j - 1], p[j]);
    if (l->closed[i] && n > 1)
        sum += dt_point_distance(p[n - 1], p[0]);
    return sum;
}

double dt_lines_total_length(const DtLines *l)
{
    double sum = 0;
    for (size_t i = 0; i < l->n; i++)
        sum += dt_lines_length(l, i);
    return sum;
}

/* Relative to the first point, so that a small loop far from the origin keeps its precision. */
double dt_lines_area(const DtLines *l, size_t i)
{
    const DtPoint *p = dt_lines_at(l, i);
    size_t n = dt_lines_count(l, i);
    double sum = 0;
    for (size_t j = 2; j < n; j++)
        sum += dt_point_cross(dt_point_sub(p[j - 1], p[0]), dt_point_sub(p[j], p[0]));
    return sum / 2;
}

/* +1, -1 or 0: how the edge ab crosses the ray from p towards +x. Each end belongs only to the
 * upper half of its edge, and the side test always runs from the lower end to the upper one, so
 * that two regions that share an edge decide alike. */
static int crossing(DtPoint p, DtPoint a, DtPoint b)
{
    gboolean above_a = a.y > p.y, above_b = b.y > p.y;
    if (above_a == above_b)
        return 0;
    DtPoint low = above_a ? b : a, high = above_a ? a : b;
    double side = dt_point_cross(dt_point_sub(high, low), dt_point_sub(p, low));
    if (!(side > 0))
        return 0;
    return above_b ? 1 : -1;
}

gboolean dt_lines_inside(const DtLines *l, DtFillRule rule, DtPoint p)
{
    int winding = 0, crossings = 0;
    for (size_t i = 0; i < l->n; i++) {
        const DtPoint *q = dt_lines_at(l, i);
        size_t n = dt_lines_count(l, i);
        for (size_t j = 0; j < n; j++) {
            int c = crossing(p, q[j], q[j + 1 < n ? j + 1 : 0]);
            winding += c;
            crossings += c != 0;
        }
    }
    return rule == DT_FILL_NONZERO ? winding != 0 : (crossings & 1) != 0;
}
