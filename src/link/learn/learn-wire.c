/* learn-wire: lines to the controller and its replies. */
#include "link/learn/learn.h"

#include <string.h>

gboolean dt_learn_send(DtLearner *l, const char *bytes, gsize n)
{
    if (l->error)
        return FALSE;
    const DtWire *wire = &l->options.wire;
    return wire->write(wire->user, bytes, n, &l->error);
}

static gboolean take_line(DtLearner *l, char reply[MOST_REPLY])
{
    char *newline = memchr(l->incoming->str, '\n', l->incoming->len);
    if (newline == NULL)
        return FALSE;
    gsize n = (gsize)(newline - l->incoming->str), kept = MIN(n, MOST_REPLY - 1);
    memcpy(reply, l->incoming->str, kept);
    reply[kept] = '\0';
    g_strchomp(reply);
    g_string_erase(l->incoming, 0, (gssize)n + 1);
    return TRUE;
}

gboolean dt_learn_read_line(DtLearner *l, double wait_s, char reply[MOST_REPLY])
{
    gint64 until = g_get_monotonic_time() + (gint64)(wait_s * 1e6);
    while (!take_line(l, reply)) {
        double left = (double)(until - g_get_monotonic_time()) / 1e6;
        char some[256];
        const DtWire *wire = &l->options.wire;
        if (l->error || left <= 0)
            return FALSE;
        gssize n = wire->read(wire->user, some, sizeof some, left, &l->error);
        if (n < 0)
            return FALSE;
        g_string_append_len(l->incoming, some, n);
        if (l->incoming->len > 65536) /* a stream without line ends is no controller */
            g_string_truncate(l->incoming, 0);
    }
    return TRUE;
}

void dt_learn_drain(DtLearner *l, double quiet_s)
{
    char reply[MOST_REPLY];
    while (dt_learn_read_line(l, quiet_s, reply))
        ;
    g_string_truncate(l->incoming, 0);
}

DtReply dt_learn_ask(DtLearner *l, const char *line, double wait_s, char reply[MOST_REPLY])
{
    g_autofree char *text = g_strconcat(line, "\n", NULL);
    if (!dt_learn_send(l, text, strlen(text)))
        return DT_REPLY_OTHER;
    while (dt_learn_read_line(l, wait_s, reply)) {
        DtReply answer = dt_reply_of(l->out->accept, l->out->refuse, reply);
        if (answer != DT_REPLY_OTHER)
            return answer;
    }
    return DT_REPLY_OTHER;
}

DtReply dt_learn_try_for(DtLearner *l, const char *line, double wait_s)
{
    char reply[MOST_REPLY];
    return dt_learn_ask(l, line, wait_s, reply);
}

DtReply dt_learn_try(DtLearner *l, const char *line)
{
    return dt_learn_try_for(l, line, l->wait_s);
}

void dt_learn_tell(DtLearner *l, const char *format, ...)
{
    if (l->options.tell == NULL)
        return;
    va_list args;
    va_start(args, format);
    g_autofree char *text = g_strdup_vprintf(format, args);
    va_end(args);
    l->options.tell(text, l->options.user);
}
