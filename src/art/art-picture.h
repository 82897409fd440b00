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

void art_picture_paint(const ArtPicture *a, cairo_t *cr);
