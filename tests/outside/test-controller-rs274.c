/* outside: the controller's own interpreter against NISTIR 6556 (Kramer, Proctor and Messina 2000,
 * "The NIST RS274NGC Interpreter - Version 3"), from memory of the text: modal groups, order of
 * execution, arc rules; and the drive train of the small geared stepper. */
#include "support/board.h"

#include <math.h>

static char *answer_to(const char *program)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_feed(&b, program);
    g_assert_true(board_run(&b, 10000000));
    char *said = g_strdup(b.said->str);
    board_clear(&b);
    return said;
}

static gboolean is_taken(const char *line)
{
    g_autofree char *said = answer_to(line);
    return strstr(said, "refused") == NULL;
}

/* Table 4: at most one word of each modal group in a line; any two of different groups go together,
 * but for the axis words, which only one of them may use. */
static void test_modal_groups(void)
{
    static const struct {
        const char *words[5];
    } groups[] = {
        {{"G0", "G1", "G2", "G3"}}, /* 1: motion */
        {{"G17"}},                  /* 2: plane selection */
        {{"G90", "G91"}},           /* 3: distance mode */
        {{"G94"}},                  /* 5: feed rate mode */
        {{"G20", "G21"}},           /* 6: units */
        {{"G4", "G28"}},            /* 0: non-modal */
        {{"M0", "M2", "M30"}},      /* M 4: stopping */
        {{"M3", "M5"}},             /* M 7: spindle turning */
    };
    gsize n = G_N_ELEMENTS(groups);
    for (gsize i = 0; i < n; i++)
        for (gsize j = 0; j < n; j++)
            for (int a = 0; a < 5 && groups[i].words[a]; a++)
                for (int b = 0; b < 5 && groups[j].words[b]; b++) {
                    const char *one = groups[i].words[a], *two = groups[j].words[b];
                    if (strcmp(one, two) == 0)
                        continue;
                    gboolean motion = i == 0 || j == 0;
                    gboolean dwell = !strcmp(one, "G4") || !strcmp(two, "G4");
                    gboolean home = !strcmp(one, "G28") || !strcmp(two, "G28");
                    gboolean arc = !strcmp(one, "G2") || !strcmp(two, "G2") || !strcmp(one, "G3") ||
                                   !strcmp(two, "G3");
                    if (motion && home && i != j)
                        continue; /* both would use the axis words */
                    /* the same place in the modes of the line */
                    const char *axes = " X20 Y20";
                    if (!strcmp(one, "G91") || !strcmp(two, "G91"))
                        axes = " X0 Y0";
                    else if (!strcmp(one, "G20") || !strcmp(two, "G20"))
                        axes = " X0.78740157480 Y0.78740157480";
                    g_autofree char *line = g_strdup_printf(
                        "F100 S50\nG1 X20 Y20\n%s %s%s%s%s\n\x11\x11", one, two, motion ? axes : "",
                        dwell ? " P0" : "", arc ? " I0.5 J0" : "");
                    if ((is_taken(line)) != (i != j))
                        g_test_message("%s", line);
                    g_assert_true(is_taken(line) == (i != j));
                }
}

/* Table 8, by what is seen from outside: feed, spindle speed, spindle, dwell, units, distance mode,
 * homing or motion, stop. The words stand in the reverse order. */
static void test_order_of_execution(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "G0 X50 Y50");
    g_array_set_size(b.steps, 0);
    gint64 start = b.now;
    board_feed(&b, "M2 X10 G1 G91 G21 P0.5 G4 M3 S40 F600\n");
    board_pass(&b, 1000);
    g_assert_cmpuint(b.pulse, ==, 1400); /* the spindle before the dwell */
    g_assert_cmpuint(b.steps->len, ==, 0);
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpint(g_array_index(b.steps, BoardStep, 0).at_us - start, >=, 500000);
    g_assert_cmpint(b.at[0], ==, 6000);  /* incremental */
    g_assert_cmpuint(b.pulse, ==, 1000); /* the end of the program last: it stops the spindle */
    board_clear(&b);
}

/* Table 8 sets the feed (3) before the units (12): F counts in the units before the line. */
static void test_feed_comes_before_units(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "G20 G1 X1 F60");
    g_assert_cmpint(b.core.plan.nm[0], ==, 25400000);
    g_assert_cmpfloat(fabs((double)b.core.feed - 1), <, 1e-6);
    board_line(&b, "F60");
    g_assert_cmpfloat(fabs((double)b.core.feed - 25.4), <, 1e-5);
    board_clear(&b);
}

/* 3.6.1: M2 and M30 set back the distance mode, the motion mode (to G1) and the spindle. */
static void test_end_of_program_sets_modes_back(void)
{
    static const char *const ends[] = {"M2", "M30"};
    for (gsize i = 0; i < 2; i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        board_feed(&b, "G91 G0 X10\nM3 S40\nF600\n");
        board_line(&b, ends[i]);
        g_assert_cmpuint(b.pulse, ==, 1000);
        gint64 start = b.now;
        board_line(&b, "X30");
        g_assert_cmpint(b.at[0], ==, 3000);         /* G90 */
        g_assert_cmpint(b.now - start, >, 1900000); /* G1 at 10 mm/s, not G0 at 15 */
        board_clear(&b);
    }
}

/* 3.3.1 and 3.3.2: words in any case, spaces anywhere, as in the report's example. */
static void test_spelling_of_the_report(void)
{
    Board a, b;
    board_init(&a, NULL);
    board_init(&b, NULL);
    board_home(&a);
    board_home(&b);
    g_assert_cmpstr(board_line(&a, "g0x +0. 12 34y 7"), ==, "taken 2\n");
    g_assert_cmpstr(board_line(&b, "g0 x+0.1234 y7"), ==, "taken 2\n");
    g_assert_cmpmem(a.core.plan.nm, sizeof a.core.plan.nm, b.core.plan.nm, sizeof b.core.plan.nm);
    board_clear(&a);
    board_clear(&b);
}

/* 3.5.3: what is an error with arcs; the two radii may differ by 0.002 mm. */
static void test_arc_rules(void)
{
    static const struct {
        const char *line;
        gboolean taken;
    } cases[] = {
        {"G17 G2 X10 Y15 R20 F300", TRUE},
        {"G2 X10 Y15 I0 J5 F300", TRUE},       /* half a turn from (10, 5) */
        {"G2 X10 Y15 R4.9 F300", FALSE},       /* cannot reach */
        {"G2 X10 Y5 R5 F300", FALSE},          /* the end is the start */
        {"G2 R5 F300", FALSE},                 /* no axis word */
        {"G2 X10 Y15 F300", FALSE},            /* neither centre nor radius */
        {"G2 X10 Y15.0019 I0 J5 F300", TRUE},  /* radii differ by 1.9 um */
        {"G2 X10 Y15.0025 I0 J5 F300", FALSE}, /* by 2.5 um */
        {"G3 X15 Y10 J5 F300", TRUE},          /* a missing I is 0 */
        {"G2 X10 Y5 I3 J4 F300", TRUE},        /* a full turn */
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *program = g_strdup_printf("G0 X10 Y5\n%s\n", cases[i].line);
        if (is_taken(program) != cases[i].taken)
            g_test_message("%s", cases[i].line);
        g_assert_true(is_taken(program) == cases[i].taken);
    }
}

/* Length of the way that the arc's chords take. */
static double chord_way(const Board *b, double x, double y)
{
    double way = 0;
    for (guint i = 0; i < b->targets->len; i++) {
        const int64_t *nm = &g_array_index(b->targets, int64_t, (gsize)2 * i);
        way += hypot(nm[0] * 1e-6 - x, nm[1] * 1e-6 - y);
        x = nm[0] * 1e-6;
        y = nm[1] * 1e-6;
    }
    return way;
}

/* 3.5.3: G2 is clockwise, seen from +Z; a negative radius takes the longer way. Arc lengths by
 * plane geometry. */
static void test_arc_directions(void)
{
    static const struct {
        const char *line;
        double way;
    } cases[] = {
        {"G2 X60 Y40 I10 J0 F900", 10 * M_PI / 2 * 3}, /* from 180 to 270 degrees, clockwise */
        {"G3 X60 Y40 I10 J0 F900", 10 * M_PI / 2},     {"G2 X60 Y60 R10 F900", 10 * M_PI / 2},
        {"G2 X60 Y60 R-10 F900", 10 * M_PI / 2 * 3},   {"G3 X60 Y60 R10 F900", 10 * M_PI / 2},
        {"G3 X60 Y60 R-10 F900", 10 * M_PI / 2 * 3},   {"G2 X50 Y50 I10 J0 F900", 20 * M_PI},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        board_line(&b, "G0 X50 Y50");
        g_array_set_size(b.targets, 0);
        g_assert_cmpstr(board_line(&b, cases[i].line), ==, "taken 3\n");
        g_assert_cmpfloat(fabs(chord_way(&b, 50, 50) / cases[i].way - 1), <, 1e-3);
        board_clear(&b);
    }
}

/* 25792/405 motor turns per shaft turn, 64 half steps a motor turn: 4075.7728 half steps per turn
 * of the pulley (common practice, no source). One turn of a pulley of 13 mm at the cord is 40.8407
 * mm. */
static void test_gear_train_of_the_small_stepper(void)
{
    double per_turn = 64 * 25792.0 / 405.0;
    double per_mm = per_turn / (M_PI * 13);
    DtSettings set = dt_settings_default;
    set.steps_per_mm[0] = (float)per_mm;
    Board b;
    board_init(&b, &set);
    board_home(&b);
    board_line(&b, "G0 X40.840704");
    g_assert_cmpint(b.at[0], ==, 4076);
    board_line(&b, "G0 X285.884931"); /* seven turns: 28530.41 */
    g_assert_cmpint(b.at[0], ==, 28530);
    board_clear(&b);
}

/* ITU-T V.41: the customary check value of "123456789" with this polynomial, initial value 0, is
 * 31C3 (from memory). */
static void test_check_value(void)
{
    uint16_t crc = 0;
    for (const char *p = "123456789"; *p; p++)
        crc = dt_controller_crc(crc, (uint8_t)*p);
    g_assert_cmphex(crc, ==, 0x31C3);
}

/* 3.3.2.2: a setting takes effect when all values of the line are known, and of several settings of one
 * parameter the last; a parameter keeps its value until it is set again (3.2.1), here even without power. */
static void test_parameters_of_the_report(void)
{
    Board b;
    board_init(&b, NULL);
    g_assert_cmpstr(board_line(&b, "#412=6 #422=15"), ==,
                    "parameter 412 6.0000\nparameter 422 15.0000\ntaken 1\n");
    board_line(&b, "#412=#422 #422=#412");
    g_assert_cmpfloat((double)b.core.set->speed[0], ==, 15);
    g_assert_cmpfloat((double)b.core.set->speed[1], ==, 6);
    board_line(&b, "#412=9 #412=8");
    g_assert_cmpfloat((double)b.core.set->speed[0], ==, 8);
    board_restart(&b);
    g_assert_cmpfloat((double)b.core.set->speed[0], ==, 8);
    g_assert_cmpfloat((double)b.core.set->speed[1], ==, 6);
    board_clear(&b);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/controller/modal-groups", test_modal_groups);
    g_test_add_func("/outside/controller/order-of-execution", test_order_of_execution);
    g_test_add_func("/outside/controller/feed-before-units", test_feed_comes_before_units);
    g_test_add_func("/outside/controller/end-of-program", test_end_of_program_sets_modes_back);
    g_test_add_func("/outside/controller/spelling", test_spelling_of_the_report);
    g_test_add_func("/outside/controller/arc-rules", test_arc_rules);
    g_test_add_func("/outside/controller/arc-directions", test_arc_directions);
    g_test_add_func("/outside/controller/gear-train", test_gear_train_of_the_small_stepper);
    g_test_add_func("/outside/controller/check-value", test_check_value);
    g_test_add_func("/outside/controller/parameters-of-the-report", test_parameters_of_the_report);
    return g_test_run();
}
