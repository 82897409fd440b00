/* means (private to ink): mean colours on a grid. */
#pragma once

#include "drawtrue/ink.h"

typedef struct {
    int w, h;
    DtPoint at;       /* the middle of the first place */
    double step;      /* mm between places */
    float *rgb;       /* sRGB, 3 * w * h, rows upwards */
    DtColour overall; /* the mean of all, alpha 1 */
} DtMeans;

/* Interpolated linearly; beyond the grid that of the nearest place. */
DtColour dt_means_at(const DtMeans *m, DtPoint p);
void dt_means_free(DtMeans *m);
