/* machine: what follows from a profile, or a profile to begin with. */
#include "cli/cli.h"
#include "cli/print.h"
#include "drawtrue/report.h"
#include "drawtrue/settings.h"

static int run(int argc, char **argv, GError **error);

const DtCommand dt_command_machine = {
    .name = "machine",
    .usage = "[--machine FILE] [--template | --board PORT | --send PORT] [--json]",
    .summary = N_("what follows from the machine's profile, or a profile to start from"),
    .about = "Reports what follows from a profile: steps per mm, the finest step, the fastest "
             "feeds, which part of the bed the pens reach, and the power budget. With "
             "--template it prints a profile in which every key is explained and has its "
             "default; drawtrue-profile(5) lists the keys. --board reads the settings of our own "
             "board and sets them beside the profile's; --send writes those that differ, and the "
             "board keeps them. Where steps per mm change the board must home again.",
    .examples =
        "drawtrue machine --template > my.ini  # a profile to begin with\n"
        "drawtrue machine -m my.ini  # what follows from it\n"
        "drawtrue machine -m my.ini --send /dev/ttyUSB0  # our board keeps its speeds and steps",
    .run = run,
};

/* Exit code 1 where something differs and was not written. */
static int compare_board(const DtProfile *p, const char *board, const char *send, gboolean json,
                         GError **error)
{
    g_autoptr(GArray) all = dt_link_settings(p, send ? send : board, send != NULL, error);
    if (all == NULL)
        return (*error)->code;
    g_autofree char *text = dt_report_settings(all, json);
    dt_cli_print_report(text, TRUE); /* a table is not broken */
    for (guint i = 0; i < all->len; i++) {
        const DtBoardSetting *s = &g_array_index(all, DtBoardSetting, i);
        if (s->differs && !s->written)
            return DT_ERROR_INPUT;
    }
    return 0;
}

static int run(int argc, char **argv, GError **error)
{
    g_autofree char *file = NULL;
    g_autofree char *board = NULL, *send = NULL;
    gboolean json = FALSE, template = FALSE;
    const GOptionEntry entries[] = {
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &file, N_("The machine's profile"), "FILE"},
        {"template", 't', 0, G_OPTION_ARG_NONE, &template,
         N_("Print a commented profile with every key at its default"), NULL},
        {"board", 0, 0, G_OPTION_ARG_FILENAME, &board,
         N_("Read the settings of the board on PORT and show what differs"), "PORT"},
        {"send", 0, 0, G_OPTION_ARG_FILENAME, &send,
         N_("Write the profile's settings to the board on PORT, where they differ"), "PORT"},
        {"json", 'j', 0, G_OPTION_ARG_NONE, &json, N_("Report as JSON"), NULL},
        G_OPTION_ENTRY_NULL,
    };
    if (!dt_cli_parse(&dt_command_machine, entries, &argc, &argv, error))
        return error && *error ? DT_ERROR_USAGE : 0;
    if (argc > 1) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "machine: '%s' is one argument too many",
                    argv[1]);
        return DT_ERROR_USAGE;
    }
    if (template + (board != NULL) + (send != NULL) > 1) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            N_("machine: --template, --board and --send exclude each other"));
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
    if (board != NULL || send != NULL)
        return compare_board(p, board, send, json, error);
    g_autofree char *text = dt_report_machine(p, json);
    dt_cli_print_report(text, json);
    return 0;
}
