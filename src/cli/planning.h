/* planning: the options that plan and proof share, and the job that they make. */
#pragma once

#include "cli/cli.h"
#include "drawtrue/job.h"

#include <json-glib/json-glib.h>

/* For DtCommand.shared. The values land in this file's own variables. */
extern const GOptionEntry dt_cli_planning_entries[];

/* What the parsed options say: the profile with the paper of the command line, and the job's
 * options. NULL with *error where a value is out of range. */
DtProfile *dt_cli_planning(DtJobOptions *o, GError **error);

/* Plans with a progress line on a terminal's standard error. */
gboolean dt_cli_plan_job(const DtProfile *p, const char *art_path, const DtJobOptions *o, DtJob *job,
                         GError **error);

/* What was planned, as a report for people or as JSON; freed by the caller. */
char *dt_cli_plan_report(const DtProfile *p, const DtJob *job, const char *art_path, gboolean json);

/* Each artwork colour with its pen and the difference between the two, one line each, as text
 * (freed by the caller) or as a member of the open object. */
char *dt_cli_colours(const DtProfile *p, const DtInkReport *colours);
void dt_cli_add_colours(JsonBuilder *b, const DtProfile *p, const DtInkReport *colours);

/* What could not be drawn as painted, "file:line: text" each, as lines (freed by the caller) or as
 * a member of the open object. */
char *dt_cli_notes(const DtDrawing *d, const char *art_path);
void dt_cli_add_notes(JsonBuilder *b, const DtDrawing *d, const char *art_path);

/* What drawing fills one way costs and gains, as text (freed by the caller) or as a member of the
 * open object. */
char *dt_cli_one_way(const DtOneWay *w);
void dt_cli_add_one_way(JsonBuilder *b, const DtOneWay *w);

/* Several sheets ---------------------------------------------------------------------------- */

/* What --sheets and --overlap say; *wanted is FALSE without --sheets. */
gboolean dt_cli_tiling(DtJobTiling *tiling, gboolean *wanted, GError **error);
gboolean dt_cli_plan_sheets(const DtProfile *p, const char *art_path, const DtJobOptions *o,
                            const DtJobTiling *tiling, DtJobSheets *out, GError **error);

/* Writes a program for each sheet, "-1" and so on before the ending of `output`, and reports. */
gboolean dt_cli_write_sheets(const DtProfile *p, const DtJobSheets *sheets, const char *art_path,
                             const char *output, gboolean json, GError **error);
/* Writes one picture of all sheets side by side, and reports. */
gboolean dt_cli_prove_sheets(const DtProfile *p, const DtJobSheets *sheets, const char *art_path,
                             const char *output, int width_px, gboolean json, GError **error);
