/* plan: a drawing becomes a program for this machine. */
#include "cli/planning.h"
#include "cli/print.h"

static char *output, *journal;
static gboolean as_json, force;

static const GOptionEntry entries[] = {
    {"output", 'o', 0, G_OPTION_ARG_FILENAME, &output, N_("The program to write"), "JOB.nc"},
    {"journal", 0, 0, G_OPTION_ARG_FILENAME, &journal,
     N_("The journal that has the machine's test sheets"), "FILE"},
    DT_CLI_FORCE(force),
    {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, N_("Report as JSON"), NULL},
    G_OPTION_ENTRY_NULL,
};

static int run(int argc, char **argv, GError **error)
{
    g_auto(DtPlanInput) in = {0};
    if (!dt_cli_parse_planning(&dt_command_plan, entries, &argc, &argv, &in, error))
        return 0;
    if (argc != 2 || output == NULL) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "plan takes one drawing and -o JOB.nc");
        return DT_ERROR_USAGE;
    }
    in.job.program_only = TRUE;
    g_autoptr(GError) problem = NULL;
    g_autoptr(DtMeasured) measured = dt_truing_measured(journal, in.profile, &problem);
    DtReportTrueness trueness = {measured, problem ? problem->message : NULL, NULL};
    DtExpectation expected;
    if (in.several) {
        g_auto(DtJobSheets) sheets = {0};
        return dt_cli_plan_sheets(&in, argv[1], &sheets, error) &&
                       dt_cli_write_sheets(&in, &sheets, &trueness, argv[1], output, force, as_json,
                                           error)
                   ? 0
                   : DT_ERROR_INPUT;
    }
    g_auto(DtJob) job = {0};
    if (!dt_cli_claim_output(output, DT_FILE_PROGRAM, argv[1], in.profile, force, error) ||
        !dt_cli_keep_unfinished(journal, output, force, error) ||
        !dt_cli_plan_job(&in, &in.job, argv[1], &job, error))
        return DT_ERROR_INPUT;
    if (measured && measured->sheet > 0 &&
        dt_truing_expect(in.profile, measured->figures, &job.sequence, &job.moves, &expected))
        trueness.expected = &expected;
    dt_sequence_forget_points(&job.sequence); /* there are many, and the moves contain them */
    if (!dt_cli_write_program(&in, &job.moves, output, error))
        return DT_ERROR_INPUT;
    g_autofree char *report = dt_report_plan(in.profile, &job, &trueness, argv[1], output, as_json);
    dt_cli_print_report(report, as_json);
    dt_cli_note_plan(&in, &job.colours, argv[1]);
    return 0;
}

const DtCommand dt_command_plan = {
    .name = "plan",
    .usage = "DRAWING -o JOB.nc [OPTION...]",
    .summary = N_("drawing to program for this machine"),
    .about = "Reads an SVG drawing, a page of a PDF file or a photograph, finds every line and "
             "fill that the pens of the rack must trace, orders them for the least time, "
             "corrects each move by what was measured on this machine, and writes RS-274 text "
             "in the words that its controller takes. The same input gives the same program, "
             "byte for byte.\n"
             "\n"
             "The report lists each colour of the artwork with the pen that draws it, the time "
             "and the ink, and whatever could not be drawn as the artwork shows it.",
    .examples = "drawtrue plan garden-bed.svg -o garden.nc  # for the built-in machine, on its "
                "own paper\n"
                "drawtrue plan garden-bed.svg -o garden.nc -m my.ini --paper \"A5 landscape\" "
                "--solid  # for the machine of my.ini, with dense fills",
    .run = run,
};
