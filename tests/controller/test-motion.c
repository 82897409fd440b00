/* controller: motion: every step counted, every limit kept, and nothing lost by holding. */
#include "support/board.h"

#include <math.h>

#define STEP_MM 0.01

static double seconds(Board *b, const char *program)
{
    board_feed(b, program);
    g_assert_true(board_run(b, 20000000));
    gint64 last = 0;
    for (guint i = 0; i < b->steps->len; i++)
        last = MAX(last, g_array_index(b->steps, BoardStep, i).at_us);
    return (double)last * 1e-6;
}

/* From the first step to the last, closed form: from v0 up to v at a, and down again. */
static double trapezoid(double length, double v0, double v, double a)
{
    double ramps = (v * v - v0 * v0) / a;
    if (ramps > length) {
        v = sqrt(v0 * v0 + a * length);
        return 2 * (v - v0) / a;
    }
    return 2 * (v - v0) / a + (length - ramps) / v;
}

static void test_single_moves_take_the_textbook_time(void)
{
    static const struct {
        const char *line;
        double length, v0, v, a;
    } cases[] = {
        {"G0 X100\n", 100, 1.3, 15, 150},
        {"G0 Y100\n", 100, 1.3, 12, 100},
        {"G1 X100 F300\n", 100, 1.3, 5, 150},
        {"G0 X1\n", 1, 1.3, 15, 150},
        {"G1 X20 F60\n", 20, 1, 1, 150},
        {"G0 X80 Y60\n", 100, 1.3 / 0.8, 15 / 0.8, 100 / 0.6},
        {"G0 X60 Y80\n", 100, 1.3 / 0.8, 12 / 0.8, 100 / 0.8},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        gint64 start = b.now;
        double took = seconds(&b, cases[i].line) - (double)start * 1e-6;
        double expected = trapezoid(cases[i].length, cases[i].v0, cases[i].v, cases[i].a);
        /* The last step comes half a step before the end. */
        g_assert_cmpfloat(fabs(took - expected), <, 0.5 * STEP_MM / cases[i].v0 + 0.001);
        board_clear(&b);
    }
}

/* When the way s of a move is reached, closed form, seconds from its start. */
static double ideal_s(double s, double length, double v0, double v, double a)
{
    const double top = MIN(v, sqrt(v0 * v0 + a * length));
    const double ramp = (top * top - v0 * v0) / (2 * a), ramp_s = (top - v0) / a;
    if (s <= ramp)
        return 2 * s / (v0 + sqrt(v0 * v0 + 2 * a * s));
    if (s <= length - ramp)
        return ramp_s + (s - ramp) / top;
    const double left = length - s;
    return 2 * ramp_s + (length - 2 * ramp) / top - 2 * left / (v0 + sqrt(v0 * v0 + 2 * a * left));
}

/* Every step at its own time: within what the parabolas and a microsecond allow, and where both axes turn
 * within what steps that fall together are moved by. */
static void test_every_step_comes_at_its_time(void)
{
    static const struct {
        const char *line;
        double d[2], v0, v, a, most_us;
    } cases[] = {
        {"G0 X100\n", {100, 0}, 1.3, 15, 150, 4},
        {"G1 X20 F150\n", {20, 0}, 1.3, 2.5, 150, 3},
        {"G1 Y50 F600\n", {0, 50}, 1.3, 10, 100, 4},
        {"G0 X0.4\n", {0.4, 0}, 1.3, 15, 150, 4},
        {"G0 X80 Y60\n", {80, 60}, 1.3 / 0.8, 15 / 0.8, 100 / 0.6, 14},
        {"G0 X30 Y0.37\n", {30, 0.37}, 1.3, 15.0011, 150, 14},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        const gint64 start = b.now;
        board_line(&b, cases[i].line);
        const double length = hypot(cases[i].d[0], cases[i].d[1]);
        int n[2] = {0, 0};
        for (guint k = 0; k < b.steps->len; k++) {
            const BoardStep s = g_array_index(b.steps, BoardStep, k);
            const double part = (n[s.axis]++ + 0.5) / (cases[i].d[s.axis] * 100);
            const double ideal =
                ideal_s(part * length, length, cases[i].v0, cases[i].v, cases[i].a);
            const double off_us = (double)(s.at_us - start) - ideal * 1e6;
            g_assert_cmpfloat(fabs(off_us), <=, cases[i].most_us + 50e-6 * ideal * 1e6);
        }
        board_clear(&b);
    }
}

static void test_straight_pieces_run_through(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    gint64 start = b.now;
    g_autoptr(GString) program = g_string_new("G1 F6000\n");
    for (int i = 1; i <= 500; i++)
        g_string_append_printf(program, "G1 X%.3f F6000\n", i * 0.2);
    g_string_erase(program, 0, 9);
    double took = seconds(&b, program->str) - (double)start * 1e-6;
    /* The planner sees 15 pieces of 0.2 mm ahead: far enough to stop from 15 mm/s (0.75 mm). */
    g_assert_cmpfloat(fabs(took - trapezoid(100, 1.3, 15, 150)), <, 0.01);
    board_clear(&b);
}

/* v * |u2 - u1| <= pull-in on each axis. */
static void test_corner_is_passed_at_the_pull_in(void)
{
    static const struct {
        const char *program;
        double v;
    } cases[] = {
        {"G1 X20 F900\nY20\n", 1.3}, /* each axis jumps by the whole speed */
        {"G1 X20 F900\nX0\n", 0.65}, /* reversal: by twice the speed */
        {"G1 X20 F900\nX40 Y20\n", 1.3 / M_SQRT1_2},
        {"G1 X20 F900\nX40 Y2\n", 1.3 / 0.0995037},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        board_feed(&b, cases[i].program);
        g_assert_true(board_run(&b, 1000000));
        float entry2 = b.core.plan.block[(b.core.plan.head - 1) & 15].entry2;
        g_assert_cmpfloat(fabs(sqrt(entry2) - cases[i].v), <, 0.001);
        board_clear(&b);
    }
}

/* Between two steps the same way an axis goes one step, so no two may be nearer in time than its
 * fastest speed allows; and its speed changes by its acceleration, or by its pull-in at a corner.
 */
static void check_limits(const Board *b, guint from)
{
    const DtSettings *set = &b->set;
    for (int axis = 0; axis < 2; axis++) {
        double least = STEP_MM / (double)set->speed[axis];
        double pull_in = (double)set->pull_in[axis], a = (double)set->acceleration[axis];
        double before = -1, last = -1;
        int turn = 0;
        for (guint i = from; i < b->steps->len; i++) {
            BoardStep s = g_array_index(b->steps, BoardStep, i);
            if (s.axis != axis)
                continue;
            double now = (double)s.at_us * 1e-6;
            if (last >= 0 && s.turn == turn) {
                double gap = now - last;
                g_assert_cmpfloat(gap, >=, least * 0.99 - 7e-6);
                if (before > 0 && gap < STEP_MM / pull_in && before < STEP_MM / pull_in) {
                    double change = fabs(STEP_MM / gap - STEP_MM / before);
                    double shortest = MIN(gap, before); /* timing: 7 us either way */
                    double noise = STEP_MM / shortest * (0.02 + 14e-6 / shortest);
                    g_assert_cmpfloat(change, <=, a * (gap + before) / 2 + pull_in * 1.02 + noise);
                }
                before = gap;
            } else {
                before = -1;
            }
            last = now;
            turn = (int)s.turn;
        }
    }
}

static void add_random_line(GString *s, GRand *rand, double at[2], double reach)
{
    for (int i = 0; i < 2; i++) {
        at[i] += g_rand_double_range(rand, -reach, reach);
        at[i] = CLAMP(at[i], 0, i ? 220 : 300);
        at[i] = floor(at[i] * 1000 + 0.5) / 1000;
    }
    if (g_rand_int_range(rand, 0, 8) == 0)
        g_string_append_printf(s, "G0 X%.3f Y%.3f\n", at[0], at[1]);
    else
        g_string_append_printf(s, "G1 X%.3f Y%.3f F%d\n", at[0], at[1],
                               g_rand_int_range(rand, 30, 1800));
}

static void test_limits_hold_on_random_programs(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(11);
    for (int round = 0; round < 12; round++) {
        DtSettings set = dt_settings_default;
        for (int i = 0; i < 2; i++) {
            set.speed[i] = (float)g_rand_double_range(rand, 5, 20);
            set.acceleration[i] = (float)g_rand_double_range(rand, 40, 300);
            set.pull_in[i] = (float)g_rand_double_range(rand, 0.4, 2);
        }
        Board b;
        board_init(&b, &set);
        board_home(&b);
        double at[2] = {0, 0};
        g_autoptr(GString) program = g_string_new(NULL);
        for (int line = 0; line < 60; line++)
            add_random_line(program, rand, at, round % 3 == 0 ? 30 : round % 3 == 1 ? 4 : 0.7);
        board_feed(&b, program->str);
        g_assert_true(board_run(&b, 5000000));
        g_assert_null(strstr(b.said->str, "refused"));
        for (int i = 0; i < 2; i++)
            g_assert_cmpint(b.at[i], ==, (int)floor(at[i] * 100 + 0.5));
        g_assert_cmpint(b.bad_patterns, ==, 0);
        check_limits(&b, 0);
        board_clear(&b);
    }
}

/* The steps keep to the line: each axis steps where the line crosses half way between two steps. */
static void test_steps_keep_to_the_line(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    for (int round = 0; round < 60; round++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        double from[2] = {0, 0}, to[2];
        for (int line = 0; line < 4; line++) {
            for (int i = 0; i < 2; i++)
                to[i] = floor(g_rand_double_range(rand, 0, 20) * 1e4) / 1e4;
            guint first = b.steps->len;
            int at[2] = {b.at[0], b.at[1]};
            g_autofree char *text = g_strdup_printf("G0 X%.4f Y%.4f", to[0], to[1]);
            board_line(&b, text);
            double d[2] = {to[0] - from[0], to[1] - from[1]};
            double length = hypot(d[0], d[1]);
            for (guint i = first; i < b.steps->len; i++) {
                BoardStep s = g_array_index(b.steps, BoardStep, i);
                double p[2] = {at[0] * STEP_MM, at[1] * STEP_MM};
                p[s.axis] += s.turn * STEP_MM / 2;
                at[s.axis] += s.turn;
                double off = ((p[0] - from[0]) * d[1] - (p[1] - from[1]) * d[0]) / length;
                g_assert_cmpfloat(fabs(off), <=, STEP_MM * 0.5 + 0.0005);
            }
            memcpy(from, to, sizeof from);
        }
        board_clear(&b);
    }
}

/* A main loop so slow that the interrupt is always there first: whatever it interrupts, no step is lost. */
static void test_interrupts_at_every_moment_lose_no_step(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(29);
    for (int round = 0; round < 60; round++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        b.eager = 1 + (unsigned)round % 7;
        double at[2] = {0, 0};
        g_autoptr(GString) program = g_string_new("G1 F900 X0.01\n");
        for (int line = 0; line < 60; line++)
            add_random_line(program, rand, at, round % 2 ? 10 : 0.3);
        board_feed(&b, program->str);
        if (round % 3 == 0)
            dt_controller_receive(&b.core, DT_BYTE_HOLD);
        board_run(&b, 5000000);
        board_go_on(&b);
        g_assert_true(board_run(&b, 5000000));
        for (int i = 0; i < 2; i++) {
            g_assert_cmpint(b.at[i], ==, (int)floor(at[i] * 100 + 0.5));
            g_assert_cmpint(b.core.step.position[i], ==, b.at[i]);
        }
        g_assert_cmpint(b.bad_patterns, ==, 0);
        board_clear(&b);
    }
}

static void test_holding_loses_no_step(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(23);
    for (int round = 0; round < 40; round++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        double at[2] = {0, 0};
        g_autoptr(GString) program = g_string_new("G1 F900 X0.01\n");
        for (int line = 0; line < 10; line++)
            add_random_line(program, rand, at, round % 2 ? 10 : 0.5);
        board_feed(&b, program->str);
        for (int hold = 0; hold < 5; hold++) {
            board_pass(&b, g_rand_int_range(rand, 1000, 900000));
            dt_controller_receive(&b.core, DT_BYTE_HOLD);
            board_pass(&b, 400000); /* long enough to slow down from any speed here */
            gboolean any = !b.core.step.running && dt_controller_state(&b.core) == DT_STATE_HELD;
            g_assert_true(any);
            guint steps = b.steps->len;
            board_pass(&b, 2000000);
            g_assert_cmpuint(b.steps->len, ==, steps);
            board_go_on(&b);
        }
        g_assert_true(board_run(&b, 5000000));
        for (int i = 0; i < 2; i++)
            g_assert_cmpint(b.at[i], ==, (int)floor(at[i] * 100 + 0.5));
        check_limits(&b, 0);
        g_assert_null(strstr(b.said->str, "refused"));
        board_clear(&b);
    }
}

static void test_pen_is_up_while_held(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "M3 S40");
    board_feed(&b, "G1 X50 F600\n");
    board_pass(&b, 1000000);
    dt_controller_receive(&b.core, DT_BYTE_HOLD);
    board_pass(&b, 500000);
    g_assert_cmpuint(b.pulse, ==, 1000);
    board_go_on(&b);
    guint steps = b.steps->len;
    board_pass(&b, 290000);
    g_assert_cmpuint(b.pulse, ==, 1400);
    g_assert_cmpuint(b.steps->len, ==, steps); /* the pen settles first */
    board_pass(&b, 100000);
    g_assert_cmpuint(b.steps->len, >, steps);
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpint(b.at[0], ==, 5000);
    board_clear(&b);
}

static void test_abandon_stops_and_forgets(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "M3 S40");
    board_feed(&b, "G1 X100 F900\nG1 Y100\nG4 P5\nG0 X7\n");
    board_pass(&b, 2000000);
    board_heard(&b);
    board_abandon(&b);
    g_assert_true(board_run(&b, 10000));
    const char *heard = board_heard(&b);
    g_assert_true(g_str_has_prefix(heard, "refused 5 abandoned\nstate still x "));
    g_assert_nonnull(strstr(heard, "pen up"));
    g_assert_cmpuint(b.pulse, ==, 1000);
    int at = b.at[0];
    g_assert_cmpint(at, >, 2000);
    g_assert_cmpint(at, <, 4000);
    g_assert_cmpint(b.at[1], ==, 0);
    check_limits(&b, 0);
    g_assert_cmpstr(board_line(&b, "G0 X10"), ==, "taken 6\n");
    g_assert_cmpint(b.at[0], ==, 1000);
    board_clear(&b);
}

static void test_the_program_end_lets_the_motors_go(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    g_assert_cmpstr(board_line(&b, "G0 X3"), ==, "taken 2\n");
    g_assert_false(b.loose[0] || b.loose[1]);
    g_assert_cmpstr(board_line(&b, "M2"), ==, "taken 3\n");
    g_assert_true(b.loose[0] && b.loose[1]);
    g_assert_cmpstr(board_line(&b, "G0 X5"), ==, "taken 4\n");
    g_assert_false(b.loose[0] || b.loose[1]); /* both hold, though one turns */
    g_assert_cmpint(b.at[0], ==, 500);
    g_assert_cmpuint(b.bad_patterns, ==, 0);
    board_clear(&b);
}

static void test_abandon_while_homing_leaves_it_unhomed(void)
{
    Board b;
    board_init(&b, NULL);
    board_feed(&b, "G28\n");
    board_pass(&b, 1000000);
    board_abandon(&b);
    g_assert_true(board_run(&b, 10000));
    g_assert_nonnull(strstr(b.said->str, "state unhomed"));
    board_home(&b);
    g_assert_cmpstr(board_line(&b, "G0 X1"), ==, "taken 3\n");
    board_clear(&b);
}

static void test_switch_hit_in_mid_job(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "G0 X50 Y50");
    board_line(&b, "M3 S40");
    board_feed(&b, "G1 X10 F900\nG1 X100\nM5\nM3 S40\n");
    board_pass(&b, 1000000);
    board_heard(&b);
    b.forced = 1;
    g_assert_true(board_run(&b, 10000));
    const char *heard = board_heard(&b);
    g_assert_nonnull(strstr(heard, "switch hit\n"));
    g_assert_nonnull(strstr(heard, "state unhomed"));
    g_assert_nonnull(strstr(heard, "switch x-"));
    g_assert_nonnull(strstr(heard, "locked by a switch, home first\n")); /* M3 */
    g_assert_cmpuint(b.pulse, ==, 1000);
    guint steps = b.steps->len;
    g_assert_cmpstr(board_line(&b, "G0 X1"), ==, "refused 8 locked by a switch, home first\n");
    g_assert_cmpuint(b.steps->len, ==, steps);
    b.forced = 0;
    b.closed_at[0] = b.at[0] - 500;
    b.closed_at[1] = b.at[1] - 500;
    g_assert_cmpstr(board_line(&b, "G28"), ==, "taken 9\n");
    g_assert_cmpstr(board_line(&b, "G0 X1"), ==, "taken 10\n");
    board_clear(&b);
}

/* A switch closed for one step is noise. */
static void test_switch_noise_is_passed_over(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "G0 X50");
    board_feed(&b, "G0 X10\n");
    for (int i = 0; i < 200; i++) {
        b.forced = i % 2 ? 1 : 0;
        guint steps = b.steps->len;
        while (b.steps->len == steps && b.deadline >= 0) {
            gint64 left = b.deadline - b.now;
            board_pass(&b, left);
        }
    }
    b.forced = 0;
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpint(b.at[0], ==, 1000);
    board_clear(&b);
}

static void test_homing_that_fails_is_refused(void)
{
    Board b;
    board_init(&b, NULL);
    b.closed_at[0] = -1000000;
    g_assert_true(g_str_has_suffix(board_line(&b, "G28"), "refused 1 switch X not found\n"));
    g_assert_cmpint(dt_controller_state(&b.core), ==, DT_STATE_UNHOMED);
    b.closed_at[0] = b.at[0];
    b.closed_at[1] = 1000000;
    g_assert_true(g_str_has_suffix(board_line(&b, "G28"), "refused 2 switch Y does not open\n"));
    board_clear(&b);
}

static void test_homing_finds_the_same_place(void)
{
    for (int start = 0; start < 10; start++) {
        Board b;
        board_init(&b, NULL);
        b.closed_at[0] = -137 * start;
        b.closed_at[1] = -91 * start;
        board_line(&b, "G28");
        g_assert_cmpint(abs(b.at[0] - (b.closed_at[0] + 200)), <=, 2);
        g_assert_cmpint(abs(b.at[1] - (b.closed_at[1] + 200)), <=, 2);
        check_limits(&b, 0);
        board_clear(&b);
    }
}

static void test_arcs_keep_to_the_circle(void)
{
    static const struct {
        const char *line;
        double cx, cy, r;
        int x, y; /* end, micrometres */
    } cases[] = {
        {"G2 X150 Y100 I50 J0 F900", 150, 50, 50, 150000, 100000},
        {"G3 X100 Y50 I50 J0 F900", 150, 50, 50, 100000, 50000},
        {"G2 X200 Y50 R50 F900", 150, 50, 50, 200000, 50000},
        {"G3 X150 Y100 R-50 F900", 150, 50, 50, 150000, 100000},
        {"G2 X100.5 Y50 I0.25 J0 F900", 100.25, 50, 0.25, 100500, 50000},
        {"G3 X100 Y60 I1000 J5 F900", 1100, 55, 1000.0125, 100000, 60000},
        {"G91 G3 X0 Y0 J40 F900", 100, 90, 40, 100000, 50000},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        board_line(&b, "G0 X100 Y50");
        g_array_set_size(b.targets, 0);
        g_autofree char *answer = g_strdup(board_line(&b, cases[i].line));
        g_assert_cmpstr(answer, ==, i == 5 ? "refused 3 X beyond travel\n" : "taken 3\n");
        double last[2] = {100, 50};
        for (guint k = 0; k < b.targets->len; k++) {
            const int64_t *nm = &g_array_index(b.targets, int64_t, (gsize)2 * k);
            double p[2] = {(double)nm[0] * 1e-6, (double)nm[1] * 1e-6};
            g_assert_cmpfloat(fabs(hypot(p[0] - cases[i].cx, p[1] - cases[i].cy) - cases[i].r), <,
                              1e-4);
            double middle[2] = {(p[0] + last[0]) / 2, (p[1] + last[1]) / 2};
            double sagitta = cases[i].r - hypot(middle[0] - cases[i].cx, middle[1] - cases[i].cy);
            g_assert_cmpfloat(sagitta, <, 0.005 + 1e-4);
            memcpy(last, p, sizeof last);
        }
        if (b.targets->len) {
            g_assert_cmpint(b.core.plan.nm[0], ==, cases[i].x * (gint64)1000);
            g_assert_cmpint(b.core.plan.nm[1], ==, cases[i].y * (gint64)1000);
        }
        board_clear(&b);
    }
}

static void test_dwell_takes_its_time(void)
{
    static const struct {
        const char *line;
        gint64 us;
    } cases[] = {{"G4 P0.25", 250000}, {"G4 P1.5", 1500000}, {"G4 P7200", 7200000000}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        gint64 start = b.now;
        board_line(&b, cases[i].line);
        g_assert_cmpint(b.now - start, ==, cases[i].us);
        board_clear(&b);
    }
}

static void test_stop_waits_for_go_on(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_feed(&b, "G0 X5\nM0\nG0 X6\n");
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpstr(board_heard(&b), ==,
                    "taken 2\nstate stopped x 5.000 y 0.000 pen up line 2 switch --\n");
    g_assert_cmpint(b.at[0], ==, 500);
    board_go_on(&b);
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpstr(board_heard(&b), ==, "taken 3\ntaken 4\n");
    g_assert_cmpint(b.at[0], ==, 600);
    board_clear(&b);
}

static void test_pen_words_wait_for_motion(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "M3 S40");
    board_feed(&b, "G1 X10 F600\nM5\n");
    while (b.pulse == 1400 && b.deadline >= 0)
        board_pass(&b, b.deadline - b.now);
    g_assert_cmpint(b.at[0], ==, 1000);
    g_assert_true(board_run(&b, 1000));
    board_clear(&b);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/controller/single-moves-take-the-textbook-time",
                    test_single_moves_take_the_textbook_time);
    g_test_add_func("/controller/every-step-at-its-time", test_every_step_comes_at_its_time);
    g_test_add_func("/controller/straight-pieces-run-through", test_straight_pieces_run_through);
    g_test_add_func("/controller/corner-is-passed-at-the-pull-in",
                    test_corner_is_passed_at_the_pull_in);
    g_test_add_func("/controller/limits-hold-on-random-programs",
                    test_limits_hold_on_random_programs);
    g_test_add_func("/controller/steps-keep-to-the-line", test_steps_keep_to_the_line);
    g_test_add_func("/controller/interrupts-at-every-moment",
                    test_interrupts_at_every_moment_lose_no_step);
    g_test_add_func("/controller/holding-loses-no-step", test_holding_loses_no_step);
    g_test_add_func("/controller/pen-is-up-while-held", test_pen_is_up_while_held);
    g_test_add_func("/controller/abandon-stops-and-forgets", test_abandon_stops_and_forgets);
    g_test_add_func("/controller/motors-off", test_the_program_end_lets_the_motors_go);
    g_test_add_func("/controller/abandon-while-homing",
                    test_abandon_while_homing_leaves_it_unhomed);
    g_test_add_func("/controller/switch-hit-in-mid-job", test_switch_hit_in_mid_job);
    g_test_add_func("/controller/switch-noise-is-passed-over", test_switch_noise_is_passed_over);
    g_test_add_func("/controller/homing-that-fails", test_homing_that_fails_is_refused);
    g_test_add_func("/controller/homing-finds-the-same-place", test_homing_finds_the_same_place);
    g_test_add_func("/controller/arcs-keep-to-the-circle", test_arcs_keep_to_the_circle);
    g_test_add_func("/controller/dwell-takes-its-time", test_dwell_takes_its_time);
    g_test_add_func("/controller/stop-waits-for-go-on", test_stop_waits_for_go_on);
    g_test_add_func("/controller/pen-words-wait-for-motion", test_pen_words_wait_for_motion);
    return g_test_run();
}
