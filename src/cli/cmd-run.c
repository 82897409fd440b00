/* run: draws a program. */
#include "cli/placing.h"
#include "cli/print.h"
#include "cli/running.h"
#include "drawtrue/job.h"


#include <string.h>

static char *corners_text;
static gboolean place, force;

static const GOptionEntry entries[] = {
    {"place", 0, 0, G_OPTION_ARG_NONE, &place,
     "First jog the pen to two corners of the sheet; the drawing is laid on it", NULL},
    {"corners", 0, 0, G_OPTION_ARG_STRING, &corners_text,
     "Lay the drawing on the sheet whose lower left and lower right corner are there", "X,Y,X,Y"},
    DT_CLI_FORCE(force),
    G_OPTION_ENTRY_NULL,
};

static DtRun *make(DtSession *s, const DtRunOptions *o, void *user, GError **error)
{
    return dt_run_new(s, user, o, error);
}

/* The program itself, or the one that is laid on the sheet and written beside it. */
static char *laid_program(const DtProfile *p, const char *program, GError **error)
{
    DtPoint corners[2];
    if (!place && corners_text == NULL)
        return g_strdup(program);
    const gboolean known = corners_text != NULL ? dt_cli_corners(corners_text, corners, error)
                                                : dt_cli_touch_corners(p, corners, error);
    if (!known)
        return NULL;
    const gsize stem = g_str_has_suffix(program, ".nc") ? strlen(program) - 3 : strlen(program);
    g_autofree char *laid = g_strdup_printf("%.*s-laid.nc", (int)stem, program);
    if (!dt_cli_claim_output(laid, DT_FILE_PROGRAM, program, p, force, error) ||
        !dt_job_lay(p, program, corners[0], corners[1], laid, error))
        return NULL;
    dt_cli_printf(stderr, "laid on the sheet at %.2f %.2f and %.2f %.2f: %s\n", corners[0].x,
            corners[0].y, corners[1].x, corners[1].y, laid);
    return g_steal_pointer(&laid);
}

/* What to open, where nobody has said it. */
static void set_no_port(GError **error)
{
    size_t n;
    DtLinkPort *ports = dt_link_ports(&n);
    g_autoptr(GString) text = g_string_new("run takes one program and --port PORT");
    for (size_t i = 0; i < n; i++)
        g_string_append_printf(text, "%s\n  %s  %s", i == 0 ? "; there is" : "", ports[i].path,
                               ports[i].text);
    if (n == 0)
        g_string_append(text, "; no serial port is plugged in");
    dt_link_ports_free(ports, n);
    g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, text->str);
}

static int run(int argc, char **argv, GError **error)
{
    if (!dt_cli_parse(&dt_command_run, entries, &argc, &argv, error))
        return 0;
    if (argc != 2 || dt_cli_running_port() == NULL) {
        set_no_port(error);
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) profile = dt_cli_profile(dt_cli_running_machine(), error);
    if (profile == NULL)
        return DT_ERROR_INPUT;
    if (!place && corners_text == NULL)
        return dt_cli_running_draw(profile, make, argv[1], error);
    if (!dt_cli_running_ask(profile, make, argv[1], error)) /* before anything moves */
        return DT_ERROR_INPUT;
    g_autofree char *program = laid_program(profile, argv[1], error);
    return program == NULL ? DT_ERROR_INPUT
                           : dt_cli_running_draw(profile, make, program, error);
}

const DtCommand dt_command_run = {
    .name = "run",
    .usage = "JOB.nc --port PORT [OPTION...]",
    .summary = "draw it: stream, pen changes, pause, progress",
    .shared = dt_cli_running_entries,
    .run = run,
};
