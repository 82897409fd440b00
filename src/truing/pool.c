/* pool: combines figures of a sheet with those of earlier sheets of the same machine. A
 * correction does not change the marks of a sheet, so every sheet measures the same errors
 * again; if two agree, their weighted mean is at least as certain as either (Lyons, Gibaut and
 * Clifford 1988; without shared errors the weights are the inverse squares of the uncertainties). */
#include "truing/compare.h"
#include "truing/solve/solve.h"

#include "drawtrue/sheet-log.h"

#include <math.h>
#include <string.h>

/* A figure, or a curve: all figures of one kind, axis and pen. */
typedef struct {
    DtErrorKind kind;
    int axis, pen;
} Group;

/* The values of a sheet at a place: a sine has two components. */
typedef struct {
    double v[2], sd, hidden; /* hidden: common to both sheets, not reduced by a second one */
    double shared;           /* the part of sd that may be common to both */
} Told;

static gboolean is_sine(DtErrorKind kind)
{
    return kind == DT_ERROR_OF_PULLEY;
}

static gboolean may_be_pooled(const DtFigure *f)
{
    return f->known && f->kind <= DT_ERROR_OF_SCATTER && f->kind != DT_ERROR_OF_GEAR;
}

static gboolean is_of(const DtFigure *f, const Group *g)
{
    return f->kind == g->kind && f->axis == g->axis && f->pen == g->pen && f->known;
}

static Told told_by(const DtFigure *f)
{
    Told t = {.v = {f->value, 0}, .sd = f->sd};
    if (is_sine(f->kind)) {
        t.v[0] = f->value * cos(f->value_2);
        t.v[1] = f->value * sin(f->value_2);
    } else if (f->sd_2 > 0) {
        t.hidden = sqrt(MAX(f->sd * f->sd - f->sd_2 * f->sd_2, 0));
        t.sd = f->sd_2;
    }
    t.shared = MIN(f->sd_shared, t.sd);
    return t;
}

/* At a place of a curve; FALSE if the sheet does not extend to it. */
static gboolean told_at(const DtFigures *f, const Group *g, double at, Told *out)
{
    const double near_mm = 1.5;
    const DtFigure *before = NULL, *after = NULL;
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *k = &f->f[i];
        if (!is_of(k, g))
            continue;
        if (isnan(at) || isnan(k->at)) {
            *out = told_by(k);
            return isnan(at) && isnan(k->at);
        }
        if (k->at <= at + near_mm && (before == NULL || k->at > before->at))
            before = k;
        if (k->at >= at - near_mm && (after == NULL || k->at < after->at))
            after = k;
    }
    if (before == NULL || after == NULL)
        return FALSE;
    const Told a = told_by(before), b = told_by(after);
    const double t =
        after->at != before->at ? CLAMP((at - before->at) / (after->at - before->at), 0, 1) : 0;
    *out = (Told){.v = {a.v[0] + t * (b.v[0] - a.v[0]), 0},
                  .sd = a.sd + t * (b.sd - a.sd),
                  .shared = a.shared + t * (b.shared - a.shared),
                  .hidden = a.hidden + t * (b.hidden - a.hidden)};
    return TRUE;
}

/* Whether both sheets may have measured the same: the mean of the squared differences over their
 * variance is within 3 deviations of 1. Neighbours on a curve are correlated, about four of them
 * counting as one. */
static gboolean agree(const DtFigures *f, const DtFigures *older, const Group *g)
{
    double sum = 0, n = 0, parts = 0;
    for (size_t i = 0; i < f->n; i++) {
        Told b;
        if (!is_of(&f->f[i], g))
            continue;
        if (!told_at(older, g, f->f[i].at, &b))
            return FALSE;
        const Told a = told_by(&f->f[i]);
        const double v = a.sd * a.sd + b.sd * b.sd;
        for (int k = 0; k < 1 + is_sine(g->kind) && v > 0; k++) {
            sum += (a.v[k] - b.v[k]) * (a.v[k] - b.v[k]) / v;
            parts++;
        }
        n++;
    }
    return parts > 0 && sum / parts <= 1 + 3 * sqrt(2 / (1 + n / 4));
}

static double own_variance(const Told *t)
{
    return t->sd * t->sd - t->shared * t->shared;
}

/* The weight of `b` in the weighted mean of least variance, if the shared errors are fully correlated. They may be less
 * so: neither weight is negative. */
static double weight_of(const Told *b, const Told *a)
{
    const double apart = a->shared - b->shared,
                 difference = own_variance(a) + own_variance(b) + apart * apart;
    return difference > 0 ? CLAMP((own_variance(a) + a->shared * apart) / difference, 0, 1) : 0.5;
}

/* The uncertainties of errors that go fully together add up, others add up by their squares (GUM 5.2.2, note 1); for
 * shared errors that is an upper bound. */
static void pool_one(DtFigure *f, const Told *b)
{
    const Told a = told_by(f);
    const double wb = weight_of(b, &a), wa = 1 - wb;
    const double v[2] = {wa * a.v[0] + wb * b->v[0], wa * a.v[1] + wb * b->v[1]};
    const double shared = wa * a.shared + wb * b->shared;
    const double sd =
        sqrt(wa * wa * own_variance(&a) + wb * wb * own_variance(b) + shared * shared);
    f->sd_shared = shared;
    if (is_sine(f->kind)) {
        f->value = hypot(v[0], v[1]);
        f->value_2 = atan2(v[1], v[0]);
        f->sd_2 = MIN(sd / MAX(f->value, 1e-6), G_PI);
        f->sd = sd;
        return;
    }
    f->value = v[0];
    f->sd_2 = f->sd_2 > 0 ? sd : 0;
    f->sd = hypot(sd, MAX(a.hidden, b->hidden));
}

static gboolean is_proposed(const DtFigures *f, const Group *g)
{
    for (size_t i = 0; i < f->n; i++)
        if (is_of(&f->f[i], g) && f->f[i].proposed)
            return TRUE;
    return FALSE;
}

/* A sheet before the slack changed says nothing about the present slack, nor about its scatter. */
static gboolean has_changed(const DtFigures *f, const DtFigures *older, int axis)
{
    const double two_sided_95 = 1.96;
    const DtFigure *a = dt_figures_find(f, DT_ERROR_OF_MEAN_REVERSAL, MAX(axis, 0)),
                   *b = dt_figures_find(older, DT_ERROR_OF_MEAN_REVERSAL, MAX(axis, 0));
    return axis >= 0 && a && b && a->known && b->known &&
           fabs(a->value - b->value) > two_sided_95 * hypot(a->sd, b->sd);
}

guint dt_figures_pool(DtFigures *f, const DtFigures *older)
{
    guint pooled = 0;
    for (size_t i = 0; i < f->n; i++) {
        const Group g = {f->f[i].kind, f->f[i].axis, f->f[i].pen};
        const gboolean of_slack = g.kind == DT_ERROR_OF_BACKLASH || g.kind == DT_ERROR_OF_SCATTER;
        gboolean is_first = may_be_pooled(&f->f[i]);
        for (size_t k = 0; k < i && is_first; k++)
            is_first = !is_of(&f->f[k], &g);
        if (!is_first || (of_slack && has_changed(f, older, g.axis)) || !agree(f, older, &g))
            continue;
        const gboolean proposed = is_proposed(f, &g) || is_proposed(older, &g);
        for (size_t k = i; k < f->n; k++) {
            Told b;
            if (!is_of(&f->f[k], &g) || !told_at(older, &g, f->f[k].at, &b) || b.sd <= 0)
                continue;
            pool_one(&f->f[k], &b);
            f->f[k].proposed = proposed;
        }
        pooled++;
    }
    return pooled;
}

/* The profile has what a newer sheet shows: an older one, read later, does not replace it. */
static void leave_to_newer(DtFigures *f, const DtFigures *newer, gint64 number)
{
    gboolean any = FALSE;
    for (size_t i = 0; i < f->n; i++) {
        DtFigure *k = &f->f[i];
        const Group g = {k->kind, k->axis, k->pen};
        gboolean shown = FALSE;
        for (size_t j = 0; j < newer->n && k->proposed && !shown; j++)
            shown = is_of(&newer->f[j], &g);
        if (!shown)
            continue;
        k->outdated = any = TRUE;
        k->proposed = FALSE;
    }
    if (!any)
        return;
    g_autofree char *which = g_strdup_printf("%" G_GINT64_FORMAT, number);
    dt_figures_note(f, "the profile has what a newer sheet shows of this, which stays; that sheet "
                       "has the number:");
    dt_figures_note(f, which);
}

gboolean dt_figures_are_outdated(const DtFigures *f)
{
    gboolean any = FALSE;
    for (size_t i = 0; i < f->n; i++)
        any |= f->f[i].outdated;
    return any;
}

/* Combines with an earlier sheet, or leaves to a later one what the profile has from it. */
static gboolean take_other(DtFigures *f, gint64 sheet, const DtSheetRecord *r, GError **error)
{
    g_autoptr(DtFigures) other = dt_figures_from_json(r->figures, error);
    if (other == NULL)
        return FALSE;
    if (r->number > sheet) {
        leave_to_newer(f, other, r->number);
    } else if (dt_figures_pool(f, other) > 0) {
        g_autofree char *which = g_strdup_printf("%" G_GINT64_FORMAT, r->number);
        dt_figures_note(
            f,
            "what agrees with an earlier sheet is the weighted mean of both; with that of number:");
        dt_figures_note(f, which);
    }
    return TRUE;
}

gboolean dt_truing_pool(const char *journal, const DtProfile *p, gint64 sheet, DtFigures *f,
                        GError **error)
{
    g_autoptr(GArray) records = dt_sheet_log_read_all(journal, p->name, error);
    g_autofree char *sum = dt_truing_drive_sum(p);
    if (records == NULL)
        return FALSE;
    /* the later ones last: an earlier one may propose what they then take back */
    for (int later = 0; later < 2; later++)
        for (guint i = records->len; i-- > 0;) {
            const DtSheetRecord *r = &g_array_index(records, DtSheetRecord, i);
            const gboolean counts = later ? r->number > sheet && r->corrected : r->number < sheet;
            if (counts && *r->figures != '\0' && strcmp(r->profile_sum, sum) == 0 &&
                !take_other(f, sheet, r, error))
                return FALSE;
        }
    return TRUE;
}
