/* bench-faults: what the files of the fault campaign share. */
#pragma once

#include "drawtrue/geom.h"
#include "drawtrue/machine.h"
#include "drawtrue/rig.h"

typedef struct {
    DtLines lines;
    GPtrArray *pens; /* of each line */
    double longest, total;
} Ink; /* as the rig has it, stroke by stroke */

void faults_take_ink(const DtRig *r, Ink *ink);
void faults_clear_ink(Ink *ink);
/* NULL where all is as it has to be, else what is wrong: ink of a wrong pen, missing, where none
 * was planned, or more than one stroke of it drawn twice. */
const char *faults_judge_whole(const Ink *want, const Ink *got);
/* The same after a stop whose report is `message`: the pen is up, nothing is drawn wrong, and the
 * strokes told as drawn are there. `answers`: the board still does. */
const char *faults_judge_stop(const Ink *want, const Ink *got, const DtRigFigures *f,
                              const char *message, gboolean answers);

/* bench-faults-stage.c: what a run needs. */

typedef struct {
    DtRig *rig;
    volatile int stop;
    GThread *thread;
    char *folder, *link, *program, *journal, *profile;
    int answered;       /* lines, by the rig */
    gboolean real_time; /* the rig runs by the wall clock, as whoever learns measures by it */
} Stage;

/* The rig's own truth as a maker would have measured it. */
DtProfile *faults_make_profile(void);
/* `small`: on a few centimetres, for a machine whose simulation takes its time. */
char *faults_make_program(const DtProfile *p, GRand *rand, gboolean small, gsize *len);
/* A folder with the program and the profile. */
void faults_make_stage(Stage *s, const char *text, gsize len);
void faults_clear_stage(Stage *s);
/* A rig of this file's text serves at the stage's link, on a thread of its own; with an image (.elf) on a
 * simulated chip, where this was built with one. */
void faults_start_rig(Stage *s, const char *text, const char *image);
void faults_serve_on(Stage *s);
/* What has come of it so far; the rig no longer serves. */
void faults_look_at_rig(Stage *s, Ink *ink, DtRigFigures *figures);
void faults_stop_rig(Stage *s, Ink *ink, DtRigFigures *figures);

/* bench-faults-terminal.c: the program itself in a terminal of its own. */

typedef enum { TERMINAL_SLEEPS, TERMINAL_HANGS_UP, TERMINAL_CLOSES } TerminalFault;

typedef struct {
    char *const *argv;
    TerminalFault
        fault; /* once the board has answered so many lines, and then some seconds later */
    unsigned lines;
    double after_s;
    int *answered;
    gboolean (*is_safe)(void *user); /* while it sleeps: whether the pen is up */
    void *user;
} TerminalPlay;

/* NULL where it drew to its end, else what is wrong; what it said into `said`, for the caller to free.
 * `came`: it was drawing still when the fault came. */
const char *faults_play_terminal(const TerminalPlay *p, gboolean *came, char **said);
/* What learning writes into a profile, without its date; NULL where it failed. Freed by the caller. */
char *faults_learn(const char *program, const char *port, const char *profile, const char *to,
                   char **said);

/* bench-faults-kinds.c: what can go wrong, and how often each did. */

/* The kinds. A stop is what the documentation defines for it; every other kind has to recover. */
typedef enum { DRAWS_ON, STOPS, STOPS_AND_RESUMES } Outcome;

typedef struct {
    const char *name;
    const char *fault; /* %u: the moment, a line or a byte; NULL: no fault of the rig's */
    gboolean by_byte;
    Outcome outcome;
} Kind;

/* Those that are dealt with by name; the rig makes none of them from REFUSED_LINE on. */
enum {
    SILENT = 24,
    LEARNING,
    SWITCH,
    REFUSED_LINE,
    FULL_DISK,
    PARKED,
    HELD,
    SLEEPS,
    HANGS_UP,
    CLOSED,
    KINDS,
    KILLED = KINDS
};
extern const Kind faults_kinds[KINDS];

typedef struct {
    unsigned runs, recovered, stopped, wrong;
    unsigned spared; /* the fault never came, as the run had other moments */
    double seconds;
} Tally;

/* `t` has one of each kind, and one of the runs that were killed. */
void faults_print_table(const Tally *t);
