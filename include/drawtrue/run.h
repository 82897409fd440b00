/* run: draws a program stroke by stroke and keeps a journal of what has been drawn. Works on the
 * thread of its session; see drawtrue/session.h for events, snapshots and requests. */
#pragma once

#include "drawtrue/session.h"

typedef struct DtRun DtRun;

typedef struct {
    const char *journal; /* path of the SQLite journal; NULL for the default place */
    gboolean pens_ready; /* do not wait at pen changes (virtual machine, or one pen) */
    /* Report each pen that is inserted to the board, in comments: a virtual machine cannot know
     * it otherwise. A resumed run does what its run did. */
    gboolean names_pens;
    gboolean doubts;     /* draw even if 'inspect' says that it will look wrong */
    double replug_s;     /* how long to wait for an unplugged port; 0: 10 minutes */
    size_t skip_strokes; /* for a new run: strokes skipped at its start, as if they had been
                          * drawn */
} DtRunOptions;

typedef struct {
    gint64 run;          /* number in the journal; 0: the last run that is not finished and that
                          * no other process is drawing */
    size_t back_strokes; /* to go back before its first stroke that is not completely drawn */
    double back_mm;      /* mm of ink to go back before that */
    gboolean from_place; /* start at the stroke drawn at `place`, bed mm */
    DtPoint place;
    gboolean on_sheet; /* `place` is from the lower left corner of the program's paper instead */
} DtResume;

/* Reads and checks the whole program; opens nothing but the journal, and nothing moves. The run
 * holds a reference to the session. */
DtRun *dt_run_new(DtSession *s, const char *program_path, const DtRunOptions *o, GError **error);
/* Continues a run of the journal. DT_ERROR_INPUT also if the program has changed, if every run
 * is finished, and if no ink lies within 5 mm of the place or none is drawn there yet. */
DtRun *dt_run_resume(DtSession *s, const DtResume *from, const DtRunOptions *o, GError **error);
DtRun *dt_run_ref(DtRun *r);
/* Releasing the last reference stops a run that is still drawing, as DT_REQUEST_STOP does, and
 * waits for its end. */
void dt_run_unref(DtRun *r);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtRun, dt_run_unref)

/* What a person should know or do before it starts ------------------------------------------- */

typedef enum {
    DT_CONCERN_OTHER_MACHINE,   /* `made_for` from the program's head, `machine` and `profile` of
                                 * this machine */
    DT_CONCERN_PROFILE_CHANGED, /* changed at `profile_time`, after the program was made at
                                 * `program_time`: corrections measured since then are not in it */
    DT_CONCERN_FIRST_RUN,       /* the log has no run of `machine`: show the cautions */
    DT_CONCERN_SHEET,           /* where the paper belongs: `sheet`, its size and lower left
                                 * corner */
    DT_CONCERN_PEN,             /* `pen_name` (`pen`) must be in the holder when it starts */
    DT_CONCERN_HOMES,           /* the machine is not homed: it homes first */
    DT_CONCERN_RESUMES,         /* continues `run` at stroke `stroke` of `strokes` */
    DT_CONCERN_OFF_PAPER,       /* `off_paper_mm` of `ink_mm` lie beside `sheet` */
    DT_CONCERN_UNWAITED,        /* nothing waits for the pen: dt_code_cannot_wait() */
    DT_CONCERN_WIRE,            /* lines arrive too slowly for the motors: `held_up_s` of
                                 * `total_s`, `starved` stops in mid-stroke */
} DtConcernKind;

typedef enum {
    DT_CONCERN_NOTE,      /* to be shown */
    DT_CONCERN_DOUBT,     /* to be asked if there is somebody to ask */
    DT_CONCERN_OBJECTION, /* dt_run_start() refuses unless it is accepted */
} DtConcernRank;

/* Only the fields named with its kind above are set. */
typedef struct {
    DtConcernKind kind;
    DtConcernRank rank;
    char *program, *made_for, *machine, *profile; /* `profile` NULL: the built-in one */
    gint64 program_time, profile_time;            /* seconds since 1970 */
    char *sheet;
    double sheet_w, sheet_h;
    DtPoint sheet_at;  /* bed mm */
    double sheet_turn; /* radians, about that corner */
    double off_paper_mm, ink_mm;
    int pen; /* index in the rack, -1: not in it */
    char *pen_name;
    gint64 run;
    size_t stroke, strokes;
    double held_up_s, total_s; /* predicted, for the whole program */
    size_t starved;
} DtConcern;

/* Owned by the run and valid as long as it. */
const DtConcern *dt_run_concerns(const DtRun *r, size_t *n);

/* Drawing ----------------------------------------------------------------------------------- */

/* Starts drawing and returns at once. `accepted` has the bit 1u << DtConcernKind for each
 * objection that a person has accepted. The last event is DT_EVENT_ENDED: without an error every
 * line was accepted and the machine stands at its end. Otherwise the pen is up if the controller
 * could still be reached, and the error says what has been drawn and what to do: DT_ERROR_INPUT
 * for the program, the port or the machine, DT_ERROR_IO for the journal's disk,
 * G_IO_ERROR_CANCELLED if a person stopped it. */
gboolean dt_run_start(DtRun *r, guint accepted, GError **error);
/* Blocks until a started run has ended, without a main loop; errors as above. Other threads can
 * send requests meanwhile. */
gboolean dt_run_wait(DtRun *r, GError **error);

/* Like the session's calls of the same name; after the run has ended the snapshot stays as it
 * was at the end and every request is refused. */
void dt_run_snapshot(DtRun *r, DtSnapshot *out);
gboolean dt_run_request(DtRun *r, DtRequest request, guint serial);

DtSession *dt_run_session(const DtRun *r);  /* owned by the run */
gint64 dt_run_id(DtRun *r);                 /* number in the journal; 0 before it is entered
                                             * there */
const char *dt_run_program(const DtRun *r); /* path of the journal; owned by the run */
/* Time spent writing the journal, s; valid after the run has ended. */
double dt_run_journal_s(const DtRun *r);
