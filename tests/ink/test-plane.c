/* ink/plane: the arrangement has no crossings left, and its labels are those of the outlines. */
#include "ink/plane/region.h"
#include "support/shapes.h"

#include <string.h>

static void test_no_two_edges_cross(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(1);
    for (int round = 0; round < 60; round++) {
        g_auto(DtLines) l;
        dt_lines_init(&l);
        random_outline(rand, 40, &l);
        g_autoptr(DtPlane) p = dt_plane_new();
        dt_plane_add_rings(p, dt_plane_add_layer(p, DT_PLANE_EVENODD, 1), &l);
        if (round % 2) /* crowd it: all within a few grid units */
            for (size_t i = 0; i < l.n_pts; i++)
                l.pts[i] = dt_point_scale(l.pts[i], 1.0 / 2048);
        dt_plane_add_rings(p, 0, &l);
        g_assert_true(dt_plane_build(p, NULL));
        size_t n = dt_plane_n_edges(p);
        for (size_t i = 0; i < n; i++)
            for (size_t j = i + 1; j < n; j++) {
                DtNode a, b, c, d;
                dt_plane_edge(p, i, &a, &b);
                dt_plane_edge(p, j, &c, &d);
#define TURN(p, q, r)                                                                              \
    (((gint64)q.x - p.x) * ((gint64)r.y - p.y) - ((gint64)q.y - p.y) * ((gint64)r.x - p.x))
#define SIGN(v) (((v) > 0) - ((v) < 0))
                int o1 = SIGN(TURN(a, b, c)), o2 = SIGN(TURN(a, b, d));
                int o3 = SIGN(TURN(c, d, a)), o4 = SIGN(TURN(c, d, b));
                g_assert_false(o1 * o2 < 0 && o3 * o4 < 0);
                if (o1 == 0 && memcmp(&c, &a, sizeof a) && memcmp(&c, &b, sizeof a))
                    g_assert_false((c.x - a.x) * (gint64)(c.x - b.x) <= 0 &&
                                   (c.y - a.y) * (gint64)(c.y - b.y) <= 0);
            }
    }
}

/* Winding of p, by a ray to the right. */
static int winding(const DtLines *l, DtPoint p)
{
    int w = 0;
    for (size_t i = 0; i < l->n; i++) {
        const DtPoint *q = dt_lines_at(l, i);
        size_t n = dt_lines_count(l, i);
        for (size_t k = 0; k < n; k++) {
            DtPoint a = q[k], b = q[(k + 1) % n];
            if ((a.y <= p.y) != (b.y <= p.y)) {
                double x = a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x);
                if (x > p.x)
                    w += a.y <= p.y ? 1 : -1;
            }
        }
    }
    return w;
}

static gboolean by_rule(int w, DtPlaneRule rule)
{
    return rule == DT_PLANE_EVENODD   ? w & 1
           : rule == DT_PLANE_NONZERO ? w != 0
           : rule == DT_PLANE_OUTSIDE ? w == 0
                                      : w > 0;
}

static void test_clean_regions_hold_what_the_rule_says(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(2);
    for (int round = 0; round < 300; round++) {
        DtPlaneRule rule = (DtPlaneRule)(round % 3);
        g_auto(DtLines) l, clean;
        dt_lines_init(&l);
        dt_lines_init(&clean);
        random_outline(rand, 30, &l);
        g_assert_true(dt_region_clean(&l, rule, &clean, NULL));
        for (int i = 0; i < 200; i++) {
            DtPoint p =
                dt_point(g_rand_double_range(rand, -1, 41), g_rand_double_range(rand, -1, 41));
            if (distance_to_edges(&l, p) < 0.003)
                continue;
            int w = winding(&clean, p);
            g_assert_cmpint(w, ==, by_rule(winding(&l, p), rule) ? 1 : 0);
        }
    }
}

static void test_topmost_layer_is_seen(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(3);
    for (int round = 0; round < 60; round++) {
        enum { LAYERS = 9 };
        DtLines l[LAYERS];
        int label[LAYERS];
        g_autoptr(DtPlane) p = dt_plane_new();
        for (int i = 0; i < LAYERS; i++) {
            dt_lines_init(&l[i]);
            random_outline(rand, 12, &l[i]);
            label[i] = g_rand_int_range(rand, 0, 4);
            dt_plane_add_layer(p, (DtPlaneRule)(i % 3), label[i]);
            dt_plane_add_rings(p, i, &l[i]);
        }
        g_assert_true(dt_plane_build(p, NULL));
        DtLines region[4];
        for (int k = 1; k < 4; k++) {
            dt_lines_init(&region[k]);
            dt_plane_region(p, k, &region[k]);
        }
        for (int i = 0; i < 300; i++) {
            DtPoint at =
                dt_point(g_rand_double_range(rand, -1, 41), g_rand_double_range(rand, -1, 41));
            int seen = 0;
            double near = 1;
            for (int k = 0; k < LAYERS; k++) {
                near = MIN(near, distance_to_edges(&l[k], at));
                if (by_rule(winding(&l[k], at), (DtPlaneRule)(k % 3)))
                    seen = label[k];
            }
            for (int k = 1; near > 0.003 && k < 4; k++)
                g_assert_cmpint(winding(&region[k], at), ==, k == seen);
        }
        for (int k = 1; k < 4; k++)
            dt_lines_clear(&region[k]);
        for (int i = 0; i < LAYERS; i++)
            dt_lines_clear(&l[i]);
    }
}

static void test_lines_are_cut_at_the_edges_of_what_covers_them(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(4);
    for (int round = 0; round < 100; round++) {
        g_auto(DtLines) l, line, seen;
        dt_lines_init(&l);
        dt_lines_init(&line);
        dt_lines_init(&seen);
        random_outline(rand, 12, &l);
        random_ring(rand, 12, round % 3 ? 0 : 10, &line);
        gboolean closed = round % 2;
        g_autoptr(DtPlane) p = dt_plane_new();
        dt_plane_add_layer(p, DT_PLANE_NONZERO, 5);
        dt_plane_add_line(p, 1, line.pts, line.n_pts, closed); /* above it: whole */
        dt_plane_add_line(p, 0, line.pts, line.n_pts, closed);
        dt_plane_add_rings(p, 0, &l);
        g_assert_true(dt_plane_build(p, NULL));
        dt_plane_visible(p, 0, &seen, NULL);
        if (closed)
            g_assert_cmpfloat_with_epsilon(dt_lines_total_length(&seen), dt_lines_length(&line, 0),
                                           0.1);
        dt_lines_clear(&seen);
        dt_plane_visible(p, 1, &seen, NULL);
        for (size_t k = 0; k + !closed < line.n_pts; k++)
            for (int i = 0; i < 20; i++) {
                DtPoint at =
                    dt_point_lerp(line.pts[k], line.pts[(k + 1) % line.n_pts], g_rand_double(rand));
                if (distance_to_edges(&l, at) < 0.003)
                    continue;
                gboolean hidden = winding(&l, at) != 0;
                double d = distance_to_edges(&seen, at);
                if (!hidden)
                    g_assert_cmpfloat(d, <, 0.003);
                else if (d <
                         0.0005) { /* another part of the line may pass here in sight of no one */
                    g_assert_not_reached();
                }
            }
    }
}

static void add_rectangle(DtPlane *p, int label, double x0, double x1)
{
    const DtPoint ring[4] = {{x0, 0}, {x1, 0}, {x1, 10}, {x0, 10}};
    dt_plane_add_ring(p, dt_plane_add_translucent_layer(p, DT_PLANE_NONZERO, label), ring, 4);
}

/* A line that leads up along the common edge of two areas, beyond it, and back through one of them. */
static void test_a_line_knows_both_of_its_sides(void)
{
    static const struct {
        double length;
        int low, high;
    } expected[] = {{10, 1, 2}, {17, 0, 0}, {10, 2, 2}, {5, 0, 0}};
    const DtPoint line[4] = {{10, 0}, {10, 15}, {17, 15}, {17, -5}};
    g_autoptr(DtPlane) p = dt_plane_new();
    g_autoptr(GArray) sides = g_array_new(FALSE, FALSE, sizeof(DtPlaneSides));
    g_auto(DtLines) parts;
    dt_lines_init(&parts);
    add_rectangle(p, 1, 0, 10);
    add_rectangle(p, 2, 10, 20);
    dt_plane_add_line(p, 0, line, 4, FALSE);
    g_assert_true(dt_plane_build(p, NULL));
    dt_plane_beside(p, 0, &parts, sides);
    g_assert_cmpuint(parts.n, ==, G_N_ELEMENTS(expected));
    g_assert_cmpuint(sides->len, ==, parts.n);
    for (size_t i = 0; i < parts.n; i++) {
        const DtPlaneSides s = g_array_index(sides, DtPlaneSides, i);
        g_assert_cmpfloat_with_epsilon(dt_lines_length(&parts, i), expected[i].length, 1e-6);
        g_assert_cmpint(MIN(s.left, s.right), ==, expected[i].low);
        g_assert_cmpint(MAX(s.left, s.right), ==, expected[i].high);
    }
}

static void test_inset_keeps_its_distance(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    for (int round = 0; round < 150; round++) {
        g_auto(DtLines) l, clean, inset;
        dt_lines_init(&l);
        dt_lines_init(&clean);
        dt_lines_init(&inset);
        if (round % 3 == 0)
            wavy_disc(dt_point(20, 20), 15, 3 + round % 7, 300, &l);
        else
            random_outline(rand, 16, &l);
        double by = g_rand_double_range(rand, 0.05, 2) * (round % 2 ? 1 : -1);
        g_assert_true(dt_region_clean(&l, DT_PLANE_EVENODD, &clean, NULL));
        g_assert_true(dt_region_inset(&clean, by, &inset, NULL));
        for (int i = 0; i < 150; i++) {
            DtPoint p =
                dt_point(g_rand_double_range(rand, -3, 43), g_rand_double_range(rand, -3, 43));
            double d = distance_to_edges(&clean, p);
            if (fabs(d - fabs(by)) < 0.005)
                continue;
            gboolean in = winding(&clean, p) == 1;
            gboolean kept = by > 0 ? in && d > by : in || d < -by;
            g_assert_cmpint(winding(&inset, p), ==, kept);
        }
    }
}

static void add_box(DtLines *l, DtPoint middle, double w, double h, double turn, gboolean hole)
{
    const DtPoint c[4] = {{-w / 2, -h / 2}, {w / 2, -h / 2}, {w / 2, h / 2}, {-w / 2, h / 2}};
    dt_lines_begin(l);
    for (int i = 0; i < 4; i++) {
        const DtPoint p = c[hole ? 3 - i : i];
        dt_lines_point(l, dt_point(middle.x + p.x * cos(turn) - p.y * sin(turn),
                                   middle.y + p.x * sin(turn) + p.y * cos(turn)));
    }
    dt_lines_close(l);
}

/* Rectangles at any angle: a strip is left if and only if it is wider than twice the inset, by the area
 * that it should have; a slot keeps its distance however narrow it is, as does what lies in it. */
static void test_inset_of_narrow_rings(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(7);
    for (int round = 0; round < 200; round++) {
        g_auto(DtLines) strip, slot, island, inset;
        dt_lines_init(&strip);
        dt_lines_init(&slot);
        dt_lines_init(&island);
        dt_lines_init(&inset);
        const DtPoint at = {20, 20};
        const double by = g_rand_double_range(rand, 0.1, 1),
                     turn = g_rand_double_range(rand, 0, G_PI),
                     share = g_rand_double_range(rand, 0.7, 1.3), w = 2 * by * share;
        add_box(&strip, at, w, 6, turn, FALSE);
        g_assert_true(dt_region_inset(&strip, by, &inset, NULL));
        if (fabs(share - 1) > 0.01)
            g_assert_cmpuint(inset.n, ==, share > 1 ? 1 : 0);
        g_assert_cmpfloat_with_epsilon(dt_region_area(&inset), MAX(w - 2 * by, 0) * (6 - 2 * by),
                                       0.01);

        add_box(&slot, at, 20, 20, turn, FALSE);
        add_box(&slot, at, w, 6, turn, TRUE);
        dt_lines_clear(&inset);
        g_assert_true(dt_region_inset(&slot, by, &inset, NULL));
        const double grown = w * 6 + by * 2 * (w + 6) + G_PI * by * by;
        g_assert_cmpfloat_with_epsilon(dt_region_area(&inset),
                                       (20 - 2 * by) * (20 - 2 * by) - grown, 0.02);

        add_box(&island, at, 20, 20, turn, FALSE);
        add_box(&island, at, 12, 12, turn, TRUE);
        add_box(&island, at, w, 6, turn, FALSE);
        dt_lines_clear(&inset);
        g_assert_true(dt_region_inset(&island, by, &inset, NULL));
        g_assert_cmpfloat_with_epsilon(dt_region_area(&inset),
                                       (20 - 2 * by) * (20 - 2 * by) -
                                           (12 * 12 + by * 48 + G_PI * by * by) +
                                           MAX(w - 2 * by, 0) * (6 - 2 * by),
                                       0.02);
    }
}

/* Whether every place between regions that were seen together still has one of them: their edges meet exactly. */
static gboolean meet(const GArray *regions)
{
    g_autoptr(DtPlane) p = dt_plane_new();
    for (guint k = 1; k < regions->len; k++)
        dt_plane_add_rings(p, dt_plane_add_layer(p, DT_PLANE_NONZERO, (int)k),
                           &g_array_index(regions, DtLines, k));
    g_assert_true(dt_plane_build(p, NULL));
    for (size_t i = 0; i < dt_plane_n_edges(p); i++) {
        int left, right;
        DtNode a, b;
        dt_plane_edge_sides(p, i, &left, &right);
        dt_plane_edge(p, i, &a, &b);
        const gboolean outer = (a.x == b.x && (a.x == 0 || a.x == 60 * 1024)) ||
                               (a.y == b.y && (a.y == 0 || a.y == 60 * 1024));
        if (!outer && (left == 0 || right == 0))
            return FALSE;
    }
    return TRUE;
}

static void clear_region(gpointer l)
{
    dt_lines_clear(l);
}

/* Bars at random over a ground that they cross; their regions are laid together again, under more bars, as a long
 * drawing's are. A bar over the edge between two others has a node there, which is rounded, and so must it have. */
static void test_regions_seen_together_leave_no_sliver(void)
{
    enum { ROUNDS = 40, LEVELS = 3, BARS = 6 };
    g_autoptr(GRand) rand = g_rand_new_with_seed(11);
    for (int round = 0; round < ROUNDS; round++) {
        g_autoptr(GArray) regions = g_array_new(FALSE, TRUE, sizeof(DtLines));
        g_array_set_clear_func(regions, clear_region);
        int label = 1;
        g_array_set_size(regions, 2);
        const DtPoint ground[4] = {{0, 0}, {60, 0}, {60, 60}, {0, 60}};
        dt_lines_append(&g_array_index(regions, DtLines, 1), ground, 4, TRUE);
        for (int level = 0; level < LEVELS; level++) {
            g_autoptr(DtPlane) p = dt_plane_new();
            for (guint k = 1; k < regions->len; k++)
                dt_plane_add_rings(p, dt_plane_add_layer(p, DT_PLANE_NONZERO, (int)k),
                                   &g_array_index(regions, DtLines, k));
            for (int i = 0; i < BARS; i++) {
                g_auto(DtLines) bar;
                dt_lines_init(&bar);
                add_box(
                    &bar,
                    dt_point(g_rand_double_range(rand, 25, 35), g_rand_double_range(rand, 25, 35)),
                    g_rand_double_range(rand, 10, 30), g_rand_double_range(rand, 0.2, 4),
                    g_rand_double_range(rand, 0, 3), FALSE);
                dt_plane_add_rings(p, dt_plane_add_layer(p, DT_PLANE_NONZERO, ++label), &bar);
            }
            g_assert_true(dt_plane_build(p, NULL));
            g_array_set_size(regions, 0);
            dt_plane_regions(p, regions);
            g_assert_true(meet(regions));
        }
    }
}

static void test_points_beyond_reach_are_refused(void)
{
    const double bad[] = {NAN, INFINITY, -INFINITY, 1e6};
    for (int i = 0; i < 4; i++) {
        DtPoint pts[3] = {{0, 0}, {bad[i], 1}, {1, 0}};
        g_autoptr(DtPlane) p = dt_plane_new();
        g_autoptr(GError) error = NULL;
        dt_plane_add_ring(p, dt_plane_add_layer(p, DT_PLANE_NONZERO, 1), pts, 3);
        g_assert_false(dt_plane_build(p, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    }
    g_autoptr(DtPlane) empty = dt_plane_new();
    g_assert_true(dt_plane_build(empty, NULL));
}

/* Chords of a circle that all pass near its middle: each pair crosses, and many share boxes there. What is inside is
 * found by a ray. */
static void test_chords_that_all_cross(void)
{
    enum { CHORDS = 2500, PLACES = 50 };
    g_auto(DtLines) l, out;
    dt_lines_init(&l);
    dt_lines_init(&out);
    dt_lines_begin(&l);
    for (int i = 0; i < CHORDS; i++) {
        const double turn = i * (G_PI - 0.0031);
        dt_lines_point(&l, dt_point(130 + 118.7 * cos(turn), 90 + 84.3 * sin(turn)));
    }
    dt_lines_close(&l);
    g_assert_true(dt_region_clean(&l, DT_PLANE_EVENODD, &out, NULL));
    g_autoptr(GRand) rand = g_rand_new_with_seed(3);
    int inside = 0, wrong = 0;
    for (int i = 0; i < PLACES; i++) {
        const DtPoint p = {g_rand_double_range(rand, 20, 240), g_rand_double_range(rand, 10, 170)};
        const gboolean in = winding(&l, p) & 1;
        inside += in;
        wrong += in != (winding(&out, p) != 0);
    }
    g_assert_cmpint(inside, >, PLACES / 10);
    g_assert_cmpint(wrong, <=, 2); /* within the grid's rounding of an edge */
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/plane/no-two-edges-cross", test_no_two_edges_cross);
    g_test_add_func("/ink/plane/clean-regions", test_clean_regions_hold_what_the_rule_says);
    g_test_add_func("/ink/plane/topmost-layer", test_topmost_layer_is_seen);
    g_test_add_func("/ink/plane/lines-are-cut",
                    test_lines_are_cut_at_the_edges_of_what_covers_them);
    g_test_add_func("/ink/plane/both-sides", test_a_line_knows_both_of_its_sides);
    g_test_add_func("/ink/plane/inset", test_inset_keeps_its_distance);
    g_test_add_func("/ink/plane/narrow-rings", test_inset_of_narrow_rings);
    g_test_add_func("/ink/plane/no-sliver", test_regions_seen_together_leave_no_sliver);
    g_test_add_func("/ink/plane/chords", test_chords_that_all_cross);
    g_test_add_func("/ink/plane/beyond-reach", test_points_beyond_reach_are_refused);
    return g_test_run();
}
