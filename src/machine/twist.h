/* twist: a carriage that is loose on its rails leans over as the other axis moves, and so shifts along
 * its own. Private to the room. */
#pragma once

#include "machine/tidy.h"

/* How the carriages lean at `to`, having gone there straight from `from` (commanded mm): -1 to 1 each, +1
 * where the other axis has gone towards + over the way that a twist takes. */
void dt_twist_lean(const DtProfile *p, double lean[2], DtPoint from, DtPoint to);
/* By how much the lean shifts the carriages, commanded mm. */
DtPoint dt_twist_shift(const DtProfile *p, DtPoint at, const double lean[2]);
/* Moves the points of one run, a GArray of DtCarriagePoint, so that the tip is where they were although the
 * carriages twist on the way; points are added where one leans over. `from` and `lean` are how the carriage
 * stands before it goes to the first one. `spare` is another such array for its own use. */
void dt_twist_run(const DtProfile *p, DtPoint from, const double lean[2], GArray *points,
                  GArray *spare);
