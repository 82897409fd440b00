/* machine: one axis shifts where the other turns round, and the moves allow for it. */
#include "drawtrue/machine.h"

#include <math.h>
#include <string.h>

static DtProfile *profile(const char *corrections)
{
    g_autofree char *text =
        g_strconcat("[motion]\nink_tolerance = 0 mm\n[corrections]\n", corrections, NULL);
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test.ini", &error);
    g_assert_no_error(error);
    return p;
}

#define TWISTED "twist_x = 0:0.1 300:0.3\ntwist_y = 0.15 mm\n"

/* By hand: half of the shift either way, after the other axis has travelled as far as a twist takes. */
static void test_a_carriage_leans_by_the_other_axis(void)
{
    g_autoptr(DtProfile) p = profile("twist_x = 0:0.1 300:0.3\n");
    DtCarriage c;
    dt_carriage_init(&c, p);
    DtPoint ink = dt_carriage_drive(&c, dt_point(150, 50)); /* Y towards +: leans towards + */
    g_assert_cmpfloat_with_epsilon(ink.x, 150.1, 1e-9);
    g_assert_cmpfloat_with_epsilon(ink.y, 50, 1e-9);
    ink = dt_carriage_drive(&c, dt_point(150, 40));
    g_assert_cmpfloat_with_epsilon(ink.x, 149.9, 1e-9);
    ink = dt_carriage_drive(&c, dt_point(150, 40.1)); /* on its way back, a third of it */
    g_assert_cmpfloat(ink.x, >, 149.91);
    g_assert_cmpfloat(ink.x, <, 150);
    ink = dt_carriage_drive(&c, dt_point(300, 40.1)); /* X alone does not change its own lean */
    g_assert_cmpfloat(ink.x, <, 300);
}

/* The longest distance of the ink of drawn moves from the polyline, as a program would be followed. */
static double worst_error(const DtProfile *p, const DtMoves *m, const DtPoint *line, size_t n)
{
    DtCarriage c;
    double worst = 0;
    dt_carriage_init(&c, p);
    DtPoint at = {0, 0};
    for (size_t i = 0; i < m->n; i++) {
        for (int k = 1; k <= 16; k++) {
            const DtPoint ink = dt_carriage_drive(&c, dt_point_lerp(at, m->m[i].to, k / 16.0));
            double nearest = G_MAXDOUBLE;
            for (size_t j = 1; j < n; j++)
                nearest = MIN(nearest, dt_point_segment_distance(ink, line[j - 1], line[j]));
            if (m->m[i].kind == DT_MOVE_DRAW)
                worst = MAX(worst, nearest);
        }
        at = m->m[i].to;
    }
    return worst;
}

static void check_line(const DtPoint *line, size_t n, const char *corrections, double within,
                       gboolean corrected)
{
    g_autoptr(DtProfile) p = profile(corrections), plain = dt_profile_copy(p);
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) m = {0};
    g_autoptr(GError) error = NULL;
    dt_sequence_begin(&s, 0, 0);
    for (gsize i = 0; i < n; i++)
        dt_sequence_point(&s, line[i]);
    if (!corrected)
        dt_profile_drop_corrections(plain);
    g_assert_true(dt_machine_moves(plain, &s, &m, &error));
    g_assert_no_error(error);
    const double worst = worst_error(p, &m, line, n);
    if (corrected)
        g_assert_cmpfloat(worst, <, within);
    else
        g_assert_cmpfloat(worst, >, within);
}

static void check_zigzag(const char *corrections, double within, gboolean corrected)
{
    static const DtPoint line[] = {{60, 60},   {60, 120}, {62, 60},  {64, 120}, {140, 121},
                                   {140, 100}, {100, 90}, {180, 80}, {120, 79}, {121, 150}};
    check_line(line, G_N_ELEMENTS(line), corrections, within, corrected);
}

/* Teeth that are hardly longer than the way over which the carriage leans. */
static void check_teeth(const char *corrections, double height, double within)
{
    enum { POINTS = 60 };
    DtPoint up[POINTS], across[POINTS];
    for (int i = 0; i < POINTS; i++) {
        const double along = 20 + 3 * i, to_and_fro = 100 + (i % 2 ? height : 0);
        up[i] = dt_point(along, to_and_fro);
        across[i] = dt_point(to_and_fro, along);
    }
    check_line(up, POINTS, corrections, within, TRUE);
    check_line(across, POINTS, corrections, within, TRUE);
}

/* Within a step and a half, as dt_machine_moves() promises; uncorrected it is much more. */
static void test_moves_allow_for_it(void)
{
    const double within = 1.5 / 49; /* of the default drive train */
    check_zigzag(TWISTED, within, TRUE);
    check_zigzag(TWISTED "backlash_x = 0.3 mm\nbacklash_y = 0.2 mm\n", within, TRUE);
    check_zigzag(TWISTED
                 "position_x = 0:0 150:0.3 300:0\npulley_error_x = 0.2 mm\nbacklash_x = 0.3 mm\n",
                 within, TRUE);
    check_zigzag(TWISTED, 0.06, FALSE);
    static const double heights[] = {0.2, 0.35, 0.6, 0.9, 1.7};
    for (gsize i = 0; i < G_N_ELEMENTS(heights); i++)
        check_teeth(TWISTED, heights[i], within);
}

static void test_it_is_a_correction_like_the_others(void)
{
    g_autoptr(DtProfile) p = profile(TWISTED), copy = dt_profile_copy(p);
    g_autofree char *template = dt_profile_template();
    g_assert_true(dt_machine_twists(p));
    dt_profile_drop_corrections(p);
    g_assert_false(dt_machine_twists(p));
    g_assert_true(dt_machine_twists(copy));
    g_assert_nonnull(strstr(template, "twist_x"));
    const DtBox with = dt_machine_reach(copy), without = dt_machine_reach(p);
    g_assert_cmpfloat(with.x0, >, without.x0);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/twist/lean", test_a_carriage_leans_by_the_other_axis);
    g_test_add_func("/twist/moves", test_moves_allow_for_it);
    g_test_add_func("/twist/correction", test_it_is_a_correction_like_the_others);
    return g_test_run();
}
