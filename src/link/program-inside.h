/* program-inside: what the files of `program` share. Private to link. */
#pragma once

#include "link/program.h"

#include <stdio.h>
#include <sys/stat.h>

struct DtProgram {
    const DtProfile *profile;
    char *path;
    FILE *file;
    size_t number;       /* of the line read last */
    goffset next_offset; /* of the line after it */
    DtTrack track;
    char down[DT_PROGRAM_LONGEST + 1], up[DT_PROGRAM_LONGEST + 1]; /* the pen's lines, squeezed */
    gboolean by_word;    /* the pen's lines differ in their first word already */
    GHashTable *words;   /* what the dialect takes */
    double dwell_unit_s; /* what the P of a dwell counts */
    DtMoves stretch;     /* motions since the last full stop, from where that was */
    DtPoint stopped_at;
    double stopped_s; /* estimated time up to that stop */
    DtCost cost;
    DtBox reach; /* of the motion read last, commanded mm */
    char made_for[128];
    char sha256[65];  /* of the file as it was checked; "" before that */
    struct stat seen; /* and its size and time then */
    DtProgramWatch watch;
    void *watch_user;
};

typedef struct {
    char letter;
    double value;
} Word;

enum { MOST_WORDS = 64 };

typedef struct {
    Word word[MOST_WORDS];
    size_t n;
    char comment[128]; /* the last one of the line */
} Words;

/* program.c ----------------------------------------------------------------------------------- */

/* Sets "file:line: message" and returns FALSE. */
gboolean dt_program_fail(const DtProgram *g, GError **error, const char *format, ...)
    G_GNUC_PRINTF(3, 4);
void dt_program_rewind(DtProgram *g);
gboolean dt_program_same_first_word(const char *a, const char *b);
/* Of the whole file, wherever it is read just now. */
gboolean dt_program_hash(DtProgram *g, char sha256[65], GError **error);
gboolean dt_program_read_line(DtProgram *g, DtProgramLine *line, Words *words, GError **error);

/* program-track.c: what a line does ------------------------------------------------------------ */

void dt_program_start_stretch(DtProgram *g);
void dt_program_end_stretch(DtProgram *g);
/* Sets the line's kind and what it takes, and follows it. */
void dt_program_take_line(DtProgram *g, const Words *w, DtProgramLine *line);
