/* learn: asks a controller what it takes, and writes it into the profile. */
#include "learn.h"

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
            if (g_strv_contains((const char *const *)words, code))
                g_string_append_printf(sorted, sorted->len ? " %s" : "%s", code);
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

gboolean dt_code_learn(const DtProfile *p, const DtLearnOptions *o, DtLearnt *out, GError **error)
{
    memset(out, 0, sizeof *out);
    DtLearner l = {.profile = p, .options = *o, .out = out};
    l.incoming = g_string_new(NULL);
    l.words = g_string_new(NULL);
    l.settings = g_string_new(NULL);
    if (learn_greeting(&l) && learn_replies(&l)) {
        learn_still_words(&l);
        learn_forms(&l);
        learn_sizes(&l);
        learn_bytes_at_once(&l);
        if (o->may_move && l.error == NULL)
            learn_moving_words(&l);
        out->words = all_words(&l);
        learn_tell(&l, "it takes %s", out->words);
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

/* Into the profile --------------------------------------------------------------------------------
 */

static void set_text(GKeyFile *f, const char *key, const char *value)
{
    g_autofree char *escaped = g_strescape(value, NULL);
    g_key_file_set_value(f, "controller", key, escaped);
}

static void set_number(GKeyFile *f, const char *key, int value, const char *unit)
{
    if (value <= 0)
        return;
    g_autofree char *text = g_strdup_printf("%d %s", value, unit);
    g_key_file_set_value(f, "controller", key, text);
}

/* The date goes above the words, below what the user has written there. */
static void note_date(GKeyFile *f, const char *date)
{
    g_autofree char *before = g_key_file_get_comment(f, "controller", "words", NULL);
    g_auto(GStrv) lines = g_strsplit(before ? before : "", "\n", -1);
    g_autoptr(GString) after = g_string_new(NULL);
    for (char **line = lines; *line; line++)
        if (**line && !g_str_has_prefix(g_strchug(*line), "learnt on "))
            g_string_append_printf(after, " %s\n", *line);
    g_string_append_printf(after, " learnt on %s", date);
    g_key_file_set_comment(f, "controller", "words", after->str, NULL);
}

char *dt_code_note_learnt(const char *profile, gsize len, const DtLearnt *l, const char *date,
                          gsize *out_len, GError **error)
{
    g_autoptr(GKeyFile) f = g_key_file_new();
    GError *problem = NULL;
    if (len > 0 &&
        !g_key_file_load_from_data(f, profile, len, G_KEY_FILE_KEEP_COMMENTS, &problem)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s", problem->message);
        g_error_free(problem);
        return NULL;
    }
    set_text(f, "greeting", l->greeting);
    set_text(f, "accept", l->accept);
    set_text(f, "refuse", l->refuse);
    set_text(f, "words", l->words);
    int window = l->window;
    g_autofree char *window_text = g_strdup_printf("%d bytes", window);
    g_key_file_set_value(f, "controller", "window", window_text);
    set_number(f, "longest_line", l->longest_line, "bytes");
    g_key_file_set_value(f, "controller", "line_check", l->line_check ? "yes" : "no");
    g_key_file_set_value(f, "controller", "ask_state", l->asks ? "\\x05" : "");
    g_key_file_set_value(f, "controller", "hold", l->holds ? "\\x13" : "");
    g_key_file_set_value(f, "controller", "go_on", l->holds ? "\\x11" : "");
    if (!l->holds)
        g_key_file_set_value(f, "controller", "abandon", "");
    note_date(f, date);
    return g_key_file_to_data(f, out_len, error);
}
