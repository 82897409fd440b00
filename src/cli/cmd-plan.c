/* plan: a drawing becomes a program for this machine. */
#include "cli/planning.h"

static char *output;
static gboolean as_json;

static const GOptionEntry entries[] = {
    {"output", 'o', 0, G_OPTION_ARG_FILENAME, &output, "The program to write", "JOB.nc"},
    {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Report as JSON", NULL},
    G_OPTION_ENTRY_NULL,
};

static int run(int argc, char **argv, GError **error)
{
    if (!dt_cli_parse(&dt_command_plan, entries, &argc, &argv, error))
        return 0;
    if (argc != 2 || output == NULL) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "plan takes one drawing and -o JOB.nc");
        return DT_ERROR_USAGE;
    }
    DtJobOptions options;
    g_autoptr(DtProfile) profile = dt_cli_planning(&options, error);
    if (profile == NULL)
        return DT_ERROR_INPUT;
    DtJobTiling tiling;
    gboolean several;
    if (!dt_cli_tiling(&tiling, &several, error))
        return DT_ERROR_USAGE;
    if (several) {
        g_auto(DtJobSheets) sheets = {0};
        return dt_cli_plan_sheets(profile, argv[1], &options, &tiling, &sheets, error) &&
                       dt_cli_write_sheets(profile, &sheets, argv[1], output, as_json, error)
                   ? 0
                   : DT_ERROR_INPUT;
    }
    g_auto(DtJob) job = {0};
    if (!dt_cli_plan_job(profile, argv[1], &options, &job, error) ||
        !dt_job_write_program(profile, &job.moves, output, NULL, error))
        return DT_ERROR_INPUT;
    g_autofree char *report = dt_cli_plan_report(profile, &job, argv[1], as_json);
    fputs(report, stdout);
    if (as_json)
        putchar('\n');
    else
        printf("  written to %s\n", output);
    return 0;
}

const DtCommand dt_command_plan = {
    .name = "plan",
    .usage = "DRAWING -o JOB.nc [OPTION...]",
    .summary = "drawing to program for this machine",
    .shared = dt_cli_planning_entries,
    .run = run,
};
