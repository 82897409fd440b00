/* planning: the planning options on the command line, and a plan with its progress shown. */
#include "cli/planning.h"

#include "cli/print.h"

#include <signal.h>
#include <unistd.h>

gboolean dt_cli_parse_planning(const DtCommand *c, const GOptionEntry *entries, int *argc,
                               char ***argv, DtPlanInput *out, GError **error)
{
    g_autofree char *machine = NULL;
    g_autoptr(DtOptions) options = dt_options_new();
    g_autofree GOptionEntry *planning = dt_options_entries();
    const GOptionEntry own[] = {
        {"machine", 'm', 0, G_OPTION_ARG_FILENAME, &machine, N_("The machine's profile"), "FILE"},
        G_OPTION_ENTRY_NULL,
    };
    const GOptionEntry *all[] = {entries, own, planning, NULL};
    if (!dt_cli_parse_all(c, all, options, argc, argv, error))
        return FALSE;
    g_autoptr(DtProfile) p = dt_cli_profile(machine, error);
    return p != NULL && dt_options_apply(options, p, out, error);
}

/* Work under way ---------------------------------------------------------------------------- */

static DtWork *_Atomic under_way; /* for the signal handler */

static void on_interrupt(int number)
{
    (void)number;
    dt_work_cancel(under_way);
}

static void show_progress(const DtWorkState *state, void *user)
{
    (void)user;
    g_autofree char *line =
        g_strdup_printf("%s %3.0f %%", dt_stage_title(state->stage), state->done * 100);
    dt_cli_show_line(stderr, line);
}

/* A plan that is cancelled leaves nothing behind; a second Ctrl-C ends the program at once. */
static DtWork *start_work(void)
{
    DtWork *work = dt_work_new(isatty(STDERR_FILENO) ? show_progress : NULL, NULL);
    struct sigaction a = {.sa_handler = on_interrupt, .sa_flags = (int)SA_RESETHAND};
    under_way = work;
    sigemptyset(&a.sa_mask);
    sigaction(SIGINT, &a, NULL);
    sigaction(SIGTERM, &a, NULL);
    return work;
}

static void end_work(DtWork *work)
{
    if (isatty(STDERR_FILENO))
        dt_cli_show_line(stderr, "");
    signal(SIGINT, SIG_DFL);
    signal(SIGTERM, SIG_DFL);
    under_way = NULL;
    dt_work_unref(work);
}

gboolean dt_cli_write_program(const DtPlanInput *in, const DtMoves *moves, const char *path,
                              GError **error)
{
    DtWork *work = start_work();
    const gboolean good = dt_job_write_program(in->profile, &in->job, moves, path, work, error);
    end_work(work);
    return good;
}

gboolean dt_cli_plan_sheets(const DtPlanInput *in, const char *art_path, DtJobSheets *out,
                            GError **error)
{
    DtWork *work = start_work();
    const gboolean good =
        dt_job_plan_sheets(in->profile, art_path, &in->job, &in->tiling, out, work, error);
    end_work(work);
    return good;
}

gboolean dt_cli_plan_job(const DtPlanInput *in, const DtJobOptions *o, const char *art_path,
                         DtJob *job, GError **error)
{
    DtWork *work = start_work();
    const gboolean good = dt_job_plan(in->profile, art_path, o, job, work, error);
    end_work(work);
    return good;
}
