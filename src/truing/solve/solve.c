/* solve: the fitted model as figures of the machine. */
#include "truing/solve/solve.h"

#include "drawtrue/base.h"
#include "truing/solve/flatness.h"
#include "truing/solve/gear.h"
#include "truing/solve/ink-error.h"
#include "truing/solve/outliers.h"
#include "truing/solve/swing.h"

#include <math.h>
#include <string.h>

static const double least_gain_mm = 0.002;
static const double known_scale = 0.002,
                    known_square = 0.0006; /* a larger uncertainty tells nothing */
static const double known_curve_mm = 0.1;

void dt_figures_add(DtFigures *f, const DtFigure *figure)
{
    if (f->n == f->cap) {
        f->cap = f->cap ? f->cap * 2 : 64;
        f->f = g_renew(DtFigure, f->f, f->cap);
    }
    f->f[f->n++] = *figure;
}

void dt_figures_note(DtFigures *f, const char *text)
{
    char *joined = f->notes ? g_strconcat(f->notes, "\n", text, NULL) : g_strdup(text);
    g_free(f->notes);
    f->notes = joined;
}

void dt_figures_free(DtFigures *f)
{
    if (f == NULL)
        return;
    g_free(f->f);
    g_free(f->notes);
    g_free(f);
}

static double sd_of(const DtModel *m, const DtModelFit *fit, int i)
{
    return sqrt(fit->v[(size_t)i * (size_t)m->n + (size_t)i]);
}

/* Figures ---------------------------------------------------------------------------------------- */

typedef struct {
    DtModel *m;
    DtModelFit *fit;
    DtFigures *out;
    gboolean photographs; /* nothing but */
    gboolean turned;      /* dt_scans_are_turned() */
    int displaced_axis;   /* of a row; -1: none is */
    DtGearError gear[2];
    DtSwing swing[2];
} Telling;

static double sd_shared_of(const Telling *t, int i)
{
    return sqrt(MAX(t->fit->v_shared[(size_t)i * (size_t)t->m->n + (size_t)i], 0));
}

/* Whether unknowns differ significantly from the values `has`, and the ink by it; NULL: from none. */
static gboolean differ(const Telling *t, int first, int n, const double *has)
{
    return dt_stand_out(t->m, t->fit, first, n, has) &&
           dt_ink_share(t->m, first, n, has) > least_gain_mm;
}

/* They belong in the profile if they are an error of the machine, or if the profile `has` one that it lacks. */
static gboolean is_needed(const Telling *t, int first, int n, const double *has)
{
    return differ(t, first, n, NULL) || differ(t, first, n, has);
}

static void tell(Telling *t, DtFigure figure)
{
    figure.pen = -1;
    figure.proposed = figure.proposed && figure.known;
    dt_figures_add(t->out, &figure);
}

/* By a rule or a card, or by the other axis and the ratio of both. */
static gboolean has_scale(const Telling *t, int axis)
{
    gboolean measured = t->m->e->n_rule[axis] > 0 || t->turned;
    for (int k = 0; k < t->m->n_scans; k++)
        measured |= t->m->e->scans[k]->has_card;
    return measured && !t->photographs;
}

static void tell_scale(Telling *t, int axis)
{
    const int i = t->m->scale[axis];
    const double v = t->m->b[i], sd = sd_of(t->m, t->fit, i), has = t->m->p->scale[axis] - 1;
    tell(t, (DtFigure){.kind = DT_ERROR_OF_SCALE,
                       .axis = axis,
                       .at = NAN,
                       .known = sd < known_scale && has_scale(t, axis),
                       .value = 1 + v,
                       .sd = sd,
                       .sd_shared = sd_shared_of(t, i),
                       .gain_mm = dt_ink_share(t->m, i, 1, NULL),
                       .proposed = is_needed(t, i, 1, &has)});
}

static void tell_square(Telling *t)
{
    const int i = t->m->square;
    const double v = t->m->b[i], sd = sd_of(t->m, t->fit, i), has = t->m->p->square;
    tell(t, (DtFigure){.kind = DT_ERROR_OF_SQUARE,
                       .axis = -1,
                       .at = NAN,
                       .known = sd < known_square && t->turned,
                       .value = v,
                       .sd = sd,
                       .sd_shared = sd_shared_of(t, i),
                       .gain_mm = dt_ink_share(t->m, i, 1, NULL),
                       .proposed = is_needed(t, i, 1, &has)});
}

/* Without its mean and its slope. */
static void level(double *v, int n)
{
    double mean = 0, slope = 0, squares = 0;
    for (int i = 0; i < n; i++) {
        const double from_middle = i - (n - 1) / 2.0;
        mean += v[i] / n;
        slope += v[i] * from_middle;
        squares += from_middle * from_middle;
    }
    for (int i = 0; i < n; i++)
        v[i] -= mean + slope / squares * (i - (n - 1) / 2.0);
}

/* The profile's table at the knots of a curve. The slope of a table of positions is a scale, that of straightness is
 * squareness: where those are unknown, so is it. */
static double *table_of(const Telling *t, DtErrorKind kind, int axis, const DtCurve *c)
{
    const DtProfile *p = t->m->p;
    const DtTable *table = kind == DT_ERROR_OF_BACKLASH   ? &p->backlash[axis]
                           : kind == DT_ERROR_OF_TWIST    ? &p->twist[axis]
                           : kind == DT_ERROR_OF_POSITION ? &p->position[axis]
                                                          : &p->straight[axis];
    double *has = g_new(double, c->n);
    for (int i = 0; i < c->n; i++)
        has[i] = dt_table_at(table, c->from + i * c->step);
    if ((kind == DT_ERROR_OF_POSITION && !has_scale(t, axis)) ||
        (kind == DT_ERROR_OF_STRAIGHT && !t->turned))
        level(has, c->n);
    return has;
}

static void tell_curve(Telling *t, DtErrorKind kind, int axis, int id)
{
    const DtCurve *c = &t->m->curves[id];
    const gboolean local = kind == DT_ERROR_OF_BACKLASH || kind == DT_ERROR_OF_TWIST;
    const gboolean displaced = kind == DT_ERROR_OF_STRAIGHT && axis == 1 - t->displaced_axis;
    g_autofree double *has = table_of(t, kind, axis, c);
    const gboolean needed = !displaced && is_needed(t, c->first, c->n, has);
    const double gain = dt_ink_share(t->m, c->first, c->n, NULL);
    for (int i = 0; i < c->n; i++) {
        const double sd = sd_of(t->m, t->fit, c->first + i);
        tell(t, (DtFigure){.kind = kind,
                           .axis = axis,
                           .at = c->from + i * c->step,
                           .known = sd < known_curve_mm && (local || !t->photographs),
                           .value = t->m->b[c->first + i],
                           .sd = sd,
                           .sd_shared = sd_shared_of(t, c->first + i),
                           .gain_mm = gain,
                           .proposed = needed});
    }
}

/* For comparing two sheets, whose knots are not independent of each other. */
static void tell_mean_reversal(Telling *t, int axis)
{
    const DtCurve *c = &t->m->curves[DT_CURVE_SLACK + axis];
    g_autofree double *row = g_new0(double, t->m->n);
    double mean = 0;
    for (int i = 0; i < c->n; i++) {
        row[c->first + i] = 1.0 / c->n;
        mean += t->m->b[c->first + i] / c->n;
    }
    const double sd = dt_fit_sd(t->fit, t->m->n, row);
    tell(t, (DtFigure){.kind = DT_ERROR_OF_MEAN_REVERSAL,
                       .axis = axis,
                       .at = NAN,
                       .known = sd < known_curve_mm,
                       .value = mean,
                       .sd = sd});
}

/* A sine by its amplitude and phase. */
static DtFigure sine_of(const Telling *t, int i)
{
    const double a = t->m->b[i], b = t->m->b[i + 1], size = MAX(hypot(a, b), 1e-6);
    g_autofree double *row = g_new0(double, t->m->n);
    row[i] = a / size;
    row[i + 1] = b / size;
    const double sd = dt_fit_sd(t->fit, t->m->n, row),
                 sd_shared = dt_fit_sd_shared(t->fit, t->m->n, row);
    row[i] = -b / (size * size);
    row[i + 1] = a / (size * size);
    const double sd_phase = MIN(dt_fit_sd(t->fit, t->m->n, row), G_PI);
    return (DtFigure){.at = NAN,
                      .known = sd < known_curve_mm,
                      .value = size,
                      .sd = sd,
                      .sd_shared = sd_shared,
                      .value_2 = atan2(b, a),
                      .sd_2 = sd_phase,
                      .gain_mm = dt_ink_share(t->m, i, 2, NULL)};
}

static void tell_pulley(Telling *t, int axis)
{
    const double error = t->m->p->pulley_error[axis], phase = t->m->p->pulley_phase[axis];
    const double has[2] = {error * cos(phase), error * sin(phase)};
    DtFigure figure = sine_of(t, t->m->pulley[axis]);
    figure.kind = DT_ERROR_OF_PULLEY;
    figure.axis = axis;
    figure.proposed = is_needed(t, t->m->pulley[axis], 2, has);
    tell(t, figure);
}

/* No profile corrects it: the period is too short for the motors' steps. */
static void tell_gear(Telling *t, int axis)
{
    DtFigure figure = {.at = NAN, .known = TRUE, .sd = t->gear[axis].sd};
    if (t->m->gear_period[axis] > 0)
        figure = sine_of(t, t->m->gear[axis]);
    figure.kind = DT_ERROR_OF_GEAR;
    figure.axis = axis;
    figure.value_2 = t->m->gear_period[axis];
    figure.sd_2 = 0;
    tell(t, figure);
}

/* No profile corrects it. */
static void tell_swing(Telling *t, int axis)
{
    const DtSwing *s = &t->swing[axis];
    if (s->drawn)
        tell(t, (DtFigure){.kind = DT_ERROR_OF_RINGING,
                           .axis = axis,
                           .at = NAN,
                           .known = TRUE,
                           .value = s->size,
                           .sd = s->sd,
                           .value_2 = s->hz});
}

/* The variance of the pen's own deviation of marks driven one way, without the scans': sums over N scans have N times
 * the one and once the other. `sd`: of the variance. */
static double pen_variance(const Telling *t, int axis, int way, double *sd)
{
    const int sum = dt_class_of(axis, way, FALSE, FALSE),
              difference = dt_class_of(axis, way, FALSE, TRUE);
    const DtModelFit *f = t->fit;
    const gboolean both = f->n[difference] > 0;
    const double seen = both ? f->sd[difference] : 0, n = both ? (double)t->m->n_scans : 1;
    const double v = (f->sd[sum] * f->sd[sum] - seen * seen) / n;
    const double by_chance =
        f->sd[sum] * f->sd[sum] * sqrt(f->tails[sum] / MAX(f->left[sum], 1)) / n;
    *sd = MAX(by_chance, -v); /* it cannot be negative: if it is, it is at least as uncertain */
    return MAX(v, 0);
}

/* Marks driven towards - scatter more than those driven towards +, by what the slack scatters. `pen` gets the
 * deviations of both. */
static void tell_scatter(Telling *t, int axis, double pen[2])
{
    double sd[2];
    const double plus = pen_variance(t, axis, 1, &sd[0]), minus = pen_variance(t, axis, -1, &sd[1]);
    const double v = MAX(minus - plus, 0), size = sqrt(v), v_sd = hypot(sd[0], sd[1]);
    pen[0] = sqrt(plus);
    pen[1] = sqrt(minus);
    tell(t, (DtFigure){.kind = DT_ERROR_OF_SCATTER,
                       .axis = axis,
                       .at = NAN,
                       .known = TRUE,
                       .value = size,
                       .sd = v > v_sd ? v_sd / (2 * size) : sqrt(v_sd) / 2});
}

static void leave_out(gboolean *out, int first, int n)
{
    for (int i = 0; i < n; i++)
        out[first + i] = TRUE;
}

/* How large the ink's error is and will be says nothing of scale and squareness where they are unknown: what the scanner's
 * own may hide is far larger than what is told. */
static void tell_ink(Telling *t, const double scatter[2][2])
{
    const DtModel *m = t->m;
    g_autofree gboolean *unknown = g_new0(gboolean, m->n);
    for (int i = 0; i < 2; i++) {
        leave_out(unknown, m->scale[i], !dt_figures_find(t->out, DT_ERROR_OF_SCALE, i)->known);
        for (int k = 0; k < 2 && t->photographs; k++) {
            const DtCurve *c = &m->curves[(k == 0 ? DT_CURVE_POSITION : DT_CURVE_STRAIGHT) + i];
            leave_out(unknown, c->first, c->n);
        }
    }
    leave_out(unknown, m->square, !dt_figures_find(t->out, DT_ERROR_OF_SQUARE, -1)->known);
    t->out->ink_before_mm = dt_ink_before(m, unknown);
    t->out->ink_after_mm = dt_ink_after(m, t->fit, unknown, scatter);
}

static void tell_all(Telling *t)
{
    double pen[2][2];
    tell_square(t);
    for (int i = 0; i < 2; i++) {
        tell_scale(t, i);
        tell_pulley(t, i);
        tell_curve(t, DT_ERROR_OF_BACKLASH, i, DT_CURVE_SLACK + i);
        tell_mean_reversal(t, i);
        tell_curve(t, DT_ERROR_OF_POSITION, i, DT_CURVE_POSITION + i);
        tell_curve(t, DT_ERROR_OF_STRAIGHT, i, DT_CURVE_STRAIGHT + i);
        tell_curve(t, DT_ERROR_OF_TWIST, i, DT_CURVE_TWIST + i);
        tell_gear(t, i);
        tell_scatter(t, i, pen[i]);
        tell_swing(t, i);
    }
    tell_ink(t, pen);
}

const DtFigure *dt_figures_find(const DtFigures *f, DtErrorKind kind, int axis)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && (axis < 0 || f->f[i].axis == axis))
            return &f->f[i];
    return NULL;
}

gboolean dt_figures_lack_shape(const DtFigures *f)
{
    for (size_t i = 0; i < f->n; i++)
        if ((f->f[i].kind == DT_ERROR_OF_SCALE || f->f[i].kind == DT_ERROR_OF_SQUARE) &&
            !f->f[i].known)
            return TRUE;
    return FALSE;
}

static void note_square(const Telling *t)
{
    if (t->m->n_scans > 1 && !t->turned)
        dt_figures_note(
            t->out, "squareness is unknown: the scans show the sheet lying the same way on the "
                    "glass, or a program turned one of them; scan it again, turned by 90 degrees");
    else
        dt_figures_note(
            t->out,
            "squareness is unknown: one scan cannot tell it from the scanner's own; scan the "
            "sheet again, turned by 90 degrees on the glass");
}

static void note_unknowns(const Telling *t)
{
    const DtModel *m = t->m;
    if (t->photographs) {
        dt_figures_note(
            t->out,
            "photographs bend and tilt a sheet: only slack, twist and pulleys are known; scan "
            "it for scale, squareness and straightness");
        return;
    }
    if (!dt_figures_find(t->out, DT_ERROR_OF_SQUARE, -1)->known)
        note_square(t);
    if (!dt_figures_find(t->out, DT_ERROR_OF_SCALE, 0)->known ||
        !dt_figures_find(t->out, DT_ERROR_OF_SCALE, 1)->known) {
        g_autofree double *row = g_new0(double, m->n);
        row[m->scale[0]] = 1;
        row[m->scale[1]] = -1;
        const double sd = dt_fit_sd(t->fit, m->n, row);
        if (sd < known_scale && t->turned) {
            g_autofree char *ratio = g_strdup_printf(
                "X : Y = %.5f +- %.5f", (1 + m->b[m->scale[0]]) / (1 + m->b[m->scale[1]]), 2 * sd);
            dt_figures_note(
                t->out, "the scales are unknown, since a scanner's dpi is no measure of "
                        "length: lay a rule on a gauge line, or scan with a card of the size ID-1 "
                        "beside the drawing (--card); their ratio is known:");
            dt_figures_note(t->out, ratio);
        } else {
            dt_figures_note(t->out,
                            "the scales and their ratio are unknown: lay a rule on the gauge line "
                            "of each axis, or scan the sheet again, turned by 90 degrees, and lay "
                            "it on one");
        }
    }
}

/* The dpi of a scanner is no measure of length, but never so far off: a rule that was read elsewhere is. */
static gboolean check_rules(const DtEvidence *e, GError **error)
{
    const double most = 0.02;
    DtPoint ticks[2];
    for (int axis = 0; axis < 2; axis++)
        for (size_t k = 0; e->n_rule[axis] > 0 && k < e->n_scans; k++) {
            if (e->scans[k]->photograph || !dt_model_gauge_ticks(e->sheet, axis, ticks))
                continue;
            const DtAffine m = e->scans[k]->rough;
            const double seen =
                dt_point_distance(dt_affine_apply(m, ticks[0]), dt_affine_apply(m, ticks[1]));
            const double read = dt_model_rule_mean(e, axis);
            if (fabs(read / seen - 1) < most)
                continue;
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "by the rule the gauge line along %s is %.1f mm long, on %s %.1f mm: read "
                        "the rule again, or scan without a change of size",
                        axis == 0 ? "X" : "Y", read, e->scans[k]->path, seen);
            return FALSE;
        }
    return TRUE;
}

static gboolean check_evidence(const DtEvidence *e, GError **error)
{
    if (e->n_scans == 0) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, "there is no scan to solve from");
        return FALSE;
    }
    if (e->n_scans > DT_MOST_SCANS) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%zu scans of one sheet; %d are read at most",
                    e->n_scans, DT_MOST_SCANS);
        return FALSE;
    }
    return dt_check_scans_differ(e, error) && check_rules(e, error);
}

/* A sheet that was folded, or moved while it was scanned, agrees with no machine and no scanner. */
static gboolean check_fit(const DtModel *m, const DtModelFit *fit, GError **error)
{
    const double most_sd_mm = 0.12;
    double worst = 0;
    for (int c = 0; c < DT_CLASSES; c++)
        if (fit->n[c] > 0 && (c < DT_CLASS_LINES || c % 2 == 1))
            worst = MAX(worst, fit->sd[c]);
    if (!dt_check_outliers(m, error) || !dt_check_steps(m, fit, error))
        return FALSE;
    if (worst < most_sd_mm)
        return TRUE;
    g_set_error(
        error, DT_ERROR, DT_ERROR_INPUT,
        "the marks contradict each other: they scatter by %.2f mm; was the sheet folded, or "
        "did it move while it was drawn or scanned?",
        worst);
    return FALSE;
}

/* Fits; where a gear's teeth show in what is left, fits again with them. */
static gboolean fit_all(DtModel *m, DtModelFit *fit, DtGearError gear[2], GError **error)
{
    gboolean found = FALSE;
    if (!dt_fit_model(m, fit, error))
        return FALSE;
    for (int axis = 0; axis < 2; axis++) {
        dt_find_gear(m, axis, &gear[axis]);
        m->gear_period[axis] = gear[axis].amplitude > 0 ? gear[axis].period : 0;
        found |= gear[axis].amplitude > 0;
    }
    if (!found)
        return TRUE;
    dt_fit_clear(fit);
    return dt_fit_model(m, fit, error);
}

/* The same without what bent scans show of scale, squareness and position. */
static gboolean fit_flat(DtModel *m, DtModelFit *fit, DtGearError gear[2], DtBentEvidence *bent,
                         GError **error)
{
    const DtProfile *p = m->p;
    if (!fit_all(m, fit, gear, error))
        return FALSE;
    if (!dt_find_bent(m, fit, bent))
        return TRUE;
    dt_fit_clear(fit);
    dt_model_clear(m);
    dt_model_init(m, p, &bent->e);
    return fit_all(m, fit, gear, error);
}

DtFigures *dt_truing_solve(const DtProfile *p, const DtEvidence *e, DtWork *w, GError **error)
{
    DtModel m;
    DtModelFit fit = {0};
    DtFigures *out = NULL;
    if (!check_evidence(e, error))
        return NULL;
    DtWork *before = dt_work_enter(w);
    dt_model_init(&m, p, e);
    DtGearError gear[2];
    DtBentEvidence bent;
    if (fit_flat(&m, &fit, gear, &bent, error) && check_fit(&m, &fit, error)) {
        out = g_new0(DtFigures, 1);
        Telling t = {.m = &m,
                     .fit = &fit,
                     .out = out,
                     .photographs = TRUE,
                     .turned = dt_scans_are_turned(m.e),
                     .gear = {gear[0], gear[1]}};
        for (int k = 0; k < m.n_scans; k++)
            t.photographs = t.photographs && m.pose[k].photograph;
        int row;
        double off;
        t.displaced_axis = dt_find_displaced_row(&m, &fit, &row, &off);
        for (int i = 0; i < 2; i++)
            dt_find_swing(m.e, p, i, &t.swing[i]);
        tell_all(&t);
        dt_tell_pens(&m, out);
        dt_tell_tones(&m, out);
        dt_note_outliers(&m, &fit, out);
        dt_note_bent(&bent, out);
        note_unknowns(&t);
    }
    dt_fit_clear(&fit);
    dt_model_clear(&m);
    dt_work_leave(before);
    return out;
}
