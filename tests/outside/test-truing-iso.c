/* truing against ISO 230-2: figures of an axis worked by hand, and the vernier principle. */
#include "drawtrue/truing.h"

#include <math.h>

/* Three places. By hand, mm:
 *   place 1: up 0.010, down 0.030, s 0.002 and 0.003: B -0.020, mean 0.020, R max(0.030, 0.008, 0.012)
 *   place 2: up 0.000, down 0.024, s 0.001 and 0.001: B -0.024, mean 0.012, R max(0.028, 0.004)
 *   place 3: up -0.012, down -0.004, s 0.006 and 0.001: B -0.008, mean -0.008, R max(0.022, 0.024)
 * Axis: B 0.024, mean of B -0.0173, M 0.028, R 0.030, E 0.030 - -0.012, A 0.036 - -0.024. */
static void test_axis_figures_worked_by_hand(void)
{
    const DtAxisPlace p[] = {{0, 0.010, 0.030, 0.002, 0.003},
                             {100, 0.000, 0.024, 0.001, 0.001},
                             {200, -0.012, -0.004, 0.006, 0.001}};
    DtAxisFigures f;
    dt_truing_iso_230_2(p, G_N_ELEMENTS(p), &f);
    g_assert_cmpfloat_with_epsilon(f.reversal, 0.024, 1e-12);
    g_assert_cmpfloat_with_epsilon(f.mean_reversal, -0.052 / 3, 1e-12);
    g_assert_cmpfloat_with_epsilon(f.mean_bidirectional, 0.028, 1e-12);
    g_assert_cmpfloat_with_epsilon(f.repeatability, 0.030, 1e-12);
    g_assert_cmpfloat_with_epsilon(f.systematic, 0.042, 1e-12);
    g_assert_cmpfloat_with_epsilon(f.accuracy, 0.060, 1e-12);
}

/* A machine with nothing but lost motion of 0.2 mm: all figures are that. */
static void test_lost_motion_alone(void)
{
    const DtAxisPlace p[] = {{0, 0, 0.2, 0, 0}, {50, 0, 0.2, 0, 0}};
    DtAxisFigures f;
    dt_truing_iso_230_2(p, G_N_ELEMENTS(p), &f);
    g_assert_cmpfloat(f.reversal, ==, 0.2);
    g_assert_cmpfloat(f.mean_bidirectional, ==, 0);
    g_assert_cmpfloat(f.repeatability, ==, 0.2);
    g_assert_cmpfloat(f.accuracy, ==, 0.2);
}

/* The vernier principle: with a least count c, the k-th tick meets its neighbour where the combs are k c
 * apart (common practice, no source). Every tick of every slack vernier of a sheet. */
static void test_vernier_principle(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    p->steps_per_mm[0] = p->steps_per_mm[1] =
        100; /* ticks stand on whole steps, and so does this count */
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, DT_SHEET_SLACK, "2026-03-14", 1, &error);
    g_assert_no_error(error);
    const double least_mm = 0.04;
    unsigned pairs = 0;
    for (size_t i = 0; i < s->n; i++)
        for (size_t j = 0; j < s->n; j++) {
            const DtMark *a = &s->marks[i], *b = &s->marks[j];
            if (a->kind != DT_MARK_COMB || b->kind != DT_MARK_VERNIER || a->row != b->row ||
                a->place != b->place)
                continue;
            const double apart = a->axis == 0 ? a->from.x - b->from.x : a->from.y - b->from.y;
            g_assert_cmpfloat_with_epsilon(apart, a->place * least_mm, 1e-9);
            g_assert_cmpint(a->approach[a->axis], ==, 1);
            g_assert_cmpint(b->approach[b->axis], ==, -1);
            pairs++;
        }
    g_assert_cmpuint(pairs, >, 60);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/truing/iso-230-2", test_axis_figures_worked_by_hand);
    g_test_add_func("/outside/truing/lost-motion", test_lost_motion_alone);
    g_test_add_func("/outside/truing/vernier", test_vernier_principle);
    return g_test_run();
}
