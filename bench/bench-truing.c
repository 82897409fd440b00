/* bench-truing: random machines with everything wrong, through the whole loop: a sheet, two scans, three
 * rule readings, corrections, and then a drawing on the same machine. Prints the error of the ink, the errors
 * of each kind of figure, and how often the truth lies in the stated intervals.
 * Usage: bench-truing [N] [--seed S] [--art FILE] [--after | --figures]; with --after the drawing is made
 *        corrected only, with --figures not at all
 *        bench-truing N --figures with --displaced PERCENT: as many of the short marks up to 2 mm off; with --stain:
 *        all of those in a corner; with --row R MM: all of one of the six rows by as much
 *        bench-truing --diagnosis N: one dominant fault in each machine, and which part is named first
 *        bench-truing --second N: a second sheet after correcting, taken together with the first
 *        bench-truing --verdicts N: pairs of sheets with 0.02 mm less slack, and with none
 *        bench-truing --causes N: what each cause adds to the ink's error, found and expected
 *        bench-truing --read DPI: what reading one scan takes */
#include "sample.h"
#include "truing-causes.h"
#include "truing-loop.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

enum { KINDS = DT_ERROR_OF_SCATTER + 1, SAY_EVERY = 10 };

static const char *const kind_names[KINDS] = {"scale",  "square", "slack", "position", "straight",
                                              "pulley", "gear",   "twist", "scatter"};

typedef struct {
    GArray *p95, *largest, *before, *told; /* double: of each machine */
    GArray *off[KINDS];                    /* |figure - truth| */
    guint inside[KINDS], all[KINDS];
    guint one_scan_unknown, told_well;
    double seconds, solve_s;
    gboolean after_only;    /* the drawing is not made without corrections */
    gboolean figures_only;  /* nor with them */
    const LoopFault *fault; /* NULL: sheets as the machines draw them */
    guint refused;          /* sheets with such marks */
    guint skipped;          /* machines that were not measured, for the reason that was printed */
} Tally;

static void tally_figures(Tally *t, const TruthMachine *m, const DtFigures *f)
{
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        const double truth = loop_truth(m, f, g);
        if (!g->known || isnan(truth) || (int)g->kind >= KINDS)
            continue;
        const double off = fabs(g->value - truth);
        sample_add(t->off[g->kind], off);
        t->all[g->kind]++;
        t->inside[g->kind] += off <= 1.96 * g->sd;
    }
}

static gboolean try_machine(Tally *t, guint32 seed, const char *art, const char *folder,
                            GError **error)
{
    static DtJob job; /* the same for all */
    TruthMachine m;
    WitnessError before = {0}, after;
    DtExpectation expected = {0};
    LoopSheet s = {0};
    truth_draw(&m, seed, 297, 210);
    g_autoptr(DtProfile) p = truth_profile(&m);
    if (!loop_draw_faulty_sheet(&s, &m, p, folder, 2, 300, t->fault, error)) {
        loop_sheet_clear(&s);
        return FALSE;
    }
    t->seconds = s.seconds;
    const gint64 from = g_get_monotonic_time();
    g_autoptr(DtFigures) f = loop_solve(&s, p, 2, error);
    if (t->fault && f == NULL) {
        t->refused++;
        printf("%u: refused: %s\n", seed, (*error)->message);
        g_clear_error(error);
        loop_sheet_clear(&s);
        return TRUE;
    }
    if (t->fault && f->notes)
        printf("%u: %s\n", seed, f->notes);
    t->solve_s = (double)(g_get_monotonic_time() - from) * 1e-6;
    g_autoptr(DtFigures) one = f ? loop_solve(&s, p, 1, error) : NULL;
    if (one && t->figures_only) {
        tally_figures(t, &m, f);
        loop_sheet_clear(&s);
        return TRUE;
    }
    gboolean good = one != NULL && (job.sequence.n > 0 || loop_plan_art(p, art, &job, error)) &&
                    (t->after_only || loop_draw_art(&m, p, &job.sequence, &before, error));
    if (good) {
        for (size_t i = 0; i < one->n; i++)
            t->one_scan_unknown += one->f[i].kind == DT_ERROR_OF_SQUARE && !one->f[i].known;
        tally_figures(t, &m, f);
        loop_correct(p, f);
        good = loop_draw_art(&m, p, &job.sequence, &after, error) &&
               loop_expect(p, &job.sequence, f, &expected, error);
    }
    if (good) {
        sample_add(t->before, before.p95);
        sample_add(t->p95, after.p95);
        sample_add(t->largest, after.max);
        sample_add(t->told, expected.p95_mm / after.p95);
        t->told_well += fabs(expected.p95_mm / after.p95 - 1) <= 0.3;
        printf("%u: %.3f -> %.4f, largest %.3f at %.0f,%.0f, expected %.4f; play %.3f, scatter "
               "%.3f %.3f\n",
               seed, before.p95, after.p95, after.max, after.worst.x, after.worst.y,
               expected.p95_mm, m.play, m.scatter[0], m.scatter[1]);
    }
    loop_sheet_clear(&s);
    return good;
}

static guint within(const GArray *values, double bar)
{
    guint n = 0;
    for (guint i = 0; i < values->len; i++)
        n += g_array_index(values, double, i) <= bar;
    return n;
}

static void print_bar(const GArray *values, const char *what, double bar, const char *unit)
{
    const guint held = within(values, bar);
    printf("  held: %s within %g %s: %u of %u (%.1f %%)\n", what, bar, unit, held, values->len,
           100.0 * held / MAX(values->len, 1));
}

/* Two scans of one sheet. */
static void print_bars(const Tally *t)
{
    const double degree = G_PI / 180;
    g_autoptr(GArray) square = g_array_new(FALSE, FALSE, sizeof(double));
    for (guint i = 0; i < t->off[DT_ERROR_OF_SQUARE]->len; i++)
        sample_add(square, g_array_index(t->off[DT_ERROR_OF_SQUARE], double, i) / degree);
    if (t->p95->len > 0) {
        print_bar(t->p95, "ink, p95", 0.075, "mm");
        print_bar(t->largest, "largest error of ink", 0.12, "mm");
    }
    print_bar(t->off[DT_ERROR_OF_BACKLASH], "slack at any place", 0.012, "mm");
    print_bar(square, "squareness", 0.005, "degrees");
}

static void print_ink(Tally *t, guint n)
{
    printf("ink, p95, mm: before %.3f (worst %.3f); after: median %.4f, worst %.4f; largest error "
           "%.3f\n",
           sample_quantile(t->before, 0.5), sample_quantile(t->before, 1),
           sample_quantile(t->p95, 0.5), sample_quantile(t->p95, 1),
           sample_quantile(t->largest, 1));
    printf("expected over found: median %.2f, from %.2f to %.2f; within 30 %% on %u of %u\n",
           sample_quantile(t->told, 0.5), sample_quantile(t->told, 0), sample_quantile(t->told, 1),
           t->told_well, n);
    printf("one scan: squareness unknown on %u of %u\n", t->one_scan_unknown, n);
}

static void print_kinds(const Tally *t)
{
    for (int k = 0; k < KINDS; k++)
        if (t->all[k] > 0)
            printf("%-9s off by: median %.5f, 95 %% %.5f, largest %.5f; %5u values, %.1f %% in "
                   "their interval\n",
                   kind_names[k], sample_quantile(t->off[k], 0.5), sample_quantile(t->off[k], 0.95),
                   sample_quantile(t->off[k], 1), t->all[k], 100.0 * t->inside[k] / t->all[k]);
}

static void print_tally(Tally *t, guint n)
{
    n -= t->skipped;
    printf("\n%u machines; a sheet of %.0f s, solved in %.2f s\n", n, t->seconds, t->solve_s);
    if (t->skipped > 0)
        printf("%u more were SKIPPED: see above\n", t->skipped);
    if (t->fault)
        printf("%u of them refused\n", t->refused);
    if (!t->figures_only)
        print_ink(t, n);
    print_kinds(t);
    print_bars(t);
}

/* Diagnosis and verdicts --------------------------------------------------------------------------- */

static DtFigures *figures_of(const TruthMachine *m, const char *folder, GError **error)
{
    LoopSheet s = {0};
    DtFigures *f = NULL;
    g_autoptr(DtProfile) p = truth_profile(m);
    if (loop_draw_sheet(&s, m, p, folder, 2, 300, error))
        f = loop_solve(&s, p, 2, error);
    loop_sheet_clear(&s);
    return f;
}

/* One dominant fault in each of n machines: how often the right part is named first. */
static int try_diagnosis(int n, int seed, const char *folder)
{
    guint right[DT_PARTS] = {0}, all[DT_PARTS] = {0}, good = 0;
    for (int i = 0; i < n; i++) {
        g_autoptr(GError) error = NULL;
        TruthMachine m;
        DtPart part;
        int axis;
        size_t found = 0;
        truth_draw_fault(&m, (guint32)(seed + i), 297, 210, &part, &axis);
        g_autoptr(DtProfile) p = truth_profile(&m);
        g_autoptr(DtFigures) f = figures_of(&m, folder, &error);
        g_autofree DtSuspect *s = f ? dt_truing_diagnose(p, f, &found) : NULL;
        const gboolean is_right = found > 0 && s[0].part == part && s[0].axis == axis;
        all[part]++;
        right[part] += is_right;
        good += is_right;
        if (!is_right)
            printf("%d: %s of axis %d; named %s of axis %d (%.3f mm)%s\n", seed + i,
                   dt_part_word(part), axis, found ? dt_part_word(s[0].part) : "nothing",
                   found ? s[0].axis : 0, found ? s[0].ink_mm : 0, error ? error->message : "");
        if ((i + 1) % SAY_EVERY == 0 && i + 1 < n)
            printf("so far: the right part first: %u of %d\n", good, i + 1);
        fflush(stdout);
    }
    for (int k = 0; k < DT_PARTS; k++)
        if (all[k] > 0)
            printf("%-16s %3u of %3u\n", dt_part_word((DtPart)k), right[k], all[k]);
    printf("the right part first: %u of %d (%.1f %%; bar: 95 %%)\n", good, n, 100.0 * good / n);
    return 0;
}

/* Whether two sheets are told apart by the mean slack of X, and how many of all other figures are. */
static gboolean told_apart(const DtFigures *a, const DtFigures *b, guint *others, guint *all)
{
    size_t n;
    gboolean told = FALSE;
    g_autofree DtComparison *c = dt_truing_compare(a, b, &n);
    for (size_t i = 0; i < n; i++) {
        const gboolean differs =
            c[i].verdict == DT_VERDICT_BETTER || c[i].verdict == DT_VERDICT_WORSE;
        if (c[i].kind == DT_ERROR_OF_MEAN_REVERSAL && c[i].axis == 0) {
            told = differs;
        } else {
            *others += differs;
            ++*all;
        }
    }
    return told;
}

/* Each machine's sheet against another of the same machine, and against one with 0.02 mm less slack. */
static int try_verdicts(int n, int seed, const char *folder)
{
    guint told = 0, false_ones = 0, others = 0, all = 0, ignored = 0;
    for (int i = 0; i < n; i++) {
        g_autoptr(GError) error = NULL;
        TruthMachine m;
        DtFigures *f[3] = {NULL, NULL, NULL};
        for (int k = 0; k < 3; k++) {
            truth_draw(&m, (guint32)(seed + i), 297, 210);
            for (int j = 0; j < m.slack[0].n && k == 2; j++)
                m.slack[0].value[j] -= 0.02;
            m.seed = (guint32)(seed + i) * 3 + (guint32)k; /* another drawing, other scans */
            f[k] = figures_of(&m, folder, &error);
            if (f[k] == NULL) {
                printf("%d: %s\n", seed + i, error->message);
                return 1;
            }
        }
        false_ones += told_apart(f[0], f[1], &others, &all);
        told += told_apart(f[0], f[2], &ignored, &ignored);
        for (int k = 0; k < 3; k++)
            dt_figures_free(f[k]);
        if ((i + 1) % SAY_EVERY == 0 || i + 1 == n)
            printf(
                "0.02 mm less slack told in %u of %d pairs (%.1f %%; bar: 95 %%); a change of "
                "slack told where there was none in %u (%.1f %%; bar: 5 %%), of other figures in "
                "%u of %u\n",
                told, i + 1, 100.0 * told / (i + 1), false_ones, 100.0 * false_ones / (i + 1),
                others, all);
        fflush(stdout);
    }
    return 0;
}

/* Each machine's drawing corrected by one sheet, and by that and a second one. The corrections change no mark, so
 * the second sheet may be drawn without them here. */
static int try_second(int n, int seed, const char *folder)
{
    static DtJob job; /* the same for all */
    g_autoptr(GArray) first = g_array_new(FALSE, FALSE, sizeof(double)),
                      second = g_array_new(FALSE, FALSE, sizeof(double)),
                      gain = g_array_new(FALSE, FALSE, sizeof(double)),
                      steady = g_array_new(FALSE, FALSE, sizeof(double));
    const double same_mm = 0.002, little_mm = 0.008; /* of scatter */
    guint worse = 0;
    Tally both = {0};
    for (int k = 0; k < KINDS; k++)
        both.off[k] = g_array_new(FALSE, FALSE, sizeof(double));
    for (int i = 0; i < n; i++) {
        g_autoptr(GError) error = NULL;
        TruthMachine m;
        WitnessError by[2];
        truth_draw(&m, (guint32)(seed + i), 297, 210);
        g_autoptr(DtProfile) p = truth_profile(&m), once = truth_profile(&m),
                             twice = truth_profile(&m);
        g_autoptr(DtFigures) a = figures_of(&m, folder, &error);
        m.seed += 700000; /* another drawing, other scans, other readings of the rule */
        g_autoptr(DtFigures) b = a ? figures_of(&m, folder, &error) : NULL;
        if (b == NULL ||
            (job.sequence.n == 0 && !loop_plan_art(p, "examples/garden-bed.svg", &job, &error))) {
            printf("%d: %s\n", seed + i, error->message);
            return 1;
        }
        loop_correct(once, a);
        dt_figures_pool(b, a);
        loop_correct(twice, b);
        if (!loop_draw_art(&m, once, &job.sequence, &by[0], &error) ||
            !loop_draw_art(&m, twice, &job.sequence, &by[1], &error)) {
            printf("%d: %s\n", seed + i, error->message);
            return 1;
        }
        tally_figures(&both, &m, b);
        const double ratio = by[1].p95 / by[0].p95;
        sample_add(first, by[0].p95);
        sample_add(second, by[1].p95);
        sample_add(gain, ratio);
        if (MAX(m.scatter[0], m.scatter[1]) < little_mm)
            sample_add(steady, ratio);
        worse += by[1].p95 > by[0].p95 + same_mm;
        printf("%d: %.4f, with a second sheet %.4f; scatter %.3f %.3f\n", seed + i, by[0].p95,
               by[1].p95, m.scatter[0], m.scatter[1]);
        fflush(stdout);
    }
    printf(
        "\n%d machines, ink p95: one sheet median %.4f, worst %.4f; two median %.4f, worst %.4f; "
        "ratio "
        "median %.2f, worst %.2f; worse by more than %g mm on %u; where slack scatters by less "
        "than %g "
        "mm, ratio median %.2f, worst %.2f of %u; by both sheets:\n",
        n, sample_quantile(first, 0.5), sample_quantile(first, 1), sample_quantile(second, 0.5),
        sample_quantile(second, 1), sample_quantile(gain, 0.5), sample_quantile(gain, 1), same_mm,
        worse, little_mm, sample_quantile(steady, 0.5), sample_quantile(steady, 1), steady->len);
    print_kinds(&both);
    return 0;
}

/* What reading one scan of n dots per inch takes, in a process of its own. */
static int try_reading(int n, int seed, const char *folder)
{
    TruthMachine m;
    LoopSheet s = {0};
    g_autoptr(GError) error = NULL;
    truth_draw(&m, (guint32)seed, 297, 210);
    g_autoptr(DtProfile) p = truth_profile(&m);
    g_autofree char *path = g_strdup_printf("%s/scan.png", folder);
    if (!loop_draw_sheet(&s, &m, p, folder, 0, n, &error) ||
        !loop_scan_to(&s, &m, p, path, n, &error)) {
        printf("%s\n", error->message);
        return 1;
    }
    struct rusage used = {0};
    fflush(stdout);
    const pid_t child = fork();
    if (child == 0) {
        g_autoptr(DtScan) scan = dt_scan_read(path, s.sheet, NULL, &error);
        _exit(scan == NULL);
    }
    int status = 1;
    wait4(child, &status, 0, &used);
    printf("A4 at %d dpi: read in %.2f s of processor time, %.0f MB at most (what the benchmark "
           "held included)%s\n",
           n,
           (double)used.ru_utime.tv_sec + (double)used.ru_utime.tv_usec * 1e-6 +
               (double)used.ru_stime.tv_sec + (double)used.ru_stime.tv_usec * 1e-6,
           (double)used.ru_maxrss / 1024, status ? "; it could not be read" : "");
    g_unlink(path);
    loop_sheet_clear(&s);
    return status != 0;
}

static int try_causes(int n, int seed, const char *folder)
{
    return truing_causes(n, seed, "examples/garden-bed.svg", folder);
}

int main(int argc, char **argv)
{
    int (*campaign)(int, int, const char *) = NULL;
    Tally t = {0};
    LoopFault fault = {.row = -1, .mm = 2};
    int n = 10, seed = 1;
    const char *art = "examples/garden-bed.svg";
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc)
            seed = atoi(argv[++i]);
        else if (strcmp(argv[i], "--after") == 0)
            t.after_only = TRUE;
        else if (strcmp(argv[i], "--figures") == 0)
            t.figures_only = TRUE;
        else if (strcmp(argv[i], "--displaced") == 0 && i + 1 < argc)
            fault = (LoopFault){
                .share = atof(argv[++i]) / 100, .mm = 2, .corner = fault.corner, .row = -1};
        else if (strcmp(argv[i], "--stain") == 0)
            fault.corner = TRUE;
        else if (strcmp(argv[i], "--row") == 0 && i + 2 < argc) {
            fault.row = atoi(argv[++i]);
            fault.mm = atof(argv[++i]);
        } else if (strcmp(argv[i], "--diagnosis") == 0)
            campaign = try_diagnosis;
        else if (strcmp(argv[i], "--verdicts") == 0)
            campaign = try_verdicts;
        else if (strcmp(argv[i], "--second") == 0)
            campaign = try_second;
        else if (strcmp(argv[i], "--causes") == 0)
            campaign = try_causes;
        else if (strcmp(argv[i], "--read") == 0)
            campaign = try_reading;
        else if (strcmp(argv[i], "--art") == 0 && i + 1 < argc)
            art = argv[++i];
        else
            n = atoi(argv[i]);
    }
    t.fault = fault.share > 0 || fault.corner || fault.row >= 0 ? &fault : NULL;
    GArray **arrays[] = {&t.p95, &t.largest, &t.before, &t.told};
    for (gsize i = 0; i < G_N_ELEMENTS(arrays); i++)
        *arrays[i] = g_array_new(FALSE, FALSE, sizeof(double));
    for (int k = 0; k < KINDS; k++)
        t.off[k] = g_array_new(FALSE, FALSE, sizeof(double));
    g_autofree char *folder = g_dir_make_tmp("truing-XXXXXX", NULL);
    if (campaign) {
        const int status = campaign(n, seed, folder);
        g_rmdir(folder);
        return status;
    }
    for (int i = 0; i < n; i++) {
        g_autoptr(GError) error = NULL;
        if (!try_machine(&t, (guint32)(seed + i), art, folder, &error)) {
            printf("%d: %s\n", seed + i, error->message);
            t.skipped++;
        }
        if ((i + 1) % SAY_EVERY == 0 && i + 1 < n)
            print_tally(&t, (guint)(i + 1));
        fflush(stdout);
    }
    g_rmdir(folder);
    print_tally(&t, (guint)n);
    return t.skipped > 0;
}
