/* reply: what a line from the controller answers. One rule for learning and for running. Private to
 * link. */
#pragma once

#include <glib.h>

typedef enum { DT_REPLY_OTHER, DT_REPLY_ACCEPT, DT_REPLY_REFUSE } DtReply;

/* A reply begins with the prefix; where that ends in a letter, no other letter follows it. Of two that
 * fit the longer one is meant. Either prefix may be NULL or "": none. */
DtReply dt_reply_of(const char *accept, const char *refuse, const char *text);

/* Whether it begins with one of the prefixes that `notices` lists, separated by commas: the board says
 * it of its own accord, and it answers nothing. */
gboolean dt_reply_is_notice(const char *notices, const char *text);

/* `text` behind an echo of the line that was sent, whose line end does not count: "" where it is the
 * echo alone, a prompt such as "> " before it or not, or the prompt alone; `text` itself where there is none. */
const char *dt_reply_past_echo(const char *text, const char *line);

/* The number behind the first `skip` bytes of a reply, at most `most`; FALSE where none stands there
 * alone. */
gboolean dt_reply_number(const char *text, gsize skip, unsigned most, unsigned *n,
                         const char **rest);
