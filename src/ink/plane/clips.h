/* clips (private to ink): a drawing's clips as clean regions, each made when first needed. */
#pragma once

#include "ink/plane/region.h"

typedef struct DtClips DtClips;

DtClips *dt_clips_new(const DtDrawing *d);
void dt_clips_free(DtClips *c);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtClips, dt_clips_free)

/* The region that clip number `clip` leaves, owned by `c`. Fails with DT_ERROR_INPUT if clips
 * refer to one another in a circle, or as dt_plane_build() does. */
const DtLines *dt_clips_region(DtClips *c, int clip, GError **error);
/* Replaces an area, by its rule, by its part inside a clip, whose rule is *rule then. */
gboolean dt_clips_cut_area(DtClips *c, int clip, DtLines *l, DtPlaneRule *rule, GError **error);
/* Replaces lines, painted `width` mm wide, by their parts inside a clip; a line along the edge,
 * outside by up to a quarter of its width, is kept, since part of it is visible. */
gboolean dt_clips_cut_lines(DtClips *c, int clip, double width, DtLines *l, GError **error);
/* Replaces lines by their parts inside a clean region. */
gboolean dt_clips_mask_lines(const DtLines *region, DtLines *l, GError **error);
/* Replaces lines by their parts outside a clean region. */
gboolean dt_clips_drop_lines(const DtLines *region, DtLines *l, GError **error);
