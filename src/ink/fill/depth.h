/* depth (private to ink): the inner depth of a region, without an inset. */
#pragma once

#include "ink/plane/region.h"

/* Possible error of dt_depth_exceeds(), mm. */
#define DT_DEPTH_SLACK 0.003

typedef enum { DT_DEPTH_LESS, DT_DEPTH_MORE, DT_DEPTH_UNKNOWN } DtDepth;

/* Whether some point inside a clean region is farther than `depth` (mm) from its edge, with an
 * error of at most DT_DEPTH_SLACK. Unknown if that would take longer than an inset. */
DtDepth dt_depth_exceeds(const DtLines *region, double depth);
