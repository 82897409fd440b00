/* eye-square: what the axes are off square by, and how their rails bow, from the figure drawn twice.
 *
 * A mark is commanded at c; rx and ry are the places of the carriage on its rails, with scales, positions and
 * pulleys; e is the small angle (square) and t the turn of the paper beyond a quarter; gx(rx) and gy(ry) shift
 * across the rails. It leaves ink at (rx + e ry + gy(ry), ry + gx(rx)). The first figure's ink is turned to
 * (u - ry - gx(rx) - t rx, v + rx + e ry + gy(ry) - t ry), with u and v unknown as the paper was laid down by
 * hand. Where a vernier's tick at c' lines up with a tick at c, along X
 *     u - t rx - e ry' - gy(ry') - gx(rx) = rx' + ry,
 * and along Y
 *     v - t ry + e ry + gy(ry) - gx(rx')  = ry' - rx.
 * Verniers at both ends and in the middle of either side tell both bows apart: along X they add, along Y one is
 * taken from the other. */
#include "truing/eye/eye.h"
#include "truing/solve/least-squares.h"

#include <math.h>
#include <string.h>

enum { U, V, TURN, SQUARE, BOWS, KNOTS = DT_EYE_BOW_KNOTS, UNKNOWNS = BOWS + 2 * KNOTS, MOST = 12 };
enum { ROWS = MOST + 2 * (KNOTS + 2) };

/* Standard deviation of a rail's shift across, as it is usual, mm. */
static const double usual_bow_mm = 0.12;

/* The readings. */
typedef struct {
    const DtTestSheet *s;
    const DtAsk *asks[MOST];
    double k[MOST], sd[MOST]; /* numbers of the vernier */
    double sd_mm[MOST];       /* with what is not seen */
    int shift[MOST];
    int n;
    double knot[2][KNOTS];
} Readings;

typedef struct {
    int n;
    double x[UNKNOWNS], covariance[UNKNOWNS * UNKNOWNS], left;
} Fit;

/* Where the carriage is on its rails. */
static DtPoint on_rails(const DtProfile *known, DtPoint command)
{
    DtProfile flat = *known;
    flat.square = 0;
    flat.straight[0].n = flat.straight[1].n = 0;
    return dt_machine_ink_at(&flat, command);
}

/* `times` the shift of a rail at a place: of unknown knots, or where there are none, of the profile's table, to the
 * right side. */
static void add_bow(const Readings *q, const DtProfile *known, int n, int axis, double at,
                    double times, double *row, double *right)
{
    const double *knot = q->knot[axis], step = knot[1] - knot[0];
    if (n == BOWS) {
        *right -= times * dt_table_at(&known->straight[axis], at);
        return;
    }
    const double within = CLAMP(at, knot[0], knot[KNOTS - 1]);
    for (int k = 0; k < KNOTS; k++)
        row[BOWS + axis * KNOTS + k] += times * MAX(1 - fabs(within - knot[k]) / step, 0);
}

/* The equation of one vernier, read at k. */
static gboolean equation(const Readings *q, const DtProfile *known, int i, double k, int n,
                         double *row, double *right)
{
    DtPoint first, second;
    if (!dt_eye_ticks(q->s, q->asks[i], k, q->shift[i], &first, &second))
        return FALSE;
    const DtPoint a = on_rails(known, first), b = on_rails(known, second);
    memset(row, 0, (gsize)n * sizeof *row);
    if (q->asks[i]->axis == 0) {
        row[U] = 1;
        row[TURN] = -a.x;
        row[SQUARE] = -b.y;
        *right = b.x + a.y;
        add_bow(q, known, n, 1, b.y, -1, row, right);
        add_bow(q, known, n, 0, a.x, -1, row, right);
    } else {
        row[V] = 1;
        row[TURN] = -a.y;
        row[SQUARE] = a.y;
        *right = b.y - a.x;
        add_bow(q, known, n, 1, a.y, 1, row, right);
        add_bow(q, known, n, 0, b.x, -1, row, right);
    }
    for (int c = 0; c < n; c++)
        row[c] /= q->sd_mm[i];
    *right /= q->sd_mm[i];
    return TRUE;
}

/* Shifts are of the usual size, and have no mean and no slope, which are the paper's place and the squareness. */
static gsize add_priors(double *a)
{
    const double strict_mm = 1e-5;
    gsize m = 0;
    for (int axis = 0; axis < 2; axis++) {
        const int from = BOWS + axis * KNOTS;
        for (int k = 0; k < KNOTS; k++)
            a[m++ * UNKNOWNS + (gsize)(from + k)] = 1 / usual_bow_mm;
        for (int k = 0; k < KNOTS; k++) {
            a[m * UNKNOWNS + (gsize)(from + k)] = 1 / strict_mm;
            a[(m + 1) * UNKNOWNS + (gsize)(from + k)] = (k - (KNOTS - 1) / 2.0) / strict_mm;
        }
        m += 2;
    }
    return m;
}

static gboolean fit(const Readings *q, const DtProfile *known, const double *k, gboolean bows,
                    Fit *f)
{
    double a[ROWS * UNKNOWNS] = {0}, b[ROWS] = {0};
    f->n = bows ? UNKNOWNS : BOWS;
    for (int i = 0; i < q->n; i++)
        if (!equation(q, known, i, k[i], f->n, a + i * f->n, &b[i]))
            return FALSE;
    const gsize m = (gsize)q->n + (bows ? add_priors(a + q->n * f->n) : 0);
    return m >= (gsize)f->n &&
           dt_least_squares(m, (gsize)f->n, a, b, f->x, f->covariance, &f->left);
}

/* By how much the squareness changes with each reading and scale, times its uncertainty, squared and added
 * (GUM, 5.1.2). */
static double variance(const Readings *q, const DtProfile *known, const double scale_sd[2],
                       gboolean bows, double square)
{
    double sum = 0;
    Fit moved;
    for (int i = 0; i < q->n; i++) {
        double near[MOST];
        memcpy(near, q->k, sizeof near);
        const double step = q->k[i] > 0 ? -0.01 : 0.01;
        near[i] += step;
        if (fit(q, known, near, bows, &moved))
            sum += pow((moved.x[SQUARE] - square) / step * q->sd[i], 2);
    }
    for (int i = 0; i < 2; i++) {
        const double step = 1e-5;
        DtProfile near = *known;
        near.scale[i] += step;
        if (fit(q, &near, q->k, bows, &moved))
            sum += pow((moved.x[SQUARE] - square) / step * scale_sd[i], 2);
    }
    return sum;
}

/* Ink that one number of the vernier stands for, mm. */
static double least_mm(const DtTestSheet *s, const DtAsk *a, double k, int shift)
{
    DtPoint main, vernier, next_main, next;
    const double to = k + 1 <= a->most ? k + 1 : k - 1;
    if (!dt_eye_ticks(s, a, k, shift, &main, &vernier) ||
        !dt_eye_ticks(s, a, to, shift, &next_main, &next))
        return 0;
    /* the combs may lie along different axes */
    return fabs(dt_point_distance(main, next_main) - dt_point_distance(vernier, next));
}

static void gather(Readings *q, const DtEyeReadings *r, double unseen_mm)
{
    for (size_t i = 0; i < r->n && q->n < MOST; i++) {
        const DtAsk *a = &r->asks[i];
        const DtEyeAnswer *e = &r->answers[i];
        if (a->part != DT_SHEET_SQUARE || e->n == 0)
            continue;
        const double least = least_mm(q->s, a, e->value, e->shift);
        q->asks[q->n] = a;
        q->k[q->n] = e->value;
        q->sd[q->n] = e->sd;
        /* the figure is drawn twice, on either axis */
        q->sd_mm[q->n] = hypot(MAX(least * e->sd, 0.001), M_SQRT2 * unseen_mm);
        q->shift[q->n++] = e->shift;
    }
}

static void set_knots(Readings *q, const DtProfile *known)
{
    for (int axis = 0; axis < 2; axis++) {
        const double from = axis == 0 ? q->s->paper_at.x : q->s->paper_at.y;
        const double length = axis == 0 ? q->s->paper_w : q->s->paper_h;
        for (int k = 0; k < KNOTS; k++)
            q->knot[axis][k] = known->scale[axis] * (from + length * k / (KNOTS - 1));
    }
}

gboolean dt_eye_solve_square(const DtProfile *known, const DtTestSheet *s, const DtEyeReadings *r,
                             const double scale_sd[2], double unseen_mm, DtEyeSquare *out)
{
    Readings q = {.s = s};
    Fit even, bowed;
    *out = (DtEyeSquare){0};
    gather(&q, r, unseen_mm);
    set_knots(&q, known);
    if (!fit(&q, known, q.k, FALSE, &even) || !fit(&q, known, q.k, TRUE, &bowed))
        return FALSE;
    out->bowed = q.n > BOWS && even.left > dt_eye_chi_square_95(q.n - BOWS);
    const Fit *best = out->bowed ? &bowed : &even;
    out->square = best->x[SQUARE];
    out->turn = best->x[TURN];
    out->sd = sqrt(variance(&q, known, scale_sd, out->bowed, out->square));
    const double all = bowed.covariance[SQUARE * UNKNOWNS + SQUARE];
    out->unseen_sd = sqrt(MAX(all - out->sd * out->sd, 0));
    for (int axis = 0; axis < 2; axis++)
        for (int k = 0; k < KNOTS; k++) {
            const int i = BOWS + axis * KNOTS + k;
            out->at[axis][k] = q.knot[axis][k];
            out->straight[axis][k] = bowed.x[i];
            out->straight_sd[axis][k] = sqrt(bowed.covariance[i * UNKNOWNS + i]);
        }
    return TRUE;
}
