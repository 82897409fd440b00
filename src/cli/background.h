/* background: a process that leaves its terminal. */
#pragma once

#include "cli/cli.h"

/* Forks. TRUE in the process that continues. The parent waits until that process reports that it
 * draws or has failed, and then gets FALSE with the exit code. No thread may exist yet. */
gboolean dt_cli_leave_terminal(int *code, GError **error);
/* Reports to the parent that run `id` draws. */
void dt_cli_tell_parent(gint64 id);
