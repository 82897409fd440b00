/* ink: what no artist means but a file may hold: a sound result or one clear message, in bounded
 * time and memory. */
#include "drawtrue/base.h"
#include "ink/dedupe.h"
#include "ink/fill/depth.h"
#include "ink/fill/hatch.h"
#include "ink/outline.h"
#include "ink/plane/region.h"
#include "support/shapes.h"
#include "ink/paint/stack.h"

#include <math.h>
#include <string.h>

enum { MANY = 200000 };

static void test_many_coincident_edges_are_one(void)
{
    g_autoptr(DtPlane) p = dt_plane_new();
    int layer = dt_plane_add_layer(p, DT_PLANE_NONZERO, 1);
    DtPoint box[4] = {{0, 0}, {10, 0}, {10, 10}, {0, 10}};
    for (int i = 0; i < MANY / 4; i++)
        dt_plane_add_ring(p, layer, box, 4);
    g_assert_true(dt_plane_build(p, NULL));
    g_assert_cmpuint(dt_plane_n_edges(p), ==, 4);
    g_auto(DtLines) out;
    dt_lines_init(&out);
    dt_plane_region(p, 1, &out);
    g_assert_cmpuint(out.n, ==, 1);
}

static void test_many_coincident_lines_are_drawn_once(void)
{
    DtPen pen = {.name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = 0.4, .dot_gain = 1};
    DtRack rack = {&pen, 1};
    g_auto(DtStrokes) s;
    dt_strokes_init(&s);
    DtPoint line[2] = {{0, 0}, {50, 30}};
    for (int i = 0; i < MANY; i++) {
        line[1].y = 30 + 0.00001 * (i % 7); /* and a hair apart */
        dt_strokes_append(&s, line, 2, FALSE, DT_INK_OUTLINE, 0, i);
    }
    dt_dedupe_strokes(&s, 0, &rack, 0.02);
    g_assert_cmpuint(s.n, ==, 1);
}

/* Long edges that overlap in part, and stars of edges through one point: their meetings grow as the
 * square of their number, so a message may take the place of a result. */
static void test_bundles_end_in_a_result_or_a_message(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(11);
    for (int kind = 0; kind < 4; kind++) {
        g_auto(DtLines) l, out;
        dt_lines_init(&l);
        dt_lines_init(&out);
        dt_lines_begin(&l);
        for (int i = 0; i < 700; i++) {
            double u = g_rand_double_range(rand, 0, 100), a = u * G_PI;
            DtPoint p = kind == 0   ? dt_point(u, 0)
                        : kind == 1 ? dt_point(u, 0.002 * (i % 3))
                        : kind == 2 ? dt_point(50 + (i % 2 ? 50 : -50) * cos(a),
                                               50 + (i % 2 ? 50 : -50) * sin(a))
                                    : dt_point(i % 2 ? 100 : 0, u / 1000);
            dt_lines_point(&l, p);
        }
        dt_lines_close(&l);
        g_autoptr(GError) error = NULL;
        if (!dt_region_clean(&l, DT_PLANE_EVENODD, &out, &error))
            g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        else if (kind == 0)
            g_assert_cmpuint(out.n, ==, 0);
    }
}

static void test_shapes_without_area_and_huge_ones(void)
{
    DtPoint flat[3] = {{0, 0}, {10, 0}, {5, 0}}, tiny[3] = {{0, 0}, {1e-9, 0}, {0, 1e-9}};
    DtPoint huge[4] = {{-6e4, -6e4}, {6e4, -6e4}, {6e4, 6e4}, {-6e4, 6e4}};
    g_auto(DtLines) out, inset, l;
    dt_lines_init(&out);
    dt_lines_init(&inset);
    dt_lines_init(&l);
    dt_lines_append(&l, flat, 3, TRUE);
    dt_lines_append(&l, tiny, 3, TRUE);
    dt_lines_append(&l, flat, 1, TRUE);
    dt_lines_append(&l, flat, 2, TRUE);
    g_assert_true(dt_region_clean(&l, DT_PLANE_NONZERO, &out, NULL));
    g_assert_cmpuint(out.n, ==, 0);
    g_assert_true(dt_region_inset(&out, 0.2, &inset, NULL));
    g_assert_cmpuint(inset.n, ==, 0);
    dt_lines_append(&l, huge, 4, TRUE);
    g_assert_true(dt_region_clean(&l, DT_PLANE_NONZERO, &out, NULL));
    g_assert_cmpfloat_with_epsilon(dt_region_area(&out), 1.44e10, 1);
    g_auto(DtHatching) h = {0};
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_hatch_lines(&out, DT_FILL_NONZERO, (DtHatchGrid){0, 1e-4, 0}, &h, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

enum { LAYERS = 400, LINE_EVERY = 40 };

/* So many layers that they are flattened in several groups and rounds. */
static void lay_discs(GRand *rand, DtStack *stack, DtLines *l)
{
    for (int i = 0; i < LAYERS; i++) {
        dt_lines_init(&l[i]);
        wavy_disc(dt_point(g_rand_double_range(rand, 5, 35), g_rand_double_range(rand, 5, 35)),
                  g_rand_double_range(rand, 1, 8), 2 + i % 9, 60, &l[i]);
        int label = i % 5 == 0 ? DT_STACK_PAPER : DT_STACK_FIRST + i % 3;
        g_assert_true(dt_stack_add_area(stack, label, &l[i], DT_PLANE_NONZERO, NULL));
        if (i % LINE_EVERY == 0) {
            DtPoint across[2] = {{0, i / 10.0 + 0.5}, {40, i / 10.0 + 0.3}};
            g_auto(DtLines) line;
            dt_lines_init(&line);
            dt_lines_append(&line, across, 2, FALSE);
            g_assert_true(dt_stack_add_lines(stack, i, &line, NULL));
        }
    }
    g_assert_true(dt_stack_finish(stack, NULL));
}

/* The topmost disc at a place; -2 where an edge is too near to say. */
static int top_at(const DtLines *l, DtPoint p)
{
    int top = -1;
    for (int k = 0; k < LAYERS; k++) {
        if (distance_to_edges(&l[k], p) < 0.01)
            return -2;
        if (dt_lines_inside(&l[k], DT_FILL_NONZERO, p))
            top = k;
    }
    return top;
}

static void test_many_groups_on_the_stack_hide_as_few_do(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(12);
    g_autoptr(DtStack) stack = dt_stack_new(NULL);
    DtLines l[LAYERS];
    lay_discs(rand, stack, l);
    const int *owner;
    const DtLines *lines = dt_stack_lines(stack, &owner, NULL);
    for (int i = 0; i < 300; i++) {
        DtPoint p = {g_rand_double_range(rand, 0, 40), g_rand_double_range(rand, 0, 40)};
        int top = top_at(l, p);
        int seen = top >= 0 && top % 5 != 0 ? DT_STACK_FIRST + top % 3 : 0;
        for (int label = DT_STACK_FIRST; top > -2 && label < DT_STACK_FIRST + 3; label++) {
            const DtLines *r = dt_stack_region(stack, label);
            g_assert_cmpint(r && dt_lines_inside(r, DT_FILL_NONZERO, p), ==, label == seen);
        }
        int k = LINE_EVERY * (i % (LAYERS / LINE_EVERY));
        DtPoint on = {p.x, k / 10.0 + 0.5 - 0.2 * p.x / 40};
        gboolean drawn = FALSE;
        for (size_t j = 0; j < lines->n; j++)
            for (size_t q = 0; owner[j] == k && q + 1 < dt_lines_count(lines, j); q++)
                drawn |= dt_point_segment_distance(on, dt_lines_at(lines, j)[q],
                                                   dt_lines_at(lines, j)[q + 1]) < 0.005;
        top = top_at(l, on);
        if (top > -2)
            g_assert_cmpint(drawn, ==, top <= k);
    }
    for (int i = 0; i < LAYERS; i++)
        dt_lines_clear(&l[i]);
}

/* A line of so many points that it is widened in parts has the area that it has as a whole, ends and joins
 * included. */
static void test_long_lines_are_as_wide_in_parts(void)
{
    for (int kind = 0; kind < 3; kind++) {
        enum { N = 60000 };
        g_auto(DtLines) line, whole, parts, a, b, off;
        DtLines *all[] = {&line, &whole, &parts, &a, &b, &off};
        for (size_t i = 0; i < G_N_ELEMENTS(all); i++)
            dt_lines_init(all[i]);
        dt_lines_begin(&line);
        for (int i = 0; i < N; i++) {
            const double u = 1.8 * G_PI * i / N;
            dt_lines_point(&line, dt_point(50 + 40 * cos(3 * u), 50 + 40 * sin(2 * u + 0.3)));
        }
        if (kind == 2)
            dt_lines_close(&line);
        const DtStrokeStyle st = {.width = 1,
                                  .cap = kind == 0 ? DT_CAP_BUTT : DT_CAP_ROUND,
                                  .join = DT_JOIN_MITER,
                                  .miter_limit = 4,
                                  .user_to_mm = DT_AFFINE_IDENTITY};
        dt_outline_area(&line, &st, 0.005, &whole);
        g_assert_true(dt_outline_region(&line, &st, 0.005, &parts, NULL));
        g_assert_cmpuint(parts.n_pts, <, whole.n_pts * 3 / 4);
        g_assert_true(dt_region_clean(&whole, DT_PLANE_NONZERO, &a, NULL));
        g_assert_true(dt_region_clean(&parts, DT_PLANE_NONZERO, &b, NULL));
        g_assert_true(dt_region_subtract(&a, DT_PLANE_NONZERO, &b, &off, NULL));
        g_assert_true(dt_region_subtract(&b, DT_PLANE_NONZERO, &a, &off, NULL));
        g_test_message("%.3f mm2, apart %.5f", dt_region_area(&a), dt_region_area(&off));
        g_assert_cmpfloat(dt_region_area(&a), >, 250);
        g_assert_cmpfloat(dt_region_area(&off), <, 0.05);
    }
}

/* How deep a region is, against its inset: what is left where one goes so far in. */
static void test_depth_agrees_with_the_inset(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    int more = 0, n = 0;
    for (int i = 0; i < 300; i++) {
        g_auto(DtLines) l, out;
        dt_lines_init(&l);
        dt_lines_init(&out);
        wavy_disc(dt_point(5, 5), g_rand_double_range(rand, 0.1, 1.2), 2 + i % 9, 40, &l);
        const double depth = g_rand_double_range(rand, 0.1, 0.6);
        g_assert_true(dt_region_inset(&l, depth + 2 * DT_DEPTH_SLACK, &out, NULL));
        const gboolean surely = out.n > 0;
        dt_lines_clear(&out);
        dt_lines_init(&out);
        g_assert_true(dt_region_inset(&l, depth, &out, NULL));
        const DtDepth deep = dt_depth_exceeds(&l, depth);
        g_assert_cmpint(deep, !=, DT_DEPTH_UNKNOWN);
        if (surely)
            g_assert_cmpint(deep, ==, DT_DEPTH_MORE);
        if (out.n == 0)
            g_assert_cmpint(deep, ==, DT_DEPTH_LESS);
        more += deep == DT_DEPTH_MORE;
        n++;
    }
    g_assert_cmpint(more, >, n / 10);
    g_assert_cmpint(more, <, n - n / 10);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/extremes/coincident-edges", test_many_coincident_edges_are_one);
    g_test_add_func("/ink/extremes/coincident-lines", test_many_coincident_lines_are_drawn_once);
    g_test_add_func("/ink/extremes/bundles", test_bundles_end_in_a_result_or_a_message);
    g_test_add_func("/ink/extremes/no-area-and-huge", test_shapes_without_area_and_huge_ones);
    g_test_add_func("/ink/extremes/stack-groups", test_many_groups_on_the_stack_hide_as_few_do);
    g_test_add_func("/ink/extremes/long-lines", test_long_lines_are_as_wide_in_parts);
    g_test_add_func("/ink/extremes/depth", test_depth_agrees_with_the_inset);
    return g_test_run();
}
