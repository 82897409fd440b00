/* base: the error domain, exit codes and file functions that every room shares. */
#pragma once

#include "drawtrue/messages.h"

#include <glib.h>

/* Every failure is a GError of this domain. Its code is the program's exit code, so that a
 * message and its exit code always agree. */
#define DT_ERROR dt_error_quark()

typedef enum {
    DT_ERROR_INPUT = 1, /* the input or the machine has a problem that the message names */
    DT_ERROR_USAGE = 2, /* the command line is wrong */
    DT_ERROR_IO = 3,    /* the system failed: disk, memory, port */
} DtErrorCode;

GQuark dt_error_quark(void);

/* Reads a whole file of at most `limit` bytes into memory. The result is NUL-terminated (the NUL
 * is not counted in *len); free with g_free(). Fails with DT_ERROR_INPUT if the file is missing,
 * is not a regular file or is larger than the limit, with DT_ERROR_IO if it cannot be read. */
char *dt_base_read_file(const char *path, gsize limit, gsize *len, GError **error);

/* Opens a regular file for reading without blocking: pipes, devices and folders fail at once
 * with DT_ERROR_INPUT. The caller closes the descriptor. -1 with *error set on failure. */
int dt_base_open_file(const char *path, GError **error);

typedef enum {
    DT_FILE_PROGRAM, /* begins with our comment */
    DT_FILE_PICTURE, /* PNG, SVG, PDF or JPEG that names drawtrue as its writer */
    DT_FILE_INK,     /* the ink record of the virtual machine */
    DT_FILE_TRACE,   /* the log of the virtual machine */
    DT_FILE_PROFILE, /* people write these too: never replaced */
} DtFileKind;

/* Whether a command may write a file of this kind there; asked before any work is done. It may
 * not if the file is one of `inputs` (NULL-terminated; may be NULL) under any name
 * (DT_ERROR_USAGE), or holds something that this program did not write as this kind, unless
 * `force` is set (DT_ERROR_INPUT). A folder, or a file in a folder that does not exist, is
 * DT_ERROR_IO. An empty file, a pipe or a device may be written. */
gboolean dt_base_check_output(const char *path, DtFileKind kind, const char *const *inputs,
                              gboolean force, GError **error);

/* Puts our name into the metadata field of a PNG or SVG picture that names its writer. */
void dt_base_sign_picture(GByteArray *bytes);

/* Writes a file whole or not at all: into a temporary file beside it, which is then renamed over
 * it and gets its permissions. Links are followed; devices and pipes are written to directly.
 * DT_ERROR_IO on failure. */
gboolean dt_base_write_file(const char *path, const char *text, gsize len, GError **error);

/* Text made safe for a terminal: control characters and invalid UTF-8 are shown as "\\x1b",
 * "\\u009b". `len` bytes, or up to the NUL if negative. Freed by the caller. */
char *dt_base_show_text(const char *text, gssize len);

/* Text as it is written in a program's comments, in characters that every controller accepts:
 * letters beyond ASCII in their usual transliteration, or as "U+65E5" if they have none; no
 * brackets, semicolons or line ends. Convert text in this way before comparing it with a
 * comment. Freed by the caller. */
char *dt_base_comment_text(const char *text);

/* Text for a terminal in several lines, which end in "\n" and, unless `width` is 0, are broken
 * between words so that none has more columns; a longer word stays whole. Freed by the caller. */
char *dt_base_lay_out(const char *text, unsigned width);

/* Text padded with blanks to this many terminal columns, for a table. Freed by the caller. */
char *dt_base_column(const char *text, unsigned columns);

/* The smallest number of single-letter edits (insert, delete, replace) between two words (Wagner
 * and Fischer 1974), for "did you mean". */
unsigned dt_base_edit_distance(const char *a, const char *b);

/* "1 h 02 min", "3 min 20 s", "12.4 s". Freed by the caller. */
char *dt_base_duration(double seconds);
