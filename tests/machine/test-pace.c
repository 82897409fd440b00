/* pace: the wire and the planner, event by event, against times worked out by hand: ten bits a byte, replies
 * "taken N" and a line end, ramps of constant acceleration. */
#include "drawtrue/pace.h"

#include <math.h>

enum { BYTES_A_SECOND = 960, LINE = 24 };

static DtProfile *profile(int window, int blocks)
{
    DtProfile *p = dt_profile_new();
    p->dialect.baud = 9600;
    p->dialect.window = window;
    p->dialect.blocks = blocks;
    p->dialect.reply_delay_s = 0.01;
    p->speed[0] = p->speed[1] = 30;
    p->acceleration[0] = p->acceleration[1] = 200;
    p->pull_in[0] = p->pull_in[1] = 4;
    return p;
}

static double wire_s(double bytes)
{
    return bytes / BYTES_A_SECOND;
}

/* From u over a peak of at most `top` to v, within `length`; long enough for the top to be reached. */
static double trapezoid(double u, double top, double v, double a, double length)
{
    const double ramps = (2 * top * top - u * u - v * v) / (2 * a);
    g_assert_cmpfloat(ramps, <=, length);
    return (2 * top - u - v) / a + (length - ramps) / top;
}

static void move(DtPace *c, guint bytes, double x, double feed)
{
    dt_pace_line(c, bytes);
    dt_pace_move(c, x, 0, fabs(x), feed);
}

/* Without a window each line waits for the reply to the one before; replies grow with their number. */
static void test_one_line_at_a_time(void)
{
    g_autoptr(DtProfile) p = profile(0, 16);
    DtPace c;
    dt_pace_init(&c, p);
    for (int i = 0; i < 102; i++) {
        dt_pace_line(&c, LINE);
        dt_pace_wait(&c, 0.5);
    }
    const double replies = 9 * 8 + 90 * 9 + 2 * 10; /* to all lines but the last */
    g_assert_cmpfloat_with_epsilon(dt_pace_finish(&c),
                                   wire_s(102 * LINE + replies) + 101 * 0.01 + 102 * 0.5, 1e-9);
    dt_pace_clear(&c);
}

/* One byte of the window is the line's that is being read. */
static void test_lines_wait_until_they_fit(void)
{
    for (int spare = -1; spare <= 1; spare++) {
        g_autoptr(DtProfile) p = profile(3 * LINE + 1 + spare, 16);
        DtPace c;
        dt_pace_init(&c, p);
        dt_pace_line(&c, LINE);
        dt_pace_wait(&c, 5);
        for (int i = 1; i < 3; i++) {
            dt_pace_line(&c, LINE);
            if (i < 2 || spare >= 0)
                g_assert_cmpfloat_with_epsilon(c.arrived, wire_s((i + 1) * LINE), 1e-9);
            dt_pace_wait(&c, 1);
        }
        dt_pace_line(&c, LINE);
        /* the wire has room for another line once the reply to the first has been read */
        const double read = wire_s(LINE) + 5 + wire_s(8) + 0.01;
        if (spare >= 0)
            g_assert_cmpfloat_with_epsilon(c.arrived, read + wire_s(LINE), 1e-9);
        else /* two of its lines fit: the second's dwell must end, too */
            g_assert_cmpfloat_with_epsilon(c.arrived, read + 1 + wire_s(LINE), 1e-9);
        dt_pace_clear(&c);
    }
}

/* Replies go back one behind the other. */
static void test_replies_share_their_wire(void)
{
    g_autoptr(DtProfile) p = profile(0, 16);
    g_free(p->dialect.accept);
    p->dialect.accept = g_strdup("a long word before the number");
    DtPace c;
    dt_pace_init(&c, p);
    g_assert_cmpuint(c.accept_bytes, ==, 29);
    dt_pace_line(&c, 2);
    dt_pace_line(&c, 2);
    g_assert_cmpfloat_with_epsilon(c.arrived, wire_s(2 + 29 + 3 + 2) + 0.01, 1e-9);
    dt_pace_clear(&c);
}

/* Moves below the pull-in need no ramp, so that each takes its length over its feed. */
static void test_a_full_planner_takes_no_line(void)
{
    g_autoptr(DtProfile) p = profile(4096, 2);
    DtPace c;
    dt_pace_init(&c, p);
    const double first = wire_s(LINE);
    move(&c, LINE, 10, 2);
    g_assert_cmpfloat_with_epsilon(c.taken, first, 1e-9);
    move(&c, LINE, 10, 2);
    g_assert_cmpfloat_with_epsilon(c.taken, 2 * first, 1e-9);
    move(&c, LINE, 10, 2);
    g_assert_cmpfloat_with_epsilon(c.taken, first + 5, 1e-9); /* the first is done */
    move(&c, LINE, 10, 2);
    g_assert_cmpfloat_with_epsilon(c.taken, first + 10, 1e-9);
    g_assert_cmpfloat_with_epsilon(dt_pace_so_far(&c), first + 20, 1e-9);
    dt_pace_line(&c, LINE);
    dt_pace_wait(&c, 0.25);
    g_assert_cmpfloat_with_epsilon(dt_pace_finish(&c), first + 20.25, 1e-9);
    dt_pace_clear(&c);
}

/* A pen that is down starves where the next line comes late, and only then. */
static void test_late_lines_starve_the_pen(void)
{
    g_autoptr(DtProfile) p = profile(4096, 16);
    for (int down = 0; down < 2; down++) {
        DtPace c;
        dt_pace_init(&c, p);
        c.down = down;
        for (int i = 0; i < 5; i++)
            move(&c, BYTES_A_SECOND, 1, 2); /* a line each second, half a second's motion */
        g_assert_cmpfloat_with_epsilon(dt_pace_finish(&c), 5.5, 1e-9);
        g_assert_cmpuint(c.starved, ==, down ? 4 : 0);
        dt_pace_wait(&c, 1); /* a pen word: no want of a line */
        move(&c, LINE, 1, 2);
        g_assert_cmpuint(c.starved, ==, down ? 4 : 0);
        dt_pace_clear(&c);
    }
}

/* A line of 10 mm at 10 mm/s from a pull-in of 4: 0.03 s of ramp at either end, 0.958 s between. The next
 * one comes while it speeds up, cruises or brakes, or when it has come to rest. */
static void test_the_next_line_comes_in_time_or_late(void)
{
    const double a = 200, alone = trapezoid(4, 10, 4, a, 10);
    g_autoptr(DtProfile) p = profile(4096, 16);
    for (guint bytes = 10; bytes <= 1100; bytes += 10) {
        DtPace c;
        dt_pace_init(&c, p);
        move(&c, LINE, 10, 10);
        move(&c, bytes, 10, 10);
        g_assert_cmpfloat(dt_pace_so_far(&c), <=, dt_pace_finish(&c) + 1e-9);
        const double t = wire_s(bytes), braking = t - (alone - 0.03);
        double s = wire_s(LINE) + trapezoid(4, 10, 4, a, 20);
        if (t >= alone) {
            s = wire_s(LINE) + t + alone;
        } else if (braking > 0) {
            const double v = 10 - a * braking, left = (v * v - 16) / (2 * a);
            s = wire_s(LINE) + t + trapezoid(v, 10, 4, a, left + 10);
        }
        g_assert_cmpfloat_with_epsilon(c.now, s, 1e-7);
        dt_pace_clear(&c);
    }
}

/* Back the way it came, the axis stops to its pull-in; across, each axis to its own. */
static void test_corners_slow_down(void)
{
    g_autoptr(DtProfile) p = profile(4096, 16);
    p->pull_in[1] = 6;
    const double ahead[2] = {1, 0};
    DtPace c;
    dt_pace_init(&c, p);
    move(&c, LINE, 10, 10);
    move(&c, 1, -10, 10);
    g_assert_cmpfloat_with_epsilon(
        dt_pace_finish(&c),
        wire_s(LINE) + trapezoid(4, 10, 2, 200, 10) + trapezoid(2, 10, 4, 200, 10), 1e-7);
    dt_pace_clear(&c);

    dt_pace_init(&c, p);
    move(&c, LINE, 10, 10);
    dt_pace_line(&c, 1);
    dt_pace_move(&c, 0, 10, 10, 10);
    dt_pace_line(&c, 1);
    dt_pace_arc(&c, ahead, ahead, 10, 10, 0.01);
    g_assert_cmpfloat_with_epsilon(
        dt_pace_finish(&c),
        wire_s(LINE) + 2 * trapezoid(4, 10, 4, 200, 10) + trapezoid(4, 10, 4, 200, 10), 1e-7);
    dt_pace_clear(&c);
}

/* An arc whose chords turn by 0.5 is drawn at the speed at which the axis across may jump by that. */
static void test_arcs_of_few_chords_are_slow(void)
{
    g_autoptr(DtProfile) p = profile(4096, 16);
    const double ahead[2] = {1, 0};
    DtPace c;
    dt_pace_init(&c, p);
    dt_pace_line(&c, LINE);
    dt_pace_arc(&c, ahead, ahead, 10, 10, 0.5);
    g_assert_cmpfloat_with_epsilon(dt_pace_finish(&c), wire_s(LINE) + trapezoid(4, 8, 4, 200, 10),
                                   1e-7);
    dt_pace_clear(&c);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/machine/pace/one-line", test_one_line_at_a_time);
    g_test_add_func("/machine/pace/window", test_lines_wait_until_they_fit);
    g_test_add_func("/machine/pace/replies", test_replies_share_their_wire);
    g_test_add_func("/machine/pace/planner", test_a_full_planner_takes_no_line);
    g_test_add_func("/machine/pace/starved", test_late_lines_starve_the_pen);
    g_test_add_func("/machine/pace/in-time", test_the_next_line_comes_in_time_or_late);
    g_test_add_func("/machine/pace/corners", test_corners_slow_down);
    g_test_add_func("/machine/pace/arcs", test_arcs_of_few_chords_are_slow);
    return g_test_run();
}
