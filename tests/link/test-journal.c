/* journal: what it keeps, what it refuses, and a disk that is full. */
#include "support/cut-vfs.h"
#include "fake.h"
#include "support/drawing.h"
#include "support/folder.h"
#include "drawtrue/sheet-log.h"
#include "link/journal.h"

#include <glib/gstdio.h>
#include <signal.h>
#include <sqlite3.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

static char *folder;

static char *fresh_path(void)
{
    static unsigned n;
    g_autofree char *name = g_strdup_printf("journal-%u.db", ++n);
    return g_build_filename(folder, name, NULL);
}

static gint64 begin(DtJournal *j, const char *machine, double estimate_s)
{
    g_autoptr(GError) error = NULL;
    const DtJournalRun run = {.machine = (char *)machine,
                              .profile = "",
                              .program = "/job.nc",
                              .sha256 = "00",
                              .port = "p",
                              .strokes = 9,
                              .estimate_s = estimate_s};
    gint64 id = dt_journal_begin(j, &run, &error);
    g_assert_no_error(error);
    return id;
}

static void enter_strokes(DtJournal *j, gint64 id, size_t from, size_t to)
{
    for (size_t i = from; i <= to; i++) {
        const DtJournalStroke s = {.stroke = i,
                                   .line = i * 10,
                                   .pen = i % 2 ? "black" : "red",
                                   .ink_mm = 5,
                                   .travel_mm = 2,
                                   .time_s = i};
        g_assert_true(dt_journal_stroke(j, id, &s, NULL));
    }
}

/* Seconds since 1970, as POSIX.1-2017 counts them; the journal rounds to a thousandth. */
static void test_a_run_has_the_time_of_the_clock(void)
{
    g_autofree char *path = fresh_path();
    g_autoptr(GError) error = NULL;
    g_autoptr(DtJournal) j = dt_journal_open(path, &error);
    g_assert_no_error(error);
    const double rounded = 0.001, before = (double)g_get_real_time() / G_USEC_PER_SEC - rounded;
    const gint64 id = begin(j, "m", 100);
    g_assert_true(dt_journal_end(j, id, "stopped", "", 1, &error));
    const double after = (double)g_get_real_time() / G_USEC_PER_SEC + rounded;
    g_auto(DtJournalRun) r = {0};
    g_assert_true(dt_journal_read(j, id, &r, &error));
    g_assert_no_error(error);
    g_assert_cmpfloat(r.started, >=, before);
    g_assert_cmpfloat(r.started, <=, after);
    g_assert_cmpfloat(r.ended, >=, r.started);
    g_assert_cmpfloat(r.ended, <=, after);
}

static void test_a_run_is_read_back_and_taken_back(void)
{
    g_autofree char *path = fresh_path();
    g_autoptr(GError) error = NULL;
    g_autoptr(DtJournal) j = dt_journal_open(path, &error);
    g_assert_no_error(error);
    const gint64 id = begin(j, "m", 100);
    enter_strokes(j, id, 1, 6);
    g_clear_pointer(&j, dt_journal_close);
    j = dt_journal_open(path, &error);
    g_auto(DtJournalRun) run = {0};
    g_assert_true(dt_journal_read(j, 0, &run, &error));
    g_assert_cmpint(run.id, ==, id);
    g_assert_cmpuint(run.drawn, ==, 6);
    g_assert_cmpuint(run.line, ==, 60);
    g_assert_cmpfloat(run.ink_mm, ==, 30);
    g_assert_cmpuint(dt_journal_strokes_in(j, id, 6, 12), ==, 3); /* 3 strokes of 5 mm */
    g_assert_true(dt_journal_reopen(j, id, "q", 4, &error));
    dt_journal_run_clear(&run);
    g_assert_true(dt_journal_read(j, id, &run, &error));
    g_assert_cmpuint(run.drawn, ==, 4);
    g_assert_cmpfloat(run.ink_mm, ==, 20);
    g_assert_cmpstr(run.port, ==, "q");
}

/* A run that another process of this program draws just now. */
static void test_a_run_that_is_being_drawn_is_left_alone(void)
{
    g_autofree char *path = fresh_path();
    g_autoptr(GError) error = NULL;
    g_autoptr(DtJournal) j = dt_journal_open(path, &error);
    g_auto(DtJournalRun) run = {0};
    const gint64 cut_off = begin(j, "m", 10);
    const pid_t other = fork();
    if (other == 0) {
        for (;;)
            pause();
    }
    const gint64 drawn = begin(j, "n", 10);
    g_autofree char *sql =
        g_strdup_printf("UPDATE runs SET pid=%d WHERE id=%d", (int)other, (int)drawn);
    sqlite3 *db = NULL;
    g_assert_cmpint(sqlite3_open(path, &db), ==, SQLITE_OK);
    g_assert_cmpint(sqlite3_exec(db, sql, NULL, NULL, NULL), ==, SQLITE_OK);
    sqlite3_close(db);

    g_assert_true(dt_journal_read(j, 0, &run, &error)); /* the one before it */
    g_assert_cmpint(run.id, ==, cut_off);
    dt_journal_run_clear(&run);
    g_assert_false(dt_journal_read(j, drawn, &run, &error));
    g_autofree char *words = g_strdup_printf("is being drawn by process %d", (int)other);
    g_assert_nonnull(strstr(error->message, words));
    g_clear_error(&error);
    g_assert_true(dt_journal_end(j, cut_off, "done", "", 10, &error));
    g_assert_false(dt_journal_read(j, 0, &run, &error));
    g_assert_nonnull(strstr(error->message, "run is being drawn now"));

    kill(other, SIGKILL);
    waitpid(other, NULL, 0);
    g_assert_true(dt_journal_read(j, 0, &run, NULL)); /* nobody draws it any more */
    g_assert_cmpint(run.id, ==, drawn);
}

static void test_homing_is_learnt_apart(void)
{
    g_autofree char *path = fresh_path();
    g_autoptr(DtJournal) j = dt_journal_open(path, NULL);
    g_assert_cmpfloat(dt_journal_home_s(j, "m"), <, 0);
    const char *took[] = {"20", "10", "90", NULL};
    const double time_s[] = {130, 120, 900}; /* the last one waited for somebody */
    for (int i = 0; took[i]; i++) {
        const gint64 id = begin(j, "m", 100);
        g_assert_true(dt_journal_event(j, id, "homed", took[i], NULL));
        g_assert_true(dt_journal_end(j, id, "done", "", time_s[i], NULL));
    }
    g_assert_cmpfloat_with_epsilon(dt_journal_home_s(j, "m"), 15, 1e-9);
    g_assert_cmpfloat_with_epsilon(dt_journal_pace(j, "m"), 1.1, 1e-9);
    g_assert_cmpfloat(dt_journal_home_s(j, "other"), <, 0);
}

static void test_a_machine_learns_its_pace(void)
{
    g_autofree char *path = fresh_path();
    g_autoptr(DtJournal) j = dt_journal_open(path, NULL);
    g_assert_cmpfloat(dt_journal_pace(j, "m"), ==, 1);
    g_assert_true(dt_journal_end(j, begin(j, "m", 1000), "done", "", 1100, NULL));
    g_assert_true(dt_journal_end(j, begin(j, "m", 1000), "done", "", 1300, NULL));
    g_assert_true(dt_journal_end(j, begin(j, "m", 1000), "done", "", 3, NULL)); /* not the wall's */
    g_assert_true(dt_journal_end(j, begin(j, "m", 1000), "stopped", "", 900, NULL));
    g_assert_true(dt_journal_end(j, begin(j, "n", 1000), "done", "", 600, NULL));
    g_assert_cmpfloat_with_epsilon(dt_journal_pace(j, "m"), 1.2, 1e-9);
    g_assert_cmpfloat_with_epsilon(dt_journal_pace(j, "n"), 0.6, 1e-9);
}

/* A run that was paused, held, recovered or resumed says nothing of the pace. */
static void test_disturbed_runs_teach_no_pace(void)
{
    g_autofree char *path = fresh_path();
    g_autoptr(DtJournal) j = dt_journal_open(path, NULL);
    g_assert_true(dt_journal_end(j, begin(j, "m", 100), "done", "", 110, NULL));
    const char *kinds[] = {"paused", "held", "recovering", "homed", NULL};
    for (int i = 0; kinds[i]; i++) {
        const gint64 id = begin(j, "m", 100);
        g_assert_true(dt_journal_event(j, id, kinds[i], "5", NULL));
        g_assert_true(dt_journal_event(j, id, kinds[i], "5", NULL));
        g_assert_true(dt_journal_end(j, id, "done", "", 190, NULL));
    }
    g_assert_cmpfloat_with_epsilon(dt_journal_pace(j, "m"), 1.1, 1e-9);
}

static void test_the_log_sums_by_pen(void)
{
    g_autofree char *path = fresh_path();
    g_autoptr(GError) error = NULL;
    g_auto(DtLog) log = {0};
    g_assert_true(dt_log_read(path, &log, &error)); /* there is none yet */
    g_assert_cmpuint(log.n_runs, ==, 0);
    g_assert_false(g_file_test(path, G_FILE_TEST_EXISTS));
    g_autoptr(DtJournal) j = dt_journal_open(path, &error);
    enter_strokes(j, begin(j, "m", 10), 1, 5);
    g_clear_pointer(&j, dt_journal_close);
    g_assert_true(dt_log_note(path, "m", "true", "backlash y 0.45 mm", &error));
    g_assert_true(dt_log_read(path, &log, &error));
    g_assert_cmpuint(log.n_runs, ==, 1);
    g_assert_cmpstr(log.runs[0].status, ==, "running");
    g_assert_cmpuint(log.runs[0].n_pens, ==, 2);
    g_assert_cmpstr(log.runs[0].pens[0].name, ==, "black");
    g_assert_cmpfloat(log.runs[0].pens[0].ink_mm, ==, 15);
    g_assert_cmpuint(log.n_notes, ==, 1);
    g_assert_cmpstr(log.notes[0].text, ==, "backlash y 0.45 mm");
}

static void refuse(const char *path, const char *words)
{
    g_autoptr(GError) error = NULL;
    g_assert_null(dt_journal_open(path, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    if (strstr(error->message, words) == NULL)
        g_error("'%s' does not say '%s'", error->message, words);
}

static void test_other_files_are_refused_and_left_alone(void)
{
    g_autofree char *newer = fresh_path(), *other = fresh_path(), *text = fresh_path();
    sqlite3 *db;
    g_autoptr(DtJournal) j = dt_journal_open(newer, NULL);
    g_clear_pointer(&j, dt_journal_close);
    g_assert_cmpint(sqlite3_open(newer, &db), ==, SQLITE_OK);
    sqlite3_exec(db, "PRAGMA user_version=99", NULL, NULL, NULL);
    sqlite3_close(db);
    refuse(newer, "a newer drawtrue wrote this journal");
    g_assert_cmpint(sqlite3_open(other, &db), ==, SQLITE_OK);
    sqlite3_exec(db, "CREATE TABLE birds (name)", NULL, NULL, NULL);
    sqlite3_close(db);
    refuse(other, "not a drawtrue journal");
    g_assert_true(g_file_set_contents(text, "G0 X1, and much more of such text\n", -1, NULL));
    refuse(text, "not a drawtrue journal");
    g_autofree char *still = NULL;
    g_assert_true(g_file_get_contents(text, &still, NULL, NULL));
    g_assert_true(g_str_has_prefix(still, "G0 X1"));
}

static char *write_strokes(int n)
{
    char *program = g_build_filename(folder, "job.nc", NULL);
    GString *g = g_string_new("G21\nG90\nM5\nG28\n");
    for (int i = 1; i <= n; i++)
        g_string_append_printf(g, "G0X%dY5\nM3S40\nG1X%dY9F600\nM5\nG4P0.01\n", i, i);
    g_string_append(g, "G0X0Y0\nM2\n");
    g_assert_true(g_file_set_contents(program, g->str, (gssize)g->len, NULL));
    g_string_free(g, TRUE);
    return program;
}

/* The run stops with the pen up at the last stroke that the disk could hold, and goes on from there
 * once there is room. */
/* The tables as the first version made them, with a run that was cut off. */
static void test_an_old_journal_goes_on(void)
{
    static const char old[] =
        "CREATE TABLE runs (id INTEGER PRIMARY KEY AUTOINCREMENT, started REAL NOT NULL,"
        " ended REAL NOT NULL DEFAULT 0, machine TEXT NOT NULL, profile TEXT NOT NULL,"
        " program TEXT NOT NULL, sha256 TEXT NOT NULL, port TEXT NOT NULL, status TEXT NOT NULL,"
        " note TEXT NOT NULL DEFAULT '', strokes INTEGER NOT NULL,"
        " drawn INTEGER NOT NULL DEFAULT 0, line INTEGER NOT NULL DEFAULT 0,"
        " estimate_s REAL NOT NULL, time_s REAL NOT NULL DEFAULT 0, total_ink_mm REAL NOT NULL);"
        "CREATE TABLE strokes (run INTEGER NOT NULL, stroke INTEGER NOT NULL, pen TEXT NOT NULL,"
        " ink_mm REAL NOT NULL, travel_mm REAL NOT NULL, at REAL NOT NULL,"
        " PRIMARY KEY (run, stroke)) WITHOUT ROWID;"
        "CREATE TABLE events (run INTEGER NOT NULL, at REAL NOT NULL, kind TEXT NOT NULL,"
        " text TEXT NOT NULL);"
        "INSERT INTO runs (started, machine, profile, program, sha256, port, status, strokes, "
        "drawn,"
        " line, estimate_s, total_ink_mm)"
        " VALUES (1, 'm', '', '/old.nc', '00', 'p', 'running', 9, 4, 40, 77, 45);"
        "PRAGMA application_id=1685212263; PRAGMA user_version=1;";
    g_autofree char *path = fresh_path();
    sqlite3 *db;
    g_assert_cmpint(sqlite3_open(path, &db), ==, SQLITE_OK);
    g_assert_cmpint(sqlite3_exec(db, old, NULL, NULL, NULL), ==, SQLITE_OK);
    sqlite3_close(db);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtJournal) j = dt_journal_open(path, &error);
    g_assert_no_error(error);
    g_auto(DtJournalRun) run = {0};
    g_assert_true(dt_journal_read(j, 0, &run, &error));
    g_assert_cmpstr(run.program, ==, "/old.nc");
    g_assert_cmpuint(run.drawn, ==, 4);
    g_assert_cmpfloat(run.predicted_s, ==, 77);
    enter_strokes(j, begin(j, "m", 100), 1, 2);
    g_clear_pointer(&j, dt_journal_close);
    j = dt_journal_open(path, &error); /* and once more, as it is now */
    g_assert_no_error(error);
}

/* A journal of version 2 gets the tables of sheets and keeps what it has. */
static void test_a_journal_without_sheets_goes_on(void)
{
    g_autofree char *path = fresh_path();
    g_autoptr(GError) error = NULL;
    g_autoptr(DtJournal) j = dt_journal_open(path, &error);
    g_assert_no_error(error);
    enter_strokes(j, begin(j, "m", 100), 1, 3);
    g_clear_pointer(&j, dt_journal_close);
    sqlite3 *db;
    g_assert_cmpint(sqlite3_open(path, &db), ==, SQLITE_OK);
    g_assert_cmpint(
        sqlite3_exec(db, "DROP TABLE sheets; DROP TABLE corrections; PRAGMA user_version=2;", NULL,
                     NULL, NULL),
        ==, SQLITE_OK);
    sqlite3_close(db);
    gint64 number = 0;
    g_assert_true(dt_sheet_log_next(path, "m", &number, &error));
    g_assert_no_error(error);
    g_assert_cmpint(number, ==, 1);
    j = dt_journal_open(path, &error);
    g_auto(DtJournalRun) run = {0};
    g_assert_true(dt_journal_read(j, 0, &run, &error));
    g_assert_cmpuint(run.drawn, ==, 3);
}

static DtSheetRecord sheet(gint64 number, const char *sum)
{
    return (DtSheetRecord){.number = number,
                           .machine = (char *)"m",
                           .profile = (char *)"/m.ini",
                           .profile_sum = (char *)"11",
                           .program_sum = (char *)sum,
                           .sheet = (char *)"{}"};
}

/* Numbers are counted machine by machine; a sheet knows whether its program was drawn to its end. */
static void test_sheets_are_kept(void)
{
    g_autofree char *path = fresh_path();
    g_autoptr(GError) error = NULL;
    const DtSheetRecord one = sheet(1, "00"), two = sheet(2, "01");
    g_assert_true(dt_sheet_log_add(path, &one, &error) && dt_sheet_log_add(path, &two, &error));
    g_assert_false(dt_sheet_log_add(path, &two, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    gint64 next = 0;
    g_assert_true(dt_sheet_log_next(path, "m", &next, NULL));
    g_assert_cmpint(next, ==, 3);
    g_assert_true(dt_sheet_log_next(path, "another", &next, NULL));
    g_assert_cmpint(next, ==, 1);

    g_autoptr(DtJournal) j = dt_journal_open(path, &error);
    const gint64 run = begin(j, "m", 100); /* of the program "00" */
    enter_strokes(j, run, 1, 4);
    g_auto(DtSheetRecord) r = {0}, last = {0};
    g_assert_true(dt_sheet_log_read(path, "m", 1, &r, &error));
    g_assert_true(r.begun && !r.drawn);
    g_assert_cmpuint(r.strokes, ==, 9);
    g_assert_cmpuint(r.strokes_drawn, ==, 4);
    g_assert_true(dt_journal_end(j, run, "done", "", 100, NULL));
    dt_sheet_record_clear(&r);
    g_assert_true(dt_sheet_log_read(path, "m", 1, &r, &error));
    g_assert_true(r.drawn);
    g_assert_true(dt_sheet_log_read(path, "m", 0, &last, &error));
    g_assert_cmpint(last.number, ==, 2);
    g_assert_false(last.begun);

    g_assert_true(dt_sheet_log_keep(path, "m", 2, "{\"X1\":[\"6\"]}", NULL, &error));
    g_assert_true(dt_sheet_log_keep(path, "m", 2, NULL, "{}", &error));
    dt_sheet_record_clear(&last);
    g_assert_true(dt_sheet_log_read(path, "m", 2, &last, &error));
    g_assert_cmpstr(last.readings, ==, "{\"X1\":[\"6\"]}");
    g_assert_cmpstr(last.figures, ==, "{}");
    g_autoptr(GArray) all = dt_sheet_log_read_all(path, NULL, &error);
    g_assert_cmpuint(all->len, ==, 2);
}

static void test_a_full_disk_stops_the_run_and_loses_nothing(void)
{
    cut_vfs_install(1);
    g_autofree char *program = write_strokes(40);
    g_autoptr(DtProfile) p = dt_profile_new();
    const FakeFaults none = {.greeting = "drawtrue controller 1 ready", .check = TRUE};
    Fake *fake = fake_new(&none);
    const DtRunOptions o = {.journal = "journal.db", .pens_ready = TRUE, .doubts = TRUE};
    g_autoptr(GError) error = NULL;
    g_autoptr(DtSession) session = dt_session_new(p, fake_port(fake));
    g_autoptr(DtRun) r = dt_run_new(session, program, &o, &error);
    g_assert_no_error(error);
    cut_vfs_set_room(60000);
    g_assert_false(drawing_run(r, NULL, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_assert_nonnull(strstr(error->message, "the disk is full"));
    fake_stop(fake);
    GPtrArray *lines = fake_executed(fake);
    unsigned downs = 0;
    for (guint i = 0; i < lines->len; i++)
        downs += g_str_has_prefix(lines->pdata[i], "M3");
    g_assert_cmpstr(lines->pdata[lines->len - 2], ==, "M5");
    fake_free(fake);
    g_clear_pointer(&r, dt_run_unref);
    g_clear_error(&error);

    cut_vfs_set_room(-1);
    fake = fake_new(&none);
    const gboolean resumed =
        drawing_resume(p, fake_port(fake), &(DtResume){0}, &o, NULL, NULL, &error);
    g_assert_no_error(error);
    g_assert_true(resumed);
    fake_stop(fake);
    lines = fake_executed(fake);
    unsigned more = 0;
    for (guint i = 0; i < lines->len; i++)
        more += g_str_has_prefix(lines->pdata[i], "M3");
    g_assert_cmpuint(downs + more, >=, 40);
    g_assert_cmpuint(downs + more, <=, 41); /* one may be drawn twice */
    fake_free(fake);
    cut_vfs_remove();
}

/* Where the disk fails at the start nothing has moved; at the end all is drawn, and the report says
 * so. */
static void test_a_journal_that_fails_at_either_end_is_reported(void)
{
    static const struct {
        const char *trigger, *words;
    } cases[] = {
        {"BEFORE INSERT ON runs BEGIN SELECT RAISE(ABORT, 'worn out'); END", "0 of 40 strokes"},
        {"BEFORE UPDATE OF status ON runs BEGIN SELECT RAISE(ABORT, 'worn out'); END",
         "40 of 40 strokes"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autofree char *path = fresh_path(), *program = write_strokes(40);
        g_autoptr(DtProfile) p = dt_profile_new();
        dt_journal_close(dt_journal_open(path, NULL));
        sqlite3 *db = NULL;
        g_autofree char *sql = g_strdup_printf("CREATE TRIGGER worn %s", cases[i].trigger);
        g_assert_cmpint(sqlite3_open(path, &db), ==, SQLITE_OK);
        g_assert_cmpint(sqlite3_exec(db, sql, NULL, NULL, NULL), ==, SQLITE_OK);
        sqlite3_close(db);
        Fake *fake =
            fake_new(&(FakeFaults){.greeting = "drawtrue controller 1 ready", .check = TRUE});
        const DtRunOptions o = {.journal = path, .pens_ready = TRUE, .doubts = TRUE};
        g_assert_false(drawing_program(p, fake_port(fake), program, &o, NULL, NULL, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_IO);
        g_assert_nonnull(strstr(error->message, "worn out"));
        g_assert_nonnull(strstr(error->message, cases[i].words));
        g_assert_nonnull(strstr(error->message, "repair the journal"));
        fake_free(fake);
    }
}

static gpointer open_and_close(gpointer path)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtJournal) j = dt_journal_open(path, &error);
    g_assert_no_error(error);
    g_assert_nonnull(j);
    return NULL;
}

/* A plan is checked while the page asks for the log: the first of them makes the journal, for both. */
static void test_a_new_journal_is_opened_by_several_at_once(void)
{
    enum { ROUNDS = 30, THREADS = 4 };
    for (int round = 0; round < ROUNDS; round++) {
        g_autofree char *path = g_strdup_printf("%s/at-once-%d.db", folder, round);
        GThread *threads[THREADS];
        for (int i = 0; i < THREADS; i++)
            threads[i] = g_thread_new("open", open_and_close, path);
        for (int i = 0; i < THREADS; i++)
            g_thread_join(threads[i]);
        g_autofree char *wal = g_strconcat(path, "-wal", NULL),
                        *shm = g_strconcat(path, "-shm", NULL);
        g_unlink(path);
        g_unlink(wal);
        g_unlink(shm);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    folder = g_dir_make_tmp("drawtrue-journal-XXXXXX", NULL);
    g_test_add_func("/link/journal/clock", test_a_run_has_the_time_of_the_clock);
    g_test_add_func("/link/journal/homing", test_homing_is_learnt_apart);
    g_test_add_func("/link/journal/run", test_a_run_is_read_back_and_taken_back);
    g_test_add_func("/link/journal/left-alone", test_a_run_that_is_being_drawn_is_left_alone);
    g_test_add_func("/link/journal/pace", test_a_machine_learns_its_pace);
    g_test_add_func("/link/journal/undisturbed-pace", test_disturbed_runs_teach_no_pace);
    g_test_add_func("/link/journal/log", test_the_log_sums_by_pen);
    g_test_add_func("/link/journal/others", test_other_files_are_refused_and_left_alone);
    g_test_add_func("/link/journal/old-version", test_an_old_journal_goes_on);
    g_test_add_func("/link/journal/no-sheets", test_a_journal_without_sheets_goes_on);
    g_test_add_func("/link/journal/sheets", test_sheets_are_kept);
    g_test_add_func("/link/journal/full", test_a_full_disk_stops_the_run_and_loses_nothing);
    g_test_add_func("/link/journal/several-at-once",
                    test_a_new_journal_is_opened_by_several_at_once);
    g_test_add_func("/link/journal/either-end",
                    test_a_journal_that_fails_at_either_end_is_reported);
    int status = g_test_run();
    g_assert_true(folder_remove(folder));
    g_free(folder);
    return status;
}
