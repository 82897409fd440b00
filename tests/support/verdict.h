/* verdict: everything the demo and the corpus say about one drawing that went through the rig. */
#pragma once

#include "drawtrue/job.h"
#include "drawtrue/rig.h"
#include "support/witness.h"

typedef struct {
    DtRigFigures rig;
    WitnessError error;
    WitnessCoverage coverage;
    double time_estimated_s;
    gboolean ends_at_origin_pen_up;
} Verdict;

/* Planned strokes of a job as the witness takes them. `ink` is initialised by this call. */
void verdict_planned(const DtJob *job, WitnessInk *ink);

/* Reads the strokes of the rig's ink.json. `ink` is initialised by this call; clear it even on
 * failure. A stroke's pen is the rack's of that name, else by turns in the order of the sequence.
 * Fails with DT_ERROR_INPUT where the file is not what the rig writes. */
gboolean verdict_read_ink(const char *path, const DtRack *rack, const DtSequence *sequence,
                          WitnessInk *ink, GError **error);

/* Judges the ink that landed against the job; the coverage is left unknown (not a number). */
void verdict_of(const DtJob *job, const WitnessInk *landed, const DtRigFigures *rig, Verdict *out);

/* Adds the coverage, against librsvg's picture of the drawing at `px_per_mm`. `picture` and errors
 * as for witness_coverage(). */
gboolean verdict_cover(const DtProfile *p, const DtJob *job, const char *svg,
                       const WitnessInk *landed, double px_per_mm, const char *picture,
                       Verdict *out, GError **error);

/* Nothing lost, refused or hit, every line has its ink, no ink without a line, and the machine is
 * back where it started with its pen up. */
gboolean verdict_is_complete(const Verdict *v);
