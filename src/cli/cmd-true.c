/* true: turns readings of a test sheet, by eye or from scans, into corrections in the profile. */
#include "cli/asking.h"
#include "cli/cli.h"
#include "cli/print.h"
#include "drawtrue/proof.h"
#include "drawtrue/report.h"
#include "drawtrue/sheet-log.h"

#include <stdlib.h>
#include <string.h>

static char *machine, *journal, *pictures, *picture;
static char **scans;
static int number;
static gboolean as_json, undo, compare, show_only, ask_again, card;

static const GOptionEntry entries[] = {
    {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &machine,
     N_("The machine's profile, which is corrected"), "FILE"},
    {"sheet", 0, 0, G_OPTION_ARG_INT, &number, N_("The sheet's number (the last one)"), "N"},
    {"scan", 0, 0, G_OPTION_ARG_FILENAME_ARRAY, &scans,
     N_("A scan of the sheet; a second one with the sheet turned by 90 degrees on the glass "
        "measures more"),
     "FILE"},
    {"card", 0, 0, G_OPTION_ARG_NONE, &card,
     N_("With --scan: a bank card (size ID-1) lies on the glass beside the drawing, as a measure "
        "of length"),
     NULL},
    {"show", 0, 0, G_OPTION_ARG_NONE, &show_only, N_("Show what follows and write nothing"), NULL},
    {"ask", 0, 0, G_OPTION_ARG_NONE, &ask_again, N_("Ask for readings that are kept already, too"),
     NULL},
    {"undo", 0, 0, G_OPTION_ARG_NONE, &undo, N_("Undo the last corrections of this profile"), NULL},
    {"compare", 0, 0, G_OPTION_ARG_NONE, &compare,
     N_("Compare two sheets by their numbers: --compare A B"), NULL},
    {"picture", 0, 0, G_OPTION_ARG_FILENAME, &picture, N_("With --compare: also a picture"),
     "FILE"},
    {"pictures", 0, 0, G_OPTION_ARG_FILENAME, &pictures,
     N_("Folder for the pictures of the questions"), "FOLDER"},
    {"journal", 0, 0, G_OPTION_ARG_FILENAME, &journal,
     N_("The journal that keeps sheets and readings"), "FILE"},
    {"json", 0, 0, G_OPTION_ARG_NONE, &as_json, N_("Report as JSON"), NULL},
    G_OPTION_ENTRY_NULL,
};

/* The sheet ------------------------------------------------------------------------------------- */

static DtTestSheet *read_sheet(const DtProfile *p, gint64 n, DtSheetRecord *r, GError **error)
{
    return dt_sheet_log_read(journal, p->name, n, r, error) ? dt_sheet_from_json(r->sheet, error)
                                                            : NULL;
}

/* Readings -------------------------------------------------------------------------------------- */

/* The one of the arguments before number `i` that is about the same question, or NULL. */
static const char *given_before(char **argv, int i)
{
    const gsize name = strcspn(argv[i], "=");
    for (int k = 1; k < i; k++)
        if (strcspn(argv[k], "=") == name && g_ascii_strncasecmp(argv[k], argv[i], name) == 0)
            return argv[k];
    return NULL;
}

static gboolean take_arguments(DtEyeReadings *r, int argc, char **argv, GError **error)
{
    for (int i = 1; i < argc; i++) {
        const char *before = given_before(argv, i);
        if (before) {
            g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                        "'%s' and '%s' answer the same question; leave one of them out", before,
                        argv[i]);
            return FALSE;
        }
        if (!dt_eye_readings_take(r, argv[i], error))
            return FALSE;
    }
    return TRUE;
}

static gboolean ask(const DtProfile *p, const DtTestSheet *s, DtEyeReadings *r, GError **error)
{
    g_autofree char *folder =
        pictures ? g_strdup(pictures)
                 : g_strdup_printf("%s/drawtrue/sheet-%" PRId64, g_get_user_cache_dir(), s->number);
    const DtAsking a = {
        .sheet = s, .profile = p, .journal = journal, .pictures = folder, .all = ask_again};
    return dt_cli_ask_readings(&a, r, error);
}

/* If answers are given as arguments nothing is asked; without any, the open questions are asked, and each answer is
 * kept at once. */
static gboolean gather(const DtProfile *p, const DtTestSheet *s, const DtSheetRecord *record,
                       DtEyeReadings *r, int argc, char **argv, GError **error)
{
    const gboolean kept =
        *record->readings != '\0' && dt_eye_readings_from_json(r, record->readings, error);
    if ((*record->readings != '\0' && !kept) || !take_arguments(r, argc, argv, error))
        return FALSE;
    const gboolean whole = dt_eye_readings_count(r) == r->n;
    if (argc == 1 && scans == NULL && (!whole || ask_again) && !ask(p, s, r, error))
        return FALSE;
    if (dt_eye_readings_count(r) > 0 || scans != NULL)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "sheet %" PRId64 " has no reading yet", s->number);
    return FALSE;
}

/* Solving --------------------------------------------------------------------------------------- */

static void free_scans(const DtScan **list, size_t n)
{
    for (size_t i = 0; i < n; i++)
        dt_scan_free((DtScan *)list[i]);
    g_free(list);
}

static gboolean read_scan(const char *path, const DtTestSheet *s, const DtScan **out,
                          GError **error)
{
    DtScan *scan = dt_scan_read(path, s, NULL, error);
    *out = scan;
    return scan != NULL && (!card || dt_scan_measure_card(scan, s, error));
}

static DtFigures *solve_scans(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                              GError **error)
{
    const size_t n = g_strv_length(scans);
    const DtScan **list = g_new0(const DtScan *, n);
    double rule[2][DT_EYE_TIMES];
    size_t n_rule[2] = {0, 0};
    DtFigures *f = NULL;
    gboolean good = TRUE;
    for (size_t i = 0; i < n && good; i++)
        good = read_scan(scans[i], s, &list[i], error);
    dt_eye_readings_rule(r, rule, n_rule);
    const DtEvidence e = {.sheet = s,
                          .scans = list,
                          .n_scans = n,
                          .rule_mm = {rule[0], rule[1]},
                          .n_rule = {n_rule[0], n_rule[1]}};
    if (good)
        f = dt_truing_solve(p, &e, NULL, error);
    free_scans(list, n);
    return f;
}

/* Readings that contradict each other may be in the journal. */
static DtFigures *solve_readings(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                                 GError **error)
{
    g_autoptr(GError) why = NULL;
    DtFigures *f = dt_eye_solve(p, s, r, &why);
    if (f == NULL)
        g_set_error(
            error, why->domain, why->code,
            "%s; 'drawtrue true NAME=READING' replaces a reading, and 'drawtrue true --ask' "
            "goes through all of them",
            why->message);
    return f;
}

static gboolean write_changes(const DtProfile *p, const DtTestSheet *s, const DtFigures *f,
                              DtReportTruing *report, GError **error)
{
    DtProfileChange *c = dt_truing_changes(p, s, f, &report->n_changes);
    gboolean good = TRUE;
    report->changes = c;
    if (report->n_changes == 0 && dt_figures_are_outdated(f))
        report->why_not = _("nothing was written: the profile has the figures of a newer sheet");
    else if (report->n_changes == 0)
        report->why_not = _("nothing to write: the profile already agrees with this sheet");
    else if (show_only)
        report->why_not = _("nothing was written (--show)");
    else if (p->path == NULL)
        report->why_not = _("nothing was written: no profile was named (--machine FILE)");
    else if ((good = dt_truing_write(journal, s->machine, p->path, s->number, c, report->n_changes,
                                     error)))
        report->written = p->path;
    return good;
}

static int read_and_correct(const DtProfile *p, int argc, char **argv, GError **error)
{
    g_auto(DtSheetRecord) record = {0};
    g_autoptr(DtTestSheet) s = read_sheet(p, number, &record, error);
    if (s == NULL || !dt_truing_check_record(&record, p, error))
        return DT_ERROR_INPUT;
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    if (!gather(p, s, &record, r, argc, argv, error))
        return DT_ERROR_INPUT;
    g_autoptr(DtFigures) f = scans ? solve_scans(p, s, r, error) : solve_readings(p, s, r, error);
    if (f == NULL)
        return DT_ERROR_INPUT;
    /* arguments that were refused are not kept: they would be refused each time from now on */
    g_autofree char *readings = dt_eye_readings_to_json(r), *figures = dt_figures_to_json(f);
    DtReportTruing report = {
        .sheet = s, .readings = r, .scans = scans ? g_strv_length(scans) : 0, .figures = f};
    const gboolean good =
        dt_sheet_log_keep(journal, s->machine, s->number, readings, figures, error) &&
        dt_truing_pool(journal, p, s->number, f, error) && write_changes(p, s, f, &report, error);
    if (good) {
        g_autofree char *text = dt_report_truing(p, &report, as_json);
        dt_cli_print_report(text, as_json);
    }
    dt_truing_free_changes((DtProfileChange *)report.changes, report.n_changes);
    return good ? 0 : DT_ERROR_INPUT;
}

/* Other ways ------------------------------------------------------------------------------------ */

static int take_back(const DtProfile *p, GError **error)
{
    gint64 sheet = 0;
    if (p->path == NULL) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "--undo takes the profile: --machine FILE");
        return DT_ERROR_USAGE;
    }
    if (!dt_truing_undo(journal, p->path, &sheet, error))
        return DT_ERROR_INPUT;
    dt_cli_printf(stdout, "%s is as it was before the corrections of sheet %" PRId64 "\n", p->path,
                  sheet);
    return 0;
}

static gboolean read_side(const DtProfile *p, const char *text, DtReadSheet *out, GError **error)
{
    guint64 n = 0;
    if (!g_ascii_string_to_unsigned(text, 10, 1, G_MAXINT32, &n, NULL)) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                    "--compare takes two numbers of sheets, not '%s'", text);
        return FALSE;
    }
    return dt_truing_read_sheet(journal, p->name, (gint64)n, out, error);
}

static int compare_sheets(const DtProfile *p, int argc, char **argv, GError **error)
{
    g_auto(DtReadSheet) a = {0}, b = {0};
    size_t n;
    if (argc != 3) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "--compare takes the numbers of two sheets");
        return DT_ERROR_USAGE;
    }
    if ((picture && (!dt_proof_check_path(picture, error) ||
                     !dt_cli_claim_output(picture, DT_FILE_PICTURE, NULL, p, FALSE, error))) ||
        !read_side(p, argv[1], &a, error) || !read_side(p, argv[2], &b, error))
        return DT_ERROR_INPUT;
    g_autofree DtComparison *c = dt_truing_compare(a.figures, b.figures, &n);
    const DtCompared compared = {{a.sheet, b.sheet}, {a.figures, b.figures}};
    if (picture && !dt_truing_compare_picture(&compared, p, picture, 1600, error))
        return DT_ERROR_INPUT;
    g_autofree char *text =
        dt_report_comparison(a.sheet, b.sheet, c, n, a.figures, b.figures, as_json);
    dt_cli_print_report(text, as_json);
    return 0;
}

static int run(int argc, char **argv, GError **error)
{
    if (!dt_cli_parse(&dt_command_true, entries, &argc, &argv, error))
        return 0;
    if (undo + compare + (scans != NULL) > 1 || (card && scans == NULL) || number < 0 ||
        (undo && argc > 1)) {
        g_set_error_literal(
            error, DT_ERROR, DT_ERROR_USAGE,
            "true takes readings such as X1=6, or --scan FILE, or --undo, or --compare A B");
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) p = dt_cli_profile(machine, error);
    if (p == NULL)
        return DT_ERROR_INPUT;
    return undo      ? take_back(p, error)
           : compare ? compare_sheets(p, argc, argv, error)
                     : read_and_correct(p, argc, argv, error);
}

const DtCommand dt_command_true = {
    .name = "true",
    .usage = "[READING... | --scan FILE... | --undo | --compare A B] [OPTION...]",
    .summary = N_("readings of a test sheet to corrections in the profile"),
    .about = "Turns the readings of a test sheet into corrections with their uncertainty and "
             "writes them into "
             "the profile, whose comments stay. It asks for each reading with a picture, takes "
             "them as arguments, "
             "or finds them in a scan. --show writes nothing, --undo takes the last corrections "
             "back, and "
             "--compare sets two sheets side by side: whether a repair helped.",
    .examples =
        "drawtrue true -m my.ini  # asks for the readings of the last sheet\n"
        "drawtrue true -m my.ini --scan sheet.png --show  # what a scan says, without writing it\n"
        "drawtrue true --compare 3 4 --picture repair.png  # before and after",
    .run = run,
};
