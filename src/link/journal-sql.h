/* journal-sql: the journal's database, for the files that keep tables in it. Private to link. */
#pragma once

#include "link/journal.h"

#include <sqlite3.h>

struct DtJournal {
    sqlite3 *db;
    char *path;
    gint64 spent_us;
};

/* Sets the error for SQLite's last failure; always returns FALSE. */
gboolean dt_journal_fail(const DtJournal *j, const char *what, GError **error);
/* Runs one statement with its values: s text, i integer (gint64), d real. */
gboolean dt_journal_execute(DtJournal *j, GError **error, const char *sql, const char *types, ...);
/* Calls `take` for each row; `id` is bound to the first parameter unless it is 0. */
gboolean dt_journal_each_row(DtJournal *j, const char *sql, gint64 id,
                             void (*take)(sqlite3_stmt *s, gpointer to), gpointer to,
                             GError **error);

/* Makes the tables of test sheets where they are missing: sheet-log.c. */
extern const char dt_journal_sheet_tables[];
