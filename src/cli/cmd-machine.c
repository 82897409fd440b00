/* machine: what follows from a profile, or a profile to begin with. */
#include "cli/cli.h"
#include "cli/print.h"
#include "drawtrue/report.h"

static int run(int argc, char **argv, GError **error);

const DtCommand dt_command_machine = {
    .name = "machine",
    .usage = "[--machine FILE] [--template] [--json]",
    .summary = "what follows from the machine's profile, or a profile to begin with",
    .about = "Reports what follows from a profile: steps per mm, the finest step, the fastest "
             "feeds, which part of the bed the pens reach, and the power budget. With "
             "--template it prints a profile in which every key is explained and has its "
             "default; drawtrue-profile(5) lists the keys.",
    .examples = "drawtrue machine --template > my.ini  # a profile to begin with\n"
                "drawtrue machine -m my.ini  # what follows from it",
    .run = run,
};

static int run(int argc, char **argv, GError **error)
{
    g_autofree char *file = NULL;
    gboolean json = FALSE, template = FALSE;
    const GOptionEntry entries[] = {
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &file, "The machine's profile", "FILE"},
        {"template", 't', 0, G_OPTION_ARG_NONE, &template,
         "Print a commented profile with every key at its default", NULL},
        {"json", 'j', 0, G_OPTION_ARG_NONE, &json, "Report as JSON", NULL},
        G_OPTION_ENTRY_NULL,
    };
    if (!dt_cli_parse(&dt_command_machine, entries, &argc, &argv, error))
        return error && *error ? DT_ERROR_USAGE : 0;
    if (argc > 1) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "machine: '%s' is one argument too many",
                    argv[1]);
        return DT_ERROR_USAGE;
    }
    if (template) {
        g_autofree char *text = dt_profile_template();
        dt_cli_print_report(text, TRUE); /* lines of a profile are not broken */
        return 0;
    }
    g_autoptr(DtProfile) p = dt_cli_profile(file, error);
    if (p == NULL)
        return (*error)->code;
    g_autofree char *text = dt_report_machine(p, json);
    dt_cli_print_report(text, json);
    return 0;
}
