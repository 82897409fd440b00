/* base: the error domain, exit codes and files that every room shares. */
#pragma once

#include <glib.h>

/* Every failure is a GError of this domain. Its code is the program's exit code, so that a
 * message and its exit code cannot drift apart. */
#define DT_ERROR dt_error_quark()

typedef enum {
    DT_ERROR_INPUT = 1, /* the input or the machine has a problem that the message names */
    DT_ERROR_USAGE = 2, /* the command line is wrong */
    DT_ERROR_IO = 3,    /* the system failed us: disk, memory, port */
} DtErrorCode;

GQuark dt_error_quark(void);

/* Reads a whole file of at most `limit` bytes into memory. The result is NUL-terminated (the NUL
 * is not counted in *len) and is freed by the caller with g_free(). Fails with DT_ERROR_INPUT where
 * the file is missing, is not a regular file or is larger than the limit, DT_ERROR_IO where it
 * cannot be read. */
char *dt_base_read_file(const char *path, gsize limit, gsize *len, GError **error);

/* Writes a file whole or not at all: into a temporary file beside it, then renamed over it, with the
 * rights that it had. Links are followed; devices and pipes are written into. DT_ERROR_IO where that
 * fails. */
gboolean dt_base_write_file(const char *path, const char *text, gsize len, GError **error);

/* The smallest number of single-letter edits (insert, delete, replace) between two words, for "did
 * you mean". Wagner and Fischer 1974. */
unsigned dt_base_edit_distance(const char *a, const char *b);

/* "1 h 02 min", "3 min 20 s", "12.4 s". Freed by the caller. */
char *dt_base_duration(double seconds);
