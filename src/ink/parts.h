/* parts (private to ink): where a paint that changes from place to place is drawn.
 *
 * Dense ink is there or it is not, so such a paint is taken apart: it is drawn where it hides at
 * least half of what lies beneath, but for where it looks like the paper. */
#pragma once

#include "pens.h"
#include "region.h"

typedef struct {
    gboolean all;   /* drawn all over the box; the rest is not made then */
    DtLines ink;    /* where it is drawn: clean */
    DtLines covers; /* `ink` and where it looks like the paper and hides what lies beneath: clean */
    DtColour mean;  /* over `ink`; alpha 1 */
} DtParts;

/* Looks at a tone within a box on a grid of `finest` mm or more; the places between are found to
 * 0.001 mm. A detail smaller than the grid may be missed. `asked`: a pen was asked for, which draws
 * what looks like the paper as well. Fails as dt_plane_build() does. */
gboolean dt_parts_find(const DtTone *tone, DtBox box, double finest, DtPens *pens,
                       gboolean asked, DtParts *out, GError **error);
void dt_parts_clear(DtParts *p);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtParts, dt_parts_clear)
