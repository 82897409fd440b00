/* program: reads a program file line by line in bounded memory and follows what it does: where the
 * axes are, which way each moved last, which stroke is being drawn. Private to link. */
#pragma once

#include "drawtrue/machine.h"

enum { DT_PROGRAM_LONGEST = 256 }; /* bytes of a line, NISTIR 6556 section 3.3.1 */

typedef enum {
    DT_LINE_BLANK, /* nothing for the controller: empty, comment, percent sign */
    DT_LINE_MOVE,
    DT_LINE_PEN_DOWN,
    DT_LINE_PEN_UP,
    DT_LINE_DWELL,
    DT_LINE_HOME,
    DT_LINE_STOP, /* M0: a person has to do something, as a rule change the pen */
    DT_LINE_OTHER,
} DtLineKind;

/* What the program has done up to a point in it. */
typedef struct {
    DtPoint at;         /* commanded mm */
    int side[2];        /* sign of each axis' last motion; +1 after homing */
    double carriage[2]; /* where the slack lets the carriage stand, commanded mm */
    gboolean pen_down, homed;
    int motion;  /* G number of the modal motion, -1: none yet */
    double feed; /* modal F as written, 0: none yet */
    double unit; /* mm per program unit */
    gboolean relative;
    size_t begun; /* strokes whose pen-down has been read */
    size_t drawn; /* strokes whose pen-up has been read */
    double ink_mm, travel_mm;
    double seconds; /* estimated, pen changes not counted */
    char pen[64];   /* name of the pen in the holder, "" where the program names none */
} DtTrack;

typedef struct {
    size_t number; /* 1-based, in the file */
    DtLineKind kind;
    char text[DT_PROGRAM_LONGEST + 1]; /* for the wire: no spaces, comments, N word or line end */
    gsize len;
    gboolean names_motion, names_feed; /* it has a motion G word, an F word of its own */
    double dwell_s;
    double work_s; /* roughly, at full speed: what its answer may take */
    DtPoint from;  /* where its motion starts */
} DtProgramLine;

typedef struct DtProgram DtProgram;

/* Opens the file at its first line. */
DtProgram *dt_program_open(const DtProfile *p, const char *path, GError **error);
void dt_program_close(DtProgram *g);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtProgram, dt_program_close)

/* The next line, blank ones included. FALSE at the end (*error unset) or on a line that cannot be
 * RS-274 ("file:line: message"). */
gboolean dt_program_next(DtProgram *g, DtProgramLine *line, GError **error);
/* After the line read last. */
const DtTrack *dt_program_track(const DtProgram *g);

/* Told of every straight piece that the axes are driven along, arcs in chords; `t` is at its end.
 */
typedef void (*DtProgramWatch)(const DtTrack *t, void *user);
void dt_program_watch(DtProgram *g, DtProgramWatch watch, void *user);

/* Whether the dialect takes a word such as "G4" or "X". */
gboolean dt_program_knows(const DtProgram *g, const char *word);
/* What the P of a dwell counts, s. */
double dt_program_dwell_unit_s(const DtProgram *g);

/* What the head of the program says it was made for; "" where it says nothing. */
const char *dt_program_made_for(const DtProgram *g);

typedef struct {
    size_t lines, strokes, changes;
    double seconds, ink_mm, travel_mm;
    gboolean homes; /* it homes before its first motion */
    char sha256[65];
} DtProgramTotals;

/* Reads the whole program once and proves, before anything moves, that the controller knows every
 * word, that no line is too long for it and that every motion stays within the travel. Leaves the
 * program at its first line. From then on a file that is changed fails to be read. */
gboolean dt_program_check(DtProgram *g, DtProgramTotals *out, GError **error);

/* Goes to the place right behind stroke number `drawn` (its pen-up and settling dwell included);
 * 0: the first line. */
gboolean dt_program_seek(DtProgram *g, size_t drawn, GError **error);
