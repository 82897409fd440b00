/* language: in which language a page is answered. */
#pragma once

#include <glib.h>

/* The languages that a request asks for, as dt_messages_choose() takes them: that of its cookie "language", or
 * those of its header Accept-Language (RFC 9110 12.5.4), which browsers send in the order of their weight. Either
 * may be NULL. NULL where it asks for none that could be one; freed by the caller. */
char *dt_desk_asked_languages(const char *cookie, const char *accepted);
