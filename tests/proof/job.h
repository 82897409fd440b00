/* A job of three pens for the tests of proof: two spirals, a hatch and a smaller spiral on the bed. */
#pragma once

#include "proof/private.h"

typedef struct {
    DtProfile *p;
    DtSequence s;
    DtMoves m;
    DtTimes t;
} Job;

/* A spiral of three turns and more, out to `radius` mm. */
void job_add_spiral(DtSequence *s, unsigned pen, DtPoint at, double radius);
/* Lines along X, 1 mm apart. */
void job_add_hatch(DtSequence *s, unsigned pen, DtBox b);
void job_make(Job *j);
void job_clear(Job *j);

/* Everything that a proof can show, but for what excludes each other. */
typedef struct {
    Job job;
    DtDrawing *drawing;
    DtTimes before;
    DtInkOptions tones;
    DtOneWay one_way;
    DtProofLook look;
    DtProofInput in;
} Full;

void full_make(Full *f, gboolean order);
void full_clear(Full *f);
