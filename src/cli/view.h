/* view: a run as it is shown on a terminal, or line by line. */
#pragma once

#include "drawtrue/run.h"

typedef struct {
    const DtProfile *profile;
    gboolean json;
    gboolean terminal;  /* progress is one line that is written over */
    gboolean keys;      /* lines typed are read */
    gboolean line_open; /* such a line stands there now */
    gint64 shown_us;
    int shown_tenth;
} DtRunView;

DtRunView dt_run_view(const DtProfile *p, gboolean json, gboolean keys);
void dt_run_view_show(DtRunView *v, const DtEvent *e);
/* A line of the program's own, on a line of its own. */
void dt_run_view_say(DtRunView *v, const char *text);
void dt_run_view_close(DtRunView *v);
