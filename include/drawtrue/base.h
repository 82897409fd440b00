/* base: the error domain, exit codes and files that every room shares. */
#pragma once

#include "drawtrue/messages.h"

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

/* A file opened for reading, at once: pipes, devices and folders are DT_ERROR_INPUT. The caller closes
 * it. -1 with *error set where it fails. */
int dt_base_open_file(const char *path, GError **error);

typedef enum {
    DT_FILE_PROGRAM, /* begins with our comment */
    DT_FILE_PICTURE, /* PNG, SVG, PDF or JPEG that names us as its writer */
    DT_FILE_INK,     /* the virtual machine's record of ink */
    DT_FILE_TRACE,   /* the virtual machine's log */
    DT_FILE_PROFILE, /* written by people as well: none is replaced */
} DtFileKind;

/* Whether a command may write a file of this kind there, asked before it works. It may not where the
 * file is one of `inputs` (up to NULL; may be NULL) by any name, which DT_ERROR_USAGE says, or holds
 * something that this program did not write as this kind, unless `force` is set (DT_ERROR_INPUT). A
 * folder, or a file in no folder, is DT_ERROR_IO. What is empty, a pipe or a device may be written. */
gboolean dt_base_check_output(const char *path, DtFileKind kind, const char *const *inputs,
                              gboolean force, GError **error);

/* Puts our name where a PNG or SVG picture has a place for its writer's. */
void dt_base_sign_picture(GByteArray *bytes);

/* Writes a file whole or not at all: into a temporary file beside it, then renamed over it, with the
 * rights that it had. Links are followed; devices and pipes are written into. DT_ERROR_IO where that
 * fails. */
gboolean dt_base_write_file(const char *path, const char *text, gsize len, GError **error);

/* Text for a terminal: what a terminal would obey, and what is no UTF-8, as "\\x1b", "\\u009b". `len`
 * bytes, or up to its NUL where that is negative. Freed by the caller. */
char *dt_base_show_text(const char *text, gssize len);

/* Text as the comments of a program have it, for every controller to take: letters beyond ASCII in their
 * usual spelling, or as "U+65E5" where they have none; no brackets, semicolons or line ends. What is
 * compared with a comment is spelled so first. Freed by the caller. */
char *dt_base_comment_text(const char *text);

/* Text for a terminal in several lines, which end in "\n" and, where `width` is not 0, are broken between words
 * so that none has more columns than that; a word that is longer stays whole. Freed by the caller. */
char *dt_base_lay_out(const char *text, unsigned width);

/* A text padded with blanks to this many columns of a terminal, for a table. Freed by the caller. */
char *dt_base_column(const char *text, unsigned columns);

/* The smallest number of single-letter edits (insert, delete, replace) between two words, for "did
 * you mean". Wagner and Fischer 1974. */
unsigned dt_base_edit_distance(const char *a, const char *b);

/* "1 h 02 min", "3 min 20 s", "12.4 s". Freed by the caller. */
char *dt_base_duration(double seconds);
