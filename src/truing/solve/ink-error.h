/* ink-error: how far off its place ink is by what a fit has found. 95 % of the errors of lines in all directions, all over
 * what was measured, are smaller. Private to the room. */
#pragma once

#include "truing/solve/model-fit.h"

/* By unknowns `first` to `first + n - 1` alone, beyond that of the values `has`; NULL: beyond none. mm; the unknowns are
 * as they were afterwards. */
double dt_ink_share(DtModel *m, int first, int n, const double *has);
/* By all unknowns but those that are left out, mm. */
double dt_ink_before(const DtModel *m, const gboolean *leave_out);
/* What remains once they were corrected: their uncertainty, and what does not repeat: `scatter` of each axis, driven towards
 * + and -, mm. NAN if the covariance is not positive definite. */
double dt_ink_after(const DtModel *m, const DtModelFit *fit, const gboolean *leave_out,
                    const double scatter[2][2]);
