/* outliers: marks that are not where all others have them: smudges, hairs, folds. Private to the room. */
#pragma once

#include "truing/solve/model-fit.h"

/* Whether an item was left out, or has so little weight that it might have been. */
gboolean dt_item_is_outlier(const DtItem *item);
/* Marks those that stand among others of which most were left out: what has displaced these may have displaced them
 * as well, and nothing near them would show it. Returns whether there are any that were not left out before. */
gboolean dt_find_surrounded(DtModel *m);
/* Whether what was left out is so little that the rest is to be trusted: no more than one in five of the marks, and of the
 * pieces of long lines, and no more than half of any row; and whether no curve has a step that only a fold makes.
 * DT_ERROR_INPUT with the reason where it is not. */
gboolean dt_check_outliers(const DtModel *m, GError **error);
/* The axis of the row of marks that is displaced as a whole, by the long lines that cross it, and which row; of several
 * the one that is displaced by most of its deviations, since its neighbours then seem to be so to the other side. `off`:
 * by how much towards + of its axis, mm. -1 where there is none. */
int dt_find_displaced_row(const DtModel *m, const DtModelFit *fit, int *row, double *off);
/* Notes how many marks were left out and where they are, and a displaced row or a smaller step of a rail. */
void dt_note_outliers(const DtModel *m, const DtModelFit *fit, DtFigures *out);
