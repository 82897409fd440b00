/* lines: lines out of a file or a text, in constant memory. */
#include "code/read/rs274.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <string.h>
#include <unistd.h>

enum { CHUNK = 1 << 18, LONGEST = 1 << 16 };

/* Bytes of a line without what some editors leave before its end. */
static size_t without_returns(const char *line, size_t len)
{
    while (len > 0 && line[len - 1] == '\r')
        len--;
    return len;
}

/* Gives the whole lines of buf[0..n) to the reader; returns how many bytes they took. */
static size_t feed_lines(DtReader *r, const char *buf, size_t n)
{
    const char *at = buf, *end = buf + n, *newline;
    while (at < end && (newline = memchr(at, '\n', (size_t)(end - at))) != NULL) {
        size_t len = (size_t)(newline - at);
        if (len > LONGEST)
            dt_reader_skip_line(r, len);
        else
            dt_reader_line(r, at, without_returns(at, len));
        at = newline + 1;
    }
    return (size_t)(at - buf);
}

/* The last line, which may lack its newline. */
static void feed_rest(DtReader *r, const char *rest, size_t n)
{
    if (n == 0)
        return;
    if (n > LONGEST) {
        dt_reader_skip_line(r, n);
        return;
    }
    g_autofree char *line = g_malloc(n + 1);
    memcpy(line, rest, n);
    line[n] = '\n';
    feed_lines(r, line, n + 1);
}

static size_t mark_length(const char *text, size_t n)
{
    return n >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
}

void dt_feed_text(DtReader *r, const char *text, gsize len, gboolean *mark)
{
    size_t skip = mark_length(text, len);
    *mark = skip > 0;
    size_t done = skip + feed_lines(r, text + skip, len - skip);
    feed_rest(r, text + done, len - done);
}

static gssize read_some(int fd, char *to, size_t room)
{
    for (;;) {
        gssize n = read(fd, to, room);
        if (n >= 0 || errno != EINTR)
            return n;
    }
}

/* Lines longer than the buffer are counted, not kept: `skipped` is what was thrown away of one. */
static gboolean feed_descriptor(DtReader *r, int fd, gboolean *mark)
{
    g_autofree char *buf = g_malloc(CHUNK + 1);
    size_t held = 0, skipped = 0;
    gboolean first = TRUE;
    for (;;) {
        gssize n = read_some(fd, buf + held, CHUNK - held);
        if (n < 0)
            return FALSE;
        if (n == 0)
            break;
        held += (size_t)n;
        size_t done = 0;
        if (first && held < 3)
            continue;
        if (first) {
            done = mark_length(buf, held);
            *mark = done > 0;
            first = FALSE;
        }
        if (skipped > 0) {
            char *newline = memchr(buf, '\n', held);
            if (newline == NULL) {
                skipped += held;
                held = 0;
                continue;
            }
            done = (size_t)(newline - buf) + 1;
            dt_reader_skip_line(r, skipped + done - 1);
            skipped = 0;
        }
        done += feed_lines(r, buf + done, held - done);
        held -= done;
        memmove(buf, buf + done, held);
        if (held == CHUNK) {
            skipped = held;
            held = 0;
        }
    }
    if (skipped > 0)
        dt_reader_skip_line(r, skipped);
    else
        feed_rest(r, buf, held);
    return TRUE;
}

size_t dt_feed_overlong_line(const char *path, size_t *len)
{
    int fd = g_open(path, O_RDONLY | O_CLOEXEC, 0);
    if (fd < 0)
        return 0;
    g_autofree char *buf = g_malloc(CHUNK);
    size_t line = 1, found = 0;
    gssize n;
    *len = 0; /* of the line so far */
    while (found == 0 && (n = read_some(fd, buf, CHUNK)) > 0) {
        const char *at = buf, *end = buf + n, *newline;
        while (found == 0 && (newline = memchr(at, '\n', (size_t)(end - at))) != NULL) {
            *len += (size_t)(newline - at);
            found = *len > LONGEST ? line : 0;
            *len = found ? *len : 0;
            at = newline + 1;
            line++;
        }
        *len += found ? 0 : (size_t)(end - at);
    }
    close(fd);
    return found ? found : *len > LONGEST ? line : 0;
}

gboolean dt_feed_file(DtReader *r, const char *path, gboolean *mark, GError **error)
{
    *mark = FALSE;
    int fd = g_open(path, O_RDONLY | O_CLOEXEC, 0);
    if (fd < 0) {
        g_set_error(error, DT_ERROR, errno == ENOENT ? DT_ERROR_INPUT : DT_ERROR_IO, "%s: %s", path,
                    g_strerror(errno));
        return FALSE;
    }
    gboolean good = feed_descriptor(r, fd, mark);
    if (!good)
        g_set_error(error, DT_ERROR, errno == EISDIR ? DT_ERROR_INPUT : DT_ERROR_IO, "%s: %s", path,
                    g_strerror(errno));
    close(fd);
    return good;
}
