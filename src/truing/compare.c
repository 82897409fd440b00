/* compare: did the repair help? Figures of two sheets, and an axis' figures by ISO 230-2. */
#include "truing/compare.h"
#include "truing/solve/solve.h"

#include <math.h>

/* ISO 230-2:2014, clause 3: with the mean deviations of a place coming up and going down and their standard
 * uncertainties s, the reversal value B_i is their difference, the mean bidirectional deviation their mean;
 * the figures of the axis are the extremes over its places (clauses by their names, from memory). */
void dt_truing_iso_230_2(const DtAxisPlace *p, size_t n, DtAxisFigures *out)
{
    double low = G_MAXDOUBLE, high = -G_MAXDOUBLE, least = G_MAXDOUBLE, most = -G_MAXDOUBLE;
    double from = G_MAXDOUBLE, to = -G_MAXDOUBLE;
    *out = (DtAxisFigures){0};
    for (size_t i = 0; i < n; i++) {
        const double b = p[i].up - p[i].down, mean = (p[i].up + p[i].down) / 2;
        const double r =
            MAX(2 * p[i].s_up + 2 * p[i].s_down + fabs(b), 4 * MAX(p[i].s_up, p[i].s_down));
        out->reversal = MAX(out->reversal, fabs(b));
        out->mean_reversal += b / (double)n;
        out->repeatability = MAX(out->repeatability, r);
        low = MIN(low, mean);
        high = MAX(high, mean);
        least = MIN(least, MIN(p[i].up, p[i].down));
        most = MAX(most, MAX(p[i].up, p[i].down));
        from = MIN(from, MIN(p[i].up - 2 * p[i].s_up, p[i].down - 2 * p[i].s_down));
        to = MAX(to, MAX(p[i].up + 2 * p[i].s_up, p[i].down + 2 * p[i].s_down));
    }
    if (n == 0)
        return;
    out->mean_bidirectional = high - low;
    out->systematic = most - least;
    out->accuracy = to - from;
}

double dt_figures_value_at(const DtFigures *f, DtErrorKind kind, int axis, double at)
{
    const DtFigure *before = NULL, *after = NULL;
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (g->kind != kind || g->axis != axis || !g->known)
            continue;
        if (isnan(g->at))
            return g->value;
        if (g->at <= at && (before == NULL || g->at > before->at))
            before = g;
        if (g->at >= at && (after == NULL || g->at < after->at))
            after = g;
    }
    if (before == NULL || after == NULL || after->at == before->at)
        return before ? before->value : after ? after->value : 0;
    return before->value +
           (after->value - before->value) * (at - before->at) / (after->at - before->at);
}

static int rising(gconstpointer a, gconstpointer b)
{
    const double p = *(const double *)a, q = *(const double *)b;
    return (p > q) - (p < q);
}

DtAxisPlace *dt_truing_places(const DtFigures *f, int axis, size_t *n)
{
    g_autoptr(GArray) at = g_array_new(FALSE, FALSE, sizeof(double));
    const DtFigure *slack = dt_figures_find(f, DT_ERROR_OF_BACKLASH, axis);
    const DtFigure *scatter = dt_figures_find(f, DT_ERROR_OF_SCATTER, axis);
    for (size_t i = 0; i < f->n; i++)
        if ((f->f[i].kind == DT_ERROR_OF_BACKLASH || f->f[i].kind == DT_ERROR_OF_POSITION) &&
            f->f[i].axis == axis && f->f[i].known && !isnan(f->f[i].at))
            g_array_append_val(at, f->f[i].at);
    *n = 0;
    if (at->len == 0 && (slack == NULL || !slack->known))
        return NULL;
    const double nowhere = 0;
    if (at->len == 0)
        g_array_append_val(at, nowhere);
    g_array_sort(at, rising);
    DtAxisPlace *p = g_new0(DtAxisPlace, at->len);
    for (guint i = 0; i < at->len; i++) {
        const double place = g_array_index(at, double, i);
        if (*n > 0 && p[*n - 1].at == place)
            continue;
        /* what the lost motion scatters by is shared between both ways */
        const double s = scatter && scatter->known ? scatter->value / sqrt(2) : 0;
        const double up = dt_figures_value_at(f, DT_ERROR_OF_POSITION, axis, place);
        p[(*n)++] = (DtAxisPlace){
            place, up, up + dt_figures_value_at(f, DT_ERROR_OF_BACKLASH, axis, place), s, s};
    }
    return p;
}

/* Comparing ------------------------------------------------------------------------------------- */

/* The difference between the sheets. */
static double sd_between(const DtFigure *f)
{
    const gboolean has_phase = f->kind == DT_ERROR_OF_PULLEY || f->kind == DT_ERROR_OF_GEAR;
    return f->sd_2 > 0 && !has_phase ? f->sd_2 : f->sd;
}

/* Mean over all places of one kind, axis and pen; FALSE if none is known. Neighbouring places of
 * a curve have correlated errors: the uncertainty of the mean is at most the mean uncertainty,
 * which is used. */
static gboolean mean_of(const DtFigures *f, const DtFigure *like, double *value, double *sd)
{
    double sum = 0, sd_sum = 0;
    size_t n = 0;
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (g->kind != like->kind || g->axis != like->axis || g->pen != like->pen || !g->known)
            continue;
        sum += like->kind == DT_ERROR_OF_STRAIGHT || like->kind == DT_ERROR_OF_POSITION
                   ? fabs(g->value)
                   : g->value;
        sd_sum += sd_between(g);
        n++;
    }
    *value = n > 0 ? sum / (double)n : NAN;
    *sd = n > 0 ? sd_sum / (double)n : NAN;
    return n > 0;
}

/* Difference from perfect. */
static double badness(DtErrorKind kind, double value)
{
    switch (kind) {
    case DT_ERROR_OF_SCALE:
        return fabs(value - 1);
    case DT_ERROR_OF_SPEED:
    case DT_ERROR_OF_ACCELERATION:
    case DT_ERROR_OF_PULL_IN:
        return -value;
    default:
        return fabs(value);
    }
}

static DtVerdict verdict_of(const DtComparison *c)
{
    const double two_sided_95 = 1.96;
    if (!isfinite(c->a) || !isfinite(c->b))
        return DT_VERDICT_UNKNOWN;
    if (fabs(c->b - c->a) <= two_sided_95 * hypot(c->a_sd, c->b_sd))
        return DT_VERDICT_SAME;
    return badness(c->kind, c->b) < badness(c->kind, c->a) ? DT_VERDICT_BETTER : DT_VERDICT_WORSE;
}

static gboolean has(const GArray *list, const DtFigure *f)
{
    for (guint i = 0; i < list->len; i++) {
        const DtComparison *c = &g_array_index(list, DtComparison, i);
        if (c->kind == f->kind && c->axis == f->axis && c->pen == f->pen)
            return TRUE;
    }
    return FALSE;
}

/* Slack for which both sheets have the mean over the axis: places and curves may differ. */
static gboolean is_told_by_mean(const DtFigures *a, const DtFigures *b, const DtFigure *f)
{
    return f->kind == DT_ERROR_OF_BACKLASH &&
           dt_figures_find(a, DT_ERROR_OF_MEAN_REVERSAL, f->axis) &&
           dt_figures_find(b, DT_ERROR_OF_MEAN_REVERSAL, f->axis);
}

DtComparison *dt_truing_compare(const DtFigures *a, const DtFigures *b, size_t *n)
{
    GArray *list = g_array_new(FALSE, FALSE, sizeof(DtComparison));
    for (size_t i = 0; i < a->n + b->n; i++) {
        const DtFigure *f = i < a->n ? &a->f[i] : &b->f[i - a->n];
        if (!f->known || has(list, f) || is_told_by_mean(a, b, f))
            continue;
        DtComparison c = {.kind = f->kind, .axis = f->axis, .pen = f->pen};
        mean_of(a, f, &c.a, &c.a_sd);
        mean_of(b, f, &c.b, &c.b_sd);
        c.verdict = verdict_of(&c);
        g_array_append_val(list, c);
    }
    *n = list->len;
    return (DtComparison *)(void *)g_array_free(list, FALSE);
}
