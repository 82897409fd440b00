/* axis (private to ink): the chordal axis of narrow areas. */
#pragma once

#include "ink/plane/plane.h"

/* Appends the centre lines of areas (clean rings) that are nowhere much wider than 2 * by mm.
 * Twigs shorter than the width of the area are dropped. */
void dt_axis_lines(const DtLines *rings, double by, DtLines *out);
