/* mend: a program from elsewhere, made fit for this controller. */
#include "cli/cli.h"

#include "drawtrue/code.h"
#include "drawtrue/json.h"

#include <string.h>

static int run(int argc, char **argv, GError **error);

const DtCommand dt_command_mend = {
    .name = "mend",
    .usage = "PROGRAM -o FILE [--machine FILE] [--clip] [--json]",
    .summary = "a program from elsewhere, made fit for this controller",
    .run = run,
};

enum { LISTED = 40 }; /* changes that the short report lists */

static void print_report(const DtMending *m, const char *program, const char *output)
{
    if (m->n_changes == 0) {
        printf("%s is fit for this machine as it is; %s is a copy\n", program, output);
        return;
    }
    size_t shown = MIN(m->n_changes, LISTED);
    for (size_t i = 0; i < shown; i++)
        printf("%s:%d: %s\n", program, m->changes[i].line, m->changes[i].text);
    size_t more = m->n_changes + m->omitted - shown;
    if (more > 0)
        printf("and %zu more changes (--json lists them)\n", more);
    size_t n = m->n_changes + m->omitted;
    printf("%s: %zu %s; written to %s\n", program, n, n == 1 ? "change" : "changes", output);
}

static void print_json(const DtMending *m, const char *program, const char *output)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_text(b, "program", program);
    dt_json_text(b, "output", output);
    dt_json_count(b, "changes_omitted", m->omitted);
    json_builder_set_member_name(b, "changes");
    json_builder_begin_array(b);
    for (size_t i = 0; i < m->n_changes; i++) {
        g_autofree char *text = g_utf8_make_valid(m->changes[i].text, -1);
        json_builder_begin_object(b);
        dt_json_count(b, "line", (size_t)m->changes[i].line);
        dt_json_text(b, "text", text);
        json_builder_end_object(b);
    }
    json_builder_end_array(b);
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, TRUE);
    puts(text);
}

static gboolean is_same_file(const char *a, const char *b)
{
    g_autofree char *real_a = realpath(a, NULL), *real_b = realpath(b, NULL);
    return real_a && real_b && strcmp(real_a, real_b) == 0;
}

static int mend(const DtProfile *p, const char *program, const char *output,
                const DtMendOptions *options, gboolean json, GError **error)
{
    DtMending m;
    gsize len;
    g_autofree char *text = dt_code_mend(p, program, options, &len, &m, error);
    if (text == NULL)
        return (*error)->code;
    gboolean good = dt_base_write_file(output, text, len, error);
    if (good && json)
        print_json(&m, program, output);
    else if (good)
        print_report(&m, program, output);
    dt_mending_clear(&m);
    return good ? 0 : (*error)->code;
}

static int run(int argc, char **argv, GError **error)
{
    g_autofree char *file = NULL, *output = NULL;
    gboolean json = FALSE;
    DtMendOptions options = {0};
    const GOptionEntry entries[] = {
        {"output", 'o', 0, G_OPTION_ARG_FILENAME, &output, "Where the mended program goes", "FILE"},
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &file, "The machine's profile", "FILE"},
        {"clip", 0, 0, G_OPTION_ARG_NONE, &options.clip,
         "Leave out what lies beyond the travel instead of refusing", NULL},
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
    if (is_same_file(argv[1], output)) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "mend: the input is never overwritten");
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) p = dt_cli_profile(file, error);
    if (p == NULL)
        return (*error)->code;
    return mend(p, argv[1], output, &options, json, error);
}
