/* program: what the files of the program index share. Private. */
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
    DtProgramLine stop; /* behind the words of the line read last, where has_stop */
    gboolean has_stop;
    gboolean homes, moves, refused; /* the line at hand */
    double work_s;                  /* of the line at hand */
    gboolean sets_parameters;       /* some line so far */
    char made_for[128];
    char sha256[65];  /* of the file as it was checked; "" before that */
    struct stat seen; /* and its size and time then */
    DtProgramWatch watch;
    void *watch_user;
};

/* Sets "file:line: message" and returns FALSE. */
gboolean dt_program_fail(const DtProgram *g, GError **error, size_t line, const char *format, ...)
    G_GNUC_PRINTF(4, 5);
/* To the first line, as if it had just been opened. */
gboolean dt_program_rewind(DtProgram *g, GError **error);
/* From here on the file is held to be as it is now. */
gboolean dt_program_remember_file(DtProgram *g, GError **error);

/* The block as it goes to the controller, the word of index `without` left out (-1: none); returns its
 * length, 0 for a block that says nothing to it. */
gsize dt_program_write_wire(const DtProgram *g, const DtCodeBlock *b, int without, char *to,
                            gsize room);
