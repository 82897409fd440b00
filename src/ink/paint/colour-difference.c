/* colour-difference: sRGB, CIELAB and CIEDE2000. */
#include "ink/paint/colour-difference.h"

#include <math.h>

double dt_colour_linear(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

double dt_colour_encoded(double light)
{
    return light <= 0.0031308 ? light * 12.92 : 1.055 * pow(light, 1 / 2.4) - 0.055;
}

double dt_colour_luminance(DtColour c)
{
    return 0.2126729 * dt_colour_linear(c.r) + 0.7151522 * dt_colour_linear(c.g) +
           0.0721750 * dt_colour_linear(c.b);
}

static double lab_f(double t)
{
    return t > 216.0 / 24389 ? cbrt(t) : (24389.0 / 27 * t + 16) / 116;
}

DtLab dt_colour_lab(DtColour c)
{
    return dt_colour_lab_linear(dt_colour_linear(c.r), dt_colour_linear(c.g),
                                dt_colour_linear(c.b));
}

DtLab dt_colour_lab_linear(double r, double g, double b)
{
    double x = 0.4124564 * r + 0.3575761 * g + 0.1804375 * b;
    double y = 0.2126729 * r + 0.7151522 * g + 0.0721750 * b;
    double z = 0.0193339 * r + 0.1191920 * g + 0.9503041 * b;
    double fx = lab_f(x / 0.95047), fy = lab_f(y), fz = lab_f(z / 1.08883);
    return (DtLab){116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)};
}

static double radians(double degrees)
{
    return degrees * G_PI / 180;
}

/* Hue angle in degrees, 0 to 360; 0 for a grey. */
static double hue(double a, double b)
{
    if (a == 0 && b == 0)
        return 0;
    double h = atan2(b, a) * 180 / G_PI;
    return h < 0 ? h + 360 : h;
}

static double mean_hue(double h1, double h2, gboolean grey)
{
    if (grey)
        return h1 + h2;
    if (fabs(h1 - h2) <= 180)
        return (h1 + h2) / 2;
    return h1 + h2 < 360 ? (h1 + h2 + 360) / 2 : (h1 + h2 - 360) / 2;
}

static double hue_step(double h1, double h2, gboolean grey)
{
    double d = h2 - h1;
    if (grey)
        return 0;
    return d > 180 ? d - 360 : d < -180 ? d + 360 : d;
}

static double seventh_root_term(double c)
{
    return sqrt(pow(c, 7) / (pow(c, 7) + 6103515625.0)); /* 25 to the 7th */
}

double dt_colour_difference(DtLab p, DtLab q)
{
    double g = 0.5 * (1 - seventh_root_term((hypot(p.a, p.b) + hypot(q.a, q.b)) / 2));
    double a1 = (1 + g) * p.a, a2 = (1 + g) * q.a;
    double c1 = hypot(a1, p.b), c2 = hypot(a2, q.b);
    double h1 = hue(a1, p.b), h2 = hue(a2, q.b);
    gboolean grey = c1 * c2 == 0;
    double dl = q.l - p.l, dc = c2 - c1;
    double dh = 2 * sqrt(c1 * c2) * sin(radians(hue_step(h1, h2, grey) / 2));
    double l = (p.l + q.l) / 2, c = (c1 + c2) / 2, h = mean_hue(h1, h2, grey);
    double t = 1 - 0.17 * cos(radians(h - 30)) + 0.24 * cos(radians(2 * h)) +
               0.32 * cos(radians(3 * h + 6)) - 0.20 * cos(radians(4 * h - 63));
    double turn = 30 * exp(-((h - 275) / 25) * ((h - 275) / 25));
    double rt = -2 * seventh_root_term(c) * sin(radians(2 * turn));
    double sl = 1 + 0.015 * (l - 50) * (l - 50) / sqrt(20 + (l - 50) * (l - 50));
    double sc = 1 + 0.045 * c, sh = 1 + 0.015 * c * t;
    dl /= sl, dc /= sc, dh /= sh;
    return sqrt(dl * dl + dc * dc + dh * dh + rt * dc * dh);
}

DtColour dt_colour_over(DtColour c, DtColour below)
{
    double k = c.alpha;
    return (DtColour){c.r * k + below.r * (1 - k), c.g * k + below.g * (1 - k),
                      c.b * k + below.b * (1 - k), 1};
}

double dt_ink_colour_distance(DtColour a, DtColour b)
{
    return dt_colour_difference(dt_colour_lab(a), dt_colour_lab(b));
}
