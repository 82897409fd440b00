/* proof: a picture and figures of what a drawing, or a program, will put on the paper. */
#include "drawtrue/proof.h"
#include "drawtrue/json.h"
#include "cli/planning.h"

#include <string.h>

static char *output;
static gboolean as_json, show_order;
static int width_px = 1600;

static const GOptionEntry entries[] = {
    {"output", 'o', 0, G_OPTION_ARG_FILENAME, &output, "The picture: .png, .svg or .pdf", "FILE"},
    {"order", 0, 0, G_OPTION_ARG_NONE, &show_order,
     "Show the order: travel coloured from first to last, ink pale", NULL},
    {"width", 0, 0, G_OPTION_ARG_INT, &width_px, "Of a PNG, pixels (1600)", "PX"},
    {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, "Report as JSON", NULL},
    G_OPTION_ENTRY_NULL,
};

/* A drawing begins with '<' or is packed by gzip; everything else is read as a program. */
static gboolean is_drawing(const char *path)
{
    if (g_str_has_suffix(path, ".svg") || g_str_has_suffix(path, ".svgz"))
        return TRUE;
    FILE *f = fopen(path, "rb");
    if (f == NULL)
        return TRUE; /* the reader of drawings says what is wrong */
    int c = getc(f);
    while (c == ' ' || c == '\t' || c == '\r' || c == '\n' || c == 0xEF || c == 0xBB || c == 0xBF)
        c = getc(f);
    fclose(f);
    return c == '<' || c == 0x1F;
}

/* Reports ----------------------------------------------------------------------------------- */

static void add_pens(JsonBuilder *b, const DtProfile *p, const DtProofPen *pens)
{
    json_builder_set_member_name(b, "pens");
    json_builder_begin_array(b);
    for (size_t i = 0; i < p->rack.n; i++) {
        if (pens[i].strokes == 0)
            continue;
        json_builder_begin_object(b);
        dt_json_text(b, "name", p->rack.pens[i].name);
        dt_json_count(b, "strokes", pens[i].strokes);
        dt_json_number(b, "ink_mm", pens[i].ink_mm);
        dt_json_number(b, "ink_s", pens[i].ink_s);
        dt_json_number(b, "slack_s", pens[i].slack_s);
        dt_json_number(b, "travel_s", pens[i].travel_s);
        dt_json_number(b, "lift_s", pens[i].lift_s);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
}

static void report_json(const DtProofInput *in, const DtProofPen *pens, const char *source,
                        const DtInkReport *colours, const DtInspection *inspection)
{
    const DtTimes *t = in->times;
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_text(b, "source", source);
    dt_json_text(b, "picture", output);
    dt_json_text(b, "machine", in->profile->name);
    dt_json_text(b, "paper", in->profile->paper_name);
    dt_json_number(b, "time_s", t->total_s);
    dt_json_number(b, "ink_s", t->ink_s);
    dt_json_number(b, "travel_s", t->travel_s);
    dt_json_number(b, "lift_s", t->lift_s);
    dt_json_number(b, "home_s", t->home_s);
    dt_json_number(b, "change_s", t->change_s);
    dt_json_number(b, "ink_mm", t->ink_mm);
    dt_json_number(b, "travel_mm", t->travel_mm);
    dt_json_count(b, "lifts", t->lifts);
    dt_json_count(b, "pen_changes", t->changes);
    if (in->before)
        dt_json_number(b, "time_in_drawing_order_s", in->before->total_s);
    if (in->one_way)
        dt_cli_add_one_way(b, in->one_way);
    if (inspection) {
        dt_json_count(b, "findings", inspection->n_findings);
        dt_json_count(b, "refused_lines", inspection->refused_lines);
    }
    add_pens(b, in->profile, pens);
    if (colours)
        dt_cli_add_colours(b, in->profile, colours);
    if (in->drawing)
        dt_cli_add_notes(b, in->drawing, source);
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, TRUE);
    puts(text);
}

static void report_text(const DtProofInput *in, const DtProofPen *pens, const char *source,
                        const DtInkReport *colours, const DtInspection *inspection)
{
    const DtTimes *t = in->times;
    g_autofree char *total = dt_base_duration(t->total_s);
    printf("%s on %s (%s)\n", source, in->profile->paper_name, in->profile->name);
    printf("  time %s, ink %.2f m, lifts %zu, travel %.2f m\n", total, t->ink_mm / 1000, t->lifts,
           t->travel_mm / 1000);
    for (size_t i = 0; i < in->profile->rack.n; i++) {
        if (pens[i].strokes == 0)
            continue;
        g_autofree char *time =
            dt_base_duration(pens[i].ink_s + pens[i].slack_s + pens[i].travel_s + pens[i].lift_s);
        printf("  pen %-12s %7.2f m  %5zu strokes  %s\n", in->profile->rack.pens[i].name,
               pens[i].ink_mm / 1000, pens[i].strokes, time);
    }
    if (colours) {
        g_autofree char *text = dt_cli_colours(in->profile, colours);
        fputs(text, stdout);
    }
    if (in->before) {
        g_autofree char *before = dt_base_duration(in->before->total_s);
        printf("  in the drawing's own order it would take %s\n", before);
    }
    if (in->one_way) {
        g_autofree char *text = dt_cli_one_way(in->one_way);
        fputs(text, stdout);
    }
    if (inspection && inspection->n_findings)
        printf("  %zu finding%s, %zu line%s refused: see 'drawtrue inspect %s'\n",
               inspection->n_findings, inspection->n_findings == 1 ? "" : "s",
               inspection->refused_lines, inspection->refused_lines == 1 ? "" : "s", source);
    printf("  picture in %s\n", output);
    if (in->drawing) {
        g_autofree char *notes = dt_cli_notes(in->drawing, source);
        fputs(notes, stdout);
    }
}

static gboolean write_and_report(DtProofInput *in, const char *source, const DtInkReport *colours,
                                 const DtInspection *inspection, GError **error)
{
    g_autofree char *title = g_path_get_basename(source);
    in->title = title;
    in->order = show_order;
    if (!dt_proof_write(in, output, width_px, error))
        return FALSE;
    g_autofree DtProofPen *pens = g_new0(DtProofPen, in->profile->rack.n);
    dt_proof_pens(in->profile, in->moves, in->times, pens);
    (as_json ? report_json : report_text)(in, pens, source, colours, inspection);
    return TRUE;
}

/* ---------------------------------------------------------------------------------------------- */

static gboolean prove_drawing(const DtProfile *p, const DtJobOptions *o, const char *path, GError **error)
{
    g_auto(DtJob) job = {0}, before = {0};
    if (!dt_cli_plan_job(p, path, o, &job, error))
        return FALSE;
    DtProofInput in = {.profile = p,
                       .drawing = job.drawing,
                       .moves = &job.moves,
                       .times = &job.times,
                       .one_way = job.one_way.time_s[1] > 0 ? &job.one_way : NULL,
                       .tones = o->ink.tone ? &o->ink : NULL};
    if (show_order) {
        DtJobOptions unordered = *o;
        unordered.route.keep_order = TRUE;
        if (!dt_cli_plan_job(p, path, &unordered, &before, error))
            return FALSE;
        in.before_moves = &before.moves;
        in.before = &before.times;
    }
    return write_and_report(&in, path, &job.colours, NULL, error);
}

static gboolean prove_sheets(const DtProfile *p, const DtJobOptions *o, const DtJobTiling *tiling,
                             const char *path, GError **error)
{
    g_auto(DtJobSheets) sheets = {0};
    return dt_cli_plan_sheets(p, path, o, tiling, &sheets, error) &&
           dt_cli_prove_sheets(p, &sheets, path, output, width_px, as_json, error);
}

static gboolean prove_program(const DtProfile *p, const char *path, GError **error)
{
    DtInspection inspection = {0};
    DtTimes times = {0};
    gboolean good = dt_code_inspect(p, path, &inspection, error);
    if (good && !(inspection.ink_mm > 0)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: nothing in it would put ink on the paper; 'drawtrue inspect' tells why",
                    path);
        good = FALSE;
    }
    if (good) {
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
    if (!dt_cli_parse(&dt_command_proof, entries, &argc, &argv, error))
        return 0;
    if (argc != 2 || output == NULL || width_px < 400 || width_px > 16000) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "proof takes one drawing or program, -o PICTURE, and a --width of 400 "
                            "to 16000 pixels");
        return DT_ERROR_USAGE;
    }
    if (!dt_proof_check_path(output, error))
        return DT_ERROR_USAGE;
    DtJobOptions options;
    g_autoptr(DtProfile) p = dt_cli_planning(&options, error);
    if (p == NULL)
        return DT_ERROR_INPUT;
    DtJobTiling tiling;
    gboolean several;
    if (!dt_cli_tiling(&tiling, &several, error))
        return DT_ERROR_USAGE;
    gboolean good = !is_drawing(argv[1]) ? prove_program(p, argv[1], error)
                    : several            ? prove_sheets(p, &options, &tiling, argv[1], error)
                                         : prove_drawing(p, &options, argv[1], error);
    return good ? 0 : DT_ERROR_INPUT;
}

const DtCommand dt_command_proof = {
    .name = "proof",
    .usage = "DRAWING|PROGRAM -o PICTURE [OPTION...]",
    .summary = "picture and figures of what will be on the paper",
    .shared = dt_cli_planning_entries,
    .run = run,
};
