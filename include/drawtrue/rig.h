/* rig: the virtual machine. The real controller core on a pseudo-terminal, with the physics of one
 * machine behind it. It shares no code with the planner and reads only its own rig file. */
#pragma once

#include <glib.h>
#include <stdint.h>

/* What landed and what went wrong. */
typedef struct {
    double time_s; /* virtual time from the first line received to the last motion */
    unsigned lines_taken, lines_refused, endstop_hits, bytes_lost;
    double ink_mm;
    gboolean pen_up_at_end;
    double end_x, end_y;           /* true position of the carriage, bed mm */
    double travel_mm;              /* way of the tip without ink */
    double dry_mm;                 /* way of the tip, pen commanded down, not yet touching */
    double drag_mm;                /* inked way, pen commanded up, still touching */
    unsigned lifts;                /* times the pen left the paper */
    double home_s;                 /* spent on homing */
    unsigned homings;              /* runs to the switches that ended well */
    unsigned pen_changes;          /* stops (M0) that the sender ended */
    double stop_s;                 /* spent at them until the sender went on; part of time_s */
    unsigned changes_without_stop; /* strokes with another pen that no stop had announced */
    unsigned steps_lost;           /* coil patterns that no motor could follow */
    unsigned steps_slipped;        /* half steps by which a rotor fell out of step with its coils */
    guint64 steps[2];              /* half steps of each axis, either way */
    unsigned replies;              /* lines sent to the host */
    unsigned starved;              /* stops in mid-stroke because the next line had not come yet */
    guint64 bytes;                 /* received, lost ones included */
    unsigned faults;               /* of the rig file's list that have happened */
    gboolean homed;
    gboolean motors_off;        /* at the end */
    gboolean stopped_on_switch; /* a switch ended the motion outside of homing */
} DtRigFigures;

typedef struct DtRig DtRig;

/* A rig from its file ("file:line: message" on a wrong one); NULL path for the built-in machine. */
DtRig *dt_rig_new(const char *rig_file, GError **error);
/* The same from text; `name` stands for the file in messages. */
DtRig *dt_rig_new_from_text(const char *text, const char *name, GError **error);
void dt_rig_free(DtRig *r);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtRig, dt_rig_free)
/* A commented rig file of the built-in machine with every key, its unit, range and meaning. */
char *dt_rig_template(void);

/* Opens the pseudo-terminal; the returned path of its other end belongs to the rig. */
const char *dt_rig_open_port(DtRig *r, GError **error);
/* Keeps a symbolic link to the port at `path` from then on, through unplugging too. The link is
 * removed with the rig. Call after dt_rig_open_port(). */
gboolean dt_rig_link_port(DtRig *r, const char *path, GError **error);

/* Serves the port until the other side has hung up (`once`) or *stop becomes non-zero. In virtual
 * time the clock runs as fast as the machine can, in real time as the wall clock. In virtual time
 * it stands still for up to 0.3 s from the last byte either way while the controller could take
 * another line, so that a sender never starves the machine and every run is the same. */
gboolean dt_rig_serve(DtRig *r, gboolean real_time, gboolean once, volatile int *stop,
                      GError **error);

/* Runs a whole program without a port, in virtual time, as a sender would who keeps the receive
 * buffer filled and goes on at once after a stop. Lines are sent as they are. */
void dt_rig_run_text(DtRig *r, const char *text, gsize len);

/* Told of each point that the controller sends its axes to, commanded nanometres: ends of moves and
 * of the chords of arcs. */
typedef void (*DtRigWatch)(const int64_t nm[2], void *user);
void dt_rig_watch(DtRig *r, DtRigWatch watch, void *user);

/* Told of each line that the controller has answered, without its end, and of the answer. */
typedef void (*DtRigTalk)(const char *line, const char *answer, void *user);
void dt_rig_listen(DtRig *r, DtRigTalk talk, void *user);

void dt_rig_figures(const DtRig *r, DtRigFigures *out);
/* The rig's own clock, s since it was made. */
double dt_rig_clock_s(const DtRig *r);

/* The same as a JSON object, freed by the caller. */
char *dt_rig_figures_json(const DtRig *r);

/* Ink that landed: one stroke of one pen, points in true bed mm. */
typedef struct {
    const char *pen;
    const double *xy; /* n pairs */
    size_t n;
    double from_s, to_s;
} DtRigStroke;

size_t dt_rig_stroke_count(const DtRig *r);
DtRigStroke dt_rig_stroke(const DtRig *r, size_t i);

/* Writes ink.json, ink.svg and ink.png into the folder, which is made where it is missing. */
gboolean dt_rig_write(const DtRig *r, const char *folder, GError **error);

/* Writes what a flat-bed scanner would see of the sheet ([scan] of the rig file) as PNG or, by the
 * ending .jpg, as JPEG. DT_ERROR_USAGE on another ending, which the first call asks for beforehand. */
gboolean dt_rig_check_scan_path(const char *path, GError **error);
gboolean dt_rig_scan(const DtRig *r, const char *path, GError **error);
/* Lays the sheet on the glass in another way: the [scan] section of a rig file's text, its other keys
 * at their defaults, takes the place of the one that the rig has. */
gboolean dt_rig_set_scan(DtRig *r, const char *text, const char *name, GError **error);
