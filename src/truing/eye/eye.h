/* eye: shared by the files that read a sheet by eye. Private to the room. */
#pragma once

#include "drawtrue/truing.h"

/* Commanded places of the ticks that line up when the vernier's number k meets the main comb's k
 * + shift, interpolated between ticks. FALSE if the sheet lacks them. */
gboolean dt_eye_ticks(const DtTestSheet *s, const DtAsk *a, double k, int shift, DtPoint *main,
                      DtPoint *vernier);
/* Commanded mm between the end ticks of a gauge line; 0 if there is none. */
double dt_eye_gauge_mm(const DtTestSheet *s, int axis);
/* Rows from here on are numbered ticks along a line: DT_EYE_PLACES * (1 + axis) + the tick's place. */
enum { DT_EYE_PLACES = 100 };
/* Commanded mm from the first tick of a line to such a tick; 0 if there is none. */
double dt_eye_place_mm(const DtTestSheet *s, int axis, int place);
/* A place on the bed that was drawn after the paper was turned, in the first position of the
 * paper. */
DtPoint dt_sheet_turned_back(const DtTestSheet *s, DtPoint at);
/* The mean answer to a question; FALSE if it is not known. */
gboolean dt_eye_value(const DtEyeReadings *r, DtSheetKind part, int row, double *value, double *sd);

/* The value of chi-square that chance exceeds in 5 of 100 cases, by degrees of freedom (any
 * handbook table); for many degrees in 1 of 100. */
double dt_eye_chi_square_95(int degrees);

/* Readings of a rule along a gauge line, mm. With this many readings the pulley's oscillation is
 * visible. */
enum { DT_EYE_MOST_KNOTS = 12, DT_EYE_ALONG = 8 };
typedef struct {
    gboolean known;
    int readings;
    double scale, scale_sd;
    gboolean off_centre; /* the pulley's sine differs significantly from the profile's */
    double pulley, pulley_sd, phase, phase_sd;
    gboolean uneven; /* so do positions from the profile's table: then there is a new one,
                      * without mean and slope */
    int n;
    double at[DT_EYE_MOST_KNOTS], position[DT_EYE_MOST_KNOTS], position_sd[DT_EYE_MOST_KNOTS];
} DtEyeLine;
/* `known` is FALSE if nothing was read. FALSE with DT_ERROR_INPUT if one reading contradicts the
 * others. */
gboolean dt_eye_solve_line(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                           int axis, DtEyeLine *out, GError **error);

/* The squareness error of the axes, and how their rails bow, from the verniers of the square
 * part. */
enum { DT_EYE_BOW_KNOTS = 5 };
typedef struct {
    double square, sd; /* radians; sd: of readings and scales */
    double unseen_sd;  /* plus that of what displaces each place by `unseen_mm` without being
                        * visible, including bows */
    double turn;       /* radians by which the paper was rotated too far */
    gboolean bowed;    /* rails differ significantly from the profile's tables */
    double at[2][DT_EYE_BOW_KNOTS], straight[2][DT_EYE_BOW_KNOTS], straight_sd[2][DT_EYE_BOW_KNOTS];
} DtEyeSquare;
/* `known` has scales, positions, pulleys and straightness as far as they are known. FALSE if
 * readings are missing. */
gboolean dt_eye_solve_square(const DtProfile *known, const DtTestSheet *s, const DtEyeReadings *r,
                             const double scale_sd[2], double unseen_mm, DtEyeSquare *out);

/* Adds the limits of the motors, from the ladders of the speed sheet, to `out`. */
void dt_eye_solve_speed(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                        DtFigures *out);
