/* eye: shared by the files that read a sheet by eye. Private to the room. */
#pragma once

#include "drawtrue/truing.h"

/* Commanded places of the ticks that line up when the vernier's number k meets the main comb's k
 * + shift, interpolated between ticks. FALSE if the sheet lacks them. */
gboolean dt_eye_ticks(const DtTestSheet *s, const DtAsk *a, double k, int shift, DtPoint *main,
                      DtPoint *vernier);
/* From the answer for a vernier along its axis: the place, how far apart the ticks that line up were commanded, and the
 * standard uncertainty of that, mm by the axis's scale. FALSE if the sheet lacks the ticks. */
gboolean dt_eye_apart(const DtTestSheet *s, const DtAsk *a, const DtEyeAnswer *e, double scale,
                      double *at, double *mm, double *sd);
/* Commanded place of the first tick of a gauge line along its axis. */
double dt_eye_gauge_start(const DtTestSheet *s, int axis);
/* Commanded mm between the end ticks of a gauge line; 0 if there is none. */
double dt_eye_gauge_mm(const DtTestSheet *s, int axis);
/* Rows from here on are numbered ticks along a line: DT_EYE_PLACES * (1 + axis) + the tick's place, and read
 * against a straight edge DT_EYE_PLACES * (3 + axis) + it. */
enum { DT_EYE_PLACES = 100 };
/* Commanded mm from the first tick of a line to such a tick; 0 if there is none. */
double dt_eye_place_mm(const DtTestSheet *s, int axis, int place);
/* The middle of the numbered tick that a question is about. FALSE if it is about none. */
gboolean dt_eye_place_at(const DtTestSheet *s, const DtAsk *a, DtPoint *at);
/* A place on the bed that was drawn after the paper was turned, in the first position of the
 * paper. */
DtPoint dt_sheet_turned_back(const DtTestSheet *s, DtPoint at);
/* The mean answer to a question; FALSE if it is not known. */
gboolean dt_eye_value(const DtEyeReadings *r, DtSheetKind part, int row, double *value, double *sd);

/* The value of chi-square that chance exceeds in 5 of 100 cases, by degrees of freedom (any
 * handbook table; linear between whole ones); for more than 10 in 1 of 100. */
double dt_eye_chi_square_95(double degrees);
/* Whether `m` readings are explained significantly better (5 %) with a curve than without, from what each fit leaves
 * of the sum of squares, that of the usual sizes included, and their hat matrices H. Without a curve the difference of
 * the sums is z'(H_curve - H)z, with z the readings' errors in their standard deviation: it is compared with
 * the multiple of chi-square that has the same mean and variance (Satterthwaite 1946). FALSE if the readings determine
 * next to nothing of the curve. */
gboolean dt_eye_is_better(int m, double left, const double *hat, double left_curve,
                          const double *hat_curve);
/* Rows of observations, 1 by standard uncertainty, of a curve that is given by evenly spaced knots: `rows` points at
 * its first unknown within the first row, and rows are `n` long. They return how many there are.
 * That it bends no more than usual: how far a knot lies from the middle of its neighbours, twice. */
int dt_eye_usual_bends(int knots, double bend_mm, double *rows, int n);
/* That it has no mean and no slope. */
int dt_eye_level_curve(int knots, double *rows, int n);
/* The usual bend for knots `step_mm` apart from that for 20 mm: a rail is taken for straight pieces that meet at
 * random places and angles, by which it grows with the step's power of 3/2. */
double dt_eye_bend_mm(double usual_mm, double step_mm);

/* Readings of a rule along a gauge line, mm. With this many readings the pulley's oscillation is
 * visible. */
enum { DT_EYE_MOST_KNOTS = 18, DT_EYE_ALONG = 8 };
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
 * part and from gauge lines against a straight edge. */
enum { DT_EYE_BOW_KNOTS = 9 };
typedef struct {
    gboolean squared;  /* enough verniers were read for the squareness */
    double square, sd; /* radians; sd: of readings and scales */
    double unseen_sd;  /* plus that of what displaces each place by `unseen_mm` without being
                        * visible, including bows */
    double turn;       /* radians by which the paper was rotated too far */
    gboolean bowed;    /* rails differ significantly from the profile's tables */
    double at[2][DT_EYE_BOW_KNOTS], straight[2][DT_EYE_BOW_KNOTS], straight_sd[2][DT_EYE_BOW_KNOTS];
} DtEyeSquare;
/* `known` has scales, positions, pulleys and straightness as far as they are known. FALSE if
 * nothing was read. */
gboolean dt_eye_solve_square(const DtProfile *known, const DtTestSheet *s, const DtEyeReadings *r,
                             const double scale_sd[2], double unseen_mm, DtEyeSquare *out);

/* Slack at places along an axis, mm, and straight pieces through them: a value at each knot. */
enum { DT_EYE_MOST_SLACK = 32, DT_EYE_SLACK_KNOTS = 3 };
typedef struct {
    double at[DT_EYE_MOST_SLACK], mm[DT_EYE_MOST_SLACK], sd[DT_EYE_MOST_SLACK];
    const char *name[DT_EYE_MOST_SLACK];
    int n; /* readings; 0 if there are none */
    int knots;
    double knot[DT_EYE_SLACK_KNOTS], value[DT_EYE_SLACK_KNOTS], value_sd[DT_EYE_SLACK_KNOTS];
    double wider;      /* the readings' uncertainties are multiplied by it where they scatter */
    double scatter;    /* standard deviation of one reading about the pieces */
    gboolean scatters; /* more than the readings' own uncertainty */
    gboolean differs;  /* significantly from the profile's table */
    double off;        /* root mean square of the difference from it at the readings' places */
} DtEyeSlack;
/* `scale` is that of the axis as far as it is known. FALSE with DT_ERROR_INPUT if a reading cannot be. */
gboolean dt_eye_solve_slack(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                            int axis, double scale, DtEyeSlack *out, GError **error);

/* By how much an axis shifts, towards its own +, when the other one turns round from - to +. */
enum { DT_EYE_TWISTS = 2 };
typedef struct {
    int n; /* readings; 0 if there are none */
    double at[DT_EYE_TWISTS], mm[DT_EYE_TWISTS], sd[DT_EYE_TWISTS];
    gboolean twists; /* they differ significantly from the profile's table */
} DtEyeTwist;
void dt_eye_solve_twist(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r, int axis,
                        DtEyeTwist *out);

/* Adds the limits of the motors, from the ladders of the speed sheet, to `out`. */
void dt_eye_solve_speed(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                        DtFigures *out);
/* Adds the waits of the pen and the S of its drop, from the ladders of the settle sheet, to `out`. */
void dt_eye_solve_waits(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                        DtFigures *out);
