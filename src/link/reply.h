/* reply: which line a message from the controller answers. One rule for learning and running.
 * Private to link. */
#pragma once

#include <glib.h>

typedef enum { DT_REPLY_OTHER, DT_REPLY_ACCEPT, DT_REPLY_REFUSE } DtReply;

/* A reply begins with the prefix; if that ends in a letter, no other letter follows it. If both
 * fit the longer one is meant. Either prefix may be NULL or "": none. */
DtReply dt_reply_of(const char *accept, const char *refuse, const char *text);

/* Whether it begins with one of the prefixes in `notices`, separated by commas: the board sends
 * it unasked, and it answers nothing. */
gboolean dt_reply_is_notice(const char *notices, const char *text);

/* `text` after an echo of the line that was sent, whose line end does not count: "" if it is
 * only the echo, with or without a prompt such as "> " before it, or only the prompt; `text`
 * itself if there is none. */
const char *dt_reply_past_echo(const char *text, const char *line);

/* The number after the first `skip` bytes of a reply, at most `most`; FALSE if there is not
 * exactly a number. */
gboolean dt_reply_number(const char *text, gsize skip, unsigned most, unsigned *n,
                         const char **rest);
