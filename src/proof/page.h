/* page: shared by the files that draw a proof. Private to proof. */
#pragma once

#include "proof/private.h"

/* Sizes for a picture of width BASE; everything scales with the width. */
enum { BASE = 1200, PAD = 28, HEADER = 62, FOOTER = 46, COLUMN = 268, GAP = 26 };

typedef struct {
    const DtProofInput *in;
    DtProofTrace trace;
    DtProofPen *pens;
    size_t *used; /* the pens that draw, in drawing order */
    size_t n_used;
    double k; /* picture units per unit of the sizes above */
    double width, height;
    DtProofFrame frame; /* the sheet, large */
    DtProofFrame map;   /* the bed, small */
    double column_x;
    char *figures;
} DtProofPage;

/* The order of a long drawing uses all the space there is. */
static inline gboolean dt_proof_shows_artwork(const DtProofInput *in)
{
    return in->look && !in->order;
}

/* Draws the column beside the sheet: the bed, the pens and the breakdown of the time. The height
 * is in picture units. */
double dt_proof_column_height(const DtProofPage *g);
void dt_proof_draw_column(cairo_t *cr, const DtProofPage *g);
