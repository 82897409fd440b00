/* truing-loop: from a machine to its figures and back: sheet, rig, scans, corrections, drawing. */
#pragma once

#include "support/truing-machine.h"
#include "drawtrue/job.h"
#include "support/witness.h"

enum { LOOP_MOST_SCANS = 2 };

/* A sheet that the machine has drawn, and the scans of it. */
typedef struct {
    DtTestSheet *sheet;
    DtScan *scans[LOOP_MOST_SCANS];
    double rule[2][3];
    double seconds; /* that the machine took */
} LoopSheet;

/* `folder` takes the scans; `n_scans` are laid a quarter turn apart. */
gboolean loop_draw_sheet(LoopSheet *s, const TruthMachine *t, const DtProfile *p,
                         const char *folder, int n_scans, double dpi, GError **error);
/* Marks that are not where the machine would have drawn them. */
typedef struct {
    double share,
        mm;          /* so many of the short ones, each by up to so much to one side or the other */
    gboolean corner; /* and all of those in the lower left corner */
    int row;         /* instead, all marks of one of the six rows by `mm` towards +; -1: of none */
} LoopFault;
/* The same on a sheet with such marks; NULL: with none. */
gboolean loop_draw_faulty_sheet(LoopSheet *s, const TruthMachine *t, const DtProfile *p,
                                const char *folder, int n_scans, double dpi, const LoopFault *fault,
                                GError **error);
/* Draws the sheet again and scans it into a file. */
gboolean loop_scan_to(const LoopSheet *s, const TruthMachine *t, const DtProfile *p,
                      const char *path, double dpi, GError **error);
void loop_sheet_clear(LoopSheet *s);
DtFigures *loop_solve(const LoopSheet *s, const DtProfile *p, int n_scans, GError **error);

/* Writes what is proposed into the profile. */
void loop_correct(DtProfile *p, const DtFigures *f);

/* The artwork as strokes in drawing order. */
gboolean loop_plan_art(const DtProfile *p, const char *art, DtJob *job, GError **error);
/* Draws it on the machine, corrected as the profile says, and measures the ink once the best shift and turn
 * of the whole sheet are taken off: how the paper lies is not the machine's error. */
gboolean loop_draw_art(const TruthMachine *t, const DtProfile *p, const DtSequence *s,
                       WitnessError *out, GError **error);
/* What is expected of it. */
gboolean loop_expect(const DtProfile *p, const DtSequence *s, const DtFigures *f,
                     DtExpectation *out, GError **error);

/* The true value of a figure, in the terms of the figures: straight lines fitted to a curve's knots belong to
 * scale and squareness. NAN where there is none. `f` holds the knots. */
double loop_truth(const TruthMachine *t, const DtFigures *f, const DtFigure *g);
