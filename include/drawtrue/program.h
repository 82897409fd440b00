/* program: an index over a program file: what each line sends, what it is, and what the program has
 * done before and after it. One pass of the reader and of the judge, in bounded memory: what a run
 * streams is what 'inspect' judges. */
#pragma once

#include "drawtrue/code.h"

enum { DT_PROGRAM_LONGEST = 256 }; /* bytes of a line, NISTIR 6556 section 3.3.1 */

typedef enum {
    DT_LINE_BLANK, /* nothing for the controller: empty, comment, percent sign, deleted block */
    DT_LINE_MOVE,
    DT_LINE_PEN_DOWN,
    DT_LINE_PEN_UP,
    DT_LINE_DWELL,
    DT_LINE_HOME,
    DT_LINE_STOP, /* M0, M1, M60: a person has to do something, as a rule change the pen */
    DT_LINE_OTHER,
} DtLineKind;

/* What the program has done up to a point in it. */
typedef struct {
    DtPoint at;       /* commanded mm, from where the machine was homed */
    DtPoint offset;   /* the program's origin there, mm */
    DtPoint carriage; /* where the slack lets it stand, commanded mm */
    double lean[2];   /* of the carriages, see DtCarriage */
    DtPoint tip;      /* of the pen in the holder, bed mm */
    int side[2];      /* sign of each axis' last motion; +1 after homing */
    gboolean pen_down, homed;
    int motion;   /* G number of the modal motion, -1: none yet */
    double feed;  /* F in force, in units of the program a minute; 0: none yet */
    double unit;  /* mm per program unit */
    double speed; /* S that the pen's words rely on; -1: none */
    gboolean relative;
    size_t begun; /* strokes whose pen-down has been read */
    size_t drawn; /* strokes whose pen-up has been read */
    double ink_mm, travel_mm;
    double seconds;     /* predicted; homing and pen changes not counted */
    unsigned pen_index; /* into the profile's rack; without names each stop is taken for the next */
    gboolean turns_paper; /* at the next stop a person turns the paper by a quarter */
    char pen[64];         /* name of the pen in the holder, "" where the program names none */
} DtProgramState;

typedef struct {
    size_t number; /* 1-based, in the file; a stop behind other words is a line of its own */
    DtLineKind kind;
    char text[DT_PROGRAM_LONGEST + 1]; /* for the wire: no comments, N word or line end; blanks only
                                        * between words, where the controller needs them */
    gsize len;
    gboolean names_motion, names_feed; /* it has a motion G word, an F word of its own */
    double dwell_s;
    double work_s; /* roughly, at full speed: what its answer may take */
    DtPoint from;  /* where its motion starts */
} DtProgramLine;

typedef struct DtProgram DtProgram;

/* Opens the file at its first line. The profile must outlive the program. */
DtProgram *dt_program_open(const DtProfile *p, const char *path, GError **error);
void dt_program_close(DtProgram *g);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtProgram, dt_program_close)

/* The next line, blank ones included. FALSE at the end (*error unset) or on a line that the controller
 * refuses ("file:line: message"). */
gboolean dt_program_next(DtProgram *g, DtProgramLine *line, GError **error);
/* After the line read last. */
const DtProgramState *dt_program_state(const DtProgram *g);

/* Told of every straight piece that the axes are driven along, arcs in chords; `s` is at its end. */
typedef void (*DtProgramWatch)(const DtProgramState *s, void *user);
void dt_program_watch(DtProgram *g, DtProgramWatch watch, void *user);

/* Whether the dialect takes a word such as "G4" or "X". */
gboolean dt_program_knows(const DtProgram *g, const char *word);
/* What the P of a dwell counts, s. */
double dt_program_dwell_unit_s(const DtProgram *g);
/* Words separated by blanks, as they go to the controller: without the blanks where it does not need
 * them. At most `room` bytes, the NUL counted. */
void dt_program_join_words(const DtProgram *g, const char *words, char *to, gsize room);
/* A move's line with the motion and the feed in force put to it where it does not say them itself;
 * for the first one after lines of the sender's own. */
void dt_program_restate(const DtProgram *g, const DtProgramLine *line, gboolean motion,
                        gboolean feed, char *to, gsize room);

/* What the head of the program says it was made for; "" where it says nothing. */
const char *dt_program_made_for(const DtProgram *g);

typedef struct {
    size_t lines, strokes, changes;
    double held_up_s; /* of seconds: more than the motors need, for want of lines */
    size_t starved;   /* stops in mid-stroke for want of a line */
    double seconds;   /* predicted; homing and pen changes not counted */
    double ink_mm, travel_mm;
    gboolean homes; /* it homes before its first motion */
    char sha256[65];
} DtProgramTotals;

/* Reads the whole program once, before anything moves, and fails with DT_ERROR_INPUT where 'inspect'
 * finds anything wrong with it but waste; with `doubts`, where it will not draw or will do harm. Leaves
 * the program at its first line. From then on a file that is changed fails to be read. */
gboolean dt_program_check(DtProgram *g, gboolean doubts, DtProgramTotals *out, GError **error);

/* Goes to the place right behind stroke number `drawn` (its pen-up and settling dwell included);
 * 0: the first line. Fails with DT_ERROR_INPUT where drawing cannot begin there, because the controller
 * would lack what the program has set before: parameters, origins, the plane of arcs. */
gboolean dt_program_seek(DtProgram *g, size_t drawn, GError **error);
