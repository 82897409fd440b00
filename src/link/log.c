/* log: past runs and notes, read for people. */
#include "link/journal.h"

#include <glib/gstdio.h>
#include <string.h>

DtJournal *dt_journal_open_existing(const char *path, gboolean *missing, GError **error)
{
    g_autofree char *own = path ? g_strdup(path) : dt_journal_default_path(error);
    *missing = own != NULL && !g_file_test(own, G_FILE_TEST_EXISTS);
    return own == NULL || *missing ? NULL : dt_journal_open(own, error);
}

gboolean dt_log_read(const char *journal, DtLog *out, GError **error)
{
    *out = (DtLog){0};
    gboolean missing;
    g_autoptr(DtJournal) j = dt_journal_open_existing(journal, &missing, error);
    if (j == NULL)
        return missing;
    if (dt_journal_read_all(j, out, error))
        return TRUE;
    dt_log_clear(out);
    return FALSE;
}

static void clear_run(DtLogRun *r)
{
    for (size_t i = 0; i < r->n_pens; i++)
        g_free(r->pens[i].name);
    g_free(r->pens);
    g_free(r->machine);
    g_free(r->program);
    g_free(r->port);
    g_free(r->status);
    g_free(r->note);
}

void dt_log_clear(DtLog *l)
{
    for (size_t i = 0; i < l->n_runs; i++)
        clear_run(&l->runs[i]);
    for (size_t i = 0; i < l->n_notes; i++) {
        g_free(l->notes[i].machine);
        g_free(l->notes[i].kind);
        g_free(l->notes[i].text);
    }
    g_free(l->runs);
    g_free(l->notes);
    *l = (DtLog){0};
}

static gboolean is_same_file(const GStatBuf *a, const char *path)
{
    GStatBuf b;
    return g_stat(path, &b) == 0 && a->st_dev == b.st_dev && a->st_ino == b.st_ino;
}

/* The last run of a file, NULL if there is none. */
static const DtLogRun *last_run_of(const DtLog *l, const char *program)
{
    GStatBuf file;
    if (g_stat(program, &file) != 0)
        return NULL;
    for (size_t i = l->n_runs; i-- > 0;)
        if (is_same_file(&file, l->runs[i].program))
            return &l->runs[i];
    return NULL;
}

static gboolean has_sum(const char *path, const char *sha256)
{
    g_autoptr(GMappedFile) file = g_mapped_file_new(path, FALSE, NULL);
    if (file == NULL)
        return FALSE;
    g_autoptr(GBytes) bytes = g_mapped_file_get_bytes(file);
    g_autofree char *sum = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
    return strcmp(sum, sha256) == 0;
}

gboolean dt_log_unfinished(const char *journal, const char *program, DtUnfinished *out)
{
    g_auto(DtLog) log = {0};
    gboolean missing;
    g_autoptr(DtJournal) j = dt_journal_open_existing(journal, &missing, NULL);
    if (j == NULL || !dt_journal_read_all(j, &log, NULL))
        return FALSE;
    const DtLogRun *last = last_run_of(&log, program);
    if (last == NULL || strcmp(last->status, "done") == 0)
        return FALSE;
    const gboolean draws = strcmp(last->status, "running") == 0;
    g_auto(DtJournalRun) run = {0};
    if (!draws && (last->drawn == 0 || !dt_journal_read(j, last->id, &run, NULL) ||
                   !has_sum(program, run.sha256)))
        return FALSE;
    *out = (DtUnfinished){last->id, draws, last->drawn, last->strokes};
    return TRUE;
}

gboolean dt_log_note(const char *journal, const char *machine, const char *kind, const char *text,
                     GError **error)
{
    g_autoptr(DtJournal) j = dt_journal_open(journal, error);
    return j != NULL && dt_journal_note(j, machine, kind, text, error);
}
