/* outside: the structural similarity that pictures are judged by has the properties of its paper (Wang, Bovik,
 * Sheikh and Simoncelli 2004, sections III.B and III.C): it is symmetric, at most 1 and 1 for equal pictures
 * alone; of even pictures only the term of luminance is left; of pictures that differ in contrast alone,
 * that of contrast; a reversed pattern is negative. */
#include "support/ssim.h"

#include <math.h>

enum { W = 32, H = 24 };

static void fill(float *p, GRand *r, double mean, double spread)
{
    for (int i = 0; i < W * H; i++)
        p[i] = (float)(mean + g_rand_double_range(r, -spread, spread));
}

static void test_equal_pictures_alone_reach_one(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(2004);
    float a[W * H], b[W * H];
    for (int i = 0; i < 20; i++) {
        fill(a, r, 0.5, 0.4);
        fill(b, r, 0.5, 0.4);
        g_assert_cmpfloat_with_epsilon(ssim_mean(a, a, W, H, 1), 1, 1e-12);
        const double s = ssim_mean(a, b, W, H, 1);
        g_assert_cmpfloat(s, <, 1);
        g_assert_cmpfloat_with_epsilon(s, ssim_mean(b, a, W, H, 1), 1e-12);
    }
}

/* Equation 6 of the paper: l = (2 a b + C1) / (a^2 + b^2 + C1), C1 = (0.01 L)^2. */
static void test_even_pictures_leave_luminance(void)
{
    float a[W * H], b[W * H];
    const double pairs[][2] = {{0.2, 0.8}, {0.5, 0.6}, {0.0, 1.0}, {0.9, 0.9}};
    for (size_t k = 0; k < G_N_ELEMENTS(pairs); k++) {
        const double x = (float)pairs[k][0], y = (float)pairs[k][1];
        for (int i = 0; i < W * H; i++) {
            a[i] = (float)x;
            b[i] = (float)y;
        }
        const double l = (2 * x * y + 1e-4) / (x * x + y * y + 1e-4);
        g_assert_cmpfloat_with_epsilon(ssim_mean(a, b, W, H, 1), l, 1e-9);
    }
}

/* Of one mean in each window and proportional patterns, structure being equal, contrast is left: equation 9,
 * c = (2 s t + C2) / (s^2 + t^2 + C2), C2 = (0.03 L)^2. Stripes of a period that the window averages have about
 * one mean everywhere. */
static void test_contrast_and_reversal(void)
{
    float a[W * H], half[W * H], back[W * H];
    for (int i = 0; i < W * H; i++) {
        const double stripe = (i % W + i / W) % 2 ? 0.3 : -0.3;
        a[i] = (float)(0.5 + stripe);
        half[i] = (float)(0.5 + stripe / 2);
        back[i] = (float)(0.5 - stripe);
    }
    const double s = 0.3, t = 0.15, c2 = 9e-4;
    g_assert_cmpfloat_with_epsilon(ssim_mean(a, half, W, H, 1),
                                   (2 * s * t + c2) / (s * s + t * t + c2), 2e-3);
    g_assert_cmpfloat_with_epsilon(ssim_mean(a, back, W, H, 1),
                                   (-2 * s * s + c2) / (2 * s * s + c2), 2e-3);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/ssim/equal", test_equal_pictures_alone_reach_one);
    g_test_add_func("/outside/ssim/luminance", test_even_pictures_leave_luminance);
    g_test_add_func("/outside/ssim/contrast", test_contrast_and_reversal);
    return g_test_run();
}
