/* proof: a picture and figures of what a drawing, or a program, will put on the paper. */
#include "cli/planning.h"
#include "cli/print.h"

#include <string.h>

static char *output, *journal;
static gboolean as_json, force, show_order;
static int width_px = 1600;

static const GOptionEntry entries[] = {
    {"output", 'o', 0, G_OPTION_ARG_FILENAME, &output, N_("The picture: .png, .svg or .pdf"),
     "FILE"},
    {"order", 0, 0, G_OPTION_ARG_NONE, &show_order,
     N_("Show the order: travel coloured from first to last, ink pale"), NULL},
    {"width", 0, 0, G_OPTION_ARG_INT, &width_px, N_("PNG width in pixels (1600)"), "PX"},
    {"journal", 0, 0, G_OPTION_ARG_FILENAME, &journal,
     N_("The journal that has the machine's test sheets"), "FILE"},
    DT_CLI_FORCE(force),
    {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, N_("Report as JSON"), NULL},
    G_OPTION_ENTRY_NULL,
};

static gboolean write_and_report(DtProofInput *in, const char *source, const DtJob *job,
                                 const DtInspection *inspection, GError **error)
{
    g_autofree char *title = g_path_get_basename(source);
    DtProofLook look;
    in->title = title;
    in->look = dt_proof_look(in, &look) ? &look : NULL;
    in->order = show_order;
    if (!dt_proof_write(in, output, width_px, error))
        return FALSE;
    g_autoptr(GError) problem = NULL;
    g_autoptr(DtMeasured) measured = dt_truing_measured(journal, in->profile, &problem);
    const DtReportTrueness trueness = {measured, problem ? problem->message : NULL, NULL};
    const DtReportProof report = {.source = source,
                                  .picture = output,
                                  .proof = in,
                                  .colours = job ? &job->colours : NULL,
                                  .placed = job ? &job->placed : NULL,
                                  .budget = job ? &job->budget : NULL,
                                  .inspection = inspection,
                                  .trueness = &trueness};
    g_autofree char *text = dt_report_proof(&report, as_json);
    dt_cli_print_report(text, as_json);
    return TRUE;
}

/* ---------------------------------------------------------------------------------------------- */

static gboolean prove_drawing(const DtPlanInput *plan, const char *path, GError **error)
{
    g_auto(DtJob) job = {0}, before = {0};
    if (!dt_cli_plan_job(plan, &plan->job, path, &job, error))
        return FALSE;
    DtProofInput in = {.profile = plan->profile,
                       .drawing = job.drawing,
                       .sequence = &job.sequence,
                       .moves = &job.moves,
                       .times = &job.times,
                       .one_way = job.one_way.time_s[1] > 0 ? &job.one_way : NULL,
                       .tones = plan->job.ink.tone ? &plan->job.ink : NULL};
    if (show_order) {
        DtJobOptions unordered = plan->job;
        unordered.route.keep_order = TRUE;
        unordered.minutes = 0;
        unordered.ink.spread = job.budget.asked_s > 0 ? job.budget.spread : 1;
        if (job.budget.picture_changed)
            unordered.ink.picture = job.budget.picture;
        if (!dt_cli_plan_job(plan, &unordered, path, &before, error))
            return FALSE;
        in.before_moves = &before.moves;
        in.before = &before.times;
    }
    if (!write_and_report(&in, path, &job, NULL, error))
        return FALSE;
    dt_cli_note_plan(plan, &job.colours, path);
    return TRUE;
}

static gboolean prove_sheets(const DtPlanInput *plan, const char *path, GError **error)
{
    g_auto(DtJobSheets) sheets = {0};
    g_autoptr(GError) problem = NULL;
    g_autoptr(DtMeasured) measured = dt_truing_measured(journal, plan->profile, &problem);
    const DtReportTrueness trueness = {measured, problem ? problem->message : NULL, NULL};
    return dt_cli_plan_sheets(plan, path, &sheets, error) &&
           dt_cli_prove_sheets(plan->profile, &sheets, &trueness, path, output, width_px, as_json,
                               error);
}

static gboolean prove_program(DtProfile *p, const char *path, GError **error)
{
    DtInspection inspection = {0};
    DtTimes times = {0};
    gboolean good = dt_code_inspect(p, path, &inspection, error);
    if (good && dt_box_is_empty(inspection.ink_box)) { /* dots have no length */
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: neither a drawing of a kind that is read here nor a program that would "
                    "put ink on the "
                    "paper; for a program 'drawtrue inspect' gives the reason",
                    path);
        good = FALSE;
    }
    if (good) {
        dt_code_take_paper(&inspection.paper, p);
        dt_machine_time(p, &inspection.moves, TRUE, &times);
        dt_inspection_fit_times(&inspection, &inspection.moves, &times);
        DtProofInput in = {.profile = p, .moves = &inspection.moves, .times = &times};
        good = write_and_report(&in, path, NULL, &inspection, error);
    }
    dt_times_clear(&times);
    dt_inspection_clear(&inspection);
    return good;
}

static int run(int argc, char **argv, GError **error)
{
    g_auto(DtPlanInput) in = {0};
    if (!dt_cli_parse_planning(&dt_command_proof, entries, &argc, &argv, &in, error))
        return 0;
    if (argc != 2 || output == NULL || width_px < 400 || width_px > 16000) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "proof takes one drawing or program, -o PICTURE, and a --width of 400 "
                            "to 16000 pixels");
        return DT_ERROR_USAGE;
    }
    if (!dt_proof_check_path(output, error))
        return DT_ERROR_USAGE;
    if (!dt_cli_claim_output(output, DT_FILE_PICTURE, argv[1], in.profile, force, error))
        return DT_ERROR_INPUT;
    gboolean good = !dt_art_is_artwork(argv[1]) ? prove_program(in.profile, argv[1], error)
                    : in.several                ? prove_sheets(&in, argv[1], error)
                                                : prove_drawing(&in, argv[1], error);
    return good ? 0 : DT_ERROR_INPUT;
}

const DtCommand dt_command_proof = {
    .name = "proof",
    .usage = "DRAWING|PROGRAM -o PICTURE [OPTION...]",
    .summary = N_("picture and figures of what will be on the paper"),
    .about = "Draws the sheet as it lies on the bed, with every pen in its colour and its true "
             "width, pen-up travel as faint lines, each pen's share of the ink, and where the "
             "time goes. It takes the options of plan, so that what is seen is what is drawn. "
             "Of a program it shows where the ink lands on the machine of the profile.",
    .examples = "drawtrue proof garden-bed.svg -m my.ini -o proof.png  # what will be on the "
                "paper\n"
                "drawtrue proof garden-bed.svg --order -o order.pdf  # in which order, and how "
                "long that takes",
    .run = run,
};
