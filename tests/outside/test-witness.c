/* witness: the judge of the demo and the corpus, held to cases worked out by hand. */
#include "support/witness.h"
#include "drawtrue/base.h"
#include <glib/gstdio.h>
#include <math.h>

static void add_segment(WitnessInk *ink, double x0, double y0, double x1, double y1, unsigned pen)
{
    const DtPoint p[2] = {{x0, y0}, {x1, y1}};
    witness_ink_add(ink, p, 2, FALSE, pen);
}

static WitnessError compare(const WitnessInk *planned, const WitnessInk *landed)
{
    WitnessError e;
    witness_compare(planned, landed, &WITNESS_OPTIONS_DEFAULT, &e);
    return e;
}

static void test_a_line_moved_sideways_is_off_by_that_much_everywhere(void)
{
    g_auto(WitnessInk) planned, landed;
    witness_ink_init(&planned);
    witness_ink_init(&landed);
    add_segment(&planned, 0, 0, 10, 0, 0);
    add_segment(&landed, 0, 0.2, 10, 0.2, 0);
    const WitnessError e = compare(&planned, &landed);
    g_assert_cmpuint(e.n_samples, ==, 202); /* 101 points, 0.1 mm apart, both ways */
    g_assert_cmpfloat_with_epsilon(e.p95, 0.2, 1e-12);
    g_assert_cmpfloat_with_epsilon(e.max, 0.2, 1e-12);
    g_assert_cmpfloat_with_epsilon(e.mean, 0.2, 1e-12);
    g_assert_cmpfloat(e.missing, ==, 0);
    g_assert_cmpfloat(e.stray, ==, 0);
    g_assert_cmpfloat_with_epsilon(e.planned, 10, 1e-12);
}

static void test_a_line_cut_short_is_missing_its_end(void)
{
    g_auto(WitnessInk) planned, landed;
    witness_ink_init(&planned);
    witness_ink_init(&landed);
    add_segment(&planned, 0, 0, 10, 0, 0);
    add_segment(&landed, 0, 0, 4, 0, 0);
    const WitnessError e = compare(&planned, &landed);
    g_assert_cmpfloat_with_epsilon(e.max, 6, 1e-12);
    g_assert_cmpfloat_with_epsilon(e.worst.x, 10, 1e-12);
    /* beyond x = 4.3 nothing lies within 0.3 mm */
    g_assert_cmpfloat_with_epsilon(e.missing, 5.7, 0.06);
    g_assert_cmpfloat(e.stray, ==, 0);
}

static void test_ink_of_another_pen_does_not_count(void)
{
    g_auto(WitnessInk) planned, landed;
    witness_ink_init(&planned);
    witness_ink_init(&landed);
    add_segment(&planned, 0, 0, 10, 0, 0);
    add_segment(&landed, 0, 0, 10, 0, 1);
    const WitnessError e = compare(&planned, &landed);
    g_assert_cmpfloat_with_epsilon(e.missing, 10, 1e-9);
    g_assert_cmpfloat_with_epsilon(e.stray, 10, 1e-9);
    g_assert_cmpfloat(e.p95, ==, WITNESS_FARTHEST);
}

static void test_a_lost_dot_is_the_largest_error_but_not_the_95th_percentile(void)
{
    g_auto(WitnessInk) planned, landed;
    witness_ink_init(&planned);
    witness_ink_init(&landed);
    add_segment(&planned, 0, 0, 100, 0, 2);
    add_segment(&landed, 0, 0, 100, 0, 2);
    const DtPoint dot = {50, 5};
    witness_ink_add(&planned, &dot, 1, FALSE, 2);
    const WitnessError e = compare(&planned, &landed);
    g_assert_cmpfloat_with_epsilon(e.max, 5, 1e-12);
    g_assert_cmpfloat(e.p95, ==, 0);
    g_assert_cmpfloat_with_epsilon(e.missing, 0.1, 1e-12);
}

static void test_the_percentile_is_the_nearest_rank(void)
{
    /* 20 planned dots, each with its ink 0.01, 0.02 ... 0.20 mm away: the same pairs both ways. */
    g_auto(WitnessInk) planned, landed;
    witness_ink_init(&planned);
    witness_ink_init(&landed);
    for (int i = 1; i <= 20; i++) {
        const DtPoint p = {5.0 * i, 0}, q = {5.0 * i, 0.01 * i};
        witness_ink_add(&planned, &p, 1, FALSE, 0);
        witness_ink_add(&landed, &q, 1, FALSE, 0);
    }
    const WitnessError e = compare(&planned, &landed);
    g_assert_cmpuint(e.n_samples, ==, 40);
    g_assert_cmpfloat_with_epsilon(e.p95, 0.19, 1e-12); /* rank 38 of 40 */
    g_assert_cmpfloat_with_epsilon(e.max, 0.20, 1e-12);
    g_assert_cmpfloat_with_epsilon(e.mean, 0.105, 1e-12);
}

static void test_a_closed_line_has_its_last_side(void)
{
    const DtPoint square[4] = {{0, 0}, {10, 0}, {10, 10}, {0, 10}};
    g_auto(WitnessInk) planned, landed;
    witness_ink_init(&planned);
    witness_ink_init(&landed);
    witness_ink_add(&planned, square, 4, TRUE, 0);
    witness_ink_add(&landed, square, 4, FALSE, 0);
    const WitnessError e = compare(&planned, &landed);
    g_assert_cmpfloat_with_epsilon(e.planned, 40, 1e-12);
    g_assert_cmpfloat_with_epsilon(e.landed, 30, 1e-12);
    g_assert_cmpfloat_with_epsilon(e.max, 5, 1e-9); /* the middle of the lost side */
    g_assert_cmpfloat_with_epsilon(e.missing, 9.4, 0.11);
}

static void test_a_lost_hatch_line_is_not_excused_by_its_neighbours(void)
{
    g_auto(WitnessInk) planned, landed;
    witness_ink_init(&planned);
    witness_ink_init(&landed);
    for (int i = 0; i < 5; i++) {
        add_segment(&planned, 0, 0.4 * i, 20, 0.4 * i, 0);
        if (i != 2)
            add_segment(&landed, 0, 0.4 * i, 20, 0.4 * i, 0);
    }
    const WitnessError e = compare(&planned, &landed);
    g_assert_cmpfloat_with_epsilon(e.missing, 20, 1e-9);
    g_assert_cmpfloat(e.stray, ==, 0);
}

static void test_ink_nobody_planned_is_stray(void)
{
    g_auto(WitnessInk) planned, landed;
    witness_ink_init(&planned);
    witness_ink_init(&landed);
    add_segment(&planned, 0, 0, 10, 0, 0);
    add_segment(&landed, 0, 0, 10, 0, 0);
    add_segment(&landed, 10, 0, 10, 3, 0); /* a smear, from 0.3 to 3 mm off */
    const WitnessError e = compare(&planned, &landed);
    g_assert_cmpfloat_with_epsilon(e.stray, 2.7, 0.06);
    g_assert_cmpfloat(e.missing, ==, 0);
}

/* The same distances by trying every pair of segments. */
static double brute_nearest(const WitnessInk *ink, DtPoint p)
{
    double best = WITNESS_FARTHEST;
    for (guint i = 0; i < ink->lines->len; i++) {
        const WitnessLine *l = &g_array_index(ink->lines, WitnessLine, i);
        const DtPoint *q = &g_array_index(ink->pts, DtPoint, l->first);
        for (size_t k = 1; k < l->n; k++) {
            const double dx = q[k].x - q[k - 1].x, dy = q[k].y - q[k - 1].y;
            const double l2 = dx * dx + dy * dy;
            double t = ((p.x - q[k - 1].x) * dx + (p.y - q[k - 1].y) * dy) / l2;
            t = fmin(1, fmax(0, t));
            best = fmin(best, hypot(q[k - 1].x + t * dx - p.x, q[k - 1].y + t * dy - p.y));
        }
    }
    return best;
}

static void test_grid_finds_what_trying_every_pair_finds(void)
{
    g_autoptr(GRand) random = g_rand_new_with_seed(1);
    for (int round = 0; round < 40; round++) {
        g_auto(WitnessInk) planned, landed;
        witness_ink_init(&planned);
        witness_ink_init(&landed);
        double worst = 0;
        for (int i = 0; i < 6; i++) {
            add_segment(&landed, g_rand_double_range(random, 0, 30),
                        g_rand_double_range(random, 0, 30), g_rand_double_range(random, 0, 30),
                        g_rand_double_range(random, 0, 30), 0);
        }
        for (int i = 0; i < 50; i++) {
            const DtPoint p = {g_rand_double_range(random, -12, 42),
                               g_rand_double_range(random, -12, 42)};
            witness_ink_add(&planned, &p, 1, FALSE, 0);
            worst = fmax(worst, brute_nearest(&landed, p));
        }
        double sum = 0;
        for (guint i = 0; i < planned.pts->len; i++)
            sum += brute_nearest(&landed, g_array_index(planned.pts, DtPoint, i));
        WitnessError e;
        witness_compare(&planned, &landed, &(WitnessOptions){1000, 0.3}, &e);
        /* the way back adds the landed lines' ends; their distances to the dots are checked apart
         */
        double back = 0;
        for (guint i = 0; i < landed.pts->len; i++) {
            double best = WITNESS_FARTHEST;
            const DtPoint q = g_array_index(landed.pts, DtPoint, i);
            for (guint k = 0; k < planned.pts->len; k++) {
                const DtPoint p = g_array_index(planned.pts, DtPoint, k);
                best = fmin(best, hypot(p.x - q.x, p.y - q.y));
            }
            back += best;
            worst = fmax(worst, best);
        }
        g_assert_cmpuint(e.n_samples, ==, planned.pts->len + landed.pts->len);
        g_assert_cmpfloat_with_epsilon(e.mean * (double)e.n_samples, sum + back, 1e-9);
        g_assert_cmpfloat_with_epsilon(e.max, worst, 1e-12);
    }
}

/* Coverage ------------------------------------------------------------------------------------ */

/* A page of 60 by 40 mm, whose lower left corner lies at (100, 50) on the bed. */
static const WitnessSheet upright = {60, 40, {1, 0, 0, -1, 100, 90}, {100, 50, 160, 90}, 20};

static WitnessCoverage cover(const char *body, const WitnessSheet *sheet, const WitnessInk *landed,
                             double tip)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "art.svg", NULL);
    g_autofree char *svg = g_strdup_printf("<svg xmlns='http://www.w3.org/2000/svg' width='60mm' "
                                           "height='40mm' viewBox='0 0 60 40'>%s</svg>",
                                           body);
    g_autoptr(GError) error = NULL;
    WitnessCoverage c = {0};
    g_assert_true(g_file_set_contents(path, svg, -1, &error));
    witness_coverage(path, sheet, landed, &tip, 1, NULL, &c, &error);
    g_assert_no_error(error);
    g_unlink(path);
    g_rmdir(folder);
    return c;
}

#define BAR "<path d='M20 10H40' stroke='#123' stroke-width='4' stroke-linecap='round'/>"

static void test_a_pen_as_wide_as_the_stroke_covers_it(void)
{
    g_auto(WitnessInk) ink;
    witness_ink_init(&ink);
    add_segment(&ink, 120, 80, 140, 80, 0);
    const WitnessCoverage c = cover(BAR, &upright, &ink, 4);
    const double area = 20 * 4 + G_PI * 4;
    g_assert_cmpfloat_with_epsilon(c.art_mm2, area, 0.2);
    g_assert_cmpfloat_with_epsilon(c.ink_mm2, area, 0.2);
    g_assert_cmpfloat(c.iou, >, 0.995);
}

static void test_a_shifted_stroke_covers_the_part_that_geometry_says(void)
{
    g_auto(WitnessInk) ink;
    witness_ink_init(&ink);
    add_segment(&ink, 120, 81, 140, 81, 0);
    /* two stadiums of radius 2, one moved sideways by 1: a band 3 wide and the lens of two circles
     */
    const double lens = 8 * acos(0.25) - sqrt(15) / 2, both = 20 * 3 + lens;
    const double area = 20 * 4 + G_PI * 4;
    const WitnessCoverage c = cover(BAR, &upright, &ink, 4);
    g_assert_cmpfloat_with_epsilon(c.both_mm2, both, 0.3);
    g_assert_cmpfloat_with_epsilon(c.iou, both / (2 * area - both), 0.003);
}

static void test_white_and_faint_paint_is_paper(void)
{
    g_auto(WitnessInk) none;
    witness_ink_init(&none);
    const WitnessCoverage c = cover("<rect width='10' height='10' fill='white'/>"
                                    "<rect x='20' width='10' height='10' opacity='.45'/>"
                                    "<rect x='40' width='10' height='10' opacity='.55'/>",
                                    &upright, &none, 0.5);
    g_assert_cmpfloat_with_epsilon(c.art_mm2, 100, 0.5);
    g_assert_cmpfloat(c.iou, ==, 0);
}

static void test_a_turned_sheet_is_seen_turned(void)
{
    /* page x runs up the bed and page y runs to the right: a quarter turn */
    const WitnessSheet turned = {60, 40, {0, 1, 1, 0, 100, 50}, {100, 50, 140, 110}, 20};
    g_auto(WitnessInk) ink;
    witness_ink_init(&ink);
    add_segment(&ink, 110, 70, 110, 90, 0);
    const WitnessCoverage c = cover(BAR, &turned, &ink, 4);
    g_assert_cmpfloat(c.iou, >, 0.995);
}

static void test_lengths_with_units_have_their_css_size(void)
{
    /* 18 pt, 6.35 mm and a quarter of an inch are 24 user units each, here a millimetre long */
    g_auto(WitnessInk) none;
    witness_ink_init(&none);
    const char *const squares[] = {"<rect width='18pt' height='18pt'/>",
                                   "<rect width='6.35mm' height='.25in'/>"};
    for (size_t i = 0; i < G_N_ELEMENTS(squares); i++)
        g_assert_cmpfloat_with_epsilon(cover(squares[i], &upright, &none, 1).art_mm2, 24 * 24, 1);
}

static void test_a_drawing_that_librsvg_cannot_read_is_an_error(void)
{
    g_auto(WitnessInk) none;
    witness_ink_init(&none);
    g_autoptr(GError) error = NULL;
    WitnessCoverage c;
    const double tip = 1;
    g_assert_false(witness_coverage("/no/such.svg", &upright, &none, &tip, 1, NULL, &c, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/witness/sideways", test_a_line_moved_sideways_is_off_by_that_much_everywhere);
    g_test_add_func("/witness/cut-short", test_a_line_cut_short_is_missing_its_end);
    g_test_add_func("/witness/other-pen", test_ink_of_another_pen_does_not_count);
    g_test_add_func("/witness/dot",
                    test_a_lost_dot_is_the_largest_error_but_not_the_95th_percentile);
    g_test_add_func("/witness/percentile", test_the_percentile_is_the_nearest_rank);
    g_test_add_func("/witness/closed", test_a_closed_line_has_its_last_side);
    g_test_add_func("/witness/hatch", test_a_lost_hatch_line_is_not_excused_by_its_neighbours);
    g_test_add_func("/witness/stray", test_ink_nobody_planned_is_stray);
    g_test_add_func("/witness/grid", test_grid_finds_what_trying_every_pair_finds);
    g_test_add_func("/witness/coverage/same", test_a_pen_as_wide_as_the_stroke_covers_it);
    g_test_add_func("/witness/coverage/shifted",
                    test_a_shifted_stroke_covers_the_part_that_geometry_says);
    g_test_add_func("/witness/coverage/paper", test_white_and_faint_paint_is_paper);
    g_test_add_func("/witness/coverage/turned", test_a_turned_sheet_is_seen_turned);
    g_test_add_func("/witness/coverage/units", test_lengths_with_units_have_their_css_size);
    g_test_add_func("/witness/coverage/unreadable",
                    test_a_drawing_that_librsvg_cannot_read_is_an_error);
    return g_test_run();
}
