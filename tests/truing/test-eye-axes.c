/* eye-axes: what readings by eye on A4 tell of the rails, pulleys and carriages of a virtual machine. */
#include "support/eye-reader.h"
#include "truing/eye/eye.h"
#include "truing/solve/solve.h"

#include <math.h>
#include <string.h>

/* On A4, with what a single place along an axis does not show. The questions named in `unread` are not answered. */
static DtFigures *read_some_on_a4(const char *corrections, const char *truth, guint kinds,
                                  const char *const *unread)
{
    g_autofree char *text = g_strdup_printf("[motion]\ntravel_x = 307 mm\ntravel_y = 220 "
                                            "mm\n[paper]\nsize = A4 landscape\nat = 5, 5 mm\n"
                                            "margin = 8 mm\n[corrections]\n%s",
                                            corrections);
    g_autofree char *all = g_strdup_printf("[controller]\ntravel_x = 307\ntravel_y = "
                                           "220\n[pen]\nmerge = 0.0005\n[truth]\nwave = 0\n%s",
                                           truth);
    g_autoptr(GError) error = NULL;
    gsize len;
    g_autoptr(DtProfile) p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, kinds, "2026-03-14", 1, &error);
    g_assert_no_error(error);
    g_autofree char *program = dt_sheet_write(s, p, &len, &error);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(all, "truth", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, program, len);
    EyeReader eye;
    eye_reader_init(&eye, s, rig, 5);
    eye.vernier_error = eye.rule_error_mm = 0;
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    eye_reader_read(&eye, r);
    eye_reader_clear(&eye);
    for (size_t i = 0; i < r->n; i++)
        if (g_strv_contains(unread, r->asks[i].name))
            g_assert_true(dt_eye_readings_set(r, i, 0, "?", NULL));
    DtFigures *f = dt_eye_solve(p, s, r, &error);
    g_assert_no_error(error);
    return f;
}

static DtFigures *read_on_a4(const char *corrections, const char *truth, guint kinds)
{
    static const char *const none[] = {NULL};
    return read_some_on_a4(corrections, truth, kinds, none);
}

/* Of a pulley that takes up pi * 13 mm of cord; and a rail that is even is not found uneven. */
static void test_a_pulley_off_centre_is_found(void)
{
    g_autoptr(DtFigures) f = read_on_a4("",
                                        "scale_x = 1.012\nscale_y = 0.99\nsquare = 0\nbacklash_x = "
                                        "0.2\nbacklash_y = 0.3\npulley_x = "
                                        "0.12\npulley_phase_x = 70\n",
                                        DT_SHEET_SCALE);
    const DtFigure *pulley = dt_figures_find(f, DT_ERROR_OF_PULLEY, 0);
    g_assert_true(pulley->proposed);
    g_assert_cmpfloat_with_epsilon(pulley->value, 0.12, 0.015);
    g_assert_cmpfloat_with_epsilon(pulley->value_2 * 180 / G_PI, 70, 6);
    g_assert_cmpfloat(pulley->sd, <, 0.03);
    g_assert_false(dt_figures_find(f, DT_ERROR_OF_PULLEY, 1)->proposed);
    g_assert_null(dt_figures_find(f, DT_ERROR_OF_POSITION, 0));
    g_assert_cmpfloat_with_epsilon(dt_figures_find(f, DT_ERROR_OF_SCALE, 0)->value, 1.012, 2e-4);
    g_assert_cmpfloat_with_epsilon(dt_figures_find(f, DT_ERROR_OF_SCALE, 1)->value, 0.99, 2e-4);
}

/* Beside a pulley; the scale is that of the line through all of it. */
static void test_an_uneven_rail_is_found(void)
{
    g_autoptr(DtFigures) f = read_on_a4("",
                                        "scale_x = 1\nscale_y = 1\nsquare = 0\nposition_x = 0:0.2 "
                                        "155:-0.2 310:0.2\npulley_x = 0.1\n",
                                        DT_SHEET_SCALE);
    const DtFigure *g = dt_figures_find(f, DT_ERROR_OF_POSITION, 0);
    g_assert_nonnull(g);
    double least = 1, most = -1;
    for (; g < f->f + f->n && g->kind == DT_ERROR_OF_POSITION && g->axis == 0; g++) {
        least = MIN(least, g->value);
        most = MAX(most, g->value);
        g_assert_true(g->proposed);
    }
    g_assert_cmpfloat_with_epsilon(most - least, 0.33,
                                   0.04); /* of the line, which is 260 mm long */
    g_assert_cmpfloat_with_epsilon(dt_figures_find(f, DT_ERROR_OF_PULLEY, 0)->value, 0.1, 0.015);
    g_assert_cmpfloat_with_epsilon(dt_figures_find(f, DT_ERROR_OF_SCALE, 0)->value, 1, 2e-4);
    g_assert_null(dt_figures_find(f, DT_ERROR_OF_POSITION, 1));
}

/* The shift across of a rail as it was found. */
static double straight_at(const DtFigures *f, int axis, double at)
{
    const DtFigure *g = dt_figures_find(f, DT_ERROR_OF_STRAIGHT, axis);
    g_assert_nonnull(g);
    double place[32], value[32];
    size_t n = 0;
    for (; g < f->f + f->n && g->kind == DT_ERROR_OF_STRAIGHT && g->axis == axis; g++) {
        place[n] = g->at;
        value[n++] = g->value;
    }
    const DtTable t = {place, value, n};
    return dt_table_at(&t, at);
}

/* From the straight line between two places to the one in their middle. */
static double bow_of(const DtFigures *f, int axis, double from, double to)
{
    return straight_at(f, axis, (from + to) / 2) -
           (straight_at(f, axis, from) + straight_at(f, axis, to)) / 2;
}

/* One rail bows: which one of the two; and over the figure, of which the sides lie at 30 and 180 mm, the axes are as
 * far off square as they were: what a rail does beyond that is not seen. */
static void test_a_rail_that_bows_is_found(void)
{
    for (int axis = 0; axis < 2; axis++) {
        g_autofree char *truth = g_strdup_printf(
            "scale_x = 1\nscale_y = 1\nsquare = 0.2\nbacklash_x = 0.2\nbacklash_y = 0.3\n"
            "straight_%c = 0:0 105:0.3 210:0\n",
            "xy"[axis]);
        g_autoptr(DtFigures) f = read_on_a4("", truth, DT_SHEET_SQUARE);
        g_assert_true(dt_figures_find(f, DT_ERROR_OF_STRAIGHT, axis)->proposed);
        g_assert_cmpfloat(bow_of(f, axis, 30, 180), >, 0.09); /* of 0.21: two places tell it */
        g_assert_cmpfloat(fabs(bow_of(f, 1 - axis, 30, 180)), <, 0.04);
        double square = dt_figures_find(f, DT_ERROR_OF_SQUARE, -1)->value;
        for (int i = 0; i < 2; i++)
            square += (straight_at(f, i, 180) - straight_at(f, i, 30)) / 150;
        g_assert_cmpfloat_with_epsilon(square * 180 / G_PI, 0.2, 0.02);
    }
    g_autoptr(DtFigures) even = read_on_a4(
        "", "scale_x = 1\nscale_y = 1\nsquare = 0.2\nbacklash_x = 0.2\nbacklash_y = 0.3\n",
        DT_SHEET_SQUARE);
    g_assert_null(dt_figures_find(even, DT_ERROR_OF_STRAIGHT, 0));
}

/* Four verniers are as many as there are unknowns without a bow: they say nothing of the rails, and the squareness
 * does not depend on where the paper lies. */
static void test_four_verniers_show_no_bow(void)
{
    static const char *const middle[] = {"S5", "S6", NULL};
    g_autoptr(DtFigures) f = read_some_on_a4(
        "", "scale_x = 1\nscale_y = 1\nsquare = 0.4\nbacklash_x = 0.2\nbacklash_y = 0.3\n",
        DT_SHEET_SQUARE, middle);
    g_assert_null(dt_figures_find(f, DT_ERROR_OF_STRAIGHT, 0));
    g_assert_null(dt_figures_find(f, DT_ERROR_OF_STRAIGHT, 1));
    const double square = dt_figures_find(f, DT_ERROR_OF_SQUARE, -1)->value;
    g_assert_cmpfloat_with_epsilon(square * 180 / G_PI, 0.4, 0.01);
}

/* A rail in the shape of an S, which the figure that is drawn twice cannot tell from the other rail's: the straight
 * edge does, over the whole line. And a rail that is straight is left. */
static void test_a_straight_edge_shows_which_rail_bows(void)
{
    for (int axis = 0; axis < 2; axis++) {
        const double end = axis == 0 ? 300 : 210;
        g_autofree char *truth = g_strdup_printf(
            "scale_x = 1\nscale_y = 1\nsquare = 0.2\nbacklash_x = 0.2\nbacklash_y = 0.3\n"
            "straight_%c = 0:0 %g:0.4 %g:-0.4 %g:0\n",
            "xy"[axis], end / 3, 2 * end / 3, end);
        g_autoptr(DtFigures) f = read_on_a4("", truth, DT_SHEET_SCALE);
        g_assert_true(dt_figures_find(f, DT_ERROR_OF_STRAIGHT, axis)->proposed);
        /* the bend is sharp, and readings to a tenth of mm would hardly tell it from chance */
        g_assert_cmpfloat(bow_of(f, axis, 30, 2 * end / 3 - 30), >, axis == 0 ? 0.2 : 0.1);
        g_assert_cmpfloat(bow_of(f, axis, end / 3 + 30, end - 30), <, axis == 0 ? -0.2 : -0.1);
        g_assert_cmpfloat(fabs(bow_of(f, 1 - axis, 40, 180)), <, 0.02);
        g_assert_null(dt_figures_find(f, DT_ERROR_OF_SQUARE, -1)); /* nothing of it was drawn */
    }
    g_autoptr(DtFigures) even =
        read_on_a4("", "scale_x = 1\nscale_y = 1\nsquare = 0.2\n", DT_SHEET_SCALE);
    g_assert_null(dt_figures_find(even, DT_ERROR_OF_STRAIGHT, 0));
    g_assert_null(dt_figures_find(even, DT_ERROR_OF_STRAIGHT, 1));
}

/* A later sheet of the square leaves what the profile has of a rail that stayed as it was; where it was bent the other
 * way since, by 0.29 mm between two sides of the figure and its middle, most of that is told. */
static void test_a_measured_rail_stays(void)
{
    static const char *const rails[] = {"straight_x = 0:0 105:0.2 210:0\n",
                                        "straight_x = 0:0 105:-0.2 210:0\n"};
    g_autofree char *has = g_strconcat(rails[0], "square = 0.2 deg\n", NULL);
    for (int bent = 0; bent < 2; bent++) {
        g_autofree char *truth =
            g_strconcat("scale_x = 1\nscale_y = 1\nsquare = 0.2\nbacklash_x = 0.2\n"
                        "backlash_y = 0.3\n",
                        rails[bent], NULL);
        g_autoptr(DtFigures) f = read_on_a4(has, truth, DT_SHEET_SQUARE);
        const double square = dt_figures_find(f, DT_ERROR_OF_SQUARE, -1)->value;
        if (bent) {
            const double was_mm = 0.2 * 150 / 210, is_mm = -was_mm;
            g_assert_cmpfloat(bow_of(f, 0, 30, 180) - is_mm, <, (was_mm - is_mm) / 2);
            continue;
        }
        g_assert_null(dt_figures_find(f, DT_ERROR_OF_STRAIGHT, 0));
        g_assert_cmpfloat_with_epsilon(square * 180 / G_PI, 0.2, 0.02);
    }
}

/* An axis that shifts by 0.14 mm where the other turns round, from one end to none; and one that does not. What the
 * ticks along the line are off by it is no error of the scale. */
static void test_twist_is_found(void)
{
    g_autoptr(DtFigures) f = read_on_a4("",
                                        "scale_x = 1.004\nscale_y = 1\nsquare = 0\nbacklash_x = "
                                        "0.2\nbacklash_y = 0.3\ntwist_x = 0:0.14 310:0\n",
                                        DT_SHEET_SLACK | DT_SHEET_SCALE);
    const DtFigure *g = dt_figures_find(f, DT_ERROR_OF_TWIST, 0);
    g_assert_cmpint(g[1].kind, ==, DT_ERROR_OF_TWIST);
    for (int i = 0; i < 2; i++) {
        g_assert_true(g[i].proposed);
        g_assert_cmpfloat_with_epsilon(g[i].value, 0.14 * (1 - g[i].at / 310), 0.02);
    }
    g_assert_cmpfloat(g[1].at - g[0].at, >, 100);
    g_assert_false(dt_figures_find(f, DT_ERROR_OF_TWIST, 1)->proposed);
    g_assert_cmpfloat_with_epsilon(dt_figures_find(f, DT_ERROR_OF_SCALE, 0)->value, 1.004, 1.5e-4);
    g_assert_cmpfloat_with_epsilon(dt_figures_find(f, DT_ERROR_OF_BACKLASH, 0)->value, 0.2, 0.012);
}

/* Readings that a curve explains no better than chance are left: the level is 5 %, for a curve that is free (one more
 * unknown: chi-square, table) and for one that is held to a tenth by what is usual. */
static void test_a_curve_is_taken_where_it_is_significant(void)
{
    const double none[4] = {0};
    const double chi_square = 3.841, just = 0.01;
    for (int i = 0; i < 2; i++) {
        const double share = i == 0 ? 1 : 0.1, with[4] = {share, 0, 0, 0};
        g_assert_true(dt_eye_is_better(2, 9 + share * (chi_square + just), none, 9, with));
        g_assert_false(dt_eye_is_better(2, 9 + share * (chi_square - just), none, 9, with));
    }
    const double hardly[4] = {0.01, 0, 0, 0};
    g_assert_false(dt_eye_is_better(2, 18, none, 9, hardly));
    g_assert_cmpfloat_with_epsilon(dt_eye_chi_square_95(3), 7.815, 1e-9);
    g_assert_cmpfloat_with_epsilon(dt_eye_chi_square_95(10), 18.31, 1e-9);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/eye-axes/pulley", test_a_pulley_off_centre_is_found);
    g_test_add_func("/eye-axes/uneven", test_an_uneven_rail_is_found);
    g_test_add_func("/eye-axes/bow", test_a_rail_that_bows_is_found);
    g_test_add_func("/eye-axes/four", test_four_verniers_show_no_bow);
    g_test_add_func("/eye-axes/edge", test_a_straight_edge_shows_which_rail_bows);
    g_test_add_func("/eye-axes/measured", test_a_measured_rail_stays);
    g_test_add_func("/eye-axes/twist", test_twist_is_found);
    g_test_add_func("/eye-axes/significant", test_a_curve_is_taken_where_it_is_significant);
    return g_test_run();
}
