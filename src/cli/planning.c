/* planning: the planning options on the command line, and a plan with its progress shown. */
#include "cli/planning.h"

#include "cli/print.h"
#include "drawtrue/colour.h"

#include <math.h>
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

/* Cautions ---------------------------------------------------------------------------------- */

/* A paint of the colour, or one that looks like it, got the pen. */
static gboolean has_paint(const DtInkReport *colours, const DtInkColourRule *rule)
{
    const double ruled = 3,
                 alike = 6; /* CIEDE2000: such a paint obeys; is listed with the colour */
    const DtLab lab = dt_colour_lab(rule->colour);
    for (size_t i = 0; i < colours->n; i++) {
        const DtInkMatch *m = &colours->matches[i];
        const double away = dt_colour_difference(dt_colour_lab(m->colour), lab);
        if (away < ruled || (away < alike && m->pen == rule->pen))
            return TRUE;
    }
    return FALSE;
}

static void note_rules(const DtPlanInput *in, const DtInkReport *colours, const char *art_path)
{
    for (size_t i = 0; i < in->job.ink.n_rules; i++) {
        const DtInkColourRule *rule = &in->job.ink.rules[i];
        const DtColour c = rule->colour;
        if (!has_paint(colours, rule))
            dt_cli_printf(stderr,
                          "%s: --colour #%02lx%02lx%02lx=%s has no effect: no paint of the drawing "
                          "has this colour\n",
                          art_path, lround(255 * c.r), lround(255 * c.g), lround(255 * c.b),
                          in->profile->rack.pens[rule->pen].name);
    }
}

/* Where the pens cannot go is not drawn on. */
static void note_reach(const DtProfile *p, const DtPlacement *placement)
{
    const double least = 0.5; /* mm */
    const DtPoint at = p->paper_at;
    const DtBox sheet = {at.x, at.y, at.x + p->paper_w, at.y + p->paper_h};
    const DtBox meant = dt_box_grow(sheet, -p->margin);
    const DtBox area = dt_box_intersect(meant, dt_machine_reach(p));
    if (placement->fit != DT_FIT_MARGINS || (dt_box_width(meant) - dt_box_width(area) < least &&
                                             dt_box_height(meant) - dt_box_height(area) < least))
        return;
    dt_cli_printf(stderr,
                  "caution: only %.0f by %.0f mm of the %.0f by %.0f mm within the margins of the "
                  "paper (%s at %g, %g mm) can be reached; the drawing lies there\n",
                  dt_box_width(area), dt_box_height(area), dt_box_width(meant),
                  dt_box_height(meant), p->paper_name, at.x, at.y);
}

void dt_cli_note_plan(const DtPlanInput *in, const DtInkReport *colours, const char *art_path)
{
    if (in->profile->path == NULL)
        dt_cli_print(
            stderr,
            "caution: no profile is given (--machine FILE, or DRAWTRUE_MACHINE): this is for the "
            "built-in machine, whose speeds and pens may not be yours\n");
    note_reach(in->profile, &in->job.placement);
    note_rules(in, colours, art_path);
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
