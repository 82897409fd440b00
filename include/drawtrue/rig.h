/* rig: the virtual machine. The real controller core on a pseudo-terminal, with the physics of
 * one machine behind it. It shares no code with the planner and reads only its own rig file. */
#pragma once

#include <glib.h>
#include <stdint.h>

/* What was drawn and what went wrong. */
typedef struct {
    double time_s; /* virtual time from the first line received to the last motion */
    unsigned lines_taken, lines_refused, endstop_hits, bytes_lost;
    double ink_mm;
    gboolean pen_up_at_end;
    double end_x, end_y;           /* true position of the carriage, bed mm */
    double travel_mm;              /* distance travelled by the tip without ink */
    double dry_mm;                 /* distance travelled by the tip, pen commanded down, not yet
                                    * touching */
    double drag_mm;                /* inked distance, pen commanded up, still touching */
    unsigned lifts;                /* times the pen left the paper */
    double home_s;                 /* spent on homing */
    unsigned homings;              /* successful homing runs */
    unsigned pen_changes;          /* stops (M0) that the sender ended */
    double stop_s;                 /* time spent at them until the sender went on; part of time_s */
    unsigned changes_without_stop; /* strokes with another pen without a stop before them */
    unsigned steps_lost;           /* coil patterns that no motor could follow */
    unsigned steps_slipped;        /* half steps by which rotors lost their coils */
    guint64 steps[2];              /* half steps of each axis, in both directions */
    unsigned replies;              /* lines sent to the host */
    unsigned starved;              /* stops in mid-stroke because the next line had not arrived
                                    * yet */
    guint64 bytes;                 /* bytes received, including lost ones */
    unsigned faults;               /* events of the rig file's list that have happened */
    gboolean homed;
    gboolean motors_off;        /* at the end */
    gboolean stopped_on_switch; /* a switch stopped the motion outside homing */
} DtRigFigures;

typedef struct DtRig DtRig;

/* A rig from its file ("file:line: message" if it is invalid); NULL path for the built-in
 * machine. */
DtRig *dt_rig_new(const char *rig_file, GError **error);
/* The same from text; `name` stands for the file in messages. */
DtRig *dt_rig_new_from_text(const char *text, const char *name, GError **error);
void dt_rig_free(DtRig *r);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtRig, dt_rig_free)
/* A commented rig file of the built-in machine with every key, its unit, range and meaning. */
char *dt_rig_template(void);

/* Opens the pseudo-terminal; the returned path of its other end belongs to the rig. */
const char *dt_rig_open_port(DtRig *r, GError **error);
/* Keeps a symbolic link to the port at `path` from then on, also while the port is unplugged.
 * The link is removed with the rig. Call after dt_rig_open_port(). */
gboolean dt_rig_link_port(DtRig *r, const char *path, GError **error);

/* Serves the port until the other side hangs up (`once`) or *stop becomes non-zero. In virtual
 * time the clock runs as fast as the simulation can, in real time as the wall clock does.
 * Virtual time stands still for up to 0.3 s after the last byte in either direction while the
 * controller could accept another line, so that a slow sender never starves the machine and
 * every run is the same. */
gboolean dt_rig_serve(DtRig *r, gboolean real_time, gboolean once, volatile int *stop,
                      GError **error);

/* Runs a whole program without a port, in virtual time, like a sender that keeps the receive
 * buffer filled and continues at once after a stop. Lines are sent as they are. */
void dt_rig_run_text(DtRig *r, const char *text, gsize len);

/* Called with each point to which the controller sends its axes, commanded nanometres: ends of
 * moves and of the chords of arcs. */
typedef void (*DtRigWatch)(const int64_t nm[2], void *user);
void dt_rig_watch(DtRig *r, DtRigWatch watch, void *user);

/* Called with each line that the controller has answered, without its end, and with the answer. */
typedef void (*DtRigTalk)(const char *line, const char *answer, void *user);
void dt_rig_listen(DtRig *r, DtRigTalk talk, void *user);

void dt_rig_figures(const DtRig *r, DtRigFigures *out);
/* The rig's own clock, s since it was made. */
double dt_rig_clock_s(const DtRig *r);

/* The same as a JSON object, freed by the caller. */
char *dt_rig_figures_json(const DtRig *r);

/* Ink on the paper: one stroke of one pen, points in true bed mm. */
typedef struct {
    const char *pen;
    const double *xy; /* n pairs */
    size_t n;
    double from_s, to_s;
} DtRigStroke;

size_t dt_rig_stroke_count(const DtRig *r);
DtRigStroke dt_rig_stroke(const DtRig *r, size_t i);

/* Writes ink.json, ink.svg and ink.png into the folder, which is created if it is missing. */
gboolean dt_rig_write(const DtRig *r, const char *folder, GError **error);

/* Writes what a flat-bed scanner would see of the sheet ([scan] of the rig file) as PNG or, by
 * the ending .jpg, as JPEG. DT_ERROR_USAGE on another ending, which the first call checks in
 * advance. */
gboolean dt_rig_check_scan_path(const char *path, GError **error);
gboolean dt_rig_scan(const DtRig *r, const char *path, GError **error);
/* Lays the sheet on the glass differently: replaces the [scan] section of the rig by that of a
 * rig file's text, with defaults for keys that are not given. */
gboolean dt_rig_set_scan(DtRig *r, const char *text, const char *name, GError **error);
