/* dark (private to ink): lines in two directions for dark tones. */
#pragma once

#include "ink/look/assign.h"

/* The most that each direction covers: with more the gaps would be too narrow for single lines, and crossed bands are
 * rough. */
#define DT_LOOK_MOST_EACH 0.83

/* Gives areas that one pen draws dense, or nearly, lines of the same pen in two directions (a recipe that has the
 * pen twice) where that looks nearer by one unit, and no farther from 40 cm. The gaps of one direction
 * would close, or be so far apart that they are seen. The lines are up to 1.7 times as long. */
void dt_look_cross_dark(const DtAppear *appear, DtLookArea *areas, size_t n);
