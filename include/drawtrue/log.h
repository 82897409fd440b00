/* log: past runs, and other events of a machine, from the journal. */
#pragma once

#include "drawtrue/base.h"

#include <stddef.h>

typedef struct {
    char *name; /* "" if the program names no pen */
    size_t strokes;
    double ink_mm, travel_mm;
} DtLogPen;

typedef struct {
    gint64 id;
    double started, ended; /* seconds since 1970; ended 0: not ended */
    char *machine, *program, *port;
    char *status; /* "running", "done", "stopped", "broken off" or "cut off" */
    char *note;   /* the reason it was broken off */
    size_t strokes, drawn;
    double estimate_s;  /* by the motion model alone, without homing */
    double predicted_s; /* estimated at the start: the model's time scaled by this machine's past
                         * runs, plus homing as in past runs, or as predicted if there are none */
    double time_s;      /* without the time people took at pen changes and pauses */
    double ink_mm, travel_mm;
    DtLogPen *pens;
    size_t n_pens;
} DtLogRun;

/* Something that happened to a machine outside its runs, such as a correction. */
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

/* Reads the whole log; `journal` NULL for the default place. A journal that does not exist yet
 * counts as empty. */
gboolean dt_log_read(const char *journal, DtLog *out, GError **error);
void dt_log_clear(DtLog *l);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtLog, dt_log_clear)

/* The run that needs a program's file as it is now: the last one of it, if it draws at this moment, or if a part is
 * drawn and 'resume' could go on with the rest. FALSE if there is none, also if the journal or the file cannot be
 * read. */
typedef struct {
    gint64 id;
    gboolean draws; /* at this moment */
    size_t drawn, strokes;
} DtUnfinished;
gboolean dt_log_unfinished(const char *journal, const char *program, DtUnfinished *out);

/* Enters a note, e.g. what a test sheet showed before and after a correction. */
gboolean dt_log_note(const char *journal, const char *machine, const char *kind, const char *text,
                     GError **error);
