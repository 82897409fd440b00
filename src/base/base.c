/* base: errors, whole-file reading and writing, durations and word distance. */
#include "drawtrue/base.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

GQuark dt_error_quark(void)
{
    return g_quark_from_static_string("drawtrue-error");
}

static int open_regular(const char *path, struct stat *st, GError **error)
{
    int fd = g_open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK, 0);
    if (fd < 0) {
        g_set_error(error, DT_ERROR, errno == ENOENT ? DT_ERROR_INPUT : DT_ERROR_IO, "%s: %s", path,
                    g_strerror(errno));
        return -1;
    }
    if (fstat(fd, st) != 0 || !S_ISREG(st->st_mode)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: not a regular file", path);
        close(fd);
        return -1;
    }
    return fd;
}

char *dt_base_read_file(const char *path, gsize limit, gsize *len, GError **error)
{
    struct stat st;
    int fd = open_regular(path, &st, error);
    if (fd < 0)
        return NULL;
    if ((guint64)st.st_size > limit) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: %" G_GINT64_FORMAT " bytes are more than the limit of %" G_GSIZE_FORMAT,
                    path, (gint64)st.st_size, limit);
        close(fd);
        return NULL;
    }
    gsize size = (gsize)st.st_size, got = 0;
    char *text = g_malloc(size + 1);
    while (got < size) {
        ssize_t n = read(fd, text + got, size - got);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0) {
            g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", path, g_strerror(errno));
            g_free(text);
            close(fd);
            return NULL;
        }
        if (n == 0)
            break;
        got += (gsize)n;
    }
    close(fd);
    text[got] = '\0';
    if (len)
        *len = got;
    return text;
}

static gboolean write_all(int fd, const char *text, gsize len)
{
    for (gsize done = 0; done < len;) {
        ssize_t n = write(fd, text + done, len - done);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return FALSE;
        done += (gsize)n;
    }
    return TRUE;
}

static gboolean fail_write(const char *path, int code, GError **error)
{
    g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", path, g_strerror(code));
    return FALSE;
}

/* A device or a pipe: it must not be renamed over. */
static gboolean write_into(const char *path, const char *text, gsize len, GError **error)
{
    int fd = g_open(path, O_WRONLY | O_CLOEXEC | O_NOCTTY, 0);
    if (fd < 0)
        return fail_write(path, errno, error);
    gboolean good = write_all(fd, text, len);
    int failure = errno;
    if (close(fd) != 0 && good) {
        failure = errno;
        good = FALSE;
    }
    return good || fail_write(path, failure, error);
}

/* Through a temporary file beside it, with the rights of the file that it replaces. */
static gboolean write_over(const char *path, const char *real, const struct stat *old,
                           const char *text, gsize len, GError **error)
{
    g_autofree char *temporary = g_strdup_printf("%s.XXXXXX", real);
    int fd = g_mkstemp_full(temporary, O_RDWR | O_CLOEXEC, 0666);
    if (fd < 0)
        return fail_write(path, errno, error);
    gboolean good = (old == NULL || fchmod(fd, old->st_mode & 0777) == 0) &&
                    write_all(fd, text, len) && fsync(fd) == 0;
    int failure = errno;
    if (close(fd) != 0 && good) {
        failure = errno;
        good = FALSE;
    }
    if (good && g_rename(temporary, real) != 0) {
        failure = errno;
        good = FALSE;
    }
    if (!good)
        g_unlink(temporary);
    return good || fail_write(path, failure, error);
}

gboolean dt_base_write_file(const char *path, const char *text, gsize len, GError **error)
{
    struct stat st;
    const gboolean exists = stat(path, &st) == 0;
    if (exists && S_ISDIR(st.st_mode))
        return fail_write(path, EISDIR, error);
    if (exists && !S_ISREG(st.st_mode))
        return write_into(path, text, len, error);
    g_autofree char *target = exists ? realpath(path, NULL) : NULL; /* a link stays a link */
    return write_over(path, target ? target : path, exists ? &st : NULL, text, len, error);
}

unsigned dt_base_edit_distance(const char *a, const char *b)
{
    gsize na = strlen(a), nb = strlen(b);
    g_autofree unsigned *row = g_new(unsigned, nb + 1);
    for (gsize j = 0; j <= nb; j++)
        row[j] = (unsigned)j;
    for (gsize i = 1; i <= na; i++) {
        unsigned diagonal = row[0];
        row[0] = (unsigned)i;
        for (gsize j = 1; j <= nb; j++) {
            unsigned replace = diagonal + (a[i - 1] != b[j - 1]);
            diagonal = row[j];
            row[j] = MIN(MIN(row[j], row[j - 1]) + 1, replace);
        }
    }
    return row[nb];
}

char *dt_base_duration(double seconds)
{
    if (seconds < 59.95)
        return g_strdup_printf("%.1f s", seconds);
    long whole = lround(seconds);
    if (whole < 3600)
        return g_strdup_printf("%ld min %02ld s", whole / 60, whole % 60);
    return g_strdup_printf("%ld h %02ld min", whole / 3600, whole / 60 % 60);
}
