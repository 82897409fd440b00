/* controller: what keeps the machine standing, each by itself, and lines that are left out. */
#include "support/board.h"

#include <math.h>

/* A hold that comes while nothing moves keeps the next move from beginning. */
static void test_a_hold_at_rest_holds_what_comes(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    dt_controller_receive(&b.core, DT_BYTE_HOLD);
    board_run(&b, 1000);
    board_feed(&b, "G0 X5 Y3\n");
    board_pass(&b, 3000000);
    g_assert_cmpint(b.at[0], ==, 0);
    g_assert_cmpint(b.at[1], ==, 0);
    board_go_on(&b);
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpint(b.at[0], ==, 500);
    g_assert_cmpint(b.at[1], ==, 300);
    board_clear(&b);
}

/* Each line moves once though others follow while it runs, waits or has just ended. */
static void test_lines_that_come_at_any_time_move_once(void)
{
    for (int wait_us = 0; wait_us < 3000000; wait_us += 37000) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        board_feed(&b, "G1 X3 F600\nM3 S40\nG4 P0.4\n");
        board_pass(&b, wait_us);
        board_feed(&b, "G1 Y2\nM5\n");
        g_assert_true(board_run(&b, 100000));
        g_assert_cmpint(b.at[0], ==, 300);
        g_assert_cmpint(b.at[1], ==, 200);
        g_assert_cmpuint(b.bad_patterns, ==, 0);
        for (guint i = 1; i < b.steps->len; i++)
            g_assert_cmpint(g_array_index(b.steps, BoardStep, i).at_us, >=,
                            g_array_index(b.steps, BoardStep, i - 1).at_us);
        board_clear(&b);
    }
}

/* The byte that goes on counts when it comes twice within a second, whenever the seconds begin. */
static void test_twice_within_a_second(void)
{
    for (int seconds = 0; seconds < 4; seconds++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        board_feed(&b, "M0\nG0 X5\n");
        board_run(&b, 100);
        dt_controller_receive(&b.core, DT_BYTE_GO_ON);
        for (int i = 0; i < seconds; i++)
            dt_controller_second(&b.core);
        dt_controller_receive(&b.core, DT_BYTE_GO_ON);
        board_run(&b, 100000);
        g_assert_cmpint(b.at[0], ==, seconds < 2 ? 500 : 0);
        board_clear(&b);
    }
}

/* A line that begins with a slash is left out, blanks before it or not (NISTIR 6556, 3.3.2). */
static void test_lines_that_are_left_out(void)
{
    static const char *const lines[] = {"/G0 X5", " /G0 X5", " \t / G0 X5", "/", "/N7 G0 X5"};
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        const char *answer = board_line(&b, lines[i]);
        if (!g_str_has_prefix(answer, "taken "))
            g_error("'%s' is answered '%s'", lines[i], answer);
        g_assert_cmpint(b.at[0], ==, 0);
        board_line(&b, "G0 X1");
        g_assert_cmpint(b.at[0], ==, 100);
        board_clear(&b);
    }
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    g_assert_nonnull(strstr(board_line(&b, "G0 /X5"), "refused")); /* only at its beginning */
    g_assert_cmpint(b.at[0], ==, 0);
    board_clear(&b);
}

/* A main loop that comes too late leaves the motors without segments in the middle of a line. They begin anew from
 * the speed at which they may begin: from v0, and with the acceleration a, the second step of s mm is no faster than
 * sqrt(v0^2 + 4 a s) (uniformly accelerated motion). */
static void test_a_late_main_loop_begins_anew_from_rest(void)
{
    static const char *const lines[] = {"G1 X6 F600\nG1 X12\n", "G1 Y6 F600\nG1 Y12\n"};
    for (int axis = 0; axis < 2; axis++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        const double step = 1 / (double)b.set.steps_per_mm[axis], v0 = (double)b.set.pull_in[axis],
                     fastest = sqrt(v0 * v0 + 4 * (double)b.set.acceleration[axis] * step),
                     rest_us = 20 * step / v0 * 1e6;
        unsigned rests = 0;
        b.poll_us = 400000;
        board_feed(&b, lines[axis]);
        g_assert_true(board_run(&b, 100000));
        g_assert_cmpint(b.at[axis], ==, 12 * lrint(1 / step));
        for (guint i = 1; i + 1 < b.steps->len; i++) {
            const BoardStep *s = &g_array_index(b.steps, BoardStep, i);
            if ((double)(s->at_us - (s - 1)->at_us) < rest_us)
                continue;
            rests++;
            g_assert_cmpfloat((double)((s + 1)->at_us - s->at_us), >=, 0.97e6 * step / fastest);
        }
        g_assert_cmpuint(rests, >=, 3);
        board_clear(&b);
    }
}

/* A line under way and its moves are drawn to their end, whatever comes but CAN twice in a row. */
static void test_one_byte_of_noise_never_ends_a_job(void)
{
    static const char *const noise[] = {"\x18",         "\x18 \x18",    "\x18\x05\x18",
                                        "\x18\x11\x18", "\x11\x18\x11", "\x18\x13\x18\x11\x11"};
    for (gsize i = 0; i <= G_N_ELEMENTS(noise); i++) {
        const gboolean apart = i == G_N_ELEMENTS(noise); /* in time */
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        board_feed(&b, "G1 X50 F600\nX60\n");
        board_pass(&b, 500000);
        for (const char *c = apart ? noise[0] : noise[i]; *c; c++)
            dt_controller_receive(&b.core, (uint8_t)*c);
        dt_controller_second(&b.core);
        dt_controller_second(&b.core);
        if (apart)
            dt_controller_receive(&b.core, DT_BYTE_ABANDON);
        dt_controller_receive(&b.core, '\n');
        g_assert_true(board_run(&b, 100000));
        g_assert_null(strstr(board_heard(&b), "abandoned"));
        g_assert_cmpint(b.at[0], ==, 6000);
        board_clear(&b);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/controller/holds/at-rest", test_a_hold_at_rest_holds_what_comes);
    g_test_add_func("/controller/holds/once", test_lines_that_come_at_any_time_move_once);
    g_test_add_func("/controller/holds/twice-within-a-second", test_twice_within_a_second);
    g_test_add_func("/controller/holds/noise-never-ends-a-job",
                    test_one_byte_of_noise_never_ends_a_job);
    g_test_add_func("/controller/holds/left-out", test_lines_that_are_left_out);
    g_test_add_func("/controller/holds/late", test_a_late_main_loop_begins_anew_from_rest);
    return g_test_run();
}
