/* geos-region: our regions as geometries of GEOS, the outside witness for areas. */
#pragma once

#include "drawtrue/geom.h"
#include <geos_c.h>

/* The area enclosed by clean rings, holes left out; freed with GEOSGeom_destroy_r. */
GEOSGeometry *geos_from_rings(GEOSContextHandle_t g, const DtLines *rings);
/* Appends a geometry's rings, outer ones and holes, closed. */
void geos_to_rings(GEOSContextHandle_t g, const GEOSGeometry *a, DtLines *out);
double geos_area(GEOSContextHandle_t g, const GEOSGeometry *a);
/* How far two areas differ: the area that only one of them has, over the length of b's edge; mm. */
double geos_mean_gap(GEOSContextHandle_t g, const GEOSGeometry *a, const GEOSGeometry *b);
/* TRUE where shrinking what only one of them has by `by` mm leaves nothing: no place of either lies
 * deeper than that outside the other. */
gboolean geos_same_within(GEOSContextHandle_t g, const GEOSGeometry *a, const GEOSGeometry *b,
                          double by);
