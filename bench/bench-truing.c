/* bench-truing: random machines with everything wrong, through the whole loop: a sheet, two scans, three
 * rule readings, corrections, and then a drawing on the same machine. Prints the error of the ink, the errors
 * of each kind of figure, and how often the truth lies in the stated intervals.
 * Usage: bench-truing [N] [--seed S] [--art FILE] [--after]; with --after the drawing is made corrected only. */
#include "truing-loop.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { KINDS = DT_ERROR_OF_SCATTER + 1 };

static const char *const kind_names[KINDS] = {"scale",  "square", "slack", "position", "straight",
                                              "pulley", "gear",   "twist", "scatter"};

typedef struct {
    GArray *p95, *largest, *before, *told; /* double: of each machine */
    GArray *off[KINDS];                    /* |figure - truth| */
    guint inside[KINDS], all[KINDS];
    guint one_scan_unknown;
    double seconds, solve_s;
    gboolean after_only; /* the drawing is not made without corrections */
} Tally;

static int rising(const void *a, const void *b)
{
    const double d = *(const double *)a - *(const double *)b;
    return (d > 0) - (d < 0);
}

static double quantile(GArray *v, double q)
{
    if (v->len == 0)
        return NAN;
    g_array_sort(v, rising);
    return g_array_index(v, double, (guint)(q * (v->len - 1) + 0.5));
}

static void add(GArray *v, double x)
{
    g_array_append_val(v, x);
}

static void tally_figures(Tally *t, const TruthMachine *m, const DtFigures *f)
{
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        const double truth = loop_truth(m, f, g);
        if (!g->known || isnan(truth) || (int)g->kind >= KINDS)
            continue;
        const double off = fabs(g->value - truth);
        add(t->off[g->kind], off);
        t->all[g->kind]++;
        t->inside[g->kind] += off <= 1.96 * g->sd;
    }
}

static gboolean try_machine(Tally *t, guint32 seed, const char *art, const char *folder, GError **error)
{
    static DtJob job; /* the same for all */
    TruthMachine m;
    WitnessError before = {0}, after;
    LoopSheet s = {0};
    truth_draw(&m, seed, 297, 210);
    g_autoptr(DtProfile) p = truth_profile(&m);
    if (!loop_draw_sheet(&s, &m, p, folder, 2, 300, error)) {
        loop_sheet_clear(&s);
        return FALSE;
    }
    t->seconds = s.seconds;
    const gint64 from = g_get_monotonic_time();
    g_autoptr(DtFigures) f = loop_solve(&s, p, 2, error);
    t->solve_s = (double)(g_get_monotonic_time() - from) * 1e-6;
    g_autoptr(DtFigures) one = f ? loop_solve(&s, p, 1, error) : NULL;
    gboolean good = one != NULL && (job.sequence.n > 0 || loop_plan_art(p, art, &job, error)) &&
                    (t->after_only || loop_draw_art(&m, p, &job.sequence, &before, error));
    if (good) {
        for (size_t i = 0; i < one->n; i++)
            t->one_scan_unknown += one->f[i].kind == DT_ERROR_OF_SQUARE && !one->f[i].known;
        tally_figures(t, &m, f);
        loop_correct(p, f);
        good = loop_draw_art(&m, p, &job.sequence, &after, error);
    }
    if (good) {
        add(t->before, before.p95);
        add(t->p95, after.p95);
        add(t->largest, after.max);
        add(t->told, f->ink_after_mm / after.p95);
        printf("%u: %.3f -> %.4f, largest %.3f at %.0f,%.0f, told %.4f; play %.3f, scatter %.3f %.3f\n", seed, before.p95,
               after.p95, after.max, after.worst.x, after.worst.y, f->ink_after_mm, m.play, m.scatter[0], m.scatter[1]);
    }
    loop_sheet_clear(&s);
    return good;
}

static void print_tally(Tally *t, guint n)
{
    printf("\n%u machines; a sheet of %.0f s, solved in %.2f s\n", n, t->seconds, t->solve_s);
    printf("ink, p95, mm: before %.3f (worst %.3f); after: median %.4f, worst %.4f; largest error %.3f\n",
           quantile(t->before, 0.5), quantile(t->before, 1), quantile(t->p95, 0.5), quantile(t->p95, 1),
           quantile(t->largest, 1));
    printf("told over found: median %.2f, from %.2f to %.2f\n", quantile(t->told, 0.5), quantile(t->told, 0),
           quantile(t->told, 1));
    printf("one scan: squareness unknown on %u of %u\n", t->one_scan_unknown, n);
    for (int k = 0; k < KINDS; k++)
        if (t->all[k] > 0)
            printf("%-9s off by: median %.5f, 95 %% %.5f, largest %.5f; %5u values, %.1f %% in their interval\n",
                   kind_names[k], quantile(t->off[k], 0.5), quantile(t->off[k], 0.95), quantile(t->off[k], 1),
                   t->all[k], 100.0 * t->inside[k] / t->all[k]);
}

int main(int argc, char **argv)
{
    Tally t = {0};
    int n = 10, seed = 1;
    const char *art = "examples/garden-bed.svg";
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc)
            seed = atoi(argv[++i]);
        else if (strcmp(argv[i], "--after") == 0)
            t.after_only = TRUE;
        else if (strcmp(argv[i], "--art") == 0 && i + 1 < argc)
            art = argv[++i];
        else
            n = atoi(argv[i]);
    }
    GArray **arrays[] = {&t.p95, &t.largest, &t.before, &t.told};
    for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
        *arrays[i] = g_array_new(FALSE, FALSE, sizeof(double));
    for (int k = 0; k < KINDS; k++)
        t.off[k] = g_array_new(FALSE, FALSE, sizeof(double));
    g_autofree char *folder = g_dir_make_tmp("truing-XXXXXX", NULL);
    guint failed = 0;
    for (int i = 0; i < n; i++) {
        g_autoptr(GError) error = NULL;
        if (!try_machine(&t, (guint32)(seed + i), art, folder, &error)) {
            printf("%d: %s\n", seed + i, error->message);
            failed++;
        }
        fflush(stdout);
    }
    g_rmdir(folder);
    print_tally(&t, (guint)n);
    return failed > 0;
}
