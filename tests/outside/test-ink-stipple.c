/* outside: stipple by weighted centroidal Voronoi points: Secord 2002 (the energy never rises), Lloyd 1982;
 * Ulichney 1987 (the spectrum has little power at low frequencies and no preferred direction). */
#include "coverage.h"
#include "ink/picture/stipple.h"

#include <math.h>

#define TIP 0.4
enum { ROUNDS = 24 };

static double even(DtPoint at, void *user)
{
    (void)at;
    return *(const double *)user;
}

static double ramp(DtPoint at, void *user)
{
    (void)user;
    return CLAMP(at.x / 40, 0, 1);
}

static void square(double size, DtLines *out)
{
    DtPoint p[4] = {{0, 0}, {size, 0}, {size, size}, {0, size}};
    dt_lines_init(out);
    dt_lines_append(out, p, 4, TRUE);
}

static void test_energy_never_rises(void)
{
    g_auto(DtLines) region;
    g_auto(DtShareGrid) g = {0};
    square(40, &region);
    dt_share_grid_make(&region, ramp, NULL, TIP / 8, 4000000, &g);
    double energy[ROUNDS];
    g_autofree DtPoint *p = dt_stipple_points(&g, 2000, TIP, DT_POINTS_DOTS, ROUNDS, energy);
    for (int i = 1; i < ROUNDS; i++)
        g_assert_cmpfloat(energy[i], <=, energy[i - 1] * (1 + 1e-9));
    g_assert_cmpfloat(energy[ROUNDS - 1], <, 0.8 * energy[0]);
}

/* Dots cover what was asked for. */
static void test_dots_cover_the_share(void)
{
    for (int i = 1; i <= 9; i++) {
        double share = i / 10.0;
        g_auto(DtLines) region;
        g_auto(DtShareGrid) g = {0};
        square(30, &region);
        dt_share_grid_make(&region, even, &share, TIP / 8, 4000000, &g);
        size_t n = dt_stipple_count(&g, TIP, DT_POINTS_DOTS);
        g_autofree DtPoint *p = dt_stipple_points(&g, n, TIP, DT_POINTS_DOTS, ROUNDS, NULL);
        Paper paper = paper_new((DtBox){3, 3, 27, 27});
        for (size_t k = 0; k < n; k++) {
            double dot[4] = {p[k].x, p[k].y, p[k].x + 0.001, p[k].y};
            paper_draw(&paper, dot, 2, FALSE, TIP);
        }
        double got = paper_share(&paper);
        g_test_message("asked %.2f, covered %.3f", share, got);
        g_assert_cmpfloat(fabs(got - share), <=, 0.02);
    }
}

/* Power of the points at a wave, over what points without order have (1). */
static double power(const DtPoint *p, size_t n, double fx, double fy)
{
    double c = 0, s = 0;
    for (size_t i = 0; i < n; i++) {
        double a = 2 * G_PI * (fx * p[i].x + fy * p[i].y);
        c += cos(a);
        s += sin(a);
    }
    return (c * c + s * s) / (double)n;
}

/* Radially averaged power and its spread over directions (anisotropy). Waves fit into the square, whose own
 * spectrum is then nought. */
static void test_spectrum_shows_no_grid(void)
{
    double share = 0.2, size = 30, low = 0, most = 0;
    g_auto(DtLines) region;
    g_auto(DtShareGrid) g = {0};
    square(size, &region);
    dt_share_grid_make(&region, even, &share, TIP / 8, 4000000, &g);
    size_t n = dt_stipple_count(&g, TIP, DT_POINTS_DOTS);
    g_autofree DtPoint *p = dt_stipple_points(&g, n, TIP, DT_POINTS_DOTS, ROUNDS, NULL);
    double principal = sqrt((double)n) / size; /* Ulichney: the square root of dots per area */
    int n_low = 0;
    for (int x = 0; x < 50; x++)
        for (int y = -50; y < 50; y++) {
            double f = hypot(x, y) / size;
            if (f == 0 || f > 1.2 * principal)
                continue;
            double v = power(p, n, x / size, y / size);
            most = MAX(most, v);
            if (f < 0.5 * principal) {
                low += v;
                n_low++;
            }
        }
    g_test_message("power below half of the principal frequency %.3f, most %.1f of %zu points",
                   low / n_low, most, n);
    g_assert_cmpfloat(low / n_low, <, 0.2);
    g_assert_cmpfloat(most, <, 0.2 * (double)n); /* of a grid the waves of its rows have n */
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/ink-stipple/energy", test_energy_never_rises);
    g_test_add_func("/outside/ink-stipple/share", test_dots_cover_the_share);
    g_test_add_func("/outside/ink-stipple/spectrum", test_spectrum_shows_no_grid);
    return g_test_run();
}
