/* truing-machine: a random machine with everything wrong that a rig can have, within stated ranges, and
 * a scanner to go with it; for the benchmark and tests of truing. */
#pragma once

#include "drawtrue/rig.h"
#include "drawtrue/truing.h"

typedef struct {
    double at[8], value[8];
    int n;
} TruthTable;

typedef struct {
    double paper[2]; /* mm; the bed has room for it */
    double travel[2];
    double scale[2], square_deg;
    TruthTable slack[2], position[2], straight[2], twist[2];
    double pulley[2], pulley_phase_deg[2], gear[2], gear_period[2];
    double scatter[2], ring_hz[2], play, switch_scatter, drift[2], wave, wave_length;
    double scan_scale[2], scan_skew_deg, scan_wave, scan_wave_length;
    guint32 seed;
} TruthMachine;

/* All truths on, see the table of ranges in truing-machine.c. */
void truth_draw(TruthMachine *t, guint32 seed, double paper_w, double paper_h);
/* A machine with all truths small but one, by which `part` is the one to blame on `axis`. */
void truth_draw_fault(TruthMachine *t, guint32 seed, double paper_w, double paper_h, DtPart *part,
                      int *axis);
/* The rig file of the machine with a blank [scan] section; freed by the caller. */
char *truth_rig_text(const TruthMachine *t);
/* A [scan] section: the sheet with a quarter turn or without, and a little off. */
char *truth_scan_text(const TruthMachine *t, int turn, double rotation_deg, double dpi);
/* The profile of one who has measured nothing yet; its text is freed by the caller. */
char *truth_profile_text(const TruthMachine *t);
DtProfile *truth_profile(const TruthMachine *t);

double truth_table_at(const TruthTable *t, double at);
/* Where the ink is, bed mm, with the drives at `drive`, commanded mm, last driven in the directions
 * `way` over more than slack and twist; scatter, play, swings and gear left out. */
DtPoint truth_ink(const TruthMachine *t, DtPoint drive, const int way[2]);
