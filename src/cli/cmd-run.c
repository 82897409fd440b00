/* run: draws a program. */
#include "running.h"

static DtRunner *make(const DtProfile *p, const DtRunOptions *o, void *user, GError **error)
{
    return dt_run_new(p, user, o, error);
}

static int run(int argc, char **argv, GError **error)
{
    const GOptionEntry none[] = {G_OPTION_ENTRY_NULL};
    if (!dt_cli_parse(&dt_command_run, none, &argc, &argv, error))
        return 0;
    if (argc != 2 || dt_cli_running_options().port == NULL) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "run takes one program and --port PORT");
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) profile = dt_cli_profile(dt_cli_running_machine(), error);
    if (profile == NULL)
        return DT_ERROR_INPUT;
    return dt_cli_running_draw(profile, make, argv[1], error);
}

const DtCommand dt_command_run = {
    .name = "run",
    .usage = "JOB.nc --port PORT [OPTION...]",
    .summary = "draw it: stream, pen changes, pause, progress",
    .shared = dt_cli_running_entries,
    .run = run,
};
