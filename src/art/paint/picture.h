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

/* How much a mask alone, without those around it, lets through. */
cairo_pattern_t *dt_art_mask_alpha_pattern(const DtSoft *soft);

void dt_art_picture_paint(const ArtPicture *a, cairo_t *cr);
