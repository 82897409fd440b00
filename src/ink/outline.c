/* outline: the area that a stroke of some width paints. The nib is a circle in the shape's own
 * user space; there the outline is widened, and the result is mapped to the page. */
#include "ink/outline.h"

#include <math.h>

/* Gaps between an area's dashes that are finer than this (mm) cannot be left bare by any pen. */
#define FINEST_GAP 0.02

typedef struct {
    const DtStrokeStyle *s;
    double half, step; /* half the width; largest angle of an arc's chords */
    DtLines *out;
} Nib;

static DtPoint unit(DtPoint a, DtPoint b)
{
    double d = dt_point_distance(a, b);
    return dt_point((b.x - a.x) / d, (b.y - a.y) / d);
}

static DtPoint right_of(DtPoint at, DtPoint way, double by)
{
    return dt_point(at.x + way.y * by, at.y - way.x * by);
}

static void arc_to(const Nib *nib, DtPoint centre, DtPoint from_way, double turn)
{
    double from = atan2(-from_way.x, from_way.y);
    int n = (int)ceil(fabs(turn) / nib->step);
    for (int i = 1; i < n; i++) {
        double a = from + turn * i / n;
        dt_lines_point(nib->out,
                       dt_point(centre.x + nib->half * cos(a), centre.y + nib->half * sin(a)));
    }
}

/* The outer corner on the right-hand side, between the directions in and out. */
static void add_join(const Nib *nib, DtPoint at, DtPoint in, DtPoint out)
{
    double cross = dt_point_cross(in, out), dot = dt_point_dot(in, out);
    if (cross == 0 && dot > 0)
        return;
    double turn = cross == 0 ? G_PI : atan2(cross, dot);
    if (nib->s->join == DT_JOIN_ROUND) {
        arc_to(nib, at, in, turn);
    } else if (nib->s->join == DT_JOIN_MITER) {
        double ratio = 1 / cos(turn / 2); /* miter length / width */
        if (turn < G_PI - 1e-6 && ratio <= nib->s->miter_limit) {
            DtPoint middle = {in.y + out.y, -in.x - out.x};
            double k = nib->half * ratio / hypot(middle.x, middle.y);
            dt_lines_point(nib->out, dt_point_add(at, dt_point_scale(middle, k)));
        }
    }
}

static void add_cap(const Nib *nib, DtPoint at, DtPoint way)
{
    if (nib->s->cap == DT_CAP_ROUND) {
        arc_to(nib, at, way, G_PI);
    } else if (nib->s->cap == DT_CAP_SQUARE) {
        DtPoint tip = dt_point_add(at, dt_point_scale(way, nib->half));
        dt_lines_point(nib->out, right_of(tip, way, nib->half));
        dt_lines_point(nib->out, right_of(tip, way, -nib->half));
    }
}

/* The inner side of a corner: through the corner itself; or, if the edges are long enough for
 * their offset lines to meet, through that point only (see region.c). */
static gboolean inner_meets(const Nib *nib, DtPoint in, DtPoint out, double shorter, DtPoint *shift)
{
    double cross = dt_point_cross(in, out), k = 1 + dt_point_dot(in, out);
    if (!(cross < 0) || k <= 1 || nib->half * -cross / k > shorter / 2)
        return FALSE;
    *shift = dt_point((in.y + out.y) * nib->half / k, -(in.x + out.x) * nib->half / k);
    return TRUE;
}

/* The right-hand side along n points; then the cap at the end, for an open line. */
static void add_side(const Nib *nib, const DtPoint *p, size_t n, gboolean closed, gboolean reverse)
{
#define AT(i) p[reverse ? (2 * n - 1 - (i) % n) % n : (i) % n]
    size_t edges = closed ? n : n - 1;
    gboolean met = FALSE;
    for (size_t i = 0; i < edges; i++) {
        DtPoint a = AT(i), b = AT(i + 1), way = unit(a, b), shift;
        if (!met)
            dt_lines_point(nib->out, right_of(a, way, nib->half));
        met = FALSE;
        if (!closed && i + 1 == edges) {
            dt_lines_point(nib->out, right_of(b, way, nib->half));
            add_cap(nib, b, way);
            break;
        }
        DtPoint c = AT(i + 2), next = unit(b, c);
        double shorter = MIN(dt_point_distance(a, b), dt_point_distance(b, c));
        if (i + 1 < edges && inner_meets(nib, way, next, shorter, &shift)) {
            dt_lines_point(nib->out, dt_point_add(b, shift));
            met = TRUE;
            continue;
        }
        dt_lines_point(nib->out, right_of(b, way, nib->half));
        if (dt_point_cross(way, next) < 0)
            dt_lines_point(nib->out, b);
        else
            add_join(nib, b, way, next);
    }
#undef AT
}

static void add_line(const Nib *nib, const DtPoint *p, size_t n, gboolean closed)
{
    if (n < 2)
        return;
    dt_lines_begin(nib->out);
    add_side(nib, p, n, closed, FALSE);
    if (closed) {
        dt_lines_close(nib->out);
        dt_lines_begin(nib->out);
    }
    add_side(nib, p, n, closed, TRUE);
    dt_lines_close(nib->out);
}

/* A line without repeated points; a dot becomes a short line, which its caps make round or
 * square. */
static void add_without_repeats(const DtPoint *p, size_t n, gboolean closed, double least,
                                DtLines *out)
{
    if (n == 0 || !isfinite(p[0].x) || !isfinite(p[0].y))
        return;
    dt_lines_begin(out);
    dt_lines_point(out, p[0]);
    DtPoint last = p[0];
    size_t kept = 1;
    for (size_t i = 1; i < n; i++)
        if (dt_point_distance(last, p[i]) > 1e-9) {
            last = p[i];
            dt_lines_point(out, last);
            kept++;
        }
    if (kept == 1)
        dt_lines_point(out, dt_point(last.x + least, last.y));
    else if (closed && kept > 2 && dt_point_distance(last, p[0]) > 1e-9)
        dt_lines_close(out);
    else if (closed && kept == 2)
        dt_lines_point(out, p[0]);
}

/* The outline in user space, dashed. FALSE if the nib's map is singular. */
static gboolean in_user_space(const DtLines *outline, const DtStrokeStyle *s, double bridge,
                              DtLines *out)
{
    DtAffine inverse;
    if (!dt_affine_invert(s->user_to_mm, &inverse))
        return FALSE;
    g_auto(DtLines) mapped;
    dt_lines_copy(&mapped, outline);
    dt_lines_transform(&mapped, inverse);
    size_t n = 0;
    double shift = 0;
    const double scale = sqrt(fabs(dt_affine_determinant(s->user_to_mm)));
    g_autofree double *dash = dt_dash_bridge(s->dash, s->n_dash, bridge / scale, &n, &shift);
    dt_dash_lines(&mapped, dash, n, s->dash_offset - shift, out);
    return TRUE;
}

void dt_outline_centre(const DtLines *outline, const DtStrokeStyle *s, double least, double bridge,
                       DtLines *out)
{
    g_auto(DtLines) dashed;
    dt_lines_init(&dashed);
    if (s->n_dash == 0 || !in_user_space(outline, s, bridge, &dashed)) {
        dt_lines_clear(&dashed);
        dt_lines_copy(&dashed, outline);
    } else {
        dt_lines_transform(&dashed, s->user_to_mm);
    }
    for (size_t i = 0; i < dashed.n; i++)
        if (dt_lines_count(&dashed, i) > 1 || s->cap != DT_CAP_BUTT)
            add_without_repeats(dt_lines_at(&dashed, i), dt_lines_count(&dashed, i),
                                dashed.closed[i] != 0, least, out);
}

void dt_outline_area(const DtLines *outline, const DtStrokeStyle *s, double tolerance, DtLines *out)
{
    g_auto(DtLines) user, clean, widened;
    dt_lines_init(&user);
    dt_lines_init(&clean);
    dt_lines_init(&widened);
    if (!(s->width > 0) || !in_user_space(outline, s, FINEST_GAP, &user))
        return;
    double half = s->width / 2, r = half * dt_affine_max_stretch(s->user_to_mm);
    Nib nib = {s, half, 2 * acos(1 - tolerance / (tolerance + r)), &widened};
    for (size_t i = 0; i < user.n; i++)
        if (dt_lines_count(&user, i) > 1 || s->cap != DT_CAP_BUTT)
            add_without_repeats(dt_lines_at(&user, i), dt_lines_count(&user, i),
                                user.closed[i] != 0, 1e-6 * half, &clean);
    for (size_t i = 0; i < clean.n; i++)
        add_line(&nib, dt_lines_at(&clean, i), dt_lines_count(&clean, i), clean.closed[i] != 0);
    dt_lines_transform(&widened, s->user_to_mm);
    dt_lines_append_lines(out, &widened);
}
