/* run: a program that is drawn, stroke by stroke, with a journal of what is drawn. It works on the
 * thread of its session; see drawtrue/session.h for events, snapshots and requests. */
#pragma once

#include "drawtrue/session.h"

typedef struct DtRun DtRun;

typedef struct {
    const char *journal; /* path of the SQLite journal; NULL for the default place */
    gboolean pens_ready; /* do not wait at pen changes (virtual machine, or one pen) */
    /* Tell the board, in comments, each pen that is put in: a virtual machine has no other way to know.
     * A run that is resumed always does. */
    gboolean names_pens;
    gboolean doubts;     /* draw though 'inspect' says that it will look wrong */
    double replug_s;     /* how long to wait for an unplugged port; 0: 10 minutes */
    size_t skip_strokes; /* of a new run: strokes skipped at its start, as if they were drawn */
} DtRunOptions;

typedef struct {
    gint64 run;          /* of the journal; 0: the last one that is not finished and
                                       * that no other process draws just now */
    size_t back_strokes; /* to go back before its first stroke not wholly drawn */
    double back_mm;      /* of ink to go back before that */
    gboolean from_place; /* from the stroke that is drawn at `place`, bed mm */
    DtPoint place;
} DtResume;

/* Reads and checks the program as a whole; nothing is opened but the journal and nothing moves. The
 * run holds a reference to the session. */
DtRun *dt_run_new(DtSession *s, const char *program_path, const DtRunOptions *o, GError **error);
/* Goes on with a run of the journal. DT_ERROR_INPUT also where the program was changed, where every
 * run is finished, and where no ink lies within 5 mm of the place, or none that is drawn yet. */
DtRun *dt_run_resume(DtSession *s, const DtResume *from, const DtRunOptions *o, GError **error);
DtRun *dt_run_ref(DtRun *r);
/* The last reference stops a run that draws still, as DT_REQUEST_STOP, and waits for its end. */
void dt_run_unref(DtRun *r);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtRun, dt_run_unref)

/* What a person should know or do before it starts ------------------------------------------- */

typedef enum {
    DT_CONCERN_OTHER_MACHINE,   /* `made_for` by the program's head, `machine` and `profile` here */
    DT_CONCERN_PROFILE_CHANGED, /* at `profile_time`, after the program was made at `program_time`:
                                 * corrections measured since are not in it */
    DT_CONCERN_FIRST_RUN,       /* the log knows no run of `machine`: the cautions are due */
    DT_CONCERN_SHEET,           /* where it belongs: `sheet`, its size and lower left corner */
    DT_CONCERN_PEN,             /* `pen_name` (`pen`) must be in the holder when it starts */
    DT_CONCERN_HOMES,           /* the machine is not homed: it homes first */
    DT_CONCERN_RESUMES,         /* `run` goes on with stroke `stroke` of `strokes` */
    DT_CONCERN_WIRE,            /* lines come too slowly for the motors: `held_up_s` of `total_s`,
                                 * `starved` stops in mid-stroke */
} DtConcernKind;

typedef enum {
    DT_CONCERN_NOTE,      /* to be said */
    DT_CONCERN_DOUBT,     /* to be asked where there is somebody to ask */
    DT_CONCERN_OBJECTION, /* dt_run_start() refuses unless it is accepted */
} DtConcernRank;

/* Of the fields those that its kind names above are set. */
typedef struct {
    DtConcernKind kind;
    DtConcernRank rank;
    char *program, *made_for, *machine, *profile; /* `profile` NULL: the built-in one */
    gint64 program_time, profile_time;            /* seconds since 1970 */
    char *sheet;
    double sheet_w, sheet_h;
    DtPoint sheet_at; /* bed mm */
    int pen;          /* index in the rack, -1: not in it */
    char *pen_name;
    gint64 run;
    size_t stroke, strokes;
    double held_up_s, total_s; /* predicted, for the whole program */
    size_t starved;
} DtConcern;

/* The run's own list, which lives as long as it does. */
const DtConcern *dt_run_concerns(const DtRun *r, size_t *n);

/* Drawing ----------------------------------------------------------------------------------- */

/* Begins to draw, and returns at once. `accepted` has the bit 1u << DtConcernKind for each
 * objection that a person has accepted. DT_EVENT_ENDED is its last event: without an error every
 * line was accepted and the machine stands at its end. Otherwise the pen is up as far as the
 * controller could still be reached, and the error says what is drawn and what to do:
 * DT_ERROR_INPUT for the program, the port or the machine, DT_ERROR_IO for the journal's disk,
 * G_IO_ERROR_CANCELLED where a person stopped it. */
gboolean dt_run_start(DtRun *r, guint accepted, GError **error);
/* Blocks until a run that was started has ended, without a main loop; its error as above. It can be
 * steered from other threads meanwhile. */
gboolean dt_run_wait(DtRun *r, GError **error);

/* As the session's calls of the same name; once the run has ended the snapshot stays that of its
 * end and every request is refused. */
void dt_run_snapshot(DtRun *r, DtSnapshot *out);
gboolean dt_run_request(DtRun *r, DtRequest request, guint serial);

DtSession *dt_run_session(const DtRun *r);  /* the run's reference */
gint64 dt_run_id(DtRun *r);                 /* of the journal; 0 before it is entered there */
const char *dt_run_program(const DtRun *r); /* its path; the run's */
/* Time spent writing the journal, s; of a run that has ended. */
double dt_run_journal_s(const DtRun *r);
