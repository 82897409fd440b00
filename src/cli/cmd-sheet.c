/* sheet: a test sheet, by which the machine measures itself on paper. */
#include "cli/cli.h"
#include "cli/print.h"
#include "drawtrue/report.h"
#include "drawtrue/sheet-log.h"

#include <string.h>

static char *output, *machine, *journal, *picture, *date;
static gboolean as_json, force;

static const GOptionEntry entries[] = {
    {"output", 'o', 0, G_OPTION_ARG_FILENAME, &output, N_("The program to write"), "JOB.nc"},
    {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &machine, N_("The machine's profile"), "FILE"},
    {"picture", 0, 0, G_OPTION_ARG_FILENAME, &picture,
     N_("Also a picture of the sheet: .png, .svg or .pdf"), "FILE"},
    {"date", 0, 0, G_OPTION_ARG_STRING, &date, N_("The date on the sheet (today)"), "YYYY-MM-DD"},
    {"journal", 0, 0, G_OPTION_ARG_FILENAME, &journal, N_("The journal that keeps the sheet"),
     "FILE"},
    DT_CLI_FORCE(force),
    {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, N_("Report as JSON"), NULL},
    G_OPTION_ENTRY_NULL,
};

/* Parts that fill a sheet by themselves. */
static const guint alone = DT_SHEET_SCAN | DT_SHEET_SPEED | DT_SHEET_PENS;

static guint asked_kinds(int argc, char **argv, GError **error)
{
    guint kinds = argc == 1 ? dt_sheet_kinds("all") : 0;
    for (int i = 1; i < argc; i++) {
        const guint kind = dt_sheet_kinds(argv[i]);
        if (kind == 0) {
            g_set_error(
                error, DT_ERROR, DT_ERROR_USAGE,
                "there is no sheet '%s'; there are all, slack, scale, square, settle, speed, pens "
                "and scan",
                argv[i]);
            return 0;
        }
        kinds |= kind;
    }
    if ((kinds & alone) && (kinds & (kinds - 1)) && kinds != (DT_SHEET_SCAN | DT_SHEET_PENS)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "scan, speed and pens fill a sheet each; only 'scan pens', for reading "
                            "the pens from a scan as well, go together");
        return 0;
    }
    return kinds;
}

static char *sheet_date(GError **error)
{
    g_autoptr(GDateTime) now = g_date_time_new_now_local();
    if (date == NULL)
        return g_date_time_format(now, "%Y-%m-%d");
    int y, m, d, end = 0;
    if (sscanf(date, "%4d-%2d-%2d%n", &y, &m, &d, &end) == 3 && end == 10 && date[end] == '\0' &&
        g_date_valid_dmy((GDateDay)d, (GDateMonth)m, (GDateYear)y))
        return g_strdup(date);
    g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "--date takes a day as 2026-03-14, not '%s'",
                date);
    return NULL;
}

static int make(const DtProfile *p, guint kinds, const char *day, GError **error)
{
    gint64 number = 0;
    if (!dt_cli_claim_output(output, DT_FILE_PROGRAM, NULL, p, force, error) ||
        !dt_cli_keep_unfinished(journal, output, force, error) ||
        (picture && (!dt_proof_check_path(picture, error) ||
                     !dt_cli_claim_output(picture, DT_FILE_PICTURE, NULL, p, force, error))) ||
        !dt_sheet_log_next(journal, p->name, &number, error))
        return DT_ERROR_INPUT;
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, kinds, day, number, error);
    g_auto(DtMoves) moves = {0};
    if (s == NULL || !dt_sheet_moves(s, p, &moves, error))
        return DT_ERROR_INPUT;
    gsize len = 0;
    g_autofree char *program = dt_sheet_write(s, p, &len, error);
    if (program == NULL || !dt_truing_keep_sheet(journal, p, s, program, len, output, error) ||
        (picture != NULL && !dt_sheet_picture(s, p, picture, 2000, error)))
        return DT_ERROR_INPUT;
    DtTimes times = {0};
    dt_code_times(p, &moves, FALSE, &times);
    g_autofree char *report = dt_report_test_sheet(p, s, &times, output, as_json);
    dt_cli_print_report(report, as_json);
    return 0;
}

static int run(int argc, char **argv, GError **error)
{
    if (!dt_cli_parse(&dt_command_sheet, entries, &argc, &argv, error))
        return 0;
    if (output == NULL) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "sheet takes -o JOB.nc and what to draw");
        return DT_ERROR_USAGE;
    }
    const guint kinds = asked_kinds(argc, argv, error);
    g_autofree char *day = kinds ? sheet_date(error) : NULL;
    if (day == NULL)
        return DT_ERROR_USAGE;
    g_autoptr(DtProfile) p = dt_cli_profile(machine, error);
    return p ? make(p, kinds, day, error) : DT_ERROR_INPUT;
}

const DtCommand dt_command_sheet = {
    .name = "sheet",
    .usage = "[all|slack|scale|square|settle|speed|pens|scan]... -o JOB.nc [OPTION...]",
    .summary = N_("a test sheet, by which the machine measures itself on paper"),
    .about = "Writes a program that draws a test sheet with a number of its own, and keeps what it "
             "holds in the "
             "journal. Read by eye or from a scan, it tells 'drawtrue true' how far this machine's "
             "ink lies from "
             "where it was sent. The words name what is to be measured; all draws everything that "
             "fits.\n"
             "\n"
             "A plotter moves by itself: keep fingers, hair and cords out of its way, keep its "
             "switch in reach, "
             "and do not leave it alone.",
    .examples = "drawtrue sheet all -o sheet.nc -m my.ini  # a sheet for everything\n"
                "drawtrue sheet slack square -o sheet.nc --picture sheet.png  # two measurements, "
                "and how they look",
    .run = run,
};
