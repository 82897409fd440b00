/* eye-line: what a rule tells that is laid along a gauge line: the scale of the axis, its pulley, and where it is
 * uneven.
 *
 * The tick at c from the first one, which is at a place a of the axis by its scale alone, is read at
 *     m = s c + p (sin(w a + phase) - sin(w a0 + phase)) + q(a) - q(a0) + z,
 * with the scale s, a pulley p off centre that takes up 2 pi / w of cord in a turn, the position table q without
 * mean and slope, and z by which the rule lay beside the first tick. Least squares, with the usual sizes of p, q
 * and z as further observations (Tikhonov 1963). */
#include "truing/eye/eye.h"
#include "truing/solve/least-squares.h"

#include <math.h>

enum { MOST_READ = 2 * DT_EYE_PLACES, SCALE = 0, SINE, COSINE, LAID, KNOTS, UNKNOWNS = KNOTS + DT_EYE_MOST_KNOTS };
enum { PRIORS = 3 + DT_EYE_MOST_KNOTS + 2 };

/* Standard deviations of what is usual, mm: of each part of a pulley's sine, of a rail's place, of the rule. */
static const double usual_pulley_mm = 0.085, usual_place_mm = 0.15, usual_laid_mm = 0.06;

typedef struct {
    double along, mm, sd; /* commanded from the first tick; read */
    gboolean laid;        /* with the others along the line */
    const char *name;
} Reading;

typedef struct {
    const DtProfile *p;
    int axis;
    double start; /* commanded place of the first tick */
    double turn;  /* mm of cord that one turn of the pulley takes up */
    double scale; /* as it is known yet */
    Reading readings[MOST_READ];
    int n, knots;
    double knot[DT_EYE_MOST_KNOTS];
} Line;

typedef struct {
    int n; /* unknowns */
    double x[UNKNOWNS], covariance[UNKNOWNS * UNKNOWNS], left;
} Fit;

/* Commanded place of the first tick of a line. */
static double gauge_start(const DtTestSheet *s, int axis)
{
    for (size_t i = 0; i < s->n; i++)
        if (s->marks[i].kind == DT_MARK_GAUGE && s->marks[i].axis == axis && s->marks[i].place == 1)
            return axis == 0 ? s->marks[i].from.x : s->marks[i].from.y;
    return 0;
}

static void gather(Line *l, const DtTestSheet *s, const DtEyeReadings *r, double gauge)
{
    for (size_t i = 0; i < r->n && l->n < MOST_READ; i++) {
        const DtAsk *a = &r->asks[i];
        const DtEyeAnswer *e = &r->answers[i];
        if (a->part != DT_SHEET_SCALE || a->kind != DT_ASK_RULE || a->axis != l->axis || e->n == 0)
            continue;
        const gboolean place = a->row >= DT_EYE_PLACES;
        l->readings[l->n++] = (Reading){
            .along = place ? dt_eye_place_mm(s, l->axis, a->row % DT_EYE_PLACES) : gauge,
            .mm = e->value,
            .sd = e->sd,
            .laid = place,
            .name = a->name};
    }
}

/* Knots no closer than the pulley turns, whose swing they cannot take for the rail then. */
static void set_knots(Line *l, double gauge)
{
    const double from = l->scale * l->start, length = l->scale * gauge;
    l->knots = CLAMP((int)(length / l->turn) + 1, 2, DT_EYE_MOST_KNOTS);
    for (int k = 0; k < l->knots; k++)
        l->knot[k] = from + length * k / (l->knots - 1);
}

/* How much of knot `k` there is in the value at a place. */
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
    const DtTable *has = &l->p->position[l->axis];
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
        if (n == KNOTS) /* the profile's table holds */
            b[i] -= dt_table_at(has, at) - dt_table_at(has, first);
        for (int k = 0; k < n; k++)
            row[k] /= r->sd;
        b[i] /= r->sd;
    }
}

/* What is usual; and the table has no mean and no slope, which are the paper's place and the scale. */
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
    for (int k = 0; k < l->knots; k++)
        a[m++ * (gsize)n + (gsize)(KNOTS + k)] = 1 / usual_place_mm;
    for (int k = 0; k < l->knots; k++) {
        a[m * (gsize)n + (gsize)(KNOTS + k)] = 1 / strict_mm;
        a[(m + 1) * (gsize)n + (gsize)(KNOTS + k)] = (k - (l->knots - 1) / 2.0) / strict_mm;
    }
    return m + 2;
}

/* With a table of its own, or with the profile's. */
static gboolean fit(const Line *l, gboolean uneven, Fit *f)
{
    f->n = KNOTS + (uneven ? l->knots : 0);
    const gsize most = (gsize)(l->n + PRIORS);
    g_autofree double *a = g_new0(double, most * (gsize)f->n), *b = g_new0(double, most);
    add_readings(l, f->n, a, b);
    const gsize m = (gsize)l->n + add_priors(l, f->n, a + l->n * f->n);
    return dt_least_squares(m, (gsize)f->n, a, b, f->x, f->covariance, &f->left);
}

static double sd_of(const Fit *f, int i)
{
    return sqrt(f->covariance[i * f->n + i]);
}

/* Whether the sine differs from the profile's by more than noise (chi-square, 5 %). */
static gboolean is_off_centre(const Line *l, const Fit *f)
{
    const double has = l->p->pulley_error[l->axis], phase = l->p->pulley_phase[l->axis];
    const double d[2] = {f->x[SINE] - has * cos(phase), f->x[COSINE] - has * sin(phase)};
    const double *c = f->covariance;
    const double ss = c[SINE * f->n + SINE], sc = c[SINE * f->n + COSINE],
                 cc = c[COSINE * f->n + COSINE];
    const double square = (d[0] * d[0] * cc - 2 * d[0] * d[1] * sc + d[1] * d[1] * ss) /
                          (ss * cc - sc * sc);
    return square > dt_eye_chi_square_95(2);
}

static void tell_pulley(const Fit *f, DtEyeLine *out)
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
static gboolean check(const Line *l, const Fit *f, GError **error)
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
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s says %.1f mm where the other readings of this line say about %.1f; read it again",
                l->readings[odd].name, l->readings[odd].mm, l->readings[odd].mm - most);
    return FALSE;
}

/* Where every pulley stands depends on the scale, which each round knows better. */
static gboolean fit_rounds(Line *l, double gauge, gboolean uneven, Fit *f)
{
    enum { ROUNDS = 3 };
    for (int i = 0; i < ROUNDS; i++) {
        set_knots(l, gauge);
        if (!fit(l, uneven, f))
            return FALSE;
        l->scale = f->x[SCALE];
    }
    return TRUE;
}

gboolean dt_eye_solve_line(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                           int axis, DtEyeLine *out, GError **error)
{
    const double gauge = dt_eye_gauge_mm(s, axis);
    Line l = {.p = p,
              .axis = axis,
              .start = gauge_start(s, axis),
              .turn = G_PI * (p->pulley_diameter[axis] + p->cord_diameter[axis]),
              .scale = p->scale[axis]};
    Fit f;
    *out = (DtEyeLine){0};
    gather(&l, s, r, gauge);
    if (l.n == 0 || gauge <= 0)
        return TRUE;
    if (!fit_rounds(&l, gauge, FALSE, &f))
        return TRUE;
    out->uneven = l.n > 2 && f.left > dt_eye_chi_square_95(l.n - 1);
    if (out->uneven && (!fit_rounds(&l, gauge, TRUE, &f) || !check(&l, &f, error)))
        return FALSE;
    out->known = TRUE;
    out->scale = f.x[SCALE];
    out->scale_sd = sd_of(&f, SCALE);
    out->off_centre = l.n >= DT_EYE_ALONG && is_off_centre(&l, &f);
    out->readings = l.n;
    tell_pulley(&f, out);
    for (int k = 0; k < l.knots && out->uneven; k++) {
        out->at[k] = l.knot[k];
        out->position[k] = f.x[KNOTS + k];
        out->position_sd[k] = sd_of(&f, KNOTS + k);
        out->n = k + 1;
    }
    return TRUE;
}
