/* run: one program being drawn, shared by the files that check it (begin.c), draw it (run.c),
 * wait for a person (pause.c) and recover the board after a fault (recover.c). Private to link. */
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

    /* The rest belongs to the session thread while it draws. */
    DtProgram *program;
    DtProgramTotals totals;
    DtJournal *journal;
    double pace; /* real time over predicted time on this machine */

    DtProgramLine line; /* read but not sent yet, if has_line */
    gboolean has_line, at_end;
    DtProgramState before; /* state before that line */
    DtProgramState acked;  /* state after the program line answered last */
    size_t acked_line;
    size_t drawn;               /* strokes in the journal */
    size_t proved;              /* strokes whose end was compared with the board's own position */
    size_t unasked;             /* acceptances that no line was waiting for, up to homing */
    gboolean resumed;           /* the run was started by an earlier process */
    DtProgramState drawn_state; /* at the end of the previous stroke */
    gboolean needs_motion, needs_feed; /* the next motion must state its modes itself */
    const char *next_pen;              /* to be inserted, while a person is waited for; otherwise
                                        * NULL */

    gint64 start_us;
    double home_s;        /* estimated homing time */
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
/* Called when a line of the program was answered. */
void dt_run_taken(DtRun *r, const DtSent *line);
/* Records that the strokes up to `t` are drawn. */
void dt_run_journal_stroke(DtRun *r, const DtProgramState *t);
/* The state of the program at stroke `drawn`. */
char *dt_run_next_pen(DtRun *r);

/* pause.c ------------------------------------------------------------------------------------ */

/* At a lift, with everything answered. */
void dt_run_change_pen(DtRun *r);
/* Tells the board in a comment, as programs do, which pen was inserted: a controller ignores it,
 * but a virtual machine that was started in the middle of a job cannot know it otherwise. Left
 * out if comments are not accepted. */
gboolean dt_run_name_pen(DtRun *r, const char *pen);
void dt_run_pause(DtRun *r);
/* In mid-stroke. */
void dt_run_hold(DtRun *r);

/* recover.c ---------------------------------------------------------------------------------- */

/* Homes, checks the origin and moves the axes to their state right after stroke `drawn`,
 * including slack; the program is positioned there. */
gboolean dt_run_bring_up(DtRun *r, size_t drawn);
/* After trouble: TRUE if drawing can continue. */
gboolean dt_run_recover(DtRun *r);
