/* art-picture, private: shapes painted by cairo. */
#pragma once

#include "art-private.h"

#include <cairo.h>

typedef struct {
    const DtShape *shapes;
    gsize n_shapes;
    const DtClip *clips;
    const DtGroup *groups;
} ArtPicture;

/* How much a mask alone, without those around it, lets through. */
cairo_pattern_t *art_soft_pattern(const DtSoft *soft);

void art_picture_paint(const ArtPicture *a, cairo_t *cr);
