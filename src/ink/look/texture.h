/* texture (private to ink): areas of many parts that are narrower than the pen. */
#pragma once

#include "ink/look/compose.h"

#include <math.h>

/* A raster over what may be such an area. */
typedef struct {
    const DtCompose *c;
    double tip, step; /* mm; between places */
    DtBox box;
    int w, h;
    DtLab paper;
    DtLab *lab;      /* of each paint */
    gboolean *drawn; /* of each paint: it is not nearly the paper's colour */
    uint8_t *in;     /* of each place: it is part of the area; w * h, rows upwards */
} DtTexture;

static inline gboolean dt_texture_places(const DtTexture *t, double at, gboolean upright, int *out)
{
    const int i = (int)floor((at - (upright ? t->box.y0 : t->box.x0)) / t->step);
    *out = i;
    return i >= 0 && i < (upright ? t->h : t->w);
}

/* Finds them: FALSE if there are none. Areas less than ten tips wide are none, and where the strokes that their parts would
 * get do not cover far more than the parts. */
gboolean dt_texture_find(const DtCompose *c, DtTexture *t);
void dt_texture_clear(DtTexture *t);
/* Their places as a clean region. */
gboolean dt_texture_region(const DtTexture *t, DtLines *out, GError **error);
/* The mean colours there. Pieces where these show shapes are taken out of the texture. */
DtMeans *dt_texture_means(DtTexture *t);
