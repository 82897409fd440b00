/* scan-part: what the marks for a scan look like. Private to the room. */
#pragma once

#include "drawtrue/truing.h"

#define DT_SHEET_FINDER_MM 8.0     /* length of a finder's strokes */
#define DT_SHEET_FINDER_GAP_MM 3.0 /* between two that are parallel */
#define DT_SHEET_STROKE_MM 4.0     /* length of a mark of a row */

/* A stroke for each bit of the number: from this far above the middle of its place upwards for 1, from as
 * far below it downwards for 0. */
#define DT_SHEET_BIT_MM 2.4
#define DT_SHEET_BIT_GAP_MM 0.8

enum { DT_SHEET_FINDERS = 4, DT_SHEET_NUMBER_BITS = 12 };

/* Rows of the marks of kind DT_MARK_FINDER: of the finders themselves, whose `place` counts them, and of
 * the sheet's number, whose `place` is the bit. */
enum { DT_SHEET_ROW_FINDERS, DT_SHEET_ROW_NUMBER };

/* Strokes in steps into this free area of the paper, in drawing order; none where they do not fit. */
void dt_sheet_add_swings(DtTestSheet *s, const DtProfile *p, DtBox area);

/* The row of the long line of each axis that has ticks for a rule. `place` is 0 for a long line, 1 for the
 * tick at its lower end and 2 for that at its upper end. */
enum { DT_SHEET_GAUGE_ROW = 1 };
