/* corpus route: real drawings, filled, on A4: how near to the least conceivable time are they
 * drawn, how much sooner than as things are done today, and how true is the time told before?
 * Usage: corpus-route [N] [DIR]: N drawings (40 by default) of DIR or of Debian's openclipart-svg,
 * each through the chain and the virtual machine. With DT_NO_RIG set the time told stands for the
 * rig's.
 *
 * Beside the lower bound, whose terms lower-bound.h explains, stands the time over that bound
 * without what the turns of the ink cost at least (`/flat`): ink at the limits of the axes as if
 * they had no mass and no slack. Homing is left out on both sides. */
#include "drive.h"
#include "support/files.h"
#include "lower-bound.h"

#include "drawtrue/job.h"

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
    double feed = MIN(p->speed[0], p->speed[1]);
    if (!dt_route_order(&job->strokes, &cost, &p->rack, &o, &q, &error) ||
        !dt_machine_moves(p, &q, &moves, &error))
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
    DtTimes times;
} Figures;

static gboolean through_rig(const DtProfile *p, const DtMoves *moves, const char *folder,
                            double *time_s, GError **error)
{
    gsize len;
    g_autofree char *text = dt_code_write(p, moves, &len, error);
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    DtRigFigures figures = {0};
    if (!text || !dt_base_write_file(program, text, len, error) ||
        !drive_rig(p, program, RIG, folder, &figures, error))
        return FALSE;
    *time_s = figures.time_s;
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
    dt_sequence_begin(&line, 0, 0);
    dt_sequence_point(&line, dt_point(20, 20));
    dt_sequence_point(&line, dt_point(30, 20));
    if (!p || !dt_machine_moves(p, &line, &moves, error) ||
        !through_rig(p, &moves, folder, homing_s, error))
        return FALSE;
    DtTimes t;
    dt_machine_time(p, &moves, FALSE, &t);
    *homing_s -= told_s(p, &t);
    return TRUE;
}

static gboolean measure(const char *svg, const char *folder, double homing_s, Figures *f,
                        GError **error)
{
    g_autoptr(DtProfile) p = profile_a4(error);
    g_auto(DtJob) job = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    if (!p || !dt_job_plan(p, svg, &o, &job, NULL, error))
        return FALSE;
    f->rig_s = f->estimate_s = told_s(p, &job.times);
    if (g_getenv("DT_NO_RIG") == NULL) {
        if (!through_rig(p, &job.moves, folder, &f->rig_s, error))
            return FALSE;
        f->rig_s -= homing_s;
    }
    f->least = lower_bound(p, &job.strokes, o.route.join, dt_point(0, 0), p->change_at);
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
    printf("%-24s %6s %6s %6s %6s %6s %6s %6s | over the bound's: %5s %9s %6s | %7s\n", "drawing",
           "rig s", "told s", "off %", "bound s", "/bound", "/flat", "/today", "ink", "lifts",
           "travel", "slack s");
}

static void print_row(const Figures *f)
{
    const LowerBound *l = &f->least;
    g_autofree char *lifts = g_strdup_printf("%zu/%zu", f->times.lifts, l->runs);
    printf(" %6.0f %6.0f %+6.2f %7.0f %6.3f %6.3f %6.3f | %23.3f %9s %6.2f | %7.0f\n", f->rig_s,
           f->estimate_s, 100 * (f->estimate_s / f->rig_s - 1), l->sum_s, f->rig_s / l->sum_s,
           f->rig_s / flat_s(l), f->rig_s / f->today_s,
           (f->times.ink_s + f->times.slack_s) / (l->straight_s + l->turning_s), lifts,
           (f->times.travel_s - f->times.slack_s) / l->travel_s, f->times.slack_s);
    fflush(stdout);
}

int main(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) files = files_for_corpus(argc, argv, 40, &error);
    g_autofree char *folder = g_dir_make_tmp("drawtrue-corpus-XXXXXX", &error);
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
        if (!measure(files->pdata[i], folder, homing_s, &f, &failed)) {
            printf(" %s\n", failed->message);
            continue;
        }
        print_row(&f);
        g_array_append_val(figures, f);
    }
    summarise(figures);
    return 0;
}
