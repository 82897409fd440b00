/* lines: lines of a file or a text, one at a time, in constant memory. Private. */
#pragma once

#include "drawtrue/base.h"

enum { DT_LONGEST_LINE = 1 << 16 }; /* bytes; what is longer is counted, not kept */

typedef struct {
    const char *bytes; /* those in the buffer, from `at` to `end` */
    size_t at, end;
    char *buffer;                /* of the file, or the last line of a text; NULL otherwise */
    int fd;                      /* -1: a text */
    int failure;                 /* errno of a failed read; 0: none */
    gboolean begun, ended, mark; /* ended: everything has been read; mark: a byte order mark was
                                  * skipped */
} DtLineSource;

/* FALSE with DT_ERROR_INPUT or DT_ERROR_IO; to be closed only after success. */
gboolean dt_source_open(DtLineSource *l, const char *path, GError **error);
/* The text must outlive the lines. */
void dt_source_open_text(DtLineSource *l, const char *text, gsize len);
/* The next line, without the carriage returns before its end; text[len] is "\n" or the start of
 * "\r\n". Valid until the next call. *text is NULL if the line is too long. FALSE at the end, or
 * if `failure` is set. */
gboolean dt_source_next(DtLineSource *l, const char **text, size_t *len);
/* Puts the line read last back, unless it was too long. */
void dt_source_unread(DtLineSource *l, const char *text);
/* Back to the first line of a file. */
void dt_source_rewind(DtLineSource *l);
void dt_source_close(DtLineSource *l);
