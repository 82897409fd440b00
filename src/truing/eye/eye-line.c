/* eye-line: readings of a rule along a gauge line: the scale of the axis, its pulley error, and
 * its uneven places.
 *
 * The tick at c from the first one, which is at a place a of the axis by its scale alone, is
 * read at
 *     m = s c + p (sin(w a + phase) - sin(w a0 + phase)) + q(a) - q(a0) + z,
 * with the scale s, an eccentric pulley p that winds up 2 pi / w of cord in a turn, the position
 * table q without mean and slope, and the offset z of the rule from the first tick. Least
 * squares, with the usual sizes of p and z and the usual bend of q as further observations
 * (Tikhonov 1963). */
#include "truing/eye/eye.h"
#include "truing/eye/eye-fit.h"

#include <math.h>

enum { MOST_READ = 2 * DT_EYE_PLACES, SCALE = 0, SINE, COSINE, LAID, KNOTS };
enum { PRIORS = 3 + DT_EYE_MOST_KNOTS };

/* Standard deviations of usual sizes, mm: each component of a pulley's sine, the rule. */
static const double usual_pulley_mm = 0.085, usual_laid_mm = 0.06;
/* By which the position leaves the straight line over 20 mm, see dt_eye_bend_mm(). */
static const double usual_bend_mm = 0.07;

typedef struct {
    double along, mm, sd; /* commanded from the first tick; read */
    gboolean laid;        /* together with the others along the line */
    const char *name;
} Reading;

typedef struct {
    const DtProfile *p;
    int axis;
    double start;                /* commanded place of the first tick */
    double paper_from, paper_mm; /* commanded */
    double turn;                 /* mm of cord that one turn of the pulley takes up */
    double scale;                /* as known so far */
    Reading readings[MOST_READ];
    int n, knots;
    double knot[DT_EYE_MOST_KNOTS];
} Line;

static void gather(Line *l, const DtTestSheet *s, const DtEyeReadings *r, double gauge)
{
    for (size_t i = 0; i < r->n && l->n < MOST_READ; i++) {
        const DtAsk *a = &r->asks[i];
        const DtEyeAnswer *e = &r->answers[i];
        if (a->part != DT_SHEET_SCALE || a->kind != DT_ASK_RULE || a->axis != l->axis || e->n == 0)
            continue;
        const gboolean place = a->row >= DT_EYE_PLACES;
        l->readings[l->n++] =
            (Reading){.along = place ? dt_eye_place_mm(s, l->axis, a->row % DT_EYE_PLACES) : gauge,
                      .mm = e->value,
                      .sd = e->sd,
                      .laid = place,
                      .name = a->name};
    }
}

/* Over the paper, half a turn of the pulley apart: what is usual of their bends keeps them from absorbing its
 * oscillation, and goes on straight beyond the line. */
static void set_knots(Line *l)
{
    const double from = l->scale * l->paper_from, length = l->scale * l->paper_mm;
    l->knots = CLAMP((int)(2 * length / l->turn) + 1, 3, DT_EYE_MOST_KNOTS);
    for (int k = 0; k < l->knots; k++)
        l->knot[k] = from + length * k / (l->knots - 1);
}

/* Weight of knot `k` in the value at a place. */
static double share(const Line *l, int k, double at)
{
    const double step = l->knot[1] - l->knot[0];
    return MAX(1 - fabs(at - l->knot[k]) / step, 0);
}

static double phase_at(const Line *l, double at)
{
    return 2 * G_PI * at / l->turn;
}

static void add_readings(const Line *l, int n, double *a, double *b)
{
    const double first = l->scale * l->start;
    const DtTable *has = &l->p->position[l->axis], *twist = &l->p->twist[l->axis];
    for (int i = 0; i < l->n; i++) {
        const Reading *r = &l->readings[i];
        const double at = l->scale * (l->start + r->along);
        double *row = a + i * n;
        row[SCALE] = r->along;
        row[SINE] = sin(phase_at(l, at)) - sin(phase_at(l, first));
        row[COSINE] = cos(phase_at(l, at)) - cos(phase_at(l, first));
        row[LAID] = r->laid ? 1 : 0;
        for (int k = 0; k + KNOTS < n; k++)
            row[KNOTS + k] = share(l, k, at) - share(l, k, first);
        b[i] = r->mm;
        /* ticks are drawn with the other axis going towards -, see part-scale.c */
        b[i] += (dt_table_at(twist, at) - dt_table_at(twist, first)) / 2;
        if (n == KNOTS) /* the profile's table is used */
            b[i] -= dt_table_at(has, at) - dt_table_at(has, first);
        for (int k = 0; k < n; k++)
            row[k] /= r->sd;
        b[i] /= r->sd;
    }
}

/* The usual sizes and bends; the table has no mean and no slope, which are the paper's position
 * and the scale. */
static gsize add_priors(const Line *l, int n, double *a)
{
    const double strict_mm = 1e-5;
    const double pulley_mm = l->n < DT_EYE_ALONG ? strict_mm : usual_pulley_mm; /* not seen */
    gsize m = 0;
    a[m++ * (gsize)n + SINE] = 1 / pulley_mm;
    a[m++ * (gsize)n + COSINE] = 1 / pulley_mm;
    a[m++ * (gsize)n + LAID] = 1 / usual_laid_mm;
    if (n == KNOTS)
        return m;
    const double bend_mm = dt_eye_bend_mm(usual_bend_mm, l->knot[1] - l->knot[0]);
    m += (gsize)dt_eye_usual_bends(l->knots, bend_mm, a + m * (gsize)n + KNOTS, n);
    return m + (gsize)dt_eye_level_curve(l->knots, a + m * (gsize)n + KNOTS, n);
}

/* With a table of its own, or with the profile's. */
static gboolean fit(const Line *l, gboolean uneven, DtEyeFit *f)
{
    const int n = KNOTS + (uneven ? l->knots : 0);
    const gsize most = (gsize)(l->n + PRIORS);
    g_autofree double *a = g_new0(double, most *(gsize)n), *b = g_new0(double, most);
    add_readings(l, n, a, b);
    const int rows = l->n + (int)add_priors(l, n, a + l->n * n);
    return dt_eye_fit(l->n, rows, n, a, b, f);
}

/* Whether the sine differs significantly from the profile's (chi-square, 5 %). */
static gboolean is_off_centre(const Line *l, const DtEyeFit *f)
{
    const double has = l->p->pulley_error[l->axis], phase = l->p->pulley_phase[l->axis];
    const double d[2] = {f->x[SINE] - has * cos(phase), f->x[COSINE] - has * sin(phase)};
    const double *c = f->covariance;
    const double ss = c[SINE * f->n + SINE], sc = c[SINE * f->n + COSINE],
                 cc = c[COSINE * f->n + COSINE];
    const double square =
        (d[0] * d[0] * cc - 2 * d[0] * d[1] * sc + d[1] * d[1] * ss) / (ss * cc - sc * sc);
    return square > dt_eye_chi_square_95(2);
}

static void tell_pulley(const DtEyeFit *f, DtEyeLine *out)
{
    const double a = f->x[SINE], b = f->x[COSINE], size = MAX(hypot(a, b), 1e-6);
    const double *c = f->covariance;
    const double aa = c[SINE * f->n + SINE], ab = c[SINE * f->n + COSINE],
                 bb = c[COSINE * f->n + COSINE];
    out->pulley = size;
    out->phase = atan2(b, a);
    out->pulley_sd = sqrt(a * a * aa + 2 * a * b * ab + b * b * bb) / size;
    out->phase_sd = MIN(sqrt(b * b * aa - 2 * a * b * ab + a * a * bb) / (size * size), G_PI);
}

/* A reading that no rail explains. */
static gboolean check(const Line *l, const DtEyeFit *f, GError **error)
{
    const double most_mm = 0.4;
    g_autofree double *a = g_new0(double, (gsize)(l->n * f->n)), *b = g_new0(double, (gsize)l->n);
    add_readings(l, f->n, a, b);
    int odd = 0;
    double most = 0;
    for (int i = 0; i < l->n; i++) {
        double says = 0;
        for (int k = 0; k < f->n; k++)
            says += a[i * f->n + k] * f->x[k];
        const double off = (b[i] - says) * l->readings[i].sd;
        if (fabs(off) > fabs(most)) {
            most = off;
            odd = i;
        }
    }
    if (fabs(most) <= most_mm)
        return TRUE;
    g_set_error(
        error, DT_ERROR, DT_ERROR_INPUT,
        "%s says %.1f mm where the other readings of this line say about %.1f; read it again",
        l->readings[odd].name, l->readings[odd].mm, l->readings[odd].mm - most);
    return FALSE;
}

/* The phase of the pulley depends on the scale, which each round knows better. */
static gboolean fit_rounds(Line *l, gboolean uneven, DtEyeFit *f)
{
    enum { ROUNDS = 3 };
    for (int i = 0; i < ROUNDS; i++) {
        set_knots(l);
        if (!fit(l, uneven, f))
            return FALSE;
        l->scale = f->x[SCALE];
    }
    return TRUE;
}

/* Of the table, where it explains the readings significantly better than the profile's, or without. */
static gboolean fit_either(Line *l, DtEyeFit *best, gboolean *uneven)
{
    g_auto(DtEyeFit) even = {0}, table = {0};
    Line with = *l;
    *uneven = FALSE;
    if (!fit_rounds(l, FALSE, &even))
        return FALSE;
    *uneven = fit_rounds(&with, TRUE, &table) &&
              dt_eye_is_better(l->n, even.left, even.hat, table.left, table.hat);
    if (*uneven)
        *l = with;
    DtEyeFit *taken = *uneven ? &table : &even;
    *best = *taken;
    *taken = (DtEyeFit){0};
    return TRUE;
}

gboolean dt_eye_solve_line(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                           int axis, DtEyeLine *out, GError **error)
{
    const double gauge = dt_eye_gauge_mm(s, axis);
    Line l = {.p = p,
              .axis = axis,
              .start = dt_eye_gauge_start(s, axis),
              .paper_from = axis == 0 ? s->paper_at.x : s->paper_at.y,
              .paper_mm = axis == 0 ? s->paper_w : s->paper_h,
              .turn = G_PI * (p->pulley_diameter[axis] + p->cord_diameter[axis]),
              .scale = p->scale[axis]};
    g_auto(DtEyeFit) f = {0};
    *out = (DtEyeLine){0};
    gather(&l, s, r, gauge);
    if (l.n == 0 || gauge <= 0 || !fit_either(&l, &f, &out->uneven))
        return TRUE;
    if (!check(&l, &f, error))
        return FALSE;
    out->known = TRUE;
    out->scale = f.x[SCALE];
    out->scale_sd = dt_eye_fit_sd(&f, SCALE);
    out->off_centre = l.n >= DT_EYE_ALONG && is_off_centre(&l, &f);
    out->readings = l.n;
    tell_pulley(&f, out);
    for (int k = 0; k < l.knots && out->uneven; k++) {
        out->at[k] = l.knot[k];
        out->position[k] = f.x[KNOTS + k];
        out->position_sd[k] = dt_eye_fit_sd(&f, KNOTS + k);
        out->n = k + 1;
    }
    return TRUE;
}
