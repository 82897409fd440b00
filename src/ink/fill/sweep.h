/* sweep (private to ink): lines with which a pen covers what lines along the edge leave bare. */
#pragma once

#include "drawtrue/base.h"
#include "drawtrue/ink.h"

/* Appends lines at an angle such that a pen `pitch` mm wide covers all of a clean region, and none
 * of their points is farther than half a pitch from it, so that they may go where the pen has been
 * along the edge. Neighbouring lines are joined if the join is at most `reach` mm long. *done is
 * FALSE if no lines were found, which happens where rings touch. Fails as dt_hatch_lines() does. */
gboolean dt_fill_sweep(const DtLines *bare, double angle, double pitch, double reach, DtLines *out,
                       gboolean *done, GError **error);
