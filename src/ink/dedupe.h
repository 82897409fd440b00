/* dedupe (private to ink): coincident lines are drawn once. */
#pragma once

#include "drawtrue/ink.h"

/* Drops those parts of the strokes from `first` on, except fills, that run within `tolerance` mm
 * of an earlier stroke of the same pen, or of the same stroke farther back, in about the same or
 * the opposite direction, for at least a pen's width. What remains of a stroke keeps its order.
 * Time is about linear in the length of all lines and the number of their points. */
void dt_dedupe_strokes(DtStrokes *s, size_t first, const DtRack *rack, double tolerance);
