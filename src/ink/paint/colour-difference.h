/* colour (private to ink): from sRGB to CIELAB, and how different two colours look. */
#pragma once

#include "drawtrue/ink.h"

typedef struct {
    double l, a, b;
} DtLab;

/* CIELAB (CIE 15) under D65 of an sRGB colour (IEC 61966-2-1); alpha is left out. */
DtLab dt_colour_lab(DtColour c);
/* The same of linear light, 0 to 1. */
DtLab dt_colour_lab_linear(double r, double g, double b);
/* CIEDE2000 with all weights 1 (Sharma, Wu and Dalal 2005, equations 2 to 22). */
double dt_colour_difference(DtLab p, DtLab q);
/* c over the opaque colour `below`, mixed in sRGB as SVG does. */
DtColour dt_colour_over(DtColour c, DtColour below);
