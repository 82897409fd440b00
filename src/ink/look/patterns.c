/* patterns: sums of blurred lines. */
#include "ink/look/patterns.h"

#include "ink/fill/fill.h"

#include <math.h>

double dt_pattern_line(double x, double w, double period, double sigma)
{
    double sum = 0, reach = 4 * sigma + w;
    int n = (int)ceil(reach / period) + 1;
    for (int k = -n; k <= n; k++) {
        double d = x - k * period, s = sigma * G_SQRT2;
        sum += (erf((d + w / 2) / s) - erf((d - w / 2) / s)) / 2;
    }
    return MIN(sum, 1);
}

double dt_pattern_hatch(int i, int n, double share, double tip, double sigma)
{
    const double period = tip / share;
    return share >= 1 ? 1 : dt_pattern_line((i + 0.5) / n * period / 2, tip, period, sigma);
}

double dt_pattern_tone(int i, int n, double share, double tip, double sigma, DtToneWay way)
{
    if (share <= 0 || share >= 1)
        return share;
    if (way == DT_TONE_EVEN)
        return dt_pattern_hatch(i, n, share, tip * dt_fill_lines_in_band(share), sigma);
    const double part = dt_pattern_hatch(i, n, MIN(share, 1 - share), tip, sigma);
    return share <= 0.5 ? part : 1 - part;
}
