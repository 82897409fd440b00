/* fit (private to ink): the grid on which a fill is hatched.
 *
 * On a given grid, length times pitch of a small area's hatch differs from the area by up to
 * half a pitch at either end. The mean over all shifts of the grid is exactly the area, so some
 * shift gives it; where edges run along the lines the number of lines jumps, and only a pitch
 * that divides the width does. */
#pragma once

#include "ink/fill/hatch.h"

typedef enum {
    DT_FIT_SHEET, /* the sheet's grid: open hatches are in register everywhere; a piece between
                   * two lines gets one along its centre */
    DT_FIT_SHIFT, /* each piece may shift it, so that the amount of ink is right */
    DT_FIT_EVEN,  /* the same, but a piece of very few lines has them symmetric to its middle */
    DT_FIT_PITCH, /* and reduce its pitch: length times its own pitch is the area */
} DtHatchFit;

/* The grid for one piece, a clean ring with its holes: `wanted` if length times pitch is within
 * a thousandth of the area, otherwise the smallest shift that achieves it, otherwise the widest
 * narrower pitch that does. With bands the pitch is divided by their lines. */
DtHatchGrid dt_hatch_fit(const DtLines *piece, DtHatchGrid wanted, DtHatchBand band,
                         DtHatchFit fit);

/* Called with each piece and its hatch, which is freed after the call. */
typedef void (*DtPieceFunc)(const DtHatching *h, const DtLines *piece, void *user);

/* Hatches a clean region piece by piece: a connected piece has one grid. Fails as
 * dt_hatch_lines() does. */
gboolean dt_hatch_pieces(const DtLines *region, DtHatchGrid wanted, DtHatchBand band,
                         DtHatchFit fit, DtPieceFunc each, void *user, GError **error);
