/* trails (private to ink): runs of hatch lines as long lines, which go on from one even hatch to the next. */
#pragma once

#include "drawtrue/base.h"
#include "drawtrue/ink.h"

/* A part of a hatch line. u runs along the lines, v across them, as in hatch.h. */
typedef struct {
    int hatch;        /* number of the hatch, of one piece of an area, that it belongs to */
    int64_t line;     /* of that */
    double u[2], v;   /* mm; u[0] < u[1] */
    double pitch;     /* mean distance of lines there, mm */
    gboolean open[2]; /* another hatch begins at this end; otherwise it is the edge of the area */
} DtTrailRun;

/* Appends the runs in lines of angle `angle`, drawn by a pen of a tip's width. `inset` is where the pen's centre may go:
 * no line leaves it. Where two runs of different hatches end at about the
 * same place they become one line, slightly bent; runs side by side that end at the area's edge are joined there if
 * `joins`. An open end where nothing goes on is set back a little. */
void dt_trails_draw(const GArray *runs, const DtLines *inset, double angle, double tip,
                    gboolean joins, DtLines *out);
