/* What one-way.c gives to job.c. */
#pragma once

#include "drawtrue/job.h"

/* Sets the axis and the run-in by what the profile knows of lost motion. */
void dt_job_set_one_way(const DtProfile *p, DtRouteOptions *o);

/* Fills in job->one_way; its strokes and its one-way sequence are there already. */
gboolean dt_job_weigh_one_way(DtProfile *p, const DtRouteOptions *one_way, DtJob *job,
                              GError **error);
