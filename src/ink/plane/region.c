/* region: set operations and insets by means of the plane's arrangement. */
#include "ink/plane/region.h"

#include "drawtrue/work.h"

#include <math.h>

/* Tolerance of an arc's chords, mm, and the refinement of the plane's grid on which an inset is
 * made. What remains of a narrow part may be much narrower than the part, so insets are finer
 * than growth, and are repeated with a still finer grid if hardly anything is left. */
typedef struct {
    double arc, magnified;
} Fineness;

static const Fineness GROWN = {0.005, 1}, INSET = {0.0005, 32}, THIN = {0.00002, 256};

/* An inset whose area over the length of its edge is below this (mm) is thin. */
#define THINNEST 0.01

static gboolean build_region(DtPlane *p, DtLines *out, GError **error)
{
    if (!dt_plane_build(p, error))
        return FALSE;
    dt_plane_region(p, 1, out);
    return dt_work_check(error);
}

gboolean dt_region_clean(const DtLines *outline, DtPlaneRule rule, DtLines *out, GError **error)
{
    g_autoptr(DtPlane) p = dt_plane_new();
    dt_plane_add_rings(p, dt_plane_add_layer(p, rule, 1), outline);
    return build_region(p, out, error);
}

static gboolean mask(const DtLines *a, DtPlaneRule rule, const DtLines *b, DtPlaneRule hole,
                     DtLines *out, GError **error)
{
    g_autoptr(DtPlane) p = dt_plane_new();
    dt_plane_add_rings(p, dt_plane_add_layer(p, rule, 1), a);
    dt_plane_add_rings(p, dt_plane_add_layer(p, hole, 0), b);
    return build_region(p, out, error);
}

gboolean dt_region_intersect(const DtLines *a, DtPlaneRule rule, const DtLines *b, DtLines *out,
                             GError **error)
{
    return mask(a, rule, b, DT_PLANE_OUTSIDE, out, error);
}

gboolean dt_region_subtract(const DtLines *a, DtPlaneRule rule, const DtLines *b, DtLines *out,
                            GError **error)
{
    return mask(a, rule, b, DT_PLANE_NONZERO, out, error);
}

/* Insets -----------------------------------------------------------------------------------------
 * Cover each edge's inner side with a rectangle as wide as the inset and each reflex corner with a
 * sector; a place is left where it is inside and covered by none. The boundary of the region less
 * those of all rectangles and sectors is one curve: the shifted edges, joined by the sectors' arcs
 * and, at the other corners, through the corner itself. So the winding number about that curve is
 * one less the number of covers, and what is left is where it is positive. */

/* Points between an arc's ends, so far out that the chords enclose the sector's own area. */
static void add_arc(GArray *ring, DtPoint c, double by, double error, double from, double to)
{
    double r = fabs(by), step = 2 * acos(1 - error / (error + r));
    int n = (int)ceil(fabs(to - from) / step);
    double each = (to - from) / n, out = r * sqrt(each / sin(each));
    for (int i = 1; i < n; i++) {
        double a = from + each * i;
        DtPoint p = {c.x + out * cos(a), c.y + out * sin(a)};
        g_array_append_val(ring, p);
    }
}

/* The end of an edge offset to its left by `by`. */
static DtPoint shifted(DtPoint at, DtPoint way, double by)
{
    return dt_point(at.x - way.y * by, at.y + way.x * by);
}

static DtPoint unit(DtPoint a, DtPoint b)
{
    double d = dt_point_distance(a, b);
    return dt_point((b.x - a.x) / d, (b.y - a.y) / d);
}

/* The intersection of the two offset edges at a corner. */
static DtPoint mitre(DtPoint at, DtPoint in, DtPoint out, double by)
{
    double k = by / (1 + dt_point_dot(in, out));
    return dt_point(at.x - (in.y + out.y) * k, at.y + (in.x + out.x) * k);
}

/* Whether the corner may be shortened to the intersection of the offset edges. At an opening
 * corner that replaces a flat arc. At a closing one it leaves out a kite that both edges'
 * rectangles cover if both are long enough, so that one cover remains. */
static gboolean meets(double cross, double dot, double by, double error, gboolean opens,
                      double shorter)
{
    if (dot <= 0)
        return FALSE;
    double half_tangent = fabs(cross) / (1 + dot);
    if (opens)
        return fabs(by) * (sqrt(1 + half_tangent * half_tangent) - 1) <= error;
    return fabs(by) * half_tangent <= shorter / 2;
}

static void shift_ring(const DtPoint *p, size_t n, double by, double error, GArray *ring)
{
    g_array_set_size(ring, 0);
    gboolean met = FALSE; /* the last corner was cut short: its point ends this edge's start too */
    for (size_t i = 0; i <= n; i++) {
        DtPoint from = p[i % n], at = p[(i + 1) % n], to = p[(i + 2) % n];
        DtPoint in = unit(from, at), out = unit(at, to);
        double cross = dt_point_cross(in, out), dot = dt_point_dot(in, out);
        double shorter = MIN(dt_point_distance(from, at), dt_point_distance(at, to));
        gboolean opens = by > 0 ? cross < 0 : cross > 0;
        DtPoint ends[3] = {shifted(from, in, by), shifted(at, in, by), at};
        if (i > 0 && !met)
            g_array_append_val(ring, ends[0]);
        met = meets(cross, dot, by, error, opens, shorter);
        if (i == n)
            break;
        if (met) {
            ends[1] = mitre(at, in, out, by);
            g_array_append_val(ring, ends[1]);
            continue;
        }
        g_array_append_val(ring, ends[1]);
        if (opens || (cross == 0 && dot < 0)) {
            double turn = cross == 0 ? (by > 0 ? -G_PI : G_PI) : atan2(cross, dot);
            double angle = atan2(in.x, -in.y) + (by > 0 ? 0 : G_PI);
            add_arc(ring, at, by, error, angle, angle + turn);
        } else if (cross != 0) {
            g_array_append_val(ring, ends[2]);
        }
    }
}

/* Points are rounded to a grid refined as much as requested and as the plane's range allows, by
 * a power of two that leaves earlier points unchanged. */
static double magnify(const DtLines *a, double by, double most)
{
    DtBox b = dt_lines_box(a);
    double far = MAX(MAX(fabs(b.x0), fabs(b.x1)), MAX(fabs(b.y0), fabs(b.y1))) + fabs(by);
    double k = 1;
    while (k < most && 2 * k * far < DT_PLANE_REACH)
        k *= 2;
    return k;
}

/* Whether a ring is too narrow for a disc of this radius, by its extent in a few directions. */
static gboolean is_narrower(const DtPoint *p, size_t n, double radius)
{
    const double enough = 2 * radius * (1 - 1e-5); /* more than the directions are rounded by */
    enum { DIRECTIONS = 8 };
    static const double way[DIRECTIONS][2] = {
        {1, 0}, {0.923880, 0.382683},  {0.707107, 0.707107},  {0.382683, 0.923880},
        {0, 1}, {-0.382683, 0.923880}, {-0.707107, 0.707107}, {-0.923880, 0.382683}};
    for (int k = 0; k < DIRECTIONS; k++) {
        double least = G_MAXDOUBLE, most = -G_MAXDOUBLE;
        for (size_t i = 0; i < n && !(most - least > enough); i++) {
            const double at = p[i].x * way[k][0] + p[i].y * way[k][1];
            least = MIN(least, at);
            most = MAX(most, at);
        }
        if (most - least <= enough)
            return TRUE;
    }
    return FALSE;
}

/* Whether an inset leaves nothing of an outer ring, nor of what lies inside it. Such a ring need not be
 * shifted: its edges' covers reach no other place that the place's own edges do not cover. */
static gboolean vanishes(const DtLines *a, size_t ring, double by)
{
    return by > 0 && is_narrower(dt_lines_at(a, ring), dt_lines_count(a, ring), by) &&
           dt_lines_area(a, ring) > 0;
}

static gboolean shift_region(const DtLines *a, double by, Fineness fine, DtLines *out,
                             GError **error)
{
    g_autoptr(DtPlane) p = dt_plane_new();
    int layer = dt_plane_add_layer(p, DT_PLANE_POSITIVE, 1);
    g_autoptr(GArray) ring = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    double k = magnify(a, by, fine.magnified);
    for (size_t i = 0; i < a->n && !dt_work_stopped(); i++) {
        if (dt_lines_count(a, i) < 3 || vanishes(a, i, by))
            continue;
        shift_ring(dt_lines_at(a, i), dt_lines_count(a, i), by, fine.arc, ring);
        DtPoint *at = (DtPoint *)(void *)ring->data;
        for (guint j = 0; j < ring->len; j++)
            at[j] = dt_point_scale(at[j], k);
        dt_plane_add_ring(p, layer, at, ring->len);
    }
    size_t first = out->n_pts;
    if (!build_region(p, out, error))
        return FALSE;
    for (size_t i = first; i < out->n_pts; i++)
        out->pts[i] = dt_point_scale(out->pts[i], 1 / k);
    return TRUE;
}

static gboolean is_thin(const DtLines *l)
{
    return dt_region_area(l) < THINNEST * dt_lines_total_length(l);
}

gboolean dt_region_inset(const DtLines *a, double by, DtLines *out, GError **error)
{
    g_auto(DtLines) first;
    dt_lines_init(&first);
    if (!shift_region(a, by, by > 0 ? INSET : GROWN, &first, error))
        return FALSE;
    if (by > 0 && is_thin(&first))
        return shift_region(a, by, THIN, out, error);
    dt_lines_append_lines(out, &first);
    return TRUE;
}

/* Simplifying ------------------------------------------------------------------------------- */

/* Marks the points to keep between the kept points first and last; recursion is as deep as the
 * halves are uneven, so the caller bounds the length. */
static void mark_bends(const DtPoint *p, size_t n, size_t first, size_t last, double tolerance,
                       uint8_t *keep)
{
    double worst = tolerance;
    size_t at = 0;
    for (size_t i = first + 1; i < last; i++) {
        double d = dt_point_segment_distance(p[i], p[first], p[last % n]);
        if (d > worst) {
            worst = d;
            at = i;
        }
    }
    if (at == 0)
        return;
    keep[at] = 1;
    mark_bends(p, n, first, at, tolerance, keep);
    mark_bends(p, n, at, last, tolerance, keep);
}

enum { STRETCH = 64 };

void dt_region_simplify(const DtLines *a, double tolerance, DtLines *out)
{
    g_autofree uint8_t *keep = g_malloc0(a->n_pts + 1);
    for (size_t r = 0; r < a->n && !dt_work_stopped(); r++) {
        const DtPoint *p = dt_lines_at(a, r);
        size_t n = dt_lines_count(a, r), kept = 0;
        uint8_t *k = keep + a->first[r];
        for (size_t i = 0; i < n; i += STRETCH) {
            k[i] = 1;
            mark_bends(p, n, i, MIN(i + STRETCH, n), tolerance, k);
        }
        for (size_t i = 0; i < n; i++)
            kept += k[i];
        if (kept < 3)
            continue;
        dt_lines_begin(out);
        for (size_t i = 0; i < n; i++)
            if (k[i])
                dt_lines_point(out, p[i]);
        dt_lines_close(out);
    }
}

double dt_region_area(const DtLines *a)
{
    double sum = 0;
    for (size_t i = 0; i < a->n; i++)
        sum += dt_lines_area(a, i);
    return sum;
}
