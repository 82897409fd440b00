/* learn-note: what was learnt, into a profile. */
#include "drawtrue/learn.h"

enum { MOST_NOTES = 12 };

typedef struct {
    DtProfileChange change[MOST_NOTES];
    size_t n;
} Notes;

/* Takes `value`. */
static void note(Notes *notes, const char *key, char *value)
{
    notes->change[notes->n++] = (DtProfileChange){"controller", key, value, NULL};
}

static char *bytes(int n)
{
    return g_strdup_printf("%d bytes", n);
}

static void note_all(Notes *notes, const DtProfile *p, const DtLearnt *l)
{
    note(notes, "greeting", dt_profile_escape(l->greeting));
    note(notes, "accept", dt_profile_escape(l->accept));
    note(notes, "refuse", dt_profile_escape(l->refuse));
    note(notes, "words", g_strdup(l->words));
    note(notes, "window", bytes(l->window));
    if (l->longest_line > 0)
        note(notes, "longest_line", bytes(l->longest_line));
    else if (l->window > 0 && p->dialect.longest_line >= l->window)
        note(notes, "longest_line", bytes(l->window - 1)); /* or the profile would not be sound */
    note(notes, "line_check", g_strdup(l->line_check ? "yes" : "no"));
    note(notes, "ask_state", g_strdup(l->asks ? "\\x05" : ""));
    note(notes, "hold", g_strdup(l->holds ? "\\x13" : ""));
    note(notes, "go_on", g_strdup(l->holds ? "\\x11" : ""));
    if (!l->holds)
        note(notes, "abandon", g_strdup(""));
}

gboolean dt_link_note_learnt(const DtProfile *p, const char *path, const char *to,
                             const DtLearnt *l, const char *date, GError **error)
{
    Notes notes = {.n = 0};
    note_all(&notes, p, l);
    g_autofree char *remark =
        l->latency_s > 0
            ? g_strdup_printf("learnt on %s; it answers in %.2g s", date, l->latency_s)
            : g_strdup_printf("learnt on %s", date);
    for (size_t i = 0; i < notes.n; i++)
        if (g_str_equal(notes.change[i].key, "words"))
            notes.change[i].remark = remark;
    const gboolean good = dt_profile_update(path, to, notes.change, notes.n, error);
    for (size_t i = 0; i < notes.n; i++)
        g_free((char *)notes.change[i].value);
    return good;
}
