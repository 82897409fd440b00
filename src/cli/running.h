/* running: what the commands that draw have in common: options, the progress shown, keys and
 * signals. */
#pragma once

#include "cli/cli.h"
#include "drawtrue/run.h"

/* --port, --machine, --pens-ready, --json, --journal, --replug, --other-machine, --background. */
extern const GOptionEntry dt_cli_running_entries[];

/* Values of the options above. */
const char *dt_cli_running_machine(void);
const char *dt_cli_running_port(void);

/* Makes the run; it may be called more than once. */
typedef DtRun *(*DtCliRunMaker)(DtSession *s, const DtRunOptions *o, void *user, GError **error);

/* Shows what a person should know before the run that `make` makes, and asks where there is
 * doubt. The kinds of concerns in `settled`, as bits, are left out, and those shown are added.
 * FALSE with an error if it must not be drawn. */
gboolean dt_cli_running_ask(const DtProfile *p, DtCliRunMaker make, void *user, unsigned *settled,
                            GError **error);

/* Draws with progress on the terminal or as JSON, Ctrl-C and keys, after what dt_cli_running_ask()
 * has not shown yet; returns the exit code. */
int dt_cli_running_draw(const DtProfile *p, DtCliRunMaker make, void *user, unsigned settled,
                        GError **error);
