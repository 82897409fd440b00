/* learn-note: writes what was learnt into a profile. */
#include "drawtrue/learn.h"

#include <math.h>

enum { MOST_NOTES = 16 };

typedef struct {
    DtProfileChange change[MOST_NOTES];
    size_t n;
} Notes;

/* Takes ownership of `value`. */
static void note(Notes *notes, const char *key, char *value)
{
    notes->change[notes->n++] = (DtProfileChange){"controller", key, value, NULL};
}

static char *bytes(int n)
{
    return g_strdup_printf("%d bytes", n);
}

/* Words that are accepted, and those that were not tried, marked so. */
static char *marked_words(const DtLearnt *l)
{
    GString *all = g_string_new(l->words);
    g_auto(GStrv) untried = g_strsplit(l->untried ? l->untried : "", " ", -1);
    for (char **w = untried; *w != NULL; w++)
        if (**w != '\0')
            g_string_append_printf(all, " untried:%s", *w);
    return g_string_free(all, FALSE);
}

static void note_all(Notes *notes, const DtProfile *p, const DtLearnt *l)
{
    note(notes, "greeting", dt_profile_escape(l->greeting));
    note(notes, "accept", dt_profile_escape(l->accept));
    note(notes, "refuse", dt_profile_escape(l->refuse));
    if (l->notices != NULL && (*l->notices || *p->dialect.notices))
        note(notes, "notices", dt_profile_escape(l->notices));
    note(notes, "words", marked_words(l));
    if (l->program_end != NULL)
        note(notes, "program_end", dt_profile_escape(l->program_end));
    note(notes, "window", bytes(l->window));
    if (l->longest_line > 0)
        note(notes, "longest_line", bytes(l->longest_line));
    else if (l->window > 0 && p->dialect.longest_line >= l->window)
        note(notes, "longest_line", bytes(l->window - 1)); /* or the profile would not be valid */
    if (l->decimals >= 0 && l->decimals < p->dialect.decimals)
        note(notes, "decimals", g_strdup_printf("%d", l->decimals));
    if (4 * l->latency_s > p->dialect.reply_timeout_s)
        note(notes, "reply_timeout", g_strdup_printf("%.0f s", ceil(5 * l->latency_s)));
    note(notes, "line_check", g_strdup(l->line_check ? "yes" : "no"));
    note(notes, "ask_state", g_strdup(l->asks ? "\\x05" : ""));
    note(notes, "hold", g_strdup(l->holds ? "\\x13" : ""));
    note(notes, "go_on", g_strdup(l->holds ? "\\x11\\x11" : ""));
    note(notes, "abandon", g_strdup(l->abandons ? "\\x18\\x18" : ""));
}

gboolean dt_link_note_learnt(const DtProfile *p, const char *path, const char *to,
                             const DtLearnt *l, const char *date, GError **error)
{
    Notes notes = {.n = 0};
    note_all(&notes, p, l);
    g_autofree char *remark =
        l->latency_s > 0 ? g_strdup_printf("learnt on %s; it answers in %.2g s", date, l->latency_s)
                         : g_strdup_printf("learnt on %s", date);
    for (size_t i = 0; i < notes.n; i++)
        if (g_str_equal(notes.change[i].key, "words"))
            notes.change[i].remark = remark;
    const gboolean good = dt_profile_update(path, to, notes.change, notes.n, error);
    for (size_t i = 0; i < notes.n; i++)
        g_free((char *)notes.change[i].value);
    return good;
}
