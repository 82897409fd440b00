/* bench-truing-eye: random machines through the loop that needs no scanner: a sheet for slack and scale read
 * by eye, corrections, a second one for squareness, corrections, and a drawing. Prints the error of the ink
 * with all that can be wrong, and with straight rails, even scales and round pulleys; how far each kind of figure is
 * off and how often the truth is in its interval; and how often a change of slack is told, and told where there is none.
 * Usage: bench-truing-eye [N] [--seed S] [--art FILE] [--pairs N] [--only 0|1] [--figures]; with --figures
 * nothing is drawn but the sheets */
#include "sample.h"
#include "support/eye-reader.h"
#include "truing-loop.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    GArray *before, *after, *ratio;      /* double: of each machine */
    GArray *off[DT_ERROR_OF_PULLEY + 1]; /* errors of figures in their unit, by kind */
    guint inside[DT_ERROR_OF_PULLEY + 1];
    guint unread;
    gboolean figures_only;
} Tally;

/* Draws a sheet on the machine and reads it. */
static DtFigures *draw_and_read(const TruthMachine *t, const DtProfile *p, guint kinds,
                                guint32 seed, DtTestSheet **sheet, GError **error)
{
    g_autoptr(DtTestSheet) s = dt_sheet_new(p, kinds, "2026-03-14", 1, error);
    gsize len = 0;
    g_autofree char *program = s ? dt_sheet_write(s, p, &len, error) : NULL;
    g_autofree char *truth = truth_rig_text(t);
    g_autoptr(DtRig) rig = program ? dt_rig_new_from_text(truth, "truth", error) : NULL;
    if (rig == NULL)
        return NULL;
    dt_rig_run_text(rig, program, len);
    EyeReader reader;
    eye_reader_init(&reader, s, rig, seed);
    reader.corner = truth_ink(t, s->paper_at, (const int[]){1, 1});
    g_autoptr(DtEyeReadings) r = dt_eye_readings_new(s);
    eye_reader_read(&reader, r);
    eye_reader_clear(&reader);
    DtFigures *f = dt_eye_solve(p, s, r, error);
    *sheet = g_steal_pointer(&s);
    return f;
}

static DtProfile *correct(const DtProfile *p, const char *path, const DtTestSheet *s,
                          const DtFigures *f, GError **error)
{
    size_t n;
    DtProfileChange *c = dt_truing_changes(p, s, f, &n);
    const gboolean good = dt_profile_update(path, NULL, c, n, error);
    dt_truing_free_changes(c, n);
    return good ? dt_profile_load(path, error) : NULL;
}

static gboolean has_curve(const DtFigures *f, DtErrorKind kind, int axis)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis)
            return TRUE;
    return FALSE;
}

/* A curve whose knots are not among the figures, along the paper: what is straight of it belongs to scale and
 * squareness all the same. */
static void add_knots(const DtTestSheet *s, const DtFigures *f, DtErrorKind kind, GArray *knots)
{
    enum { KNOTS = 5 };
    for (int axis = 0; axis < 2; axis++) {
        const double from = axis == 0 ? s->paper_at.x : s->paper_at.y,
                     length = axis == 0 ? s->paper_w : s->paper_h;
        for (int k = 0; k < KNOTS && !has_curve(f, kind, axis); k++) {
            const DtFigure g = {.kind = kind, .axis = axis, .at = from + length * k / (KNOTS - 1)};
            g_array_append_val(knots, g);
        }
    }
}

static void tally_figures(Tally *t, const TruthMachine *m, const DtTestSheet *s, const DtFigures *f)
{
    g_autoptr(GArray) knots = g_array_new(FALSE, FALSE, sizeof(DtFigure));
    g_array_append_vals(knots, f->f, (guint)f->n);
    add_knots(s, f, DT_ERROR_OF_POSITION, knots);
    add_knots(s, f, DT_ERROR_OF_STRAIGHT, knots);
    const DtFigures all = {.f = (DtFigure *)(void *)knots->data, .n = knots->len};
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (g->kind > DT_ERROR_OF_PULLEY)
            continue;
        double truth = loop_truth(m, &all, g);
        if (g->kind == DT_ERROR_OF_BACKLASH && isnan(g->at))
            truth = truth_table_at(&m->slack[g->axis], m->paper[g->axis] / 2 + 5);
        const double off = fabs(g->value - truth);
        sample_add(t->off[g->kind], off);
        t->inside[g->kind] += off <= 1.96 * g->sd;
    }
}

static gboolean try_machine(Tally *t, const TruthMachine *m, DtJob *job, const char *art,
                            const char *path, GError **error)
{
    WitnessError before, after;
    g_autofree char *text = truth_profile_text(m);
    g_autoptr(DtTestSheet) first = NULL, second = NULL;
    if (!g_file_set_contents(path, text, -1, error))
        return FALSE;
    g_autoptr(DtProfile) p0 = dt_profile_load(path, error);
    g_autoptr(DtFigures) f1 =
        p0 ? draw_and_read(m, p0, DT_SHEET_SLACK | DT_SHEET_SCALE, m->seed, &first, error) : NULL;
    g_autoptr(DtProfile) p1 = f1 ? correct(p0, path, first, f1, error) : NULL;
    g_autoptr(DtFigures) f2 =
        p1 ? draw_and_read(m, p1, DT_SHEET_SQUARE, m->seed + 1000000, &second, error) : NULL;
    g_autoptr(DtProfile) p2 = f2 ? correct(p1, path, second, f2, error) : NULL;
    if (p2 == NULL)
        return FALSE;
    tally_figures(t, m, first, f1);
    tally_figures(t, m, second, f2);
    t->unread += f2->n == 0;
    if (t->figures_only) {
        if (f2->n == 0)
            printf("%u: squareness not read\n", m->seed);
        return TRUE;
    }
    if ((job->sequence.n == 0 && !loop_plan_art(p0, art, job, error)) ||
        !loop_draw_art(m, p0, &job->sequence, &before, error) ||
        !loop_draw_art(m, p2, &job->sequence, &after, error))
        return FALSE;
    sample_add(t->before, before.p95);
    sample_add(t->after, after.p95);
    sample_add(t->ratio, before.p95 / after.p95);
    printf("%u: %.3f -> %.4f, largest %.3f%s\n", m->seed, before.p95, after.p95, after.max,
           f2->n == 0 ? ", squareness not read" : "");
    return TRUE;
}

static void tally_init(Tally *t)
{
    GArray **arrays[] = {&t->before, &t->after, &t->ratio};
    *t = (Tally){0};
    for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
        *arrays[i] = g_array_new(FALSE, FALSE, sizeof(double));
    for (int k = 0; k <= DT_ERROR_OF_PULLEY; k++)
        t->off[k] = g_array_new(FALSE, FALSE, sizeof(double));
}

static void print_tally(Tally *t, const char *what)
{
    printf("\n%s: squareness not read on %u\n", what, t->unread);
    if (!t->figures_only)
        printf("%u machines, ink, p95, mm: before %.3f, after: median %.4f, worst %.4f; better by "
               "at least %.1f "
               "times\n",
               t->after->len, sample_quantile(t->before, 0.5), sample_quantile(t->after, 0.5),
               sample_quantile(t->after, 1), sample_quantile(t->ratio, 0));
    for (int k = 0; k <= DT_ERROR_OF_PULLEY; k++)
        if (t->off[k]->len > 0) {
            double factor;
            const char *unit = dt_error_unit((DtErrorKind)k, &factor);
            printf("%s: off by %.5g, 95 %%: %.5g %s; %.1f %% of %u in their interval\n",
                   dt_error_title((DtErrorKind)k), sample_quantile(t->off[k], 0.5) * factor,
                   sample_quantile(t->off[k], 0.95) * factor, unit,
                   100.0 * t->inside[k] / t->off[k]->len, t->off[k]->len);
        }
    printf("\n");
}

/* What verniers can see alone. */
static void straighten(TruthMachine *m)
{
    for (int i = 0; i < 2; i++) {
        m->straight[i].n = m->position[i].n = m->twist[i].n = 0;
        m->pulley[i] = 0;
    }
    m->wave = 0;
}

/* Slack before and after a repair that changes it by `change`, or none: how often the verdict is right; and
 * the root mean square of the differences over their standard uncertainty. */
static guint told(guint n, guint32 seed, double change, double *z_rms, GError **error)
{
    guint right = 0;
    double squares = 0, all = 0;
    for (guint i = 0; i < n; i++) {
        TruthMachine a, b;
        truth_draw(&a, seed + i, 210, 148);
        b = a;
        b.seed += 500000;
        double least = b.slack[0].value[0];
        for (int k = 1; k < b.slack[0].n; k++)
            least = MIN(least, b.slack[0].value[k]);
        for (int k = 0; k < b.slack[0].n;
             k++) /* all of it less, or where there is too little, more */
            b.slack[0].value[k] += least > change + 0.03 ? -change : change;
        g_autoptr(DtProfile) p = truth_profile(&a);
        g_autoptr(DtTestSheet) sa = NULL, sb = NULL;
        g_autoptr(DtFigures) fa = draw_and_read(&a, p, DT_SHEET_SLACK, a.seed * 2, &sa, error);
        g_autoptr(DtFigures) fb =
            fa ? draw_and_read(&b, p, DT_SHEET_SLACK, a.seed * 2 + 1, &sb, error) : NULL;
        if (fb == NULL) {
            printf("%u: %s\n", seed + i, *error ? (*error)->message : "?");
            g_clear_error(error);
            continue;
        }
        size_t n_c;
        g_autofree DtComparison *c = dt_truing_compare(fa, fb, &n_c);
        for (size_t k = 0; k < n_c; k++)
            if (c[k].kind == DT_ERROR_OF_MEAN_REVERSAL && c[k].axis == 0) {
                right += (c[k].verdict != DT_VERDICT_SAME) == (change != 0);
                squares += pow((c[k].b - c[k].a) / hypot(c[k].a_sd, c[k].b_sd), 2);
                all++;
            }
    }
    *z_rms = sqrt(squares / MAX(all, 1));
    return right;
}

int main(int argc, char **argv)
{
    int n = 3, seed = 1, pairs = 0, only = -1; /* 0: straight machines, 1: with everything wrong */
    gboolean figures_only = FALSE;
    const char *art = "examples/garden-bed.svg";
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc)
            seed = atoi(argv[++i]);
        else if (strcmp(argv[i], "--art") == 0 && i + 1 < argc)
            art = argv[++i];
        else if (strcmp(argv[i], "--only") == 0 && i + 1 < argc)
            only = atoi(argv[++i]);
        else if (strcmp(argv[i], "--pairs") == 0 && i + 1 < argc)
            pairs = atoi(argv[++i]);
        else if (strcmp(argv[i], "--figures") == 0)
            figures_only = TRUE;
        else
            n = atoi(argv[i]);
    }
    g_autofree char *folder = g_dir_make_tmp("truing-eye-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "machine.ini", NULL);
    g_autoptr(GError) error = NULL;
    g_auto(DtJob) job = {0}; /* the drawing, planned once */
    guint failed = 0;
    for (int kind = 0; kind < 2; kind++) {
        Tally t;
        if (only >= 0 && kind != only)
            continue;
        tally_init(&t);
        t.figures_only = figures_only;
        for (int i = 0; i < n; i++) {
            TruthMachine m;
            truth_draw(&m, (guint32)(seed + i), 297, 210);
            if (kind == 0)
                straighten(&m);
            if (!try_machine(&t, &m, &job, art, path, &error)) {
                printf("%d: %s\n", seed + i, error->message);
                g_clear_error(&error);
                failed++;
            }
            fflush(stdout);
        }
        print_tally(&t, kind == 0 ? "straight rails, even scales, round pulleys, no twist"
                                  : "everything wrong");
    }
    if (pairs > 0) {
        double changed, same;
        const guint right = told((guint)pairs, (guint32)seed, 0.05, &changed, &error);
        const guint none = told((guint)pairs, (guint32)seed, 0, &same, &error);
        printf("verdicts on slack: a change of 0.05 mm told in %.1f %% of %d pairs, none told in "
               "%.1f %%; without one, differences are %.2f of their stated uncertainty\n",
               100.0 * right / pairs, pairs, 100.0 * none / pairs, same);
    }
    g_unlink(path);
    g_rmdir(folder);
    return failed > 0;
}
