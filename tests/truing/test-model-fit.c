/* model-fit: what the fit ends with solves the equations that it stands for, written a second time and without its
 * short cuts: weighted least squares with priors (GUM annex H.3), in classes whose deviations are those of restricted
 * maximum likelihood (Patterson and Thompson 1971); and a known machine is found within what the fit says of itself. */
#include "seen.h"
#include "truing/solve/model-fit.h"

#include <math.h>
#include <string.h>

/* The equations ---------------------------------------------------------------------------------- */

typedef struct {
    const DtModel *m;
    const DtModelFit *fit;
    int n;
    double *h, *b;                                 /* of all */
    double *class_h[DT_CLASSES];                   /* of one class */
    double squares[DT_CLASSES], n_of[DT_CLASSES];  /* what is left of one, weighted, squared */
    GArray *sizes[DT_CLASSES];                     /* what is left of one, by its spread */
    double second[DT_CLASSES], fourth[DT_CLASSES]; /* moments of that, weighted */
} Equations;

/* What is left of an item, by class. */
typedef struct {
    double size[3];
    int class[3], n;
} Left;

static void add(double *h, double *b, int n, const double *row, double y, double weight)
{
    for (int i = 0; i < n; i++) {
        for (int j = 0; row[i] != 0 && j < n; j++)
            h[i * n + j] += weight * row[i] * row[j];
        if (b)
            b[i] += weight * row[i] * y;
    }
}

static double dot(const double *a, const double *b, int n)
{
    double sum = 0;
    for (int i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

/* Sums and differences of one, two or three scans, of length 1 and at right angles to each other. */
static const double contrasts[4][3][3] = {
    {{0}},
    {{1}},
    {{0.70710678118654752, 0.70710678118654752}, {0.70710678118654752, -0.70710678118654752}},
    {{0.57735026918962576, 0.57735026918962576, 0.57735026918962576},
     {0.70710678118654752, -0.70710678118654752, 0},
     {0.40824829046386302, 0.40824829046386302, -0.81649658092772603}}};

static int class_of(const DtItem *item, gboolean difference)
{
    if (item->line >= 0)
        return 8 + 2 * item->axis + difference;
    return 4 * item->axis + (item->way[item->axis] > 0 ? 0 : 2) + difference;
}

/* By how much what is left of an observation scatters less, or more, than it does itself: the curves follow it by
 * h = row V row' / s^2 if it counts, and are uncertain by as much if it does not. */
static double spread_of(const Equations *e, const double *row, double variance, double weight)
{
    double h = 0;
    for (int i = 0; i < e->n; i++)
        h += row[i] * dot(e->fit->v + i * e->n, row, e->n) / variance;
    return sqrt(MAX(weight * weight * (1 - h) + (1 - weight) * (1 - weight) * (1 + h) +
                        2 * weight * (1 - weight),
                    0.05));
}

static void add_item(Equations *e, const DtItem *item, Left *out)
{
    const int n = e->n;
    g_autofree double *rows = g_new0(double, 3 * n), *scratch = g_new(double, 2 * n),
                      *row = g_new(double, n);
    double left[3];
    int seen = 0;
    for (int k = 0; k < e->m->n_scans; k++)
        if (item->seen[k]) {
            left[seen] = dt_model_residual(e->m, item, k, rows + seen * n, scratch);
            seen++;
        }
    for (int j = 0; j < seen; j++) {
        const int c = class_of(item, j > 0);
        const double *by = contrasts[seen][j], variance = e->fit->sd[c] * e->fit->sd[c];
        double y = 0;
        memset(row, 0, n * sizeof *row);
        for (int k = 0; k < seen; k++) {
            y += by[k] * left[k];
            for (int i = 0; i < n; i++)
                row[i] += by[k] * rows[k * n + i];
        }
        out->size[j] = fabs(y) / spread_of(e, row, variance, item->weight);
        out->class[out->n++] = c;
        g_array_append_val(e->sizes[c], out->size[j]);
        e->second[c] += item->weight * pow(out->size[j], 2);
        e->fourth[c] += item->weight * pow(out->size[j], 4);
        add(e->h, e->b, n, row, y + dot(row, e->m->b, n), item->weight / variance);
        add(e->class_h[c], NULL, n, row, 0, item->weight / variance);
        e->squares[c] += item->weight * y * y;
        e->n_of[c] += item->weight;
    }
}

/* Wide against what machines and scanners are. */
static void add_priors(Equations *e)
{
    const DtModel *m = e->m;
    g_autofree double *sd = g_new(double, e->n), *row = g_new0(double, e->n);
    for (int i = 0; i < e->n; i++)
        sd[i] = 3; /* mm, of the knots of curves */
    for (int i = 0; i < 2; i++) {
        sd[m->scale[i]] = 0.03;
        sd[m->glass_scale[i]] = 0.01;
        sd[m->pulley[i]] = sd[m->pulley[i] + 1] = sd[m->gear[i]] = sd[m->gear[i] + 1] = 0.5;
    }
    sd[m->square] = 0.02;
    sd[m->skew] = 0.01;
    /* ISO/IEC 7810 ID-1 and how far cards are from it: 0.14 of 85.60 and 0.07 of 53.98 mm, anything within it alike */
    sd[m->card[0]] = 0.14 / 85.60 / sqrt(3);
    sd[m->card[1]] = 0.07 / 53.98 / sqrt(3);
    for (int i = 0; i < m->n_lines; i++)
        sd[m->lines + i] = 0.05;
    for (int k = 0; k < m->n_scans; k++)
        for (int i = 0; i < 3 + (m->pose[k].photograph ? 2 * DT_BEND_TERMS : 0); i++)
            sd[m->pose[k].first + i] = i < 3 ? 1000 : 30;
    for (int i = 0; i < e->n; i++) {
        row[i] = 1;
        add(e->h, e->b, e->n, row, 0, 1 / (sd[i] * sd[i]));
        row[i] = 0;
    }
}

/* Position, straightness and the scanner's waviness have neither mean nor slope; curves are stiff. */
static void add_curves(Equations *e)
{
    static const int level[] = {DT_CURVE_POSITION,     DT_CURVE_POSITION + 1, DT_CURVE_STRAIGHT,
                                DT_CURVE_STRAIGHT + 1, DT_CURVE_WAVE,         DT_CURVE_WAVE + 1};
    g_autofree double *row = g_new0(double, e->n);
    for (gsize i = 0; i < G_N_ELEMENTS(level); i++) {
        const DtCurve *c = &e->m->curves[level[i]];
        for (int slope = 0; slope < 2; slope++) {
            memset(row, 0, e->n * sizeof *row);
            for (int k = 0; k < c->n;
                 k++) /* the mean, and three times that of t c, t from -1 to 1 */
                row[c->first + k] = (slope ? 3 * (2.0 * k / (c->n - 1) - 1) : 1) / c->n;
            add(e->h, e->b, e->n, row, 0, 1 / (0.0005 * 0.0005));
        }
    }
    for (int id = 0; id < DT_CURVES; id++)
        for (int k = 1; k + 1 < e->m->curves[id].n; k++) {
            memset(row, 0, e->n * sizeof *row);
            row[e->m->curves[id].first + k - 1] = row[e->m->curves[id].first + k + 1] = 1;
            row[e->m->curves[id].first + k] = -2;
            add(e->h, e->b, e->n, row, 0, e->fit->stiffness[id]);
        }
}

static double length_of(const DtModel *m, int axis)
{
    static const int way[2] = {1, 1};
    DtPoint ticks[2];
    g_assert_true(dt_model_gauge_ticks(m->e->sheet, axis, ticks));
    return dt_point_distance(dt_model_ink(m, ticks[0], way, NULL, NULL),
                             dt_model_ink(m, ticks[1], way, NULL, NULL));
}

/* The card's side as a scan shows it, as a share of its nominal length. */
static double card_of(const DtModel *m, const DtScan *s, int i)
{
    const double sx = 1 + m->b[m->glass_scale[0]], sy = 1 + m->b[m->glass_scale[1]],
                 skew = m->b[m->skew];
    const DtPoint n = s->card_normal[i];
    /* x = sx (gx + skew gy), y = sy gy: the lines' normal through its transposed matrix */
    return (1 + m->b[m->card[i]]) * hypot(sx * n.x, sx * skew * n.x + sy * n.y);
}

/* What is no mark, each with its row by central differences. */
static void add_measure(Equations *e, DtModel *m, int axis, const DtScan *card, int side, double y,
                        double sd)
{
    const double step = 1e-6;
    g_autofree double *row = g_new0(double, e->n);
    for (int i = 0; i < e->n; i++) {
        const double kept = m->b[i];
        double at[2];
        for (int k = 0; k < 2; k++) {
            m->b[i] = kept + (k ? step : -step);
            at[k] = card ? card_of(m, card, side) : length_of(m, axis);
        }
        m->b[i] = kept;
        row[i] = (at[1] - at[0]) / (2 * step);
    }
    const double now = card ? card_of(m, card, side) : length_of(m, axis);
    add(e->h, e->b, e->n, row, y - now + dot(row, m->b, e->n), 1 / (sd * sd));
}

static void write_equations(Equations *e, DtModel *m, const DtModelFit *fit, Left *left)
{
    *e = (Equations){.m = m, .fit = fit, .n = m->n};
    e->h = g_new0(double, e->n * e->n);
    e->b = g_new0(double, e->n);
    for (int c = 0; c < DT_CLASSES; c++) {
        e->class_h[c] = g_new0(double, e->n * e->n);
        e->sizes[c] = g_array_new(FALSE, FALSE, sizeof(double));
    }
    for (size_t i = 0; i < m->n_items; i++)
        add_item(e, &m->items[i], &left[i]);
    add_priors(e);
    add_curves(e);
    for (int axis = 0; axis < 2; axis++) /* a rule is read within 0.1 mm */
        if (m->e->n_rule[axis] > 0)
            add_measure(e, m, axis, NULL, 0, dt_model_rule_mean(m->e, axis),
                        0.1 / sqrt(3.0 * (double)m->e->n_rule[axis]));
    for (int k = 0; k < m->n_scans; k++)
        for (int i = 0; m->e->scans[k]->has_card && i < 2; i++) {
            const DtScan *s = m->e->scans[k];
            static const double size[2] = {85.60, 53.98};
            add_measure(e, m, 0, s, i, s->card_mm[i] / size[i],
                        hypot(s->card_sd[i], 0.02) / size[i]);
        }
}

static void equations_clear(Equations *e)
{
    for (int c = 0; c < DT_CLASSES; c++) {
        g_free(e->class_h[c]);
        g_array_unref(e->sizes[c]);
    }
    g_free(e->h);
    g_free(e->b);
}

static void check_close(double a, double b, double tolerance)
{
    g_assert_cmpfloat(fabs(a - b), <=, tolerance * MAX(fabs(a), fabs(b)));
}

/* H V = 1 and H b = y: the latter in units of what each unknown is uncertain by. */
static void check_solution(const Equations *e)
{
    const int n = e->n;
    for (int i = 0; i < n; i++) {
        const double off = e->b[i] - dot(e->h + i * n, e->m->b, n);
        g_assert_cmpfloat(fabs(off) * sqrt(e->fit->v[i * n + i]), <, 0.08);
        for (int j = 0; j < n; j++) {
            double sum = 0;
            for (int k = 0; k < n; k++)
                sum += e->h[i * n + k] * e->fit->v[k * n + j];
            /* by the units of both */
            const double scale = sqrt(e->fit->v[i * n + i] / e->fit->v[j * n + j]);
            g_assert_cmpfloat(fabs(sum - (i == j)) * scale, <, 0.05);
        }
    }
}

static double trace_of(const double *a, const double *v, int n)
{
    double sum = 0;
    for (int i = 0; i < n * n; i++)
        sum += a[i] * v[i];
    return sum;
}

static void check_deviations(const Equations *e)
{
    for (int c = 0; c < DT_CLASSES; c++) {
        const double used = trace_of(e->class_h[c], e->fit->v, e->n);
        check_close(e->fit->n[c], e->n_of[c], 1e-9);
        if (e->n_of[c] == 0)
            continue;
        const double left = MAX(e->n_of[c] - used, 1);
        check_close(e->fit->left[c], left, 0.01);
        check_close(e->fit->sd[c], CLAMP(sqrt(e->squares[c] / left), 5e-4, 1), 0.01);
    }
}

/* The variance of squares by their mean squared: 2 of a normal distribution (Abramowitz and Stegun 26.2), more where some
 * are far out. */
static void check_tails(const Equations *e)
{
    for (int c = 0; c < DT_CLASSES; c++) {
        const double mean = e->second[c] / e->n_of[c], fourth = e->fourth[c] / e->n_of[c];
        const gboolean none = e->n_of[c] == 0;
        check_close(e->fit->tails[c], none ? 2 : MAX(fourth / (mean * mean) - 1, 2), 0.01);
    }
}

static void check_stiffness(const Equations *e, gboolean wave_known)
{
    const int n = e->n;
    for (int id = 0; id < DT_CURVES; id++) {
        const DtCurve *c = &e->m->curves[id];
        double bent = 0;
        if (id >= DT_CURVE_WAVE && !wave_known) { /* 0.02 mm on 100 mm: what scanners do */
            const double d = 0.02 * pow(2 * G_PI * c->step / 100, 2);
            check_close(e->fit->stiffness[id], 2 / (d * d), 1e-9);
            continue;
        }
        for (int k = 1; k + 1 < c->n; k++) {
            const int i = c->first + k;
            const double *v = e->fit->v, d = e->m->b[i - 1] - 2 * e->m->b[i] + e->m->b[i + 1];
            /* variance of a second difference */
            bent += d * d + v[(i - 1) * n + i - 1] + 4 * v[i * n + i] + v[(i + 1) * n + i + 1] -
                    4 * v[(i - 1) * n + i] - 4 * v[i * n + i + 1] + 2 * v[(i - 1) * n + i + 1];
        }
        check_close(e->fit->stiffness[id], CLAMP((c->n - 2) / bent, 10, 1e9), 0.05);
    }
}

static int rising(gconstpointer a, gconstpointer b)
{
    const double d = *(const double *)a - *(const double *)b;
    return (d > 0) - (d < 0);
}

/* 1.4826 medians are a deviation of what is normal; by Rousseeuw and Leroy 1987 1 + 5 / left times as much of few. */
static double robust_deviation(const Equations *e, int c)
{
    GArray *a = e->sizes[c];
    if (a->len == 0)
        return 1;
    g_array_sort(a, rising);
    const double median =
        (g_array_index(a, double, (a->len - 1) / 2) + g_array_index(a, double, a->len / 2)) / 2;
    return 1.4826 * (1 + 5 / e->fit->left[c]) * median;
}

/* Hampel 1974, with corners at 4, 6 and 10 deviations: what is farther off has no say. */
static void check_weights(const Equations *e, const Left *left)
{
    double sd[DT_CLASSES];
    for (int c = 0; c < DT_CLASSES; c++)
        sd[c] = robust_deviation(e, c);
    for (size_t i = 0; i < e->m->n_items; i++) {
        double r = 0;
        for (int j = 0; j < left[i].n; j++)
            r = MAX(r, left[i].size[j] / sd[left[i].class[j]]);
        const double want = r <= 4 ? 1 : r <= 6 ? 4 / r : r < 10 ? 4 / r * (10 - r) / 4 : 0;
        g_assert_cmpfloat(fabs(e->m->items[i].weight - want), <, 0.04);
    }
}

/* V P V, with P what the priors and the curves' stiffness say: the mean square of the bias by them (Nychka 1988). It is no
 * more than all of V. */
static void check_shared(DtModel *m, const DtModelFit *fit)
{
    const int n = m->n;
    Equations e = {.m = m, .fit = fit, .n = n, .h = g_new0(double, n *n)};
    g_autofree double *pv = g_new(double, n);
    add_priors(&e);
    add_curves(&e);
    for (int i = 0; i < n; i++) {
        const double *v = fit->v + i * n;
        for (int k = 0; k < n; k++)
            pv[k] = dot(e.h + k * n, v, n);
        check_close(fit->v_shared[i * n + i], dot(v, pv, n), 1e-6);
        g_assert_cmpfloat(fit->v_shared[i * n + i], <, 1.01 * v[i]);
    }
    g_free(e.h);
}

static void check_fit(DtModel *m, gboolean wave_known, DtModelFit *fit)
{
    g_autoptr(GError) error = NULL;
    g_autofree Left *left = g_new0(Left, m->n_items);
    Equations e;
    g_assert_true(dt_fit_model(m, fit, &error));
    g_assert_no_error(error);
    write_equations(&e, m, fit, left);
    check_solution(&e);
    check_deviations(&e);
    check_tails(&e);
    check_stiffness(&e, wave_known);
    check_weights(&e, left);
    check_shared(m, fit);
    equations_clear(&e);
}

static void check_found(const DtModel *m, const DtModelFit *fit, int i, double value)
{
    const double sd = sqrt(fit->v[(size_t)i * (size_t)m->n + (size_t)i]);
    g_assert_cmpfloat(fabs(m->b[i] - value), <, 3.5 * sd);
}

static void check_machine(const DtModel *m, const DtModelFit *fit)
{
    check_found(m, fit, m->square, seen_usual.square);
    for (int i = 0; i < 2; i++) {
        check_found(m, fit, m->scale[i], seen_usual.scale[i]);
        check_found(m, fit, m->pulley[i], seen_usual.pulley[i][0]);
        check_found(m, fit, m->pulley[i] + 1, seen_usual.pulley[i][1]);
        for (int k = 0; k < m->curves[DT_CURVE_SLACK + i].n; k++)
            check_found(m, fit, m->curves[DT_CURVE_SLACK + i].first + k, seen_usual.slack[i]);
        for (int k = 0; k < m->curves[DT_CURVE_TWIST + i].n; k++)
            check_found(m, fit, m->curves[DT_CURVE_TWIST + i].first + k, seen_usual.twist[i]);
    }
}

static void test_one_scan_with_a_rule(void)
{
    SeenModel f;
    DtModelFit fit;
    seen_model_init(&f, &seen_usual, seen_quarters, 1);
    const double lx = seen_length(&f, &seen_usual, 0), ly = seen_length(&f, &seen_usual, 1);
    const double x[] = {lx - 0.06, lx + 0.08, lx}, y[] = {ly + 0.04};
    f.e.rule_mm[0] = x;
    f.e.n_rule[0] = G_N_ELEMENTS(x);
    f.e.rule_mm[1] = y;
    f.e.n_rule[1] = G_N_ELEMENTS(y);
    check_fit(&f.m, FALSE, &fit);
    check_machine(&f.m, &fit);
    /* the rule alone: 0.1 mm / sqrt(3) over its length, less with three readings */
    check_close(sqrt(fit.v[f.m.scale[1] * f.m.n + f.m.scale[1]]), 0.1 / sqrt(3) / ly, 0.05);
    check_close(sqrt(fit.v[f.m.scale[0] * f.m.n + f.m.scale[0]]), 0.1 / 3 / lx, 0.05);
    dt_fit_clear(&fit);
    seen_model_clear(&f);
}

/* As the scan shows it: in its own mm, which the scanner's scales and skew bend. */
static void add_card(DtScan *s, double angle, double more)
{
    static const double size[2] = {85.60, 53.98};
    s->has_card = TRUE;
    for (int i = 0; i < 2; i++) {
        const double a = angle + i * 0.5 * G_PI;
        const DtPoint n = {cos(a), sin(a)}; /* of the edges in the scan */
        const double sx = 1 + seen_usual.glass_scale[0], sy = 1 + seen_usual.glass_scale[1];
        s->card_normal[i] = n;
        s->card_mm[i] =
            size[i] * hypot(sx * n.x, sx * seen_usual.skew * n.x + sy * n.y) * (1 + more);
        s->card_sd[i] = 0.01 + 0.005 * i;
    }
}

static void test_two_scans_with_a_card(void)
{
    SeenModel f;
    DtModelFit fit;
    seen_model_init(&f, &seen_usual, seen_quarters, 2);
    add_card(f.scans[0], 0.3, 0.0003);
    add_card(f.scans[1], 1.2, 0.0001);
    check_fit(&f.m, TRUE, &fit);
    check_machine(&f.m, &fit);
    dt_fit_clear(&fit);
    seen_model_clear(&f);
}

/* Two marks that something has moved, one a little and one much, and one that a scan does not show. */
static void test_three_scans_with_marks_that_were_moved(void)
{
    static const double moved[] = {0.06, 0.4};
    SeenModel f;
    DtModelFit fit;
    seen_model_init(&f, &seen_usual, seen_quarters, 3);
    seen_model_lay_rule(&f, &seen_usual);
    for (int i = 0; i < 2; i++)
        for (int k = 0; k < 3; k++) {
            DtSeen *s = &f.scans[k]->seen[30 + 40 * i];
            s->at = dt_point_add(s->at, dt_point_scale(s->normal, moved[i]));
        }
    f.m.items[10].seen[1] = NULL;
    f.m.items[15].seen[0] = f.m.items[15].seen[2] = NULL;
    check_fit(&f.m, TRUE, &fit);
    g_assert_cmpfloat(f.m.items[70].weight, ==, 0);
    /* the one that was moved a little stays in part, and what its class scatters is the less certain */
    g_assert_cmpfloat(fit.tails[class_of(&f.m.items[30], FALSE)], >, 3);
    dt_fit_clear(&fit);
    seen_model_clear(&f);
}

static void test_a_photograph(void)
{
    SeenModel f;
    DtModelFit fit;
    seen_model_init(&f, &seen_usual, seen_quarters, 2);
    seen_model_lay_rule(&f, &seen_usual);
    f.scans[0]->photograph = TRUE;
    dt_model_clear(&f.m);
    dt_model_init(&f.m, f.p, &f.e);
    check_fit(&f.m, TRUE, &fit);
    dt_fit_clear(&fit);
    seen_model_clear(&f);
}

/* 2 and -1 of two unknowns with variances 4 and 9 that go together by 1: 4*4 - 2*2*1*1 + 9 = 21. */
static void test_the_deviation_of_a_sum(void)
{
    double v[] = {4, 0, 1, 0, 99, 0, 1, 0, 9};
    double shared[] = {1, 0, 0.5, 0, 99, 0, 0.5, 0, 2};
    const DtModelFit fit = {.v = v, .v_shared = shared};
    static const double weights[] = {2, 0, -1}, none[] = {0, 0, 0};
    g_assert_cmpfloat_with_epsilon(dt_fit_sd(&fit, 3, weights), sqrt(21), 1e-12);
    g_assert_cmpfloat(dt_fit_sd(&fit, 3, none), ==, 0);
    g_assert_cmpfloat_with_epsilon(dt_fit_sd_shared(&fit, 3, weights), 2, 1e-12); /* 4 - 2 + 2 */
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/model-fit/rule", test_one_scan_with_a_rule);
    g_test_add_func("/model-fit/card", test_two_scans_with_a_card);
    g_test_add_func("/model-fit/moved", test_three_scans_with_marks_that_were_moved);
    g_test_add_func("/model-fit/photograph", test_a_photograph);
    g_test_add_func("/model-fit/sum", test_the_deviation_of_a_sum);
    return g_test_run();
}
