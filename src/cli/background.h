/* background: a process that leaves its terminal. */
#pragma once

#include "cli/cli.h"

/* TRUE in the process that goes on. In the parent, which waits until that one has said that it draws
 * or has failed, FALSE with the exit code. No thread may run yet. */
gboolean dt_cli_leave_terminal(int *code, GError **error);
/* Tells the parent that run `id` draws. */
void dt_cli_tell_parent(gint64 id);
