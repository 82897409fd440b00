/* fit (private to ink): which grid a fill is hatched on.
 *
 * On a grid given beforehand, length times pitch of a small area's hatch misses the area itself by
 * up to half a pitch at either end. The mean over all shifts of the grid is the area exactly, so
 * some shift meets it; where edges run along the lines the count of lines jumps and only a pitch
 * that divides the width does. */
#pragma once

#include "ink/fill/hatch.h"

typedef enum {
    DT_FIT_SHEET, /* the sheet's grid: open hatches meet in register everywhere; a piece that lies
                   * between two lines gets one along its middle */
    DT_FIT_SHIFT, /* each piece may shift it: the amount of ink is right */
    DT_FIT_PITCH, /* and narrow its pitch: length times its own pitch is the area */
} DtHatchFit;

/* The grid for one piece, a clean ring with its holes: `wanted` where length times pitch is within a
 * thousandth of the area, else the smallest shift that is, else the widest narrower pitch that is.
 */
DtHatchGrid dt_hatch_fit(const DtLines *piece, DtHatchGrid wanted, DtHatchFit fit);

/* Called with each piece and its hatch, which goes with the call. */
typedef void (*DtPieceFunc)(const DtHatching *h, const DtLines *piece, void *user);

/* Hatches a clean region piece by piece: what hangs together is on one grid. Fails as
 * dt_hatch_lines() does. */
gboolean dt_hatch_pieces(const DtLines *region, DtHatchGrid wanted, DtHatchFit fit,
                         DtPieceFunc each, void *user, GError **error);
