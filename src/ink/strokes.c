/* strokes: pen-down lines in two flat arrays. */
#include "drawtrue/ink.h"

#include <string.h>

void dt_strokes_init(DtStrokes *s)
{
    memset(s, 0, sizeof *s);
}

void dt_strokes_clear(DtStrokes *s)
{
    g_free(s->pts);
    g_free(s->strokes);
    dt_strokes_init(s);
}

static size_t grown(size_t cap, size_t need)
{
    size_t next = cap < 64 ? 64 : cap;
    while (next < need)
        next += next / 2;
    return next;
}

void dt_strokes_append(DtStrokes *s, const DtPoint *pts, size_t n, gboolean closed, DtInkKind kind,
                       unsigned pen, int shape)
{
    if (s->n_pts + n > s->cap_pts) {
        s->cap_pts = grown(s->cap_pts, s->n_pts + n);
        s->pts = g_renew(DtPoint, s->pts, s->cap_pts);
    }
    if (s->n == s->cap) {
        s->cap = grown(s->cap, s->n + 1);
        s->strokes = g_renew(DtStroke, s->strokes, s->cap);
    }
    if (n > 0)
        memcpy(s->pts + s->n_pts, pts, n * sizeof *pts);
    s->strokes[s->n++] =
        (DtStroke){s->n_pts, n, closed != FALSE, (uint8_t)kind, (uint16_t)pen, shape};
    s->n_pts += n;
}

double dt_strokes_length(const DtStrokes *s, size_t i)
{
    const DtPoint *p = s->pts + s->strokes[i].first;
    size_t n = s->strokes[i].n;
    double sum = 0;
    for (size_t k = 1; k < n; k++)
        sum += dt_point_distance(p[k - 1], p[k]);
    if (s->strokes[i].closed && n > 1)
        sum += dt_point_distance(p[n - 1], p[0]);
    return sum;
}

DtBox dt_strokes_box(const DtStrokes *s)
{
    DtBox b = DT_BOX_EMPTY;
    for (size_t i = 0; i < s->n_pts; i++)
        b = dt_box_add_point(b, s->pts[i]);
    return b;
}
