/* sequence: runs and their points in two flat arrays. */
#include "drawtrue/route.h"

#include <math.h>
#include <string.h>

void dt_sequence_init(DtSequence *s)
{
    memset(s, 0, sizeof *s);
}

void dt_sequence_clear(DtSequence *s)
{
    g_free(s->pts);
    g_free(s->polylines);
    dt_sequence_init(s);
}

void dt_sequence_forget_points(DtSequence *s)
{
    g_clear_pointer(&s->pts, g_free);
    g_clear_pointer(&s->polylines, g_free);
    s->n_pts = s->cap_pts = s->n = s->cap = 0;
}

void dt_sequence_begin(DtSequence *s, unsigned pen, size_t stroke)
{
    if (s->n == s->cap) {
        s->cap = MAX(16, 2 * s->cap);
        s->polylines = g_renew(DtPolyline, s->polylines, s->cap);
    }
    s->polylines[s->n++] =
        (DtPolyline){.first = s->n_pts, .n = 0, .pen = (uint16_t)pen, .stroke = stroke};
}

void dt_sequence_point(DtSequence *s, DtPoint p)
{
    g_return_if_fail(s->n > 0);
    if (s->n_pts == s->cap_pts) {
        s->cap_pts = MAX(64, 2 * s->cap_pts);
        s->pts = g_renew(DtPoint, s->pts, s->cap_pts);
    }
    s->pts[s->n_pts++] = p;
    s->polylines[s->n - 1].n++;
}

static double distance(DtPoint a, DtPoint b)
{
    return hypot(a.x - b.x, a.y - b.y);
}

double dt_sequence_ink_mm(const DtSequence *s)
{
    double sum = 0;
    for (size_t i = 0; i < s->n; i++)
        for (size_t k = 1; k < s->polylines[i].n; k++)
            sum +=
                distance(s->pts[s->polylines[i].first + k - 1], s->pts[s->polylines[i].first + k]);
    return sum;
}
