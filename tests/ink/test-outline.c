/* outline: the area of a stroke against what cairo says of places: joins, caps and nibs that are
 * stretched and turned, on lines that are open, closed, doubled back and of no length. */
#include "ink/outline.h"

#include <cairo.h>
#include <math.h>

#define NEAR 0.03 /* mm: this close to an edge neither decides */
enum { ROUNDS = 400, PLACES = 60, MOST = 7 };

static const cairo_line_cap_t caps[] = {[DT_CAP_BUTT] = CAIRO_LINE_CAP_BUTT,
                                        [DT_CAP_ROUND] = CAIRO_LINE_CAP_ROUND,
                                        [DT_CAP_SQUARE] = CAIRO_LINE_CAP_SQUARE};
static const cairo_line_join_t joins[] = {[DT_JOIN_MITER] = CAIRO_LINE_JOIN_MITER,
                                          [DT_JOIN_ROUND] = CAIRO_LINE_JOIN_ROUND,
                                          [DT_JOIN_BEVEL] = CAIRO_LINE_JOIN_BEVEL};

/* The outline, mm, as a stroke of the style on a context, which is in mm. */
static void lay_stroke(cairo_t *cr, const DtLines *l, const DtStrokeStyle *s)
{
    const cairo_matrix_t m = {s->user_to_mm.xx, s->user_to_mm.yx, s->user_to_mm.xy,
                              s->user_to_mm.yy, s->user_to_mm.x0, s->user_to_mm.y0};
    for (size_t i = 0; i < l->n; i++) {
        const DtPoint *p = dt_lines_at(l, i);
        cairo_move_to(cr, p[0].x, p[0].y);
        for (size_t k = 1; k < dt_lines_count(l, i); k++)
            cairo_line_to(cr, p[k].x, p[k].y);
        if (l->closed[i])
            cairo_close_path(cr);
    }
    cairo_transform(cr, &m);
    cairo_set_line_width(cr, s->width);
    cairo_set_line_cap(cr, caps[s->cap]);
    cairo_set_line_join(cr, joins[s->join]);
    cairo_set_miter_limit(cr, s->miter_limit);
    cairo_set_tolerance(cr, 0.002);
}

static gboolean is_painted(cairo_t *cr, const DtStrokeStyle *s, DtPoint at)
{
    DtAffine back;
    g_assert_true(dt_affine_invert(s->user_to_mm, &back));
    const DtPoint p = dt_affine_apply(back, at);
    return cairo_in_stroke(cr, p.x, p.y);
}

/* Whether a place is painted; -1 near an edge. */
static int says(cairo_t *cr, const DtStrokeStyle *s, DtPoint at)
{
    const int here = is_painted(cr, s, at);
    for (int k = 0; k < 8; k++) {
        const double angle = k * G_PI / 4;
        const DtPoint by = {at.x + NEAR * cos(angle), at.y + NEAR * sin(angle)};
        if (is_painted(cr, s, by) != here)
            return -1;
    }
    return here;
}

static double between(GRand *r, double low, double high)
{
    return g_rand_double_range(r, low, high);
}

static DtPoint any_point(GRand *r)
{
    return dt_point(between(r, 5, 35), between(r, 5, 35));
}

static void any_line(GRand *r, DtLines *l)
{
    DtPoint p[MOST];
    const int n = g_rand_int_range(r, 2, MOST + 1), kind = g_rand_int_range(r, 0, 6);
    for (int i = 0; i < n; i++) {
        p[i] = any_point(r);
        if (kind == 0 && i > 0) /* rectangular */
            p[i] = i % 2 ? dt_point(p[i].x, p[i - 1].y) : dt_point(p[i - 1].x, p[i].y);
        if (kind == 1 && i > 0 && i % 3 == 0)
            p[i] = p[i - 1]; /* repeated */
        if (kind == 2 && i > 1 && i % 2 == 0)
            p[i] = dt_point_lerp(p[i - 2], p[i - 1], 1.4); /* straight on */
    }
    dt_lines_append(l, p, (size_t)n, n > 2 && g_rand_boolean(r));
}

static void any_style(GRand *r, DtStrokeStyle *s)
{
    *s = (DtStrokeStyle){.width = between(r, 0.5, 6),
                         .cap = (DtCap)g_rand_int_range(r, 0, 3),
                         .join = (DtJoin)g_rand_int_range(r, 0, 3),
                         .miter_limit = between(r, 1, 6),
                         .user_to_mm = DT_AFFINE_IDENTITY};
    /* cairo measures a miter on the page, SVG in the shape's own units: they agree where the nib is round */
    const double wide = between(r, 0.6, 2),
                 high = s->join == DT_JOIN_MITER ? wide : between(r, 0.6, 2);
    if (g_rand_boolean(r))
        s->user_to_mm = dt_affine_then(
            dt_affine_then(dt_affine_scale(wide, -high), dt_affine_rotate(between(r, 0, 6))),
            dt_affine_translate(between(r, -9, 9), between(r, -9, 9)));
}

static void test_areas(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(12);
    int painted = 0, bare = 0;
    for (int round = 0; round < ROUNDS; round++) {
        DtStrokeStyle s;
        g_auto(DtLines) line, area;
        dt_lines_init(&line);
        dt_lines_init(&area);
        any_line(r, &line);
        any_style(r, &s);
        dt_outline_area(&line, &s, 0.005, &area);
        for (size_t i = 0; i < area.n; i++)
            g_assert_cmpint(area.closed[i], ==, 1);
        cairo_surface_t *none = cairo_recording_surface_create(CAIRO_CONTENT_ALPHA, NULL);
        cairo_t *cr = cairo_create(none);
        lay_stroke(cr, &line, &s);
        for (int k = 0; k < PLACES; k++) {
            /* most of them near the line */
            const DtPoint on = line.pts[g_rand_int_range(r, 0, (int)line.n_pts)],
                          to = line.pts[g_rand_int_range(r, 0, (int)line.n_pts)];
            const DtPoint along = dt_point_lerp(on, to, between(r, -0.1, 1.1));
            const DtPoint at = dt_point(along.x + between(r, -4, 4), along.y + between(r, -4, 4));
            const int wanted = says(cr, &s, at);
            if (wanted < 0)
                continue;
            if (dt_lines_inside(&area, DT_FILL_NONZERO, at) != wanted)
                g_error("round %d: %g, %g is%s painted", round, at.x, at.y, wanted ? "" : " not");
            painted += wanted;
            bare += !wanted;
        }
        cairo_destroy(cr);
        cairo_surface_destroy(none);
    }
    g_assert_cmpint(painted, >, ROUNDS * PLACES / 10);
    g_assert_cmpint(bare, >, ROUNDS * PLACES / 10);
}

/* What has no length: a dot with round or square caps, nothing with butt ends. */
static void test_dots(void)
{
    for (int cap = DT_CAP_BUTT; cap <= DT_CAP_SQUARE; cap++)
        for (size_t n = 1; n <= 3; n++) {
            const DtPoint p[3] = {{10, 20}, {10, 20}, {10, 20}};
            const DtStrokeStyle s = {
                .width = 4, .cap = (DtCap)cap, .miter_limit = 4, .user_to_mm = DT_AFFINE_IDENTITY};
            g_auto(DtLines) line, area;
            dt_lines_init(&line);
            dt_lines_init(&area);
            dt_lines_append(&line, p, n, FALSE);
            dt_outline_area(&line, &s, 0.001, &area);
            double sum = 0;
            for (size_t i = 0; i < area.n; i++)
                sum += fabs(dt_lines_area(&area, i));
            g_assert_cmpfloat_with_epsilon(sum,
                                           cap == DT_CAP_ROUND    ? G_PI * 4
                                           : cap == DT_CAP_SQUARE ? 16
                                                                  : 0,
                                           0.02);
        }
}

/* A line of more points than are outlined at once: as wide all along as any other, its ends by its cap. */
static void test_long_lines_end_by_their_caps(void)
{
    enum { POINTS = 50001 };
    const double end = 50, half = 1;
    g_auto(DtLines) line;
    dt_lines_init(&line);
    dt_lines_begin(&line);
    for (int i = 0; i < POINTS; i++)
        dt_lines_point(&line, dt_point(end * i / (POINTS - 1), 0));
    for (int cap = DT_CAP_BUTT; cap <= DT_CAP_SQUARE; cap++) {
        const DtStrokeStyle s = {.width = 2 * half,
                                 .cap = (DtCap)cap,
                                 .join = DT_JOIN_ROUND,
                                 .miter_limit = 4,
                                 .user_to_mm = DT_AFFINE_IDENTITY};
        const struct {
            double x, y;
            gboolean painted;
        } places[] = {
            {-0.01, 0, cap != DT_CAP_BUTT},
            {end + 0.01, 0, cap != DT_CAP_BUTT},
            {-0.95, 0, cap != DT_CAP_BUTT},
            {end + 0.95, 0, cap != DT_CAP_BUTT},
            {-0.95, 0.95, cap == DT_CAP_SQUARE},
            {end + 0.95, -0.95, cap == DT_CAP_SQUARE},
            {-1.05, 0, FALSE},
            {end + 1.05, 0, FALSE},
            {0.01, 0.95, TRUE},
            {end - 0.01, -0.95, TRUE},
        };
        g_auto(DtLines) area;
        g_autoptr(GError) error = NULL;
        dt_lines_init(&area);
        g_assert_true(dt_outline_region(&line, &s, 0.001, &area, &error));
        for (size_t i = 0; i < G_N_ELEMENTS(places); i++)
            g_assert_true(dt_lines_inside(&area, DT_FILL_NONZERO,
                                          dt_point(places[i].x, places[i].y)) == places[i].painted);
        for (double x = 0.5; x < end; x += 0.5) {
            g_assert_true(dt_lines_inside(&area, DT_FILL_NONZERO, dt_point(x, 0.95)));
            g_assert_false(dt_lines_inside(&area, DT_FILL_NONZERO, dt_point(x, -1.05)));
        }
    }
}

/* Dashes are measured in the shape's own units. Where these have no height a line has no area, and its centre is
 * drawn whole rather than lost. */
static void test_units_without_height(void)
{
    double dash[] = {2, 1};
    const DtPoint p[] = {{10, 20}, {30, 20}};
    DtStrokeStyle s = {.width = 4,
                       .cap = DT_CAP_BUTT,
                       .miter_limit = 4,
                       .dash = dash,
                       .n_dash = G_N_ELEMENTS(dash),
                       .user_to_mm = dt_affine_scale(1, 0)};
    for (int flat = 0; flat < 2; flat++) {
        g_auto(DtLines) line, area, centre;
        dt_lines_init(&line);
        dt_lines_init(&area);
        dt_lines_init(&centre);
        dt_lines_append(&line, p, G_N_ELEMENTS(p), FALSE);
        s.user_to_mm = flat ? dt_affine_scale(1, 0) : DT_AFFINE_IDENTITY;
        dt_outline_area(&line, &s, 0.001, &area);
        dt_outline_centre(&line, &s, 0.01, 0, &centre);
        g_assert_cmpuint(area.n, ==, flat ? 0 : 7); /* 20 mm of 3 mm each */
        g_assert_cmpuint(centre.n, ==, flat ? 1 : 7);
        g_assert_cmpfloat_with_epsilon(dt_lines_total_length(&centre), flat ? 20 : 14, 1e-9);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outline/areas", test_areas);
    g_test_add_func("/outline/dots", test_dots);
    g_test_add_func("/outline/long", test_long_lines_end_by_their_caps);
    g_test_add_func("/outline/flat", test_units_without_height);
    return g_test_run();
}
