/* edge-rows (private to ink): which paint is seen along the rows of a raster. */
#pragma once

#include "drawtrue/ink.h"

/* Row i of a raster is at y = box.y0 + (i + 0.5) * step, or at x = box.x0 + (i + 0.5) * step if it is `upright`. */
typedef struct {
    const GArray *regions; /* DtLines, by paint: clean, apart from one another */
    DtBox box;
    double step;
    double
        tip; /* a ring shorter than the edge of the smallest dot that its pen makes counts as long */
    gboolean upright;
} DtScan;

/* Where the paint changes along a row. */
typedef struct {
    double at;          /* mm, along the row */
    int before, beyond; /* the paints; -1: the paper */
    double
        edge; /* mm of edge that it stands for: each edge counts in the rows that it crosses more steeply */
} DtScanChange;

/* Calls `row` for each row with changes, in rising order. The paint before the first is the paper. */
typedef void (*DtScanRow)(int row, const DtScanChange *changes, size_t n, void *user);
void dt_scan_rows(const DtScan *s, DtScanRow row, void *user);

/* How many times as long a ring counts as it is. */
double dt_scan_ring_weight(const DtLines *l, size_t ring, double tip);
