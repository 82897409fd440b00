/* language: the language of a page. */
#pragma once

#include <glib.h>

/* The languages that a request asks for, in the form that dt_messages_choose() takes: that of
 * its cookie "language", or those of its header Accept-Language (RFC 9110 12.5.4), which
 * browsers send in order of preference. Either may be NULL. NULL if none is valid; freed by the
 * caller. */
char *dt_desk_asked_languages(const char *cookie, const char *accepted);
