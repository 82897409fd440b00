/* learn: finds out what a controller accepts, and writes it into the profile. */
#include "link/learn/learn.h"

#include <stdlib.h>
#include <string.h>

/* Codes in the order of their numbers, G before M, then letters. */
static int by_rank(gconstpointer a, gconstpointer b)
{
    const char *x = *(const char *const *)a, *y = *(const char *const *)b;
    const int kind_x = x[1] == '\0' ? 2 : *x == 'M', kind_y = y[1] == '\0' ? 2 : *y == 'M';
    if (kind_x != kind_y)
        return kind_x - kind_y;
    if (kind_x == 2)
        return *x - *y;
    const double number_x = g_ascii_strtod(x + 1, NULL), number_y = g_ascii_strtod(y + 1, NULL);
    return (number_x > number_y) - (number_x < number_y);
}

static void sort_words(char **words)
{
    qsort(words, g_strv_length(words), sizeof *words, by_rank);
}

static char *all_words(const DtLearner *l)
{
    g_auto(GStrv) words = g_strsplit(l->words->str, " ", -1);
    g_autoptr(GString) sorted = g_string_new(NULL);
    sort_words(words);
    for (char **w = words; *w != NULL; w++) {
        g_string_append_printf(sorted, sorted->len ? " %s" : "%s", *w);
        if (strcmp(*w, "S") == 0 && l->most_s > 0)
            g_string_append_printf(sorted, "0..%d", l->most_s);
    }
    g_string_append(sorted, l->settings->str);
    return g_string_free(g_steal_pointer(&sorted), FALSE);
}

/* A word of the profile's list without its range or required letters: "S" of "S0..100", "G4" of
 * "G4+P"; NULL for a setting, or one that is already marked. */
static char *plain_word(const char *token)
{
    static const char mark[] = "untried:";
    if (g_str_has_prefix(token, mark))
        token += strlen(mark);
    if (!g_ascii_isalpha(*token) || strchr(token, ':') != NULL)
        return NULL;
    const char letter = g_ascii_toupper(*token);
    const gsize digits = strspn(token + 1, "0123456789.");
    return letter == 'G' || letter == 'M'
               ? g_strdup_printf("%c%.*s", letter, (int)digits, token + 1)
               : g_strdup_printf("%c", letter);
}

/* Words in the profile, or needed for drawing, that were not tried. */
static char *untried_words(const DtLearner *l)
{
    static const char wanted[] = "G0 G1 G2 G3 G28 F I J R X Y";
    g_autofree char *list =
        g_strconcat(l->profile->dialect.words ? l->profile->dialect.words : "", " ", wanted, NULL);
    g_auto(GStrv) tokens = g_strsplit_set(list, " \t,", -1);
    g_autoptr(GPtrArray) words = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
    for (char **t = tokens; *t != NULL; t++) {
        char *word = **t != '\0' ? plain_word(*t) : NULL;
        if (word == NULL)
            continue;
        if (g_hash_table_contains(l->tried, word) || !g_hash_table_add(seen, word))
            g_free(word);
        else
            g_ptr_array_add(words, word);
    }
    g_ptr_array_sort(words, by_rank);
    g_ptr_array_add(words, NULL);
    return g_strjoinv(" ", (char **)words->pdata);
}

static void begin_pass(DtLearner *l)
{
    DtLearnt *out = l->out;
    l->restarted = l->homed = l->dwells = l->dwell_in_ms = FALSE;
    l->most_s = 0;
    l->other = NULL;
    l->line = NULL;
    g_string_truncate(l->words, 0);
    g_string_truncate(l->settings, 0);
    g_hash_table_remove_all(l->tried);
    g_clear_pointer(&out->refused, g_free);
    out->refused = g_strdup("");
    out->window = out->longest_line = 0;
    out->decimals = -1;
    out->line_check = out->asks = out->holds = out->abandons = FALSE;
    dt_traffic_reset(l->traffic, 1);
}

static void ask_all(DtLearner *l)
{
    static void (*const parts[])(DtLearner *) = {dt_learn_still_words, dt_learn_forms,
                                                 dt_learn_sizes};
    for (size_t i = 0; i < G_N_ELEMENTS(parts) && l->error == NULL; i++)
        parts[i](l);
    if (l->options.may_move && l->error == NULL)
        dt_learn_moving_words(l);
    if (l->error == NULL)
        dt_learn_bytes_at_once(l);
    if (l->error == NULL)
        dt_learn_end(l);
}

/* Whether a void pass is worth repeating; recovers the board for it. */
static gboolean goes_again(DtLearner *l)
{
    enum { MOST_RESTARTS = 10 };
    const DtWire *wire = &l->options.wire;
    if (!l->restarted)
        return FALSE;
    g_clear_error(&l->error);
    if (++l->n_restarts > MOST_RESTARTS) {
        g_set_error_literal(
            &l->error, DT_ERROR, DT_ERROR_INPUT,
            "the board restarts or falls silent over and over; check its supply and its "
            "cable");
        return FALSE;
    }
    dt_learn_tell(l, "the board restarted: from the beginning");
    if (!l->hung)
        return TRUE;
    if (wire->reopen != NULL)
        return wire->reopen(wire->user, &l->error);
    g_set_error_literal(&l->error, DT_ERROR, DT_ERROR_INPUT, "the controller no longer answers");
    return FALSE;
}

gboolean dt_learn_controller(const DtProfile *p, const DtLearnJob *o, DtLearnt *out, GError **error)
{
    enum { MOST_US = 900 * G_USEC_PER_SEC };
    memset(out, 0, sizeof *out);
    DtLearner l;
    dt_learner_init(&l, p, o, out);
    l.end_us = o->wire.now_us(o->wire.user) + MOST_US;
    do {
        begin_pass(&l);
        const gboolean good = dt_learn_greeting(&l) && dt_learn_replies(&l);
        l.hung = FALSE;
        if (good)
            ask_all(&l);
    } while (goes_again(&l));
    const gboolean good = l.error == NULL;
    if (good) {
        out->words = all_words(&l);
        out->untried = untried_words(&l);
        if (out->notices == NULL)
            out->notices = g_strdup("");
        dt_learn_tell(&l, "it takes %s", out->words);
        if (*out->untried)
            dt_learn_tell(&l, "not tried, and so not used: %s", out->untried);
    } else {
        g_propagate_error(error, g_steal_pointer(&l.error));
        dt_learnt_clear(out);
    }
    dt_learner_clear(&l);
    return good;
}

void dt_learnt_clear(DtLearnt *l)
{
    char *const strings[] = {l->greeting, l->accept,  l->refuse,      l->notices,
                             l->words,    l->untried, l->program_end, l->refused};
    for (size_t i = 0; i < G_N_ELEMENTS(strings); i++)
        g_free(strings[i]);
    memset(l, 0, sizeof *l);
}
