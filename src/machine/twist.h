/* twist: a carriage that is loose on its rails leans as the other axis moves, and so shifts
 * along its own axis. Private to the room. */
#pragma once

#include "machine/tidy.h"

/* The lean of the carriages at `to`, after moving there straight from `from` (commanded mm): -1
 * to 1 each, +1 once the other axis has moved towards + over the distance that a twist takes. */
void dt_twist_lean(const DtProfile *p, double lean[2], DtPoint from, DtPoint to);
/* By how much the lean shifts the carriages, commanded mm. */
DtPoint dt_twist_shift(const DtProfile *p, DtPoint at, const double lean[2]);
/* Moves the points of one run, a GArray of DtCarriagePoint, so that the tip is where they were
 * although the carriages twist on the way; points are added where one changes its lean. `from`
 * and `lean` are the state of the carriage before it moves to the first point. `spare` is
 * another such array, used as scratch. */
void dt_twist_run(const DtProfile *p, DtPoint from, const double lean[2], GArray *points,
                  GArray *spare);
