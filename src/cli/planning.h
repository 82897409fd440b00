/* planning: the options that plan and proof share, and the job that they make. */
#pragma once

#include "cli.h"
#include "drawtrue/job.h"

/* For DtCommand.shared. The values land in this file's own variables. */
extern const GOptionEntry dt_cli_planning_entries[];

/* What the parsed options say: the profile with the paper of the command line, and the job's options.
 * NULL with *error where a value is out of range. */
DtProfile *dt_cli_planning(DtJobOptions *o, GError **error);

/* Plans with a progress line on a terminal's standard error. */
gboolean dt_cli_plan_job(DtProfile *p, const char *art_path, const DtJobOptions *o, DtJob *job,
                         GError **error);

/* What was planned, as a report for people or as JSON; freed by the caller. */
char *dt_cli_plan_report(const DtProfile *p, const DtJob *job, const char *art_path, gboolean json);
