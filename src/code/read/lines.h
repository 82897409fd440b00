/* lines: lines out of a file or a text, one at a time, in constant memory. Private. */
#pragma once

#include "drawtrue/base.h"

enum { DT_LONGEST_LINE = 1 << 16 }; /* bytes; what is longer is counted, not kept */

typedef struct {
    const char *bytes; /* those at hand, from `at` to `end` */
    size_t at, end;
    char *buffer;                /* of the file, or the last line of a text; NULL for neither */
    int fd;                      /* -1: a text */
    int failure;                 /* errno of a read that failed; 0 */
    gboolean begun, ended, mark; /* ended: all is read; mark: a byte order mark was skipped */
} DtLineSource;

/* FALSE with DT_ERROR_INPUT or DT_ERROR_IO; to be closed only after success. */
gboolean dt_source_open(DtLineSource *l, const char *path, GError **error);
/* The text must outlive the lines. */
void dt_source_open_text(DtLineSource *l, const char *text, gsize len);
/* The next line, without the carriage returns before its end; "\n" or "\r\n" stands at text[len]. It
 * holds until the next call. *text is NULL where the line is too long. FALSE at the end, or where
 * `failure` is set. */
gboolean dt_source_next(DtLineSource *l, const char **text, size_t *len);
/* Takes the line read last back; not one that was too long. */
void dt_source_unread(DtLineSource *l, const char *text);
/* To the first line of a file. */
void dt_source_rewind(DtLineSource *l);
void dt_source_close(DtLineSource *l);
