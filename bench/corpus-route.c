/* corpus route: real drawings, filled, on A4: how near to the least conceivable time are they
 * drawn, how much sooner than as things are done today, and how true is the time told before?
 * Usage: corpus-route [N] [DIR]: N drawings (40 by default) of DIR or of Debian's openclipart-svg,
 * each through the chain and the virtual machine.
 *
 * The lower bound of a drawing, honestly: its ink at the fastest that each axis allows along each
 * segment, as if no corner had to be slowed down for; one lift and one drop for each pen-down run,
 * of which the strokes need as many at least as the join allows (per pen and per group of strokes
 * whose ends lie within the join of each other, half the number of ends that have no partner, at
 * least one); and per pen the travel of a minimum spanning tree over those groups, home included,
 * reckoned by the fastest of rest-to-rest hops between any two ends. Homing is left out on both
 * sides. */
#include "drive.h"
#include "files.h"

#include "drawtrue/job.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define PROFILE "examples/workshop.ini"
#define RIG "bench/rig.ini"

/* Lower bound -------------------------------------------------------------------------------- */

/* An end of an open stroke, or the box around a closed one: no hop to the stroke is shorter than
 * one to here. */
typedef struct {
    DtBox box;
    size_t stroke;
    gboolean loop, met; /* another stroke comes within the join */
    double hop_s;       /* from the tree grown so far */
} End;

typedef struct {
    const DtStrokes *strokes;
    DtCost cost;
    double join;
    End *ends;
    size_t n;
    size_t *group; /* of each stroke: union-find by halving */
} Bound;

static size_t group_of(Bound *b, size_t i)
{
    while (b->group[i] != i)
        i = b->group[i] = b->group[b->group[i]];
    return i;
}

static double gap(double a0, double a1, double b0, double b1)
{
    return MAX(0, MAX(b0 - a1, a0 - b1));
}

static DtPoint between(const End *a, const End *b)
{
    return dt_point(gap(a->box.x0, a->box.x1, b->box.x0, b->box.x1),
                    gap(a->box.y0, a->box.y1, b->box.y0, b->box.y1));
}

static int by_left(const void *x, const void *y)
{
    const End *a = x, *b = y;
    return (a->box.x0 > b->box.x0) - (a->box.x0 < b->box.x0);
}

static void add_end(Bound *b, DtBox box, size_t stroke, gboolean loop)
{
    b->ends[b->n++] = (End){box, stroke, loop, FALSE, G_MAXDOUBLE};
}

static void gather_ends(Bound *b, unsigned pen)
{
    b->n = 0;
    for (size_t i = 0; i < b->strokes->n; i++) {
        const DtStroke *k = &b->strokes->strokes[i];
        const DtPoint *p = b->strokes->pts + k->first;
        b->group[i] = i;
        if (k->pen != pen || k->n == 0)
            continue;
        DtBox box = DT_BOX_EMPTY;
        for (size_t j = 0; j < k->n; j++)
            box = dt_box_add_point(box, p[j]);
        if (k->closed) {
            add_end(b, box, i, TRUE);
            continue;
        }
        add_end(b, (DtBox){p[0].x, p[0].y, p[0].x, p[0].y}, i, FALSE);
        p += k->n - 1;
        add_end(b, (DtBox){p->x, p->y, p->x, p->y}, i, FALSE);
    }
    qsort(b->ends, b->n, sizeof *b->ends, by_left);
}

/* Groups what could be joined. Boxes stand for loops, so that too much is joined rather than too
 * little: the bound stays one. */
static void group_ends(Bound *b)
{
    for (size_t i = 0; i < b->n; i++)
        for (size_t j = i + 1; j < b->n; j++) {
            End *e = &b->ends[i], *f = &b->ends[j];
            if (f->box.x0 > e->box.x1 + b->join)
                break;
            DtPoint d = between(e, f);
            if (hypot(d.x, d.y) > b->join)
                continue;
            e->met = f->met = TRUE;
            b->group[group_of(b, e->stroke)] = group_of(b, f->stroke);
        }
}

/* At least so many pen-down runs: half the ends that nothing meets in each group, and one. */
static size_t least_runs(Bound *b)
{
    g_autofree size_t *lonely = g_new0(size_t, b->strokes->n);
    g_autofree gboolean *seen = g_new0(gboolean, b->strokes->n);
    for (size_t i = 0; i < b->n; i++) {
        size_t g = group_of(b, b->ends[i].stroke);
        seen[g] = TRUE;
        lonely[g] += !b->ends[i].met && !b->ends[i].loop;
    }
    size_t runs = 0;
    for (size_t g = 0; g < b->strokes->n; g++)
        runs += seen[g] ? MAX(1, (lonely[g] + 1) / 2) : 0;
    return runs;
}

/* Prim 1957, over the groups and home. */
static double spanning_s(Bound *b)
{
    double sum = 0;
    End latest = {.box = {0, 0, 0, 0}};
    size_t latest_group = G_MAXSIZE;
    g_autofree size_t *group = g_new(size_t, MAX(b->n, 1));
    for (size_t i = 0; i < b->n; i++)
        group[i] = group_of(b, b->ends[i].stroke);
    for (size_t left = b->n; left > 0; left--) {
        size_t next = 0;
        for (size_t i = 0; i < left; i++) {
            End *e = &b->ends[i];
            double s = group[i] == latest_group
                           ? 0
                           : dt_route_hop_s(&b->cost, dt_point(0, 0), between(&latest, e));
            e->hop_s = MIN(e->hop_s, s);
            if (e->hop_s < b->ends[next].hop_s)
                next = i;
        }
        sum += b->ends[next].hop_s;
        latest = b->ends[next];
        latest_group = group[next];
        b->ends[next] = b->ends[left - 1];
        group[next] = group[left - 1];
    }
    return sum;
}

static double ink_s(const DtProfile *p, const DtStrokes *s, const DtCost *cost)
{
    double sum = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        for (size_t j = 0; j + !k->closed < k->n; j++) {
            DtPoint d = dt_point_sub(dt_machine_command(p, s->pts[k->first + (j + 1) % k->n]),
                                     dt_machine_command(p, s->pts[k->first + j]));
            double v = dt_route_speed_along(cost, d);
            sum += v > 0 ? hypot(d.x, d.y) / v : 0;
        }
    }
    return sum;
}

/* The parts of the lower bound. */
typedef struct {
    double ink_s, travel_s, lift_s, sum_s;
    size_t runs;
} Least;

static Least lower_bound(const DtProfile *p, const DtJob *job, double join)
{
    Bound b = {.strokes = &job->strokes, .cost = dt_profile_cost(p), .join = join};
    b.ends = g_new(End, 2 * MAX(job->strokes.n, 1));
    b.group = g_new(size_t, MAX(job->strokes.n, 1));
    Least least = {.ink_s = ink_s(p, &job->strokes, &b.cost)};
    for (unsigned pen = 0; pen < p->rack.n; pen++) {
        gather_ends(&b, pen);
        group_ends(&b);
        least.runs += least_runs(&b);
        least.travel_s += spanning_s(&b);
    }
    least.lift_s = (double)least.runs * (p->lift_s + p->drop_s);
    least.sum_s = least.ink_s + least.travel_s + least.lift_s;
    g_free(b.ends);
    g_free(b.group);
    return least;
}

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
    if (!dt_route_order(&job->strokes, &cost, &p->rack, &o, &q, NULL, NULL, &error) ||
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
    Least least;
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
    if (!p || !dt_job_plan(p, svg, &o, &job, NULL, NULL, error) ||
        !through_rig(p, &job.moves, folder, &f->rig_s, error))
        return FALSE;
    f->rig_s -= homing_s;
    f->estimate_s = told_s(p, &job.times);
    f->least = lower_bound(p, &job, o.route.join);
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

static void summarise(GArray *bound, GArray *today, GArray *estimate)
{
    size_t n = bound->len, within[2] = {0};
    if (n == 0)
        return;
    g_array_sort(bound, rising);
    g_array_sort(today, rising);
    for (size_t i = 0; i < n; i++) {
        double e = fabs(g_array_index(estimate, double, i));
        within[0] += e <= 0.01;
        within[1] += e <= 0.02;
    }
    printf("\n%zu drawn. Median time / lower bound: %.3f. Median time / today's: %.3f.\n"
           "Estimate within 1 %% on %.1f %%, within 2 %% on %.1f %%.\n",
           n, g_array_index(bound, double, n / 2), g_array_index(today, double, n / 2),
           100.0 * (double)within[0] / (double)n, 100.0 * (double)within[1] / (double)n);
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
    g_autoptr(GArray) bound = g_array_new(FALSE, FALSE, sizeof(double));
    g_autoptr(GArray) today = g_array_new(FALSE, FALSE, sizeof(double));
    g_autoptr(GArray) estimate = g_array_new(FALSE, FALSE, sizeof(double));
    printf("Homing takes %.1f s on the rig and is left out.\n", homing_s);
    printf("%-24s %7s %7s %6s %7s %7s %7s | over the bound's: %6s %7s %7s %8s\n", "drawing",
           "rig s", "told s", "off %", "bound s", "/bound", "/today", "ink", "lifts", "travel",
           "slack s");
    for (guint i = 0; i < files->len; i++) {
        Figures f = {0};
        g_autoptr(GError) failed = NULL;
        g_autofree char *name = g_path_get_basename(files->pdata[i]);
        printf("%-24.24s", name);
        if (!measure(files->pdata[i], folder, homing_s, &f, &failed)) {
            printf(" %s\n", failed->message);
            continue;
        }
        double off = f.estimate_s / f.rig_s - 1, by_bound = f.rig_s / f.least.sum_s,
               by_today = f.rig_s / f.today_s;
        printf(" %7.0f %7.0f %+6.2f %7.0f %7.3f %7.3f | %24.3f %7.3f %7.3f %8.0f\n", f.rig_s,
               f.estimate_s, 100 * off, f.least.sum_s, by_bound, by_today,
               f.times.ink_s / f.least.ink_s, (double)f.times.lifts / (double)f.least.runs,
               (f.times.travel_s - f.times.slack_s) / f.least.travel_s, f.times.slack_s);
        fflush(stdout);
        g_array_append_val(bound, by_bound);
        g_array_append_val(today, by_today);
        g_array_append_val(estimate, off);
    }
    summarise(bound, today, estimate);
    return 0;
}
