/* effect, private: filters and blends computed as pictures. */
#pragma once

#include "art/paint/picture.h"

#define ART_EFFECT_SIDE 640 /* px along the longer side of the result of a filter or a blend */

/* Premultiplied sRGB and alpha, 0 to 1, row by row. */
typedef struct {
    int w, h;
    float *px; /* g_free */
} ArtImage;

/* Clamped to 0..1; NaN, as from the difference of two infinities, becomes 0. */
static inline double art_share(double v)
{
    return v > 0 ? MIN(v, 1) : 0;
}

ArtImage dt_art_image_new(int w, int h); /* clear */
ArtImage dt_art_image_from(cairo_surface_t *s);
void dt_art_image_draw(const ArtImage *a, cairo_surface_t *onto, cairo_operator_t how);
/* To linear light, or back; colours only. */
void dt_art_image_linear(ArtImage *a, gboolean back);
/* Gaussian blur by three boxes (Filter Effects 1, 9.14); deviations in pixels. */
void dt_art_image_blur(ArtImage *a, double across, double down);

/* Paints shapes `from` to `to` into a picture of the sheet; shapes that are only cut by the clip
 * are not cut here. */
ArtImage dt_art_image_of_shapes(ArtReader *r, const ArtPictureSheet *sheet, guint from, guint to,
                                int clip);
/* Replaces the shapes from `from` on by a picture. */
void dt_art_image_emit(ArtReader *r, const ArtNode *n, const ArtScope *scope,
                       const ArtPictureSheet *sheet, const ArtImage *a, guint from);

/* Attributes of a filter step; NULL, or `missing`, where it does not have them. */
const char *dt_art_step_attr(const ArtNode *n, const char *key);
double dt_art_step_number(const ArtNode *n, const char *key, double missing);
/* feComposite and feBlend: `a` becomes what the step makes of it and of `b`, its second input;
 * feColorMatrix and feComponentTransfer recolour `a`. FALSE for a kind that is not known. */
gboolean dt_art_image_composite(const ArtNode *n, ArtImage *a, const ArtImage *b);
gboolean dt_art_image_mix(const ArtNode *n, ArtImage *a, const ArtImage *b);
gboolean dt_art_image_color_matrix(const ArtNode *n, ArtImage *a);
gboolean dt_art_image_transfer(const ArtNode *n, ArtImage *a);

/* Applies a <filter>; FALSE, with nothing done, if it has something that cannot be drawn. */
gboolean dt_art_effect_filter(ArtReader *r, ArtNode *n, const ArtNode *filter, const ArtStyle *s,
                              const ArtScope *scope, guint from);

/* The colour matrix, as 20 numbers, of feColorMatrix's types and of the filter functions that
 * only recolour; FALSE for any other name. */
gboolean dt_art_colour_map(const char *name, double value, double m[20]);
