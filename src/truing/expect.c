/* expect: how true a drawing will be, from how well the machine's errors are known. What was corrected is
 * off by its uncertainty, what does not repeat by its scatter; along each line only what is across it shows.
 * Normal deviations; the square of each is the sum of the squares of what it comes of (GUM 5.1.2). */
#include "drawtrue/truing.h"

#include <math.h>
#include <string.h>

/* Squared uncertainties of a kind of figure along an axis, in rising order of their places. */
typedef struct {
    double *at, *sd;
    gsize n;
    gboolean everywhere; /* the first one holds at every place */
} Spread;

enum { KINDS = DT_ERROR_OF_SCATTER, BINS = 4096 };

typedef struct {
    const DtFigures *f;
    const DtProfile *p;
    DtPoint middle; /* of the ink: a scale that is off moves the paper's edges both ways */
    double base2;   /* of a motor's steps and the like, mm^2 */
    Spread spread[KINDS][2];
    double scatter[2], gear[2];
    GArray *size, *long_mm; /* double: deviation across a piece of line, and the piece's length */
    double bins[BINS];      /* the lengths by deviation, from 0 to the worst */
    DtExpectation *out;
    double worst;
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

static void add_piece(Sum *s, DtPoint from, DtPoint to, DtPoint sent_from, DtPoint sent_to,
                      int way[2])
{
    const double length = dt_point_distance(from, to),
                 sent[2] = {sent_to.x - sent_from.x, sent_to.y - sent_from.y};
    if (length <= 0)
        return;
    const DtPoint middle = dt_point_lerp(from, to, 0.5), c = dt_point_lerp(sent_from, sent_to, 0.5);
    const double at[2] = {c.x * s->p->scale[0], c.y * s->p->scale[1]};
    const double off[2] = {middle.x - s->middle.x, middle.y - s->middle.y};
    for (int i = 0; i < 2; i++)
        way[i] = sent[i] > 0 ? 1 : sent[i] < 0 ? -1 : way[i];
    const double nx = (from.y - to.y) / length, ny = (to.x - from.x) / length;
    const double size =
        sqrt(nx * nx * along(s, 0, at, off, way) + ny * ny * along(s, 1, at, off, way) + s->base2);
    g_array_append_val(s->size, size);
    g_array_append_val(s->long_mm, length);
    if (size > s->worst) {
        s->worst = size;
        s->out->worst_at = middle;
    }
}

static void fill_bins(Sum *s)
{
    double all = 0;
    for (guint i = 0; i < s->size->len; i++) {
        const double share = g_array_index(s->size, double, i) / s->worst;
        const double mm = g_array_index(s->long_mm, double, i);
        s->bins[MIN((int)(share * BINS), BINS - 1)] += mm;
        all += mm;
    }
    for (int i = 0; i < BINS; i++)
        s->bins[i] /= all;
}

/* Of all ink, the share that is off by more than t. */
static double beyond(const Sum *s, double t)
{
    double off = 0;
    for (int i = 0; i < BINS; i++)
        if (s->bins[i] > 0)
            off += s->bins[i] * erfc(t / ((i + 0.5) / BINS * s->worst * M_SQRT2));
    return off;
}

static double where_share(const Sum *s, double share)
{
    double low = 0, high = 8 * s->worst; /* beyond it lies less than 1e-14 */
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
    s->base2 = step * step / 3;
    s->size = g_array_new(FALSE, FALSE, sizeof(double));
    s->long_mm = g_array_new(FALSE, FALSE, sizeof(double));
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
    g_array_unref(s->size);
    g_array_unref(s->long_mm);
}

gboolean dt_truing_expect(const DtProfile *p, const DtFigures *f, const DtMoves *m,
                          DtExpectation *out)
{
    const double finest_mm =
        3; /* pieces of ink that err by themselves, for the largest of all errors */
    int way[2] = {1, 1};
    double ink_mm = 0;
    g_autofree Sum *s = sum_new(p, f, m, out);
    *out = (DtExpectation){0};
    for (size_t i = 1; i < m->n; i++) {
        const DtMove *a = &m->m[i - 1], *b = &m->m[i];
        if (b->kind == DT_MOVE_DRAW) {
            add_piece(s, a->ink, b->ink, a->to, b->to, way);
            ink_mm += dt_point_distance(a->ink, b->ink);
        } else {
            way[0] = b->to.x > a->to.x ? 1 : b->to.x < a->to.x ? -1 : way[0];
            way[1] = b->to.y > a->to.y ? 1 : b->to.y < a->to.y ? -1 : way[1];
        }
    }
    if (s->size->len > 0) {
        fill_bins(s);
        out->p95_mm = where_share(s, 0.05);
        out->largest_mm = where_share(s, MIN(finest_mm / MAX(ink_mm, finest_mm), 0.05));
    }
    sum_clear(s);
    return out->p95_mm > 0;
}
