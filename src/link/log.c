/* log: past runs and notes, read for people. */
#include "link/journal.h"

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

gboolean dt_log_note(const char *journal, const char *machine, const char *kind, const char *text,
                     GError **error)
{
    g_autoptr(DtJournal) j = dt_journal_open(journal, error);
    return j != NULL && dt_journal_note(j, machine, kind, text, error);
}
