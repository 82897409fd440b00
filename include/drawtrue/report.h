/* report: the same facts as text for people and as JSON for programs, wherever they are shown.
 * Every call returns text that ends with a line end and is freed by the caller. */
#pragma once

#include "drawtrue/settings.h"
#include "drawtrue/link.h"
#include "drawtrue/proof.h"
#include "drawtrue/truing.h"

/* From what the expected ink error of a drawing is worked out. */
typedef struct {
    const DtMeasured *measured; /* may be NULL */
    const char *why_not;        /* then; NULL: the machine has not been measured */
    const DtExpectation
        *expected; /* of the reported job, if its lines are not kept; NULL: it is worked out */
} DtReportTrueness;

/* A planned job. `trueness` NULL: nothing is said about its expected ink error. `output` is the
 * program's path; NULL if none was written. */
char *dt_report_plan(const DtProfile *p, const DtJob *job, const DtReportTrueness *trueness,
                     const char *art_path, const char *output, gboolean json);

/* Several sheets: `files` has a program for each sheet or, without `programs`, one picture.
 * `trueness` as above. */
char *dt_report_sheets(const DtProfile *p, const DtJobSheets *s, const DtReportTrueness *trueness,
                       const char *art_path, gboolean programs, const char *const *files,
                       gboolean json);
/* One line about a sheet, as shown under its picture; without a line end. */
char *dt_report_sheet_figures(const DtTimes *t);

typedef struct {
    const char *source, *picture;
    const DtProofInput *proof;
    const DtInkReport *colours;       /* of a drawing; may be NULL */
    const DtAffine *placed;           /* from its page to the bed; may be NULL */
    const DtBudget *budget;           /* of its job; may be NULL */
    const DtInspection *inspection;   /* of a program; may be NULL */
    const DtReportTrueness *trueness; /* may be NULL */
} DtReportProof;

char *dt_report_proof(const DtReportProof *r, gboolean json);

/* `m` is what mending the program would do about its pen; NULL if it was not tried. */
char *dt_report_inspection(const DtProfile *p, const DtInspection *i, const DtMending *m,
                           const char *program, gboolean json);
/* Its figures in one line, without a line end. */
char *dt_report_inspection_figures(const DtInspection *i);
/* Says where the wire, rather than the motors, sets the pace; NULL if it never does. Freed by
 * the caller. */
char *dt_report_wire(const DtProfile *p, double held_up_s, size_t starved, double total_s);
/* Says that programs for this machine cannot wait for the pen, since its controller's words lack a dwell; NULL where
 * they can, or the profile's pen needs no time. Freed by the caller. */
char *dt_report_unwaited(const DtProfile *p);
/* How much of a program's ink lies beside its paper; NULL if less than 0.5 mm. Freed by the caller. */
char *dt_report_off_paper(const DtProfile *p, const DtInspection *i);
/* Says that lines begin with a slash and are not sent; NULL if none do. Freed by the caller. */
char *dt_report_deleted(const DtInspection *i);
/* What was changed; `corrected`: the output includes this machine's corrections. */
char *dt_report_mending(const DtMending *m, const char *program, const char *output,
                        gboolean corrected, gboolean json);

/* The board's settings (DtBoardSetting) compared with the profile's. */
char *dt_report_settings(const GArray *all, gboolean json);
/* What follows from a profile. */
char *dt_report_machine(const DtProfile *p, gboolean json);

char *dt_report_log(const DtLog *log, gboolean json);

/* Truing ------------------------------------------------------------------------------------ */

/* A test sheet; `times` of its moves, `output` its program. */
char *dt_report_test_sheet(const DtProfile *p, const DtTestSheet *s, const DtTimes *times,
                           const char *output, gboolean json);

typedef struct {
    const DtTestSheet *sheet;
    const DtEyeReadings *readings; /* may be NULL */
    size_t scans;                  /* that were read */
    const DtFigures *figures;
    const DtProfileChange *changes;
    size_t n_changes;
    const char *written; /* path of the profile; NULL if nothing was written */
    const char *why_not; /* then; may be NULL */
} DtReportTruing;

/* What a sheet showed, and what was written as a result. */
char *dt_report_truing(const DtProfile *p, const DtReportTruing *r, gboolean json);
/* Figures of two sheets, and the change between them. */
char *dt_report_comparison(const DtTestSheet *a, const DtTestSheet *b, const DtComparison *c,
                           size_t n, const DtFigures *fa, const DtFigures *fb, gboolean json);
/* Machines as shown by their sheets: `records` of DtSheetRecord. */
char *dt_report_sheets_log(const GArray *records, gboolean json);

/* Runs and jogs ----------------------------------------------------------------------------- */

/* Its name in JSON: "drawing", "pen-change", ... */
const char *dt_report_state_name(DtState state);

/* One object on one line, without a line end. */
char *dt_report_event_json(const DtEvent *e);
/* A line "name       what happened", without a line end and without advice to the reader, which
 * each front end adds. NULL if there is nothing to say, as for progress. */
char *dt_report_event_text(const DtEvent *e, const DtProfile *p);
/* What a person should know before a run starts, as such a line or, for an objection or a doubt,
 * as a sentence. NULL if there is nothing to say. */
char *dt_report_concern_text(const DtConcern *c, const DtProfile *p);
