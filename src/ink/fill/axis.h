/* axis (private to ink): the chordal axis of narrow areas. */
#pragma once

#include "ink/plane/plane.h"

/* Length of a dot's line, mm. */
#define DT_AXIS_DOT 0.01

/* Appends the centre lines of areas (clean rings) that are nowhere much wider than 2 * by mm.
 * Twigs shorter than the width of the area are dropped; where nothing else is left there is a dot. */
void dt_axis_lines(const DtLines *rings, double by, DtLines *out);

/* About the number of samples of their edges, to which time and memory are in proportion. */
double dt_axis_samples(const DtLines *rings, double by);
