/* job-private: the steps that one sheet and several have in common. */
#pragma once

#include "drawtrue/job.h"

void dt_job_init(DtJob *job);
/* From the job's strokes, in bed coordinates, to sequence, moves and times. */
gboolean dt_job_order(const DtProfile *p, const DtJobOptions *o, DtJob *job, DtProgress progress,
                      void *user, GError **error);
/* FALSE, with an error that says that the drawing has no ink, and the reader's notes. */
gboolean dt_job_refuse_bare(const DtDrawing *d, const char *art_path, GError **error);
