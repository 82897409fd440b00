/* trim: outlines and lines clipped to the plane's range. */
#include "ink/plane/trim.h"

#include "ink/plane/plane.h"

/* Shapes that end within this (mm) are left unchanged. */
#define REACH (0.9 * DT_PLANE_REACH)

static const DtBox reach = {-REACH, -REACH, REACH, REACH};

gboolean dt_trim_segment(DtPoint a, DtPoint b, DtBox w, double *t0, double *t1)
{
    double d[4] = {a.x - b.x, b.x - a.x, a.y - b.y, b.y - a.y};
    double q[4] = {a.x - w.x0, w.x1 - a.x, a.y - w.y0, w.y1 - a.y};
    *t0 = 0;
    *t1 = 1;
    for (int i = 0; i < 4; i++) {
        if (d[i] == 0) {
            if (q[i] < 0)
                return FALSE;
            continue;
        }
        double t = q[i] / d[i];
        if (d[i] < 0)
            *t0 = MAX(*t0, t);
        else
            *t1 = MIN(*t1, t);
    }
    return *t0 <= *t1;
}

static gboolean needs_none(const DtLines *l)
{
    DtBox b = dt_lines_box(l);
    return dt_box_is_empty(b) ||
           (b.x0 >= reach.x0 && b.y0 >= reach.y0 && b.x1 <= reach.x1 && b.y1 <= reach.y1);
}

/* How far inside one side of the box a point is. */
static double inside_by(DtPoint p, int side)
{
    switch (side) {
    case 0:
        return p.x - reach.x0;
    case 1:
        return reach.x1 - p.x;
    case 2:
        return p.y - reach.y0;
    default:
        return reach.y1 - p.y;
    }
}

static void cut_side(const GArray *from, int side, GArray *to)
{
    const DtPoint *p = (const DtPoint *)(const void *)from->data;
    g_array_set_size(to, 0);
    for (guint i = 0; i < from->len; i++) {
        DtPoint a = p[i], b = p[(i + 1) % from->len];
        double ia = inside_by(a, side), ib = inside_by(b, side);
        if (ia >= 0)
            g_array_append_val(to, a);
        if ((ia >= 0) != (ib >= 0)) {
            DtPoint at = dt_point_lerp(a, b, ia / (ia - ib));
            g_array_append_val(to, at);
        }
    }
}

void dt_trim_rings(DtLines *l)
{
    if (needs_none(l))
        return;
    DtLines out;
    dt_lines_init(&out);
    GArray *a = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    GArray *b = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    for (size_t i = 0; i < l->n; i++) {
        g_array_set_size(a, 0);
        g_array_append_vals(a, dt_lines_at(l, i), (guint)dt_lines_count(l, i));
        for (int side = 0; side < 4; side++) {
            cut_side(a, side, b);
            GArray *t = a;
            a = b;
            b = t;
        }
        if (a->len > 0)
            dt_lines_append(&out, (const DtPoint *)(const void *)a->data, a->len, TRUE);
    }
    g_array_free(a, TRUE);
    g_array_free(b, TRUE);
    dt_lines_clear(l);
    *l = out;
}

void dt_trim_lines(DtLines *l)
{
    if (needs_none(l))
        return;
    DtLines out;
    dt_lines_init(&out);
    for (size_t i = 0; i < l->n; i++) {
        const DtPoint *p = dt_lines_at(l, i);
        size_t n = dt_lines_count(l, i);
        gboolean down = FALSE;
        for (size_t k = 0; k + (l->closed[i] ? 0 : 1) < n; k++) {
            DtPoint a = p[k], b = p[(k + 1) % n];
            double t0, t1;
            if (!dt_trim_segment(a, b, reach, &t0, &t1)) {
                down = FALSE;
                continue;
            }
            if (!down || t0 > 0) {
                dt_lines_begin(&out);
                dt_lines_point(&out, dt_point_lerp(a, b, t0));
            }
            dt_lines_point(&out, dt_point_lerp(a, b, t1));
            down = t1 == 1;
        }
    }
    dt_lines_clear(l);
    *l = out;
}
