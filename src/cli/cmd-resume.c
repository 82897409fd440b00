/* resume: goes on with a run that was cut off. */
#include "cli/jogging.h"
#include "cli/running.h"

static gint64 run_number;
static int back_strokes;
static double back_mm;
static char *at_text;
static DtPoint at; /* on the sheet */

static const GOptionEntry entries[] = {
    {"run", 0, 0, G_OPTION_ARG_INT64, &run_number,
     N_("The run of the log (the last unfinished one)"), "NUMBER"},
    {"back", 0, 0, G_OPTION_ARG_INT, &back_strokes, N_("Go back by this many strokes first"), "N"},
    {"back-mm", 0, 0, G_OPTION_ARG_DOUBLE, &back_mm, N_("Go back by this much ink first"), "MM"},
    {"at", 0, 0, G_OPTION_ARG_STRING, &at_text,
     N_("Go back to the stroke at this place of the sheet, mm from its lower left corner"), "X,Y"},
    G_OPTION_ENTRY_NULL,
};

static DtRun *make(DtSession *s, const DtRunOptions *o, void *user, GError **error)
{
    (void)user;
    const DtResume from = {
        .run = run_number,
        .back_strokes = (size_t)back_strokes,
        .back_mm = back_mm,
        .from_place = at_text != NULL,
        .place = at,
        .on_sheet = TRUE,
    };
    return dt_run_resume(s, &from, o, error);
}

static gboolean read_place(GError **error)
{
    if (dt_cli_read_place(at_text, &at.x, &at.y) && back_strokes == 0 && back_mm <= 0)
        return TRUE;
    g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                        "--at takes a place X,Y in mm, and goes without --back");
    return FALSE;
}

static int run(int argc, char **argv, GError **error)
{
    if (!dt_cli_parse(&dt_command_resume, entries, &argc, &argv, error))
        return 0;
    if (argc != 1 || back_strokes < 0 || !(back_mm >= 0)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "resume takes no arguments, and goes back by 0 or more");
        return DT_ERROR_USAGE;
    }
    if (back_strokes > 0 && back_mm > 0) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE,
                            "resume goes back by --back strokes or by --back-mm of ink, not both");
        return DT_ERROR_USAGE;
    }
    if (at_text != NULL && !read_place(error))
        return DT_ERROR_USAGE;
    g_autoptr(DtProfile) profile = dt_cli_profile(dt_cli_running_machine(), error);
    if (profile == NULL)
        return DT_ERROR_INPUT;
    return dt_cli_running_draw(profile, make, NULL, 0, error);
}

const DtCommand dt_command_resume = {
    .name = "resume",
    .usage = "[--run NUMBER] [--back N | --back-mm MM | --at X,Y] [OPTION...]",
    .summary = N_("go on with a run that was cut off"),
    .about = "Continues the last unfinished run, or the one that --run names, from the last "
             "stroke that the controller is known to have drawn. It homes first. --back, "
             "--back-mm and --at go back to draw a part again, for a pen that ran dry.\n"
             "\n"
             "A plotter moves by itself: keep fingers, hair and cords out of its way, keep its "
             "switch in reach, and do not leave it alone.",
    .examples = "drawtrue resume --port /dev/ttyUSB0 -m my.ini  # the last unfinished run\n"
                "drawtrue resume --port /dev/ttyUSB0 -m my.ini --back 3  # three strokes "
                "earlier",
    .shared = dt_cli_running_entries,
    .run = run,
};
