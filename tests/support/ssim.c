/* ssim: the mean structural similarity, by its defining sums. */
#include "support/ssim.h"

#include <math.h>

enum { SIDE = 11 };
#define SIGMA 1.5
#define K1 0.01
#define K2 0.03

static void make_window(double *window)
{
    double sum = 0;
    for (int i = 0; i < SIDE * SIDE; i++) {
        const double x = i % SIDE - SIDE / 2, y = i / SIDE - SIDE / 2;
        sum += window[i] = exp(-(x * x + y * y) / (2 * SIGMA * SIGMA));
    }
    for (int i = 0; i < SIDE * SIDE; i++)
        window[i] /= sum;
}

static double at_window(const float *a, const float *b, int w, const double *window, double c1,
                        double c2)
{
    double ma = 0, mb = 0, aa = 0, bb = 0, ab = 0;
    for (int i = 0; i < SIDE * SIDE; i++) {
        const double x = (double)a[i / SIDE * w + i % SIDE], y = (double)b[i / SIDE * w + i % SIDE];
        ma += window[i] * x;
        mb += window[i] * y;
        aa += window[i] * x * x;
        bb += window[i] * y * y;
        ab += window[i] * x * y;
    }
    const double va = aa - ma * ma, vb = bb - mb * mb, cov = ab - ma * mb;
    return (2 * ma * mb + c1) * (2 * cov + c2) / ((ma * ma + mb * mb + c1) * (va + vb + c2));
}

double ssim_mean(const float *a, const float *b, int w, int h, double range)
{
    double window[SIDE * SIDE], sum = 0;
    const double c1 = K1 * range * K1 * range, c2 = K2 * range * K2 * range;
    size_t n = 0;
    make_window(window);
    for (int y = 0; y + SIDE <= h; y++)
        for (int x = 0; x + SIDE <= w; x++, n++)
            sum += at_window(a + (ptrdiff_t)y * w + x, b + (ptrdiff_t)y * w + x, w, window, c1, c2);
    return n > 0 ? sum / (double)n : 1;
}
