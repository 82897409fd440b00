/* seen: what scans would show of a sheet for scans that a machine with known errors has drawn, by the formulas at the
 * head of model.h; without a picture, so that thousands of marks take no time. */
#pragma once

#include "truing/solve/model.h"

/* Errors that are the same everywhere are numbers; a curve is a sine of this size, in mm, whose period is stated with
 * each. No curve has a mean or a slope over 110 mm. */
typedef struct {
    double scale[2], square;
    double pulley[2][2]; /* of the sine and of the cosine of a turn, mm */
    double gear[2][2], gear_period[2];
    double slack[2], slack_slope[2]; /* mm, mm/mm */
    double position[2], straight[2]; /* of a whole period over 110 mm */
    double twist[2];
    double glass_scale[2], skew, wave[2]; /* of a period of 100 mm down the glass */
    double pen_sd, slack_sd, scan_sd;     /* mm; slack_sd: of what is driven towards - */
} SeenTruth;

/* Paper of 110 by 110 mm at 5, 5 mm: the least that has room. */
DtProfile *seen_profile(void);
DtTestSheet *seen_sheet(const DtProfile *p);

/* Where the ink of a command is, bed mm. */
DtPoint seen_ink(const SeenTruth *t, const DtProfile *p, DtPoint c, const int way[2]);
/* Where a scan shows a place of the bed: the sheet's middle at `at`, turned by `angle`. */
DtPoint seen_on_glass(const SeenTruth *t, DtPoint middle, DtPoint at, double angle, DtPoint ink);

/* As many scans as there are angles, radians; the pen's scatter is the same in all of them. */
DtScan **seen_scans(const SeenTruth *t, const DtProfile *p, const DtTestSheet *s,
                    const double *angles, size_t n, guint32 seed);
void seen_scans_free(DtScan **scans, size_t n);

/* Something of everything, but no gear. */
extern const SeenTruth seen_usual;
/* Four angles about a quarter turn apart. */
extern const double seen_quarters[4];

/* A machine, its sheet, scans of it and the model of them, not fitted yet. */
typedef struct {
    DtProfile *p;
    DtTestSheet *s;
    DtScan **scans;
    size_t n_scans;
    DtEvidence e;
    DtModel m;
    double rule[2];
} SeenModel;

void seen_model_init(SeenModel *f, const SeenTruth *t, const double *angles, size_t n_scans);
/* How far apart the ticks of the gauge line are on the paper, mm. */
double seen_length(const SeenModel *f, const SeenTruth *t, int axis);
/* One reading of each axis by a rule, without error. */
void seen_model_lay_rule(SeenModel *f, const SeenTruth *t);
void seen_model_clear(SeenModel *f);

/* The figures that the scans tell, which they must; dt_figures_free(). */
DtFigures *seen_solve(const SeenModel *f);
/* That they tell none, for this reason. */
void seen_check_refused(const SeenModel *f, const char *why);
