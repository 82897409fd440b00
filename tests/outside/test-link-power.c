/* power: the journal against SQLite's own promise. sqlite.org/pragma.html#pragma_synchronous: in
 * WAL mode with synchronous=FULL a transaction is durable across a power loss once COMMIT has
 * returned; with synchronous=OFF it is not. The file system under the test drops unsynced sectors.
 */
#include "support/cut-vfs.h"
#include "link/journal.h"

#include <sqlite3.h>
#include <stdlib.h>

static const DtJournalRun job = {.machine = "m",
                                 .profile = "",
                                 .program = "/job.nc",
                                 .sha256 = "0",
                                 .port = "p",
                                 .strokes = 200};

/* Strokes entered until the power fails; the journal's connection is left as a dead process leaves
 * it. */
static size_t draw_until_dark(size_t *begun)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtJournal) j = dt_journal_open("journal.db", &error);
    g_assert_no_error(error);
    gint64 id = dt_journal_begin(j, &job, &error);
    g_assert_no_error(error);
    size_t acknowledged = 0;
    for (*begun = 1; *begun <= 200; ++*begun) {
        const DtJournalStroke s = {.stroke = *begun, .line = *begun, .pen = "black", .ink_mm = 1};
        gboolean good = dt_journal_stroke(j, id, &s, NULL);
        if (cut_vfs_is_off())
            break;
        g_assert_true(good);
        acknowledged = *begun;
    }
    return acknowledged;
}

static void test_no_acknowledged_stroke_is_lost(void)
{
    for (unsigned seed = 1; seed <= 60; seed++) {
        cut_vfs_install(seed);
        g_autoptr(GError) error = NULL;
        g_autoptr(DtJournal) first = dt_journal_open("journal.db", &error);
        g_assert_no_error(error);
        g_clear_pointer(&first, dt_journal_close);
        cut_vfs_cut_after(20 + seed * 37 % 700);
        size_t begun;
        const size_t acknowledged = draw_until_dark(&begun);
        cut_vfs_cut();
        g_autoptr(DtJournal) j = dt_journal_open("journal.db", &error);
        g_assert_no_error(error);
        g_auto(DtJournalRun) run = {0};
        gboolean there = dt_journal_read(j, 0, &run, NULL);
        g_assert_true(there || acknowledged == 0);
        g_assert_cmpuint(run.drawn, >=, acknowledged);
        g_assert_cmpuint(run.drawn, <=, begun);
        g_clear_pointer(&j, dt_journal_close);
        cut_vfs_remove();
    }
}

static int count_rows(void *out, int n, char **values, char **names)
{
    (void)n;
    (void)names;
    *(int *)out = atoi(values[0]);
    return 0;
}

/* The same file system has to catch a journal that does not sync: else it proves nothing. */
static void test_the_file_system_does_lose_unsynced_commits(void)
{
    unsigned lost = 0;
    for (unsigned seed = 1; seed <= 20; seed++) {
        cut_vfs_install(seed);
        sqlite3 *db;
        g_assert_cmpint(sqlite3_open("loose.db", &db), ==, SQLITE_OK);
        sqlite3_exec(db, "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF; CREATE TABLE t (x);",
                     NULL, NULL, NULL);
        for (int i = 0; i < 50; i++)
            g_assert_cmpint(sqlite3_exec(db, "INSERT INTO t VALUES (1)", NULL, NULL, NULL), ==,
                            SQLITE_OK);
        cut_vfs_power_off();
        sqlite3_close(db);
        cut_vfs_cut();
        sqlite3 *again;
        int rows = 0;
        g_assert_cmpint(sqlite3_open("loose.db", &again), ==, SQLITE_OK);
        sqlite3_exec(again, "SELECT count(*) FROM t", count_rows, &rows, NULL);
        lost += rows < 50;
        sqlite3_close(again);
        cut_vfs_remove();
    }
    g_assert_cmpuint(lost, >, 10);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/link/power-cut", test_no_acknowledged_stroke_is_lost);
    g_test_add_func("/outside/link/power-cut-has-teeth",
                    test_the_file_system_does_lose_unsynced_commits);
    return g_test_run();
}
