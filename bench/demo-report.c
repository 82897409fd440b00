/* demo-report: the demo's figures and its picture, from the drawing, the profile and what the rig
 * wrote. Usage: demo-report DRAWING PROFILE FOLDER X,Y,W,H FOLDER holds trued/ and plain/, the runs
 * with and without corrections, each with the plan.json of 'drawtrue plan --json' and the ink.json
 * of 'drawtrue rig'. Writes report.json and demo.png into FOLDER. X,Y,W,H is the part of the page,
 * in mm, that the picture magnifies. Exit code 1 where a figure misses its bar. */
#include "demo.h"
#include "drawtrue/base.h"
#include "drawtrue/json.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PX_PER_MM 20  /* of the coverage */
#define WIDTH_PX 1600 /* of the picture */

/* Planned strokes, which are the same with and without corrections. */
static gboolean trace(const DtProfile *p, const char *svg, DtJob *job, GError **error)
{
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.placement.fit = DT_FIT_TRUE_SIZE;
    o.ink.solid = TRUE; /* the area covered is held against the area painted */
    dt_strokes_init(&job->strokes);
    dt_sequence_init(&job->sequence);
    dt_moves_init(&job->moves);
    job->drawing = dt_art_read(svg, &o.art, error);
    if (!job->drawing || !dt_machine_place(p, job->drawing, &o.placement, &job->placed, error))
        return FALSE;
    dt_art_place(job->drawing, job->placed);
    const DtInkOptions ink = dt_job_ink_options(p, &o);
    return dt_ink_trace(job->drawing, &p->rack, &ink, &job->strokes, &job->colours, error);
}

/* A member of the JSON object in a file, or of its member `inside` where that is not NULL. */
static JsonObject *load_object(JsonParser *parser, const char *path, const char *inside,
                               GError **error)
{
    g_autoptr(GError) why = NULL;
    JsonNode *root =
        json_parser_load_from_file(parser, path, &why) ? json_parser_get_root(parser) : NULL;
    JsonObject *o = root && JSON_NODE_HOLDS_OBJECT(root) ? json_node_get_object(root) : NULL;
    if (o && inside)
        o = json_object_has_member(o, inside) ? json_object_get_object_member(o, inside) : NULL;
    if (!o)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s", path,
                    why ? why->message : "it is not what a run leaves");
    return o;
}

static gboolean read_figures(const char *path, DtRigFigures *f, GError **error)
{
    g_autoptr(JsonParser) parser = json_parser_new();
    JsonObject *o = load_object(parser, path, "figures", error);
    if (!o)
        return FALSE;
    const struct {
        const char *name;
        unsigned *to;
    } counts[] = {{"lines_taken", &f->lines_taken},
                  {"lines_refused", &f->lines_refused},
                  {"endstop_hits", &f->endstop_hits},
                  {"bytes_lost", &f->bytes_lost}};
    for (size_t i = 0; i < G_N_ELEMENTS(counts); i++)
        *counts[i].to = (unsigned)json_object_get_int_member(o, counts[i].name);
    f->time_s = json_object_get_double_member(o, "time_s");
    f->ink_mm = json_object_get_double_member(o, "ink_mm");
    f->end_x = json_object_get_double_member(o, "end_x");
    f->end_y = json_object_get_double_member(o, "end_y");
    f->pen_up_at_end = json_object_get_boolean_member(o, "pen_up_at_end");
    return TRUE;
}

static gboolean read_run(const DtProfile *p, const char *svg, DtJob *job, const char *folder,
                         DemoRun *run, GError **error)
{
    g_autofree char *plan = g_build_filename(folder, "plan.json", NULL);
    g_autofree char *ink = g_build_filename(folder, "ink.json", NULL);
    g_autofree char *picture = g_build_filename(folder, "coverage.png", NULL);
    g_autoptr(JsonParser) parser = json_parser_new();
    JsonObject *planned = load_object(parser, plan, NULL, error);
    DtRigFigures figures = {0};
    if (!planned)
        return FALSE;
    job->times.total_s = json_object_get_double_member(planned, "time_s");
    run->lifts = (int)json_object_get_int_member(planned, "lifts");
    if (!read_figures(ink, &figures, error) ||
        !verdict_read_ink(ink, &p->rack, &job->sequence, &run->landed, error))
        return FALSE;
    verdict_of(job, &run->landed, &figures, &run->verdict);
    return verdict_cover(p, job, svg, &run->landed, PX_PER_MM, picture, &run->verdict, error);
}

/* Report --------------------------------------------------------------------------------------- */

typedef enum { AT_MOST, AT_LEAST } Side;

typedef struct {
    const char *name;
    double value;
    Side side;
    double bar;
} Figure;

static char *report_text(const Verdict *trued, const Verdict *plain)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_number(b, "ink_error_p95_mm", trued->error.p95);
    dt_json_number(b, "ink_error_max_mm", trued->error.max);
    dt_json_number(b, "ink_error_mean_mm", trued->error.mean);
    dt_json_number(b, "uncorrected_ink_error_p95_mm", plain->error.p95);
    dt_json_number(b, "uncorrected_ink_error_max_mm", plain->error.max);
    dt_json_number(b, "uncorrected_ink_error_mean_mm", plain->error.mean);
    dt_json_number(b, "missing_ink_mm", trued->error.missing);
    dt_json_number(b, "stray_ink_mm", trued->error.stray);
    dt_json_count(b, "lines_taken", trued->rig.lines_taken);
    dt_json_count(b, "lines_refused", trued->rig.lines_refused);
    dt_json_count(b, "endstop_hits", trued->rig.endstop_hits);
    dt_json_count(b, "bytes_lost", trued->rig.bytes_lost);
    dt_json_flag(b, "ends_at_origin_pen_up", trued->ends_at_origin_pen_up);
    dt_json_number(b, "time_estimated_s", trued->time_estimated_s);
    dt_json_number(b, "time_s", trued->rig.time_s);
    dt_json_number(b, "coverage_iou", trued->coverage.iou);
    dt_json_number(b, "uncorrected_coverage_iou", plain->coverage.iou);
    dt_json_number(b, "planned_mm", trued->error.planned);
    dt_json_number(b, "landed_mm", trued->error.landed);
    json_builder_end_object(b);
    return dt_json_write(b, TRUE);
}

static gboolean meets(const Figure *f)
{
    return f->side == AT_MOST ? f->value <= f->bar : f->value >= f->bar;
}

static gboolean print_figures(const Verdict *trued, const Verdict *plain)
{
    const double off =
        trued->rig.time_s > 0 ? ABS(trued->time_estimated_s / trued->rig.time_s - 1) * 100 : 100;
    const Figure figures[] = {
        {"ink error, 95 of 100 samples, mm", trued->error.p95, AT_MOST, 0.08},
        {"ink error, largest, mm", trued->error.max, AT_MOST, 0.25},
        {"the same without corrections, 95 of 100, mm", plain->error.p95, AT_LEAST, 0.3},
        {"missing ink, mm", trued->error.missing, AT_MOST, 0},
        {"stray ink, mm", trued->error.stray, AT_MOST, 0},
        {"lines refused", trued->rig.lines_refused, AT_MOST, 0},
        {"end-stop hits", trued->rig.endstop_hits, AT_MOST, 0},
        {"bytes lost", trued->rig.bytes_lost, AT_MOST, 0},
        {"ends at the origin with the pen up", trued->ends_at_origin_pen_up, AT_LEAST, 1},
        {"estimated time off by, %", off, AT_MOST, 5},
        {"covered area, IoU with librsvg", trued->coverage.iou, AT_LEAST, 0.93},
    };
    gboolean all = TRUE;
    for (size_t i = 0; i < G_N_ELEMENTS(figures); i++) {
        const Figure *f = &figures[i];
        printf("  %-46s %8.3f  %s %-5g %s\n", f->name, f->value,
               f->side == AT_MOST ? "at most " : "at least", f->bar, meets(f) ? "" : "MISSED");
        all = all && meets(f);
    }
    return all;
}

/* Everything ----------------------------------------------------------------------------------- */

static gboolean read_detail(const char *text, DtBox *page)
{
    double w, h;
    if (sscanf(text, "%lf,%lf,%lf,%lf", &page->x0, &page->y0, &w, &h) != 4)
        return FALSE;
    page->x1 = page->x0 + w;
    page->y1 = page->y0 + h;
    return w > 0 && h > 0;
}

static gboolean report(char **argv, int width_px, gboolean *all_met, GError **error)
{
    const char *svg = argv[1], *folder = argv[3];
    DtBox detail;
    if (!read_detail(argv[4], &detail)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "the detail is X,Y,W,H in mm");
        return FALSE;
    }
    g_autoptr(DtProfile) p = dt_profile_load(argv[2], error);
    g_auto(DtJob) job = {0};
    if (!p || !trace(p, svg, &job, error))
        return FALSE;
    static const char *const names[] = {"trued", "plain"};
    DemoRun runs[2] = {0};
    gboolean ok = TRUE;
    for (int i = 0; i < 2 && ok; i++) {
        g_autofree char *sub = g_build_filename(folder, names[i], NULL);
        ok = read_run(p, svg, &job, sub, &runs[i], error);
    }
    g_autofree char *text = ok ? report_text(&runs[0].verdict, &runs[1].verdict) : NULL;
    g_autofree char *path = g_build_filename(folder, "report.json", NULL);
    g_autofree char *picture = g_build_filename(folder, "demo.png", NULL);
    ok = ok && dt_base_write_file(path, text, strlen(text), error) &&
         demo_picture(p, &job, &runs[0], &runs[1], dt_affine_apply_box(job.placed, detail), picture,
                      width_px, error);
    if (ok)
        *all_met = print_figures(&runs[0].verdict, &runs[1].verdict);
    for (int i = 0; i < 2; i++)
        witness_ink_clear(&runs[i].landed);
    return ok;
}

int main(int argc, char **argv)
{
    const int width_px = argc == 6 ? atoi(argv[5]) : WIDTH_PX;
    if (argc < 5 || argc > 6 || width_px < 100 || width_px > 20000) {
        fputs("usage: demo-report DRAWING PROFILE FOLDER X,Y,W,H [WIDTH]\n", stderr);
        return DT_ERROR_USAGE;
    }
    g_autoptr(GError) error = NULL;
    gboolean all_met = FALSE;
    if (!report(argv, width_px, &all_met, &error)) {
        fprintf(stderr, "demo: %s\n", error->message);
        return error->domain == DT_ERROR ? error->code : DT_ERROR_IO;
    }
    return all_met ? 0 : 1;
}
