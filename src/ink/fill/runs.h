/* runs (private to ink): runs of a hatch that is drawn in parts, joined where they end side by side. */
#pragma once

#include "ink/fill/hatch.h"

/* Joins runs on adjacent lines of a grid, or of bands in it: from the end of one straight to the end of another that
 * is at most `reach` mm along the lines from it. Each run is a line of two points in the direction of the grid; they
 * are in rising order of their lines, and along each of these. */
void dt_fill_join_runs(const DtLines *runs, DtHatchGrid grid, DtHatchBand band, double reach,
                       DtLines *out);
