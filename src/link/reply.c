/* reply: prefixes of replies. */
#include "link/reply.h"

#include <string.h>

/* The length of the prefix if the text begins with it, otherwise 0. */
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

gboolean dt_reply_is_notice(const char *notices, const char *text)
{
    if (notices == NULL || *notices == '\0')
        return FALSE;
    g_auto(GStrv) prefixes = g_strsplit(notices, ",", -1);
    gboolean found = FALSE;
    for (char **p = prefixes; *p != NULL && !found; p++)
        found = match(g_strstrip(*p), text) > 0;
    return found;
}

const char *dt_reply_past_echo(const char *text, const char *line)
{
    line += strspn(line, " ");
    const gsize n = strcspn(line, "\r\n");
    const char *c = text + strspn(text, ">$#:*? ");
    if (*c == '\0') /* a prompt, or the echo of an empty line */
        return c;
    if (n == 0 || strncmp(c, line, n) != 0)
        return text;
    c += n;
    if (*c != '\0' && *c != ' ') /* only the same at its beginning */
        return text;
    return c + strspn(c, " ");
}

gboolean dt_reply_number(const char *text, gsize skip, unsigned most, unsigned *n,
                         const char **rest)
{
    const char *c = text + skip;
    while (*c == ' ')
        c++;
    char *end;
    const guint64 value = g_ascii_isdigit(*c) ? g_ascii_strtoull(c, &end, 10) : 0;
    if (!g_ascii_isdigit(*c) || (*end != '\0' && *end != ' ') || value > most)
        return FALSE;
    *n = (unsigned)value;
    *rest = end + strspn(end, " ");
    return TRUE;
}
