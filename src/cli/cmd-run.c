/* run: draws a program. */
#include "placing.h"
#include "running.h"

#include <glib/gstdio.h>
#include <string.h>
#include <unistd.h>

static char *corners_text;
static gboolean place;

static const GOptionEntry entries[] = {
    {"place", 0, 0, G_OPTION_ARG_NONE, &place,
     "First jog the pen to two corners of the sheet; the drawing is laid on it", NULL},
    {"corners", 0, 0, G_OPTION_ARG_STRING, &corners_text,
     "Lay the drawing on the sheet whose lower left and lower right corner are there", "X,Y,X,Y"},
    G_OPTION_ENTRY_NULL,
};

static DtRunner *make(const DtProfile *p, const DtRunOptions *o, void *user, GError **error)
{
    return dt_run_new(p, user, o, error);
}

/* The program itself, or the one that is laid on the sheet and written beside it. */
static char *laid_program(const DtProfile *p, const char *program, GError **error)
{
    DtPoint corners[2];
    if (!place && corners_text == NULL)
        return g_strdup(program);
    const gboolean known = corners_text != NULL ? dt_cli_corners(corners_text, corners, error)
                                                : dt_cli_touch_corners(p, program, corners, error);
    if (!known)
        return NULL;
    const gsize stem = g_str_has_suffix(program, ".nc") ? strlen(program) - 3 : strlen(program);
    g_autofree char *laid = g_strdup_printf("%.*s-laid.nc", (int)stem, program);
    if (!dt_link_lay(p, program, corners[0], corners[1], laid, error))
        return NULL;
    fprintf(stderr, "laid on the sheet at %.2f %.2f and %.2f %.2f: %s\n", corners[0].x,
            corners[0].y, corners[1].x, corners[1].y, laid);
    return g_steal_pointer(&laid);
}

/* A program carries the corrections of the profile it was made with. */
static gboolean is_up_to_date(const DtProfile *p, const char *program, GError **error)
{
    GStatBuf made, changed;
    if (dt_cli_running_options().other_machine || p->path == NULL ||
        g_stat(p->path, &changed) != 0 || g_stat(program, &made) != 0 ||
        changed.st_mtime <= made.st_mtime)
        return TRUE;
    fprintf(stderr, "%s was changed after %s was made; 'drawtrue plan' makes it anew.\n", p->path,
            program);
    if (!isatty(STDIN_FILENO))
        return TRUE;
    fputs("Draw it as it is? [y/N] ", stderr);
    char answer[16];
    if (fgets(answer, sizeof answer, stdin) != NULL && g_ascii_tolower(answer[0]) == 'y')
        return TRUE;
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, "nothing was drawn");
    return FALSE;
}

static int run(int argc, char **argv, GError **error)
{
    if (!dt_cli_parse(&dt_command_run, entries, &argc, &argv, error))
        return 0;
    if (argc != 2 || dt_cli_running_options().port == NULL) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "run takes one program and --port PORT");
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) profile = dt_cli_profile(dt_cli_running_machine(), error);
    if (profile == NULL || !is_up_to_date(profile, argv[1], error))
        return DT_ERROR_INPUT;
    g_autofree char *program = laid_program(profile, argv[1], error);
    if (program == NULL)
        return DT_ERROR_INPUT;
    return dt_cli_running_draw(profile, make, program, error);
}

const DtCommand dt_command_run = {
    .name = "run",
    .usage = "JOB.nc --port PORT [OPTION...]",
    .summary = "draw it: stream, pen changes, pause, progress",
    .shared = dt_cli_running_entries,
    .run = run,
};
