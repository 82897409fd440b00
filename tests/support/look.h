/* look: how near does ink on paper look to the artwork? It paints the planned lines at their pens'
 * widths and colours, inks multiplying, and holds them against librsvg's picture of the drawing, both
 * blurred as the eye blurs them from some distance. */
#pragma once

#include "support/witness.h"

/* Standard deviations of the luminance Gaussian of S-CIELAB (Zhang and Wandell 1997, the narrow one of
 * its three) on the paper, mm, from 40 cm and from 2 m. */
#define LOOK_NEAR 0.14
#define LOOK_FAR 0.70

/* Linear light, three planes one after the other, 0 to 1. */
typedef struct {
    int w, h;
    double px_per_mm;
    float *rgb;
    uint8_t *painted; /* where the artwork is painted; NULL in a picture of ink */
} LookPicture;

typedef struct {
    double rgb[3]; /* sRGB, 0 to 1 */
    double tip;    /* mm */
} LookPen;

/* librsvg's picture of an SVG on white, at half of sheet->px_per_mm; painted as witness_painted() has
 * it. Fails as that does. */
gboolean look_of_art(const char *svg, const WitnessSheet *sheet, LookPicture *out, GError **error);
/* The ink on white paper, at half of sheet->px_per_mm: each pen's lines are painted at its tip's
 * width, and the light that the inks let through is multiplied. */
void look_of_ink(const WitnessInk *ink, const LookPen *pens, size_t n_pens,
                 const WitnessSheet *sheet, LookPicture *out);
/* The artwork with each pixel in the nearest colour (CIEDE2000) that one pen has on white paper at any
 * coverage, 0 to 1 (Murray 1936): what a choice of one pen in each place comes to without tips, patterns
 * or edges. Without `painted`. */
void look_of_ideal(const LookPicture *art, const LookPen *pens, size_t n_pens, LookPicture *out);
void look_clear(LookPicture *p);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(LookPicture, look_clear)

/* Blurs by a Gaussian of this standard deviation, mm, into a new picture without `painted`. */
void look_blur(const LookPicture *p, double sigma_mm, LookPicture *out);

/* Mean CIEDE2000 and mean |L* difference| of two pictures of one size, where `painted`. */
typedef struct {
    double difference, lightness;
    size_t n; /* pixels looked at */
} LookFigures;
LookFigures look_compare(const LookPicture *art, const LookPicture *ink, const uint8_t *painted);

/* The edges of a blurred picture: Canny 1986 on L*, a* and b* together (the gradient of the vector
 * picture by Di Zenzo 1986), thinned and linked between steps of about 5 and 10 units. w*h, 1 on an
 * edge; g_free(). */
uint8_t *look_edges(const LookPicture *blurred);
/* The share of the edges of `art` that have one of `ink` within `reach` mm; 1 where there are none. */
double look_edges_kept(const uint8_t *art, const uint8_t *ink, const LookPicture *size,
                       double reach);

/* The picture as a PNG, for people. */
gboolean look_write_png(const LookPicture *const *side_by_side, size_t n, const char *path);
