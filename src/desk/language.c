/* language: see language.h. */
#include "desk/language.h"

#include <string.h>

enum {
    LONGEST = 8,
    MOST = 8
}; /* letters of a language's subtag (RFC 5646 2.1); languages looked at */

/* The language alone of a tag such as "de-AT;q=0.8": in lower case, or NULL if it is invalid. */
static char *language_of(const char *tag)
{
    while (*tag == ' ')
        tag++;
    gsize n = 0;
    while (g_ascii_isalpha(tag[n]))
        n++;
    const gboolean ends = strchr("-; ", tag[n]) != NULL; /* or at its NUL */
    return n >= 2 && n <= LONGEST && ends ? g_ascii_strdown(tag, (gssize)n) : NULL;
}

/* The value of "language" among the pairs of a cookie (RFC 6265 4.2.1). */
static char *language_of_cookie(const char *cookie)
{
    g_auto(GStrv) pairs = g_strsplit(cookie, "; ", 2 * MOST);
    for (char **p = pairs; *p != NULL; p++)
        if (g_str_has_prefix(*p, "language="))
            return language_of(*p + strlen("language="));
    return NULL;
}

char *dt_desk_asked_languages(const char *cookie, const char *accepted)
{
    char *chosen = cookie != NULL ? language_of_cookie(cookie) : NULL;
    if (chosen != NULL)
        return chosen;
    if (accepted == NULL)
        return NULL;
    g_auto(GStrv) tags = g_strsplit(accepted, ",", MOST);
    GString *all = g_string_new(NULL);
    for (char **tag = tags; *tag != NULL; tag++) {
        g_autofree char *language = language_of(*tag);
        if (language == NULL)
            continue;
        g_string_append_printf(all, "%s%s", all->len > 0 ? ":" : "", language);
        if (strcmp(language, "en") == 0) /* which needs no catalogue: later entries do not count */
            break;
    }
    return g_string_free(all, all->len == 0);
}
