/* axis (private to ink): the chordal axis of narrow areas. */
#pragma once

#include "ink/plane/plane.h"

/* Appends the middle lines of areas (clean rings) that are nowhere much wider than 2 * by mm. Twigs
 * shorter than the area is wide are left out. */
void dt_axis_lines(const DtLines *rings, double by, DtLines *out);
