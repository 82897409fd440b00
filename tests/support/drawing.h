/* drawing: a run from its start to its end, its events heard on the calling thread; for tests and
 * benchmarks. */
#pragma once

#include "drawtrue/link.h"

/* Starts the run with every objection accepted; `hear` may be NULL. */
gboolean drawing_run(DtRun *r, DtEventFunc hear, void *user, GError **error);
/* The same with a session and a run of its own. */
gboolean drawing_program(const DtProfile *p, const char *port, const char *program,
                         const DtRunOptions *o, DtEventFunc hear, void *user, GError **error);
gboolean drawing_resume(const DtProfile *p, const char *port, const DtResume *from,
                        const DtRunOptions *o, DtEventFunc hear, void *user, GError **error);
/* A jog, to its end; FALSE with what went wrong. */
gboolean drawing_jog(DtSession *s, const DtJog *jog, GError **error);
