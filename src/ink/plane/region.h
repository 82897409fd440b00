/* region (private to ink): areas as rings, and operations on them.
 *
 * A clean region is what dt_plane_region() gives: simple rings with the area on their left. */
#pragma once

#include "ink/plane/plane.h"

/* Converts outlines with any rule to a clean region, appended to `out`. */
gboolean dt_region_clean(const DtLines *outline, DtPlaneRule rule, DtLines *out, GError **error);
/* The part of `a` (by its rule) that is inside the clean region `b`, or outside of it. */
gboolean dt_region_intersect(const DtLines *a, DtPlaneRule rule, const DtLines *b, DtLines *out,
                             GError **error);
gboolean dt_region_subtract(const DtLines *a, DtPlaneRule rule, const DtLines *b, DtLines *out,
                            GError **error);
/* The part of a clean region at `by` > 0 mm or more from its edge; or, if by < 0, the region
 * with everything within -by mm of it. Round corners are arcs within 0.0005 mm (finer if little
 * is left), or 0.005 mm. */
gboolean dt_region_inset(const DtLines *a, double by, DtLines *out, GError **error);
/* The region with fewer points: no ring moves by more than `tolerance` mm (Douglas and Peucker
 * 1973). */
void dt_region_simplify(const DtLines *a, double tolerance, DtLines *out);
/* Area by the sum of the signed rings, mm^2. */
double dt_region_area(const DtLines *a);
