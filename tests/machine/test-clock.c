/* clock: arcs, and what a caller learns of each block. The times are worked out by hand from the trapezoid
 * of constant acceleration: v^2 = u^2 + 2 a s. Straight moves are checked in tests/outside. */
#include "drawtrue/clock.h"

#include <math.h>

static DtProfile *profile(void)
{
    DtProfile *p = dt_profile_new();
    p->speed[0] = 30;
    p->speed[1] = 20;
    p->acceleration[0] = 200;
    p->acceleration[1] = 100;
    p->pull_in[0] = 4;
    p->pull_in[1] = 3;
    return p;
}

/* From u over a peak of at most `top` to v, within `length`; long enough for the top to be reached. */
static double trapezoid(double u, double top, double v, double a, double length)
{
    const double ramps = (2 * top * top - u * u - v * v) / (2 * a);
    g_assert_cmpfloat(ramps, <=, length);
    return (2 * top - u - v) / a + (length - ramps) / top;
}

static double arc_s(const DtProfile *p, double half_turn, double length, double feed, double turn)
{
    const double leave[2] = {cos(half_turn), sin(half_turn)};
    const double arrive[2] = {cos(half_turn), -sin(half_turn)};
    DtClock c;
    dt_clock_init(&c, p);
    dt_clock_arc(&c, leave, arrive, length, feed, turn);
    dt_clock_stop(&c);
    return c.seconds;
}

/* A shallow arc along X is as fast as X, from the pull-in of its ends' directions. */
static void test_an_arc_by_itself(void)
{
    g_autoptr(DtProfile) p = profile();
    const double h = 0.1, along = cos(h), ends = 4 / cos(h);
    g_assert_cmpfloat_with_epsilon(arc_s(p, h, 50, G_MAXDOUBLE, 0.01),
                                   trapezoid(ends, 30 / along, ends, 200 / along, 50), 1e-9);
    g_assert_cmpfloat_with_epsilon(arc_s(p, h, 50, 12, 0.01),
                                   trapezoid(ends, 12, ends, 200 / along, 50), 1e-9);
    g_assert_cmpfloat_with_epsilon(arc_s(p, h, 50, 2, 0.01), 25, 1e-9); /* below every pull-in */
    /* each chord turns by 0.2, which Y must do in one jump of 3 mm/s at most */
    g_assert_cmpfloat_with_epsilon(arc_s(p, h, 50, G_MAXDOUBLE, 0.2),
                                   trapezoid(ends, 3 / along / 0.2, ends, 200 / along, 50), 1e-9);
}

/* In the middle of the first quarter both axes go: the slower one counts. */
static void test_the_slower_axis_counts(void)
{
    g_autoptr(DtProfile) p = profile();
    const double leave[2] = {cos(0.8), sin(0.8)}, arrive[2] = {cos(1.0), sin(1.0)};
    const double x = (leave[0] + arrive[0]) / 2, y = (leave[1] + arrive[1]) / 2;
    DtClock c;
    dt_clock_init(&c, p);
    dt_clock_arc(&c, leave, arrive, 40, G_MAXDOUBLE, 0.001);
    dt_clock_stop(&c);
    const double u = MIN(4 / leave[0], 3 / leave[1]), v = MIN(4 / arrive[0], 3 / arrive[1]);
    g_assert_cmpfloat_with_epsilon(
        c.seconds, trapezoid(u, MIN(30 / x, 20 / y), v, MIN(200 / x, 100 / y), 40), 1e-9);
}

/* A line runs into an arc, and an arc into a line, without a stop where they are tangent; across each
 * other the pen slows down to what the axes jump by. */
static void test_lines_and_arcs_meet(void)
{
    g_autoptr(DtProfile) p = profile();
    const double ahead[2] = {1, 0}, across[2] = {0, 1};
    DtClock c;
    dt_clock_init(&c, p);
    dt_clock_move(&c, 20, 0, 20, 10);
    dt_clock_arc(&c, ahead, ahead, 20, 10, 0.001);
    dt_clock_move(&c, 20, 0, 20, 10);
    dt_clock_stop(&c);
    g_assert_cmpfloat_with_epsilon(c.seconds, trapezoid(4, 10, 4, 200, 60), 1e-9);

    dt_clock_init(&c, p);
    dt_clock_move(&c, 20, 0, 20, 10);
    dt_clock_arc(&c, across, across, 20, 10, 0.001);
    dt_clock_stop(&c);
    g_assert_cmpfloat_with_epsilon(
        c.seconds, trapezoid(4, 10, 3, 200, 20) + trapezoid(3, 10, 3, 100, 20), 1e-9);
}

typedef struct {
    size_t n, last;
    double sum;
} Taken;

static void take(size_t tag, double seconds, void *user)
{
    Taken *t = user;
    g_assert_cmpuint(tag, >=, t->last);
    g_assert_cmpfloat(seconds, >=, 0);
    t->last = tag;
    t->n++;
    t->sum += seconds;
}

/* Many more blocks than it looks ahead over: each is reported once, in order, and together they take what
 * the way takes in one. What is still to come is never rated longer than it takes. */
static void test_every_block_is_reported(void)
{
    enum { N = 5 * DT_CLOCK_BLOCKS };
    g_autoptr(DtProfile) p = profile();
    Taken t = {0};
    DtClock c;
    dt_clock_init(&c, p);
    c.took = take;
    c.user = &t;
    for (size_t i = 0; i < N; i++) {
        c.tag = i;
        dt_clock_move(&c, 0.3, 0, 0.3, 25);
        g_assert_cmpint(c.n, <=, DT_CLOCK_BLOCKS);
        g_assert_cmpfloat(c.rough_s, <=, c.n * 0.3 / 25 + 1e-9);
        g_assert_cmpfloat(c.rough_s, >=, c.n * 0.3 / 25 - 1e-9);
    }
    dt_clock_stop(&c);
    g_assert_cmpuint(t.n, ==, N);
    g_assert_cmpuint(t.last, ==, N - 1);
    g_assert_cmpfloat_with_epsilon(t.sum, c.seconds, 1e-9);
    g_assert_cmpfloat_with_epsilon(c.seconds, trapezoid(4, 25, 4, 200, 0.3 * N), 1e-6);
    g_assert_cmpfloat(c.rough_s, ==, 0);
    const double before = c.seconds;
    dt_clock_stop(&c); /* at rest already */
    g_assert_cmpfloat(c.seconds, ==, before);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/machine/clock/arc", test_an_arc_by_itself);
    g_test_add_func("/machine/clock/slower-axis", test_the_slower_axis_counts);
    g_test_add_func("/machine/clock/meet", test_lines_and_arcs_meet);
    g_test_add_func("/machine/clock/blocks", test_every_block_is_reported);
    return g_test_run();
}
