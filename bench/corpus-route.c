/* corpus route: real drawings on A4: how near to the least conceivable time are they drawn, how much
 * sooner than in the order of the document, where does the time go, how far does the ink lie from the
 * planned line, and how true is the time told before?
 * Usage: corpus-route [N] [DIR] [--OPTION=VALUE...]: N drawings (40 by default) of DIR or of Debian's
 * openclipart-svg, each through the chain, by these planning options, and the virtual machine. With
 * DT_NO_RIG set the time told stands for the rig's, and the ink is not looked at.
 *
 * Beside the lower bound, whose terms lower-bound.h explains, stands the time over that bound
 * without what the turns of the ink cost at least (`/flat`): ink at the limits of the axes as if
 * they had no mass and no slack. Homing is left out on both sides. */
#include "drive.h"
#include "support/files.h"
#include "lower-bound.h"
#include "support/verdict.h"

#include "drawtrue/job.h"
#include "drawtrue/options.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define PROFILE "examples/workshop.ini"
#define RIG "bench/rig.ini"

/* One drawing -------------------------------------------------------------------------------- */

/* As it is done today: in the order of the document, a lift between any two strokes, everything at
 * the one speed that the slower axis can keep. */
static double today_s(const DtProfile *p, const DtJob *job)
{
    g_autoptr(GError) error = NULL;
    DtCost cost = dt_profile_cost(p);
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    o.keep_order = TRUE;
    o.join = 0;
    g_auto(DtSequence) q = {0};
    g_auto(DtMoves) moves = {0};
    DtProfile exact = *p; /* shares what it points to, and is not freed */
    exact.ink_tolerance = 0;
    double feed = MIN(p->speed[0], p->speed[1]);
    if (!dt_route_order(&job->strokes, &cost, &p->rack, &o, &q, &error) ||
        !dt_machine_moves(&exact, &q, &moves, &error))
        return 0;
    for (size_t i = 0; i < moves.n; i++) {
        if (moves.m[i].kind == DT_MOVE_TRAVEL)
            moves.m[i].kind = DT_MOVE_SLACK; /* a travel that heeds its feed */
        moves.m[i].feed_mm_s = feed;
    }
    DtTimes t;
    dt_machine_time(p, &moves, FALSE, &t);
    return t.total_s - t.home_s;
}

typedef struct {
    double rig_s, estimate_s, today_s;
    LowerBound least;
    double retraced; /* of all ink */
    DtTimes times;
    WitnessError error;
    DtRigFigures rig;
} Figures;

static gboolean through_rig(const DtProfile *p, const DtMoves *moves, const char *folder,
                            DtRigFigures *figures, GError **error)
{
    gsize len;
    g_autofree char *text = dt_code_write(p, moves, &len, error);
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    *figures = (DtRigFigures){0};
    return text && dt_base_write_file(program, text, len, error) &&
           drive_rig(p, program, RIG, folder, figures, error);
}

/* How far the ink that landed lies from the job's lines. */
static gboolean compare_ink(const DtProfile *p, const DtJob *job, const char *folder, Figures *f,
                            GError **error)
{
    g_autofree char *ink = g_build_filename(folder, "ink.json", NULL);
    g_auto(WitnessInk) landed = {0};
    Verdict v;
    if (!verdict_read_ink(ink, &p->rack, &job->sequence, &landed, error))
        return FALSE;
    verdict_of(job, &landed, &f->rig, &v);
    f->error = v.error;
    return TRUE;
}

static DtProfile *profile_a4(GError **error)
{
    DtProfile *p = dt_profile_load(PROFILE, error);
    if (p) {
        p->paper_w = 297;
        p->paper_h = 210;
        p->paper_at = dt_point(2, 5);
    }
    return p;
}

/* The time told for what comes after homing, whose lift counts as its own. */
static double told_s(const DtProfile *p, const DtTimes *t)
{
    return t->total_s - t->home_s - p->lift_s;
}

/* What homing takes on the rig: a program with one short line, less that line. */
static gboolean measure_homing(const char *folder, double *homing_s, GError **error)
{
    g_autoptr(DtProfile) p = profile_a4(error);
    g_auto(DtSequence) line = {0};
    g_auto(DtMoves) moves = {0};
    DtRigFigures figures;
    dt_sequence_begin(&line, 0, 0);
    dt_sequence_point(&line, dt_point(20, 20));
    dt_sequence_point(&line, dt_point(30, 20));
    if (!p || !dt_machine_moves(p, &line, &moves, error) ||
        !through_rig(p, &moves, folder, &figures, error))
        return FALSE;
    DtTimes t;
    dt_machine_time(p, &moves, FALSE, &t);
    *homing_s = figures.time_s - told_s(p, &t);
    return TRUE;
}

static gboolean measure(const char *svg, const DtOptions *options, const char *folder,
                        double homing_s, Figures *f, GError **error)
{
    g_autoptr(DtProfile) a4 = profile_a4(error);
    g_auto(DtJob) job = {0};
    DtPlanInput input = {0};
    if (!a4 || !dt_options_apply(options, a4, &input, error))
        return FALSE;
    g_autoptr(DtProfile) p = input.profile;
    if (!dt_job_plan(p, svg, &input.job, &job, NULL, error))
        return FALSE;
    f->rig_s = f->estimate_s = told_s(p, &job.times);
    if (g_getenv("DT_NO_RIG") == NULL) {
        if (!through_rig(p, &job.moves, folder, &f->rig, error) ||
            !compare_ink(p, &job, folder, f, error))
            return FALSE;
        f->rig_s = f->rig.time_s - homing_s;
    }
    f->least = lower_bound(p, &job.strokes, input.job.route.join, dt_point(0, 0), p->change_at);
    f->retraced = job.sequence.retraced_mm / MAX(dt_sequence_ink_mm(&job.sequence), 1e-9);
    f->times = job.times;
    f->times.at_s = NULL;
    f->today_s = today_s(p, &job);
    return TRUE;
}

/* Table -------------------------------------------------------------------------------------- */

static int rising(const void *x, const void *y)
{
    double a = *(const double *)x, b = *(const double *)y;
    return (a > b) - (a < b);
}

static double flat_s(const LowerBound *l)
{
    return l->sum_s - l->turning_s;
}

static double median(GArray *v)
{
    g_array_sort(v, rising);
    return g_array_index(v, double, v->len / 2);
}

static void summarise(GArray *figures)
{
    size_t n = figures->len, within[2] = {0};
    double rig = 0, least = 0, flat = 0, today = 0;
    g_autoptr(GArray) by_bound = g_array_new(FALSE, FALSE, sizeof(double));
    g_autoptr(GArray) by_flat = g_array_new(FALSE, FALSE, sizeof(double));
    g_autoptr(GArray) by_today = g_array_new(FALSE, FALSE, sizeof(double));
    for (size_t i = 0; i < n; i++) {
        const Figures *f = &g_array_index(figures, Figures, i);
        double e = fabs(f->estimate_s / f->rig_s - 1), a = f->rig_s / f->least.sum_s,
               b = f->rig_s / flat_s(&f->least), c = f->rig_s / f->today_s;
        within[0] += e <= 0.01;
        within[1] += e <= 0.02;
        rig += f->rig_s;
        least += f->least.sum_s;
        flat += flat_s(&f->least);
        today += f->today_s;
        g_array_append_val(by_bound, a);
        g_array_append_val(by_flat, b);
        g_array_append_val(by_today, c);
    }
    if (n == 0)
        return;
    printf("\n%zu drawn, %.1f h in all.  Time over: the lower bound, the flat one, today's\n"
           "  median %30.3f %13.3f %9.3f\n  all together %24.3f %13.3f %9.3f\n"
           "Estimate within 1 %% on %.1f %%, within 2 %% on %.1f %%.\n",
           n, rig / 3600, median(by_bound), median(by_flat), median(by_today), rig / least,
           rig / flat, rig / today, 100.0 * (double)within[0] / (double)n,
           100.0 * (double)within[1] / (double)n);
}

static void print_head(void)
{
    printf("%-24s %6s %6s %6s %6s %6s %6s | %% of it: %4s %10s %8s %6s %6s | %9s %6s %6s | ink "
           "off: %5s %6s %7s %7s\n",
           "drawing", "rig s", "off %", "bound s", "/bound", "/flat", "/order", "ink", "slack down",
           "slack up", "travel", "lifts", "lifts", "bound", "twice%", "p95", "max", "bare mm",
           "starved");
}

static void print_row(const Figures *f)
{
    const LowerBound *l = &f->least;
    const DtTimes *t = &f->times;
    const double share = 100 / (t->total_s - t->home_s);
    printf(" %6.0f %+6.2f %7.0f %6.3f %6.3f %6.3f | %14.1f %10.1f %8.1f %6.1f %6.1f | %9zu %6zu "
           "%6.1f | "
           "%14.3f %6.3f %7.1f %7zu\n",
           f->rig_s, 100 * (f->estimate_s / f->rig_s - 1), l->sum_s, f->rig_s / l->sum_s,
           f->rig_s / flat_s(l), f->rig_s / f->today_s, share * t->ink_s,
           share * (t->slack_s - t->slack_up_s), share * t->slack_up_s,
           share * (t->travel_s - t->slack_s), share * t->lift_s, t->lifts, l->runs,
           100 * f->retraced, f->error.p95, f->error.max, f->error.missing, (size_t)f->rig.starved);
    fflush(stdout);
}

/* Takes the planning options out of the arguments. */
static gboolean take_options(int *argc, char **argv, DtOptions *o, GError **error)
{
    int kept = 1;
    for (int i = 1; i < *argc; i++) {
        if (!g_str_has_prefix(argv[i], "--")) {
            argv[kept++] = argv[i];
            continue;
        }
        g_auto(GStrv) parts = g_strsplit(argv[i] + 2, "=", 2);
        if (!dt_options_set(o, parts[0], parts[1], error))
            return FALSE;
    }
    *argc = kept;
    return TRUE;
}

int main(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtOptions) options = dt_options_new();
    g_autoptr(GPtrArray) files = take_options(&argc, argv, options, &error)
                                     ? files_for_corpus(argc, argv, 40, &error)
                                     : NULL;
    g_autofree char *folder = error ? NULL : g_dir_make_tmp("drawtrue-corpus-XXXXXX", &error);
    double homing_s = 0;
    if (!files || !folder || !measure_homing(folder, &homing_s, &error)) {
        fprintf(stderr, "corpus: %s\n", error->message);
        return error->code;
    }
    g_autoptr(GArray) figures = g_array_new(FALSE, FALSE, sizeof(Figures));
    printf("Homing takes %.1f s on the rig and is left out.\n", homing_s);
    print_head();
    for (guint i = 0; i < files->len; i++) {
        Figures f = {0};
        g_autoptr(GError) failed = NULL;
        g_autofree char *name = g_path_get_basename(files->pdata[i]);
        printf("%-24.24s", name);
        if (!measure(files->pdata[i], options, folder, homing_s, &f, &failed)) {
            printf(" %s\n", failed->message);
            continue;
        }
        print_row(&f);
        g_array_append_val(figures, f);
    }
    summarise(figures);
    return 0;
}
