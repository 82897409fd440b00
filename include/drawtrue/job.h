/* job: the whole chain in one call, for the commands, the desk and the benchmarks: file to drawing,
 * strokes, sequence, moves, times and program, each stage kept so that a proof can show it. */
#pragma once

#include "drawtrue/code.h"
#include "drawtrue/work.h"

typedef struct {
    DtArtOptions art;
    DtInkOptions ink;
    DtRouteOptions route; /* start, end and, for one_way, its axis (the slackest; Y where none was
                           * measured) and run-in are set from the profile */
    DtPlacement placement;
    double
        minutes; /* that drawing may take, pen changes included; 0: as long as it takes. Hatches are
                     * then opened and, without own_picture, photographs drawn in a faster way */
    gboolean own_picture; /* pictures as ink.picture says, whatever they take */
    gboolean own_angle;   /* hatch at ink.angle; FALSE: in the machine's fastest direction */
    gboolean
        no_corrections; /* plan as if the machine were perfect, to see what correction brings */
} DtJobOptions;

#define DT_JOB_OPTIONS_DEFAULT                                                                     \
    ((DtJobOptions){DT_ART_OPTIONS_DEFAULT, DT_INK_OPTIONS_DEFAULT, DT_ROUTE_OPTIONS_DEFAULT,      \
                    DT_PLACEMENT_DEFAULT, 0, FALSE, FALSE, FALSE})

/* What drawing fills one way costs and gains. [0]: both ways, [1]: one way. */
typedef struct {
    double time_s[2];   /* pen changes left out */
    double error_mm[2]; /* mean distance of the fills' ink from its line, along the axis, if lost
                         * motion were not corrected, by the lost motion that the profile has */
    int axis;           /* 0 or 1 */
    double lost;        /* mm, the most that the profile has for that axis; 0: none measured */
} DtOneWay;

/* What was given up to stay within the time. */
typedef struct {
    double asked_s, full_s; /* pen changes included; as it would be drawn without */
    double spread;          /* how many times as open the hatches are */
    gboolean picture_changed;
    DtPicture picture; /* how photographs are drawn, where that was changed */
} DtBudget;

typedef struct {
    DtDrawing *drawing; /* placed: bed coordinates */
    DtAffine placed;    /* page to bed */
    DtStrokes strokes;  /* in painting order */
    DtInkReport colours;
    DtSequence sequence;
    DtMoves moves;
    DtTimes times;
    DtOneWay one_way; /* all 0 unless route.one_way was asked for */
    DtBudget budget;  /* all 0 unless minutes were asked for and had to be saved */
} DtJob;

/* The job's ink options, the hatch in the machine's fastest direction unless they have an angle of
 * their own. */
DtInkOptions dt_job_ink_options(const DtProfile *p, const DtJobOptions *o);

/* Plans the drawing for the machine. The profile is not kept. `work` gives progress and cancel; NULL
 * leaves the thread's current work, if any. On failure the job is cleared. Errors are those of the
 * rooms, G_IO_ERROR_CANCELLED, and DT_ERROR_INPUT where the drawing puts no ink on the paper at all.
 */
gboolean dt_job_plan(const DtProfile *profile, const char *art_path, const DtJobOptions *o,
                     DtJob *job, DtWork *work, GError **error);
/* Writes the program of the moves whole or not at all. Errors as dt_code_write() and
 * dt_base_write_file(). */
gboolean dt_job_write_program(const DtProfile *profile, const DtMoves *moves, const char *path,
                              DtWork *work, GError **error);
void dt_job_clear(DtJob *job);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtJob, dt_job_clear)

/* Large art over several sheets ------------------------------------------------------------- */

typedef struct {
    unsigned columns, rows; /* to fill, at most; 0, 0: at true size on as many as that takes */
    double overlap;         /* mm that neighbours have in common; room for a cross of 6 mm */
} DtJobTiling;

/* One sheet's job. Its `drawing` is NULL and its `colours` are empty: see DtJobSheets. */
typedef struct {
    DtJob job;
    unsigned column, row; /* from the left and from above, counted from 1 */
} DtJobSheet;

typedef struct {
    DtDrawing *drawing; /* placed; in the coordinates of all sheets laid together */
    DtInkReport colours;
    DtJobSheet
        *sheets; /* as one reads: rows from above, each from the left; bare ones are left out */
    size_t n;
    unsigned columns, rows; /* that the art really takes */
} DtJobSheets;

/* Plans each sheet as a job of its own, with registration crosses in the overlaps
 * (dt_ink_sheets()). The usable part of each sheet is the paper less its margins, as far as the
 * machine reaches. Fails as dt_job_plan() and dt_ink_sheets() do; the result is then cleared. */
gboolean dt_job_plan_sheets(const DtProfile *profile, const char *art_path, const DtJobOptions *o,
                            const DtJobTiling *tiling, DtJobSheets *out, DtWork *work,
                            GError **error);
void dt_job_sheets_clear(DtJobSheets *s);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtJobSheets, dt_job_sheets_clear)

/* A sheet that lies elsewhere ----------------------------------------------------------------- */

/* The map from where the profile's sheet lies to where it really lies: its lower left and lower
 * right corners were touched by the pen with the axes at `left` and `right` (commanded mm). Fails
 * with DT_ERROR_INPUT where the two are not the sheet's width apart. */
gboolean dt_job_sheet_at(const DtProfile *p, DtPoint left, DtPoint right, DtAffine *out,
                         GError **error);

/* A program in this machine's words that knows nothing of its errors, as after dt_code_mend(), written
 * anew with the corrections of the profile (scale, squareness, slack), so that the ink lands where the
 * program says. Freed by the caller. Feeds become those of the profile's pens. Fails with
 * DT_ERROR_INPUT for a program that dt_job_is_corrected(). */
char *dt_job_correct_program(const DtProfile *p, const char *text, gsize len, gsize *out_len,
                             GError **error);

/* Whether the head of a program's text says that it was written with the corrections of a machine. */
gboolean dt_job_is_corrected(const char *text);
/* Whether the profile has any. */
gboolean dt_job_has_corrections(const DtProfile *p);

/* Writes the program anew for a sheet whose corners were touched there: the same ink, moved and
 * turned, with the corrections for its new place and directions. Fails as dt_program_check() does, and
 * where the drawing would leave the travel. */
gboolean dt_job_lay(const DtProfile *p, const char *program_path, DtPoint left, DtPoint right,
                    const char *out_path, GError **error);
