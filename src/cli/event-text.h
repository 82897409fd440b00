/* event-text: events, snapshots and concerns in words and as JSON. */
#pragma once

#include "drawtrue/run.h"

/* One of the words that JSON has for it: "drawing", "pen-change", ... */
const char *dt_report_state_name(DtState state);

/* One object on one line; g_free(). */
char *dt_report_event_json(const DtEvent *e);
/* A line "name       what happened", without a line end and without what the reader can do about it,
 * which each front end adds; g_free(). NULL where there is nothing to be said, as for progress. */
char *dt_report_event_text(const DtEvent *e, const DtProfile *p);
/* What a person should know before a run starts, in such a line or, of an objection and a doubt, in
 * a sentence; g_free(). NULL where there is nothing to be said. */
char *dt_report_concern_text(const DtConcern *c, const DtProfile *p);
