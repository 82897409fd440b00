/* job: the whole chain in one call, for the commands, the desk and the benchmarks: file to
 * drawing, strokes, sequence, moves, times and program. Each stage is kept so that a proof can
 * show it. */
#pragma once

#include "drawtrue/code.h"
#include "drawtrue/work.h"

typedef struct {
    DtArtOptions art;
    DtInkOptions ink;
    DtRouteOptions route; /* start, end and, for one_way, its axis (the one with most lost
                           * motion; Y if none was measured) and run-in are taken from the
                           * profile */
    DtPlacement placement;
    double minutes; /* drawing time not to exceed, pen changes included; 0: no limit. To meet it,
                  * hatches are opened and, without own_picture, photographs are drawn in a
                  * faster way */
    gboolean own_picture; /* pictures as ink.picture says, however long they take */
    gboolean own_angle;   /* hatch at ink.angle; FALSE: in the machine's fastest direction */
    gboolean
        no_corrections; /* plan as if the machine were perfect, to show what the corrections gain */
    gboolean program_only; /* nobody looks at the drawing's shapes afterwards: they are forgotten as
                            * soon as their strokes are known, which saves memory */
} DtJobOptions;

#define DT_JOB_OPTIONS_DEFAULT                                                                     \
    ((DtJobOptions){DT_ART_OPTIONS_DEFAULT, DT_INK_OPTIONS_DEFAULT, DT_ROUTE_OPTIONS_DEFAULT,      \
                    DT_PLACEMENT_DEFAULT, 0, FALSE, FALSE, FALSE, FALSE})

/* Cost and gain of drawing fills in one direction only. [0]: both directions, [1]: one. */
typedef struct {
    double time_s[2];   /* without pen changes */
    double error_mm[2]; /* mean distance along the axis of the fills' ink from its line if lost
                         * motion were not corrected, from the lost motion in the profile */
    int axis;           /* 0 or 1 */
    double lost;        /* mm, the largest value in the profile for that axis; 0: none measured */
} DtOneWay;

/* What was given up to meet the time limit. */
typedef struct {
    double asked_s, full_s; /* including pen changes; without the limit */
    double spread;          /* factor by which hatches are opened */
    gboolean picture_changed;
    DtPicture picture; /* how photographs are drawn, if that was changed */
} DtBudget;

typedef struct {
    DtDrawing *drawing; /* placed: bed coordinates */
    DtAffine placed;    /* page to bed */
    DtStrokes strokes;  /* in painting order */
    DtInkReport colours;
    DtSequence sequence;
    DtMoves moves;
    DtTimes times;
    DtOneWay one_way; /* all 0 unless route.one_way was requested */
    DtBudget budget;  /* all 0 unless a time limit was set and had to be met */
} DtJob;

/* The job's ink options; the hatch runs in the machine's fastest direction unless the options
 * give an angle. */
DtInkOptions dt_job_ink_options(const DtProfile *p, const DtJobOptions *o);

/* Plans the drawing for the machine. The profile is not kept. `work` provides progress and
 * cancelling; NULL leaves the thread's current work, if any. On failure the job is cleared.
 * Errors are those of the rooms, G_IO_ERROR_CANCELLED, and DT_ERROR_INPUT if the drawing puts no
 * ink on the paper at all. */
gboolean dt_job_plan(const DtProfile *profile, const char *art_path, const DtJobOptions *o,
                     DtJob *job, DtWork *work, GError **error);
/* Writes the program of the moves, planned with these options (NULL: the usual ones), whole or not at all. Errors
 * as dt_code_write() and dt_base_write_file(). */
gboolean dt_job_write_program(const DtProfile *profile, const DtJobOptions *o, const DtMoves *moves,
                              const char *path, DtWork *work, GError **error);
void dt_job_clear(DtJob *job);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtJob, dt_job_clear)

/* Large art over several sheets ------------------------------------------------------------- */

typedef struct {
    unsigned columns, rows; /* the most sheets to fill; 0, 0: as many as the drawing takes at
                             * true size */
    double overlap;         /* mm by which neighbouring sheets overlap; a cross of 6 mm must fit */
} DtJobTiling;

/* One sheet's job. Its `drawing` is NULL and its `colours` are empty: see DtJobSheets. */
typedef struct {
    DtJob job;
    unsigned column, row; /* counted from 1, from the left and from the top */
} DtJobSheet;

typedef struct {
    DtDrawing *drawing; /* placed; in the coordinates of all sheets joined together */
    DtInkReport colours;
    DtJobSheet *sheets; /* row by row from the top, each from the left; blank sheets are left out */
    size_t n;
    unsigned columns, rows; /* that the artwork really needs */
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

/* The map from where the profile expects the sheet to where it really lies: the pen touched the
 * sheet's lower left and lower right corners with the axes at `left` and `right` (commanded mm).
 * Fails with DT_ERROR_INPUT if the distance between the two is not the width of the sheet. */
gboolean dt_job_sheet_at(const DtProfile *p, DtPoint left, DtPoint right, DtAffine *out,
                         GError **error);

/* Takes a program in this machine's words that does not correct its errors, as from
 * dt_code_mend(), and rewrites it with the corrections of the profile (scale, squareness,
 * slack), so that the ink lands where the program says. Freed by the caller. Feeds become those
 * of the profile's pens. Fails with DT_ERROR_INPUT for a program of our own,
 * whether or not it has corrections already; one for a controller without comments is not recognised. */
char *dt_job_correct_program(const DtProfile *p, const char *text, gsize len, gsize *out_len,
                             GError **error);

/* Whether the profile has any corrections. */
gboolean dt_job_has_corrections(const DtProfile *p);

/* Rewrites the program for a sheet whose corners were touched at these places: the same ink,
 * moved and rotated, with the corrections for its new place and directions. The ink of a program
 * from elsewhere (DT_HEAD_NONE, DT_HEAD_MENDED) is where it says; one of ours that lacks corrections gets none.
 * Without comments in the controller's words, a program is taken for one of ours. Fails as
 * dt_program_check() does, and if the drawing would leave the travel. */
gboolean dt_job_lay(const DtProfile *p, const char *program_path, DtPoint left, DtPoint right,
                    const char *out_path, GError **error);
