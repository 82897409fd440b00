/* inspect: what this controller and machine would do with a program, before anything moves. */
#include "cli/cli.h"
#include "cli/print.h"

#include "drawtrue/job.h"
#include "drawtrue/report.h"
#include "drawtrue/sheet-log.h"

#include <math.h>

static int run(int argc, char **argv, GError **error);

const DtCommand dt_command_inspect = {
    .name = "inspect",
    .usage = "PROGRAM [--machine FILE] [--picture FILE] [--explain] [--json]",
    .summary = N_("what this controller would do with a program, line by line"),
    .about = "Reads a program as the controller of the profile would and says, line by line, "
             "what it refuses, what lies beyond the travel, what wastes time and where the ink "
             "may not be what was meant. Nothing moves. Exit code 1 where something is wrong "
             "with the program.",
    .examples = "drawtrue inspect garden.nc -m my.ini  # what the controller would do with it\n"
                "drawtrue inspect garden.nc --explain  # each line in words\n"
                "drawtrue inspect garden.nc --picture ink.png  # where the ink would land",
    .run = run,
};

/* Collects the ink as runs, the travel, and what is wrong with either, for the picture. */
typedef struct {
    const DtProfile *profile;
    DtSequence runs;
    DtLines travel, trouble;
    gboolean drawing;
    DtPoint at;
} Picture;

static void add_segment(DtLines *l, DtPoint from, DtPoint to)
{
    gboolean goes_on = l->n > 0 && dt_point_distance(l->pts[l->n_pts - 1], from) < 1e-9;
    if (!goes_on) {
        dt_lines_begin(l);
        dt_lines_point(l, from);
    }
    dt_lines_point(l, to);
}

/* Ink beyond the travel, or drawn where the program means to travel. */
static gboolean is_trouble(const Picture *p, const DtMove *m)
{
    const double *travel = p->profile->travel;
    gboolean beyond = m->to.x < -1e-6 || m->to.y < -1e-6 || m->to.x > travel[0] + 1e-6 ||
                      m->to.y > travel[1] + 1e-6;
    return beyond || (m->kind == DT_MOVE_DRAW && m->feed_mm_s > 1e9);
}

static void on_move(const DtMove *m, size_t line, void *user)
{
    Picture *p = user;
    (void)line;
    if (m->kind == DT_MOVE_DRAW && !p->drawing) {
        dt_sequence_begin(&p->runs, m->pen, m->polyline);
        dt_sequence_point(&p->runs, p->at);
    }
    if (m->kind == DT_MOVE_DRAW)
        dt_sequence_point(&p->runs, m->ink);
    else if (m->kind == DT_MOVE_TRAVEL)
        add_segment(&p->travel, p->at, m->ink);
    if ((m->kind == DT_MOVE_DRAW || m->kind == DT_MOVE_TRAVEL) && is_trouble(p, m))
        add_segment(&p->trouble, p->at, m->ink);
    p->drawing = m->kind == DT_MOVE_DRAW;
    p->at = m->ink;
}

/* The whole bed, and up to its own size around it. */
static DtBox find_view(const Picture *p)
{
    const double *travel = p->profile->travel;
    DtBox view = {0, 0, travel[0], travel[1]};
    const DtLines *l[] = {&p->travel, &p->trouble};
    for (size_t i = 0; i < G_N_ELEMENTS(l); i++)
        for (size_t k = 0; k < l[i]->n_pts; k++)
            view = dt_box_add_point(view, l[i]->pts[k]);
    view = dt_box_intersect(view, (DtBox){-travel[0], -travel[1], 2 * travel[0], 2 * travel[1]});
    double edge = 0.02 * MAX(view.x1 - view.x0, view.y1 - view.y0);
    return (DtBox){view.x0 - edge, view.y0 - edge, view.x1 + edge, view.y1 + edge};
}

/* The first findings of the list. */
static void add_worst(GString *text, const DtInspection *i)
{
    enum { SHOWN = 4 };
    for (size_t k = 0; k < MIN(i->n_findings, SHOWN); k++)
        g_string_append_printf(text, _("\nline %d: %s"), i->findings[k].line, i->findings[k].text);
    if (i->n_findings > SHOWN)
        g_string_append_printf(text, _("\nand %zu more findings"), i->n_findings - SHOWN);
}

static gboolean write_picture(const Picture *picture, const DtInspection *i, const char *program,
                              const char *figures, const char *path, GError **error)
{
    static const DtColour pale_blue = {0.5, 0.68, 0.84, 1}, red = {0.82, 0.12, 0.12, 1};
    g_autofree char *title = g_path_get_basename(program);
    const DtProofLayer layers[] = {{&picture->travel, pale_blue, 0}, {&picture->trouble, red, 0.8}};
    g_autoptr(GString) legend = g_string_new(figures);
    g_string_append_printf(legend, _("\npale blue: travel%s"),
                           picture->trouble.n ? _(" · red: beyond the travel, or drawn by a travel")
                                              : "");
    add_worst(legend, i);
    DtProofPanel panel = {.view = find_view(picture),
                          .sequence = &picture->runs,
                          .layers = layers,
                          .n_layers = G_N_ELEMENTS(layers)};
    DtProofSheet sheet = {.title = title,
                          .figures = legend->str,
                          .profile = picture->profile,
                          .panels = &panel,
                          .n_panels = 1};
    return dt_proof_write_sheet(&sheet, path, 1400, error);
}

/* Source and words in two columns. */
static void print_line(size_t line, const char *source, gsize len, const char *words, void *user)
{
    (void)user;
    enum { WIDTH = 30 };
    g_autofree char *shown = dt_base_show_text(source, (gssize)MIN(len, 200));
    g_strdelimit(shown, "\t", ' ');
    dt_cli_printf(stdout, "%6zu  %-*s  %s\n", line, WIDTH, shown, words);
}

/* How mending would read the pen of a program from elsewhere; nothing for our own. */
static void ask_mending(const DtProfile *p, const char *program, DtMending *m)
{
    enum { LONGEST = 1 << 30 };
    gsize len, n;
    *m = (DtMending){0};
    g_autofree char *text = dt_base_read_file(program, LONGEST, &len, NULL);
    if (text == NULL || dt_code_head(text) >= DT_HEAD_UNCORRECTED)
        return;
    g_autofree char *mended = dt_code_mend_text(p, text, len, program, NULL, &n, m, NULL);
}

/* Whether that draws different ink from what the controller would draw. */
static gboolean reads_otherwise(const DtMending *m, const DtInspection *i)
{
    return m->in_doubt > 0 ||
           (m->n_readings > 0 && fabs(m->readings[0].ink_mm - i->ink_mm) > 0.1 + 0.02 * i->ink_mm);
}

/* 1 if something is wrong with the program itself; waste alone is not an error. */
static int outcome(const DtInspection *i)
{
    for (size_t k = 0; k < i->n_findings; k++)
        if (i->findings[k].rank != DT_FINDING_WASTE)
            return DT_ERROR_INPUT;
    return 0;
}

static void clear_picture(Picture *p)
{
    dt_sequence_clear(&p->runs);
    dt_lines_clear(&p->travel);
    dt_lines_clear(&p->trouble);
}

/* The exit code that a program's findings and readings deserve. */
static int judge(const DtProfile *p, const char *program, const DtJudgeOptions *o, DtInspection *i,
                 DtMending *m, GError **error)
{
    DtJudgeOptions options = o ? *o : (DtJudgeOptions){0};
    options.tries_limits = dt_sheet_log_is_sheet(NULL, p, program);
    if (!dt_code_judge(p, program, &options, i, error))
        return (*error)->code;
    *m = (DtMending){0};
    if (!options.tries_limits) /* that is our own */
        ask_mending(p, program, m);
    const int code = outcome(i);
    return code == 0 && reads_otherwise(m, i) ? DT_ERROR_INPUT : code;
}

static int explain_lines(const DtProfile *p, const char *program, GError **error)
{
    if (!dt_code_explain(p, program, print_line, NULL, error))
        return (*error)->code;
    DtInspection i;
    DtMending m;
    const int code = judge(p, program, NULL, &i, &m, error);
    if (*error != NULL)
        return code;
    dt_mending_clear(&m);
    dt_inspection_clear(&i);
    if (code != 0)
        g_set_error(
            error, DT_ERROR, code,
            "%s: something is wrong with it; 'drawtrue inspect' without --explain says what",
            program);
    return code;
}

static int inspect(DtProfile *p, const char *program, const char *picture_path, gboolean json,
                   GError **error)
{
    Picture picture = {.profile = p};
    dt_sequence_init(&picture.runs);
    dt_lines_init(&picture.travel);
    dt_lines_init(&picture.trouble);
    DtJudgeOptions options = {.listener = picture_path ? on_move : NULL, .user = &picture};
    DtInspection i;
    DtMending m;
    int code = judge(p, program, &options, &i, &m, error);
    if (*error != NULL) {
        clear_picture(&picture);
        return code;
    }
    g_autofree char *report = dt_report_inspection(p, &i, &m, program, json);
    dt_mending_clear(&m);
    dt_cli_print_report(report, json);
    if (picture_path) {
        dt_code_take_paper(&i.paper, p);
        g_autofree char *figures = dt_report_inspection_figures(&i);
        if (!write_picture(&picture, &i, program, figures, picture_path, error))
            code = (*error)->code;
    }
    dt_inspection_clear(&i);
    clear_picture(&picture);
    return code;
}

static int run(int argc, char **argv, GError **error)
{
    g_autofree char *file = NULL, *picture = NULL;
    gboolean json = FALSE, explain = FALSE, force = FALSE;
    const GOptionEntry entries[] = {
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &file, N_("The machine's profile"), "FILE"},
        {"picture", 'p', 0, G_OPTION_ARG_FILENAME, &picture,
         N_("Draw where the ink would land: PNG, SVG or PDF by the ending"), "FILE"},
        {"explain", 'e', 0, G_OPTION_ARG_NONE, &explain, N_("Print each line in words instead"),
         NULL},
        DT_CLI_FORCE(force),
        {"json", 'j', 0, G_OPTION_ARG_NONE, &json, N_("Report as JSON"), NULL},
        G_OPTION_ENTRY_NULL,
    };
    if (!dt_cli_parse(&dt_command_inspect, entries, &argc, &argv, error))
        return error && *error ? DT_ERROR_USAGE : 0;
    if (argc != 2) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "inspect: name one program file");
        return DT_ERROR_USAGE;
    }
    if (explain && (picture != NULL || json)) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                    "inspect: --explain prints lines alone; ask for %s in a run of its own",
                    json ? "--json" : "--picture");
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) p = dt_cli_profile(file, error);
    if (p == NULL)
        return (*error)->code;
    if (picture != NULL &&
        (!dt_proof_check_path(picture, error) ||
         !dt_cli_claim_output(picture, DT_FILE_PICTURE, argv[1], p, force, error)))
        return (*error)->code;
    if (explain)
        return explain_lines(p, argv[1], error);
    return inspect(p, argv[1], picture, json, error);
}
