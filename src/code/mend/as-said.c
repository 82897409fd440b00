/* as-said: what the user states about a program that the program itself does not: the unit of
 * its lengths, and words that may be left out. */
#include "code/mend/as-said.h"

#include <string.h>

/* A word of a block, without a digit or point right before or after it; outside comments. */
static gboolean has_word(const char *line, gsize len, const char *word)
{
    const gsize n = strlen(word);
    gboolean comment = FALSE;
    for (gsize i = 0; i < len && line[i] != ';'; i++) {
        comment = line[i] == '(' || (comment && line[i] != ')');
        if (comment || i + n > len || g_ascii_strncasecmp(line + i, word, n) != 0)
            continue;
        if (i + n == len || (!g_ascii_isdigit(line[i + n]) && line[i + n] != '.'))
            return TRUE;
    }
    return FALSE;
}

static gboolean says_units(const char *text)
{
    static const char *const words[] = {"G20", "G21", "G70", "G71"};
    gboolean says = FALSE;
    for (gsize i = 0; i < G_N_ELEMENTS(words) && !says; i++)
        for (const char *line = text; *line != '\0' && !says;) {
            const gsize n = strcspn(line, "\n");
            says = has_word(line, n, words[i]);
            line += n + (line[n] != '\0');
        }
    return says;
}

/* The text with G20 inserted before the first word of its first line that has one; line numbers
 * stay the same. */
static char *in_inches(const char *text)
{
    for (const char *line = text; *line != '\0';) {
        const char *first = line + strspn(line, " \t");
        if (*first == 'N' || *first == 'n')
            first += 1 + strspn(first + 1, "0123456789 ");
        if (g_ascii_isalpha(*first))
            return g_strdup_printf("%.*sG20 %s", (int)(first - text), text, first);
        line += strcspn(line, "\n");
        line += *line != '\0';
    }
    return g_strdup(text);
}

static const char *word_to_leave_out(const char *line, gsize len, char **words)
{
    for (char **w = words; *w != NULL; w++)
        if (**w != '\0' && has_word(line, len, *w))
            return *w;
    return NULL;
}

static char *without(const char *text, const char *list, DtFormFunc tell, void *user)
{
    g_autoptr(GString) out = g_string_new(NULL);
    g_auto(GStrv) words = g_strsplit_set(list, ", ", -1);
    size_t number = 0;
    for (const char *line = text; *line != '\0';) {
        const gsize n = strcspn(line, "\n"), whole = n + (line[n] != '\0');
        const char *word = word_to_leave_out(line, n, words);
        number++;
        if (word == NULL) {
            g_string_append_len(out, line, (gssize)whole);
        } else {
            g_autofree char *what =
                g_strdup_printf(_("the line with %s is left out, as you said"), word);
            tell(user, number, what);
            g_string_append(out, "\n");
        }
        line += whole;
    }
    return g_strdup(out->str);
}

char *dt_mend_as_said(const char *text, gsize len, const DtMendOptions *o, const char *name,
                      DtFormFunc tell, void *user, GError **error)
{
    g_autofree char *own = g_strndup(text, len);
    if (o->leave_out != NULL) {
        char *rest = without(own, o->leave_out, tell, user);
        g_free(own);
        own = rest;
    }
    if (o->units == NULL || strcmp(o->units, "mm") == 0)
        return g_steal_pointer(&own);
    if (strcmp(o->units, "in") != 0)
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "units are mm or in, not '%s'", o->units);
    else if (!says_units(own))
        return in_inches(own);
    else
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "%s: the program says the unit of its lengths itself; --units in is for one that "
            "does not",
            name);
    return NULL;
}
