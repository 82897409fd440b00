/* journal: a disk that fails at any call, and a data base that lacks a table. Every act is carried out
 * as a whole and says so, or changes nothing and says why. */
#include "support/cut-vfs.h"
#include "support/folder.h"
#include "drawtrue/sheet-log.h"
#include "link/journal.h"

#include <sqlite3.h>
#include <string.h>

static char *folder, *path;

/* Acts ---------------------------------------------------------------------------------------- */

static DtJournalRun run_of(const char *machine)
{
    return (DtJournalRun){.machine = (char *)machine,
                          .profile = (char *)"",
                          .program = (char *)"/job.nc",
                          .sha256 = (char *)"00",
                          .port = (char *)"p",
                          .strokes = 9,
                          .estimate_s = 100};
}

static DtSheetRecord sheet_of(gint64 number)
{
    return (DtSheetRecord){.number = number,
                           .machine = (char *)"m",
                           .profile = (char *)"/m.ini",
                           .profile_sum = (char *)"11",
                           .program_sum = (char *)"00",
                           .sheet = (char *)"{}"};
}

static gboolean do_begin(DtJournal *j, GError **error)
{
    const DtJournalRun run = run_of("n");
    return dt_journal_begin(j, &run, error) != 0;
}

static gboolean do_stroke(DtJournal *j, GError **error)
{
    const DtJournalStroke s = {.stroke = 4, .line = 40, .pen = "red", .ink_mm = 3, .time_s = 4};
    return dt_journal_stroke(j, 1, &s, error);
}

static gboolean do_event(DtJournal *j, GError **error)
{
    return dt_journal_event(j, 1, "paused", "7", error);
}

static gboolean do_reopen(DtJournal *j, GError **error)
{
    return dt_journal_reopen(j, 1, "q", 2, error);
}

static gboolean do_port(DtJournal *j, GError **error)
{
    return dt_journal_port(j, 1, "r", error);
}

static gboolean do_end(DtJournal *j, GError **error)
{
    return dt_journal_end(j, 1, "stopped", "by hand", 9, error);
}

static gboolean do_note(DtJournal *j, GError **error)
{
    return dt_journal_note(j, "m", "true", "backlash y 0.45 mm", error);
}

static gboolean do_read(DtJournal *j, GError **error)
{
    g_auto(DtJournalRun) r = {0};
    const gboolean good = dt_journal_read(j, 1, &r, error);
    if (good)
        g_assert_cmpuint(r.drawn, ==, 3);
    return good;
}

static gboolean do_read_last(DtJournal *j, GError **error)
{
    g_auto(DtJournalRun) r = {0};
    const gboolean good = dt_journal_read(j, 0, &r, error);
    if (good)
        g_assert_cmpint(r.id, ==, 1);
    return good;
}

/* The acts that open the journal themselves. */
static gboolean do_log(DtJournal *j, GError **error)
{
    (void)j;
    g_auto(DtLog) log = {0};
    const gboolean good = dt_log_read(path, &log, error);
    g_assert_cmpuint(log.n_runs, ==, good ? 2 : 0);
    g_assert_cmpuint(log.n_notes, ==, good ? 1 : 0);
    if (good)
        g_assert_cmpuint(log.runs[0].n_pens, ==, 2);
    return good;
}

static gboolean do_next_sheet(DtJournal *j, GError **error)
{
    (void)j;
    gint64 number = 0;
    const gboolean good = dt_sheet_log_next(path, "m", &number, error);
    if (good)
        g_assert_cmpint(number, ==, 3);
    return good;
}

static gboolean do_add_sheet(DtJournal *j, GError **error)
{
    (void)j;
    const DtSheetRecord r = sheet_of(3);
    return dt_sheet_log_add(path, &r, error);
}

static gboolean do_read_sheet(DtJournal *j, GError **error)
{
    (void)j;
    g_auto(DtSheetRecord) r = {0};
    const gboolean good = dt_sheet_log_read(path, "m", 1, &r, error);
    if (good)
        g_assert_cmpuint(r.strokes_drawn, ==, 3);
    return good;
}

static gboolean do_read_sheets(DtJournal *j, GError **error)
{
    (void)j;
    g_autoptr(GArray) all = dt_sheet_log_read_all(path, NULL, error);
    if (all)
        g_assert_cmpuint(all->len, ==, 2);
    return all != NULL;
}

static gboolean do_keep(DtJournal *j, GError **error)
{
    (void)j;
    return dt_sheet_log_keep(path, "m", 1, "readings", "figures", error);
}

static gboolean do_correct(DtJournal *j, GError **error)
{
    (void)j;
    const DtCorrectionRecord r = {.number = 1, .before = (char *)"b", .after_sum = (char *)"a"};
    return dt_sheet_log_correct(path, "m", "/m.ini", &r, error);
}

static gboolean do_last_correction(DtJournal *j, GError **error)
{
    (void)j;
    g_auto(DtCorrectionRecord) r = {0};
    const gboolean good = dt_sheet_log_last_correction(path, "/m.ini", &r, error);
    g_assert_cmpstr(r.before, ==, good ? "old" : NULL);
    return good;
}

static gboolean do_take_back(DtJournal *j, GError **error)
{
    (void)j;
    return dt_sheet_log_take_back(path, 1, error);
}

static const struct Act {
    const char *name;
    gboolean (*act)(DtJournal *j, GError **error); /* an open journal, or NULL: it opens one */
    gboolean opens;
    const char *tables; /* that it needs */
} acts[] = {
    {"begin", do_begin, FALSE, "runs"},
    {"stroke", do_stroke, FALSE, "runs strokes"},
    {"event", do_event, FALSE, "events"},
    {"reopen", do_reopen, FALSE, "runs strokes events"},
    {"port", do_port, FALSE, "runs"},
    {"end", do_end, FALSE, "runs"},
    {"note", do_note, FALSE, "notes"},
    {"read", do_read, FALSE, "runs strokes"},
    {"read-last", do_read_last, FALSE, "runs strokes"},
    {"log", do_log, TRUE, "runs strokes notes"},
    {"next-sheet", do_next_sheet, TRUE, "sheets runs corrections"},
    {"add-sheet", do_add_sheet, TRUE, "sheets runs corrections"},
    {"read-sheet", do_read_sheet, TRUE, "sheets runs corrections"},
    {"read-sheets", do_read_sheets, TRUE, "sheets runs corrections"},
    {"keep", do_keep, TRUE, "sheets"},
    {"correct", do_correct, TRUE, "corrections"},
    {"last-correction", do_last_correction, TRUE, "corrections"},
    {"take-back", do_take_back, TRUE, "corrections"},
};

static gboolean carry_out(const struct Act *a, GError **error)
{
    g_autoptr(DtJournal) j = a->opens ? NULL : dt_journal_open(path, error);
    return (a->opens || j != NULL) && a->act(j, error);
}

/* The journal --------------------------------------------------------------------------------- */

/* A run of three strokes that was cut off and one that is done, two sheets, a note, a correction. */
static void fill(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtJournal) j = dt_journal_open(path, &error);
    g_assert_no_error(error);
    const DtJournalRun run = run_of("m");
    g_assert_cmpint(dt_journal_begin(j, &run, &error), ==, 1);
    for (size_t i = 1; i <= 3; i++) {
        const DtJournalStroke s = {
            .stroke = i, .line = 10 * i, .pen = i % 2 ? "black" : "red", .ink_mm = 5};
        g_assert_true(dt_journal_stroke(j, 1, &s, &error));
    }
    g_assert_cmpint(dt_journal_begin(j, &run, &error), ==, 2);
    g_assert_true(dt_journal_end(j, 2, "done", "", 90, &error));
    g_assert_true(dt_journal_note(j, "m", "true", "backlash x 0.1 mm", &error));
    g_clear_pointer(&j, dt_journal_close);
    const DtSheetRecord one = sheet_of(1), two = sheet_of(2);
    const DtCorrectionRecord c = {.number = 1, .before = (char *)"old", .after_sum = (char *)"s"};
    g_assert_true(dt_sheet_log_add(path, &one, &error) && dt_sheet_log_add(path, &two, &error));
    g_assert_true(dt_sheet_log_correct(path, "m", "/m.ini", &c, &error));
}

static void run_sql(const char *sql, int (*take)(void *, int, char **, char **), gpointer to)
{
    sqlite3 *db = NULL;
    g_assert_cmpint(sqlite3_open(path, &db), ==, SQLITE_OK);
    g_assert_cmpint(sqlite3_exec(db, sql, take, to, NULL), ==, SQLITE_OK);
    sqlite3_close(db);
}

static int append_row(void *to, int n, char **values, char **columns)
{
    (void)columns;
    for (int i = 0; i < n; i++)
        g_string_append_printf(to, "%s|", values[i]);
    g_string_append_c(to, '\n');
    return 0;
}

/* All that the tables hold, but for the times. */
static char *content(void)
{
    GString *all = g_string_new(NULL);
    run_sql("SELECT id, machine, port, status, note, drawn, line, time_s, ended > 0 FROM runs;"
            "SELECT run, stroke, pen, ink_mm, travel_mm FROM strokes;"
            "SELECT run, kind, text FROM events; SELECT machine, kind, text FROM notes;"
            "SELECT number, readings, figures FROM sheets;"
            "SELECT number, profile, before, after_sum, undone > 0 FROM corrections;",
            append_row, all);
    return g_string_free(all, FALSE);
}

/* Tests --------------------------------------------------------------------------------------- */

/* As SQLite tests itself (sqlite.org/testing.html#i_o_error_testing): the first call of the disk
 * fails, then the second, until none does. */
static void test_a_disk_that_fails_is_reported_and_nothing_is_half_done(void)
{
    for (gsize i = 0; i < G_N_ELEMENTS(acts); i++) {
        cut_vfs_install(1);
        fill();
        g_autofree char *before = content(), *after = NULL;
        g_assert_true(carry_out(&acts[i], NULL));
        after = content();
        cut_vfs_remove();
        unsigned refusals = 0;
        gboolean more = TRUE;
        for (int calls = 0; more; calls++) {
            g_assert_cmpint(calls, <, 500);
            g_autoptr(GError) error = NULL;
            cut_vfs_install(1);
            fill();
            cut_vfs_fail_after(calls);
            const gboolean good = carry_out(&acts[i], &error);
            more = cut_vfs_has_failed();
            cut_vfs_fail_after(-1);
            g_autofree char *now = content();
            if (good)
                g_assert_cmpstr(now, ==, after);
            else
                g_assert_true(strcmp(now, before) == 0 || strcmp(now, after) == 0);
            g_assert_cmpint(good, ==, error == NULL);
            if (error != NULL) {
                g_test_message("%s, call %d: %s", acts[i].name, calls, error->message);
                g_assert_error(error, DT_ERROR, DT_ERROR_IO);
                g_assert_true(g_str_has_prefix(error->message, path));
                g_assert_null(strstr(error->message, "not an error"));
            }
            refusals += !good;
            g_assert_true(good || more);
            cut_vfs_remove();
        }
        g_assert_cmpuint(refusals, >=, 2);
    }
}

/* The same where it is to be made: it is there as a whole, or an error and made the next time. */
static void test_a_disk_that_fails_at_the_first_opening(void)
{
    unsigned refusals = 0;
    gboolean more = TRUE;
    for (int calls = 0; more; calls++) {
        g_assert_cmpint(calls, <, 500);
        g_autoptr(GError) error = NULL;
        cut_vfs_install(1);
        cut_vfs_fail_after(calls);
        g_autoptr(DtJournal) j = dt_journal_open(path, &error);
        more = cut_vfs_has_failed();
        cut_vfs_fail_after(-1);
        g_assert_cmpint(j != NULL, ==, error == NULL);
        if (error != NULL) {
            g_assert_error(error, DT_ERROR, DT_ERROR_IO);
            g_assert_true(g_str_has_prefix(error->message, path));
        }
        refusals += j == NULL;
        g_assert_true(j != NULL || more);
        g_clear_pointer(&j, dt_journal_close);
        fill(); /* all tables are there */
        cut_vfs_remove();
    }
    g_assert_cmpuint(refusals, >=, 2);
}

/* It says which; nothing is done. An act that does not need it is carried out. */
static void test_a_missing_table_is_reported(void)
{
    static const char *const tables[] = {"runs",  "strokes", "events",
                                         "notes", "sheets",  "corrections"};
    for (gsize i = 0; i < G_N_ELEMENTS(acts); i++)
        for (gsize k = 0; k < G_N_ELEMENTS(tables); k++) {
            g_autoptr(GError) error = NULL;
            g_autofree char *sql = g_strdup_printf("DROP TABLE %s", tables[k]);
            g_autofree char *words = g_strdup_printf("no such table: %s", tables[k]);
            cut_vfs_install(1);
            fill();
            run_sql(sql, NULL, NULL);
            const gboolean needed = strstr(acts[i].tables, tables[k]) != NULL;
            g_assert_cmpint(carry_out(&acts[i], &error), ==, !needed);
            if (needed) {
                g_assert_error(error, DT_ERROR, DT_ERROR_IO);
                g_assert_true(g_str_has_prefix(error->message, path));
                if (strstr(error->message, words) == NULL)
                    g_error("%s: '%s' does not say '%s'", acts[i].name, error->message, words);
            } else
                g_assert_no_error(error);
            cut_vfs_remove();
        }
}

/* Its folder cannot be made, since a file stands where a folder should. */
static void test_the_usual_place_may_be_missing(void)
{
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_journal_default_path(&error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_assert_true(g_str_has_prefix(error->message, path));
    g_assert_null(dt_journal_open(NULL, NULL));
    g_auto(DtLog) log = {0};
    g_assert_false(dt_log_read(NULL, &log, NULL));
    g_auto(DtSheetRecord) r = {0};
    g_assert_false(dt_sheet_log_read(NULL, "m", 0, &r, NULL));
    g_assert_null(dt_sheet_log_read_all(NULL, "m", NULL));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = g_dir_make_tmp("drawtrue-journal-XXXXXX", NULL);
    path = g_build_filename(folder, "journal.db", NULL);
    g_assert_true(g_file_set_contents(path, "", 0, NULL)); /* what it holds is in memory */
    g_assert_true(g_setenv("XDG_STATE_HOME", path, TRUE));
    g_test_add_func("/link/journal-worn/disk",
                    test_a_disk_that_fails_is_reported_and_nothing_is_half_done);
    g_test_add_func("/link/journal-worn/fresh", test_a_disk_that_fails_at_the_first_opening);
    g_test_add_func("/link/journal-worn/table", test_a_missing_table_is_reported);
    g_test_add_func("/link/journal-worn/usual-place", test_the_usual_place_may_be_missing);
    const int status = g_test_run();
    g_assert_true(folder_remove(folder));
    g_free(path);
    g_free(folder);
    return status;
}
