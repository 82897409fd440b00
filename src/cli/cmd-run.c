/* run: draws a program. */
#include "cli/placing.h"
#include "cli/print.h"
#include "cli/running.h"
#include "drawtrue/job.h"

#include <string.h>

static char *corners_text;
static gboolean place, correct, force;

static const GOptionEntry entries[] = {
    {"place", 0, 0, G_OPTION_ARG_NONE, &place,
     N_("First jog the pen to two corners of the sheet; the drawing is laid on it"), NULL},
    {"corners", 0, 0, G_OPTION_ARG_STRING, &corners_text,
     N_("Lay the drawing on the sheet whose lower left and lower right corner are there, commanded "
        "mm as jog shows them"),
     "X,Y,X,Y"},
    {"correct", 0, 0, G_OPTION_ARG_NONE, &correct,
     N_("A program from elsewhere: apply this machine's corrections, so that the ink lands where "
        "it says"),
     NULL},
    DT_CLI_FORCE(force),
    G_OPTION_ENTRY_NULL,
};

static DtRun *make(DtSession *s, const DtRunOptions *o, void *user, GError **error)
{
    return dt_run_new(s, user, o, error);
}

/* "job-laid.nc" for "job.nc": what is drawn instead. NULL if it may not be written. */
static char *path_beside(const DtProfile *p, const char *program, const char *suffix,
                         GError **error)
{
    const gsize stem = g_str_has_suffix(program, ".nc") ? strlen(program) - 3 : strlen(program);
    g_autofree char *path = g_strdup_printf("%.*s-%s.nc", (int)stem, program, suffix);
    if (!dt_cli_claim_output(path, DT_FILE_PROGRAM, program, p, force, error))
        return NULL;
    return g_steal_pointer(&path);
}

/* The program aligned with the sheet, written beside the original. */
static char *laid_program(const DtProfile *p, const char *program, GError **error)
{
    DtPoint corners[2];
    const gboolean known = corners_text != NULL ? dt_cli_corners(corners_text, corners, error)
                                                : dt_cli_touch_corners(p, corners, error);
    g_autofree char *laid = known ? path_beside(p, program, "laid", error) : NULL;
    if (laid == NULL || !dt_job_lay(p, program, corners[0], corners[1], laid, error))
        return NULL;
    if (!dt_code_has_heads(p) && dt_job_has_corrections(p))
        dt_cli_printf(
            stderr,
            "%s: taken for a program of drawtrue's own: this controller accepts no "
            "comments, so one from elsewhere is not recognised; 'drawtrue mend --correct' "
            "corrects it first\n",
            program);
    dt_cli_printf(stderr, "laid on the sheet at %.2f %.2f and %.2f %.2f: %s\n", corners[0].x,
                  corners[0].y, corners[1].x, corners[1].y, laid);
    return g_steal_pointer(&laid);
}

static char *read_program(const char *program, gsize *len, GError **error)
{
    enum { LONGEST = 1 << 30 };
    return dt_base_read_file(program, LONGEST, len, error);
}

/* The same program with the corrections of this machine, written beside it. */
static char *corrected_program(const DtProfile *p, const char *program, GError **error)
{
    gsize len, n;
    g_autofree char *text = read_program(program, &len, error);
    g_autofree char *path = text ? path_beside(p, program, "corrected", error) : NULL;
    g_autofree char *made = path ? dt_job_correct_program(p, text, len, &n, error) : NULL;
    if (made == NULL) {
        g_prefix_error(error, "%s: ", program);
        return NULL;
    }
    dt_cli_note_origin(p, program);
    if (!dt_base_write_file(path, made, n, error))
        return NULL;
    dt_cli_printf(stderr, "with this machine's corrections: %s\n", path);
    return g_steal_pointer(&path);
}

/* A program from elsewhere lacks the corrections; a note says that they are available. */
static void offer_corrections(const DtProfile *p, const char *program)
{
    gsize len;
    g_autofree char *text = dt_job_has_corrections(p) ? read_program(program, &len, NULL) : NULL;
    if (text == NULL || dt_code_head(text) >= DT_HEAD_UNCORRECTED)
        return;
    if (dt_code_has_heads(p))
        dt_cli_printf(stderr,
                      "%s: it comes from elsewhere and lacks this machine's corrections; --correct "
                      "applies them\n",
                      program);
    else
        dt_cli_printf(stderr,
                      "%s: if it comes from elsewhere it lacks this machine's corrections, and "
                      "--correct applies them; drawtrue's own programs have them\n",
                      program);
}

/* What to open if the user has not said it. */
static void set_no_port(GError **error)
{
    size_t n;
    DtLinkPort *ports = dt_link_ports(&n);
    g_autoptr(GString) text = g_string_new(_("run takes one program and --port PORT"));
    for (size_t i = 0; i < n; i++)
        g_string_append_printf(text, "%s\n  %s  %s", i == 0 ? _("; there is") : "", ports[i].path,
                               ports[i].text);
    if (n == 0)
        g_string_append(text, _("; no serial port is plugged in"));
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
    const gboolean lays = place || corners_text != NULL;
    if (lays && correct) {
        g_set_error_literal(
            error, DT_ERROR, DT_ERROR_USAGE,
            "run: --place and --corners apply the corrections themselves; leave out "
            "--correct");
        return DT_ERROR_USAGE;
    }
    if (!lays && !correct) {
        offer_corrections(profile, argv[1]);
        return dt_cli_running_draw(profile, make, argv[1], 0, error);
    }
    const unsigned sheet_kinds = 1u << DT_CONCERN_SHEET | 1u << DT_CONCERN_OFF_PAPER;
    unsigned settled =
        lays ? sheet_kinds : 0; /* before anything moves; the sheet's place is not known yet */
    if (!dt_cli_running_ask(profile, make, argv[1], &settled, error))
        return DT_ERROR_INPUT;
    g_autofree char *program =
        lays ? laid_program(profile, argv[1], error) : corrected_program(profile, argv[1], error);
    if (program == NULL)
        return DT_ERROR_INPUT;
    if (lays && dt_code_has_heads(profile)) /* it states where it lies */
        settled &= ~sheet_kinds;
    return dt_cli_running_draw(profile, make, program, settled, error);
}

const DtCommand dt_command_run = {
    .name = "run",
    .usage = "JOB.nc --port PORT [OPTION...]",
    .summary = N_("draw it: stream, pen changes, pause, progress"),
    .about = "Checks the whole program first, as inspect does, opens the port, waits for the "
             "board, lifts the pen, homes and draws. It waits at pen changes, shows progress, "
             "and keeps a journal, from which a run that was cut off is resumed. While it "
             "draws, a letter with Enter controls it: p pauses at the next lift, h holds at "
             "once, c waits at the next pen change, a parks to look at the sheet, Enter alone "
             "continues, q ends the run. Ctrl-C pauses, a second one ends the run.\n"
             "\n"
             "A plotter moves by itself: keep fingers, hair and cords out of its way, keep its "
             "switch in reach, and do not leave it alone.",
    .examples = "drawtrue run garden.nc --port /dev/ttyUSB0 -m my.ini  # draw it\n"
                "drawtrue run garden.nc --port /dev/ttyUSB0 -m my.ini --place  # on a sheet "
                "whose corners are touched by the pen",
    .shared = dt_cli_running_entries,
    .run = run,
};
