/* eye: what the files that read a sheet by eye share. Private to the room. */
#pragma once

#include "drawtrue/truing.h"

/* Commanded places of the ticks that line up where the vernier's number k meets the main comb's k + shift,
 * between ticks by interpolation. FALSE where the sheet lacks them. */
gboolean dt_eye_ticks(const DtTestSheet *s, const DtAsk *a, double k, int shift, DtPoint *main,
                      DtPoint *vernier);
/* Commanded mm between the end ticks of a gauge line; 0 where there is none. */
double dt_eye_gauge_mm(const DtTestSheet *s, int axis);
/* Rows from here on are numbered ticks along a line: DT_EYE_PLACES * (1 + axis) + the tick's place. */
enum { DT_EYE_PLACES = 100 };
/* Commanded mm from the first tick of a line to such a tick; 0 where there is none. */
double dt_eye_place_mm(const DtTestSheet *s, int axis, int place);
/* A place on the bed that was drawn after the paper was turned, as it lies on the paper laid as before. */
DtPoint dt_sheet_turned_back(const DtTestSheet *s, DtPoint at);
/* The mean answer to a question; FALSE where it is not known. */
gboolean dt_eye_value(const DtEyeReadings *r, DtSheetKind part, int row, double *value, double *sd);

/* What the axes are off square by, and its uncertainty, from the four verniers of the square part, the
 * scales and their uncertainties being given; how the paper was laid down comes with it. FALSE where a
 * reading is missing. */
typedef struct {
    double square, sd; /* radians; sd: of readings and scales */
    double unseen_sd;  /* and of what displaces each place by `unseen_mm` and is not seen */
    double turn;       /* radians by which the paper was turned too far */
} DtEyeSquare;
gboolean dt_eye_solve_square(const DtTestSheet *s, const DtEyeReadings *r, const double scale[2],
                             const double scale_sd[2], double unseen_mm, DtEyeSquare *out);

/* What the ladders of the speed sheet say of the motors' limits, added to `out`. */
void dt_eye_solve_speed(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                        DtFigures *out);
