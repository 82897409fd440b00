/* thinned: moves for a slow wire. The expected speeds are worked out from the bytes of a line as it is
 * written: "X12.34Y12.34" and its end, with "N12345" and "(*1A2B)" where lines carry a check. */
#include "machine/tidy.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { TEETH = 200, BITS_A_BYTE = 10 };

static const double tooth_x = 0.05, tooth_y = 0.4;

/* Teeth of equal lines, so that every line takes the motors and the wire the same time. */
static void make_teeth(DtSequence *s, double x0, double y0)
{
    dt_sequence_begin(s, 0, s->n);
    for (int i = 0; i <= TEETH; i++)
        dt_sequence_point(s, dt_point(x0 + tooth_x * i, y0 + (i % 2 ? tooth_y : 0)));
}

static DtProfile *slow_wire(int baud)
{
    DtProfile *p = dt_profile_new();
    p->dialect.baud = baud;
    p->speed[0] = p->speed[1] = p->pull_in[0] = p->pull_in[1] = 15; /* without ramps */
    p->ink_tolerance = 0;
    return p;
}

static void thinned(const DtProfile *p, const DtSequence *s, double thin, DtMoves *m)
{
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_machine_moves_thinned(p, s, thin, m, &error));
    g_assert_no_error(error);
}

/* The next lower power of 1.1. */
static double coarse(double speed)
{
    double v = 1;
    while (v * 1.1 <= speed * (1 + 1e-9))
        v *= 1.1;
    while (v > speed * (1 + 1e-9))
        v /= 1.1;
    return v;
}

/* The feed of a line in the middle of the teeth is what the wire can keep up with. */
static void check_feed(const DtProfile *p, double x0, double y0, const char *line)
{
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) m = {0};
    make_teeth(&s, x0, y0);
    thinned(p, &s, 0.001, &m);
    const double bytes = (double)strlen(line) + (p->dialect.line_check ? 14 : 1);
    const double wanted = hypot(tooth_x, tooth_y) * p->dialect.baud / (BITS_A_BYTE * bytes);
    size_t drawn = 0;
    for (size_t i = 0; i < m.n; i++) {
        if (m.m[i].kind != DT_MOVE_DRAW)
            continue;
        drawn++;
        if (drawn > 20 && drawn < TEETH - 20)
            g_assert_cmpfloat_with_epsilon(m.m[i].feed_mm_s, coarse(wanted), 1e-6);
    }
    g_assert_cmpuint(drawn, ==, TEETH);
}

static void test_speeds_are_what_the_wire_can_say(void)
{
    g_autoptr(DtProfile) p = slow_wire(1200);
    p->steps_per_mm[0] = p->steps_per_mm[1] = 80;
    check_feed(p, 30, 30, "X30.05Y30.40");
    check_feed(p, 110, 30, "X110.05Y30.40");
    check_feed(p, 30, 2, "X30.05Y2.40");
    check_feed(p, 120, 120, "X120.05Y120.40");
    p->steps_per_mm[1] = 800; /* a finer step takes a digit more to say */
    check_feed(p, 30, 30, "X30.05Y30.400");
    p->dialect.line_check = FALSE;
    check_feed(p, 30, 30, "X30.05Y30.400");
    p->dialect.baud = 2400;
    check_feed(p, 30, 30, "X30.05Y30.400");
}

/* A wire that keeps up leaves the speed alone but for its coarse steps. */
static void test_a_fast_wire_slows_nothing(void)
{
    g_autoptr(DtProfile) p = slow_wire(921600);
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) m = {0};
    const DtCost cost = dt_profile_cost(p);
    make_teeth(&s, 30, 30);
    thinned(p, &s, 0.001, &m);
    for (size_t i = 1; i < m.n; i++)
        if (m.m[i].kind == DT_MOVE_DRAW) {
            const DtPoint way = dt_point_sub(m.m[i].to, m.m[i - 1].to);
            g_assert_cmpfloat_with_epsilon(m.m[i].feed_mm_s,
                                           coarse(dt_route_speed_along(&cost, way)), 1e-6);
        }
}

/* Over the whole of a stroke the motion takes no less than its lines, whatever their mixture; and no long
 * line, and no other stroke, is slowed for the sake of short ones far away. */
static void test_a_stroke_takes_the_time_of_its_lines(void)
{
    g_autoptr(DtProfile) p = slow_wire(2400);
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) m = {0};
    dt_sequence_begin(&s, 0, 0);
    dt_sequence_point(&s, dt_point(20, 100));
    dt_sequence_point(&s, dt_point(160, 100));
    dt_sequence_begin(&s, 0, 1);
    for (int i = 0; i <= 300; i++) /* a spiral */
        dt_sequence_point(
            &s, dt_point(60 + (4 + 0.05 * i) * cos(i * 0.1), 60 + (4 + 0.05 * i) * sin(i * 0.1)));
    dt_sequence_begin(&s, 0, 2);
    dt_sequence_point(&s, dt_point(20, 110));
    dt_sequence_point(&s, dt_point(160, 110));
    thinned(p, &s, 0.02, &m);
    DtTimes t;
    dt_machine_time(p, &m, TRUE, &t);
    double wire_s = 0, motion_s = 0;
    DtPoint before = {0};
    for (size_t i = 1; i < m.n; i++) {
        const DtMove *v = &m.m[i];
        if (v->kind == DT_MOVE_DRAW && v->polyline == 1) {
            char x[32] = "", y[32] = "";
            if (v->to.x != before.x)
                g_snprintf(x, sizeof x, "X%.2f", v->to.x);
            if (v->to.y != before.y)
                g_snprintf(y, sizeof y, "Y%.2f", v->to.y);
            wire_s += BITS_A_BYTE * (14.0 + (double)strlen(x) + (double)strlen(y)) / 2400;
            motion_s += t.at_s[i] - t.at_s[i - 1];
        } else if (v->kind == DT_MOVE_DRAW) {
            g_assert_cmpfloat_with_epsilon(v->feed_mm_s, coarse(15), 1e-6);
        }
        before = v->to;
    }
    g_assert_cmpfloat(motion_s, >, wire_s);
    g_assert_cmpfloat(motion_s, <, wire_s * 1.35); /* 10 % of it are the coarse steps */
    dt_times_clear(&t);
}

/* Fewer points, all within what was allowed of the line that was given, and no corner cut by a chord,
 * which would add a line. */
static void test_points_are_left_out_within_what_is_allowed(void)
{
    g_autoptr(DtProfile) p = slow_wire(2400);
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) all = {0}, few = {0};
    dt_sequence_begin(&s, 0, 0);
    for (int i = 0; i <= 400; i++)
        dt_sequence_point(&s,
                          dt_point(60 + 20 * cos(i * G_PI / 200), 60 + 20 * sin(i * G_PI / 200)));
    p->ink_tolerance = 0.3;
    thinned(p, &s, 0, &all);
    thinned(p, &s, 0.1, &few);
    g_assert_cmpuint(few.n, <, all.n / 2);
    for (size_t i = 1; i < few.n; i++)
        if (few.m[i].kind == DT_MOVE_DRAW)
            for (int k = 0; k <= 8; k++) {
                const DtPoint at = dt_point_lerp(few.m[i - 1].ink, few.m[i].ink, k / 8.0);
                const double r = dt_point_distance(at, dt_point(60, 60));
                g_assert_cmpfloat(fabs(r - 20), <, 0.1 + 1.0 / 49);
            }
}

static void test_steps_of_speed_are_a_tenth(void)
{
    for (double v = 0.01; v < 500; v *= 1.013) {
        const double step = dt_feeds_step(v);
        g_assert_cmpfloat(step, <=, v * (1 + 1e-8));
        g_assert_cmpfloat(step * 1.1, >, v);
        g_assert_cmpfloat_with_epsilon(step, coarse(v), 1e-6 * v);
        g_assert_cmpfloat_with_epsilon(dt_feeds_step(step), step,
                                       1e-9 * step); /* one of the steps */
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/machine/thinned/wire", test_speeds_are_what_the_wire_can_say);
    g_test_add_func("/machine/thinned/fast-wire", test_a_fast_wire_slows_nothing);
    g_test_add_func("/machine/thinned/stroke", test_a_stroke_takes_the_time_of_its_lines);
    g_test_add_func("/machine/thinned/points", test_points_are_left_out_within_what_is_allowed);
    g_test_add_func("/machine/thinned/steps", test_steps_of_speed_are_a_tenth);
    return g_test_run();
}
