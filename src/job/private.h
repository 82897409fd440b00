/* Shared by the files of the job room. */
#pragma once

#include "drawtrue/job.h"

void dt_job_init(DtJob *job);
/* The profile to plan with: `p` itself, or a copy without corrections if the options ask for
 * that; *own, to be freed by the caller, is then the copy. */
const DtProfile *dt_job_profile(const DtProfile *p, const DtJobOptions *o, DtProfile **own);
/* From the job's strokes, in bed coordinates, to its sequence, moves and times. */
gboolean dt_job_order(const DtProfile *p, const DtJobOptions *o, DtJob *job, GError **error);
gboolean dt_job_move(const DtProfile *p, DtJob *job, GError **error);
/* From the placed drawing of a job without ink to its strokes, sequence, moves and times; a drawing without
 * ink has no strokes. */
gboolean dt_job_draw(const DtProfile *p, const DtJobOptions *o, DtJob *job, GError **error);
/* Finds a faster way to draw a finished job, so that it stays within o->minutes, and records in
 * its budget what was done. DT_ERROR_INPUT if there is none. */
gboolean dt_job_fit_budget(const DtProfile *p, const DtJobOptions *o, DtJob *job, GError **error);
/* FALSE, with an error that says that the drawing has no ink, and with the reader's notes. */
gboolean dt_job_refuse_bare(const DtDrawing *d, const DtInkReport *colours, const char *art_path,
                            GError **error);

/* Sets the axis and the run-in from the lost motion in the profile. */
void dt_job_set_one_way(const DtProfile *p, DtRouteOptions *o);

/* Fills in job->one_way; the strokes and the one-way sequence exist already. */
gboolean dt_job_weigh_one_way(const DtProfile *p, const DtRouteOptions *one_way, DtJob *job,
                              GError **error);

/* Pens chosen by the user, each NULL if not given: the names to keep in the copy's rack, swaps
 * "a=b" and colours "#rrggbb=a", separated by commas. DT_ERROR_USAGE. */
gboolean dt_job_apply_pens(const char *pens, const char *swap, const char *colour, DtProfile *p,
                           DtInkOptions *ink, GError **error);

/* Joins, for each pen, the points that are to lie on one line (DT_INK_TOUR), in place. Fails as
 * dt_route_order() does. */
gboolean dt_job_join_tours(const DtProfile *p, const DtJobOptions *o, DtStrokes *s, GError **error);

/* A DtInkSeconds for the machine of a profile (`user`), in the best order. */
double dt_job_fill_seconds(const DtLines *lines, unsigned pen, void *user);
