/* mend: a program from elsewhere, made fit for this controller. */
#include "cli/cli.h"
#include "cli/print.h"

#include "drawtrue/report.h"

#include <string.h>

static int run(int argc, char **argv, GError **error);

const DtCommand dt_command_mend = {
    .name = "mend",
    .usage = "PROGRAM -o FILE [--machine FILE] [--clip] [--json]",
    .summary = "a program from elsewhere, made fit for this controller",
    .run = run,
};

static int mend(const DtProfile *p, const char *program, const char *output,
                const DtMendOptions *options, gboolean json, GError **error)
{
    DtMending m;
    gsize len;
    g_autofree char *text = dt_code_mend(p, program, options, &len, &m, error);
    if (text == NULL)
        return (*error)->code;
    const gboolean has_head = m.n_changes == 0 || g_str_has_prefix(text, "(drawtrue ");
    g_autofree char *head = has_head ? g_strdup("") : dt_code_mended_head(p, error);
    g_autofree char *whole = head ? g_malloc(strlen(head) + len + 1) : NULL;
    gboolean good = whole != NULL;
    if (good) {
        memcpy(g_stpcpy(whole, head), text, len);
        good = dt_base_write_file(output, whole, strlen(head) + len, error);
    }
    if (good) {
        g_autofree char *report = dt_report_mending(&m, program, output, json);
        dt_cli_print_report(report, json);
    }
    dt_mending_clear(&m);
    return good ? 0 : (*error)->code;
}

static int run(int argc, char **argv, GError **error)
{
    g_autofree char *file = NULL, *output = NULL;
    gboolean json = FALSE, force = FALSE;
    DtMendOptions options = {0};
    const GOptionEntry entries[] = {
        {"output", 'o', 0, G_OPTION_ARG_FILENAME, &output, "Where the mended program goes", "FILE"},
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &file, "The machine's profile", "FILE"},
        {"clip", 0, 0, G_OPTION_ARG_NONE, &options.clip,
         "Leave out what lies beyond the travel instead of refusing", NULL},
        DT_CLI_FORCE(force),
        {"json", 'j', 0, G_OPTION_ARG_NONE, &json, "Report as JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    if (!dt_cli_parse(&dt_command_mend, entries, &argc, &argv, error))
        return error && *error ? DT_ERROR_USAGE : 0;
    if (argc != 2 || output == NULL) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                    argc == 2 ? "mend: say where the mended program goes, with -o"
                              : "mend: name one program file");
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) p = dt_cli_profile(file, error);
    if (p == NULL ||
        !dt_cli_claim_output(output, DT_FILE_PROGRAM, argv[1], p, force, error))
        return (*error)->code;
    return mend(p, argv[1], output, &options, json, error);
}
