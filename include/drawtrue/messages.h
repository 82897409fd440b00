/* messages: texts for people in the reader's language, by gettext (po/README.md). English is what the sources have
 * and what a language without a translation falls back to; numbers, programs, profile keys, the journal
 * and JSON are the same in every language.
 *
 * _("text") is looked up at once; N_("text") marks the text of a table, which is looked up where it is
 * shown; P_() where a count decides. Functions of ours that take a format look it up themselves
 * (tools/messages.py lists them), as do GLib's for errors below, so that their calls carry no mark. */
#pragma once

#define GETTEXT_PACKAGE "drawtrue" /* the name of the catalogue, which gi18n-lib.h asks for */

#include <glib.h>
#include <glib/gi18n-lib.h>
#include <inttypes.h>

/* "%zu file" or "%zu files", in a language with as many forms as it has. */
#define P_(one, many, n) g_dngettext(GETTEXT_PACKAGE, (one), (many), (gulong)(n))

#define g_set_error(error, domain, code, format, ...)                                              \
    (g_set_error)((error), (domain), (code), _(format), ##__VA_ARGS__)
#define g_set_error_literal(error, domain, code, message)                                          \
    (g_set_error_literal)((error), (domain), (code), dt_messages_find(message))
#define g_prefix_error(error, format, ...) (g_prefix_error)((error), _(format), ##__VA_ARGS__)

/* The program's language, from the environment as gettext has it: LANGUAGE, LC_ALL, LC_MESSAGES, LANG, where
 * LANGUAGE counts in every locale but "C". The system need not have generated that locale. To be called once,
 * before there are threads. */
void dt_messages_begin(void);

/* Another language for what is said from now on: a list with colons, as LANGUAGE has it; "en" for what the
 * sources have. For one thread; others may look up words meanwhile. */
void dt_messages_choose(const char *languages);

/* The same for each line of a text that was put together from several. Freed by the caller. */
char *dt_messages_find_lines(const char *text);

/* The translation of a text, which may be empty; the text itself where there is none. Not freed. */
const char *dt_messages_find(const char *text);
