/* link: is it really being drawn? Streams a program to a controller over a serial port, keeps a
 * journal of what is drawn, and goes on after whatever interrupts it. */
#pragma once

#include "drawtrue/learn.h"

typedef enum {
    DT_RUN_WAITING, /* for a greeting, a reply, the port, a person: `text` says for what */
    DT_RUN_PROGRESS,
    DT_RUN_PEN_CHANGE, /* `pen` is the next pen; where there is a `text`, which says what to do,
                        * drawing goes on after dt_run_go_on() */
    DT_RUN_REPEATED,   /* a line was sent again after a failed check or a lost reply */
    DT_RUN_REFUSED,    /* the controller refused line `line` */
    DT_RUN_PAUSED,     /* pen up; goes on after dt_run_go_on() */
    DT_RUN_RECOVERED,  /* homed again after `text`; drawing goes on */
    DT_RUN_DONE,
} DtRunEventKind;

typedef struct {
    DtRunEventKind kind;
    double done;          /* 0 to 1, by estimated time */
    double left_s;        /* estimated, by what this machine's runs really took */
    double ink_mm;        /* drawn so far */
    double travel_mm;     /* pen-up, so far */
    int pen;              /* index into the profile's rack, -1 where the program names none of it */
    const char *pen_name; /* as the program names it; "" where it does not */
    size_t line;          /* program line acknowledged last, 1-based */
    size_t stroke, strokes; /* drawn, and in the whole program */
    const char *text;       /* for people; may be NULL */
} DtRunEvent;

typedef void (*DtRunListener)(const DtRunEvent *e, void *user);

typedef struct {
    const char *port;
    const char *journal;    /* path of the SQLite journal; NULL for the default place */
    gboolean pens_ready;    /* do not wait at pen changes (virtual machine, or one pen) */
    DtRunListener listener; /* may be NULL; called on the thread that draws */
    void *user;
    double replug_s;        /* how long to wait for an unplugged port; 0: 10 minutes */
    gboolean doubts; /* draw though 'inspect' says that it will look wrong */
    gboolean other_machine; /* draw though the program was made for another machine */
} DtRunOptions;

/* Streams the program file to the controller at `port` and returns when the machine has finished
 * it. TRUE when every line was accepted and the machine stands at its end. Otherwise the pen is up
 * as far as the controller can still be reached, and the error says what is drawn and what to do:
 * DT_ERROR_INPUT for the program, the port or the machine, DT_ERROR_IO for the journal's disk,
 * G_IO_ERROR_CANCELLED where a person stopped it. */
gboolean dt_link_run(const DtProfile *p, const char *program_path, const DtRunOptions *o,
                     GError **error);

/* Runs that can be steered ------------------------------------------------------------------ */

typedef struct DtRunner DtRunner;

/* Checks the program as a whole before anything moves. `p`, the strings of `o` and the listener
 * must outlive the runner. */
DtRunner *dt_run_new(const DtProfile *p, const char *program_path, const DtRunOptions *o,
                     GError **error);
void dt_run_free(DtRunner *r);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtRunner, dt_run_free)

/* What the head of the program says of another machine than the profile's; NULL where it says the
 * same or nothing. Freed by the caller. */
char *dt_link_misfit(const DtProfile *p, const char *program_path, GError **error);

/* Goes on with a run of the journal (0: the last one that is not finished and that no other process
 * draws just now) at its first stroke not wholly drawn; `back_strokes` and `back_mm` of ink go back
 * before that. The port is the run's own where the options give none. */
DtRunner *dt_run_resume(const DtProfile *p, gint64 run, size_t back_strokes, double back_mm,
                        const DtRunOptions *o, GError **error);

/* The same from the stroke on that is drawn at a place of the bed, as pointed at in the proof.
 * Besides, DT_ERROR_INPUT where no ink lies within 5 mm of it, or none that is drawn yet. */
DtRunner *dt_run_resume_at(const DtProfile *p, gint64 run, DtPoint place, const DtRunOptions *o,
                           GError **error);

/* Draws; see dt_link_run(). Blocks until the end. */
gboolean dt_run_draw(DtRunner *r, GError **error);

/* Of the journal. */
gint64 dt_run_id(const DtRunner *r);
const char *dt_run_program(const DtRunner *r); /* its path; the runner's */
/* How many strokes the program has, and how many of them are drawn or left behind. */
size_t dt_run_strokes(const DtRunner *r, size_t *drawn);
/* Time spent writing it, s. */
double dt_run_journal_s(const DtRunner *r);

/* The following may be called from any thread, from the listener and from signal handlers. */
void dt_run_go_on(DtRunner *r);         /* after a pen change or a pause */
void dt_run_pause_at_lift(DtRunner *r); /* when the stroke at hand is drawn */
void dt_run_pause_now(DtRunner *r); /* at once, the pen lifted; at the lift where it cannot hold */
/* At the next pen change, even where nobody is waited for there. */
void dt_run_pause_at_change(DtRunner *r);
/* Paused at a lift: to the park place, so that the sheet can be seen; else at the next lift. Going
 * on returns to the same point, the slack of each axis taken up from the same side. */
void dt_run_park(DtRunner *r);
void dt_run_stop(DtRunner *r); /* at once: decelerate, pen up, end the run */

/* Ports ------------------------------------------------------------------------------------- */

typedef struct {
    char *path; /* to open it by */
    char *text; /* what stands behind it, for people; "" where nobody knows */
} DtLinkPort;

/* The serial ports of this computer, freed with dt_link_ports_free(). */
DtLinkPort *dt_link_ports(size_t *n);
void dt_link_ports_free(DtLinkPort *ports, size_t n);

/* Opens a port as a run does (raw, 8 data bits, no parity, 1 stop bit, locked) for dt_link_learn()
 * and the like. DT_ERROR_INPUT says what the maker can mend. Close with dt_link_close(). */
gboolean dt_link_open(const char *port, int baud, DtWire *out, GError **error);
void dt_link_close(DtWire *w);

/* Sheets ------------------------------------------------------------------------------------ */

/* Jogging, before dt_run_draw() and on a runner of its own: opens the port, lifts the pen and
 * homes; moves by so much, kept within the travel; lets the pen touch; ends with the pen up and the
 * port closed. dt_run_jog_at() is where the carriage then stands, slack reckoned with, commanded
 * mm. */
gboolean dt_run_jog_begin(DtRunner *r, GError **error);
gboolean dt_run_jog(DtRunner *r, DtPoint by, GError **error);
gboolean dt_run_jog_pen(DtRunner *r, gboolean down, GError **error);
DtPoint dt_run_jog_at(const DtRunner *r);
void dt_run_jog_end(DtRunner *r);

typedef struct {
    size_t stroke; /* 1-based */
    double away_mm;
} DtStrokeAt;

/* The stroke of a program whose ink lies nearest to a place on the bed, mm; of several equally near
 * the first. */
gboolean dt_link_stroke_at(const DtProfile *p, const char *program_path, DtPoint place,
                           DtStrokeAt *out, GError **error);

/* The log ----------------------------------------------------------------------------------- */

typedef struct {
    char *name; /* "" where the program names no pen */
    size_t strokes;
    double ink_mm, travel_mm;
} DtLogPen;

typedef struct {
    gint64 id;
    double started, ended; /* seconds since 1970; ended 0: not ended */
    char *machine, *program, *port;
    char *status; /* "running", "done", "stopped", "broken off" or "cut off" */
    char *note;   /* what broke it off */
    size_t strokes, drawn;
    double estimate_s; /* by the motion model alone, homing left out */
    double told_s; /* told at the start: the estimate times this machine's pace in past runs, and
                    * what homing took in them, or else should take */
    double time_s; /* people's time at pen changes and pauses not counted */
    double ink_mm, travel_mm;
    DtLogPen *pens;
    size_t n_pens;
} DtLogRun;

/* Something that happened to a machine beside its runs, such as a correction. */
typedef struct {
    double at;
    char *machine, *kind, *text;
} DtLogNote;

typedef struct {
    DtLogRun *runs; /* oldest first */
    size_t n_runs;
    DtLogNote *notes;
    size_t n_notes;
} DtLog;

/* Reads the whole log; `journal` NULL for the default place. A journal that is not there yet is an
 * empty one. */
gboolean dt_log_read(const char *journal, DtLog *out, GError **error);
void dt_log_clear(DtLog *l);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtLog, dt_log_clear)

/* Enters a note, e.g. what a test sheet showed before and after a correction. */
gboolean dt_log_note(const char *journal, const char *machine, const char *kind, const char *text,
                     GError **error);
