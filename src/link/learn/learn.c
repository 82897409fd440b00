/* learn: asks a controller what it takes, and writes it into the profile. */
#include "link/learn/learn.h"

#include <string.h>

static char *all_words(const DtLearner *l)
{
    g_auto(GStrv) words = g_strsplit(l->words->str, " ", -1);
    g_autoptr(GString) sorted = g_string_new(NULL);
    static const char *const kinds = "GM*"; /* codes in the order of their numbers, then letters */
    for (const char *kind = kinds; *kind; kind++)
        for (int number = 0; number < 1000; number++) {
            g_autofree char *code = *kind == '*' ? g_strdup_printf("%c", 'A' + number)
                                                 : g_strdup_printf("%c%d", *kind, number);
            if (*kind == '*' && number >= 26)
                break;
            if (!g_strv_contains((const char *const *)words, code))
                continue;
            g_string_append_printf(sorted, sorted->len ? " %s" : "%s", code);
            if (strcmp(code, "S") == 0 && l->most_s > 0)
                g_string_append_printf(sorted, "0..%d", l->most_s);
        }
    g_string_append(sorted, l->settings->str);
    return g_strdup(sorted->str);
}

static void end(DtLearner *l)
{
    g_string_free(l->incoming, TRUE);
    g_string_free(l->words, TRUE);
    g_string_free(l->settings, TRUE);
}

gboolean dt_learn_controller(const DtProfile *p, const DtLearnJob *o, DtLearnt *out, GError **error)
{
    memset(out, 0, sizeof *out);
    DtLearner l = {.profile = p, .options = *o, .out = out};
    l.incoming = g_string_new(NULL);
    l.words = g_string_new(NULL);
    l.settings = g_string_new(NULL);
    if (dt_learn_greeting(&l) && dt_learn_replies(&l)) {
        dt_learn_still_words(&l);
        dt_learn_forms(&l);
        dt_learn_sizes(&l);
        dt_learn_bytes_at_once(&l);
        if (o->may_move && l.error == NULL)
            dt_learn_moving_words(&l);
        out->words = all_words(&l);
        dt_learn_tell(&l, "it takes %s", out->words);
    }
    end(&l);
    if (l.error) {
        g_propagate_error(error, l.error);
        dt_learnt_clear(out);
        return FALSE;
    }
    return TRUE;
}

void dt_learnt_clear(DtLearnt *l)
{
    g_free(l->greeting);
    g_free(l->accept);
    g_free(l->refuse);
    g_free(l->words);
    memset(l, 0, sizeof *l);
}
