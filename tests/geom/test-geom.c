/* geom: maps, areas, arcs and flattening. */
#include "drawtrue/geom.h"

#include <math.h>
#include <string.h>

static DtPoint cubic(const DtPoint *p, double t)
{
    double u = 1 - t;
    double b[4] = {u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t};
    DtPoint r = {0, 0};
    for (int i = 0; i < 4; i++)
        r = dt_point_add(r, dt_point_scale(p[i], b[i]));
    return r;
}

static double distance_to_line(const DtLines *l, size_t i, DtPoint p)
{
    const DtPoint *q = dt_lines_at(l, i);
    size_t n = dt_lines_count(l, i);
    double best = dt_point_distance(p, q[0]);
    for (size_t j = 1; j < n; j++)
        best = MIN(best, dt_point_segment_distance(p, q[j - 1], q[j]));
    return best;
}

static double random_coordinate(void)
{
    double scale = pow(10, g_test_rand_double_range(-2, 3));
    return g_test_rand_double_range(-scale, scale);
}

/* Random cubics, cusps, loops and retraced lines among them. */
static void random_cubic(DtPoint *p)
{
    for (int i = 0; i < 4; i++)
        p[i] = dt_point(random_coordinate(), random_coordinate());
    switch (g_test_rand_int_range(0, 6)) {
    case 0:
        p[3] = p[0];
        break;
    case 1:
        p[1] = p[0];
        break;
    case 2:
        p[1] = dt_point_lerp(p[0], p[3], g_test_rand_double_range(-2, 3));
        p[2] = dt_point_lerp(p[0], p[3], g_test_rand_double_range(-2, 3));
        break;
    case 3: { /* a cusp */
        DtPoint c = p[1];
        p[1] = dt_point_add(c, dt_point_sub(p[3], p[0]));
        p[2] = c;
        break;
    }
    default:
        break;
    }
}

static void test_curve_stays_within_tolerance(void)
{
    for (int k = 0; k < 1500; k++) {
        DtPoint p[4];
        random_cubic(p);
        double tolerance = pow(10, g_test_rand_double_range(-3, 0));
        g_auto(DtPath) path = {0};
        dt_path_move(&path, p[0]);
        dt_path_cubic(&path, p[1], p[2], p[3]);
        g_auto(DtLines) l = {0};
        dt_path_flatten(&path, DT_AFFINE_IDENTITY, tolerance, &l);
        g_assert_cmpuint(l.n, ==, 1);
        for (int i = 0; i <= 300; i++) {
            double d = distance_to_line(&l, 0, cubic(p, i / 300.0));
            g_assert_cmpfloat(d, <=, tolerance * (1 + 1e-6) + 1e-9);
        }
    }
}

static void test_circle_takes_near_the_fewest_segments(void)
{
    for (double r = 0.5; r < 2000; r *= 1.7) {
        g_auto(DtPath) path = {0};
        dt_path_move(&path, dt_point(r, 0));
        dt_path_arc(&path, r, r, 0, FALSE, TRUE, dt_point(-r, 0));
        dt_path_arc(&path, r, r, 0, FALSE, TRUE, dt_point(r, 0));
        dt_path_close(&path);
        g_auto(DtLines) l = {0};
        dt_path_flatten(&path, DT_AFFINE_IDENTITY, 0.01, &l);
        /* An inscribed polygon whose sagitta r(1 - cos(pi/n)) is the tolerance. */
        double fewest = ceil(G_PI / acos(1 - 0.01 / r));
        g_assert_cmpfloat((double)l.n_pts, <=, fewest * 1.03 + 4);
        g_assert_true(l.closed[0]);
    }
}

/* Where a point of the polyline lies on the curve, from `t` on. */
static double parameter_of(const DtPoint p[4], DtPoint at, double t)
{
    double best = t, least = G_MAXDOUBLE, step = 1e-3;
    for (double u = t; u <= 1 + 1e-9; u += step) {
        const double d = dt_point_distance(cubic(p, u), at);
        if (d < least) {
            least = d;
            best = u;
        }
        if (least < 1e-3 && d > 10 * least + 1)
            break;
    }
    for (; step > 1e-12; step /= 2)
        for (int way = -1; way <= 1; way += 2) {
            const double d = dt_point_distance(cubic(p, best + way * step), at);
            if (d < least) {
                least = d;
                best += way * step;
            }
        }
    return best;
}

/* All segments of a curve without cusps but the last leave the curve by most of the tolerance: shorter ones
 * would be few. */
static void test_segments_are_as_long_as_they_may_be(void)
{
    unsigned n = 0, n_short = 0;
    for (int k = 0; k < 150; k++) {
        /* a bow, or an S, whose ends and control points are in order along x */
        DtPoint p[4];
        for (int i = 0; i < 4; i++)
            p[i] = dt_point(30 * i + g_test_rand_double_range(0, 20),
                            g_test_rand_double_range(-40, 40));
        g_auto(DtPath) path = {0};
        dt_path_move(&path, p[0]);
        dt_path_cubic(&path, p[1], p[2], p[3]);
        g_auto(DtLines) l = {0};
        const double tolerance = pow(10, g_test_rand_double_range(-2, 0));
        dt_path_flatten(&path, DT_AFFINE_IDENTITY, tolerance, &l);
        double t = 0;
        for (size_t i = 1; i + 1 < l.n_pts; i++) {
            const double next = parameter_of(p, l.pts[i], t);
            double most = 0;
            for (int j = 1; j < 60; j++)
                most = MAX(most, dt_point_segment_distance(cubic(p, t + (next - t) * j / 60),
                                                           l.pts[i - 1], l.pts[i]));
            g_assert_cmpfloat(dt_point_distance(cubic(p, next), l.pts[i]), <, 1e-6);
            n++;
            n_short += most < 0.78 * tolerance;
            t = next;
        }
    }
    g_test_message("%u of %u are short", n_short, n);
    g_assert_cmpuint(n_short, <=, n / 20);
}

/* A closed polyline ends where it began without that point twice, whichever it is of its path. */
static void test_closed_lines_have_their_first_point_once(void)
{
    for (int round = 0; round < 50; round++) {
        g_auto(DtPath) path = {0};
        int corners[4];
        for (int i = 0; i < 4; i++) {
            corners[i] = g_test_rand_int_range(3, 9);
            for (int k = 0; k <= corners[i] - (i % 2);
                 k++) { /* every second one comes back itself */
                const double a = 2 * G_PI * (k % corners[i]) / corners[i];
                const DtPoint at = {20 * i + cos(a), sin(a)};
                if (k == 0)
                    dt_path_move(&path, at);
                else
                    dt_path_line(&path, at);
            }
            dt_path_close(&path);
        }
        g_auto(DtLines) l = {0};
        dt_path_flatten(&path, DT_AFFINE_IDENTITY, 0.01, &l);
        g_assert_cmpuint(l.n, ==, 4);
        for (size_t i = 0; i < 4; i++) {
            g_assert_true(l.closed[i]);
            g_assert_cmpuint(dt_lines_count(&l, i), ==, corners[i]);
        }
    }
}

/* In the space where the ellipse is the unit circle; SVG 2, B.2.4 and B.2.5: radii that are too small
 * are scaled up, and of the four arcs the two flags choose one. Cubic arcs of a quarter turn are off
 * by 2.8e-4 of the radius (Goldapp 1991). */
static void assert_on_ellipse(const DtPath *path, DtPoint from, DtPoint to, double rx, double ry,
                              double rotation, gboolean large, gboolean sweep)
{
    DtAffine unit = dt_affine_then(dt_affine_rotate(-rotation), dt_affine_scale(1 / rx, 1 / ry));
    DtPoint a = dt_affine_apply(unit, from), b = dt_affine_apply(unit, to);
    const double half = dt_point_distance(a, b) / 2;
    if (half > 1) {
        unit = dt_affine_then(unit, dt_affine_scale(1 / half, 1 / half));
        a = dt_affine_apply(unit, from);
        b = dt_affine_apply(unit, to);
    }
    const DtPoint h = dt_point((a.x - b.x) / 2, (a.y - b.y) / 2);
    const double n = MIN(hypot(h.x, h.y), 1), side = large != sweep ? 1 : -1;
    const double k = n > 0 ? side * sqrt(1 - n * n) / n : 0;
    const DtPoint c = {(a.x + b.x) / 2 + k * h.y, (a.y + b.y) / 2 - k * h.x};
    g_auto(DtLines) l = {0};
    dt_path_flatten(path, unit, 1e-4, &l);
    double turned = 0;
    const DtPoint *p = dt_lines_at(&l, 0);
    for (size_t i = 0; i < dt_lines_count(&l, 0); i++) {
        const double x = p[i].x - c.x, y = p[i].y - c.y;
        g_assert_cmpfloat_with_epsilon(hypot(x, y), 1, 1e-3);
        if (i > 0) {
            const double u = p[i - 1].x - c.x, v = p[i - 1].y - c.y;
            turned += atan2(u * y - v * x, u * x + v * y);
        }
    }
    g_assert_true((turned > 0) == sweep);
    if (half < 0.999 && half > 1e-3)
        g_assert_true((fabs(turned) > G_PI) == large);
}

static void test_arc_reaches_ends_and_stays_on_ellipse(void)
{
    for (int k = 0; k < 500; k++) {
        DtPoint from = {random_coordinate(), random_coordinate()};
        DtPoint to = {random_coordinate(), random_coordinate()};
        double rx = fabs(random_coordinate()) + 1e-3, ry = fabs(random_coordinate()) + 1e-3;
        double rotation = g_test_rand_double_range(-4, 4);
        gboolean large = g_test_rand_bit(), sweep = g_test_rand_bit();
        g_auto(DtPath) path = {0};
        dt_path_move(&path, from);
        dt_path_arc(&path, rx, ry, rotation, large, sweep, to);
        DtPoint end = path.pts[path.n_pts - 1];
        g_assert_true(end.x == to.x && end.y == to.y);
        g_assert_cmpuint(path.n_verb, <=, 5);
        assert_on_ellipse(&path, from, to, rx, ry, rotation, large, sweep);
    }
}

static void test_half_turn_area(void)
{
    g_auto(DtPath) path = {0};
    dt_path_move(&path, dt_point(10, 0));
    dt_path_arc(&path, 10, 10, 0, TRUE, TRUE, dt_point(-10, 0));
    dt_path_close(&path);
    g_auto(DtLines) l = {0};
    dt_path_flatten(&path, DT_AFFINE_IDENTITY, 1e-4, &l);
    g_assert_cmpfloat(fabs(dt_lines_area(&l, 0) - G_PI * 50), <, 0.05);
}

static void test_map_and_its_inverse(void)
{
    DtAffine m = dt_affine_then(dt_affine_rotate(0.3),
                                dt_affine_then(dt_affine_scale(2, -3), dt_affine_translate(5, 7)));
    DtAffine back;
    g_assert_true(dt_affine_invert(m, &back));
    DtPoint p = dt_affine_apply(back, dt_affine_apply(m, dt_point(11, 13)));
    g_assert_cmpfloat(dt_point_distance(p, dt_point(11, 13)), <, 1e-12);
    g_assert_cmpfloat(fabs(dt_affine_max_stretch(m) - 3), <, 1e-12);
    g_assert_false(dt_affine_invert(dt_affine_scale(1, 0), &back));
}

static void test_inside_by_both_rules(void)
{
    g_auto(DtLines) l = {0};
    DtPoint outer[] = {{0, 0}, {10, 0}, {10, 10}, {0, 10}};
    DtPoint inner[] = {{3, 3}, {7, 3}, {7, 7}, {3, 7}};
    dt_lines_append(&l, outer, 4, TRUE);
    dt_lines_append(&l, inner, 4, TRUE);
    g_assert_true(dt_lines_inside(&l, DT_FILL_NONZERO, dt_point(5, 5)));
    g_assert_false(dt_lines_inside(&l, DT_FILL_EVENODD, dt_point(5, 5)));
    g_assert_true(dt_lines_inside(&l, DT_FILL_EVENODD, dt_point(1, 5)));
    g_assert_false(dt_lines_inside(&l, DT_FILL_NONZERO, dt_point(11, 5)));
    g_assert_cmpfloat(dt_lines_area(&l, 0), ==, 100);
    g_assert_cmpfloat(dt_lines_total_length(&l), ==, 56);
}

static void test_shared_edge_belongs_to_one_side(void)
{
    g_auto(DtLines) left = {0}, right = {0};
    DtPoint a[] = {{0, 0}, {3, 1}, {4, 9}, {0, 10}}, b[] = {{3, 1}, {9, 0}, {9, 10}, {4, 9}};
    dt_lines_append(&left, a, 4, TRUE);
    dt_lines_append(&right, b, 4, TRUE);
    for (int i = 0; i < 1000; i++) {
        double t = g_test_rand_double_range(0.01, 0.99);
        DtPoint p = dt_point_lerp(dt_point(3, 1), dt_point(4, 9), t);
        g_assert_true(dt_lines_inside(&left, DT_FILL_NONZERO, p) !=
                      dt_lines_inside(&right, DT_FILL_NONZERO, p));
    }
}

static void test_subpaths_and_degenerate_ones(void)
{
    g_auto(DtPath) path = {0};
    dt_path_move(&path, dt_point(1, 1));
    dt_path_close(&path);
    dt_path_line(&path, dt_point(2, 1)); /* goes on from the start of the closed one */
    g_auto(DtLines) l = {0};
    dt_path_flatten(&path, DT_AFFINE_IDENTITY, 0.01, &l);
    g_assert_cmpuint(l.n, ==, 2);
    g_assert_cmpuint(dt_lines_count(&l, 0), ==, 1);
    g_assert_true(l.closed[0]);
    g_assert_cmpuint(dt_lines_count(&l, 1), ==, 2);
    g_assert_cmpfloat(dt_lines_at(&l, 1)[0].x, ==, 1);
}

static void test_huge_curve_stays_bounded(void)
{
    g_auto(DtPath) path = {0};
    dt_path_move(&path, dt_point(-1e300, 0));
    dt_path_cubic(&path, dt_point(0, 1e300), dt_point(1e300, -1e300), dt_point(INFINITY, NAN));
    dt_path_cubic(&path, dt_point(0, 1e100), dt_point(1e100, -1e100), dt_point(3, 3));
    dt_path_move(&path, dt_point(1e22, 1e20)); /* where the steps of a double are a million */
    dt_path_cubic(&path, dt_point(1e22 + 8e6, 1e20), dt_point(1e22, 1e20 + 5e4),
                  dt_point(1e22 + 3e6, 1e20 + 3e5));
    for (double big = 1e12; big < 1e300; big *= 1e7) {
        dt_path_move(&path, dt_point(2, 15));
        dt_path_cubic(&path, dt_point(2, big), dt_point(-222, 2), dt_point(1, 15 - big));
    }
    dt_path_move(&path, dt_point(-1e12, 0));
    dt_path_cubic(&path, dt_point(0, 1e12), dt_point(1e12, -1e12), dt_point(3, 3));
    g_auto(DtLines) l = {0};
    dt_path_flatten(&path, DT_AFFINE_IDENTITY, 0.01, &l);
    g_assert_cmpuint(l.n_pts, <, 1000000);
}

/* To cut more finely than to 1e-9 of the size changes nothing, whichever point and axis it is that gives the size. */
static void test_no_curve_is_cut_without_end(void)
{
    static const double like[8] = {0, 0, 3, 40, 20, -10, 30, 5};
    const double size = 1e6;
    for (int which = 2; which < 8; which++) {
        double v[8];
        size_t n[2];
        memcpy(v, like, sizeof v);
        v[which] = size;
        g_auto(DtPath) path = {0};
        dt_path_move(&path, dt_point(v[0], v[1]));
        dt_path_cubic(&path, dt_point(v[2], v[3]), dt_point(v[4], v[5]), dt_point(v[6], v[7]));
        for (int k = 0; k < 2; k++) {
            g_auto(DtLines) l = {0};
            dt_path_flatten(&path, DT_AFFINE_IDENTITY, k ? 1e-9 * size : 1e-12 * size, &l);
            n[k] = l.n_pts;
        }
        g_assert_cmpuint(n[0], ==, n[1]);
    }
}

/* A curve with a coordinate beyond 1e100 counts by its end points alone, whichever of its eight it is. */
static void test_a_curve_out_of_range_is_its_ends(void)
{
    for (int which = 0; which < 8; which++)
        for (int sign = -1; sign <= 1; sign += 2) {
            double v[8] = {0, 0, 5, 90, 60, -70, 10, 20};
            v[which] = sign * 1e150;
            const DtPoint p[4] = {{v[0], v[1]}, {v[2], v[3]}, {v[4], v[5]}, {v[6], v[7]}};
            g_auto(DtPath) path = {0};
            dt_path_move(&path, p[0]);
            dt_path_cubic(&path, p[1], p[2], p[3]);
            const DtBox box = dt_path_box(&path, DT_AFFINE_IDENTITY);
            g_assert_cmpfloat(box.x0, ==, MIN(p[0].x, p[3].x));
            g_assert_cmpfloat(box.y0, ==, MIN(p[0].y, p[3].y));
            g_assert_cmpfloat(box.x1, ==, MAX(p[0].x, p[3].x));
            g_assert_cmpfloat(box.y1, ==, MAX(p[0].y, p[3].y));
            g_auto(DtLines) l = {0};
            dt_path_flatten(&path, DT_AFFINE_IDENTITY, 0.01, &l);
            g_assert_cmpuint(l.n_pts, ==, 2);
            g_assert_true(l.pts[1].x == p[3].x && l.pts[1].y == p[3].y);
        }
}

/* Against the flattened path, which lies within its tolerance of the curve; and worked by hand: the cubic
 * 0, 3, -3, 0 has its extremes where 1 - 6t + 6t^2 = 0, at +-sqrt(3)/2. */
static void test_box_of_curves(void)
{
    g_auto(DtPath) wave = {0};
    dt_path_move(&wave, dt_point(0, 0));
    dt_path_cubic(&wave, dt_point(1, 3), dt_point(2, -3), dt_point(3, 0));
    const DtBox by_hand = dt_path_box(&wave, DT_AFFINE_IDENTITY);
    g_assert_cmpfloat_with_epsilon(by_hand.y1, sqrt(3) / 2, 1e-12);
    g_assert_cmpfloat_with_epsilon(by_hand.y0, -sqrt(3) / 2, 1e-12);
    g_assert_cmpfloat(by_hand.x0, ==, 0);
    g_assert_cmpfloat(by_hand.x1, ==, 3);
    for (int i = 0; i < 2000; i++) {
        g_auto(DtPath) path = {0};
        DtPoint p[8];
        for (int k = 0; k < 8; k++)
            p[k] = dt_point(g_test_rand_double_range(-9, 9), g_test_rand_double_range(-9, 9));
        dt_path_move(&path, p[0]);
        dt_path_cubic(&path, p[1], p[2], p[3]);
        dt_path_close(&path);
        dt_path_cubic(&path, p[4], p[5], p[6]); /* from the first point */
        dt_path_line(&path, p[7]);
        const DtAffine m = {.xx = 0.8, .yx = 0.3, .xy = -0.5, .yy = 1.1, .x0 = 4, .y0 = -2};
        g_auto(DtLines) l = {0};
        dt_path_flatten(&path, m, 1e-5, &l);
        const DtBox near = dt_lines_box(&l), box = dt_path_box(&path, m);
        g_assert_cmpfloat_with_epsilon(box.x0, near.x0, 1.1e-5);
        g_assert_cmpfloat_with_epsilon(box.y0, near.y0, 1.1e-5);
        g_assert_cmpfloat_with_epsilon(box.x1, near.x1, 1.1e-5);
        g_assert_cmpfloat_with_epsilon(box.y1, near.y1, 1.1e-5);
    }
    g_auto(DtPath) none = {0};
    g_assert_true(dt_box_is_empty(dt_path_box(&none, DT_AFFINE_IDENTITY)));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/geom/long-segments", test_segments_are_as_long_as_they_may_be);
    g_test_add_func("/geom/first-once", test_closed_lines_have_their_first_point_once);
    g_test_add_func("/geom/map-and-its-inverse", test_map_and_its_inverse);
    g_test_add_func("/geom/inside-by-both-rules", test_inside_by_both_rules);
    g_test_add_func("/geom/shared-edge-belongs-to-one-side", test_shared_edge_belongs_to_one_side);
    g_test_add_func("/geom/arc-reaches-ends", test_arc_reaches_ends_and_stays_on_ellipse);
    g_test_add_func("/geom/half-turn-area", test_half_turn_area);
    g_test_add_func("/geom/curve-stays-within-tolerance", test_curve_stays_within_tolerance);
    g_test_add_func("/geom/circle-fewest-segments", test_circle_takes_near_the_fewest_segments);
    g_test_add_func("/geom/subpaths", test_subpaths_and_degenerate_ones);
    g_test_add_func("/geom/box-of-curves", test_box_of_curves);
    g_test_add_func("/geom/out-of-range", test_a_curve_out_of_range_is_its_ends);
    g_test_add_func("/geom/huge-curve-stays-bounded", test_huge_curve_stays_bounded);
    g_test_add_func("/geom/least-tolerance", test_no_curve_is_cut_without_end);
    return g_test_run();
}
