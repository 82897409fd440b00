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

/* What chi-square exceeds by chance in 5 of 100, by degrees of freedom (any handbook table); of many in 1 of 100. */
double dt_eye_chi_square_95(int degrees);

/* What a rule says that is laid along a gauge line, mm. So many readings show how the pulley swings. */
enum { DT_EYE_MOST_KNOTS = 12, DT_EYE_ALONG = 8 };
typedef struct {
    gboolean known;
    int readings;
    double scale, scale_sd;
    gboolean off_centre; /* the pulley's sine differs from the profile's by more than noise */
    double pulley, pulley_sd, phase, phase_sd;
    gboolean uneven; /* and so do places from the profile's table: then there is one, without mean and slope */
    int n;
    double at[DT_EYE_MOST_KNOTS], position[DT_EYE_MOST_KNOTS], position_sd[DT_EYE_MOST_KNOTS];
} DtEyeLine;
/* `known` is FALSE where nothing was read. FALSE with DT_ERROR_INPUT where one reading contradicts the others. */
gboolean dt_eye_solve_line(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                           int axis, DtEyeLine *out, GError **error);

/* What the axes are off square by, and how their rails bow, from the verniers of the square part. */
enum { DT_EYE_BOW_KNOTS = 5 };
typedef struct {
    double square, sd; /* radians; sd: of readings and scales */
    double unseen_sd;  /* and of what displaces each place by `unseen_mm` and is not seen, bows included */
    double turn;       /* radians by which the paper was turned too far */
    gboolean bowed;    /* rails differ from the profile's tables by more than noise */
    double at[2][DT_EYE_BOW_KNOTS], straight[2][DT_EYE_BOW_KNOTS], straight_sd[2][DT_EYE_BOW_KNOTS];
} DtEyeSquare;
/* `known` has scales, positions, pulleys and straightness as far as they are known. FALSE where readings are
 * missing. */
gboolean dt_eye_solve_square(const DtProfile *known, const DtTestSheet *s, const DtEyeReadings *r,
                             const double scale_sd[2], double unseen_mm, DtEyeSquare *out);

/* What the ladders of the speed sheet say of the motors' limits, added to `out`. */
void dt_eye_solve_speed(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                        DtFigures *out);
