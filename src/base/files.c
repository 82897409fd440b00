/* files: reads and writes whole files, and decides what may be replaced. */
#include "drawtrue/base.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zlib.h>

/* O_NONBLOCK: opening a named pipe without a writer must not block. */
static int open_regular(const char *path, struct stat *st, GError **error)
{
    int fd = g_open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY, 0);
    if (fd < 0) {
        g_set_error(error, DT_ERROR, errno == ENOENT ? DT_ERROR_INPUT : DT_ERROR_IO, "%s: %s", path,
                    g_strerror(errno));
        return -1;
    }
    if (fstat(fd, st) != 0 || !S_ISREG(st->st_mode)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s, not a regular file", path,
                    S_ISDIR(st->st_mode)                             ? _("a folder")
                    : S_ISFIFO(st->st_mode) || S_ISSOCK(st->st_mode) ? _("a pipe")
                                                                     : _("a device"));
        close(fd);
        return -1;
    }
    return fd;
}

int dt_base_open_file(const char *path, GError **error)
{
    struct stat st;
    return open_regular(path, &st, error);
}

char *dt_base_read_file(const char *path, gsize limit, gsize *len, GError **error)
{
    struct stat st;
    int fd = open_regular(path, &st, error);
    if (fd < 0)
        return NULL;
    if ((guint64)st.st_size > limit) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "%s: %" PRId64 " bytes are more than the limit of %zu", path,
                    (gint64)st.st_size, limit);
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

/* A device or a pipe, which must not be replaced by renaming. */
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

/* Writes through a temporary file beside it, with the permissions of the file that it replaces. */
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

/* A link whose target is missing: the target is created, and written like a file that exists. */
static gboolean write_through_link(const char *path, const char *text, gsize len, GError **error)
{
    struct stat st;
    const int fd = g_open(path, O_WRONLY | O_CREAT | O_CLOEXEC | O_NOCTTY, 0666);
    if (fd < 0)
        return fail_write(path, errno, error);
    close(fd);
    g_autofree char *target = realpath(path, NULL);
    if (!target || stat(target, &st) != 0)
        return fail_write(path, errno, error);
    if (write_over(path, target, &st, text, len, error))
        return TRUE;
    g_unlink(target);
    return FALSE;
}

gboolean dt_base_write_file(const char *path, const char *text, gsize len, GError **error)
{
    struct stat st;
    if (*path == '\0') {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_IO, "a file to write needs a name");
        return FALSE;
    }
    const gboolean exists = stat(path, &st) == 0;
    if (exists && S_ISDIR(st.st_mode))
        return fail_write(path, EISDIR, error);
    if (exists && !S_ISREG(st.st_mode))
        return write_into(path, text, len, error);
    if (!exists && lstat(path, &st) == 0)
        return write_through_link(path, text, len, error);
    g_autofree char *target = exists ? realpath(path, NULL) : NULL; /* a link stays a link */
    return write_over(path, target ? target : path, exists ? &st : NULL, text, len, error);
}

/* What may be replaced ---------------------------------------------------------------------- */

enum { HEAD = 4096 };

/* How a file of each kind that this program wrote begins, and what its first or last bytes
 * contain: a picture names its writer if its format has a field for that. */
static const struct {
    DtFileKind kind;
    const char *start;
    gsize n;
    const char *holds; /* NULL: the beginning is enough */
} marks[] = {
    {DT_FILE_PROGRAM, "(drawtrue ", 10, NULL},
    {DT_FILE_PROGRAM, ";drawtrue ", 10, NULL},
    {DT_FILE_PICTURE, "\x89PNG\r\n\x1a\n", 8, "Software\0drawtrue"},
    {DT_FILE_PICTURE, "<?xml", 5, "<!-- drawtrue -->"},
    {DT_FILE_PICTURE, "%PDF-", 5, "(drawtrue)"},
    {DT_FILE_PICTURE, "\xff\xd8\xff", 3, "drawtrue"},
    {DT_FILE_INK, "{\"unit\": \"mm\",\n\"figures\": {", 27, NULL},
};

static void insert_bytes(GByteArray *to, guint at, const void *bytes, guint n)
{
    g_byte_array_set_size(to, to->len + n);
    memmove(to->data + at + n, to->data + at, to->len - n - at);
    memcpy(to->data + at, bytes, n);
}

/* A tEXt chunk with the registered keyword Software, behind IHDR (PNG, W3C 2003, 5.3 and 11.3.4). */
static void sign_png(GByteArray *bytes)
{
    enum { AFTER_IHDR = 33 };
    guint8 chunk[] = "\0\0\0\x11tEXtSoftware\0drawtrue\0\0\0";
    const guint32 crc = g_htonl((guint32)crc32(0, chunk + 4, 21));
    memcpy(chunk + 25, &crc, sizeof crc);
    insert_bytes(bytes, AFTER_IHDR, chunk, 29);
}

void dt_base_sign_picture(GByteArray *bytes)
{
    static const char comment[] = "<!-- drawtrue -->\n";
    const guint8 *end = memchr(bytes->data, '\n', bytes->len);
    if (bytes->len > 33 && memcmp(bytes->data, "\x89PNG", 4) == 0)
        sign_png(bytes);
    else if (end != NULL && memcmp(bytes->data, "<?xml", 5) == 0)
        insert_bytes(bytes, (guint)(end + 1 - bytes->data), comment, sizeof comment - 1);
}

static gboolean holds(const char *bytes, gsize len, const char *what, gsize n)
{
    for (gsize i = 0; i + n <= len; i++)
        if (memcmp(bytes + i, what, n) == 0)
            return TRUE;
    return FALSE;
}

static gsize read_at(int fd, char *bytes, gsize n, goffset at)
{
    const ssize_t got = pread(fd, bytes, n, at);
    return got > 0 ? (gsize)got : 0;
}

/* Each of its lines is a time, the steps of both motors, a line and its answer. */
static gboolean is_trace(const char *head)
{
    return g_regex_match_simple("^ *\\d+\\.\\d{6} s +\\d+ +\\d+ steps  ", head, G_REGEX_RAW, 0);
}

static gboolean is_ours(const char *path, goffset size, DtFileKind kind)
{
    char head[HEAD + 1], tail[HEAD];
    const int fd = dt_base_open_file(path, NULL);
    if (fd < 0)
        return FALSE;
    const gsize n = read_at(fd, head, HEAD, 0);
    const gsize n_tail = read_at(fd, tail, HEAD, MAX(0, size - HEAD));
    close(fd);
    head[n] = '\0';
    if (kind == DT_FILE_TRACE)
        return is_trace(head);
    for (gsize i = 0; i < G_N_ELEMENTS(marks); i++) {
        const char *what = marks[i].holds;
        const gsize n_what = what == NULL ? 0 : *what == 'S' ? 17 : strlen(what);
        if (marks[i].kind == kind && n >= marks[i].n &&
            memcmp(head, marks[i].start, marks[i].n) == 0 &&
            (what == NULL || holds(head, n, what, n_what) || holds(tail, n_tail, what, n_what)))
            return TRUE;
    }
    return FALSE;
}

static gboolean is_same_file(const struct stat *st, const char *input)
{
    struct stat other;
    return input != NULL && stat(input, &other) == 0 && other.st_dev == st->st_dev &&
           other.st_ino == st->st_ino;
}

static gboolean has_folder(const char *path, GError **error)
{
    g_autofree char *folder = g_path_get_dirname(path);
    struct stat st;
    if (stat(folder, &st) != 0)
        return fail_write(path, errno, error);
    return S_ISDIR(st.st_mode) || fail_write(path, ENOTDIR, error);
}

gboolean dt_base_check_output(const char *path, DtFileKind kind, const char *const *inputs,
                              gboolean force, GError **error)
{
    struct stat st;
    if (*path == '\0') {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "a file to write needs a name");
        return FALSE;
    }
    if (strcmp(path, "-") == 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                    "'-' is not standard output here, which has the report; './-' is a file of "
                    "that name");
        return FALSE;
    }
    if (stat(path, &st) != 0)
        return has_folder(path, error);
    for (; inputs != NULL && *inputs != NULL; inputs++)
        if (is_same_file(&st, *inputs)) {
            g_set_error(error, DT_ERROR, DT_ERROR_USAGE,
                        "%s: this command reads it, and never writes over what it reads", path);
            return FALSE;
        }
    if (S_ISDIR(st.st_mode))
        return fail_write(path, EISDIR, error);
    if (force || !S_ISREG(st.st_mode) || st.st_size == 0 || is_ours(path, st.st_size, kind))
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: already exists, and is not a %s written by drawtrue; name another file, or "
                "replace it with --force",
                path,
                kind == DT_FILE_PICTURE ? _("picture")
                : kind == DT_FILE_TRACE ? _("log")
                : kind == DT_FILE_INK   ? _("record of ink")
                                        : _("program"));
    return FALSE;
}
