/* job: the whole chain in one call, for the commands, the desk and the benchmarks: file to drawing,
 * strokes, sequence, moves, times and program, each stage kept so that a proof can show it. */
#pragma once

#include "drawtrue/code.h"

typedef struct {
    DtArtOptions art;
    DtInkOptions ink;
    DtRouteOptions route; /* start, end and, where 0, join are set from the profile */
    DtPlacement placement;
    gboolean own_angle; /* hatch at ink.angle; FALSE: in the machine's fastest direction */
    gboolean no_corrections; /* plan as if the machine were perfect, to see what correction brings */
} DtJobOptions;

#define DT_JOB_OPTIONS_DEFAULT \
    ((DtJobOptions){DT_ART_OPTIONS_DEFAULT, DT_INK_OPTIONS_DEFAULT, DT_ROUTE_OPTIONS_DEFAULT, \
                    DT_PLACEMENT_DEFAULT, FALSE, FALSE})

typedef struct {
    DtDrawing *drawing; /* placed: bed coordinates */
    DtAffine placed;    /* page to bed */
    DtStrokes strokes;  /* in painting order */
    DtInkReport colours;
    DtSequence sequence;
    DtMoves moves;
    DtTimes times;
} DtJob;

/* Plans the drawing for the machine. The profile is not kept. `progress` may be NULL. On failure the
 * job is cleared. Errors are those of the rooms; besides them DT_ERROR_INPUT where the drawing puts
 * no ink on the paper at all. */
gboolean dt_job_plan(DtProfile *profile, const char *art_path, const DtJobOptions *o, DtJob *job,
                     DtProgress progress, void *user, GError **error);
void dt_job_clear(DtJob *job);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtJob, dt_job_clear)

/* Ink length of one pen, mm. */
double dt_job_pen_ink_mm(const DtJob *job, unsigned pen);
