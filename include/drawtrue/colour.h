/* colour: colours of artwork and pens. */
#pragma once

typedef struct {
    double r, g, b; /* sRGB, 0 to 1, not premultiplied */
    double alpha;   /* 0 to 1 */
} DtColour;

/* Whether two colours are the very same. */
static inline int dt_colour_equal(DtColour a, DtColour b)
{
    return a.r == b.r && a.g == b.g && a.b == b.b && a.alpha == b.alpha;
}

/* CIELAB (CIE 15) under D65. */
typedef struct {
    double l, a, b;
} DtLab;

/* Of an sRGB colour (IEC 61966-2-1); alpha is left out. */
DtLab dt_colour_lab(DtColour c);
/* From linear light, 0 to 1. */
DtLab dt_colour_lab_linear(double r, double g, double b);
/* CIEDE2000 with all weights 1 (Sharma, Wu and Dalal 2005, equations 2 to 22). */
double dt_colour_difference(DtLab p, DtLab q);
/* The linear light of one sRGB channel, 0 to 1 (IEC 61966-2-1). */
double dt_colour_linear(double v);
/* The sRGB channel, 0 to 1, of linear light: the inverse. */
double dt_colour_encoded(double light);

/* Relative luminance Y, 0 to 1, of an sRGB colour (IEC 61966-2-1). */
double dt_colour_luminance(DtColour c);
