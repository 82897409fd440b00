/* machine: corrections that change along an axis: position, straightness, pulleys off centre. */
#include "drawtrue/machine.h"

#include <math.h>
#include <string.h>

static DtProfile *profile(const char *corrections)
{
    g_autofree char *text = g_strconcat("[corrections]\n", corrections, NULL);
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test.ini", &error);
    g_assert_no_error(error);
    return p;
}

#define BENT                                                                                       \
    "scale_x = 1.01\nscale_y = 0.99\nsquare = 0.5 deg\n"                                           \
    "position_x = 0:0 100:0.5 200:-0.3 300:0.1\nposition_y = 0:0 110:-0.4 220:0.2\n"               \
    "straight_x = 0:0 150:0.6 300:0\nstraight_y = 0:0.1 100:-0.2 220:0.3\n"                        \
    "pulley_error_x = 0.2 mm\npulley_phase_x = 40 deg\npulley_error_y = 0.1 mm\n"

/* Worked by hand: see dt_machine_ink_at(). */
static void test_the_map_is_what_it_says(void)
{
    g_autoptr(DtProfile) p = profile("position_x = 0:0 100:0.5\nstraight_x = 0:0 100:-0.2\n"
                                     "straight_y = 0:0 50:0.3\n");
    const DtPoint at = dt_machine_ink_at(p, dt_point(50, 25));
    g_assert_cmpfloat_with_epsilon(at.x, 50 + 0.25 + 0.15, 1e-12);
    g_assert_cmpfloat_with_epsilon(at.y, 25 - 0.1, 1e-12);
    /* The default drive train: pulley 12.4 mm and cord 0.6 mm take up 13 pi mm a turn. */
    g_autoptr(DtProfile) round = profile("pulley_error_x = 0.2 mm\npulley_phase_x = 90 deg\n");
    const double turn = 13 * G_PI;
    g_assert_cmpfloat_with_epsilon(dt_machine_ink_at(round, dt_point(turn / 2, 0)).x,
                                   turn / 2 - 0.4, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_machine_ink_at(round, dt_point(turn, 0)).x, turn, 1e-12);
}

static void test_commands_are_the_inverse(void)
{
    g_autoptr(DtProfile) p = profile(BENT);
    g_autoptr(GRand) random = g_rand_new_with_seed(7);
    for (int i = 0; i < 20000; i++) {
        const DtPoint at =
            dt_point(g_rand_double_range(random, -5, 310), g_rand_double_range(random, -5, 230));
        const DtPoint back = dt_machine_ink_at(p, dt_machine_command(p, at));
        g_assert_cmpfloat(dt_point_distance(at, back), <, 1e-9);
    }
}

/* How far the ink of a line from a to b comes off it; `pieces`: in which it is drawn, may be NULL. */
static double farthest_off(const DtProfile *p, DtPoint a, DtPoint b, unsigned *pieces)
{
    g_autoptr(GError) error = NULL;
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) m = {0};
    dt_sequence_begin(&s, 0, 0);
    dt_sequence_point(&s, a);
    dt_sequence_point(&s, b);
    g_assert_true(dt_machine_moves(p, &s, &m, &error));
    g_assert_no_error(error);
    enum { PLACES = 31 }; /* of each move; a prime, so that they do not fall on whole turns */
    DtPoint before = {0};
    double worst = 0;
    unsigned n = 0;
    for (size_t i = 0; i < m.n; i++) {
        for (int k = 1; m.m[i].kind == DT_MOVE_DRAW && k <= PLACES; k++) {
            const DtPoint at = dt_point_lerp(before, m.m[i].to, (double)k / PLACES);
            const DtPoint ink = dt_machine_ink_at(p, at);
            worst = MAX(worst, dt_point_segment_distance(ink, a, b));
        }
        n += m.m[i].kind == DT_MOVE_DRAW;
        before = m.m[i].to;
    }
    if (pieces != NULL)
        *pieces = n;
    return worst;
}

/* Every place of every line drawn between two moves lies on the line that was asked for. */
static void test_lines_stay_straight_on_paper(void)
{
    g_autoptr(DtProfile) p = profile(BENT);
    unsigned pieces;
    g_assert_cmpfloat(farthest_off(p, dt_point(20, 15), dt_point(270, 190), &pieces), <,
                      1.5 / p->steps_per_mm[0]);
    g_assert_cmpuint(pieces, >, 10);
    g_assert_cmpuint(pieces, <, 400);
}

/* The finer axis decides how closely a bend is followed, whichever it is. */
static void test_the_finer_axis_counts(void)
{
    for (int fine = 0; fine < 2; fine++) {
        g_autoptr(DtProfile) p = profile(BENT);
        p->ink_tolerance = 0;
        p->steps_per_mm[fine] = 400;
        p->steps_per_mm[1 - fine] = 20;
        g_assert_cmpfloat(farthest_off(p, dt_point(30, 20), dt_point(200, 180), NULL), <,
                          1.5 / 400);
    }
}

/* Of a cord on a thin shaft, which is off centre: the line's ends, its middle and its quarters are whole turns apart
 * and lie right, and all between them does not. */
static void test_short_turns_are_not_missed(void)
{
    for (int axis = 0; axis < 2; axis++) {
        g_autoptr(DtProfile) p =
            profile(axis ? "pulley_error_y = 0.1 mm\n" : "pulley_error_x = 0.1 mm\n");
        p->pulley_diameter[axis] = 4 / G_PI - p->cord_diameter[axis];
        const DtPoint a = {16, 16}, b = axis ? dt_point(27, 32) : dt_point(32, 27);
        g_assert_cmpfloat(farthest_off(p, a, b, NULL), <, 1.5 / p->steps_per_mm[0]);
    }
}

/* Where nothing bends, nothing is cut up. */
static void test_linear_machines_draw_a_line_in_one_move(void)
{
    g_autoptr(DtProfile) p = profile("scale_x = 1.01\nsquare = 0.5 deg\n");
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) m = {0};
    dt_sequence_begin(&s, 0, 0);
    dt_sequence_point(&s, dt_point(20, 15));
    dt_sequence_point(&s, dt_point(270, 190));
    g_assert_true(dt_machine_moves(p, &s, &m, NULL));
    unsigned pieces = 0;
    for (size_t i = 0; i < m.n; i++)
        pieces += m.m[i].kind == DT_MOVE_DRAW;
    g_assert_cmpuint(pieces, ==, 1);
}

/* All of what dt_machine_reach() promises can be drawn. */
static void test_reach_allows_for_the_bends(void)
{
    g_autoptr(DtProfile) p = profile(BENT "backlash_x = 0.4 mm\nbacklash_y = 0.3 mm\n");
    const DtBox r = dt_machine_reach(p);
    const DtPoint corners[] = {
        {r.x0, r.y0}, {r.x1, r.y0}, {r.x1, r.y1}, {r.x0, r.y1}, {r.x0, r.y0}};
    g_autoptr(GError) error = NULL;
    for (int way = 0; way < 2; way++) {
        g_auto(DtSequence) s = {0};
        g_auto(DtMoves) m = {0};
        dt_sequence_begin(&s, 0, 0);
        for (int i = 0; i < 5; i++)
            dt_sequence_point(&s, corners[way ? 4 - i : i]);
        g_assert_true(dt_machine_moves(p, &s, &m, &error));
        g_assert_no_error(error);
    }
    g_assert_cmpfloat(r.x1 - r.x0, >, 290);
}

static void test_corrections_are_dropped_and_copied_with_the_rest(void)
{
    g_autoptr(DtProfile) p = profile(BENT);
    g_autoptr(DtProfile) copy = dt_profile_copy(p);
    dt_profile_drop_corrections(p);
    g_assert_false(dt_machine_is_curved(p));
    g_assert_true(dt_machine_is_curved(copy));
    g_assert_cmpfloat(dt_machine_ink_at(p, dt_point(100, 100)).x, ==, 100);
}

static void test_impossible_ones_are_refused(void)
{
    static const struct {
        const char *text, *says;
    } cases[] = {
        {"pulley_error_x = 2 mm\n", "test.ini:2: pulley_error_x: 2 mm is more than the 1.625 mm"},
        {"position_x = 0:0 1:0.9\n", "changes by more than half"},
        {"straight_y = 0:9\n", "out of range"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_strconcat("[corrections]\n", cases[i].text, NULL);
        g_autoptr(GError) error = NULL;
        g_assert_null(dt_profile_read_data(text, strlen(text), "test.ini", &error));
        g_assert_nonnull(strstr(error->message, cases[i].says));
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/curved/map", test_the_map_is_what_it_says);
    g_test_add_func("/curved/inverse", test_commands_are_the_inverse);
    g_test_add_func("/curved/straight-lines", test_lines_stay_straight_on_paper);
    g_test_add_func("/curved/finer-axis", test_the_finer_axis_counts);
    g_test_add_func("/curved/short-turns", test_short_turns_are_not_missed);
    g_test_add_func("/curved/linear", test_linear_machines_draw_a_line_in_one_move);
    g_test_add_func("/curved/reach", test_reach_allows_for_the_bends);
    g_test_add_func("/curved/dropped", test_corrections_are_dropped_and_copied_with_the_rest);
    g_test_add_func("/curved/refused", test_impossible_ones_are_refused);
    return g_test_run();
}
