/* reply: what a line from the controller answers. One rule for learning and for running. Private to
 * link. */
#pragma once

#include <glib.h>

typedef enum { DT_REPLY_OTHER, DT_REPLY_ACCEPT, DT_REPLY_REFUSE } DtReply;

/* A reply begins with the prefix; where that ends in a letter, no other letter follows it. Of two that
 * fit the longer one is meant. Either prefix may be NULL or "": none. */
DtReply dt_reply_of(const char *accept, const char *refuse, const char *text);
