/* coverage: what share of a piece of paper ink covers, counted on a picture that cairo draws. */
#pragma once

#include <cairo.h>

#include "drawtrue/geom.h"

/* The law of tone: the sRGB value (IEC 61966-2-1), 0 to 1, of the grey that looks as light as white
 * paper of which ink of luminance `solid` covers a share (Murray 1936, after Davies). */
double coverage_grey(double share, double solid);
/* Luminance of an sRGB value, 0 to 1 (IEC 61966-2-1). */
double coverage_linear(double value);

/* A box of paper, mm. */
typedef struct {
    cairo_surface_t *surface;
    cairo_t *cr;
    int w, h;
} Paper;

Paper paper_new(DtBox box);
/* A line of n points, x and y by turns, mm, by a pen with a round tip. */
void paper_draw(Paper *p, const double *xy, size_t n, gboolean closed, double tip);
/* The share of the box that is covered; frees the paper. */
double paper_share(Paper *p);
