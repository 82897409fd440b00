/* fill-seconds: what a field takes on this machine, by which the way to fill it is chosen. */
#include "job/private.h"

#include <math.h>

/* `n` lines of `length` mm along X, `pitch` mm apart; in one stroke, back and forth, where they are joined. */
static void make_field(DtLines *l, int n, double length, double pitch, gboolean joined, DtPoint at)
{
    dt_lines_clear(l);
    dt_lines_init(l);
    for (int i = 0; i < n; i++) {
        const double from = i % 2 ? length : 0, to = length - from, y = at.y + i * pitch;
        if (!joined || i == 0)
            dt_lines_begin(l);
        dt_lines_point(l, dt_point(at.x + from, y));
        dt_lines_point(l, dt_point(at.x + to, y));
    }
}

/* A line takes its length at the speed of X, once it has speeded up, and the pen's way down and up. */
static void test_one_line(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtLines) l;
    dt_lines_init(&l);
    double last = 0;
    for (double length = 20; length <= 80; length += 20) {
        make_field(&l, 1, length, 1, FALSE, dt_point(10, 10));
        const double s = dt_job_fill_seconds(&l, 0, p), bare = length / p->speed[0];
        g_assert_cmpfloat(s, >, bare + 0.9 * p->drop_s);
        g_assert_cmpfloat(s, <, bare + p->drop_s + p->lift_s + 0.5);
        if (last > 0)
            g_assert_cmpfloat_with_epsilon(s - last, 20 / p->speed[0], 0.02);
        last = s;
    }
}

/* Each line of a field counts; joined lines save their lifts; where on the bed it lies, or beyond, does not matter. */
static void test_fields(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtLines) l;
    dt_lines_init(&l);
    make_field(&l, 1, 30, 1, FALSE, dt_point(10, 10));
    const double one = dt_job_fill_seconds(&l, 0, p);
    make_field(&l, 10, 30, 1, FALSE, dt_point(10, 10));
    const double ten = dt_job_fill_seconds(&l, 0, p);
    make_field(&l, 10, 30, 1, TRUE, dt_point(10, 10));
    const double joined = dt_job_fill_seconds(&l, 0, p);
    g_assert_cmpfloat(ten, >, 10 * one);
    g_assert_cmpfloat(ten, <, 12 * one + 5);
    g_assert_cmpfloat_with_epsilon(ten - joined, 9 * (p->lift_s + p->drop_s), 1.5);
    static const DtPoint places[] = {{100, 100}, {-500, 40}, {20, 2000}, {285, 100}, {10, 215}};
    for (gsize i = 0; i < G_N_ELEMENTS(places); i++) {
        make_field(&l, 10, 30, 1, TRUE, places[i]);
        g_assert_cmpfloat_with_epsilon(dt_job_fill_seconds(&l, 0, p), joined, 0.05);
    }
}

/* What cannot be drawn takes longer than anything. */
static void test_nothing_to_draw(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtLines) l;
    dt_lines_init(&l);
    g_assert_cmpfloat(dt_job_fill_seconds(&l, 0, p), ==, G_MAXDOUBLE);
    make_field(&l, 2, 5000, 1, TRUE, dt_point(0, 0)); /* longer than the bed */
    g_assert_cmpfloat(dt_job_fill_seconds(&l, 0, p), ==, G_MAXDOUBLE);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/job/fill-seconds/line", test_one_line);
    g_test_add_func("/job/fill-seconds/fields", test_fields);
    g_test_add_func("/job/fill-seconds/nothing", test_nothing_to_draw);
    return g_test_run();
}
