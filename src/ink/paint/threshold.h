/* threshold (private to ink): where a varying paint is drawn.
 *
 * Dense ink is either there or not, so such a paint is divided: it is drawn where it hides at
 * least half of what lies beneath, except where it looks like the paper. */
#pragma once

#include "ink/paint/layers.h"
#include "ink/paint/pens.h"
#include "ink/plane/region.h"

/* What is visible from place to place. */
typedef struct {
    DtSeen (*at)(DtPoint p, void *user);
    void *user;
} DtView;

typedef struct {
    gboolean all;   /* drawn all over the box; the rest is then not computed */
    DtLines ink;    /* where it is drawn: clean */
    DtLines covers; /* `ink` plus where it looks like the paper and hides what lies beneath:
                     * clean */
    DtSeen mean;    /* mean over what is drawn; its alpha is 1; the pen requested in most of it */
} DtThreshold;

/* Samples a box on a grid of `finest` mm or more; the contours are located to 0.001 mm. A detail
 * smaller than the grid may be missed. Fails as dt_plane_build() does. */
gboolean dt_threshold_find(DtView sight, DtBox box, double finest, DtPens *pens, DtThreshold *out,
                           GError **error);
void dt_threshold_clear(DtThreshold *p);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtThreshold, dt_threshold_clear)

/* Whether the visible paint hides what lies beneath it: it is drawn, or looks like the paper. */
gboolean dt_threshold_hides(DtSeen seen, DtPens *pens);
