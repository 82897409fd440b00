/* run: draws a program. */
#include "cli/placing.h"
#include "cli/running.h"
#include "drawtrue/job.h"

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
    if (!dt_job_lay(p, program, corners[0], corners[1], laid, error))
        return NULL;
    fprintf(stderr, "laid on the sheet at %.2f %.2f and %.2f %.2f: %s\n", corners[0].x,
            corners[0].y, corners[1].x, corners[1].y, laid);
    return g_steal_pointer(&laid);
}

/* Whether to draw it all the same; without a terminal `otherwise` is the answer. */
static gboolean ask(const char *program, const char *text, gboolean otherwise, GError **error)
{
    fprintf(stderr, "%s: %s\n", program, text);
    if (isatty(STDIN_FILENO)) {
        char answer[16];
        fputs("Draw it as it is? [y/N] ", stderr);
        otherwise =
            fgets(answer, sizeof answer, stdin) != NULL && g_ascii_tolower(answer[0]) == 'y';
    }
    if (!otherwise)
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                            "nothing was drawn; 'drawtrue plan' makes the program anew, "
                            "--other-machine draws it as it is");
    return otherwise;
}

static gboolean is_for_this_machine(const DtProfile *p, const char *program, GError **error)
{
    GError *problem = NULL;
    g_autofree char *text = dt_link_misfit(p, program, &problem);
    if (problem != NULL) {
        g_propagate_error(error, problem);
        return FALSE;
    }
    if (text != NULL && !ask(program, text, FALSE, error))
        return FALSE;
    if (text != NULL)
        dt_cli_running_accept_machine();
    return TRUE;
}

/* A program carries the corrections of the profile it was made with. */
static gboolean is_up_to_date(const DtProfile *p, const char *program, GError **error)
{
    GStatBuf made, changed;
    if (p->path == NULL || g_stat(p->path, &changed) != 0 || g_stat(program, &made) != 0 ||
        changed.st_mtime <= made.st_mtime)
        return TRUE;
    g_autoptr(GDateTime) then = g_date_time_new_from_unix_local(made.st_mtime);
    g_autoptr(GDateTime) now = g_date_time_new_from_unix_local(changed.st_mtime);
    g_autofree char *then_text = g_date_time_format(then, "%Y-%m-%d %H:%M");
    g_autofree char *now_text = g_date_time_format(now, "%Y-%m-%d %H:%M");
    g_autofree char *text =
        g_strdup_printf("made at %s, and %s was changed at %s; corrections measured since are not "
                        "in it",
                        then_text, p->path, now_text);
    return ask(program, text, TRUE, error);
}

static gboolean fits(const DtProfile *p, const char *program, GError **error)
{
    return dt_cli_running_options().other_machine ||
           (is_for_this_machine(p, program, error) && is_up_to_date(p, program, error));
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
    if (argc != 2 || dt_cli_running_options().port == NULL) {
        set_no_port(error);
        return DT_ERROR_USAGE;
    }
    g_autoptr(DtProfile) profile = dt_cli_profile(dt_cli_running_machine(), error);
    if (profile == NULL || !fits(profile, argv[1], error))
        return DT_ERROR_INPUT;
    dt_cli_running_caution(profile);
    g_autofree char *program = laid_program(profile, argv[1], error);
    if (program == NULL)
        return DT_ERROR_INPUT;
    if (!place && corners_text == NULL)
        dt_cli_running_tell_paper(profile);
    return dt_cli_running_draw(profile, make, program, error);
}

const DtCommand dt_command_run = {
    .name = "run",
    .usage = "JOB.nc --port PORT [OPTION...]",
    .summary = "draw it: stream, pen changes, pause, progress",
    .shared = dt_cli_running_entries,
    .run = run,
};
