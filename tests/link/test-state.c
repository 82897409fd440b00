/* state: what a board tells of itself is believed whole or not at all; places are found in the words of
 * other boards. */
#include "link/traffic.h"

#include "drawtrue/link.h"

#include <glib/gstdio.h>
#include <string.h>

static void test_states_in_our_words(void)
{
    static const struct {
        const char *text;
        DtBoardWord word;
        double x, y;
        unsigned line;
        gboolean down, at_x, at_y;
    } cases[] = {
        {"state still x 1.5 y -2.25 pen up line 7 switch --", DT_BOARD_STILL, 1.5, -2.25, 7, FALSE,
         FALSE, FALSE},
        {"state moving x 0 y 0 pen down line 0 switch x-", DT_BOARD_MOVING, 0, 0, 0, TRUE, TRUE,
         FALSE},
        {"state held x 0 y 0 pen down line 99999 switch -y", DT_BOARD_HELD, 0, 0, 99999, TRUE,
         FALSE, TRUE},
        {"state homing x 0 y 0 pen up line 1 switch xy", DT_BOARD_HOMING, 0, 0, 1, FALSE, TRUE,
         TRUE},
        {"state unhomed x 3 y 4 pen up line 1", DT_BOARD_UNHOMED, 3, 4, 1, FALSE, FALSE, FALSE},
        {"state stopped X 3 Y 4 pen up line 1 switch --", DT_BOARD_STOPPED, 3, 4, 1, FALSE, FALSE,
         FALSE},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtBoardState s;
        g_assert_true(dt_board_state(cases[i].text, &s));
        g_assert_cmpint(s.word, ==, cases[i].word);
        g_assert_true(s.has_position && s.has_line && s.pen_known);
        g_assert_cmpfloat(s.x, ==, cases[i].x);
        g_assert_cmpfloat(s.y, ==, cases[i].y);
        g_assert_cmpuint(s.line, ==, cases[i].line);
        g_assert_cmpint(s.pen_down, ==, cases[i].down);
        g_assert_cmpint(s.at_switch[0], ==, cases[i].at_x);
        g_assert_cmpint(s.at_switch[1], ==, cases[i].at_y);
    }
}

/* A part that is garbled or missing makes all of it unbelievable. */
static void test_garbled_states_are_not_believed(void)
{
    static const char *const wrong[] = {"",
                                        "state",
                                        "state ",
                                        "state sti1l x 1 y 2 pen up line 7 switch --",
                                        "state stil x 1 y 2 pen up line 7 switch --",
                                        "state still x 1. 5 y pen up line 7 switch --",
                                        "state still x 1x y 2 pen up line 7 switch --",
                                        "state still x y 2 pen up line 7 switch --",
                                        "state still x 1 y 2 pen ip line 7 switch --",
                                        "state still x 1 y 2 pen",
                                        "state still x 1 y 2 pen up line -1 switch --",
                                        "state still x 1 y 2 pen up line 100000 switch --",
                                        "state still x 1 y 2 pen up line 7a switch --",
                                        "state still x 1 y 2 pen up line",
                                        "state still x 1 pen up line 7"};
    for (gsize i = 0; i < G_N_ELEMENTS(wrong); i++) {
        DtBoardState s;
        if (dt_board_state(wrong[i], &s))
            g_error("'%s' was believed", wrong[i]);
    }
}

static void test_places_in_other_words(void)
{
    static const struct {
        const char *text;
        gboolean found;
        double x, y;
    } cases[] = {{"x 1.5 y 2", TRUE, 1.5, 2},
                 {"X:1.5 Y:2 Z:0", TRUE, 1.5, 2},
                 {"pos X = -1.5, Y = +2.0;", TRUE, -1.5, 2},
                 {"(y2 x1)", TRUE, 1, 2},
                 {"idle|x1|y2", TRUE, 1, 2},
                 {"max 3 x 1 any 4 y 2", TRUE, 1, 2}, /* letters that begin a word */
                 {"x 1", FALSE, 0, 0},
                 {"y 2", FALSE, 0, 0},
                 {"x 1mm y 2", FALSE, 0, 0},
                 {"x inf y 2", FALSE, 0, 0},
                 {"x nan y 2", FALSE, 0, 0},
                 {"x y 2", FALSE, 0, 0},
                 {"x 1 y", FALSE, 0, 0},
                 {"", FALSE, 0, 0}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtBoardState s;
        if (dt_board_position(cases[i].text, &s) != cases[i].found)
            g_error("'%s'", cases[i].text);
        if (!cases[i].found)
            continue;
        g_assert_true(s.has_position);
        g_assert_cmpint(s.word, ==, DT_BOARD_MOVING); /* until it is found there again */
        g_assert_cmpfloat(s.x, ==, cases[i].x);
        g_assert_cmpfloat(s.y, ==, cases[i].y);
    }
}

/* Pointing ------------------------------------------------------------------------------------- */

static const char program[] = "G21G90\nM5\nG4P0.1\nG28\n"
                              "G0X10Y10\nM3 S40\nG4P0.15\nG1X50F600\nM5\nG4P0.1\n"
                              "G0X10Y10.15\nM3 S40\nG4P0.15\nG1X50F600\nM5\nG4P0.1\n"
                              "G0X80Y80\nM3 S40\nG4P0.15\nM5\nG4P0.1\n"
                              "G0X0Y0\nM2\n";

static void assert_points_at(const char *path, DtPoint place, size_t stroke, double away)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    DtStrokeAt found;
    g_assert_true(dt_link_stroke_at(p, path, place, &found, &error));
    g_assert_no_error(error);
    g_assert_cmpuint(found.stroke, ==, stroke);
    g_assert_cmpfloat_with_epsilon(found.away_mm, away, 0.01);
}

/* The nearest stroke; of two that no finger can tell apart the first. */
static void test_a_place_means_a_stroke(void)
{
    g_autofree char *path = NULL;
    const int fd = g_file_open_tmp("drawtrue-XXXXXX.nc", &path, NULL);
    g_close(fd, NULL);
    g_assert_true(g_file_set_contents(path, program, -1, NULL));
    assert_points_at(path, dt_point(30, 10), 1, 0);
    assert_points_at(path, dt_point(30, 10.15), 1, 0.15); /* as near as makes no difference */
    assert_points_at(path, dt_point(30, 12), 1, 2);
    assert_points_at(path, dt_point(81, 80), 3, 1); /* a dot */
    assert_points_at(path, dt_point(200, 80), 3, 120);
    assert_points_at(path, dt_point(5, 10), 1, 5); /* travel with the pen up is no stroke */

    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    DtStrokeAt found;
    static const char bare[] = "G21G90\nM5\nG4P0.1\nG28\nG0X10Y10\nM2\n";
    g_assert_true(g_file_set_contents(path, bare, -1, NULL));
    g_assert_false(dt_link_stroke_at(p, path, dt_point(1, 1), &found, &error));
    g_assert_nonnull(strstr(error->message, "the program draws nothing"));
    g_clear_error(&error);
    g_assert_false(dt_link_stroke_at(p, "/no/such.nc", dt_point(1, 1), &found, &error));
    g_assert_nonnull(error);
    g_unlink(path);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/state/ours", test_states_in_our_words);
    g_test_add_func("/link/state/garbled", test_garbled_states_are_not_believed);
    g_test_add_func("/link/state/places", test_places_in_other_words);
    g_test_add_func("/link/pointing", test_a_place_means_a_stroke);
    return g_test_run();
}
