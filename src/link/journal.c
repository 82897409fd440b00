/* journal: SQLite tables of runs, strokes and events. */
#include "link/journal-sql.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <signal.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { VERSION = 3, APPLICATION = 0x64724C67 /* "drLg" */, BUSY_MS = 5000 };

static const char schema[] =
    "CREATE TABLE runs (id INTEGER PRIMARY KEY AUTOINCREMENT, started REAL NOT NULL,"
    " ended REAL NOT NULL DEFAULT 0, machine TEXT NOT NULL, profile TEXT NOT NULL,"
    " program TEXT NOT NULL, sha256 TEXT NOT NULL, port TEXT NOT NULL, status TEXT NOT NULL,"
    " note TEXT NOT NULL DEFAULT '', strokes INTEGER NOT NULL, drawn INTEGER NOT NULL DEFAULT 0,"
    " line INTEGER NOT NULL DEFAULT 0, estimate_s REAL NOT NULL, time_s REAL NOT NULL DEFAULT 0,"
    " told_s REAL NOT NULL, total_ink_mm REAL NOT NULL, pid INTEGER NOT NULL DEFAULT 0);"
    "CREATE TABLE strokes (run INTEGER NOT NULL, stroke INTEGER NOT NULL, pen TEXT NOT NULL,"
    " ink_mm REAL NOT NULL, travel_mm REAL NOT NULL, at REAL NOT NULL,"
    " PRIMARY KEY (run, stroke)) WITHOUT ROWID;"
    "CREATE TABLE events (run INTEGER NOT NULL, at REAL NOT NULL, kind TEXT NOT NULL,"
    " text TEXT NOT NULL);"
    "CREATE TABLE notes (at REAL NOT NULL, machine TEXT NOT NULL, kind TEXT NOT NULL,"
    " text TEXT NOT NULL);";

gboolean dt_journal_fail(const DtJournal *j, const char *what, GError **error)
{
    int code = sqlite3_errcode(j->db);
    if (code == SQLITE_FULL)
        g_set_error(error, DT_ERROR, DT_ERROR_IO,
                    "%s: the disk is full, and no stroke is drawn that the journal cannot hold",
                    j->path);
    else if (code == SQLITE_NOTADB || code == SQLITE_CORRUPT)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: not a drawtrue journal, or a damaged one; move it away", j->path);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s: %s", j->path, what,
                    sqlite3_errmsg(j->db));
    return FALSE;
}

static double now_s(void)
{
    return (double)g_get_real_time() / 1e6;
}

char *dt_journal_default_path(GError **error)
{
    g_autofree char *folder = g_build_filename(g_get_user_state_dir(), "drawtrue", NULL);
    if (g_mkdir_with_parents(folder, 0700) != 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", folder, g_strerror(errno));
        return NULL;
    }
    return g_build_filename(folder, "journal.db", NULL);
}

static gboolean read_number(DtJournal *j, const char *sql, gint64 *value)
{
    sqlite3_stmt *s = NULL;
    const gboolean good =
        sqlite3_prepare_v2(j->db, sql, -1, &s, NULL) == SQLITE_OK && sqlite3_step(s) == SQLITE_ROW;
    if (good)
        *value = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    return good;
}

static gint64 read_pragma(DtJournal *j, const char *sql)
{
    gint64 value = -1;
    read_number(j, sql, &value);
    return value;
}

static gboolean run_sql(DtJournal *j, const char *sql, GError **error)
{
    if (sqlite3_exec(j->db, sql, NULL, NULL, NULL) == SQLITE_OK)
        return TRUE;
    return dt_journal_fail(j, "journal", error);
}

/* All or nothing; whoever else opens the new journal now may have been first. */
static gboolean make_schema(DtJournal *j, GError **error)
{
    g_autofree char *marks =
        g_strdup_printf("PRAGMA application_id=%d; PRAGMA user_version=%d;", APPLICATION, VERSION);
    if (run_sql(j, "BEGIN IMMEDIATE;", error) &&
        (read_pragma(j, "PRAGMA application_id;") == APPLICATION ||
         (run_sql(j, schema, error) && run_sql(j, dt_journal_sheet_tables, error) &&
          run_sql(j, marks, error))) &&
        run_sql(j, "COMMIT;", error))
        return TRUE;
    sqlite3_exec(j->db, "ROLLBACK;", NULL, NULL, NULL);
    return FALSE;
}

static gboolean has_column(DtJournal *j, const char *table, const char *column)
{
    g_autofree char *sql = g_strdup_printf(
        "SELECT count(*) FROM pragma_table_info('%s') WHERE name='%s';", table, column);
    return read_pragma(j, sql) > 0;
}

/* Journals of version 1 got these columns one by one, those of version 2 have no sheets. */
static gboolean add_what_came_later(DtJournal *j, GError **error)
{
    static const struct {
        const char *column, *sql;
    } later[] = {
        {"pid", "ALTER TABLE runs ADD COLUMN pid INTEGER NOT NULL DEFAULT 0;"},
        {"told_s", "ALTER TABLE runs ADD COLUMN told_s REAL NOT NULL DEFAULT 0;"
                   "UPDATE runs SET told_s=estimate_s;"},
    };
    for (size_t i = 0; i < G_N_ELEMENTS(later); i++)
        if (!has_column(j, "runs", later[i].column) && !run_sql(j, later[i].sql, error))
            return FALSE;
    return run_sql(j,
                   "CREATE TABLE IF NOT EXISTS notes (at REAL NOT NULL, machine TEXT NOT NULL,"
                   " kind TEXT NOT NULL, text TEXT NOT NULL);",
                   error) &&
           run_sql(j, dt_journal_sheet_tables, error) &&
           run_sql(j, "PRAGMA user_version=3;", error);
}

/* All or nothing; another process may have done it meanwhile. */
static gboolean update_schema(DtJournal *j, GError **error)
{
    if (run_sql(j, "BEGIN IMMEDIATE;", error) &&
        (read_pragma(j, "PRAGMA user_version;") == VERSION || add_what_came_later(j, error)) &&
        run_sql(j, "COMMIT;", error))
        return TRUE;
    sqlite3_exec(j->db, "ROLLBACK;", NULL, NULL, NULL);
    return FALSE;
}

static gboolean check_version(DtJournal *j, GError **error)
{
    gint64 version, application, tables;
    /* In this order: what another one makes meanwhile is never taken for a stranger's tables. */
    if (!read_number(j, "SELECT count(*) FROM sqlite_schema;", &tables) ||
        !read_number(j, "PRAGMA user_version;", &version) ||
        !read_number(j, "PRAGMA application_id;", &application))
        return dt_journal_fail(j, "journal", error);
    if (version == 0 && application == 0 && tables == 0)
        return make_schema(j, error);
    if (application != APPLICATION)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: not a drawtrue journal", j->path);
    else if (version > VERSION)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: a newer drawtrue wrote this journal (version %d; this one reads up to %d)",
                    j->path, (int)version, VERSION);
    else
        return version == VERSION || update_schema(j, error);
    return FALSE;
}

/* A database of another program is left as it is. */
static gboolean check_owner(DtJournal *j, GError **error)
{
    gint64 tables, application;
    if (!read_number(j, "SELECT count(*) FROM sqlite_schema;", &tables) ||
        !read_number(j, "PRAGMA application_id;", &application))
        return dt_journal_fail(j, "journal", error);
    if (application == APPLICATION || (application == 0 && tables == 0))
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: not a drawtrue journal", j->path);
    return FALSE;
}

/* SQLite reports anything else that is wrong with a file. */
static gboolean may_be_journal(const char *path, gboolean *fresh, GError **error)
{
    struct stat st;
    *fresh = stat(path, &st) != 0;
    if (*fresh || S_ISREG(st.st_mode))
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: not a regular file", path);
    return FALSE;
}

/* Two that set this at once are told that the file is busy at once: SQLite does not wait here. */
static gboolean use_write_ahead_log(DtJournal *j, GError **error)
{
    const gint64 limit_us = g_get_monotonic_time() + BUSY_MS * G_GINT64_CONSTANT(1000);
    int code;
    while ((code = sqlite3_exec(j->db, "PRAGMA journal_mode=WAL;", NULL, NULL, NULL)) ==
               SQLITE_BUSY &&
           g_get_monotonic_time() < limit_us)
        g_usleep(2000);
    return code == SQLITE_OK || dt_journal_fail(j, "journal", error);
}

DtJournal *dt_journal_open(const char *path, GError **error)
{
    g_autofree char *own = path ? g_strdup(path) : dt_journal_default_path(error);
    if (own == NULL)
        return NULL;
    g_autoptr(DtJournal) j = g_new0(DtJournal, 1);
    j->path = g_steal_pointer(&own);
    gboolean fresh;
    if (!may_be_journal(j->path, &fresh, error))
        return NULL;
    if (sqlite3_open_v2(j->path, &j->db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL) !=
        SQLITE_OK) {
        dt_journal_fail(j, "cannot open the journal", error);
        return NULL;
    }
    if (fresh) /* still empty, and private; SQLite's other files inherit its permissions */
        (void)g_chmod(j->path, 0600);
    sqlite3_busy_timeout(j->db, BUSY_MS);
    if ((!fresh && !check_owner(j, error)) || /* before anything of it is changed */
        !use_write_ahead_log(j, error) || !run_sql(j, "PRAGMA synchronous=FULL;", error) ||
        !check_version(j, error))
        return NULL;
    return g_steal_pointer(&j);
}

void dt_journal_close(DtJournal *j)
{
    if (j == NULL)
        return;
    sqlite3_close_v2(j->db);
    g_free(j->path);
    g_free(j);
}

void dt_journal_run_clear(DtJournalRun *r)
{
    g_free(r->machine);
    g_free(r->profile);
    g_free(r->program);
    g_free(r->sha256);
    g_free(r->port);
    g_free(r->status);
    g_free(r->note);
    *r = (DtJournalRun){0};
}

gboolean dt_journal_execute(DtJournal *j, GError **error, const char *sql, const char *types, ...)
{
    const gint64 start = g_get_monotonic_time();
    sqlite3_stmt *s = NULL;
    gboolean good = sqlite3_prepare_v2(j->db, sql, -1, &s, NULL) == SQLITE_OK;
    va_list list;
    va_start(list, types);
    for (int i = 0; good && types[i] != '\0'; i++) {
        if (types[i] == 's')
            sqlite3_bind_text(s, i + 1, va_arg(list, const char *), -1, SQLITE_TRANSIENT);
        else if (types[i] == 'i')
            sqlite3_bind_int64(s, i + 1, va_arg(list, gint64));
        else
            sqlite3_bind_double(s, i + 1, va_arg(list, double));
    }
    va_end(list);
    good = good && sqlite3_step(s) == SQLITE_DONE;
    if (!good)
        dt_journal_fail(j, "cannot write the journal", error);
    sqlite3_finalize(s);
    j->spent_us += g_get_monotonic_time() - start;
    return good;
}

gint64 dt_journal_begin(DtJournal *j, const DtJournalRun *r, GError **error)
{
    if (!dt_journal_execute(
            j, error,
            "INSERT INTO runs (started, machine, profile, program, sha256, port, status,"
            " strokes, estimate_s, told_s, total_ink_mm, pid)"
            " VALUES (?,?,?,?,?,?,'running',?,?,?,?,?)",
            "dsssssidddi", now_s(), r->machine, r->profile, r->program, r->sha256, r->port,
            (gint64)r->strokes, r->estimate_s, r->predicted_s, r->total_ink_mm, (gint64)getpid()))
        return 0;
    return sqlite3_last_insert_rowid(j->db);
}

/* A transaction around statements that belong together. */
static gboolean begin(DtJournal *j, GError **error)
{
    return dt_journal_execute(j, error, "BEGIN IMMEDIATE", "");
}

static gboolean commit(DtJournal *j, gboolean good, GError **error)
{
    if (good && dt_journal_execute(j, error, "COMMIT", ""))
        return TRUE;
    sqlite3_exec(j->db, "ROLLBACK", NULL, NULL, NULL);
    return FALSE;
}

gboolean dt_journal_reopen(DtJournal *j, gint64 id, const char *port, size_t drawn, GError **error)
{
    if (!begin(j, error))
        return FALSE;
    gboolean good = dt_journal_execute(
                        j, error,
                        "UPDATE runs SET status='running', ended=0, note='', port=?, drawn=?, pid=?"
                        " WHERE id=?",
                        "siii", port, (gint64)drawn, (gint64)getpid(), id) &&
                    dt_journal_execute(j, error, "DELETE FROM strokes WHERE run=? AND stroke>?",
                                       "ii", id, (gint64)drawn) &&
                    dt_journal_execute(j, error, "INSERT INTO events VALUES (?,?,'resumed',?)",
                                       "ids", id, now_s(), port);
    return commit(j, good, error);
}

gboolean dt_journal_port(DtJournal *j, gint64 id, const char *port, GError **error)
{
    return dt_journal_execute(j, error, "UPDATE runs SET port=? WHERE id=?", "si", port, id);
}

gboolean dt_journal_stroke(DtJournal *j, gint64 id, const DtJournalStroke *s, GError **error)
{
    if (!begin(j, error))
        return FALSE;
    gboolean good =
        dt_journal_execute(j, error, "INSERT OR REPLACE INTO strokes VALUES (?,?,?,?,?,?)",
                           "iisddd", id, (gint64)s->stroke, s->pen, s->ink_mm, s->travel_mm,
                           now_s()) &&
        dt_journal_execute(j, error, "UPDATE runs SET drawn=?, line=?, time_s=? WHERE id=?", "iidi",
                           (gint64)s->stroke, (gint64)s->line, s->time_s, id);
    return commit(j, good, error);
}

gboolean dt_journal_event(DtJournal *j, gint64 id, const char *kind, const char *text,
                          GError **error)
{
    return dt_journal_execute(j, error, "INSERT INTO events VALUES (?,?,?,?)", "idss", id, now_s(),
                              kind, text);
}

gboolean dt_journal_end(DtJournal *j, gint64 id, const char *status, const char *note,
                        double time_s, GError **error)
{
    return dt_journal_execute(j, error,
                              "UPDATE runs SET status=?, note=?, ended=?, time_s=? WHERE id=?",
                              "ssddi", status, note, now_s(), time_s, id);
}

static char *column_text(sqlite3_stmt *s, int i)
{
    return g_strdup((const char *)sqlite3_column_text(s, i));
}

static void read_row(sqlite3_stmt *s, DtJournalRun *r)
{
    *r = (DtJournalRun){
        .id = sqlite3_column_int64(s, 0),
        .started = sqlite3_column_double(s, 1),
        .ended = sqlite3_column_double(s, 2),
        .machine = column_text(s, 3),
        .profile = column_text(s, 4),
        .program = column_text(s, 5),
        .sha256 = column_text(s, 6),
        .port = column_text(s, 7),
        .status = column_text(s, 8),
        .note = column_text(s, 9),
        .strokes = (size_t)sqlite3_column_int64(s, 10),
        .drawn = (size_t)sqlite3_column_int64(s, 11),
        .line = (size_t)sqlite3_column_int64(s, 12),
        .estimate_s = sqlite3_column_double(s, 13),
        .time_s = sqlite3_column_double(s, 14),
        .total_ink_mm = sqlite3_column_double(s, 15),
        .ink_mm = sqlite3_column_double(s, 16),
        .travel_mm = sqlite3_column_double(s, 17),
        .pid = sqlite3_column_int64(s, 18),
        .predicted_s = sqlite3_column_double(s, 19),
    };
}

#define RUN_COLUMNS                                                                                \
    "SELECT id, started, ended, machine, profile, program, sha256, port, status, note, strokes,"   \
    " drawn, line, estimate_s, time_s, total_ink_mm,"                                              \
    " (SELECT total(ink_mm) FROM strokes WHERE run=id),"                                           \
    " (SELECT total(travel_mm) FROM strokes WHERE run=id), pid, told_s FROM runs "

/* "NAME) S" of /proc/PID/stat: the program's name and whether it runs; NULL where there is none. */
static char *process_name(const char *pid, char *state)
{
    g_autofree char *path = g_strdup_printf("/proc/%s/stat", pid), *text = NULL;
    const char *from = NULL, *to = NULL;
    if (g_file_get_contents(path, &text, NULL, NULL)) {
        from = strchr(text, '(');
        to = strrchr(text, ')');
    }
    if (from == NULL || to == NULL || to[1] != ' ')
        return NULL;
    *state = to[2];
    return g_strndup(from, (gsize)(to - from));
}

/* Whether a process with this number exists and runs a program of our name: numbers are reused. */
static gboolean is_running(gint64 pid)
{
    if (pid <= 0 || kill((pid_t)pid, 0) != 0)
        return FALSE;
    char state = 0, own_state;
    g_autofree char *number = g_strdup_printf("%" PRId64, pid);
    g_autofree char *name = process_name(number, &state), *own = process_name("self", &own_state);
    return name == NULL || own == NULL || (state != 'Z' && strcmp(name, own) == 0);
}

/* Whether another process is still drawing it: not this one, which would not ask. */
static gboolean is_drawn_elsewhere(const DtJournalRun *r)
{
    return strcmp(r->status, "running") == 0 && r->pid != (gint64)getpid() && is_running(r->pid);
}

static gboolean fail_nothing_left(DtJournal *j, GError **error)
{
    const char *why = read_pragma(j, "SELECT count(*) FROM runs") == 0
                          ? _("no run has been started")
                      : read_pragma(j, "SELECT count(*) FROM runs WHERE status<>'done'") > 0
                          ? _("the unfinished run is being drawn now")
                          : _("every run is finished");
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s; there is nothing to resume", j->path,
                why);
    return FALSE;
}

gboolean dt_journal_read(DtJournal *j, gint64 id, DtJournalRun *out, GError **error)
{
    sqlite3_stmt *s = NULL;
    const char *sql =
        id != 0 ? RUN_COLUMNS "WHERE id=?" : RUN_COLUMNS "WHERE status<>'done' ORDER BY id DESC";
    if (sqlite3_prepare_v2(j->db, sql, -1, &s, NULL) != SQLITE_OK)
        return dt_journal_fail(j, "cannot read the journal", error);
    if (id != 0)
        sqlite3_bind_int64(s, 1, id);
    g_auto(DtJournalRun) run = {0};
    int step = sqlite3_step(s);
    for (; step == SQLITE_ROW; step = sqlite3_step(s)) {
        dt_journal_run_clear(&run);
        read_row(s, &run);
        if (id != 0 || !is_drawn_elsewhere(&run))
            break;
    }
    sqlite3_finalize(s);
    if (step != SQLITE_ROW && step != SQLITE_DONE)
        return dt_journal_fail(j, "cannot read the journal", error);
    if (step == SQLITE_DONE && id == 0)
        return fail_nothing_left(j, error);
    if (step == SQLITE_DONE)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: there is no run %" PRId64, j->path, id);
    else if (is_drawn_elsewhere(&run))
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "run %" PRId64 " is being drawn by process %" PRId64 "; 'kill %" PRId64
                    "' ends it with the pen up",
                    id, run.pid, run.pid);
    else {
        *out = run;
        run = (DtJournalRun){0};
        return TRUE;
    }
    return FALSE;
}

size_t dt_journal_strokes_in(DtJournal *j, gint64 id, size_t drawn, double mm)
{
    sqlite3_stmt *s = NULL;
    size_t back = 0;
    if (sqlite3_prepare_v2(j->db,
                           "SELECT ink_mm FROM strokes WHERE run=? AND stroke<=? ORDER BY stroke"
                           " DESC",
                           -1, &s, NULL) == SQLITE_OK) {
        sqlite3_bind_int64(s, 1, id);
        sqlite3_bind_int64(s, 2, (gint64)drawn);
        for (double ink = 0; ink < mm && sqlite3_step(s) == SQLITE_ROW; back++)
            ink += sqlite3_column_double(s, 0);
    }
    sqlite3_finalize(s);
    return back;
}

gboolean dt_journal_note(DtJournal *j, const char *machine, const char *kind, const char *text,
                         GError **error)
{
    return dt_journal_execute(j, error, "INSERT INTO notes VALUES (?,?,?,?)", "dsss", now_s(),
                              machine, kind, text);
}

gboolean dt_journal_each_row(DtJournal *j, const char *sql, gint64 id,
                             void (*take)(sqlite3_stmt *s, gpointer to), gpointer to,
                             GError **error)
{
    sqlite3_stmt *s = NULL;
    if (sqlite3_prepare_v2(j->db, sql, -1, &s, NULL) != SQLITE_OK)
        return dt_journal_fail(j, "cannot read the journal", error);
    if (id != 0)
        sqlite3_bind_int64(s, 1, id);
    int step;
    while ((step = sqlite3_step(s)) == SQLITE_ROW)
        take(s, to);
    sqlite3_finalize(s);
    return step == SQLITE_DONE || dt_journal_fail(j, "cannot read the journal", error);
}

/* A run whose process disappeared was cut off. */
static const char *status_of(const DtJournalRun *r)
{
    if (strcmp(r->status, "running") == 0 && !is_running(r->pid))
        return _("cut off");
    return r->status;
}

static void take_run(sqlite3_stmt *s, gpointer to)
{
    g_auto(DtJournalRun) r = {0};
    read_row(s, &r);
    DtLogRun run = {
        .id = r.id,
        .started = r.started,
        .ended = r.ended,
        .machine = g_steal_pointer(&r.machine),
        .program = g_steal_pointer(&r.program),
        .port = g_steal_pointer(&r.port),
        .status = g_strdup(status_of(&r)),
        .note = g_steal_pointer(&r.note),
        .strokes = r.strokes,
        .drawn = r.drawn,
        .estimate_s = r.estimate_s,
        .predicted_s = r.predicted_s,
        .time_s = r.time_s,
        .ink_mm = r.ink_mm,
        .travel_mm = r.travel_mm,
    };
    g_array_append_val((GArray *)to, run);
}

static void take_pen(sqlite3_stmt *s, gpointer to)
{
    DtLogPen pen = {column_text(s, 0), (size_t)sqlite3_column_int64(s, 1),
                    sqlite3_column_double(s, 2), sqlite3_column_double(s, 3)};
    g_array_append_val((GArray *)to, pen);
}

static void take_note(sqlite3_stmt *s, gpointer to)
{
    DtLogNote note = {sqlite3_column_double(s, 0), column_text(s, 1), column_text(s, 2),
                      column_text(s, 3)};
    g_array_append_val((GArray *)to, note);
}

static gboolean read_pens(DtJournal *j, DtLogRun *run, GError **error)
{
    GArray *pens = g_array_new(FALSE, FALSE, sizeof(DtLogPen));
    gboolean good =
        dt_journal_each_row(j,
                            "SELECT pen, count(*), total(ink_mm), total(travel_mm) FROM strokes"
                            " WHERE run=? GROUP BY pen ORDER BY min(stroke)",
                            run->id, take_pen, pens, error);
    run->n_pens = pens->len;
    run->pens = (DtLogPen *)(void *)g_array_free(pens, FALSE);
    return good;
}

gboolean dt_journal_read_all(DtJournal *j, DtLog *out, GError **error)
{
    GArray *runs = g_array_new(FALSE, FALSE, sizeof(DtLogRun));
    GArray *notes = g_array_new(FALSE, FALSE, sizeof(DtLogNote));
    gboolean good = dt_journal_each_row(j, RUN_COLUMNS "ORDER BY id", 0, take_run, runs, error) &&
                    dt_journal_each_row(j, "SELECT at, machine, kind, text FROM notes ORDER BY at",
                                        0, take_note, notes, error);
    *out = (DtLog){.n_runs = runs->len, .n_notes = notes->len};
    out->runs = (DtLogRun *)(void *)g_array_free(runs, FALSE);
    out->notes = (DtLogNote *)(void *)g_array_free(notes, FALSE);
    for (size_t i = 0; good && i < out->n_runs; i++)
        good = read_pens(j, &out->runs[i], error);
    return good;
}

double dt_journal_spent_s(const DtJournal *j)
{
    return (double)j->spent_us / 1e6;
}
