/* log: past runs: time, ink and travel per pen, before and after. */
#include "cli/cli.h"
#include "cli/print.h"
#include "drawtrue/report.h"
#include "drawtrue/sheet-log.h"

static char *journal;
static gboolean as_json, machines;

static const GOptionEntry entries[] = {
    {"journal", 0, 0, G_OPTION_ARG_FILENAME, &journal, N_("The journal to read"), "FILE"},
    {"machine", 0, 0, G_OPTION_ARG_NONE, &machines,
     N_("What test sheets showed of each machine, oldest first"), NULL},
    {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, N_("Report as JSON"), NULL},
    G_OPTION_ENTRY_NULL,
};

static int tell_machines(GError **error)
{
    g_autoptr(GArray) sheets = dt_sheet_log_read_all(journal, NULL, error);
    if (sheets == NULL)
        return DT_ERROR_IO;
    g_autofree char *text = dt_report_sheets_log(sheets, as_json);
    dt_cli_print_report(text, as_json);
    return 0;
}

static int run(int argc, char **argv, GError **error)
{
    if (!dt_cli_parse(&dt_command_log, entries, &argc, &argv, error))
        return 0;
    if (argc != 1) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "log takes no arguments");
        return DT_ERROR_USAGE;
    }
    /* Without the option there may be no journal yet; a name that was given is a mistake then. */
    if (journal != NULL && !g_file_test(journal, G_FILE_TEST_EXISTS)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: there is no such journal", journal);
        return DT_ERROR_INPUT;
    }
    if (machines)
        return tell_machines(error);
    g_auto(DtLog) log = {0};
    if (!dt_log_read(journal, &log, error))
        return DT_ERROR_IO;
    g_autofree char *text = dt_report_log(&log, as_json);
    dt_cli_print_report(text, as_json);
    return 0;
}

const DtCommand dt_command_log = {
    .name = "log",
    .usage = "[--machine] [--journal FILE] [--json]",
    .summary = N_("past runs: time, ink and travel per pen"),
    .about = "Lists the runs in the journal: when, on which machine, how long they took "
             "against the estimate, how much ink each pen laid and how far it travelled, and "
             "whether they were finished.",
    .examples = "drawtrue log  # every run\n"
                "drawtrue log --json  # the same for a program",
    .run = run,
};
