/* depth (private to ink): how deep a region is, without an inset. */
#pragma once

#include "ink/plane/region.h"

/* How far off dt_depth_exceeds() may be, mm. */
#define DT_DEPTH_SLACK 0.003

typedef enum { DT_DEPTH_LESS, DT_DEPTH_MORE, DT_DEPTH_UNKNOWN } DtDepth;

/* Whether some place inside a clean region is farther than `depth` (mm) from its edge, by at most
 * DT_DEPTH_SLACK too much. Unknown where that would take longer than an inset. */
DtDepth dt_depth_exceeds(const DtLines *region, double depth);
