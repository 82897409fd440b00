/* seen-swings: see seen-swings.h. */
#include "truing/scan/seen-swings.h"

#include "truing/scan/measure.h"

#include <math.h>

static const double reach_mm = 0.9; /* the next stroke is 2.5 mm away */

static gboolean is_in_picture(const DtScanPicture *p, DtPoint at, double edge)
{
    return at.x > edge && at.y > edge && at.x < p->w - edge && at.y < p->h - edge;
}

static void measure(const DtScanPicture *p, const DtScanPose *pose, const DtMark *m, DtPoint c,
                    double mm_px, GArray *out)
{
    const DtPoint at = dt_scan_warp(&pose->warp, c);
    const DtPoint way = m->axis == 0 ? dt_point(1, 0) : dt_point(0, 1);
    const DtPoint d = dt_affine_apply_vector(dt_scan_warp_slope(&pose->warp, c), way);
    const double px_mm = hypot(d.x, d.y), reach = reach_mm / mm_px;
    if (!is_in_picture(p, at, 2 * reach))
        return;
    const double off = dt_scan_middle(p, at, dt_point_scale(d, 1 / px_mm), reach) / px_mm;
    const DtSwingSeen seen = {m->axis, m->row, m->axis == 0 ? c.y : c.x,
                              (m->axis == 0 ? c.x : c.y) + off};
    if (isfinite(off))
        g_array_append_val(out, seen);
}

void dt_scan_measure_swings(const DtScanPicture *p, const DtScanPose *pose, const DtTestSheet *s,
                            double mm_px, GArray *out)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->kind != DT_MARK_SWING)
            continue;
        const int n = MAX((int)(dt_point_distance(m->from, m->to) / mm_px), 1);
        for (int k = 0; k < n; k++)
            measure(p, pose, m, dt_point_lerp(m->from, m->to, (k + 0.5) / n), mm_px, out);
    }
}
