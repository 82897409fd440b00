/* dark (private to ink): lines in two directions for dark tones. */
#pragma once

#include "ink/look/assign.h"

/* Gives areas that one pen draws dense, or nearly, lines of the same pen in two directions (a recipe that has the
 * pen twice): where that looks nearer, and as long as the ink of all areas together becomes longer by no more than
 * a fifth, since the machine's time grows with it. The gaps of one direction would close, or be so far apart that
 * they are seen. `tip` is that of the pens, mm. */
void dt_look_cross_dark(const DtAppear *appear, DtLookArea *areas, size_t n, double tip);
