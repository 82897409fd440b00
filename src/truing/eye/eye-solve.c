/* eye-solve: readings by eye to figures: slack from the verniers, then the scales, then what needs both. */
#include "truing/eye/eye.h"
#include "truing/solve/solve.h"

#include <math.h>

typedef struct {
    const DtProfile *p;
    const DtTestSheet *s;
    const DtEyeReadings *r;
    DtFigures *out;
    DtProfile
        known; /* scales, positions, pulleys and twist from the profile or this sheet; borrows its
                      * tables */
    DtEyeTwist twist[2];
    DtEyeLine line[2];
    double scale[2], scale_sd[2];
    double before2, after2; /* squares of expected 95 % errors, mm */
} Solver;

static const double two_sided_95 = 1.96;

/* What is not measured displaces each place by about this much: an eccentric pulley of 0.1 mm, a
 * rail that bows. And what remains once a rule was read along the whole line. Stated
 * uncertainties include it. */
static const double hidden_mm = 0.09, left_mm = 0.045;
/* The same for slack between the places of its verniers. */
static const double between_mm = 0.012;

/* A figure is proposed if it differs from the profile by more than the noise of reading
 * (two-sided, 5 %): hidden effects may exist or not, and waiting would not show them. `f.sd` is
 * that of reading, and `unseen` is added to it. `per_unit` is the 95 % ink error per unit, mm. */
static void add(Solver *v, DtFigure f, double has, double per_unit, double unseen)
{
    f.known = TRUE;
    f.gain_mm = fabs(f.value - has) * per_unit;
    f.proposed = fabs(f.value - has) > two_sided_95 * f.sd;
    f.sd_2 = unseen > 0 ? f.sd : 0; /* for comparisons: what is hidden is the same on both sheets */
    f.sd = hypot(f.sd, unseen);
    v->before2 += f.gain_mm * f.gain_mm;
    v->after2 += pow(f.proposed ? two_sided_95 * f.sd * per_unit : f.gain_mm, 2);
    dt_figures_add(v->out, &f);
}

/* Twist ----------------------------------------------------------------------------------------- */

/* All places of an axis are proposed, or none; half of it shifts the axis to either side. */
static void solve_twist(Solver *v, int axis)
{
    DtEyeTwist *t = &v->twist[axis];
    dt_eye_solve_twist(v->p, v->s, v->r, axis, t);
    for (int i = 0; i < t->n; i++) {
        const DtFigure f = {.kind = DT_ERROR_OF_TWIST,
                            .axis = axis,
                            .pen = -1,
                            .at = t->n > 1 ? t->at[i] : NAN,
                            .value = t->mm[i],
                            .sd = t->sd[i]};
        add(v, f, dt_table_at(&v->p->twist[axis], t->at[i]), 0.5 / sqrt(t->n), 0);
        v->out->f[v->out->n - 1].proposed = t->twists;
    }
    if (t->twists)
        v->known.twist[axis] = (DtTable){t->at, t->mm, (gsize)t->n};
}

/* Along a line ------------------------------------------------------------------------------------- */

static double unseen_on(const Solver *v, int axis)
{
    const gboolean measured =
        v->line[axis].readings >= DT_EYE_ALONG || v->p->pulley_error[axis] != 0;
    return measured ? left_mm : hidden_mm;
}

static void add_scale(Solver *v, int axis)
{
    const DtFigure f = {.kind = DT_ERROR_OF_SCALE,
                        .axis = axis,
                        .pen = -1,
                        .at = NAN,
                        .value = v->scale[axis],
                        .sd = v->scale_sd[axis]};
    const double gauge = dt_eye_gauge_mm(v->s, axis);
    add(v, f, v->p->scale[axis], 0.95 * gauge, M_SQRT2 * unseen_on(v, axis) / gauge);
}

static void add_pulley(Solver *v, int axis)
{
    const DtEyeLine *l = &v->line[axis];
    if (l->readings < DT_EYE_ALONG)
        return;
    DtFigure f = {.kind = DT_ERROR_OF_PULLEY,
                  .axis = axis,
                  .pen = -1,
                  .at = NAN,
                  .value = l->pulley,
                  .sd = l->pulley_sd};
    add(v, f, v->p->pulley_error[axis], 1, 0);
    DtFigure *added = &v->out->f[v->out->n - 1];
    added->proposed = l->off_centre;
    added->value_2 = l->phase;
    added->sd_2 = l->phase_sd;
    if (l->off_centre) {
        v->known.pulley_error[axis] = l->pulley;
        v->known.pulley_phase[axis] = l->phase;
    }
}

/* Where a line is too long here and too short there: either all places of it are proposed, or
 * none. */
static void add_position(Solver *v, int axis)
{
    const double between_knots_mm = 0.02;
    const DtEyeLine *l = &v->line[axis];
    for (int i = 0; i < l->n; i++) {
        const DtFigure f = {.kind = DT_ERROR_OF_POSITION,
                            .axis = axis,
                            .pen = -1,
                            .at = l->at[i],
                            .value = l->position[i],
                            .sd = l->position_sd[i]};
        add(v, f, dt_table_at(&v->p->position[axis], f.at), 0.95 / sqrt(l->n), between_knots_mm);
        v->out->f[v->out->n - 1].proposed = TRUE;
    }
    if (l->n > 0)
        v->known.position[axis] = (DtTable){v->line[axis].at, v->line[axis].position, (gsize)l->n};
}

static gboolean solve_line(Solver *v, int axis, GError **error)
{
    double mm, sd;
    v->scale[axis] = v->p->scale[axis];
    /* as measured earlier, or as for a drive train that nobody has measured */
    v->scale_sd[axis] = v->p->scale[axis] != 1 ? 0.0005 : 0.005;
    if (!dt_eye_value(v->r, DT_SHEET_SCALE, axis, &mm, &sd))
        return TRUE;
    if (sd > 0.3) {
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "L%c: the readings of this line differ by more than a rule can; measure it again",
            "XY"[axis]);
        return FALSE;
    }
    if (!dt_eye_solve_line(&v->known, v->s, v->r, axis, &v->line[axis], error))
        return FALSE;
    if (!v->line[axis].known)
        return TRUE;
    v->known.scale[axis] = v->scale[axis] = v->line[axis].scale;
    v->scale_sd[axis] = v->line[axis].scale_sd;
    add_scale(v, axis);
    add_pulley(v, axis);
    add_position(v, axis);
    return TRUE;
}

/* Slack ----------------------------------------------------------------------------------------- */

/* The mean over the verniers, which are at the same places on both sheets whatever curve fits
 * them. */
static void add_mean(Solver *v, int axis, const DtEyeSlack *k)
{
    double sum = 0, squares = 0;
    for (int i = 0; i < k->n; i++) {
        sum += k->mm[i] / k->n;
        squares += pow(k->sd[i] / k->n, 2);
    }
    const DtFigure f = {.kind = DT_ERROR_OF_MEAN_REVERSAL,
                        .axis = axis,
                        .pen = -1,
                        .at = NAN,
                        .known = TRUE,
                        .value = MAX(sum, 0),
                        .sd = sqrt(squares)};
    dt_figures_add(v->out, &f);
}

/* One number stands for a whole table: the difference is that of all its verniers. */
static void add_slack(Solver *v, int axis, const DtEyeSlack *k)
{
    const DtTable *table = &v->p->backlash[axis];
    for (int c = 0; c < k->knots; c++) {
        const DtFigure f = {.kind = DT_ERROR_OF_BACKLASH,
                            .axis = axis,
                            .pen = -1,
                            .at = k->knots == 1 ? NAN : k->knot[c],
                            .value = MAX(k->value[c], 0),
                            .sd = k->value_sd[c]};
        const double has = k->knots == 1 ? f.value - k->off : dt_table_at(table, f.at);
        add(v, f, has, 0.95 / sqrt(k->knots), between_mm);
        v->out->f[v->out->n - 1].proposed = k->differs;
    }
}

static gboolean solve_slack(Solver *v, int axis, GError **error)
{
    DtEyeSlack k;
    if (!dt_eye_solve_slack(v->p, v->s, v->r, axis, v->scale[axis], &k, error))
        return FALSE;
    if (k.n == 0)
        return TRUE;
    add_slack(v, axis, &k);
    add_mean(v, axis, &k);
    if (k.scatters) {
        const DtFigure s = {.kind = DT_ERROR_OF_SCATTER,
                            .axis = axis,
                            .pen = -1,
                            .at = NAN,
                            .known = TRUE,
                            .value = k.scatter,
                            .sd = k.scatter / sqrt(2.0 * (k.n - k.knots))};
        dt_figures_add(v->out, &s);
    }
    return TRUE;
}

/* Square ---------------------------------------------------------------------------------------- */

static void add_bows(Solver *v, const DtEyeSquare *e)
{
    for (int axis = 0; axis < 2 && e->bowed; axis++)
        for (int k = 0; k < DT_EYE_BOW_KNOTS; k++) {
            const DtFigure f = {.kind = DT_ERROR_OF_STRAIGHT,
                                .axis = axis,
                                .pen = -1,
                                .at = e->at[axis][k],
                                .value = e->straight[axis][k],
                                .sd = e->straight_sd[axis][k]};
            add(v, f, dt_table_at(&v->p->straight[axis], f.at), 0.95 / sqrt(DT_EYE_BOW_KNOTS), 0);
            v->out->f[v->out->n - 1].proposed = TRUE;
        }
}

static gboolean solve_square(Solver *v, GError **error)
{
    const double most = 5 * G_PI / 180, most_turn = 3 * G_PI / 180;
    DtEyeSquare e;
    /* All verniers of an axis are at one place along it, within some millimetres: half of it
     * cancels. */
    const double unseen = hypot(unseen_on(v, 0), unseen_on(v, 1)) / M_SQRT2 / 2;
    if (!dt_eye_solve_square(&v->known, v->s, v->r, v->scale_sd, unseen, &e))
        return TRUE;
    add_bows(v, &e);
    if (!e.squared)
        return TRUE;
    if (fabs(e.square) > most || fabs(e.turn) > most_turn) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "the verniers S1, S2, ... contradict each other: they would have the axes %.1f "
                    "degrees off square and the paper turned %.1f degrees too far; read them "
                    "again, and mind the minus",
                    e.square * 180 / G_PI, e.turn * 180 / G_PI);
        return FALSE;
    }
    const DtFigure f = {.kind = DT_ERROR_OF_SQUARE,
                        .axis = -1,
                        .pen = -1,
                        .at = NAN,
                        .value = e.square,
                        .sd = e.sd};
    add(v, f, v->p->square, 0.95 * MIN(v->s->paper_w, v->s->paper_h) / 2, e.unseen_sd);
    return TRUE;
}

/* Pens ------------------------------------------------------------------------------------------ */

static void solve_pens(Solver *v)
{
    for (size_t i = 0; i < v->r->n; i++) {
        const DtAsk *a = &v->r->asks[i];
        const DtEyeAnswer *e = &v->r->answers[i];
        DtPoint main, vernier;
        if (a->part != DT_SHEET_PENS || e->n == 0)
            continue;
        if (a->kind == DT_ASK_TONE) {
            if (a->row < (int)v->p->rack.n)
                dt_tell_tone_seen(v->p, v->s, a->row, e->value, e->sd, v->out);
        } else if (a->kind == DT_ASK_LADDER) {
            const int pen = a->row;
            if (pen >= (int)v->p->rack.n)
                continue;
            DtFigure f = {.kind = DT_ERROR_OF_TIP_WIDTH,
                          .axis = -1,
                          .pen = pen,
                          .at = NAN,
                          .known = TRUE,
                          .value = 0.1 * e->value - 0.05,
                          .sd = 0.03};
            f.proposed = fabs(f.value - v->p->rack.pens[pen].tip) > 0.08;
            dt_figures_add(v->out, &f);
        } else if (dt_eye_ticks(v->s, a, e->value, e->shift, &main, &vernier)) {
            const int pen = a->row / 2;
            if (pen >= (int)v->p->rack.n)
                continue;
            const DtPoint has = v->p->rack.pens[pen].offset;
            const DtFigure f = {.kind = a->axis == 0 ? DT_ERROR_OF_PEN_X : DT_ERROR_OF_PEN_Y,
                                .axis = a->axis,
                                .pen = pen,
                                .at = NAN,
                                .value = v->scale[a->axis] *
                                         (a->axis == 0 ? main.x - vernier.x : main.y - vernier.y),
                                .sd = 0.05 * e->sd};
            add(v, f, a->axis == 0 ? has.x : has.y, 1, 0);
        }
    }
}

/* ----------------------------------------------------------------------------------------------- */

static void add_notes(Solver *v)
{
    const guint by_eye = DT_SHEET_SLACK | DT_SHEET_SCALE | DT_SHEET_SQUARE;
    if (v->s->kinds & by_eye)
        dt_figures_note(
            v->out,
            "a rule and verniers show rails that bow or are uneven and a pulley off centre only "
            "roughly; a scan of 'drawtrue sheet scan' shows them, and leaves less than half of the "
            "error");
    if ((v->s->kinds & DT_SHEET_SCALE) && dt_figures_find(v->out, DT_ERROR_OF_SCALE, 0) == NULL &&
        dt_figures_find(v->out, DT_ERROR_OF_SCALE, 1) == NULL)
        dt_figures_note(v->out, "the scale is unknown: no rule was read");
    if ((v->s->kinds & DT_SHEET_SQUARE) && dt_figures_find(v->out, DT_ERROR_OF_SQUARE, -1) == NULL)
        dt_figures_note(
            v->out, "squareness is unknown: it takes S1 to S4 at least. Where no number lines up, "
                    "correct the scale first and draw 'drawtrue sheet square'");
}

DtFigures *dt_eye_solve(const DtProfile *p, const DtTestSheet *s, const DtEyeReadings *r,
                        GError **error)
{
    Solver v = {.p = p, .s = s, .r = r, .known = *p, .out = g_new0(DtFigures, 1)};
    for (int axis = 0; axis < 2; axis++) {
        solve_twist(&v, axis);
        if (!solve_line(&v, axis, error) || !solve_slack(&v, axis, error)) {
            dt_figures_free(v.out);
            return NULL;
        }
    }
    if (!solve_square(&v, error)) {
        dt_figures_free(v.out);
        return NULL;
    }
    dt_eye_solve_waits(p, s, r, v.out);
    dt_eye_solve_speed(p, s, r, v.out);
    solve_pens(&v);
    v.out->ink_before_mm = sqrt(v.before2);
    v.out->ink_after_mm = sqrt(v.after2);
    add_notes(&v);
    return v.out;
}
