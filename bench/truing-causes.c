/* truing-causes: see truing-causes.h. */
#include "truing-causes.h"

#include "sample.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef enum {
    CAUSE_FIGURE, /* what is corrected: by the truth in place of the figure */
    CAUSE_TRUTH,  /* what is not: left out of the machine */
    CAUSE_PLAN,   /* the moves leave the planned lines by no more than the motors need */
} CauseSort;

typedef struct {
    const char *name;
    CauseSort sort;
    DtErrorKind kind; /* the expectation loses it */
} Cause;

static const Cause causes[] = {
    {"scale", CAUSE_FIGURE, DT_ERROR_OF_SCALE},
    {"square", CAUSE_FIGURE, DT_ERROR_OF_SQUARE},
    {"slack", CAUSE_FIGURE, DT_ERROR_OF_BACKLASH},
    {"position", CAUSE_FIGURE, DT_ERROR_OF_POSITION},
    {"straight", CAUSE_FIGURE, DT_ERROR_OF_STRAIGHT},
    {"pulley", CAUSE_FIGURE, DT_ERROR_OF_PULLEY},
    {"twist", CAUSE_FIGURE, DT_ERROR_OF_TWIST},
    {"scatter", CAUSE_TRUTH, DT_ERROR_OF_SCATTER},
    {"gear", CAUSE_TRUTH, DT_ERROR_OF_GEAR},
    {"play", CAUSE_TRUTH, DT_ERROR_OF_TIP_PLAY},
    {"ringing", CAUSE_TRUTH, DT_ERROR_OF_RINGING},
    {"moves", CAUSE_PLAN, 0},
};
enum { CAUSES = G_N_ELEMENTS(causes) };

static DtFigures *copy_figures(const DtFigures *f)
{
    DtFigures *c = g_new0(DtFigures, 1);
    *c = *f;
    c->f = g_memdup2(f->f, f->n * sizeof *f->f);
    c->notes = NULL;
    return c;
}

static void leave_out(TruthMachine *m, DtErrorKind kind)
{
    for (int i = 0; i < 2; i++) {
        m->scatter[i] = kind == DT_ERROR_OF_SCATTER ? 0 : m->scatter[i];
        m->gear[i] = kind == DT_ERROR_OF_GEAR ? 0 : m->gear[i];
        m->ring_hz[i] = kind == DT_ERROR_OF_RINGING ? 0 : m->ring_hz[i];
    }
    m->play = kind == DT_ERROR_OF_TIP_PLAY ? 0 : m->play;
}

/* The figures of a kind as they truly are, and without uncertainty. */
static void put_truth(const TruthMachine *m, DtFigures *f, const DtFigures *measured,
                      DtErrorKind kind)
{
    for (size_t i = 0; i < f->n; i++) {
        DtFigure *g = &f->f[i];
        if (g->kind != kind)
            continue;
        const double truth = loop_truth(m, measured, g);
        g->sd = 0;
        if (kind >= DT_ERROR_OF_GEAR && kind != DT_ERROR_OF_TWIST)
            g->value = 0;
        else if (!isnan(truth) && g->proposed)
            g->value = truth;
        if (kind == DT_ERROR_OF_PULLEY)
            g->value_2 = m->pulley_phase_deg[g->axis] * G_PI / 180;
    }
}

typedef struct {
    double p95, largest, expected; /* mm, of the ink */
    DtPoint worst;
} Ink;

/* The ink's error with one cause left out, as found and as expected; with all causes where `c` is NULL. */
static gboolean without(const TruthMachine *machine, const DtFigures *measured, const DtSequence *s,
                        const Cause *c, Ink *ink, GError **error)
{
    TruthMachine m = *machine;
    WitnessError e;
    DtExpectation x = {0};
    g_autoptr(DtProfile) p = truth_profile(machine);
    g_autoptr(DtFigures) f = copy_figures(measured);
    if (c && c->sort != CAUSE_PLAN)
        put_truth(machine, f, measured, c->kind);
    if (c && c->sort == CAUSE_TRUTH)
        leave_out(&m, c->kind);
    if (c && c->sort == CAUSE_PLAN)
        p->ink_tolerance = 0;
    loop_correct(p, f);
    if (!loop_draw_art(&m, p, s, &e, error) || !loop_expect(p, s, f, &x, error))
        return FALSE;
    *ink = (Ink){e.p95, e.max, x.p95_mm, e.worst};
    return TRUE;
}

/* The part of a whole that is lost without something, where both are roots of sums of squares; negative where the
 * whole is smaller. */
static double part(double whole, double rest)
{
    const double v = whole * whole - rest * rest;
    return copysign(sqrt(fabs(v)), v);
}

typedef struct {
    GArray *found[CAUSES + 1], *expected[CAUSES + 1],
        *largest[CAUSES + 1]; /* double: of each machine */
} Sums;

static void sums_init(Sums *t)
{
    for (int k = 0; k <= CAUSES; k++) {
        t->found[k] = g_array_new(FALSE, FALSE, sizeof(double));
        t->expected[k] = g_array_new(FALSE, FALSE, sizeof(double));
        t->largest[k] = g_array_new(FALSE, FALSE, sizeof(double));
    }
}

static void sums_clear(Sums *t)
{
    for (int k = 0; k <= CAUSES; k++) {
        g_array_unref(t->found[k]);
        g_array_unref(t->expected[k]);
        g_array_unref(t->largest[k]);
    }
}

static void sums_print(const Sums *t, int n)
{
    printf("\nwhat each cause adds to the ink's 95 %% error, mm, in squares, and the ink's largest "
           "error "
           "without it; %d machines\n",
           n);
    for (int k = 0; k <= CAUSES; k++)
        printf(
            "%-9s found: median %.4f, largest %.4f; expected: median %.4f; largest error: median "
            "%.3f, worst %.3f\n",
            k < CAUSES ? causes[k].name : "all", sample_quantile(t->found[k], 0.5),
            sample_quantile(t->found[k], 1), sample_quantile(t->expected[k], 0.5),
            sample_quantile(t->largest[k], 0.5), sample_quantile(t->largest[k], 1));
}

/* One machine, measured by a sheet of its own. */
static gboolean try_machine(Sums *t, guint32 seed, const char *art, const char *folder, DtJob *job,
                            GError **error)
{
    TruthMachine m;
    LoopSheet s = {0};
    Ink all;
    truth_draw(&m, seed, 297, 210);
    g_autoptr(DtProfile) p = truth_profile(&m);
    g_autoptr(DtFigures) f =
        loop_draw_sheet(&s, &m, p, folder, 2, 300, error) ? loop_solve(&s, p, 2, error) : NULL;
    loop_sheet_clear(&s);
    if (f == NULL || (job->sequence.n == 0 && !loop_plan_art(p, art, job, error)) ||
        !without(&m, f, &job->sequence, NULL, &all, error))
        return FALSE;
    printf("%u: found %.4f, largest %.3f at %.0f,%.0f, expected %.4f, %.2f:", seed, all.p95,
           all.largest, all.worst.x, all.worst.y, all.expected, all.expected / all.p95);
    sample_add(t->found[CAUSES], all.p95);
    sample_add(t->expected[CAUSES], all.expected);
    sample_add(t->largest[CAUSES], all.largest);
    for (int k = 0; k < CAUSES; k++) {
        Ink rest;
        if (!without(&m, f, &job->sequence, &causes[k], &rest, error))
            return FALSE;
        sample_add(t->found[k], part(all.p95, rest.p95));
        sample_add(t->expected[k], part(all.expected, rest.expected));
        sample_add(t->largest[k], rest.largest);
        printf(" %s %.1f/%.1f/%.0f", causes[k].name, 1e3 * part(all.p95, rest.p95),
               1e3 * part(all.expected, rest.expected), 1e3 * rest.largest);
    }
    printf("\n");
    return TRUE;
}

int truing_causes(int n, int seed, const char *art, const char *folder)
{
    static DtJob job; /* the same for all */
    Sums t;
    int failed = 0;
    sums_init(&t);
    for (int i = 0; i < n && !failed; i++) {
        g_autoptr(GError) error = NULL;
        failed = !try_machine(&t, (guint32)(seed + i), art, folder, &job, &error);
        if (failed)
            printf("%d: %s\n", seed + i, error->message);
        fflush(stdout);
    }
    if (!failed)
        sums_print(&t, n);
    sums_clear(&t);
    return failed;
}
