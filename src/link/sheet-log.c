/* sheet-log: the journal's tables of test sheets and corrections. */
#include "drawtrue/sheet-log.h"

#include "drawtrue/code.h"
#include "link/journal-sql.h"

#include <string.h>

const char dt_journal_sheet_tables[] =
    "CREATE TABLE IF NOT EXISTS sheets (id INTEGER PRIMARY KEY AUTOINCREMENT, at REAL NOT NULL,"
    " machine TEXT NOT NULL, number INTEGER NOT NULL, profile TEXT NOT NULL,"
    " profile_sum TEXT NOT NULL, program_sum TEXT NOT NULL, sheet TEXT NOT NULL,"
    " readings TEXT NOT NULL DEFAULT '', figures TEXT NOT NULL DEFAULT '',"
    " UNIQUE (machine, number));"
    "CREATE TABLE IF NOT EXISTS corrections (id INTEGER PRIMARY KEY AUTOINCREMENT,"
    " at REAL NOT NULL, machine TEXT NOT NULL, number INTEGER NOT NULL, profile TEXT NOT NULL,"
    " before TEXT NOT NULL, after_sum TEXT NOT NULL, undone REAL NOT NULL DEFAULT 0);";

static double now_s(void)
{
    return (double)g_get_real_time() / 1e6;
}

void dt_sheet_record_clear(DtSheetRecord *r)
{
    g_free(r->machine);
    g_free(r->profile);
    g_free(r->profile_sum);
    g_free(r->program_sum);
    g_free(r->sheet);
    g_free(r->readings);
    g_free(r->figures);
    *r = (DtSheetRecord){0};
}

void dt_correction_record_clear(DtCorrectionRecord *r)
{
    g_free(r->before);
    g_free(r->after_sum);
    *r = (DtCorrectionRecord){0};
}

static char *text_of(sqlite3_stmt *s, int column)
{
    const char *text = (const char *)sqlite3_column_text(s, column);
    return g_strdup(text ? text : "");
}

#define SHEET_COLUMNS                                                                              \
    "SELECT number, at, machine, profile, profile_sum, program_sum, sheet, readings, figures,"     \
    " (SELECT count(*) FROM runs WHERE sha256=program_sum),"                                       \
    " (SELECT count(*) FROM runs WHERE sha256=program_sum AND status='done'),"                     \
    " (SELECT max(strokes) FROM runs WHERE sha256=program_sum),"                                   \
    " (SELECT max(drawn) FROM runs WHERE sha256=program_sum),"                                     \
    " (SELECT count(*) FROM corrections c WHERE c.machine=sheets.machine AND"                      \
    " c.number=sheets.number AND c.undone=0) FROM sheets "

static void take_sheet(sqlite3_stmt *s, gpointer to)
{
    const DtSheetRecord r = {.number = sqlite3_column_int64(s, 0),
                             .at = sqlite3_column_double(s, 1),
                             .machine = text_of(s, 2),
                             .profile = text_of(s, 3),
                             .profile_sum = text_of(s, 4),
                             .program_sum = text_of(s, 5),
                             .sheet = text_of(s, 6),
                             .readings = text_of(s, 7),
                             .figures = text_of(s, 8),
                             .begun = sqlite3_column_int64(s, 9) > 0,
                             .drawn = sqlite3_column_int64(s, 10) > 0,
                             .strokes = (size_t)sqlite3_column_int64(s, 11),
                             .strokes_drawn = (size_t)sqlite3_column_int64(s, 12),
                             .corrected = sqlite3_column_int64(s, 13) > 0};
    g_array_append_val((GArray *)to, r);
}

static void clear_record(gpointer r)
{
    dt_sheet_record_clear(r);
}

static GArray *new_list(void)
{
    GArray *list = g_array_new(FALSE, FALSE, sizeof(DtSheetRecord));
    g_array_set_clear_func(list, clear_record);
    return list;
}

/* Rows of a query on the sheets with a text, which may be NULL, and a number as its values. */
static GArray *query(DtJournal *j, const char *sql, const char *text, gint64 number, GError **error)
{
    sqlite3_stmt *s = NULL;
    g_autoptr(GArray) list = new_list();
    if (sqlite3_prepare_v2(j->db, sql, -1, &s, NULL) != SQLITE_OK) {
        dt_journal_fail(j, "cannot read the journal", error);
        return NULL;
    }
    if (text)
        sqlite3_bind_text(s, 1, text, -1, SQLITE_TRANSIENT);
    sqlite3_bind_int64(s, 2, number);
    int step;
    while ((step = sqlite3_step(s)) == SQLITE_ROW)
        take_sheet(s, list);
    sqlite3_finalize(s);
    if (step != SQLITE_DONE) {
        dt_journal_fail(j, "cannot read the journal", error);
        return NULL;
    }
    return g_steal_pointer(&list);
}

gboolean dt_sheet_log_next(const char *journal, const char *machine, gint64 *number, GError **error)
{
    g_autoptr(DtJournal) j = dt_journal_open(journal, error);
    g_autoptr(GArray) last =
        j ? query(j, SHEET_COLUMNS "WHERE machine=?1 AND ?2=0 ORDER BY number DESC LIMIT 1",
                  machine, 0, error)
          : NULL;
    if (last == NULL)
        return FALSE;
    *number = last->len > 0 ? g_array_index(last, DtSheetRecord, 0).number + 1 : 1;
    return TRUE;
}

gboolean dt_sheet_log_add(const char *journal, const DtSheetRecord *r, GError **error)
{
    g_autoptr(DtJournal) j = dt_journal_open(journal, error);
    if (j == NULL)
        return FALSE;
    g_autoptr(GArray) same =
        query(j, SHEET_COLUMNS "WHERE machine=?1 AND number=?2", r->machine, r->number, error);
    if (same == NULL)
        return FALSE;
    if (same->len > 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: a sheet %" PRId64 " of '%s' was made meanwhile; make this one again",
                    j->path, r->number, r->machine);
        return FALSE;
    }
    return dt_journal_execute(j, error,
                              "INSERT INTO sheets (at, machine, number, profile, profile_sum,"
                              " program_sum, sheet) VALUES (?,?,?,?,?,?,?)",
                              "dsissss", now_s(), r->machine, r->number, r->profile, r->profile_sum,
                              r->program_sum, r->sheet);
}

/* Where a journal that may not be there yet would be. */
static char *place_of(const char *journal)
{
    char *own = journal ? g_strdup(journal) : dt_journal_default_path(NULL);
    return own ? own : g_strdup("journal");
}

static gboolean no_sheet(const char *journal, const char *machine, gint64 number, GError **error)
{
    g_autofree char *path = place_of(journal);
    if (number == 0)
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "%s: no test sheet of '%s' has been made yet; 'drawtrue sheet -o JOB.nc' makes one",
            path, machine);
    else
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: there is no sheet %" PRId64 " of '%s'",
                    path, number, machine);
    return FALSE;
}

gboolean dt_sheet_log_read(const char *journal, const char *machine, gint64 number,
                           DtSheetRecord *out, GError **error)
{
    gboolean missing;
    g_autoptr(DtJournal) j = dt_journal_open_existing(journal, &missing, error);
    if (j == NULL)
        return missing && no_sheet(journal, machine, number, error);
    g_autoptr(GArray) list = query(j,
                                   SHEET_COLUMNS "WHERE machine=?1 AND (?2=0 OR number=?2)"
                                                 " ORDER BY number DESC LIMIT 1",
                                   machine, number, error);
    if (list == NULL)
        return FALSE;
    if (list->len == 0)
        return no_sheet(journal, machine, number, error);
    *out = g_array_index(list, DtSheetRecord, 0);
    memset(&g_array_index(list, DtSheetRecord, 0), 0, sizeof(DtSheetRecord));
    return TRUE;
}

GArray *dt_sheet_log_read_all(const char *journal, const char *machine, GError **error)
{
    gboolean missing;
    g_autoptr(DtJournal) j = dt_journal_open_existing(journal, &missing, error);
    if (missing)
        return new_list();
    return j ? query(j, SHEET_COLUMNS "WHERE (?1 IS NULL OR machine=?1) AND ?2=0 ORDER BY id",
                     machine, 0, error)
             : NULL;
}

gboolean dt_sheet_log_keep(const char *journal, const char *machine, gint64 number,
                           const char *readings, const char *figures, GError **error)
{
    g_autoptr(DtJournal) j = dt_journal_open(journal, error);
    return j != NULL &&
           dt_journal_execute(
               j, error,
               "UPDATE sheets SET readings=ifnull(?,readings), figures=ifnull(?,figures)"
               " WHERE machine=? AND number=?",
               "sssi", readings, figures, machine, number);
}

/* Corrections --------------------------------------------------------------------------------- */

gboolean dt_sheet_log_correct(const char *journal, const char *machine, const char *path,
                              const DtCorrectionRecord *r, GError **error)
{
    g_autoptr(DtJournal) j = dt_journal_open(journal, error);
    return j != NULL &&
           dt_journal_execute(
               j, error,
               "INSERT INTO corrections (at, machine, number, profile, before, after_sum)"
               " VALUES (?,?,?,?,?,?)",
               "dsisss", now_s(), machine, r->number, path, r->before, r->after_sum);
}

static gboolean no_correction(const char *journal, const char *path, GError **error)
{
    g_autofree char *own = place_of(journal);
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: no correction of %s is left to take back",
                own, path);
    return FALSE;
}

gboolean dt_sheet_log_last_correction(const char *journal, const char *path,
                                      DtCorrectionRecord *out, GError **error)
{
    gboolean missing;
    g_autoptr(DtJournal) j = dt_journal_open_existing(journal, &missing, error);
    sqlite3_stmt *s = NULL;
    if (j == NULL)
        return missing && no_correction(journal, path, error);
    if (sqlite3_prepare_v2(
            j->db,
            "SELECT id, number, at, before, after_sum FROM corrections WHERE profile=?"
            " AND undone=0 ORDER BY id DESC LIMIT 1",
            -1, &s, NULL) != SQLITE_OK)
        return dt_journal_fail(j, "cannot read the journal", error);
    sqlite3_bind_text(s, 1, path, -1, SQLITE_TRANSIENT);
    const int step = sqlite3_step(s);
    if (step == SQLITE_ROW)
        *out = (DtCorrectionRecord){.id = sqlite3_column_int64(s, 0),
                                    .number = sqlite3_column_int64(s, 1),
                                    .at = sqlite3_column_double(s, 2),
                                    .before = text_of(s, 3),
                                    .after_sum = text_of(s, 4)};
    else if (step == SQLITE_DONE)
        no_correction(journal, path, error);
    else
        dt_journal_fail(j, "cannot read the journal", error);
    sqlite3_finalize(s);
    return step == SQLITE_ROW;
}

gboolean dt_sheet_log_take_back(const char *journal, gint64 id, GError **error)
{
    g_autoptr(DtJournal) j = dt_journal_open(journal, error);
    return j != NULL && dt_journal_execute(j, error, "UPDATE corrections SET undone=? WHERE id=?",
                                           "di", now_s(), id);
}

gboolean dt_sheet_log_is_sheet(const char *journal, const DtProfile *p, const char *program)
{
    if (dt_code_has_heads(p))
        return FALSE;
    g_autoptr(GMappedFile) file = g_mapped_file_new(program, FALSE, NULL);
    g_autoptr(GArray) sheets = dt_sheet_log_read_all(journal, p->name, NULL);
    if (file == NULL || sheets == NULL)
        return FALSE;
    g_autoptr(GBytes) bytes = g_mapped_file_get_bytes(file);
    g_autofree char *sum = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
    gboolean found = FALSE;
    for (guint i = 0; i < sheets->len && !found; i++)
        found = g_str_equal(g_array_index(sheets, DtSheetRecord, i).program_sum, sum);
    return found;
}
