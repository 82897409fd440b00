/* running: what the commands that draw have in common: options, the progress shown, keys and
 * signals. */
#pragma once

#include "cli/cli.h"
#include "drawtrue/link.h"

/* --port, --machine, --pens-ready, --json, --journal, --replug, --other-machine, --background. */
extern const GOptionEntry dt_cli_running_entries[];

/* What the options above have set. */
extern const char *dt_cli_running_machine(void);
DtRunOptions dt_cli_running_options(void);
/* Before anything moves on a machine that the log does not know yet. */
void dt_cli_running_caution(const DtProfile *p);
/* Where the sheet belongs. */
void dt_cli_running_tell_paper(const DtProfile *p);
/* Which run goes on, and where. */
void dt_cli_running_tell_resumed(const DtRunner *r);
/* As --other-machine. */
void dt_cli_running_accept_machine(void);

/* Makes the runner when everything that shows it is in place; the listener is in `o`. */
typedef DtRunner *(*DtCliRunnerMaker)(const DtProfile *p, const DtRunOptions *o, void *user,
                                      GError **error);

/* Draws with progress on the terminal or as JSON, Ctrl-C and keys; returns the exit code. */
int dt_cli_running_draw(const DtProfile *p, DtCliRunnerMaker make, void *user, GError **error);
