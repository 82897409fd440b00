/* run: one program being drawn, shared by the files that check it (begin.c), draw it (run.c), stand
 * still for a person (pause.c) and bring the board back after a mishap (recover.c). Private to
 * link. */
#pragma once

#include "link/journal.h"
#include "link/session.h"

struct DtRun {
    gatomicrefcount refs;
    DtSession *session;
    DtRunOptions options;
    char *journal_path;
    char *program_path;
    GArray *concerns;

    GMutex lock; /* of the following */
    GCond ended_cond;
    gboolean started, ended;
    DtSnapshot last; /* when it ended */
    GError *result;
    gint64 id;

    /* The rest is the session thread's own while it draws. */
    DtProgram *program;
    DtProgramTotals totals;
    DtJournal *journal;
    double pace; /* real time over predicted time on this machine */

    DtProgramLine line; /* read ahead, not sent yet, where has_line */
    gboolean has_line, at_end;
    DtProgramState before; /* before that line */
    DtProgramState acked;  /* with the program line answered last */
    size_t acked_line;
    size_t drawn;               /* strokes in the journal */
    size_t proved;              /* strokes whose end was compared with the board's own position */
    size_t unasked;             /* acceptances that no line was waiting for, up to homing */
    gboolean resumed;           /* the run was begun by an earlier process */
    DtProgramState drawn_state; /* at the end of the stroke drawn last */
    gboolean needs_motion, needs_feed; /* the next motion must say its modes itself */
    const char *next_pen;              /* to be put in, while a person is waited for; else NULL */

    gint64 start_us;
    double home_s;        /* what homing is thought to take */
    double earlier_s;     /* of the run's earlier parts */
    size_t recoveries;    /* since it last got further */
    size_t farthest_line; /* answered when it had to recover */
};

/* begin.c ------------------------------------------------------------------------------------ */

void dt_run_find_concerns(DtRun *r);
void dt_concern_clear(DtConcern *c);

/* run.c -------------------------------------------------------------------------------------- */

/* Writes the run's part of the snapshot. */
void dt_run_describe(const DtRun *r, DtSnapshot *out);
/* A line of the program was answered. */
void dt_run_taken(DtRun *r, const DtSent *line);
/* Enters that the strokes up to `t` are drawn. */
void dt_run_journal_stroke(DtRun *r, const DtProgramState *t);
/* Of the program at stroke `drawn`. */
char *dt_run_next_pen(DtRun *r);

/* pause.c ------------------------------------------------------------------------------------ */

/* At a lift, with all answered. */
void dt_run_change_pen(DtRun *r);
/* Tells the board in a comment, as programs do, which pen is put in: no controller does anything by it, and
 * a virtual machine that was started in the middle of a job has no other way to know. Left out where no
 * comments are accepted. */
gboolean dt_run_name_pen(DtRun *r, const char *pen);
void dt_run_pause(DtRun *r);
/* In mid-line. */
void dt_run_hold(DtRun *r);

/* recover.c ---------------------------------------------------------------------------------- */

/* Homes, proves the origin and places the axes as they were right behind stroke `drawn`, slack
 * included; the program stands there. */
gboolean dt_run_bring_up(DtRun *r, size_t drawn);
/* After trouble: TRUE when drawing may go on. */
gboolean dt_run_recover(DtRun *r);
