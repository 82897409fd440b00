/* program: shared by the files of the program index. Private. */
#pragma once

#include "code/judge/judge.h"
#include "drawtrue/program.h"

#include <sys/stat.h>

struct DtProgram {
    const DtProfile *profile;
    char *path;
    DtLineSource lines;
    DtJudge judge;
    DtInspection found;
    DtProgramState state;
    DtProgramLine stop; /* after the words of the line read last, if has_stop */
    gboolean has_stop;
    gboolean homes, moves, refused;                     /* the current line */
    double work_s;                                      /* of the current line */
    gboolean sets_parameters;                           /* some line so far */
    gboolean tries_limits;                              /* dt_program_let_try_limits() */
    char made_for[sizeof((DtInspection *)0)->made_for]; /* as it was checked */
    char sha256[65];  /* of the file as it was checked; "" before that */
    struct stat seen; /* and its size and time then */
    DtProgramWatch watch;
    void *watch_user;
};

/* Sets "file:line: message" and returns FALSE. */
gboolean dt_program_fail(const DtProgram *g, GError **error, size_t line, const char *format, ...)
    G_GNUC_PRINTF(4, 5);
/* Back to the first line, as if it had just been opened. */
gboolean dt_program_rewind(DtProgram *g, GError **error);
/* From here on the file must stay as it is now. */
gboolean dt_program_remember_file(DtProgram *g, GError **error);

/* The block as sent to the controller, without the word of index `without` (-1: none left out);
 * returns its length, 0 for a block that sends nothing. */
gsize dt_program_write_wire(const DtProgram *g, const DtCodeBlock *b, int without, char *to,
                            gsize room);
