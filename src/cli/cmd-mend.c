/* mend: a program from elsewhere, made fit for this controller. */
#include "cli/cli.h"
#include "cli/print.h"

#include "drawtrue/proof.h"
#include "drawtrue/report.h"

#include <string.h>

static int run(int argc, char **argv, GError **error);

const DtCommand dt_command_mend = {
    .name = "mend",
    .usage = "PROGRAM -o FILE [--machine FILE] [--pen-by HOW] [--correct] [--clip] [--json]",
    .summary = N_("a program from elsewhere, made fit for this controller"),
    .about = "Writes a program that came from elsewhere anew, in words that this controller "
             "takes and with the same ink. Words whose meaning depends on the sender, the pen "
             "above all, are worked out from the program; where that is in doubt, the readings "
             "are listed and --pen-by chooses one. Nothing is left out silently.",
    .examples = "drawtrue mend labels.nc -o labels-fit.nc -m my.ini  # fit for the controller "
                "of my.ini\n"
                "drawtrue mend labels.nc -o labels-fit.nc --units in --pen-by z-below:0  # "
                "where the program is ambiguous",
    .run = run,
};

/* "out-reading-1.png" beside "out.nc". */
static char *picture_path(const char *output, size_t i)
{
    const char *dot = strrchr(output, '.'), *slash = strrchr(output, '/');
    const int stem =
        dot != NULL && (slash == NULL || dot > slash) ? (int)(dot - output) : (int)strlen(output);
    return g_strdup_printf("%.*s-reading-%zu.png", stem, output, i + 1);
}

/* What one reading would draw, as a picture; NULL where it draws nothing that this machine can. */
static char *draw_reading(const DtProfile *p, const char *program, const char *output,
                          const DtMendOptions *options, const DtPenReading *r, size_t i)
{
    DtMending m;
    DtInspection ink;
    DtMendOptions by = *options;
    by.pen_by = r->option;
    by.clip = TRUE;
    gsize len;
    g_autofree char *text = dt_code_mend(p, program, &by, &len, &m, NULL);
    dt_mending_clear(&m);
    if (text == NULL || !dt_code_inspect_text(p, text, len, &ink, NULL))
        return NULL;
    char *path = picture_path(output, i);
    if (!dt_cli_claim_output(path, DT_FILE_PICTURE, program, p, FALSE, NULL)) {
        dt_inspection_clear(&ink);
        g_free(path); /* a file that we did not make is left alone; the reading is described in the
                    * text */
        return NULL;
    }
    g_autofree char *title = g_strdup_printf(_("Reading %zu: --pen-by '%s'"), i + 1, r->option);
    const DtProofInput in = {.profile = p, .moves = &ink.moves, .title = title, .figures = r->text};
    if (!dt_proof_write(&in, path, 1000, NULL))
        g_clear_pointer(&path, g_free);
    dt_inspection_clear(&ink);
    return path;
}

/* The readings in doubt as pictures beside the output, which the error names. */
static void draw_doubt(const DtProfile *p, const char *program, const char *output,
                       const DtMendOptions *options, const DtMending *m, GError **error)
{
    for (size_t i = 0; i < m->in_doubt; i++) {
        g_autofree char *path = draw_reading(p, program, output, options, &m->readings[i], i);
        if (path == NULL)
            continue;
        char *more = g_strdup_printf(_("%s\n  %s shows '%s'"), (*error)->message, path,
                                     m->readings[i].option);
        g_free((*error)->message);
        (*error)->message = more;
    }
}

/* Whether a program begins as this machine's do, of whatever version of ours. */
static gboolean has_head(const char *text, const char *head)
{
    const char *name = strstr(head, "drawtrue ");
    return name == NULL || strncmp(text, head, (gsize)(name - head) + strlen("drawtrue ")) == 0;
}

/* Writes the mended program; if it was changed its head names the machine. */
static gboolean write_mended(const DtProfile *p, const DtMending *m, const char *text, gsize len,
                             const char *output, GError **error)
{
    g_autofree char *head = dt_code_mended_head(p, error);
    if (head == NULL)
        return FALSE;
    if (m->n_changes == 0 || has_head(text, head))
        *head = '\0';
    g_autofree char *whole = g_malloc(strlen(head) + len + 1);
    memcpy(g_stpcpy(whole, head), text, len);
    return dt_base_write_file(output, whole, strlen(head) + len, error);
}

/* What is left in doubt is for a person to look at before it is drawn. */
static gboolean is_certain(const DtMending *m, const char *program, const char *output,
                           GError **error)
{
    if (m->n_doubts > 0)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    P_("%s: %zu line is left in doubt; '%s' is written, look at it before it is "
                       "drawn",
                       "%s: %zu lines are left in doubt; '%s' is written, look at it before it is "
                       "drawn",
                       m->n_doubts),
                    program, m->n_doubts, output);
    return m->n_doubts == 0;
}

/* Ink that the words draw as they should, and not on the sheet. */
static void note_off_paper(const DtProfile *p, const char *text, gsize len, const char *output)
{
    DtInspection i;
    if (!dt_code_judge_text(p, text, len, NULL, &i, NULL))
        return;
    g_autofree char *beside = dt_report_off_paper(p, &i);
    if (beside != NULL)
        dt_cli_printf(stderr, "%s: %s\n", output, beside);
    dt_inspection_clear(&i);
}

static int mend(const DtProfile *p, const char *program, const char *output,
                const DtMendOptions *options, gboolean correct, gboolean json, GError **error)
{
    DtMending m;
    gsize len;
    g_autofree char *text = dt_code_mend(p, program, options, &len, &m, error);
    if (text == NULL) {
        draw_doubt(p, program, output, options, &m, error);
        dt_mending_clear(&m);
        return (*error)->code;
    }
    if (correct) {
        char *corrected = dt_job_correct_program(p, text, len, &len, error);
        g_free(text);
        text = corrected;
    }
    if (text == NULL) {
        dt_mending_clear(&m);
        return (*error)->code;
    }
    if (correct)
        dt_cli_note_origin(p, program);
    note_off_paper(p, text, len, output);
    gboolean good = write_mended(p, &m, text, len, output, error);
    if (good) {
        g_autofree char *report = dt_report_mending(&m, program, output, correct, json);
        dt_cli_print_report(report, json);
        good = is_certain(&m, program, output, error);
    }
    dt_mending_clear(&m);
    return good ? 0 : (*error)->code;
}

static int run(int argc, char **argv, GError **error)
{
    g_autofree char *file = NULL, *output = NULL;
    g_autofree char *pen_by = NULL, *units = NULL, *leave_out = NULL;
    gboolean json = FALSE, correct = FALSE, force = FALSE;
    DtMendOptions options = {0};
    const GOptionEntry entries[] = {
        {"output", 'o', 0, G_OPTION_ARG_FILENAME, &output, N_("The mended program to write"),
         "FILE"},
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &file, N_("The machine's profile"), "FILE"},
        {"pen-by", 0, 0, G_OPTION_ARG_STRING, &pen_by,
         N_("How the program controls its pen, where that is not clear: spindle:on, s-above:N, "
            "z-below:N, "
            "line:WORDS=down,WORDS=up, moves and more"),
         "HOW"},
        {"units", 0, 0, G_OPTION_ARG_STRING, &units,
         N_("Unit of the lengths of a program that does not state it"), "mm|in"},
        {"leave-out", 0, 0, G_OPTION_ARG_STRING, &leave_out,
         N_("Words that RS-274 does not have, whose lines are left out: G187,G900"), "WORDS"},
        {"correct", 0, 0, G_OPTION_ARG_NONE, &correct,
         N_("Apply this machine's corrections: the ink lands where the program says"), NULL},
        {"clip", 0, 0, G_OPTION_ARG_NONE, &options.clip,
         N_("Leave out what lies beyond the travel instead of refusing"), NULL},
        DT_CLI_FORCE(force),
        {"json", 'j', 0, G_OPTION_ARG_NONE, &json, N_("Report as JSON"), NULL},
        G_OPTION_ENTRY_NULL,
    };
    if (!dt_cli_parse(&dt_command_mend, entries, &argc, &argv, error))
        return error && *error ? DT_ERROR_USAGE : 0;
    if (argc != 2 || output == NULL) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                    argc == 2 ? N_("mend: say where the mended program goes, with -o")
                              : N_("mend: name one program file"));
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) p = dt_cli_profile(file, error);
    if (p == NULL || !dt_cli_claim_output(output, DT_FILE_PROGRAM, argv[1], p, force, error))
        return (*error)->code;
    options.pen_by = pen_by;
    options.units = units;
    options.leave_out = leave_out;
    return mend(p, argv[1], output, &options, correct, json, error);
}
