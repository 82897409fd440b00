/* time: what is counted apart from the moves: pen changes and homing. The moves' own times are
 * checked against textbook profiles in tests/outside. */
#include "drawtrue/machine.h"

#include <math.h>

static DtProfile *make_profile(void)
{
    DtProfile *p = dt_profile_new();
    p->travel[0] = 300;
    p->travel[1] = 200;
    p->speed[0] = 15;
    p->speed[1] = 12;
    p->pull_in[0] = 4;
    p->pull_in[1] = 0;
    p->change_s = 45;
    return p;
}

static void take_time(const DtProfile *p, const unsigned *pens, size_t n, DtTimes *t)
{
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) m = {0};
    for (size_t i = 0; i < n; i++) {
        dt_sequence_begin(&s, pens[i], i);
        dt_sequence_point(&s, dt_point(50, 50 + 10 * (double)i));
        dt_sequence_point(&s, dt_point(90, 50 + 10 * (double)i));
    }
    g_assert_true(dt_machine_moves(p, &s, &m, NULL));
    dt_machine_time(p, &m, TRUE, t);
    g_assert_cmpfloat_with_epsilon(t->at_s[m.n - 1], t->total_s, 1e-9);
}

static void test_pen_changes_are_counted_apart(void)
{
    g_autoptr(DtProfile) p = make_profile();
    DtTimes quick, slow;
    const unsigned pens[] = {0, 1, 2};
    take_time(p, pens, 3, &quick);
    g_assert_cmpuint(quick.changes, ==, 2);
    g_assert_cmpfloat(quick.change_s, ==, 90);
    p->change_s = 600;
    take_time(p, pens, 3, &slow);
    g_assert_cmpfloat(slow.change_s, ==, 1200);
    g_assert_cmpfloat(slow.total_s, ==, quick.total_s);
    g_assert_cmpfloat_with_epsilon(
        quick.total_s, quick.ink_s + quick.travel_s + quick.lift_s + quick.home_s, 1e-9);
    g_assert_cmpfloat_with_epsilon(quick.ink_mm, 120, 1e-6);
    dt_times_clear(&quick);
    dt_times_clear(&slow);
}

/* A quarter of each travel and the way to and from the switches at two thirds of the slower axis'
 * speed, 8 mm/s; 3 mm at the pull-in, 0.5 mm/s at least. */
static void test_homing_takes_a_quarter_of_the_travel_in_the_mean(void)
{
    g_autoptr(DtProfile) p = make_profile();
    const double x = (75 + 6) / 8.0 + 3 / 4.0, y = (50 + 6) / 8.0 + 3 / 0.5;
    g_assert_cmpfloat_with_epsilon(dt_machine_home_s(p), x + y, 1e-9);
    DtTimes t;
    take_time(p, (const unsigned[]){0}, 1, &t);
    g_assert_cmpfloat_with_epsilon(t.home_s, x + y, 1e-9);
    dt_times_clear(&t);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/machine/time/changes", test_pen_changes_are_counted_apart);
    g_test_add_func("/machine/time/homing", test_homing_takes_a_quarter_of_the_travel_in_the_mean);
    return g_test_run();
}
