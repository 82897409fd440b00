/* outline-long: areas of strokes along very long lines, some points at a time. Lines are cut in
 * the middle of a segment, where butt ends meet without a seam. */
#include "ink/outline.h"
#include "ink/plane/region.h"

#include "drawtrue/work.h"

/* Longer lines are divided into pieces of this many points, and this many of the areas are then
 * joined. */
enum { LONG = 50000, CHUNK = 10000, JOINED = 8 };

typedef struct {
    DtStrokeStyle butt;
    double tolerance;
    DtLines chunks; /* clean regions not yet joined */
    unsigned n;
    DtLines *out;
} Long;

static gboolean join_chunks(Long *l, GError **error)
{
    const gboolean good = dt_region_clean(&l->chunks, DT_PLANE_NONZERO, l->out, error);
    dt_lines_clear(&l->chunks);
    l->n = 0;
    return good;
}

static gboolean add_chunk(Long *l, const DtLines *line, GError **error)
{
    g_auto(DtLines) area;
    dt_lines_init(&area);
    dt_outline_area(line, &l->butt, l->tolerance, &area);
    if (!dt_work_check(error) || !dt_region_clean(&area, DT_PLANE_NONZERO, &l->chunks, error))
        return FALSE;
    return ++l->n < JOINED || join_chunks(l, error);
}

static DtPoint middle(const DtPoint *p, size_t n, size_t i)
{
    return dt_point_lerp(p[i % n], p[(i + 1) % n], 0.5);
}

/* Points first to last - 1 of a line, from the middle of the preceding segment to that of the
 * following one; an open line's own ends stay. */
static void take_points(const DtPoint *p, size_t n, gboolean closed, size_t first, size_t last,
                        DtLines *out)
{
    dt_lines_begin(out);
    if (closed || first > 0)
        dt_lines_point(out, middle(p, n, first + n - 1));
    for (size_t i = first; i < last; i++)
        dt_lines_point(out, p[i]);
    if (closed || last < n)
        dt_lines_point(out, middle(p, n, last - 1));
}

static gboolean add_long_line(Long *l, const DtPoint *p, size_t n, gboolean closed, DtCap cap,
                              GError **error)
{
    for (size_t first = 0; first < n; first += CHUNK) {
        g_auto(DtLines) line;
        dt_lines_init(&line);
        take_points(p, n, closed, first, MIN(first + CHUNK, n), &line);
        if (!add_chunk(l, &line, error))
            return FALSE;
    }
    for (int end = 0; end < 2 && !closed && cap == DT_CAP_ROUND; end++) {
        DtStrokeStyle dot = l->butt;
        g_auto(DtLines) at;
        dt_lines_init(&at);
        dt_lines_append(&at, end ? &p[n - 1] : p, 1, FALSE);
        dot.cap = DT_CAP_ROUND;
        dt_outline_area(&at, &dot, l->tolerance, l->out);
    }
    return TRUE;
}

gboolean dt_outline_region(const DtLines *outline, const DtStrokeStyle *s, double tolerance,
                           DtLines *out, GError **error)
{
    if (outline->n_pts <= LONG || s->n_dash > 0 || s->cap == DT_CAP_SQUARE) {
        dt_outline_area(outline, s, tolerance, out);
        return TRUE;
    }
    Long l = {.butt = *s, .tolerance = tolerance, .out = out};
    l.butt.cap = DT_CAP_BUTT;
    dt_lines_init(&l.chunks);
    gboolean good = TRUE;
    for (size_t i = 0; i < outline->n && good; i++) {
        const size_t n = dt_lines_count(outline, i);
        good = add_long_line(&l, dt_lines_at(outline, i), n, outline->closed[i] && n > 2, s->cap,
                             error);
    }
    good = good && join_chunks(&l, error);
    dt_lines_clear(&l.chunks);
    return good;
}

gboolean dt_outline_band(const DtLines *lines, double width, DtCap cap, double tolerance,
                         DtLines *out, GError **error)
{
    const DtStrokeStyle st = {.width = width,
                              .cap = cap,
                              .join = DT_JOIN_ROUND,
                              .miter_limit = 4,
                              .user_to_mm = DT_AFFINE_IDENTITY};
    g_auto(DtLines) area;
    dt_lines_init(&area);
    dt_outline_area(lines, &st, tolerance, &area);
    return dt_region_clean(&area, DT_PLANE_NONZERO, out, error);
}
