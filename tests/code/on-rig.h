/* on-rig: what a program draws on a virtual machine without faults, against what it means. */
#pragma once

#include "drawtrue/code.h"
#include "drawtrue/rig.h"

/* A machine without faults, so that what lands is what was sent, in the vocabulary of the profile. */
DtRig *on_rig_new(const DtProfile *p);
/* Its ink as lines, initialised here. */
void on_rig_ink(const DtRig *rig, DtLines *out);
/* Strokes divided by bars or semicolons, points "x,y", arcs "cw:cx,cy:x,y". */
void on_rig_meant(const char *text, DtLines *out);
/* The farthest that any point of `a`, taken every 0.1 mm, is from `b`; mm. */
double on_rig_farthest(const DtLines *a, const DtLines *b);
/* Fails the test where one strays from the other by more than 0.01 mm. */
void on_rig_compare(const DtLines *have, const char *meant);
/* Fails the test where a program is refused or hits an end, leaves the pen down, or draws another ink than `meant`. */
void on_rig_draws(const DtProfile *p, const char *program, gsize len, const char *meant);
