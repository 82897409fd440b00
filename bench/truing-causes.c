/* truing-causes: see truing-causes.h. */
#include "truing-causes.h"

#include "sample.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef enum {
    CAUSE_FIGURE, /* what is corrected: by the truth in place of the figure */
    CAUSE_TRUTH,  /* what is not: left out of the machine */
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

/* The ink's 95 % error with one cause left out, as found and as expected. */
static gboolean without(const TruthMachine *machine, const DtFigures *measured, const DtSequence *s,
                        const Cause *c, double *found, double *expected, GError **error)
{
    TruthMachine m = *machine;
    WitnessError e;
    DtExpectation x = {0};
    g_autoptr(DtProfile) p = truth_profile(machine);
    g_autoptr(DtFigures) f = copy_figures(measured);
    if (c)
        put_truth(machine, f, measured, c->kind);
    if (c && c->sort == CAUSE_TRUTH)
        leave_out(&m, c->kind);
    loop_correct(p, f);
    if (!loop_draw_art(&m, p, s, &e, error) || !loop_expect(p, s, f, &x, error))
        return FALSE;
    *found = e.p95;
    *expected = x.p95_mm;
    return TRUE;
}

/* The part of a whole that is lost without something, where both are roots of sums of squares; negative where the
 * whole is smaller. */
static double part(double whole, double rest)
{
    const double v = whole * whole - rest * rest;
    return copysign(sqrt(fabs(v)), v);
}

int truing_causes(int n, int seed, const char *art, const char *folder)
{
    static DtJob job; /* the same for all */
    GArray *found[CAUSES + 1], *expected[CAUSES + 1];
    for (int k = 0; k <= CAUSES; k++) {
        found[k] = g_array_new(FALSE, FALSE, sizeof(double));
        expected[k] = g_array_new(FALSE, FALSE, sizeof(double));
    }
    for (int i = 0; i < n; i++) {
        g_autoptr(GError) error = NULL;
        TruthMachine m;
        LoopSheet s = {0};
        double whole = 0, whole_x = 0;
        truth_draw(&m, (guint32)(seed + i), 297, 210);
        g_autoptr(DtProfile) p = truth_profile(&m);
        g_autoptr(DtFigures) f = loop_draw_sheet(&s, &m, p, folder, 2, 300, &error)
                                     ? loop_solve(&s, p, 2, &error)
                                     : NULL;
        loop_sheet_clear(&s);
        gboolean good = f && (job.sequence.n > 0 || loop_plan_art(p, art, &job, &error)) &&
                        without(&m, f, &job.sequence, NULL, &whole, &whole_x, &error);
        printf("%d: found %.4f, expected %.4f, %.2f:", seed + i, whole, whole_x, whole_x / whole);
        sample_add(found[CAUSES], whole);
        sample_add(expected[CAUSES], whole_x);
        for (int k = 0; k < CAUSES && good; k++) {
            double rest = 0, rest_x = 0;
            good = without(&m, f, &job.sequence, &causes[k], &rest, &rest_x, &error);
            sample_add(found[k], part(whole, rest));
            sample_add(expected[k], part(whole_x, rest_x));
            printf(" %s %.1f/%.1f", causes[k].name, 1e3 * part(whole, rest),
                   1e3 * part(whole_x, rest_x));
        }
        printf("\n");
        fflush(stdout);
        if (!good) {
            printf("%d: %s\n", seed + i, error->message);
            return 1;
        }
    }
    printf("\nwhat each cause adds to the ink's 95 %% error, mm, in squares; %d machines\n", n);
    for (int k = 0; k <= CAUSES; k++)
        printf("%-9s found: median %.4f, largest %.4f; expected: median %.4f\n",
               k < CAUSES ? causes[k].name : "all", sample_quantile(found[k], 0.5),
               sample_quantile(found[k], 1), sample_quantile(expected[k], 0.5));
    for (int k = 0; k <= CAUSES; k++) {
        g_array_unref(found[k]);
        g_array_unref(expected[k]);
    }
    return 0;
}
