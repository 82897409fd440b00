/* lines: splits a file or a text into lines, in constant memory. */
#include "code/read/lines.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

enum { CHUNK = 1 << 18 };

gboolean dt_source_open(DtLineSource *l, const char *path, GError **error)
{
    const int fd = dt_base_open_file(path, error);
    if (fd < 0)
        return FALSE;
    *l = (DtLineSource){.fd = fd, .buffer = g_malloc(CHUNK + 1)};
    l->bytes = l->buffer;
    return TRUE;
}

void dt_source_open_text(DtLineSource *l, const char *text, gsize len)
{
    *l = (DtLineSource){.fd = -1, .bytes = text, .end = len, .ended = TRUE};
}

void dt_source_rewind(DtLineSource *l)
{
    l->at = l->end = 0;
    l->failure = lseek(l->fd, 0, SEEK_SET) < 0 ? errno : 0;
    l->begun = l->ended = FALSE;
}

void dt_source_close(DtLineSource *l)
{
    if (l->fd >= 0)
        close(l->fd);
    g_clear_pointer(&l->buffer, g_free);
}

/* Reads more bytes of the file after those in the buffer; FALSE at its end. */
static gboolean fill(DtLineSource *l)
{
    if (l->ended)
        return FALSE;
    memmove(l->buffer, l->buffer + l->at, l->end - l->at);
    l->end -= l->at;
    l->at = 0;
    gssize n;
    do
        n = read(l->fd, l->buffer + l->end, CHUNK - l->end);
    while (n < 0 && errno == EINTR);
    l->failure = n < 0 ? errno : 0;
    l->ended = n <= 0;
    l->end += n > 0 ? (size_t)n : 0;
    return n > 0;
}

static void skip_mark(DtLineSource *l)
{
    while (l->end < 3 && fill(l))
        ;
    l->begun = TRUE;
    l->mark = l->end >= 3 && memcmp(l->bytes, "\xEF\xBB\xBF", 3) == 0;
    l->at = l->mark ? 3 : 0;
}

/* The last line lacks its newline: puts one there. */
static void end_last_line(DtLineSource *l)
{
    if (l->fd < 0) {
        const size_t n = l->end - l->at;
        l->buffer = g_malloc(n + 1);
        memcpy(l->buffer, l->bytes + l->at, n);
        l->bytes = l->buffer;
        l->at = 0;
        l->end = n;
    }
    l->buffer[l->end++] = '\n';
}

gboolean dt_source_next(DtLineSource *l, const char **text, size_t *len)
{
    size_t skipped = 0, seen = 0; /* bytes of this line: discarded so far; in the buffer, without
                                   * a newline */
    if (!l->begun)
        skip_mark(l);
    for (;;) {
        const char *from = l->bytes + l->at;
        const char *newline =
            l->end > l->at + seen ? memchr(from + seen, '\n', l->end - l->at - seen) : NULL;
        if (newline != NULL) {
            size_t size = (size_t)(newline - from);
            l->at += size + 1;
            *text = skipped + size > DT_LONGEST_LINE ? NULL : from;
            *len = skipped + size;
            while (*text != NULL && *len > 0 && from[*len - 1] == '\r')
                --*len; /* which some editors leave there */
            return TRUE;
        }
        seen = l->end - l->at;
        if (l->fd >= 0 && seen == CHUNK) {
            skipped += seen;
            seen = l->at = l->end = 0;
        }
        if (fill(l))
            continue;
        if (l->failure != 0 || skipped + seen == 0)
            return FALSE;
        end_last_line(l);
    }
}

void dt_source_unread(DtLineSource *l, const char *text)
{
    l->at = (size_t)(text - l->bytes);
}
