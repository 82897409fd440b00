/* geom: boxes, maps, polylines and arcs by hand. */
#include "drawtrue/geom.h"

#include <math.h>

static void assert_box(DtBox b, double x0, double y0, double x1, double y1)
{
    g_assert_cmpfloat_with_epsilon(b.x0, x0, 1e-9);
    g_assert_cmpfloat_with_epsilon(b.y0, y0, 1e-9);
    g_assert_cmpfloat_with_epsilon(b.x1, x1, 1e-9);
    g_assert_cmpfloat_with_epsilon(b.y1, y1, 1e-9);
}

static void test_boxes(void)
{
    const DtBox a = {1, 2, 5, 8}, b = {4, -1, 9, 3}, line = {2, 4, 2, 9}, none = DT_BOX_EMPTY;
    g_assert_true(dt_box_is_empty(none));
    g_assert_false(dt_box_is_empty(line)); /* a line has no area and is still there */
    g_assert_false(dt_box_is_empty((DtBox){3, 3, 3, 3}));
    g_assert_true(dt_box_is_empty((DtBox){3, 3, 2, 9}));
    g_assert_true(dt_box_is_empty((DtBox){3, 3, 9, 2}));
    assert_box(dt_box_union(a, b), 1, -1, 9, 8);
    assert_box(dt_box_union(none, b), 4, -1, 9, 3);
    assert_box(dt_box_union(a, none), 1, 2, 5, 8);
    assert_box(dt_box_intersect(a, b), 4, 2, 5, 3);
    assert_box(dt_box_intersect(a, line), 2, 4, 2, 8);
    g_assert_true(dt_box_is_empty(dt_box_intersect(line, b)));
    assert_box(dt_box_grow(a, 0.5), 0.5, 1.5, 5.5, 8.5);
    assert_box(dt_box_grow(a, -2), 3, 4, 3, 6);
    g_assert_true(dt_box_is_empty(dt_box_grow(a, -2.1)));
    g_assert_true(dt_box_is_empty(dt_box_grow(none, 5)));
    assert_box(dt_box_add_point(none, dt_point(3, 4)), 3, 4, 3, 4);
    assert_box(dt_box_add_point(a, dt_point(7, 0)), 1, 0, 7, 8);
    static const struct {
        double x, y;
        gboolean inside;
    } points[] = {{1, 2, TRUE},    {5, 8, TRUE},    {3, 3, TRUE},   {0.9, 3, FALSE},
                  {5.1, 3, FALSE}, {3, 1.9, FALSE}, {3, 8.1, FALSE}};
    for (gsize i = 0; i < G_N_ELEMENTS(points); i++)
        g_assert_cmpint(dt_box_contains(a, dt_point(points[i].x, points[i].y)), ==,
                        points[i].inside);
}

static void test_distances(void)
{
    g_assert_cmpfloat_with_epsilon(dt_point_distance(dt_point(1, 2), dt_point(4, 6)), 5, 1e-12);
    const DtPoint a = {0, 0}, b = {10, 0};
    g_assert_cmpfloat_with_epsilon(dt_point_segment_distance(dt_point(4, 3), a, b), 3, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_point_segment_distance(dt_point(-3, 4), a, b), 5, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_point_segment_distance(dt_point(13, 4), a, b), 5, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_point_segment_distance(dt_point(3, 4), a, a), 5, 1e-12);
}

/* A box turned is the box of its corners; the greatest stretch is what some direction is stretched by. */
static void test_maps(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(3);
    for (int round = 0; round < 200; round++) {
        double v[6];
        for (int i = 0; i < 6; i++)
            v[i] = g_rand_double_range(r, -3, 3);
        const DtAffine m = {v[0], v[1], v[2], v[3], v[4], v[5]};
        double most = 0;
        for (int i = 0; i < 3600; i++) {
            const double t = i * G_PI / 3600;
            const DtPoint d = dt_affine_apply_vector(m, dt_point(cos(t), sin(t)));
            most = MAX(most, hypot(d.x, d.y));
        }
        g_assert_cmpfloat_with_epsilon(dt_affine_max_stretch(m), most, 1e-5 * most + 1e-9);
        const DtBox b = {-1, 2, 4, 3};
        DtBox wanted = DT_BOX_EMPTY;
        for (int i = 0; i < 4; i++)
            wanted = dt_box_add_point(
                wanted, dt_affine_apply(m, dt_point(i & 1 ? b.x0 : b.x1, i & 2 ? b.y0 : b.y1)));
        assert_box(dt_affine_apply_box(m, b), wanted.x0, wanted.y0, wanted.x1, wanted.y1);
        g_assert_true(dt_box_is_empty(dt_affine_apply_box(m, DT_BOX_EMPTY)));
        const DtAffine then = dt_affine_then(m, dt_affine_rotate(0.3));
        const DtPoint p = dt_affine_apply(then, dt_point(2, 5)),
                      q = dt_affine_apply(dt_affine_rotate(0.3),
                                          dt_affine_apply(m, dt_point(2, 5)));
        g_assert_cmpfloat_with_epsilon(dt_point_distance(p, q), 0, 1e-9);
    }
    DtAffine back;
    g_assert_false(dt_affine_invert((DtAffine){1, 2, 2, 4, 0, 0}, &back));
    g_assert_false(dt_affine_invert((DtAffine){1, 0, 0, 1, INFINITY, 0}, &back));
    g_assert_false(dt_affine_invert((DtAffine){1, 0, 0, 1, 0, NAN}, &back));
    g_assert_false(dt_affine_invert((DtAffine){NAN, 0, 0, 1, 0, 0}, &back));
    g_assert_false(dt_affine_invert((DtAffine){1e-320, 0, 0, 1, 0, 0}, &back));
    const DtPoint turned = dt_affine_apply(dt_affine_rotate(G_PI / 2), dt_point(1, 0));
    g_assert_cmpfloat_with_epsilon(turned.y, 1, 1e-12);
    const DtPoint moved = dt_affine_apply(dt_affine_translate(3, 4), dt_point(1, 1));
    g_assert_true(moved.x == 4 && moved.y == 5);
    const DtPoint scaled = dt_affine_apply(dt_affine_scale(2, -3), dt_point(1, 1));
    g_assert_true(scaled.x == 2 && scaled.y == -3);
}

/* Polylines by the hundred: lengths, areas and boxes as they were put in. */
static void test_polylines_grow_and_keep_what_they_hold(void)
{
    g_auto(DtLines) all = {0}, twice = {0}, copy;
    for (int i = 0; i < 300; i++) {
        const DtPoint square[] = {{i, 0}, {i + 2, 0}, {i + 2, 1}, {i, 1}};
        if (i % 3 == 0) {
            dt_lines_begin(&all);
            for (int k = 0; k < 4; k++)
                dt_lines_point(&all, square[k]);
            dt_lines_close(&all);
        } else {
            dt_lines_append(&all, square, 4, i % 3 == 1);
        }
    }
    dt_lines_append(&all, NULL, 0, FALSE);
    dt_lines_append_lines(&twice, &all);
    dt_lines_append_lines(&twice, &all);
    dt_lines_append_lines(&twice, &(DtLines){0});
    dt_lines_copy(&copy, &twice);
    g_assert_cmpuint(copy.n, ==, 602);
    g_assert_cmpuint(copy.n_pts, ==, 2400);
    for (size_t i = 0; i < copy.n; i++) {
        const size_t of = i % 301;
        if (of == 300) {
            g_assert_cmpuint(dt_lines_count(&copy, i), ==, 0);
            continue;
        }
        g_assert_cmpuint(dt_lines_count(&copy, i), ==, 4);
        g_assert_cmpfloat(dt_lines_at(&copy, i)[1].x, ==, (double)of + 2);
        g_assert_cmpint(copy.closed[i], ==, of % 3 != 2);
        g_assert_cmpfloat_with_epsilon(dt_lines_length(&copy, i), of % 3 == 2 ? 5 : 6, 1e-12);
        g_assert_cmpfloat_with_epsilon(dt_lines_area(&copy, i), 2, 1e-12);
    }
    g_assert_cmpfloat_with_epsilon(dt_lines_total_length(&copy), 2 * (100 * 5 + 200 * 6), 1e-9);
    assert_box(dt_lines_box(&copy), 0, 0, 301, 1);
    dt_lines_transform(&copy, dt_affine_scale(2, 3));
    assert_box(dt_lines_box(&copy), 0, 0, 602, 3);
    assert_box(dt_lines_box(&twice), 0, 0, 301, 1);
    g_auto(DtLines) dot = {0};
    dt_lines_append(&dot, &(DtPoint){5, 5}, 1, TRUE);
    g_assert_cmpfloat(dt_lines_length(&dot, 0), ==, 0);
    g_assert_cmpfloat(dt_lines_area(&dot, 0), ==, 0);
    g_auto(DtLines) none = {0};
    dt_lines_close(&none); /* there is none to close */
    g_assert_true(dt_box_is_empty(dt_lines_box(&none)));
}

/* The four arcs between two points (SVG 1.1, 8.3.8, the figure of the flags): which way and how far they
 * go, by the place of their middle. Radius 5, from (0,0) to (6,0): the centres lie at (3, -4) and (3, 4). */
static void test_arcs_by_their_flags(void)
{
    static const struct {
        gboolean large, sweep;
        double y; /* of the middle */
    } cases[] = {{FALSE, FALSE, 1}, {FALSE, TRUE, -1}, {TRUE, FALSE, 9}, {TRUE, TRUE, -9}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtPath p;
        dt_path_init(&p);
        dt_path_move(&p, dt_point(0, 0));
        dt_path_arc(&p, 5, 5, 0.7, cases[i].large, cases[i].sweep, dt_point(6, 0));
        g_auto(DtLines) l = {0};
        dt_path_flatten(&p, dt_affine_scale(1, 1), 1e-4, &l);
        const DtPoint *q = dt_lines_at(&l, 0);
        const size_t n = dt_lines_count(&l, 0);
        double extreme = 0;
        const double cy = cases[i].y > 0 ? cases[i].y - 5 : cases[i].y + 5;
        for (size_t k = 0; k < n; k++) {
            extreme = fabs(q[k].y) > fabs(extreme) ? q[k].y : extreme;
            g_assert_cmpfloat_with_epsilon(dt_point_distance(q[k], dt_point(3, cy)), 5, 2e-3);
        }
        g_assert_cmpfloat_with_epsilon(extreme, cases[i].y, 1e-3);
        g_assert_true(q[n - 1].x == 6 && q[n - 1].y == 0);
        dt_path_clear(&p);
    }
}

/* F.6.2 and F.6.6: equal ends leave the arc out, no radius makes a line, a radius too small grows. */
static void test_arcs_out_of_range(void)
{
    DtPath p;
    dt_path_init(&p);
    dt_path_move(&p, dt_point(1, 1));
    dt_path_arc(&p, 5, 5, 0, TRUE, TRUE, dt_point(1, 1));
    g_assert_cmpuint(p.n_verb, ==, 1);
    dt_path_arc(&p, 0, 5, 0, TRUE, TRUE, dt_point(3, 1));
    dt_path_arc(&p, 5, 0, 0, TRUE, TRUE, dt_point(3, 3));
    g_assert_cmpuint(p.n_verb, ==, 3);
    g_assert_cmpint(p.verb[1], ==, DT_PATH_LINE);
    g_assert_cmpint(p.verb[2], ==, DT_PATH_LINE);
    dt_path_clear(&p);
    dt_path_move(&p, dt_point(3, 3));
    dt_path_arc(&p, -1, 1, 0, FALSE, TRUE, dt_point(7, 3)); /* half of a circle of radius 2 */
    g_auto(DtLines) l = {0};
    dt_path_flatten(&p, dt_affine_scale(1, 1), 1e-5, &l);
    const DtBox b = dt_lines_box(&l);
    g_assert_cmpfloat_with_epsilon(b.x0, 3, 1e-3);
    g_assert_cmpfloat_with_epsilon(b.x1, 7, 1e-3);
    g_assert_cmpfloat_with_epsilon(b.y0, 1, 1e-3);
    g_assert_cmpfloat_with_epsilon(b.y1, 3, 1e-9);
    dt_path_clear(&p);
}

/* F.6.6, step 1: the signs of the radii do not matter. */
static void test_radii_without_their_signs(void)
{
    for (int signs = 0; signs < 4; signs++) {
        g_auto(DtPath) p = {0}, positive = {0};
        const double rx = signs & 1 ? -5 : 5, ry = signs & 2 ? -3 : 3;
        dt_path_move(&p, dt_point(0, 0));
        dt_path_arc(&p, rx, ry, 0.7, TRUE, FALSE, dt_point(6, 1));
        dt_path_move(&positive, dt_point(0, 0));
        dt_path_arc(&positive, 5, 3, 0.7, TRUE, FALSE, dt_point(6, 1));
        g_assert_cmpmem(p.verb, p.n_verb, positive.verb, positive.n_verb);
        g_assert_cmpmem(p.pts, p.n_pts * sizeof *p.pts, positive.pts,
                        positive.n_pts * sizeof *positive.pts);
    }
}

/* Whatever the bound, the outline is either complete, closed where it is, or said not to be. */
static void test_a_bound_cuts_nothing_in_silence(void)
{
    g_auto(DtPath) p = {0};
    dt_path_move(&p, dt_point(0, 0));
    dt_path_line(&p, dt_point(9, 0));
    dt_path_close(&p);
    dt_path_move(&p, dt_point(20, 0));
    dt_path_arc(&p, 5, 5, 0, FALSE, TRUE, dt_point(25, 5));
    dt_path_line(&p, dt_point(20, 9));
    dt_path_close(&p);
    g_auto(DtLines) all = {0};
    dt_path_flatten(&p, DT_AFFINE_IDENTITY, 0.05, &all);
    for (size_t most = 0; most < all.n_pts + 3; most++) {
        g_auto(DtLines) l = {0};
        const gboolean complete = dt_path_flatten_at_most(&p, DT_AFFINE_IDENTITY, 0.05, most, &l);
        g_assert_cmpint(complete, ==, most >= all.n_pts);
        if (!complete)
            continue;
        g_assert_cmpuint(l.n, ==, all.n);
        g_assert_cmpmem(l.pts, l.n_pts * sizeof *l.pts, all.pts, all.n_pts * sizeof *all.pts);
        g_assert_cmpmem(l.closed, l.n, all.closed, all.n);
    }
}

/* A quadratic is at its middle where its control points say: (a + 2 c + b) / 4. */
static void test_quadratics_and_maps_of_paths(void)
{
    DtPath p;
    dt_path_init(&p);
    dt_path_move(&p, dt_point(0, 0));
    dt_path_quad(&p, dt_point(5, 8), dt_point(10, 0));
    dt_path_transform(&p, dt_affine_translate(1, 2));
    g_auto(DtLines) l = {0};
    dt_path_flatten(&p, dt_affine_scale(1, 1), 1e-5, &l);
    g_assert_cmpfloat_with_epsilon(dt_lines_box(&l).y1, 6, 1e-4);
    assert_box((DtBox){dt_lines_box(&l).x0, dt_lines_box(&l).y0, dt_lines_box(&l).x1, 0}, 1, 2, 11,
               0);
    dt_path_clear(&p);
}

/* After a close without a move the next polyline goes on from where the last one began (SVG 2, 9.3.4). */
static void test_a_path_goes_on_after_a_close(void)
{
    DtPath p;
    dt_path_init(&p);
    dt_path_move(&p, dt_point(1, 2));
    dt_path_line(&p, dt_point(5, 2));
    dt_path_line(&p, dt_point(5, 6));
    dt_path_close(&p);
    dt_path_close(&p); /* nothing is open */
    dt_path_line(&p, dt_point(9, 9));
    dt_path_line(&p, dt_point(9, 1));
    g_auto(DtLines) l = {0};
    dt_path_flatten(&p, dt_affine_scale(1, 1), 0.01, &l);
    g_assert_cmpuint(l.n, ==, 2);
    g_assert_true(l.closed[0] && !l.closed[1]);
    g_assert_cmpuint(dt_lines_count(&l, 0), ==, 3);
    g_assert_cmpuint(dt_lines_count(&l, 1), ==, 3);
    g_assert_true(dt_lines_at(&l, 1)[0].x == 1 && dt_lines_at(&l, 1)[0].y == 2);
    g_assert_true(dt_lines_at(&l, 1)[2].x == 9 && dt_lines_at(&l, 1)[2].y == 1);
    dt_path_clear(&p);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/geom/boxes", test_boxes);
    g_test_add_func("/geom/distances", test_distances);
    g_test_add_func("/geom/maps", test_maps);
    g_test_add_func("/geom/polylines", test_polylines_grow_and_keep_what_they_hold);
    g_test_add_func("/geom/arcs/flags", test_arcs_by_their_flags);
    g_test_add_func("/geom/arcs/out-of-range", test_arcs_out_of_range);
    g_test_add_func("/geom/arcs/signs", test_radii_without_their_signs);
    g_test_add_func("/geom/bound", test_a_bound_cuts_nothing_in_silence);
    g_test_add_func("/geom/close", test_a_path_goes_on_after_a_close);
    g_test_add_func("/geom/quadratics", test_quadratics_and_maps_of_paths);
    return g_test_run();
}
