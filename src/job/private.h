/* What the files of the job room give to each other. */
#pragma once

#include "drawtrue/job.h"

void dt_job_init(DtJob *job);
/* From the job's strokes, in bed coordinates, to sequence, moves and times. */
gboolean dt_job_order(DtProfile *p, const DtJobOptions *o, DtJob *job, DtProgress progress,
                      void *user, GError **error);
/* FALSE, with an error that says that the drawing has no ink, and the reader's notes. */
gboolean dt_job_refuse_bare(const DtDrawing *d, const char *art_path, GError **error);

/* Sets the axis and the run-in by what the profile knows of lost motion. */
void dt_job_set_one_way(const DtProfile *p, DtRouteOptions *o);

/* Fills in job->one_way; its strokes and its one-way sequence are there already. */
gboolean dt_job_weigh_one_way(DtProfile *p, const DtRouteOptions *one_way, DtJob *job,
                              GError **error);
