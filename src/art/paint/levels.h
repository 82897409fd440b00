/* levels, private: single-channel pictures, of masks and of strokes. */
#pragma once

#include "art/private.h"

/* Row by row, the outermost pixels on each side empty. */
typedef struct {
    int w, h;
    guint8 *level;
} ArtLevels;

#define ART_HALF_LEVEL 128 /* from this level on a mask lets through */

/* The closed contours of the half level, in pixels, the first sample at 0,0; appended to `out`. */
void dt_art_levels_trace(const ArtLevels *l, DtLines *out);

/* How much a mask lets through where it lets through at least half, seen within what `outer`
 * lets through. `to_px` maps the drawing's coordinates to pixels, whose samples are at their
 * centres. NULL if it is the same everywhere: *even is then the level, 0 to 1. */
const DtSoft *dt_art_mask_alpha_new(ArtReader *r, const ArtLevels *l, DtAffine to_px,
                                    const DtSoft *outer, double *even);
