/* messages: the language of messages. */
#include "drawtrue/messages.h"

#include <locale.h>
#include <string.h>

/* gettext looks for no catalogue in the locale "C"; in every other locale it follows LANGUAGE
 * first. This locale is part of the C library, so that none needs to be generated for a language
 * to be used. */
static const char *const neutral = "C.UTF-8";

static const char *asked_locale(void)
{
    static const char *const variables[] = {"LC_ALL", "LC_MESSAGES", "LANG"};
    for (gsize i = 0; i < G_N_ELEMENTS(variables); i++) {
        const char *value = g_getenv(variables[i]);
        if (value != NULL && *value != '\0')
            return value;
    }
    return "C";
}

static char *asked_languages(void)
{
    const char *locale = asked_locale();
    if (strcmp(locale, "C") == 0 || strcmp(locale, "POSIX") == 0)
        return g_strdup("en");
    const char *const *names = g_get_language_names_with_category("LC_MESSAGES");
    return g_strjoinv(":", (char **)names);
}

void dt_messages_begin(void)
{
    g_autofree char *languages = asked_languages();
    const char *folder = g_getenv("TEXTDOMAINDIR");
    setlocale(LC_CTYPE, ""); /* never LC_NUMERIC: programs and profiles need a point */
    setlocale(LC_MESSAGES, neutral);
    bindtextdomain(GETTEXT_PACKAGE, folder != NULL && *folder != '\0' ? folder : DT_LOCALEDIR);
    bind_textdomain_codeset(GETTEXT_PACKAGE, "UTF-8");
    dt_messages_choose(languages);
}

/* The C library's counter of changes: invalidates what it found earlier. */
extern int _nl_msg_cat_cntr; /* NOLINT(bugprone-reserved-identifier) */

/* As the gettext manual describes a change of language at run time. The variable exists since
 * dt_messages_begin(), and the C library keeps its earlier values, so a simultaneous look-up
 * finds one language or the other. */
void dt_messages_choose(const char *languages)
{
    if (g_strcmp0(g_getenv("LANGUAGE"), languages) == 0)
        return;
    g_setenv("LANGUAGE", languages, TRUE);
    _nl_msg_cat_cntr++;
}

const char *dt_messages_find(const char *text)
{
    return *text != '\0' ? _(text) : text; /* the empty text is the header of the catalogue */
}

char *dt_messages_find_lines(const char *text)
{
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (char **line = lines; *line != NULL; line++) {
        char *found = g_strdup(dt_messages_find(*line));
        g_free(*line);
        *line = found;
    }
    return g_strjoinv("\n", lines);
}
