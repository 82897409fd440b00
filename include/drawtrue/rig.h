/* rig: the virtual machine. The real controller core on a pseudo-terminal, with the physics of one
 * machine behind it. It shares no code with the planner and reads only its own rig file. */
#pragma once

#include <glib.h>

/* What landed and what went wrong. */
typedef struct {
    double time_s;          /* virtual time from the first line received to the last motion */
    unsigned lines_taken, lines_refused, endstop_hits, bytes_lost;
    double ink_mm;
    gboolean pen_up_at_end;
    double end_x, end_y;    /* true position of the carriage, bed mm */
} DtRigFigures;

typedef struct DtRig DtRig;

/* A rig from its file ("file:line: message" on a wrong one); NULL path for the built-in machine. */
DtRig *dt_rig_new(const char *rig_file, GError **error);
void dt_rig_free(DtRig *r);

/* Opens the pseudo-terminal; the returned path of its other end belongs to the rig. */
const char *dt_rig_open_port(DtRig *r, GError **error);

/* Serves the port until the other side has hung up (`once`) or *stop becomes non-zero. In virtual
 * time the clock runs as fast as the machine can, in real time as the wall clock. */
gboolean dt_rig_serve(DtRig *r, gboolean real_time, gboolean once, volatile int *stop,
                      GError **error);

void dt_rig_figures(const DtRig *r, DtRigFigures *out);
/* Writes ink.json, ink.svg and ink.png into the folder, which is made where it is missing. */
gboolean dt_rig_write(const DtRig *r, const char *folder, GError **error);
