/* eye-solve: readings by eye to figures: slack from the verniers, then the scales, then what needs both. */
#include "drawtrue/code.h"
#include "truing/eye/eye.h"
#include "truing/sheet/sheet-parts.h"
#include "truing/solve/least-squares.h"
#include "truing/solve/solve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

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

enum { MOST = 32, MOST_KNOTS = 3 };

/* Slack at places along an axis, and straight pieces through them. */
typedef struct {
    double at[MOST], mm[MOST], sd[MOST];
    const char *name[MOST];
    int n;
    int knots;
    double knot[MOST_KNOTS], value[MOST_KNOTS], value_sd[MOST_KNOTS];
    double mean, mean_sd;
    double wider;      /* the readings' uncertainties are multiplied by it where they scatter */
    double scatter;    /* mm, standard deviation of one reading about the pieces */
    gboolean scatters; /* more than the readings' own uncertainty */
} Slack;

/* Lost motion varies from reversal to reversal: the least that cords and gears cause. */
static const double least_scatter_mm = 0.014;

static void gather(const Solver *v, int axis, Slack *k)
{
    for (size_t i = 0; i < v->r->n && k->n < MOST; i++) {
        const DtAsk *a = &v->r->asks[i];
        const DtEyeAnswer *e = &v->r->answers[i];
        DtPoint main, vernier, next_main, next;
        const double to = e->value + (e->value + 1 <= a->most ? 1 : -1);
        if (a->part != DT_SHEET_SLACK || a->row >= DT_SLACK_TWIST_ROW || a->axis != axis ||
            e->n == 0 || !dt_eye_ticks(v->s, a, e->value, e->shift, &main, &vernier) ||
            !dt_eye_ticks(v->s, a, to, e->shift, &next_main, &next))
            continue;
        const double apart = axis == 0 ? main.x - vernier.x : main.y - vernier.y;
        const double after = axis == 0 ? next_main.x - next.x : next_main.y - next.y;
        k->at[k->n] = v->scale[axis] * (axis == 0 ? main.x : main.y);
        k->mm[k->n] = v->scale[axis] * apart;
        k->sd[k->n] = hypot(v->scale[axis] * fabs(after - apart) * e->sd, least_scatter_mm);
        k->name[k->n++] = a->name;
    }
}

/* Weight of knot `i` in the value at a place. */
static double share(const Slack *k, int i, double at)
{
    if (k->knots == 1)
        return 1;
    int low = 0;
    while (low + 2 < k->knots && at > k->knot[low + 1])
        low++;
    const double f = (at - k->knot[low]) / (k->knot[low + 1] - k->knot[low]);
    return i == low ? 1 - f : i == low + 1 ? f : 0;
}

/* Least squares for the values at the knots; the residual as chi-square. */
static gboolean fit_knots(Slack *k, double *left)
{
    double a[MOST * MOST_KNOTS], b[MOST], covariance[MOST_KNOTS * MOST_KNOTS];
    for (int i = 0; i < k->n; i++) {
        for (int c = 0; c < k->knots; c++)
            a[i * k->knots + c] = share(k, c, k->at[i]) / k->sd[i];
        b[i] = k->mm[i] / k->sd[i];
    }
    if (!dt_least_squares((gsize)k->n, (gsize)k->knots, a, b, k->value, covariance, left))
        return FALSE;
    const int free = k->n - k->knots;
    k->scatters = free > 0 && *left > dt_eye_chi_square_95(free);
    const double wider = k->wider = k->scatters ? sqrt(*left / free) : 1;
    double sum = 0;
    for (int c = 0; c < k->knots; c++)
        k->value_sd[c] = wider * sqrt(covariance[c * k->knots + c]);
    for (int c = 0; c < k->knots * k->knots; c++)
        sum += covariance[c];
    k->mean = k->mean_sd = 0;
    for (int c = 0; c < k->knots; c++)
        k->mean += k->value[c] / k->knots;
    k->mean_sd = wider * sqrt(sum) / k->knots;
    k->scatter = wider * k->sd[0];
    return TRUE;
}

/* The same slack everywhere, a straight line, or a bend in the middle: the first of them that is
 * consistent with the readings. */
static gboolean fit(Slack *k, double low, double high)
{
    double left;
    for (k->knots = 1; k->knots <= MIN(k->n, MOST_KNOTS); k->knots++) {
        for (int c = 0; c < k->knots; c++)
            k->knot[c] = low + (high - low) * c / MAX(k->knots - 1, 1);
        if (!fit_knots(k, &left))
            break;
        if (!k->scatters || k->knots == MIN(k->n - 1, MOST_KNOTS))
            return TRUE;
    }
    k->knots = 1;
    return fit_knots(k, &left);
}

static double value_at(const Slack *k, double at)
{
    double sum = 0;
    for (int c = 0; c < k->knots; c++)
        sum += share(k, c, at) * k->value[c];
    return sum;
}

static int rising(const void *a, const void *b)
{
    const double p = *(const double *)a, q = *(const double *)b;
    return (p > q) - (p < q);
}

/* The reading farthest from the middle one. */
static int odd_one(const Slack *k, double *middle)
{
    double sorted[MOST];
    int odd = 0;
    memcpy(sorted, k->mm, sizeof sorted);
    qsort(sorted, (size_t)k->n, sizeof *sorted, rising);
    *middle = sorted[k->n / 2];
    for (int i = 1; i < k->n; i++)
        if (fabs(k->mm[i] - *middle) > fabs(k->mm[odd] - *middle))
            odd = i;
    return odd;
}

/* Readings that no slack of a machine explains: farther from a straight line than rails cause. */
static gboolean check_slack(Slack *k, double low, double high, GError **error)
{
    static const double most_mm = 0.15, least_mm = -0.06;
    double left, middle;
    for (int i = 0; i < k->n; i++)
        if (k->mm[i] < least_mm) {
            g_set_error(
                error, DT_ERROR, DT_ERROR_INPUT,
                "%s: a slack of %.2f mm is not possible; read it again, at the numbers above 0",
                k->name[i], k->mm[i]);
            return FALSE;
        }
    k->knots = 2;
    k->knot[0] = low;
    k->knot[1] = high;
    if (k->n < 3 || !fit_knots(k, &left))
        return TRUE;
    for (int i = 0; i < k->n; i++)
        if (fabs(k->mm[i] - value_at(k, k->at[i])) > most_mm) {
            const int odd = odd_one(k, &middle);
            g_set_error(
                error, DT_ERROR, DT_ERROR_INPUT,
                "%s says %.2f mm of slack where the other readings of this axis say about %.2f; "
                "read them again",
                k->name[odd], k->mm[odd], middle);
            return FALSE;
        }
    return TRUE;
}

/* The mean over the verniers, which are at the same places on both sheets whatever curve fits
 * them. */
static void add_mean(Solver *v, int axis, const Slack *k)
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

/* Whether what was fitted explains the readings significantly better (5 %) than the profile's table does. `off` gets
 * the root mean square of the difference of both at the verniers, mm. */
static gboolean differs(const Slack *k, const DtTable *table, double *off)
{
    double gained = 0, squares = 0;
    for (int i = 0; i < k->n; i++) {
        const double has = dt_table_at(table, k->at[i]), fitted = MAX(value_at(k, k->at[i]), 0);
        gained += pow((k->mm[i] - has) / k->sd[i], 2) - pow((k->mm[i] - fitted) / k->sd[i], 2);
        squares += pow(fitted - has, 2) / k->n;
    }
    *off = sqrt(squares);
    return gained > k->wider * k->wider * dt_eye_chi_square_95(k->knots);
}

/* One number stands for a whole table: the difference is that of all its verniers. */
static void add_slack(Solver *v, int axis, const Slack *k)
{
    const DtTable *table = &v->p->backlash[axis];
    double off;
    const gboolean differ = differs(k, table, &off);
    for (int c = 0; c < k->knots; c++) {
        const DtFigure f = {.kind = DT_ERROR_OF_BACKLASH,
                            .axis = axis,
                            .pen = -1,
                            .at = k->knots == 1 ? NAN : k->knot[c],
                            .value = MAX(k->value[c], 0),
                            .sd = k->value_sd[c]};
        const double has = k->knots == 1 ? f.value - off : dt_table_at(table, f.at);
        add(v, f, has, 0.95 / sqrt(k->knots), between_mm);
        v->out->f[v->out->n - 1].proposed = differ;
    }
}

static gboolean solve_slack(Solver *v, int axis, GError **error)
{
    const double start = axis == 0 ? v->s->paper_at.x : v->s->paper_at.y;
    const double size = axis == 0 ? v->s->paper_w : v->s->paper_h;
    const double low = round(v->scale[axis] * start), high = round(v->scale[axis] * (start + size));
    Slack k = {0};
    gather(v, axis, &k);
    if (k.n == 0)
        return TRUE;
    if (!check_slack(&k, low, high, error) || !fit(&k, low, high))
        return FALSE;
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

/* Waits ----------------------------------------------------------------------------------------- */

/* How long an axis that starts takes for a distance that the eye just misses. */
static double unseen_s(const DtProfile *p, int axis)
{
    const double unseen_mm = 0.12, v = p->pull_in[axis], a = p->acceleration[axis];
    return (sqrt(v * v + 2 * a * unseen_mm) - v) / a;
}

static double wait_of(const DtTestSheet *s, int row, int place)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->part == DT_SHEET_SETTLE && m->kind == DT_MARK_DASH && m->row == row &&
            m->place == place)
            return MAX(row == 0 ? m->drop_s : m->lift_s, 0);
    }
    return NAN;
}

/* S of a dash of the third ladder. */
static double drop_word_of(const DtTestSheet *s, int place)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *m = &s->marks[i];
        if (m->part == DT_SHEET_SETTLE && m->kind == DT_MARK_DASH && m->row == 2 &&
            m->place == place)
            return m->drop_word;
    }
    return NAN;
}

/* The dash that was read begins in time as far as the eye can tell; the pen may need the
 * invisible rest more. */
static void solve_settle(Solver *v)
{
    for (int row = 0; row < 2; row++) {
        double place, sd;
        if (!dt_eye_value(v->r, DT_SHEET_SETTLE, row, &place, &sd))
            continue;
        const double wait = wait_of(v->s, row, (int)ceil(place)),
                     has = row == 0 ? v->p->drop_s : v->p->lift_s;
        const double step = wait_of(v->s, row, 2) - wait_of(v->s, row, 1);
        DtFigure f = {.kind = row == 0 ? DT_ERROR_OF_DROP_TIME : DT_ERROR_OF_LIFT_TIME,
                      .axis = -1,
                      .pen = -1,
                      .at = NAN,
                      .known = TRUE,
                      .value = wait + unseen_s(v->p, row),
                      .sd = step / sqrt(12)};
        f.proposed = f.value > has || f.value < has - step;
        dt_figures_add(v->out, &f);
    }
}

/* The S of the first dash that was drawn completely, plus one step: pens wear, and paper is not
 * flat. If the profile's is larger by several steps the pen falls farther and is pressed harder
 * than necessary. */
static void solve_height(Solver *v)
{
    enum { ROW = 2, MORE = 3 };
    double place, sd, has, least, most;
    if (!dt_eye_value(v->r, DT_SHEET_SETTLE, ROW, &place, &sd) ||
        !dt_code_drop_word(v->p, &has, &least, &most))
        return;
    const double word = drop_word_of(v->s, (int)ceil(place)),
                 step = drop_word_of(v->s, 1) - drop_word_of(v->s, 0);
    if (isnan(word) || !(step > 0))
        return;
    DtFigure f = {.kind = DT_ERROR_OF_DROP_WORD,
                  .axis = -1,
                  .pen = -1,
                  .at = NAN,
                  .known = TRUE,
                  .value = MIN(word + step, most),
                  .sd = step / sqrt(12)};
    f.proposed = f.value > has + step / 2 || f.value < has - MORE * step;
    dt_figures_add(v->out, &f);
    if (f.proposed)
        dt_figures_note(v->out, "from another height the pen takes another time to fall: draw the "
                                "settle sheet again");
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
    solve_settle(&v);
    solve_height(&v);
    dt_eye_solve_speed(p, s, r, v.out);
    solve_pens(&v);
    v.out->ink_before_mm = sqrt(v.before2);
    v.out->ink_after_mm = sqrt(v.after2);
    add_notes(&v);
    return v.out;
}
