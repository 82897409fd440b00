/* centre: centre lines of narrow parts. The parts' edges, sampled, are triangulated; the middles of
 * the triangles' inner edges, linked from triangle to triangle, run along the middle of the part:
 * the chordal axis (Prasad 1997, "Morphological analysis of shapes"). */
#include "ink/fill/centre.h"

#include "drawtrue/work.h"
#include "ink/fill/axis.h"
#include "ink/look/parts.h"
#include "ink/point-hash.h"

#include <math.h>

/* The inset is grown back by this share more than it was shrunk, and at most by so much (mm), so
 * that what is hardly narrower than the pen, and the steps of a flattened curve, do not count as
 * narrow parts. */
#define MARGIN_SHARE 0.2
#define MOST_MARGIN 0.04
/* Parts thinner than this on average (mm) are not drawn. */
#define THINNEST 0.015

/* The part that the inset, grown back, does not reach. */
static gboolean left_out(const DtLines *region, const DtLines *inset, double by, DtLines *grown,
                         DtLines *out, GError **error)
{
    g_auto(DtLines) plain;
    double margin = MIN(MARGIN_SHARE * by, MOST_MARGIN);
    dt_lines_init(&plain);
    dt_region_simplify(inset, margin / 3, &plain);
    return dt_region_inset(&plain, -(by + margin), grown, error) &&
           dt_region_subtract(region, DT_PLANE_NONZERO, grown, out, error);
}

static GHashTable *point_set(const DtLines *l)
{
    GHashTable *set = g_hash_table_new(dt_point_hash, dt_point_equal);
    for (size_t i = 0; i < l->n_pts; i++)
        g_hash_table_add(set, &l->pts[i]);
    return set;
}

static gboolean touches_set(const DtPoint *p, size_t n, GHashTable *set)
{
    for (size_t i = 0; i < n; i++)
        if (g_hash_table_contains(set, &p[i]))
            return TRUE;
    return FALSE;
}

static DtBox ring_box(const DtPoint *p, size_t n)
{
    DtBox b = DT_BOX_EMPTY;
    for (size_t i = 0; i < n; i++)
        b = dt_box_add_point(b, p[i]);
    return b;
}

/* A part is drawn if it stands alone, or projects from the inked area by more than a pen width. */
static gboolean is_worth_it(const DtLines *parts, size_t i, double by, gboolean alone)
{
    DtBox b = ring_box(dt_lines_at(parts, i), dt_lines_count(parts, i));
    double area = fabs(dt_lines_area(parts, i)), length = dt_lines_length(parts, i);
    if (2 * area < THINNEST * length)
        return FALSE;
    return alone || hypot(dt_box_width(b), dt_box_height(b)) > 2 * by;
}

static void add_dot(const DtPoint *p, size_t n, DtLines *out)
{
    DtBox b = ring_box(p, n);
    DtPoint c = {(b.x0 + b.x1 - DT_AXIS_DOT) / 2, (b.y0 + b.y1) / 2};
    DtPoint ends[2] = {c, {c.x + DT_AXIS_DOT, c.y}};
    dt_lines_append(out, ends, 2, FALSE);
}

/* Parts whose edges have more samples than this, all together, are taken a few at a time, which bounds the
 * memory. */
#define MOST_SAMPLES 400000

static void axes_of(const DtLines *kept, double by, DtLines *out)
{
    if (dt_axis_samples(kept, by) <= MOST_SAMPLES) {
        dt_axis_lines(kept, by, out);
        return;
    }
    g_autoptr(GArray) parts = g_array_new(FALSE, FALSE, sizeof(DtPart));
    g_array_set_clear_func(parts, dt_part_clear);
    dt_parts_add(parts, 0, kept);
    g_auto(DtLines) some;
    dt_lines_init(&some);
    double samples = 0;
    for (guint i = 0; i < parts->len && !dt_work_stopped(); i++) {
        const DtLines *rings = &g_array_index(parts, DtPart, i).rings;
        samples += dt_axis_samples(rings, by);
        dt_lines_append_lines(&some, rings);
        if (samples < MOST_SAMPLES / 2 && i + 1 < parts->len)
            continue;
        dt_axis_lines(&some, by, out);
        dt_lines_clear(&some);
        samples = 0;
    }
}

gboolean dt_centre_lines(const DtLines *region, const DtLines *inset, double by, DtLines *out,
                         GError **error)
{
    g_auto(DtLines) grown, parts, kept;
    dt_lines_init(&grown);
    dt_lines_init(&parts);
    dt_lines_init(&kept);
    if (!left_out(region, inset, by, &grown, &parts, error))
        return FALSE;
    g_autoptr(GHashTable) border = point_set(&grown);
    for (size_t i = 0; i < parts.n && !dt_work_stopped(); i++) {
        const DtPoint *p = dt_lines_at(&parts, i);
        size_t n = dt_lines_count(&parts, i);
        gboolean alone = !touches_set(p, n, border);
        if (dt_lines_area(&parts, i) < 0) {
            dt_lines_append(&kept, p, n, TRUE); /* a hole; without its outer ring it is outside */
        } else if (is_worth_it(&parts, i, by, alone)) {
            DtBox b = ring_box(p, n);
            if (alone && MAX(dt_box_width(b), dt_box_height(b)) < 2 * by)
                add_dot(p, n, out);
            else
                dt_lines_append(&kept, p, n, TRUE);
        }
    }
    axes_of(&kept, by, out);
    return dt_work_check(error);
}
