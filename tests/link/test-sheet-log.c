/* sheet-log: what the journal keeps of test sheets, of what was read from them, and of corrections. */
#include "drawtrue/sheet-log.h"
#include "link/journal.h"
#include "support/folder.h"

#include <string.h>
#include <time.h>

static char *folder;

static char *fresh_path(void)
{
    static unsigned n;
    g_autofree char *name = g_strdup_printf("journal-%u.db", ++n);
    return g_build_filename(folder, name, NULL);
}

static void add(const char *path, const char *machine, gint64 number, const char *sum)
{
    g_autoptr(GError) error = NULL;
    const DtSheetRecord r = {.number = number,
                             .machine = (char *)machine,
                             .profile = (char *)"my.ini",
                             .profile_sum = (char *)"drive",
                             .program_sum = (char *)sum,
                             .sheet = (char *)"{\"marks\": []}"};
    dt_sheet_log_add(path, &r, &error);
    g_assert_no_error(error);
}

static gint64 next(const char *path, const char *machine)
{
    g_autoptr(GError) error = NULL;
    gint64 number = -1;
    dt_sheet_log_next(path, machine, &number, &error);
    g_assert_no_error(error);
    return number;
}

static void read_sheet(const char *path, const char *machine, gint64 number, DtSheetRecord *out)
{
    g_autoptr(GError) error = NULL;
    dt_sheet_log_read(path, machine, number, out, &error);
    g_assert_no_error(error);
}

static void check_missing(const char *path, const char *machine, gint64 number, const char *why)
{
    g_autoptr(GError) error = NULL;
    g_auto(DtSheetRecord) r = {0};
    g_assert_false(dt_sheet_log_read(path, machine, number, &r, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_true(g_str_has_prefix(error->message, path));
    if (strstr(error->message, why) == NULL)
        g_error("'%s' lacks '%s'", error->message, why);
}

static void test_sheets_are_counted_for_each_machine(void)
{
    g_autofree char *path = fresh_path();
    g_assert_cmpint(next(path, "a"), ==, 1);
    add(path, "a", 1, "s1");
    add(path, "a", 7, "s7");
    add(path, "a", 3, "s3");
    add(path, "b", 2, "t2");
    g_assert_cmpint(next(path, "a"), ==, 8);
    g_assert_cmpint(next(path, "b"), ==, 3);
    g_assert_cmpint(next(path, "c"), ==, 1);
    g_autoptr(GError) error = NULL;
    const DtSheetRecord again = {.number = 7,
                                 .machine = (char *)"a",
                                 .profile = (char *)"",
                                 .profile_sum = (char *)"",
                                 .program_sum = (char *)"",
                                 .sheet = (char *)""};
    g_assert_false(dt_sheet_log_add(path, &again, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "a sheet 7 of 'a' was made meanwhile"));
}

static void test_a_sheet_is_read_back(void)
{
    g_autofree char *path = fresh_path();
    const double before = (double)time(NULL);
    add(path, "a", 4, "s4");
    add(path, "a", 2, "s2");
    for (int newest = 0; newest < 2; newest++) { /* 0: the last one, by its number */
        g_auto(DtSheetRecord) r = {0};
        read_sheet(path, "a", newest ? 0 : 4, &r);
        g_assert_cmpint(r.number, ==, 4);
        g_assert_cmpstr(r.machine, ==, "a");
        g_assert_cmpstr(r.profile, ==, "my.ini");
        g_assert_cmpstr(r.profile_sum, ==, "drive");
        g_assert_cmpstr(r.program_sum, ==, "s4");
        g_assert_cmpstr(r.sheet, ==, "{\"marks\": []}");
        g_assert_cmpstr(r.readings, ==, "");
        g_assert_cmpstr(r.figures, ==, "");
        g_assert_cmpfloat(r.at, >=, before);
        g_assert_cmpfloat(r.at, <=, (double)time(NULL) + 1);
        g_assert_false(r.begun || r.drawn);
        g_assert_cmpuint(r.strokes, ==, 0);
        g_assert_cmpuint(r.strokes_drawn, ==, 0);
    }
    check_missing(path, "a", 3, "there is no sheet 3 of 'a'");
    check_missing(path, "b", 4, "there is no sheet 4 of 'b'");
    check_missing(path, "b", 0, "no test sheet of 'b' has been made yet");
}

/* Reading asks for a journal, and makes none. */
static void test_without_a_journal_there_are_no_sheets(void)
{
    g_autofree char *path = fresh_path();
    g_autoptr(GError) error = NULL;
    check_missing(path, "a", 0, "no test sheet of 'a' has been made yet");
    check_missing(path, "a", 9, "there is no sheet 9 of 'a'");
    g_autoptr(GArray) none = dt_sheet_log_read_all(path, NULL, &error);
    g_assert_no_error(error);
    g_assert_cmpuint(none->len, ==, 0);
    g_auto(DtCorrectionRecord) c = {0};
    g_assert_false(dt_sheet_log_last_correction(path, "my.ini", &c, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "no correction of my.ini is left to take back"));
    g_assert_false(g_file_test(path, G_FILE_TEST_EXISTS));
}

static void test_all_sheets_are_listed_as_they_were_made(void)
{
    static const gint64 made[] = {5, 2, 9};
    g_autofree char *path = fresh_path();
    g_autoptr(GError) error = NULL;
    for (gsize i = 0; i < G_N_ELEMENTS(made); i++) {
        add(path, "a", made[i], "s");
        add(path, "b", 1 + (gint64)i, "s");
    }
    g_autoptr(GArray) own = dt_sheet_log_read_all(path, "a", &error);
    g_assert_no_error(error);
    g_assert_cmpuint(own->len, ==, G_N_ELEMENTS(made));
    for (gsize i = 0; i < G_N_ELEMENTS(made); i++)
        g_assert_cmpint(g_array_index(own, DtSheetRecord, i).number, ==, made[i]);
    g_autoptr(GArray) all = dt_sheet_log_read_all(path, NULL, &error);
    g_assert_no_error(error);
    g_assert_cmpuint(all->len, ==, 2 * G_N_ELEMENTS(made));
    for (guint i = 0; i < all->len; i++)
        g_assert_cmpstr(g_array_index(all, DtSheetRecord, i).machine, ==, i % 2 ? "b" : "a");
}

/* What is not given stays. */
static void test_readings_and_figures_are_kept_apart(void)
{
    static const struct {
        const char *readings, *figures, *has_readings, *has_figures;
    } steps[] = {{"r1", NULL, "r1", ""},
                 {NULL, "f1", "r1", "f1"},
                 {"r2", NULL, "r2", "f1"},
                 {NULL, NULL, "r2", "f1"},
                 {"", "", "", ""}};
    g_autofree char *path = fresh_path();
    add(path, "a", 1, "s");
    add(path, "a", 2, "s");
    add(path, "b", 1, "s");
    for (gsize i = 0; i < G_N_ELEMENTS(steps); i++) {
        g_autoptr(GError) error = NULL;
        g_auto(DtSheetRecord) r = {0};
        g_assert_true(dt_sheet_log_keep(path, "a", 1, steps[i].readings, steps[i].figures, &error));
        g_assert_no_error(error);
        read_sheet(path, "a", 1, &r);
        g_assert_cmpstr(r.readings, ==, steps[i].has_readings);
        g_assert_cmpstr(r.figures, ==, steps[i].has_figures);
    }
    g_auto(DtSheetRecord) sibling = {0}, other = {0};
    read_sheet(path, "a", 2, &sibling);
    read_sheet(path, "b", 1, &other);
    g_assert_cmpstr(sibling.readings, ==, "");
    g_assert_cmpstr(other.readings, ==, "");
}

/* The run of the same program that got farthest. */
static void test_a_sheet_knows_its_runs(void)
{
    static const struct {
        const char *sum, *status;
        size_t drawn;
        gboolean begun, done; /* of the sheet, thereafter */
        size_t farthest;
    } runs[] = {{"other", "done", 9, FALSE, FALSE, 0},
                {"s", "stopped", 4, TRUE, FALSE, 4},
                {"s", "failed", 2, TRUE, FALSE, 4},
                {"s", "done", 9, TRUE, TRUE, 9},
                {"s", "stopped", 1, TRUE, TRUE, 9}};
    g_autofree char *path = fresh_path();
    g_autoptr(GError) error = NULL;
    add(path, "a", 1, "s");
    for (gsize i = 0; i < G_N_ELEMENTS(runs); i++) {
        g_autoptr(DtJournal) j = dt_journal_open(path, &error);
        g_assert_no_error(error);
        const DtJournalRun run = {.machine = (char *)"a",
                                  .profile = (char *)"",
                                  .program = (char *)"/job.nc",
                                  .sha256 = (char *)runs[i].sum,
                                  .port = (char *)"p",
                                  .strokes = 9};
        const gint64 id = dt_journal_begin(j, &run, &error);
        g_assert_no_error(error);
        for (size_t k = 1; k <= runs[i].drawn; k++) {
            const DtJournalStroke s = {.stroke = k, .line = k, .pen = (char *)"black"};
            g_assert_true(dt_journal_stroke(j, id, &s, NULL));
        }
        g_assert_true(dt_journal_end(j, id, runs[i].status, "", 1, &error));
        g_auto(DtSheetRecord) r = {0};
        read_sheet(path, "a", 1, &r);
        g_assert_cmpint(r.begun, ==, runs[i].begun);
        g_assert_cmpint(r.drawn, ==, runs[i].done);
        g_assert_cmpuint(r.strokes, ==, runs[i].begun ? 9 : 0);
        g_assert_cmpuint(r.strokes_drawn, ==, runs[i].farthest);
    }
}

static void correct(const char *path, const char *profile, gint64 number, const char *before)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *sum = g_strconcat("after ", before, NULL);
    const DtCorrectionRecord r = {.number = number, .before = (char *)before, .after_sum = sum};
    g_assert_true(dt_sheet_log_correct(path, "a", profile, &r, &error));
    g_assert_no_error(error);
}

/* The last first, of each profile by itself, and none twice. */
static void test_corrections_are_taken_back_one_by_one(void)
{
    static const struct {
        const char *profile, *before; /* NULL: none is left */
        gint64 number;
    } wanted[] = {{"one.ini", "third", 7}, {"two.ini", "second", 6}, {"one.ini", "first", 5},
                  {"one.ini", NULL, 0},    {"two.ini", NULL, 0},     {"three.ini", NULL, 0}};
    g_autofree char *path = fresh_path();
    const double start = (double)time(NULL);
    correct(path, "one.ini", 5, "first");
    correct(path, "two.ini", 6, "second");
    correct(path, "one.ini", 7, "third");
    for (gsize i = 0; i < G_N_ELEMENTS(wanted); i++) {
        g_autoptr(GError) error = NULL;
        g_auto(DtCorrectionRecord) r = {0};
        const gboolean found = dt_sheet_log_last_correction(path, wanted[i].profile, &r, &error);
        g_assert_cmpint(found, ==, wanted[i].before != NULL);
        if (!found) {
            g_autofree char *why = g_strdup_printf("%s: no correction of %s is left to take back",
                                                   path, wanted[i].profile);
            g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
            g_assert_cmpstr(error->message, ==, why);
            continue;
        }
        g_autofree char *sum = g_strconcat("after ", wanted[i].before, NULL);
        g_assert_cmpstr(r.before, ==, wanted[i].before);
        g_assert_cmpstr(r.after_sum, ==, sum);
        g_assert_cmpint(r.number, ==, wanted[i].number);
        g_assert_cmpfloat(r.at, >=, start);
        g_assert_cmpfloat(r.at, <=, (double)time(NULL) + 1);
        g_assert_true(dt_sheet_log_take_back(path, r.id, &error));
        g_assert_no_error(error);
    }
}

/* A file that is no journal is an error everywhere, and stays as it is. */
static void test_what_is_no_journal_is_refused(void)
{
    g_autofree char *path = fresh_path(), *text = NULL;
    static const char content[] = "these are the notes of a gardener, and not a data base at all\n";
    g_assert_true(g_file_set_contents(path, content, -1, NULL));
    gint64 number;
    g_auto(DtSheetRecord) r = {0};
    g_auto(DtCorrectionRecord) c = {0};
    g_assert_false(dt_sheet_log_next(path, "a", &number, NULL));
    g_assert_false(dt_sheet_log_read(path, "a", 0, &r, NULL));
    g_assert_null(dt_sheet_log_read_all(path, "a", NULL));
    g_assert_false(dt_sheet_log_keep(path, "a", 1, "r", "f", NULL));
    g_assert_false(dt_sheet_log_last_correction(path, "p", &c, NULL));
    g_assert_false(dt_sheet_log_take_back(path, 1, NULL));
    g_assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_assert_cmpstr(text, ==, content);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_test_add_func("/sheet-log/numbers", test_sheets_are_counted_for_each_machine);
    g_test_add_func("/sheet-log/read", test_a_sheet_is_read_back);
    g_test_add_func("/sheet-log/no-journal", test_without_a_journal_there_are_no_sheets);
    g_test_add_func("/sheet-log/all", test_all_sheets_are_listed_as_they_were_made);
    g_test_add_func("/sheet-log/keep", test_readings_and_figures_are_kept_apart);
    g_test_add_func("/sheet-log/runs", test_a_sheet_knows_its_runs);
    g_test_add_func("/sheet-log/corrections", test_corrections_are_taken_back_one_by_one);
    g_test_add_func("/sheet-log/no-data-base", test_what_is_no_journal_is_refused);
    const int code = g_test_run();
    g_assert_true(folder_remove(folder));
    g_free(folder);
    return code;
}
