/* picture, private: shapes painted by cairo. */
#pragma once

#include "art/private.h"

#include <cairo.h>

typedef struct {
    const DtShape *shapes;
    gsize n_shapes;
    const DtClip *clips;
    const DtGroup *groups;
} ArtPicture;

/* How much this mask alone lets through, without those around it. */
cairo_pattern_t *dt_art_mask_alpha_pattern(const DtSoft *soft);

void dt_art_picture_paint(const ArtPicture *a, cairo_t *cr);

/* A part of the page that is painted into pixels. */
typedef struct {
    DtBox box;    /* of the page that is pictured */
    double scale; /* px per mm */
    int w, h;     /* px, the border of one included on each side */
    cairo_surface_t *surface;
    cairo_t *cr;
} ArtPictureSheet;

/* Opens a sheet for a box of the page, at most `px` pixels along its longer side; FALSE if the
 * box is empty or, with the error set, too much would be painted. The caller destroys cr and
 * surface. */
gboolean dt_art_sheet_open(ArtReader *r, int line, DtBox box, double px, ArtPictureSheet *s);
/* From the page to the sheet's pixels, whose samples are at their centres. */
DtAffine dt_art_sheet_map(const ArtPictureSheet *s);
