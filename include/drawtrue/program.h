/* program: an index over a program file: what each line sends, what kind of line it is, and the
 * state of the program before and after it. Built in one pass of the reader and the judge, in
 * bounded memory, so that what a run streams is what 'inspect' judges. */
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
    DT_LINE_STOP, /* M0, M1, M60: a person has to act, usually to change the pen */
    DT_LINE_OTHER,
} DtLineKind;

/* The state of the program at a point in it. */
typedef struct {
    DtPoint at;       /* commanded mm from the home position */
    DtPoint offset;   /* the program's origin there, mm */
    DtPoint carriage; /* where the carriages stand after slack, commanded mm */
    double lean[2];   /* of the carriages, see DtCarriage */
    DtPoint tip;      /* of the pen in the holder, bed mm */
    int side[2];      /* sign of each axis' last motion; +1 after homing */
    gboolean pen_down, homed;
    int motion;   /* G number of the modal motion, -1: none yet */
    double feed;  /* F in force, program units per minute; 0: none yet */
    double unit;  /* mm per program unit */
    double speed; /* S that the pen's words rely on; -1: none */
    gboolean relative;
    size_t begun; /* strokes whose pen-down has been read */
    size_t drawn; /* strokes whose pen-up has been read */
    double ink_mm, travel_mm;
    double seconds;       /* predicted, without homing and pen changes */
    unsigned pen_index;   /* index in the profile's rack; in a program without pen names each stop
                         * counts as a change to the next pen */
    gboolean turns_paper; /* at the next stop a person turns the paper by a quarter */
    char pen[64];         /* name of the pen in the holder, "" if the program names none */
} DtProgramState;

typedef struct {
    size_t number; /* 1-based line of the file; a stop after other words becomes a line of its
                    * own */
    DtLineKind kind;
    char text[DT_PROGRAM_LONGEST + 1]; /* as sent: no comments, N word or line end; blanks only
                                        * between words, if the controller needs them */
    gsize len;
    gboolean names_motion, names_feed; /* it has a motion word (G), an F word of its own */
    double dwell_s;
    double work_s; /* rough time at full speed: how long its answer may take */
    DtPoint from;  /* start of its motion */
} DtProgramLine;

typedef struct DtProgram DtProgram;

/* Opens the file at its first line. The profile must outlive the program. */
DtProgram *dt_program_open(const DtProfile *p, const char *path, GError **error);
void dt_program_close(DtProgram *g);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtProgram, dt_program_close)

/* The next line, blank ones included. FALSE at the end (*error unset) or at a line that the
 * controller refuses ("file:line: message"). */
gboolean dt_program_next(DtProgram *g, DtProgramLine *line, GError **error);
/* The state after the line read last. */
const DtProgramState *dt_program_state(const DtProgram *g);

/* Called for every straight piece that the axes are driven along, arcs in chords; `s` is the
 * time at its end. */
typedef void (*DtProgramWatch)(const DtProgramState *s, void *user);
void dt_program_watch(DtProgram *g, DtProgramWatch watch, void *user);

/* Whether the dialect accepts a word such as "G4" or "X". */
gboolean dt_program_knows(const DtProgram *g, const char *word);
/* A move's line with the motion word and feed in force added if the line lacks them; needed for
 * the first line after lines of the sender's own. */
void dt_program_restate(const DtProgram *g, const DtProgramLine *line, gboolean motion,
                        gboolean feed, char *to, gsize room);

/* What the head of the program says it was made for; "" if it says nothing, or was not read so far. */
const char *dt_program_made_for(const DtProgram *g);

typedef struct {
    size_t lines, strokes, changes;
    double held_up_s; /* part of seconds: what the motors wait for lines */
    size_t starved;   /* stops in mid-stroke because a line was missing */
    double seconds;   /* predicted, without homing and pen changes */
    double ink_mm, travel_mm;
    double off_paper_mm; /* ink beside the paper, the program's or else the profile's */
    DtStatedPaper paper;
    gboolean homes; /* it homes before its first motion */
    DtHead head;
    char sha256[65];
} DtProgramTotals;

/* Feeds and waits beyond the profile's are intended, though no comment says so: for a test sheet of a controller
 * without comments. Before dt_program_check(). */
void dt_program_let_try_limits(DtProgram *g);

/* Reads the whole program once, before anything moves, and fails with DT_ERROR_INPUT if
 * 'inspect' finds anything but waste in it; with `doubts`, only if it will not draw or will do
 * harm. Leaves the program at its first line. If the file changes after that, reading it fails. */
gboolean dt_program_check(DtProgram *g, gboolean doubts, DtProgramTotals *out, GError **error);

/* Goes to the point right after stroke number `drawn`, including its pen-up and settling dwell;
 * 0: the first line. Fails with DT_ERROR_INPUT if drawing cannot start there because the
 * controller would lack what the program has set before: parameters, origins, the plane of arcs. */
gboolean dt_program_seek(DtProgram *g, size_t drawn, GError **error);
