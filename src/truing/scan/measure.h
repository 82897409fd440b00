/* measure: where the middle of a line lies, to a small part of a pixel. Private to the room. */
#pragma once

#include "truing/scan/scan-picture.h"

typedef struct {
    double offset;   /* of its middle from where it was looked for, along the normal, pixels */
    double sd;       /* standard uncertainty of it, pixels */
    double width;    /* pixels */
    double contrast; /* of the ink, as a share of the paper's brightness */
} DtScanLine;

/* Measures a straight piece of line near `at` (pixels) in the direction `along` (a unit vector), over
 * `half` pixels either way; it may lie up to `reach` pixels off, and nothing else may. The normal is
 * `along` turned by a quarter, (-y, x). FALSE where there is no such line. */
gboolean dt_scan_measure_line(const DtScanPicture *p, DtPoint at, DtPoint along, double half,
                              double reach, DtScanLine *out);
/* How far from `at` the middle of what is dark lies along `across` (a unit vector), within `reach` pixels either way,
 * where nothing else may lie; pixels; NAN where it is not clear. */
double dt_scan_middle(const DtScanPicture *p, DtPoint at, DtPoint across, double reach);
