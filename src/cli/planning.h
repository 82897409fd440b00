/* planning: shared by plan and proof: the planning options and progress. */
#pragma once

#include "cli/cli.h"
#include "drawtrue/options.h"
#include "drawtrue/report.h"

/* Parses the command's own entries, --machine and the planning options. FALSE as dt_cli_parse(). */
gboolean dt_cli_parse_planning(const DtCommand *c, const GOptionEntry *entries, int *argc,
                               char ***argv, DtPlanInput *out, GError **error);

/* Plans with a progress line on standard error if that is a terminal. Ctrl-C cancels: nothing is
 * written. */
gboolean dt_cli_plan_job(const DtPlanInput *in, const DtJobOptions *o, const char *art_path,
                         DtJob *job, GError **error);
gboolean dt_cli_plan_sheets(const DtPlanInput *in, const char *art_path, DtJobSheets *out,
                            GError **error);

/* Says on standard error what a person may not have meant: no profile, a sheet beyond the reach, a colour that no paint
 * has. */
void dt_cli_note_plan(const DtPlanInput *in, const DtInkReport *colours, const char *art_path);

/* Writes the program, with the same progress line and cancelling. */
gboolean dt_cli_write_program(const DtPlanInput *in, const DtMoves *moves, const char *path,
                              GError **error);

/* Writes a program for each sheet, "-1" and so on before the ending of `output`, and reports. */
gboolean dt_cli_write_sheets(const DtPlanInput *in, const DtJobSheets *sheets,
                             const DtReportTrueness *trueness, const char *art_path,
                             const char *output, gboolean force, gboolean json, GError **error);
/* Writes one picture of all sheets side by side, and reports. */
gboolean dt_cli_prove_sheets(const DtProfile *p, const DtJobSheets *sheets,
                             const DtReportTrueness *trueness, const char *art_path,
                             const char *output, int width_px, gboolean json, GError **error);
