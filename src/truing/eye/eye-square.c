/* eye-square: the squareness error of the axes, and how their rails bow, from the figure drawn
 * twice and from gauge lines read against a straight edge.
 *
 * A mark is commanded at c; rx and ry are the positions of the carriage on its rails, with
 * scales, positions and pulleys; e is the small angle (square) and t the rotation of the paper
 * beyond a quarter; gx(rx) and gy(ry) are shifts across the rails. It leaves ink at (rx + e ry +
 * gy(ry), ry + gx(rx)). The first figure's ink is rotated to (u - ry - gx(rx) - t rx, v + rx + e
 * ry + gy(ry) - t ry), with u and v unknown as the paper was placed by hand. If a vernier's tick
 * at c' lines up with a tick at c, then along X
 *     u - t rx - e ry' - gy(ry') - gx(rx) = rx' + ry,
 * and along Y
 *     v - t ry + e ry + gy(ry) - gx(rx')  = ry' - rx.
 * Verniers at both ends and in the middle of either side separate the two bows: along X they
 * add, along Y they subtract. What is not the same at both ends of a rail adds in either (it
 * looks like squareness that changes along the way), and is told apart by the gauge lines, read
 * against a straight edge that is laid through their ends:
 *     m = g(r) - (1 - f) g(r0) - f g(r1) + (1 - f) z0 + f z1,
 * with f the share of the way, and z0 and z1 by which the edge is off. */
#include "truing/eye/eye.h"
#include "truing/eye/eye-fit.h"

#include <math.h>
#include <string.h>

enum {
    U,
    V,
    TURN,
    SQUARE,
    LAID, /* of the edge, at either end of each line */
    BOWS = LAID + 4,
    KNOTS = DT_EYE_BOW_KNOTS,
    UNKNOWNS = BOWS + 2 * KNOTS,
    MOST = 12 + 2 * DT_EYE_PLACES
};
enum { PRIORS = BOWS + 2 * KNOTS, MOST_ROWS = MOST + PRIORS };

/* Usual sizes: the bend of a rail over 20 mm, see dt_eye_bend_mm(), where nothing is known and
 * where its table was measured earlier, mm; by how much an edge is laid off the ends of a line, mm;
 * and so wide that it says nothing: where the paper lies, mm, and angles. */
static const double usual_bend_mm = 0.05, measured_bend_mm = 0.025, usual_laid_mm = 0.06,
                    paper_mm = 20, angle = 0.05;

/* The readings. */
typedef struct {
    const DtTestSheet *s;
    const DtAsk *asks[MOST];
    double k[MOST], sd[MOST]; /* numbers of the vernier, or mm from the edge */
    double sd_mm[MOST];       /* including what is not visible */
    int shift[MOST];
    int n, verniers;
    gboolean edge[2]; /* the line of this axis is read: its rail is measured anew */
    double knot[2][KNOTS];
} Readings;

/* Position of the carriage on its rails. */
static DtPoint on_rails(const DtProfile *known, DtPoint command)
{
    DtProfile flat = *known;
    flat.square = 0;
    flat.straight[0].n = flat.straight[1].n = 0;
    return dt_machine_ink_at(&flat, command);
}

/* Adds `times` the shift of a rail at a place: the profile's, unless the rail is measured anew,
 * and that by the knots, which are unknown. */
static void add_bow(const Readings *q, const DtProfile *known, int n, int axis, double at,
                    double times, double *row, double *right)
{
    const double *knot = q->knot[axis], step = knot[1] - knot[0];
    if (n == BOWS || !q->edge[axis])
        *right -= times * dt_table_at(&known->straight[axis], at);
    const double within = CLAMP(at, knot[0], knot[KNOTS - 1]);
    for (int k = 0; k < KNOTS && n > BOWS; k++)
        row[BOWS + axis * KNOTS + k] += times * MAX(1 - fabs(within - knot[k]) / step, 0);
}

/* The equation of one vernier, read at k. */
static gboolean vernier_equation(const Readings *q, const DtProfile *known, int i, double k, int n,
                                 double *row, double *right)
{
    DtPoint first, second;
    if (!dt_eye_ticks(q->s, q->asks[i], k, q->shift[i], &first, &second))
        return FALSE;
    const DtPoint a = on_rails(known, first), b = on_rails(known, second);
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
    return TRUE;
}

/* Of one place along a line, read `mm` from the edge. */
static void edge_equation(const Readings *q, const DtProfile *known, int i, double mm, int n,
                          double *row, double *right)
{
    const int axis = q->asks[i]->axis;
    const double start = dt_eye_gauge_start(q->s, axis), gauge = dt_eye_gauge_mm(q->s, axis),
                 along = dt_eye_place_mm(q->s, axis, q->asks[i]->row % DT_EYE_PLACES);
    const double f = along / gauge, scale = known->scale[axis];
    row[LAID + 2 * axis] = 1 - f;
    row[LAID + 2 * axis + 1] = f;
    *right = mm;
    add_bow(q, known, n, axis, scale * (start + along), 1, row, right);
    add_bow(q, known, n, axis, scale * start, f - 1, row, right);
    add_bow(q, known, n, axis, scale * (start + gauge), -f, row, right);
}

static gboolean equation(const Readings *q, const DtProfile *known, int i, double k, int n,
                         double *row, double *right)
{
    if (q->asks[i]->kind == DT_ASK_EDGE)
        edge_equation(q, known, i, k, n, row, right);
    else if (!vernier_equation(q, known, i, k, n, row, right))
        return FALSE;
    for (int c = 0; c < n; c++)
        row[c] /= q->sd_mm[i];
    *right /= q->sd_mm[i];
    return TRUE;
}

/* The usual sizes, about zero but for the paper, which is laid with its turned corner where the other one was; shifts
 * have no mean and no slope, which are the paper's position and the squareness. */
static gsize add_priors(const Readings *q, const DtProfile *known, int n, double *a, double *b)
{
    static const double sd[BOWS] = {paper_mm,      paper_mm,      angle,         angle,
                                    usual_laid_mm, usual_laid_mm, usual_laid_mm, usual_laid_mm};
    int m = 0;
    const DtPoint corner = on_rails(known, q->s->paper_at);
    for (; m < BOWS; m++)
        a[m * n + m] = 1 / sd[m];
    b[U] = (corner.x + corner.y + q->s->paper_h) / paper_mm;
    b[V] = (corner.y - corner.x) / paper_mm;
    for (int axis = 0; axis < 2 && n > BOWS; axis++) {
        const int from = BOWS + axis * KNOTS;
        const gboolean measured = !q->edge[axis] && known->straight[axis].n > 0;
        const double bend_mm = dt_eye_bend_mm(measured ? measured_bend_mm : usual_bend_mm,
                                              q->knot[axis][1] - q->knot[axis][0]);
        m += dt_eye_usual_bends(KNOTS, bend_mm, a + m * n + from, n);
        m += dt_eye_level_curve(KNOTS, a + m * n + from, n);
    }
    return (gsize)m;
}

static gboolean fit(const Readings *q, const DtProfile *known, const double *k, gboolean bows,
                    DtEyeFit *f)
{
    g_autofree double *a = g_new0(double, MOST_ROWS *UNKNOWNS), *b = g_new0(double, MOST_ROWS);
    const int n = bows ? UNKNOWNS : BOWS;
    for (int i = 0; i < q->n; i++)
        if (!equation(q, known, i, k[i], n, a + i * n, &b[i]))
            return FALSE;
    const int rows = q->n + (int)add_priors(q, known, n, a + q->n * n, b + q->n);
    return dt_eye_fit(q->n, rows, n, a, b, f);
}

/* The change of the squareness with each reading and scale, times its uncertainty, squared and
 * summed (GUM, 5.1.2). */
static double variance(const Readings *q, const DtProfile *known, const double scale_sd[2],
                       gboolean bows, double square)
{
    double sum = 0;
    g_auto(DtEyeFit) moved = {0};
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

/* The length of ink that one number of the vernier stands for, mm. */
static double least_mm(const DtTestSheet *s, const DtAsk *a, double k, int shift)
{
    DtPoint main, vernier, next_main, next;
    const double to = k + 1 <= a->most ? k + 1 : k - 1;
    if (!dt_eye_ticks(s, a, k, shift, &main, &vernier) ||
        !dt_eye_ticks(s, a, to, shift, &next_main, &next))
        return 0;
    /* the combs may be along different axes */
    return fabs(dt_point_distance(main, next_main) - dt_point_distance(vernier, next));
}

static void gather(Readings *q, const DtEyeReadings *r, double unseen_mm)
{
    for (size_t i = 0; i < r->n && q->n < MOST; i++) {
        const DtAsk *a = &r->asks[i];
        const DtEyeAnswer *e = &r->answers[i];
        const gboolean edge = a->kind == DT_ASK_EDGE;
        if ((!edge && a->part != DT_SHEET_SQUARE) || e->n == 0)
            continue;
        const double least = edge ? 1 : least_mm(q->s, a, e->value, e->shift);
        q->asks[q->n] = a;
        q->k[q->n] = e->value;
        q->sd[q->n] = e->sd;
        /* the figure is drawn twice, on either axis */
        q->sd_mm[q->n] = hypot(MAX(least * e->sd, 0.001), edge ? 0 : M_SQRT2 * unseen_mm);
        q->shift[q->n++] = e->shift;
        q->verniers += !edge;
        if (edge)
            q->edge[a->axis] = TRUE;
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

static void tell_bows(const Readings *q, const DtProfile *known, const DtEyeFit *f,
                      DtEyeSquare *out)
{
    for (int axis = 0; axis < 2; axis++)
        for (int k = 0; k < KNOTS; k++) {
            const int i = BOWS + axis * KNOTS + k;
            const double at = q->knot[axis][k];
            out->at[axis][k] = at;
            out->straight[axis][k] =
                f->x[i] + (q->edge[axis] ? 0 : dt_table_at(&known->straight[axis], at));
            out->straight_sd[axis][k] = dt_eye_fit_sd(f, i);
        }
}

gboolean dt_eye_solve_square(const DtProfile *known, const DtTestSheet *s, const DtEyeReadings *r,
                             const double scale_sd[2], double unseen_mm, DtEyeSquare *out)
{
    const double vague = 0.006; /* radians: as good as not read */
    Readings q = {.s = s};
    g_auto(DtEyeFit) even = {0}, bowed = {0};
    *out = (DtEyeSquare){0};
    gather(&q, r, unseen_mm);
    set_knots(&q, known);
    if (q.n == 0 || !fit(&q, known, q.k, FALSE, &even) || !fit(&q, known, q.k, TRUE, &bowed))
        return FALSE;
    out->bowed = dt_eye_is_better(q.n, even.left, even.hat, bowed.left, bowed.hat);
    const DtEyeFit *best = out->bowed ? &bowed : &even;
    const double all = dt_eye_fit_sd(&bowed, SQUARE);
    out->squared = all < vague;
    out->square = best->x[SQUARE];
    out->turn = best->x[TURN];
    out->sd = sqrt(variance(&q, known, scale_sd, out->bowed, out->square));
    out->unseen_sd = sqrt(MAX(all * all - out->sd * out->sd, 0));
    tell_bows(&q, known, &bowed, out);
    return TRUE;
}
