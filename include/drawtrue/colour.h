/* colour: colours of artwork and of pens. */
#pragma once

typedef struct {
    double r, g, b; /* sRGB, 0 to 1, not premultiplied */
    double alpha;   /* 0 to 1 */
} DtColour;

/* Relative luminance Y, 0 to 1, of an sRGB colour (IEC 61966-2-1). */
double dt_colour_luminance(DtColour c);
