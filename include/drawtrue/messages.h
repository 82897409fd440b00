/* messages: texts for people in the reader's language, by gettext (po/README.md). English is the
 * language of the sources and the fallback for missing translations; numbers, programs, profile
 * keys, the journal and JSON are the same in every language.
 *
 * _("text") is looked up at once. N_("text") marks the text of a table, which is looked up when
 * it is shown. P_() chooses by a count. Our functions that take a format look it up themselves
 * (tools/messages.py lists them), as do GLib's functions for errors below, so their calls are
 * not marked. */
#pragma once

#define GETTEXT_PACKAGE "drawtrue" /* name of the catalogue, required by gi18n-lib.h */

#include <glib.h>
#include <glib/gi18n-lib.h>
#include <inttypes.h>

/* "%zu file" or "%zu files", in as many plural forms as the language has. */
#define P_(one, many, n) g_dngettext(GETTEXT_PACKAGE, (one), (many), (gulong)(n))

#define g_set_error(error, domain, code, format, ...)                                              \
    (g_set_error)((error), (domain), (code), _(format), ##__VA_ARGS__)
#define g_set_error_literal(error, domain, code, message)                                          \
    (g_set_error_literal)((error), (domain), (code), dt_messages_find(message))
#define g_prefix_error(error, format, ...) (g_prefix_error)((error), _(format), ##__VA_ARGS__)

/* The program's language, from the environment as for gettext: LANGUAGE, LC_ALL, LC_MESSAGES,
 * LANG, where LANGUAGE counts in every locale except "C". The system need not have generated
 * that locale. To be called once, before threads are created. */
void dt_messages_begin(void);

/* Changes the language from now on: a list separated by colons, as in LANGUAGE; "en" for that of
 * the sources. To be called from one thread; others may look up texts meanwhile. */
void dt_messages_choose(const char *languages);

/* Translates each line of a text that was put together from several. Freed by the caller. */
char *dt_messages_find_lines(const char *text);

/* The translation of a text, which may be empty, or the text itself if there is none. Not to be
 * freed. */
const char *dt_messages_find(const char *text);
