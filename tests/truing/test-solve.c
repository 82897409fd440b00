/* solve: the figures of a machine that scans have shown are those of the fit, each worked out a second time; what cannot be
 * known is said; and evidence that contradicts itself is refused. */
#include "seen.h"
#include "truing/solve/model-fit.h"
#include "truing/solve/solve.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const DtFigure *find(const DtFigures *f, DtErrorKind kind, int axis)
{
    const DtFigure *found = dt_figures_find(f, kind, axis);
    g_assert_nonnull(found);
    return found;
}

static void check_close(double a, double b, double tolerance)
{
    g_assert_cmpfloat(fabs(a - b), <=, tolerance * MAX(fabs(a), fabs(b)) + 1e-12);
}

/* Against the fit ------------------------------------------------------------------------------- */

/* The least that 1 of 100 chi-squared numbers of n degrees of freedom exceed, by the table of Pearson and Hartley 1966. */
static double chi_squared_99(int n)
{
    static const double table[] = {0,     6.635, 9.210, 11.34, 13.28, 15.09, 16.81, 18.48,
                                   20.09, 21.67, 23.21, 24.73, 26.22, 27.69, 29.14, 30.58,
                                   32.00, 33.41, 34.81, 36.19, 37.57, 38.93, 40.29};
    g_assert_cmpint(n, <, G_N_ELEMENTS(table));
    return table[n];
}

/* Value' covariance^-1 value of unknowns next to each other, by elimination. */
static double chi_squared(const DtModel *m, const DtModelFit *fit, int first, int n)
{
    double a[32][33], x[32], sum = 0;
    for (int i = 0; i < n; i++) {
        for (int j = 0; j < n; j++)
            a[i][j] = fit->v[(first + i) * m->n + first + j];
        a[i][n] = m->b[first + i];
    }
    for (int i = 0; i < n; i++)
        for (int k = i + 1; k < n; k++)
            for (int j = n; j >= i; j--)
                a[k][j] -= a[i][j] * a[k][i] / a[i][i];
    for (int i = n - 1; i >= 0; i--) {
        x[i] = a[i][n];
        for (int j = i + 1; j < n; j++)
            x[i] -= a[i][j] * x[j];
        x[i] /= a[i][i];
        sum += x[i] * m->b[first + i];
    }
    return sum;
}

static double sd_of(const DtModel *m, const DtModelFit *fit, int i)
{
    return sqrt(fit->v[i * m->n + i]);
}

/* `known` is that of a fit of this certainty. */
static void check_figure(const DtModel *m, const DtModelFit *fit, const DtFigure *f, int first,
                         int n, double value, double sd, gboolean known)
{
    check_close(f->value, value, 1e-6);
    check_close(f->sd, sd, 1e-6);
    g_assert_cmpint(f->known, ==, known);
    g_assert_cmpint(f->pen, ==, -1);
    const double chi = chi_squared(m, fit, first, n), limit = chi_squared_99(n);
    if (f->proposed)
        g_assert_true(known && f->gain_mm > 0.002 && chi > 0.99 * limit);
    else
        g_assert_true(!known || f->gain_mm <= 0.002 || chi < 1.01 * limit);
}

/* Of one unknown: what of its uncertainty other sheets may share. */
static void check_shared(const DtModel *m, const DtModelFit *fit, const DtFigure *f, int i)
{
    check_close(f->sd_shared, sqrt(fit->v_shared[i * m->n + i]), 1e-6);
}

static void check_curve(const DtModel *m, const DtModelFit *fit, const DtFigures *f,
                        DtErrorKind kind, int axis, DtCurveId id, gboolean known)
{
    const DtCurve *c = &m->curves[id + axis];
    const DtFigure *g = find(f, kind, axis);
    for (int i = 0; i < c->n; i++, g++) {
        const double sd = sd_of(m, fit, c->first + i);
        g_assert_cmpint(g->kind, ==, kind);
        g_assert_cmpint(g->axis, ==, axis);
        check_close(g->at, c->from + i * c->step, 1e-9);
        check_figure(m, fit, g, c->first, c->n, m->b[c->first + i], sd, known && sd < 0.1);
        check_shared(m, fit, g, c->first + i);
    }
    g_assert_false(g < f->f + f->n && g->kind == kind && g->axis == axis);
}

/* Amplitude and phase of a pulley's sine, with the derivatives by trying. */
static void check_pulley(const DtModel *m, const DtModelFit *fit, const DtFigures *f, int axis)
{
    const int i = m->pulley[axis];
    const double a = m->b[i], b = m->b[i + 1], step = 1e-7, *v = fit->v;
    const double da = (hypot(a + step, b) - hypot(a - step, b)) / (2 * step),
                 db = (hypot(a, b + step) - hypot(a, b - step)) / (2 * step),
                 pa = (atan2(b, a + step) - atan2(b, a - step)) / (2 * step),
                 pb = (atan2(b + step, a) - atan2(b - step, a)) / (2 * step);
    const double aa = v[i * m->n + i], ab = v[i * m->n + i + 1], bb = v[(i + 1) * m->n + i + 1];
    const DtFigure *g = find(f, DT_ERROR_OF_PULLEY, axis);
    const double sd = sqrt(da * da * aa + 2 * da * db * ab + db * db * bb);
    check_figure(m, fit, g, i, 2, hypot(a, b), sd, sd < 0.1);
    const double *s = fit->v_shared + i * m->n + i;
    check_close(g->sd_shared, sqrt(da * da * s[0] + 2 * da * db * s[1] + db * db * s[m->n + 1]),
                1e-6);
    check_close(g->value_2, atan2(b, a), 1e-9);
    check_close(g->sd_2, MIN(sqrt(pa * pa * aa + 2 * pa * pb * ab + pb * pb * bb), G_PI), 1e-4);
}

static void check_mean_reversal(const DtModel *m, const DtModelFit *fit, const DtFigures *f,
                                int axis)
{
    const DtCurve *c = &m->curves[DT_CURVE_SLACK + axis];
    double mean = 0, variance = 0;
    for (int i = 0; i < c->n; i++) {
        mean += m->b[c->first + i] / c->n;
        for (int j = 0; j < c->n; j++)
            variance += fit->v[(c->first + i) * m->n + c->first + j] / (c->n * c->n);
    }
    const DtFigure *g = find(f, DT_ERROR_OF_MEAN_REVERSAL, axis);
    check_close(g->value, mean, 1e-6);
    check_close(g->sd, sqrt(variance), 1e-6);
    g_assert_true(g->known && !g->proposed && g->gain_mm == 0);
}

/* Differences of N scans show what the scans scatter, the sum over sqrt(N) holds N times what the pen did; what is driven
 * towards - scatters more by the slack's share. */
static void check_scatter(const DtModel *m, const DtModelFit *fit, const DtFigures *f, int axis)
{
    double pen[2], pen_sd[2]; /* the latter of the square */
    for (int i = 0; i < 2; i++) {
        const int c = axis * 4 + 2 * i;
        const double sum = fit->sd[c], difference = fit->sd[c + 1];
        pen_sd[i] = sum * sum * sqrt(fit->tails[c] / fit->left[c]) / m->n_scans;
        pen[i] =
            m->n_scans > 1 ? sqrt(MAX(sum * sum - difference * difference, 0) / m->n_scans) : sum;
    }
    const DtFigure *g = find(f, DT_ERROR_OF_SCATTER, axis);
    check_close(g->value, sqrt(MAX(pen[1] * pen[1] - pen[0] * pen[0], 0)), 1e-6);
    g_assert_true(g->known && !g->proposed);
    /* the deviation of a deviation of n is its n-th part over sqrt(2 n); here of two of some 50 */
    g_assert_cmpfloat(g->sd, >, 0.0003);
    g_assert_cmpfloat(g->sd, <, 0.006);
    const double square_sd = hypot(pen_sd[0], pen_sd[1]);
    if (pen[0] * pen[0] > pen_sd[0] && g->value * g->value > square_sd)
        check_close(g->sd, square_sd / (2 * g->value), 1e-6);
}

/* Each figure of the machine as it follows from a fit of the same evidence. `bent`: nothing but photographs. */
static void check_figures(SeenModel *f, const DtFigures *out, gboolean bent)
{
    g_autoptr(GError) error = NULL;
    DtModel *m = &f->m;
    DtModelFit fit;
    dt_fit_model(m, &fit, &error);
    g_assert_no_error(error);
    const double square_sd = sd_of(m, &fit, m->square);
    check_shared(m, &fit, find(out, DT_ERROR_OF_SQUARE, -1), m->square);
    check_figure(m, &fit, find(out, DT_ERROR_OF_SQUARE, -1), m->square, 1, m->b[m->square],
                 square_sd, square_sd < 0.0006 && !bent);
    for (int axis = 0; axis < 2; axis++) {
        const double sd = sd_of(m, &fit, m->scale[axis]);
        check_shared(m, &fit, find(out, DT_ERROR_OF_SCALE, axis), m->scale[axis]);
        check_figure(m, &fit, find(out, DT_ERROR_OF_SCALE, axis), m->scale[axis], 1,
                     1 + m->b[m->scale[axis]], sd, sd < 0.002 && !bent);
        check_pulley(m, &fit, out, axis);
        check_curve(m, &fit, out, DT_ERROR_OF_BACKLASH, axis, DT_CURVE_SLACK, TRUE);
        check_curve(m, &fit, out, DT_ERROR_OF_TWIST, axis, DT_CURVE_TWIST, TRUE);
        check_curve(m, &fit, out, DT_ERROR_OF_POSITION, axis, DT_CURVE_POSITION, !bent);
        check_curve(m, &fit, out, DT_ERROR_OF_STRAIGHT, axis, DT_CURVE_STRAIGHT, !bent);
        check_mean_reversal(m, &fit, out, axis);
        check_scatter(m, &fit, out, axis);
    }
    dt_fit_clear(&fit);
}

/* Against the machine --------------------------------------------------------------------------- */

static int rising(const void *a, const void *b)
{
    const double d = *(const double *)a - *(const double *)b;
    return (d > 0) - (d < 0);
}

/* 95 % of the ink of lines in all directions, driven in all four ways, is nearer to its place than this, once the paper is
 * shifted and turned for the best: by drawing them. */
static double p95(const SeenTruth *t, const DtProfile *p)
{
    enum { N = 4000 };
    static double away[N];
    static DtPoint at[N], off[N];
    g_autoptr(GRand) r = g_rand_new_with_seed(11);
    DtPoint mean_at = {0, 0}, mean_off = {0, 0};
    double cross = 0, size = 0;
    for (int i = 0; i < N; i++) {
        const int way[2] = {i % 2 ? 1 : -1, i % 4 < 2 ? 1 : -1};
        at[i] = dt_point(g_rand_double_range(r, 10, 110), g_rand_double_range(r, 10, 110));
        off[i] = dt_point_sub(seen_ink(t, p, at[i], way), at[i]);
        mean_at = dt_point_add(mean_at, dt_point_scale(at[i], 1.0 / N));
        mean_off = dt_point_add(mean_off, dt_point_scale(off[i], 1.0 / N));
    }
    for (int i = 0; i < N; i++) {
        at[i] = dt_point_sub(at[i], mean_at);
        off[i] = dt_point_sub(off[i], mean_off);
        cross += at[i].x * off[i].y - at[i].y * off[i].x;
        size += at[i].x * at[i].x + at[i].y * at[i].y;
    }
    for (int i = 0; i < N; i++) {
        const double a = g_rand_double_range(r, 0, 2 * G_PI), turn = cross / size;
        away[i] = fabs((off[i].x + turn * at[i].y) * cos(a) + (off[i].y - turn * at[i].x) * sin(a));
    }
    qsort(away, N, sizeof *away, rising);
    return away[N * 95 / 100];
}

static void check_gain(const SeenModel *f, const DtFigures *out, DtErrorKind kind, int axis,
                       const SeenTruth *alone)
{
    const double gain = find(out, kind, axis)->gain_mm, want = p95(alone, f->p);
    g_assert_cmpfloat(fabs(gain / want - 1), <, 0.12);
}

static void check_gains(const SeenModel *f, const DtFigures *out)
{
    const SeenTruth square = {.square = seen_usual.square};
    check_gain(f, out, DT_ERROR_OF_SQUARE, -1, &square);
    for (int i = 0; i < 2; i++) {
        SeenTruth scale = {0}, slack = {0}, pulley = {0};
        scale.scale[i] = seen_usual.scale[i];
        slack.slack[i] = seen_usual.slack[i];
        memcpy(pulley.pulley[i], seen_usual.pulley[i], sizeof pulley.pulley[i]);
        check_gain(f, out, DT_ERROR_OF_SCALE, i, &scale);
        check_gain(f, out, DT_ERROR_OF_BACKLASH, i, &slack);
        check_gain(f, out, DT_ERROR_OF_PULLEY, i, &pulley);
    }
    check_close(out->ink_before_mm, p95(&seen_usual, f->p), 0.1);
    /* By 1.96 deviations: half of the ink scatters by the pen alone, half by the slack too, 0.0107 mm together; and a
     * rule that is read to 0.058 mm over 82 mm leaves 0.02 mm of the scales in half of all such cases. */
    g_assert_cmpfloat(out->ink_after_mm, >, 1.96 * 0.0125);
    g_assert_cmpfloat(out->ink_after_mm, <, 1.96 * 0.02);
}

static void test_two_scans_and_a_rule_tell_all(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 2);
    seen_model_lay_rule(&f, &seen_usual);
    g_autoptr(DtFigures) out = seen_solve(&f);
    check_figures(&f, out, FALSE);
    check_gains(&f, out);
    g_assert_null(out->notes);
    g_assert_false(dt_figures_lack_shape(out));
    for (size_t i = 0; i < out->n; i++) {
        g_assert_true(out->f[i].known);
        g_assert_cmpint(out->f[i].kind, !=, DT_ERROR_OF_RINGING); /* no strokes for it */
    }
    for (int i = 0; i < 2; i++) {
        g_assert_true(find(out, DT_ERROR_OF_SCALE, i)->proposed);
        g_assert_true(find(out, DT_ERROR_OF_BACKLASH, i)->proposed);
        g_assert_true(find(out, DT_ERROR_OF_PULLEY, i)->proposed);
        g_assert_cmpfloat(find(out, DT_ERROR_OF_GEAR, i)->value, ==, 0);
        g_assert_true(find(out, DT_ERROR_OF_GEAR, i)->known);
        g_assert_cmpfloat(fabs(find(out, DT_ERROR_OF_SCATTER, i)->value - seen_usual.slack_sd), <,
                          0.004);
    }
    seen_model_clear(&f);
}

static void test_one_scan_leaves_square_and_scale_open(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 1);
    g_autoptr(DtFigures) out = seen_solve(&f);
    check_figures(&f, out, FALSE);
    g_assert_false(find(out, DT_ERROR_OF_SQUARE, -1)->known);
    g_assert_false(find(out, DT_ERROR_OF_SCALE, 0)->known);
    g_assert_nonnull(strstr(out->notes, "squareness is unknown"));
    g_assert_nonnull(strstr(out->notes, "the scales and their ratio are unknown"));
    /* both without scale and squareness */
    SeenTruth counted = seen_usual;
    counted.scale[0] = counted.scale[1] = counted.square = 0;
    g_assert_true(dt_figures_lack_shape(out));
    check_close(out->ink_before_mm, p95(&counted, f.p), 0.1);
    g_assert_cmpfloat(out->ink_after_mm, <, 1.96 * 0.02);
    seen_model_clear(&f);
}

static void put_table(DtTable *t, double low, double middle, double high)
{
    static const double at[] = {5, 60, 115};
    const double value[] = {low, middle, high};
    *t = (DtTable){g_memdup2(at, sizeof at), g_memdup2(value, sizeof value), 3};
}

static gboolean proposes(const DtFigures *f, DtErrorKind kind, int axis)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis && f->f[i].proposed)
            return TRUE;
    return FALSE;
}

/* A machine without errors, whose profile has some of each kind along X and none along Y. */
static void test_errors_that_the_machine_lacks_leave_the_profile(void)
{
    static const DtErrorKind kinds[] = {DT_ERROR_OF_SCALE,    DT_ERROR_OF_PULLEY,
                                        DT_ERROR_OF_BACKLASH, DT_ERROR_OF_TWIST,
                                        DT_ERROR_OF_POSITION, DT_ERROR_OF_STRAIGHT};
    static const SeenTruth sound = {.pen_sd = 0.008, .scan_sd = 0.004};
    SeenModel f;
    seen_model_init(&f, &sound, seen_quarters, 2);
    seen_model_lay_rule(&f, &sound);
    g_autoptr(DtFigures) before = seen_solve(&f);
    f.p->scale[0] = 1.004;
    f.p->square = 0.004;
    f.p->pulley_error[0] = 0.1;
    f.p->pulley_phase[0] = 1;
    put_table(&f.p->backlash[0], 0.1, 0.2, 0.1);
    put_table(&f.p->twist[0], 0.1, 0, 0.1);
    put_table(&f.p->position[0], 0, 0.1, 0);
    put_table(&f.p->straight[0], 0, -0.1, 0);
    g_autoptr(DtFigures) out = seen_solve(&f);
    g_assert_true(proposes(out, DT_ERROR_OF_SQUARE, -1) &&
                  !proposes(before, DT_ERROR_OF_SQUARE, -1));
    for (size_t i = 0; i < G_N_ELEMENTS(kinds); i++)
        for (int axis = 0; axis < 2; axis++) {
            g_test_message("%d of %d", (int)kinds[i], axis);
            g_assert_false(proposes(before, kinds[i], axis));
            g_assert_cmpint(proposes(out, kinds[i], axis), ==, axis == 0);
        }
    seen_model_clear(&f);
}

/* With one scan the slope of a table of positions or of straightness is as unknown as scale and squareness are. */
static void test_one_scan_leaves_the_slopes_of_tables(void)
{
    static const SeenTruth sound = {.pen_sd = 0.008, .scan_sd = 0.004};
    SeenModel f;
    seen_model_init(&f, &sound, seen_quarters, 1);
    put_table(&f.p->position[0], -0.3, 0, 0.3);
    put_table(&f.p->straight[0], 0.4, 0.2, 0);
    put_table(&f.p->position[1], -0.3, 0.1, 0.3);
    put_table(&f.p->straight[1], 0.4, 0.1, 0);
    g_autoptr(DtFigures) out = seen_solve(&f);
    for (int axis = 0; axis < 2; axis++) {
        g_assert_cmpint(proposes(out, DT_ERROR_OF_POSITION, axis), ==, axis == 1);
        g_assert_cmpint(proposes(out, DT_ERROR_OF_STRAIGHT, axis), ==, axis == 1);
    }
    seen_model_clear(&f);
}

/* Two scans that lie alike within some degrees: what differs between them is small against what a scanner does not
 * repeat. A rule still tells the scale of its own axis, and not of the other. */
static void test_scans_that_lie_alike_leave_square_and_ratio_open(void)
{
    static const double alike[] = {0.02, -0.08};
    SeenModel f;
    seen_model_init(&f, &seen_usual, alike, 2);
    seen_model_lay_rule(&f, &seen_usual);
    f.e.n_rule[1] = 0;
    g_autoptr(DtFigures) out = seen_solve(&f);
    g_assert_false(find(out, DT_ERROR_OF_SQUARE, -1)->known);
    g_assert_false(find(out, DT_ERROR_OF_SQUARE, -1)->proposed);
    g_assert_true(find(out, DT_ERROR_OF_SCALE, 0)->known);
    g_assert_false(find(out, DT_ERROR_OF_SCALE, 1)->known);
    g_assert_nonnull(strstr(out->notes, "lying the same way on the glass"));
    g_assert_nonnull(strstr(out->notes, "the scales and their ratio are unknown"));
    seen_model_clear(&f);
}

/* A scan and a copy of it, as it is or turned by a program: the scanner's errors turn with it, and look like the
 * machine's. */
static void test_a_copy_is_no_second_scan(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 2);
    const DtScan *a = f.scans[0];
    DtScan *b = f.scans[1];
    for (int quarters = 0; quarters < 4; quarters++) {
        const DtAffine turn = dt_affine_then(dt_affine_rotate(-quarters * G_PI / 2),
                                             dt_affine_translate(quarters * 13, 7));
        b->rough = dt_affine_then(a->rough, turn);
        g_assert_cmpuint(a->n, ==, b->n);
        for (size_t i = 0; i < b->n; i++) {
            b->seen[i].at = dt_affine_apply(turn, a->seen[i].at);
            b->seen[i].normal = dt_affine_apply_vector(turn, a->seen[i].normal);
        }
        seen_check_refused(&f, "are the same scan, turned by a program or not at all");
    }
    seen_model_clear(&f);
}

static void test_a_quarter_turn_tells_the_ratio_of_scales(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 2);
    g_autoptr(DtFigures) out = seen_solve(&f);
    check_figures(&f, out, FALSE);
    g_assert_true(find(out, DT_ERROR_OF_SQUARE, -1)->known);
    g_assert_false(find(out, DT_ERROR_OF_SCALE, 0)->known);
    g_assert_null(strstr(out->notes, "squareness"));
    const char *told = strstr(out->notes, "X : Y = ");
    g_assert_nonnull(told);
    double ratio, by;
    g_assert_cmpint(sscanf(told, "X : Y = %lf +- %lf", &ratio, &by), ==, 2);
    g_assert_cmpfloat(fabs(ratio - 1.003 / 0.998), <, 1.5 * by);
    g_assert_cmpfloat(by, <, 0.0005);
    g_assert_cmpfloat(by, >, 0.00001);
    seen_model_clear(&f);
}

/* Where scans differ by more than the pen can scatter, they do not show that it scatters by nothing: lines are displaced
 * at random, one way in one of them and the other way in the other. */
static void test_scatter_that_is_not_seen_is_uncertain(void)
{
    const double off_mm = 0.015;
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 2);
    g_autoptr(GRand) r = g_rand_new_with_seed(3);
    for (size_t i = 0; i < f.scans[0]->n; i++) {
        const double side = g_rand_boolean(r) ? 1 : -1;
        for (size_t k = 0; k < 2; k++) {
            DtSeen *seen = &f.scans[k]->seen[i];
            const double by = (k == 0 ? 1 : -1) * side * off_mm;
            seen->at = dt_point_add(seen->at, dt_point_scale(seen->normal, by));
        }
    }
    g_autoptr(DtFigures) out = seen_solve(&f);
    for (int i = 0; i < 2; i++) {
        const DtFigure *scatter = find(out, DT_ERROR_OF_SCATTER, i);
        g_test_message("scatter %.4f +- %.4f", scatter->value, scatter->sd);
        g_assert_cmpfloat(fabs(scatter->value - seen_usual.slack_sd), <, 3 * scatter->sd);
    }
    seen_model_clear(&f);
}

static void test_photographs_tell_what_is_near(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 2);
    f.scans[0]->photograph = f.scans[1]->photograph = TRUE;
    dt_model_clear(&f.m);
    dt_model_init(&f.m, f.p, &f.e);
    g_autoptr(DtFigures) out = seen_solve(&f);
    check_figures(&f, out, TRUE);
    g_assert_true(g_str_has_prefix(out->notes, "photographs bend and tilt a sheet"));
    g_assert_null(strstr(out->notes, "\n"));
    seen_model_clear(&f);
}

/* A tooth of 0.025 mm each 2.1 mm along X. */
static void test_a_gear_is_found_by_its_teeth(void)
{
    SeenTruth t = seen_usual;
    t.gear[0][0] = 0.015;
    t.gear[0][1] = -0.02;
    t.gear_period[0] = 2.1;
    SeenModel f;
    seen_model_init(&f, &t, seen_quarters, 2);
    g_autoptr(DtFigures) out = seen_solve(&f);
    g_assert_null(strstr(out->notes, "left out")); /* though they are off where no gear is known */
    const DtFigure *x = find(out, DT_ERROR_OF_GEAR, 0), *y = find(out, DT_ERROR_OF_GEAR, 1);
    g_assert_cmpfloat(fabs(x->value - 0.025), <, 3 * x->sd);
    g_assert_cmpfloat(x->sd, <, 0.004);
    g_assert_cmpfloat(fabs(x->value_2 - 2.1), <, 0.02);
    g_assert_true(x->known && !x->proposed);
    g_assert_cmpfloat(y->value, ==, 0);
    g_assert_cmpfloat(y->value_2, ==, 0);
    g_assert_cmpfloat(y->sd, >, 0.0005); /* what would not have stood out */
    g_assert_cmpfloat(y->sd, <, 0.004);
    seen_model_clear(&f);
}

/* Refusals -------------------------------------------------------------------------------------- */

static void test_scans_are_one_to_four(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 1);
    f.e.n_scans = 0;
    seen_check_refused(&f, "there is no scan");
    f.e.n_scans = DT_MOST_SCANS + 1;
    seen_check_refused(&f, "5 scans of one sheet; 4 are read at most");
    seen_model_clear(&f);
}

/* Dots per inch are never 2 % off. */
static void test_a_rule_that_was_read_elsewhere_is_refused(void)
{
    SeenModel f;
    seen_model_init(&f, &seen_usual, seen_quarters, 1);
    for (int axis = 0; axis < 2; axis++) {
        DtPoint ticks[2];
        g_assert_true(dt_model_gauge_ticks(f.s, axis, ticks));
        const double seen = dt_point_distance(ticks[0], ticks[1]), side = axis == 0 ? 1 : -1;
        const double wrong = seen * (1 + side * 0.021), right = seen * (1 + side * 0.019);
        f.e.n_rule[axis] = 1;
        f.e.rule_mm[axis] = &wrong;
        g_autofree char *why = g_strdup_printf(
            "by the rule the gauge line along %s is %.1f mm long, on scan-1.png %.1f mm",
            axis == 0 ? "X" : "Y", wrong, seen);
        seen_check_refused(&f, why);
        f.e.rule_mm[axis] = &right;
        g_autoptr(DtFigures) out = seen_solve(&f);
        f.scans[0]->photograph = TRUE; /* whose size means nothing */
        f.e.rule_mm[axis] = &wrong;
        g_autoptr(DtFigures) bent = seen_solve(&f);
        f.scans[0]->photograph = FALSE;
        f.e.n_rule[axis] = 0;
    }
    seen_model_clear(&f);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/solve/all", test_two_scans_and_a_rule_tell_all);
    g_test_add_func("/solve/one-scan", test_one_scan_leaves_square_and_scale_open);
    g_test_add_func("/solve/lacks", test_errors_that_the_machine_lacks_leave_the_profile);
    g_test_add_func("/solve/slopes", test_one_scan_leaves_the_slopes_of_tables);
    g_test_add_func("/solve/alike", test_scans_that_lie_alike_leave_square_and_ratio_open);
    g_test_add_func("/solve/copy", test_a_copy_is_no_second_scan);
    g_test_add_func("/solve/ratio", test_a_quarter_turn_tells_the_ratio_of_scales);
    g_test_add_func("/solve/scatter", test_scatter_that_is_not_seen_is_uncertain);
    g_test_add_func("/solve/photographs", test_photographs_tell_what_is_near);
    g_test_add_func("/solve/gear", test_a_gear_is_found_by_its_teeth);
    g_test_add_func("/solve/how-many", test_scans_are_one_to_four);
    g_test_add_func("/solve/rule", test_a_rule_that_was_read_elsewhere_is_refused);
    return g_test_run();
}
