/* view: shows a run on a terminal, or line by line. */
#pragma once

#include "drawtrue/run.h"

typedef struct {
    const DtProfile *profile;
    gboolean json;
    gboolean terminal;  /* progress is a single line that is overwritten */
    gboolean keys;      /* lines typed are read */
    gboolean line_open; /* that line is being shown */
    gint64 shown_us;
    int shown_tenth;
} DtRunView;

DtRunView dt_run_view(const DtProfile *p, gboolean json, gboolean keys);
void dt_run_view_show(DtRunView *v, const DtEvent *e);
/* A message of the program on a line of its own. */
void dt_run_view_say(DtRunView *v, const char *text);
void dt_run_view_close(DtRunView *v);
