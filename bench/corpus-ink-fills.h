/* corpus-ink: every filled shape by itself, its hatch held against GEOS and against the promise
 * that no line is missing. */
#pragma once

#include "drawtrue/ink.h"

typedef struct {
    size_t shapes;               /* larger than five pens both ways */
    size_t intervals, lifts;     /* of their hatches, plain and joined */
    double length_mm2, area_mm2; /* hatch length times pitch, and inset area by GEOS: sums */
    GArray *apart;             /* double: how far these two are apart, as a share, shape by shape */
    size_t lines, wrong_lines; /* held against GEOS's intersection; off by more than 1e-6 mm */
    size_t points, bare_points; /* inside insets; farther from ink than the promise allows */
    size_t joins_outside;       /* points of joins more than 0.01 mm outside the inset */
} FillTotals;

void fill_totals_init(FillTotals *t);
void fill_totals_clear(FillTotals *t);
void judge_fills(const DtDrawing *d, double tip, FillTotals *t);
void print_fill_totals(FillTotals *t);
