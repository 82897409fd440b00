/* reply: prefixes of replies. */
#include "link/reply.h"

#include <string.h>

/* The prefix' length where the text begins with it, 0 otherwise. */
static gsize match(const char *prefix, const char *text)
{
    const gsize n = prefix != NULL ? strlen(prefix) : 0;
    if (n == 0 || strncmp(text, prefix, n) != 0)
        return 0;
    return g_ascii_isalpha(prefix[n - 1]) && g_ascii_isalpha(text[n]) ? 0 : n;
}

DtReply dt_reply_of(const char *accept, const char *refuse, const char *text)
{
    const gsize accepts = match(accept, text), refuses = match(refuse, text);
    if (accepts == 0 && refuses == 0)
        return DT_REPLY_OTHER;
    return accepts > refuses ? DT_REPLY_ACCEPT : DT_REPLY_REFUSE;
}
