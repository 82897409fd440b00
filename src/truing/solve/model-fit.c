/* model-fit: see model-fit.h. */
#include "truing/solve/model-fit.h"

#include "drawtrue/base.h"
#include "truing/sheet/scan-part.h"
#include "truing/solve/least-squares.h"
#include "truing/solve/outliers.h"

#include <math.h>
#include <string.h>

enum { UNWEIGHED = 4, WEIGHED = 5, MOST_WEIGHED = 20, STEPS = 6 }; /* rounds, and steps of each */
static const double steady_weight = 0.02;
static const double least_sd_mm = 5e-4, most_sd_mm = 1; /* of an observation */

static const double rule_sd_mm =
    0.1 / 1.7320508075688772; /* a reading of +-0.1 mm, anything within it
                                                            * alike (GUM 4.3.7) */
/* ISO/IEC 7810, ID-1; a new card is 85.47 to 85.72 mm by 53.92 to 54.03 mm (from memory), anything within it
 * alike; one that was carried about may be worn. */
static const double card_size_mm[2] = {85.60, 53.98}, card_tolerance_mm[2] = {0.14, 0.07};
static const double card_wave_mm = 0.02; /* what a scanner's carriage does over such a length */
static const double wave_size_mm = 0.02,
                    wave_length_mm = 100; /* of a scanner's carriage, where one scan
                                                               * cannot tell it */

typedef struct {
    double *a, *b; /* normal equations of one class, and the right side */
    double yy;
    double n; /* the sum of their weights */
} Sum;

typedef struct {
    DtModel *m;
    DtModelFit *fit;
    Sum sums[DT_CLASSES];
    double *fixed, *fixed_b; /* of the priors that stay as they are, and of the rule */
    double *prior;           /* of those priors alone */
    double *h;               /* scratch: n by n */
    double *rows;            /* room for dt_residuals_of() */
} Fit;

static size_t square_size(const Fit *f)
{
    return (size_t)f->m->n * (size_t)f->m->n;
}

static void add_outer(double *a, double *b, int n, const double *row, double y, double weight)
{
    int index[512], k = 0;
    for (int i = 0; i < n && k < 512; i++)
        if (row[i] != 0)
            index[k++] = i;
    for (int i = 0; i < k; i++) {
        const double w = row[index[i]] * weight;
        double *to = a + (size_t)index[i] * (size_t)n;
        for (int j = 0; j < k; j++)
            to[index[j]] += w * row[index[j]];
        b[index[i]] += w * y;
    }
}

/* Priors --------------------------------------------------------------------------------------- */

static void add_prior(Fit *f, int i, double sd)
{
    f->fixed[(size_t)i * (size_t)f->m->n + (size_t)i] += 1 / (sd * sd);
}

/* A curve has no mean and no slope: those are the scale, the squareness and how the sheet lies. */
static void level_curve(Fit *f, const DtCurve *c)
{
    const double sd = 0.0005, y = 0;
    const int n = f->m->n;
    for (int degree = 0; degree < 2; degree++) {
        double *row = f->rows;
        memset(row, 0, (size_t)n * sizeof *row);
        for (int i = 0; i < c->n; i++) {
            const double t = 2.0 * i / (c->n - 1) - 1;
            row[c->first + i] = degree == 0 ? 1.0 / c->n : 3 * t / c->n;
        }
        add_outer(f->fixed, f->fixed_b, n, row, y, 1 / (sd * sd));
    }
}

/* Wide against what machines and scanners are, so that they tell nothing where the evidence does. */
static void add_priors(Fit *f)
{
    const DtModel *m = f->m;
    memset(f->fixed, 0, square_size(f) * sizeof *f->fixed);
    memset(f->fixed_b, 0, (size_t)m->n * sizeof *f->fixed_b);
    for (int i = 0; i < 2; i++) {
        add_prior(f, m->scale[i], 0.03);
        add_prior(f, m->glass_scale[i], 0.01);
        add_prior(f, m->pulley[i], 0.5);
        add_prior(f, m->pulley[i] + 1, 0.5);
        add_prior(f, m->gear[i], 0.5);
        add_prior(f, m->gear[i] + 1, 0.5);
    }
    add_prior(f, m->square, 0.02);
    add_prior(f, m->skew, 0.01);
    for (int i = 0; i < 2; i++)
        add_prior(f, m->card[i], card_tolerance_mm[i] / sqrt(3) / card_size_mm[i]);
    for (int i = 0; i < m->n_lines; i++)
        add_prior(f, m->lines + i, 0.05);
    for (int k = 0; k < m->n_scans; k++) {
        const int n = m->pose[k].photograph ? 2 * DT_BEND_TERMS : 0;
        for (int i = 0; i < 3; i++)
            add_prior(f, m->pose[k].first + i, 1e3);
        for (int i = 0; i < n; i++)
            add_prior(f, m->pose[k].first + 3 + i, 30);
    }
    for (int i = 0; i < DT_CURVES; i++)
        for (int k = 0; k < m->curves[i].n; k++)
            add_prior(f, m->curves[i].first + k, 3);
    for (int i = 0; i < 2; i++) {
        level_curve(f, &m->curves[DT_CURVE_POSITION + i]);
        level_curve(f, &m->curves[DT_CURVE_STRAIGHT + i]);
        level_curve(f, &m->curves[DT_CURVE_WAVE + i]);
    }
}

/* A gauge line's length by rule, between its two ticks. */
static void add_rule(Fit *f, int axis)
{
    const DtModel *m = f->m;
    const int way[2] = {1, 1}, n = m->n;
    DtPoint ticks[2];
    if (m->e->n_rule[axis] == 0 || !dt_model_gauge_ticks(m->e->sheet, axis, ticks))
        return;
    double *rows = f->rows;
    memset(rows, 0, 4 * (size_t)n * sizeof *rows);
    DtPoint at[2];
    for (int i = 0; i < 2; i++)
        at[i] = dt_model_ink(m, ticks[i], way, rows + 2 * i * n, rows + (2 * i + 1) * n);
    const double *low = rows + axis * n, *high = rows + (2 + axis) * n;
    g_autofree double *row = g_new(double, n);
    double y = dt_model_rule_mean(m->e, axis) - dt_point_distance(at[0], at[1]);
    for (int i = 0; i < n; i++) {
        row[i] = high[i] - low[i];
        y += row[i] * m->b[i];
    }
    add_outer(f->fixed, f->fixed_b, n, row, y,
              (double)m->e->n_rule[axis] / (rule_sd_mm * rule_sd_mm));
}

/* The card's length or width as a scan shows it. Two parallel lines with the normal n lie farther apart by the
 * factor |A'n| where the scanner's map A takes them to lines with that normal. */
static void add_card(Fit *f, const DtScan *s, int i)
{
    const DtModel *m = f->m;
    const DtPoint n = s->card_normal[i];
    const double sx = 1 + m->b[m->glass_scale[0]], sy = 1 + m->b[m->glass_scale[1]],
                 skew = m->b[m->skew];
    const DtPoint v = {sx * n.x, sx * skew * n.x + sy * n.y};
    const double size = hypot(v.x, v.y), sd = hypot(s->card_sd[i], card_wave_mm) / card_size_mm[i];
    double *row = f->rows;
    memset(row, 0, (size_t)m->n * sizeof *row);
    row[m->glass_scale[0]] = (v.x * n.x + v.y * skew * n.x) / size;
    row[m->glass_scale[1]] = v.y * n.y / size;
    row[m->skew] = v.y * sx * n.x / size;
    row[m->card[i]] = size;
    double y = s->card_mm[i] / card_size_mm[i] - size * (1 + m->b[m->card[i]]);
    for (int k = 0; k < m->n; k++)
        y += row[k] * m->b[k];
    add_outer(f->fixed, f->fixed_b, m->n, row, y, 1 / (sd * sd));
}

/* Observations --------------------------------------------------------------------------------- */

static void build(Fit *f)
{
    const int n = f->m->n;
    for (int c = 0; c < DT_CLASSES; c++) {
        memset(f->sums[c].a, 0, square_size(f) * sizeof(double));
        memset(f->sums[c].b, 0, (size_t)n * sizeof(double));
        f->sums[c].yy = 0;
        f->sums[c].n = 0;
    }
    for (size_t i = 0; i < f->m->n_items; i++) {
        double y[DT_MOST_SCANS], *row[DT_MOST_SCANS];
        const DtItem *item = &f->m->items[i];
        const int seen = dt_residuals_of(f->m, item, f->rows, y, row);
        for (int j = 0; j < seen; j++) {
            Sum *s = &f->sums[dt_item_class(item, j)];
            for (int k = 0; k < n; k++) /* of the unknowns themselves, not of their change */
                y[j] += row[j][k] * f->m->b[k];
            add_outer(s->a, s->b, n, row[j], y[j], item->weight);
            s->yy += item->weight * y[j] * y[j];
            s->n += item->weight;
        }
    }
    add_priors(f);
    memcpy(f->prior, f->fixed, square_size(f) * sizeof *f->prior);
    for (int axis = 0; axis < 2; axis++)
        add_rule(f, axis);
    for (int k = 0; k < f->m->n_scans; k++)
        for (int i = 0; i < 2 && f->m->e->scans[k]->has_card; i++)
            add_card(f, f->m->e->scans[k], i);
}

/* Iteration ------------------------------------------------------------------------------------ */

static void add_stiffness(const Fit *f, int id)
{
    const DtCurve *c = &f->m->curves[id];
    static const double second[3] = {1, -2, 1};
    for (int i = 0; i + 2 < c->n; i++)
        for (int j = 0; j < 3; j++)
            for (int k = 0; k < 3; k++)
                f->h[(size_t)(c->first + i + j) * (size_t)f->m->n + (size_t)(c->first + i + k)] +=
                    f->fit->stiffness[id] * second[j] * second[k];
}

/* The unknowns and their covariance with the deviations and stiffnesses as they are. */
static gboolean solve(Fit *f)
{
    const size_t n = (size_t)f->m->n;
    g_autofree double *b = g_memdup2(f->fixed_b, n * sizeof *b);
    memcpy(f->h, f->fixed, square_size(f) * sizeof *f->h);
    memcpy(f->fit->sd_used, f->fit->sd, sizeof f->fit->sd_used);
    for (int c = 0; c < DT_CLASSES; c++) {
        const double w = 1 / (f->fit->sd[c] * f->fit->sd[c]);
        if (f->sums[c].n == 0)
            continue;
        for (size_t i = 0; i < n * n; i++)
            f->h[i] += w * f->sums[c].a[i];
        for (size_t i = 0; i < n; i++)
            b[i] += w * f->sums[c].b[i];
    }
    for (int i = 0; i < DT_CURVES; i++)
        add_stiffness(f, i);
    memcpy(f->fit->v, f->h, square_size(f) * sizeof *f->h);
    if (!dt_invert_positive(n, f->fit->v, NULL))
        return FALSE;
    for (size_t i = 0; i < n; i++) {
        double sum = 0;
        for (size_t j = 0; j < n; j++)
            sum += f->fit->v[i * n + j] * b[j];
        f->m->b[i] = sum;
    }
    return TRUE;
}

static void update_deviation(Fit *f, int c)
{
    const size_t n = (size_t)f->m->n;
    const Sum *s = &f->sums[c];
    double rss = s->yy, used = 0;
    if (s->n == 0)
        return;
    for (size_t i = 0; i < n; i++) {
        double ab = 0;
        for (size_t j = 0; j < n; j++) {
            ab += s->a[i * n + j] * f->m->b[j];
            used += s->a[i * n + j] * f->fit->v[i * n + j];
        }
        rss += f->m->b[i] * (ab - 2 * s->b[i]);
    }
    used /= f->fit->sd[c] * f->fit->sd[c];
    f->fit->left[c] = MAX(s->n - used, 1);
    f->fit->n[c] = s->n;
    f->fit->sd[c] = CLAMP(sqrt(MAX(rss, 0) / f->fit->left[c]), least_sd_mm, most_sd_mm);
}

static void update_stiffness(Fit *f, int id)
{
    const double least = 10, most = 1e9;
    const DtCurve *c = &f->m->curves[id];
    const size_t n = (size_t)f->m->n;
    const double *b = f->m->b + c->first;
    double bent = 0, spread = 0;
    static const double second[3] = {1, -2, 1};
    if (id >= DT_CURVE_WAVE && !f->fit->wave_known)
        return;
    for (int i = 0; i + 2 < c->n; i++) {
        const double d = b[i] - 2 * b[i + 1] + b[i + 2];
        bent += d * d;
        for (int j = 0; j < 3; j++)
            for (int k = 0; k < 3; k++)
                spread += second[j] * second[k] *
                          f->fit->v[(size_t)(c->first + i + j) * n + (size_t)(c->first + i + k)];
    }
    /* The iteration of Fellner and Schall, in the form of its fixed point. */
    f->fit->stiffness[id] = CLAMP((c->n - 2) / MAX(bent + spread, 1e-12), least, most);
}

static void start(Fit *f)
{
    static const double sd[DT_CLASSES] = {0.01, 0.005, 0.02, 0.005, 0.01, 0.005,
                                          0.02, 0.005, 0.01, 0.005, 0.01, 0.005};
    memcpy(f->fit->sd, sd, sizeof sd);
    const double bend =
        wave_size_mm * pow(2 * G_PI / wave_length_mm * f->m->curves[DT_CURVE_WAVE].step, 2);
    for (int i = 0; i < DT_CURVES; i++)
        f->fit->stiffness[i] = i < DT_CURVE_WAVE ? 1e4 : 2 / (bend * bend);
    for (int c = 0; c < DT_CLASSES; c++) {
        f->sums[c].a = g_new(double, square_size(f));
        f->sums[c].b = g_new(double, f->m->n);
    }
    f->fixed = g_new(double, square_size(f));
    f->fixed_b = g_new(double, f->m->n);
    f->prior = g_new(double, square_size(f));
    f->h = g_new(double, square_size(f));
    f->rows = g_new(double, DT_RESIDUAL_ROWS *(gsize)f->m->n);
    for (int k = 1; k < f->m->n_scans; k++)
        f->fit->wave_known |= (f->m->e->scans[k]->turn + f->m->e->scans[0]->turn) % 2 == 1;
}

static void finish(Fit *f)
{
    for (int c = 0; c < DT_CLASSES; c++) {
        g_free(f->sums[c].a);
        g_free(f->sums[c].b);
    }
    g_free(f->fixed);
    g_free(f->fixed_b);
    g_free(f->prior);
    g_free(f->h);
    g_free(f->rows);
}

/* Of what the residuals scatter without its own say: var(y) is s^2 (1 - h) for an observation with its whole weight, and
 * s^2 (1 + h) for one without any, with h what it takes from its own value ("leverage"). Where a mark stands alone the
 * curves follow it, and its residual is small however far it was displaced (Belsley, Kuh and Welsch 1980). */
static double spread_of(const Fit *f, const double *row, double sd, double weight)
{
    const double least = 0.05;
    const size_t n = (size_t)f->m->n;
    size_t at[512], k = 0;
    double sum = 0;
    for (size_t i = 0; i < n && k < G_N_ELEMENTS(at); i++)
        if (row[i] != 0)
            at[k++] = i;
    for (size_t i = 0; i < k; i++)
        for (size_t j = 0; j < k; j++)
            sum += row[at[i]] * f->fit->v[at[i] * n + at[j]] * row[at[j]];
    return sqrt(MAX(1 + (1 - 2 * weight) * sum / (sd * sd), least));
}

/* The residuals of an item, each by its spread: its sums and differences. Returns how many there are. */
static int residuals_of(const Fit *f, const DtItem *item, double *out)
{
    double *row[DT_MOST_SCANS];
    const int seen = dt_residuals_of(f->m, item, f->rows, out, row);
    for (int j = 0; j < seen; j++)
        out[j] =
            fabs(out[j]) / spread_of(f, row[j], f->fit->sd[dt_item_class(item, j)], item->weight);
    return seen;
}

/* The deviation of a class by the median of its residuals, which up to half of them may spoil: of a normal
 * distribution it is 0.6745 deviations. The factor for few observations is that of Rousseeuw and Leroy 1987. */
static double robust_deviation(const Fit *f, int c, GArray *sizes)
{
    const double of_normal = 1.4826, few = 1 + 5 / f->fit->left[c];
    const double sd = of_normal * few * dt_median((double *)(void *)sizes->data, sizes->len);
    return CLAMP(sd, least_sd_mm, most_sd_mm);
}

/* The weight of what is `r` deviations off: none far out, so that no mark that was displaced pulls the others along
 * (Hampel 1974, a redescending function of three parts). */
static double weight_of(double r)
{
    const double whole = 4, falls = 6, none = 10;
    if (r <= whole)
        return 1;
    if (r <= falls)
        return whole / r;
    return r < none ? whole / r * (none - r) / (none - falls) : 0;
}

static void find_deviations(const Fit *f, double sd[DT_CLASSES])
{
    GArray *sizes[DT_CLASSES];
    for (int c = 0; c < DT_CLASSES; c++)
        sizes[c] = g_array_new(FALSE, FALSE, sizeof(double));
    for (size_t i = 0; i < f->m->n_items; i++) {
        double size[DT_MOST_SCANS];
        const DtItem *item = &f->m->items[i];
        const int seen = residuals_of(f, item, size);
        for (int j = 0; j < seen; j++)
            g_array_append_val(sizes[dt_item_class(item, j)], size[j]);
    }
    for (int c = 0; c < DT_CLASSES; c++) {
        sd[c] = sizes[c]->len > 0 ? robust_deviation(f, c, sizes[c]) : f->fit->sd[c];
        g_array_unref(sizes[c]);
    }
}

/* Returns by how much a weight has changed at most. */
static double weigh_items(Fit *f)
{
    double sd[DT_CLASSES], most = 0;
    find_deviations(f, sd);
    for (size_t i = 0; i < f->m->n_items; i++) {
        DtItem *item = &f->m->items[i];
        double size[DT_MOST_SCANS], worst = 0;
        const int seen = residuals_of(f, item, size);
        for (int j = 0; j < seen; j++)
            worst = MAX(worst, size[j] / sd[dt_item_class(item, j)]);
        const double weight = item->surrounded ? 0 : weight_of(worst);
        most = MAX(most, fabs(weight - item->weight));
        item->weight = weight;
    }
    return most;
}

/* A mark that was displaced by a few deviations stays in, and one of a hundred adds a tenth to what they seem to vary.
 * How much that figure varies itself follows from the fourth moment (Kendall and Stuart 1977, chapter 10, from memory),
 * which such marks raise. */
static void find_tails(const Fit *f)
{
    const double normal = 2;
    double n[DT_CLASSES] = {0}, second[DT_CLASSES] = {0}, fourth[DT_CLASSES] = {0};
    for (size_t i = 0; i < f->m->n_items; i++) {
        double size[DT_MOST_SCANS];
        const DtItem *item = &f->m->items[i];
        const int seen = residuals_of(f, item, size);
        for (int j = 0; j < seen; j++) {
            const int c = dt_item_class(item, j);
            const double square = size[j] * size[j];
            n[c] += item->weight;
            second[c] += item->weight * square;
            fourth[c] += item->weight * square * square;
        }
    }
    for (int c = 0; c < DT_CLASSES; c++)
        f->fit->tails[c] =
            second[c] > 0 ? MAX(n[c] * fourth[c] / (second[c] * second[c]) - 1, normal) : normal;
}

static gboolean improve(Fit *f)
{
    build(f);
    for (int step = 0; step < STEPS && !dt_work_stopped(); step++) {
        if (!solve(f))
            return FALSE;
        for (int c = 0; c < DT_CLASSES; c++)
            update_deviation(f, c);
        for (int i = 0; i < DT_CURVES; i++)
            update_stiffness(f, i);
    }
    return TRUE;
}

/* Weighs and fits by turns, a few times and until the weights are steady. */
static gboolean weigh_and_improve(Fit *f)
{
    double change = 1;
    for (int round = 0; round < WEIGHED || (change > steady_weight && round < MOST_WEIGHED);
         round++) {
        change = weigh_items(f);
        if (!improve(f))
            return FALSE;
    }
    return TRUE;
}

static gboolean iterate(Fit *f)
{
    for (int round = 0; round < UNWEIGHED; round++)
        if (!improve(f))
            return FALSE;
    return weigh_and_improve(f) && (!dt_find_surrounded(f->m) || weigh_and_improve(f));
}

/* V P V, with P what the priors and the stiffness of the curves add to the inverse of V. It is the mean square of the
 * bias by smoothing, the rest of V is noise (Nychka 1988), and every sheet of a machine has much the same bias. */
static void find_shared(const Fit *f)
{
    const size_t n = (size_t)f->m->n;
    const double *v = f->fit->v;
    g_autofree double *pv = g_new0(double, n *n);
    f->fit->v_shared = g_new0(double, n *n);
    memcpy(f->h, f->prior, square_size(f) * sizeof *f->h);
    for (int i = 0; i < DT_CURVES; i++)
        add_stiffness(f, i);
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < n; k++)
            for (size_t j = 0; f->h[i * n + k] != 0 && j < n; j++)
                pv[i * n + j] += f->h[i * n + k] * v[k * n + j];
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < n; k++)
            for (size_t j = 0; j < n; j++)
                f->fit->v_shared[i * n + j] += v[i * n + k] * pv[k * n + j];
}

gboolean dt_fit_model(DtModel *m, DtModelFit *out, GError **error)
{
    Fit f = {.m = m, .fit = out};
    *out = (DtModelFit){.v = g_new(double, (size_t)m->n *(size_t)m->n)};
    start(&f);
    const gboolean good = iterate(&f);
    if (good) {
        find_tails(&f);
        find_shared(&f);
        dt_residuals_init(&out->left_over, m, out);
    }
    finish(&f);
    if (!good) {
        g_set_error_literal(
            error, DT_ERROR, DT_ERROR_INPUT,
            "too little of the sheet was seen to tell the machine's errors from it");
        return FALSE;
    }
    return dt_work_check(error);
}

void dt_fit_clear(DtModelFit *f)
{
    dt_residuals_clear(&f->left_over);
    g_free(f->v);
    g_free(f->v_shared);
}

static double sd_by(const double *v, int n, const double *weights)
{
    double sum = 0;
    for (int i = 0; i < n; i++)
        for (int j = 0; weights[i] != 0 && j < n; j++)
            sum += weights[i] * weights[j] * v[(size_t)i * (size_t)n + (size_t)j];
    return sqrt(MAX(sum, 0));
}

double dt_fit_sd(const DtModelFit *f, int n, const double *weights)
{
    return sd_by(f->v, n, weights);
}

double dt_fit_sd_shared(const DtModelFit *f, int n, const double *weights)
{
    return sd_by(f->v_shared, n, weights);
}
