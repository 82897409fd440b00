/* effect, private: filters and blends as pictures. */
#pragma once

#include "art/paint/picture.h"

#define ART_EFFECT_SIDE 640 /* px along the longer side of what a filter or a blend makes */

/* Premultiplied sRGB and alpha, 0 to 1, row by row. */
typedef struct {
    int w, h;
    float *px; /* g_free */
} ArtImage;

/* Within 0 and 1; what is no number, as the difference of two infinities, is 0. */
static inline double art_share(double v)
{
    return v > 0 ? MIN(v, 1) : 0;
}

ArtImage dt_art_image_new(int w, int h); /* clear */
ArtImage dt_art_image_from(cairo_surface_t *s);
void dt_art_image_draw(const ArtImage *a, cairo_surface_t *onto, cairo_operator_t how);
/* In linear light, or back; colours alone. */
void dt_art_image_linear(ArtImage *a, gboolean back);
/* Gaussian blur by three boxes (Filter Effects 1, 9.14); deviations in pixels. */
void dt_art_image_blur(ArtImage *a, double across, double down);

/* Paints shapes `from` to `to` into a picture of the sheet; those that the clip alone cuts are not
 * cut. */
ArtImage dt_art_image_of_shapes(ArtReader *r, const ArtPictureSheet *sheet, guint from, guint to,
                                int clip);
/* Puts a picture in the place of the shapes from `from` on. */
void dt_art_image_emit(ArtReader *r, const ArtNode *n, const ArtScope *scope,
                       const ArtPictureSheet *sheet, const ArtImage *a, guint from);

/* Does what a <filter> says; FALSE, with nothing done, where it has what is not drawn. */
gboolean dt_art_effect_filter(ArtReader *r, ArtNode *n, const ArtNode *filter, const ArtStyle *s,
                              const ArtScope *scope, guint from);

/* The colour map of feColorMatrix's types and of the filter functions that only recolour, as 20
 * numbers; FALSE for any other name. */
gboolean dt_art_colour_map(const char *name, double value, double m[20]);
