/* bench-faults: what the files of the fault campaign share. */
#pragma once

#include "drawtrue/geom.h"
#include "drawtrue/rig.h"

typedef struct {
    DtLines lines;
    GPtrArray *pens; /* of each line */
    double longest, total;
} Ink; /* as the rig has it, stroke by stroke */

void faults_take_ink(const DtRig *r, Ink *ink);
void faults_clear_ink(Ink *ink);
/* NULL where all is as it has to be, else what is wrong: ink of a wrong pen, missing, where none
 * was planned, or more than one stroke of it drawn twice. */
const char *faults_judge_whole(const Ink *want, const Ink *got);
/* The same after a stop whose report is `message`: the pen is up, nothing is drawn wrong, and the
 * strokes told as drawn are there. `answers`: the board still does. */
const char *faults_judge_stop(const Ink *want, const Ink *got, const DtRigFigures *f,
                              const char *message, gboolean answers);
