/* expect: the expected ink error of a drawing, from how well the machine's errors are known.
 * What was corrected is off by its uncertainty, what does not repeat by its scatter; along each
 * line only the component across it is visible. Normal deviations; variances add up (GUM 5.1.2).
 * They are relative to where the ink is planned to be, which is not exactly on the line: motors
 * that do not follow the smallest reversals, and slack that is taken up on the way, are within
 * the tolerances of dt_machine_moves(). */
#include "drawtrue/truing.h"

#include <math.h>
#include <string.h>

/* Squared uncertainties of a kind of figure along an axis, in rising order of their places. */
typedef struct {
    double *at, *sd;
    gsize n;
    gboolean everywhere; /* the first one applies at every place */
} Spread;

enum { KINDS = DT_ERROR_OF_SCATTER, BINS = 96 };
/* About a second of work. */
enum { MOST_LOOKS = 100000000 };

/* For a piece of ink: its uncertainty across the line, its planned deviation, and its length,
 * mm. */
typedef struct {
    double size, off, length;
} Piece;

typedef struct {
    const DtFigures *f;
    const DtProfile *p;
    DtPoint middle; /* of the ink: a wrong scale moves both edges of the paper */
    double base2;   /* of a motor's steps, mm^2 */
    Spread spread[KINDS][2];
    double scatter[2], gear[2];
    GArray *pieces;
    double bins[BINS]
               [BINS]; /* shares of the length by `off` and `size`, each from 0 to its largest */
    double farthest, worst; /* the largest of these */
    size_t left;            /* segments that may still be searched where a place seems wrong */
    DtExpectation *out;
} Sum;

static Spread spread_of(const DtFigures *f, int kind, int axis)
{
    Spread s = {g_new(double, f->n + 1), g_new(double, f->n + 1), 0, FALSE};
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if ((int)g->kind != kind || !g->known || (g->axis >= 0 && g->axis != axis))
            continue;
        s.everywhere |= isnan(g->at);
        s.at[s.n] = g->at;
        s.sd[s.n++] = g->sd;
    }
    return s;
}

/* At a place: between the nearest two in a straight line. */
static double squared(const Spread *s, double at)
{
    if (s->n == 0)
        return 0;
    if (s->everywhere || at <= s->at[0])
        return s->sd[0] * s->sd[0];
    if (at >= s->at[s->n - 1])
        return s->sd[s->n - 1] * s->sd[s->n - 1];
    gsize low = 0, high = s->n - 1;
    while (high - low > 1) {
        const gsize middle = (low + high) / 2;
        *(s->at[middle] <= at ? &low : &high) = middle;
    }
    const double t = (at - s->at[low]) / (s->at[high] - s->at[low]);
    const double sd = s->sd[low] + t * (s->sd[high] - s->sd[low]);
    return sd * sd;
}

static double value_of(const DtFigures *f, DtErrorKind kind, int axis)
{
    for (size_t i = 0; i < f->n; i++)
        if (f->f[i].kind == kind && f->f[i].axis == axis && f->f[i].known)
            return f->f[i].value;
    return 0;
}

/* Of the ink's place along an axis. */
static double along(const Sum *s, int axis, const double at[2], const double off[2],
                    const int way[2])
{
    const Spread(*u)[2] = s->spread;
    const int other = 1 - axis;
    double v = squared(&u[DT_ERROR_OF_POSITION][axis], at[axis]) +
               squared(&u[DT_ERROR_OF_STRAIGHT][other], at[other]) +
               squared(&u[DT_ERROR_OF_PULLEY][axis], at[axis]) / 2 +
               squared(&u[DT_ERROR_OF_TWIST][axis], at[axis]) / 4 +
               s->gear[axis] * s->gear[axis] / 2;
    v += squared(&u[DT_ERROR_OF_SCALE][axis], 0) * off[axis] * off[axis];
    v += squared(&u[DT_ERROR_OF_SQUARE][axis], 0) / 4 * off[other] * off[other];
    if (way[axis] < 0)
        v +=
            squared(&u[DT_ERROR_OF_BACKLASH][axis], at[axis]) + s->scatter[axis] * s->scatter[axis];
    return v;
}

/* Where a stroke of ink is compared with the wanted line: a place on that line, which moves
 * along it. */
typedef struct {
    const DtPoint *pts;
    size_t n, at; /* the segment from pts[at] */
    double into;  /* mm from its beginning */
} Wanted;

static Wanted wanted_of(const DtSequence *q, size_t polyline)
{
    if (q == NULL || polyline >= q->n || q->n_pts == 0 || q->polylines[polyline].n < 2)
        return (Wanted){NULL, 0, 0, 0};
    return (Wanted){q->pts + q->polylines[polyline].first, q->polylines[polyline].n, 0, 0};
}

/* The place of a segment, from `least` mm on, that is nearest to a point, mm from its beginning; *off gets the distance. */
static double nearest_on(DtPoint p, DtPoint a, DtPoint b, double least, double *off)
{
    const DtPoint d = dt_point_sub(b, a);
    const double length = hypot(d.x, d.y);
    const double into = length > 0 ? dt_point_dot(dt_point_sub(p, a), d) / length : 0;
    const double at = CLAMP(into, MIN(least, length), length);
    *off = dt_point_distance(p, length > 0 ? dt_point_lerp(a, b, at / length) : a);
    return at;
}

/* The nearest place from the present one of `w`, within `ahead` mm. */
static double look_along(Wanted *w, DtPoint p, double ahead)
{
    const double same = 1e-9, back_mm = 0.05;
    double nearest = G_MAXDOUBLE, way = -w->into, least = MAX(w->into - back_mm, 0);
    for (size_t i = w->at; i + 1 < w->n && way <= ahead; i++, least = 0) {
        double off;
        const double into = nearest_on(p, w->pts[i], w->pts[i + 1], least, &off);
        if (off < nearest - same) {
            nearest = off;
            w->at = i;
            w->into = into;
        }
        way += dt_point_distance(w->pts[i], w->pts[i + 1]);
    }
    return nearest;
}

/* Distance of a place of the ink from the line, searched along from the last place. Never
 * backwards, since lines may be retraced, and of equally near places the first one. If the
 * result seems wrong, as where a line nearly meets itself, the whole line is searched, as long
 * as `left` segments last. */
static double off_line(Wanted *w, DtPoint p, double ahead, size_t *left)
{
    const double doubtful_mm = 0.05;
    const double off = look_along(w, p, ahead);
    Wanted all = {w->pts, w->n, 0, 0};
    if (off < doubtful_mm || *left < w->n)
        return off;
    *left -= w->n;
    const double nearest = look_along(&all, p, G_MAXDOUBLE);
    if (nearest < off)
        *w = all;
    return MIN(nearest, off);
}

static void add_piece(Sum *s, Wanted *w, DtPoint from, DtPoint to, DtPoint sent_from,
                      DtPoint sent_to, int way[2])
{
    const double length = dt_point_distance(from, to), reach_mm = 1,
                 sent[2] = {sent_to.x - sent_from.x, sent_to.y - sent_from.y};
    if (length <= 0)
        return;
    const DtPoint middle = dt_point_lerp(from, to, 0.5), c = dt_point_lerp(sent_from, sent_to, 0.5);
    const double at[2] = {c.x * s->p->scale[0], c.y * s->p->scale[1]};
    const double off[2] = {middle.x - s->middle.x, middle.y - s->middle.y};
    for (int i = 0; i < 2; i++)
        way[i] = sent[i] > 0 ? 1 : sent[i] < 0 ? -1 : way[i];
    const double nx = (from.y - to.y) / length, ny = (to.x - from.x) / length;
    const Piece k = {.size = sqrt(nx * nx * along(s, 0, at, off, way) +
                                  ny * ny * along(s, 1, at, off, way) + s->base2),
                     .off = w->n > 0 ? off_line(w, middle, length + reach_mm, &s->left) : 0,
                     .length = length};
    g_array_append_val(s->pieces, k);
    s->farthest = MAX(s->farthest, k.off);
    if (k.size > s->worst) {
        s->worst = k.size;
        s->out->worst_at = middle;
    }
}

/* A stroke's longer pieces are looked at place by place. */
static void add_move(Sum *s, Wanted *w, const DtMove *a, const DtMove *b, int way[2])
{
    const double fine_mm = 1;
    const int n = MAX((int)ceil(dt_point_distance(a->ink, b->ink) / fine_mm), 1);
    for (int i = 0; i < n; i++) {
        const double from = (double)i / n, to = (double)(i + 1) / n;
        add_piece(s, w, dt_point_lerp(a->ink, b->ink, from), dt_point_lerp(a->ink, b->ink, to),
                  dt_point_lerp(a->to, b->to, from), dt_point_lerp(a->to, b->to, to), way);
    }
}

static void fill_bins(Sum *s)
{
    double all = 0;
    for (guint i = 0; i < s->pieces->len; i++) {
        const Piece *k = &g_array_index(s->pieces, Piece, i);
        const int size = MIN((int)(k->size / s->worst * BINS), BINS - 1);
        const int off = s->farthest > 0 ? MIN((int)(k->off / s->farthest * BINS), BINS - 1) : 0;
        s->bins[off][size] += k->length;
        all += k->length;
    }
    for (int i = 0; i < BINS; i++)
        for (int j = 0; j < BINS; j++)
            s->bins[i][j] /= all;
}

/* The share of all ink that is off by more than t: the planned deviation plus or minus a normal
 * deviation. */
static double beyond(const Sum *s, double t)
{
    double sum = 0;
    for (int i = 0; i < BINS; i++)
        for (int j = 0; j < BINS; j++) {
            if (s->bins[i][j] <= 0)
                continue;
            const double off = (i + 0.5) / BINS * s->farthest,
                         size = (j + 0.5) / BINS * s->worst * M_SQRT2;
            sum += s->bins[i][j] * (erfc((t - off) / size) + erfc((t + off) / size)) / 2;
        }
    return sum;
}

static double where_share(const Sum *s, double share)
{
    double low = 0, high = s->farthest + 8 * s->worst; /* beyond it lies less than 1e-14 */
    for (int i = 0; i < 50; i++) {
        const double t = (low + high) / 2;
        *(beyond(s, t) > share ? &low : &high) = t;
    }
    return high;
}

static DtPoint middle_of(const DtMoves *m)
{
    DtBox b = DT_BOX_EMPTY;
    for (size_t i = 0; i < m->n; i++)
        if (m->m[i].kind == DT_MOVE_DRAW)
            b = dt_box_add_point(b, m->m[i].ink);
    return dt_point((b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2);
}

static Sum *sum_new(const DtProfile *p, const DtFigures *f, const DtMoves *m, DtExpectation *out)
{
    const double step = MAX(1 / p->steps_per_mm[0], 1 / p->steps_per_mm[1]);
    Sum *s = g_new0(Sum, 1);
    s->f = f;
    s->p = p;
    s->middle = middle_of(m);
    s->base2 = step * step / 12; /* anywhere within a step */
    s->pieces = g_array_new(FALSE, FALSE, sizeof(Piece));
    s->left = MOST_LOOKS;
    s->out = out;
    for (int axis = 0; axis < 2; axis++) {
        for (int kind = 0; kind < KINDS; kind++)
            s->spread[kind][axis] = spread_of(f, kind, axis);
        s->scatter[axis] = value_of(f, DT_ERROR_OF_SCATTER, axis);
        s->gear[axis] = value_of(f, DT_ERROR_OF_GEAR, axis);
    }
    return s;
}

static void sum_clear(Sum *s)
{
    for (int kind = 0; kind < KINDS; kind++)
        for (int axis = 0; axis < 2; axis++) {
            g_free(s->spread[kind][axis].at);
            g_free(s->spread[kind][axis].sd);
        }
    g_array_unref(s->pieces);
}

gboolean dt_truing_expect(const DtProfile *p, const DtFigures *f, const DtSequence *q,
                          const DtMoves *m, DtExpectation *out)
{
    const double finest_mm =
        3; /* pieces of ink with independent errors, for the largest of all errors */
    int way[2] = {1, 1};
    double ink_mm = 0;
    Wanted w = {NULL, 0, 0, 0};
    g_autofree Sum *s = sum_new(p, f, m, out);
    *out = (DtExpectation){0};
    for (size_t i = 1; i < m->n; i++) {
        const DtMove *a = &m->m[i - 1], *b = &m->m[i];
        if (b->kind == DT_MOVE_PEN_DOWN || (b->kind == DT_MOVE_DRAW && b->polyline != a->polyline))
            w = wanted_of(q, b->polyline);
        if (b->kind == DT_MOVE_DRAW) {
            add_move(s, &w, a, b, way);
            ink_mm += dt_point_distance(a->ink, b->ink);
        } else {
            way[0] = b->to.x > a->to.x ? 1 : b->to.x < a->to.x ? -1 : way[0];
            way[1] = b->to.y > a->to.y ? 1 : b->to.y < a->to.y ? -1 : way[1];
        }
    }
    if (s->pieces->len > 0) {
        fill_bins(s);
        out->p95_mm = where_share(s, 0.05);
        out->largest_mm = where_share(s, MIN(finest_mm / MAX(ink_mm, finest_mm), 0.05));
    }
    sum_clear(s);
    return out->p95_mm > 0;
}
