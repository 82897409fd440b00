/* expect: how true a drawing will be, from how well the machine's errors are known. What was corrected is
 * off by its uncertainty, what does not repeat by its scatter; along each line only what is across it shows.
 * Normal deviations; the square of each is the sum of the squares of what it comes of (GUM 5.1.2). */
#include "drawtrue/truing.h"

#include <math.h>
#include <string.h>

typedef struct {
    const DtFigures *f;
    const DtProfile *p;
    DtPoint middle;         /* of the ink: a scale that is off moves the paper's edges both ways */
    double base2;           /* of a motor's steps and the like, mm^2 */
    GArray *size, *long_mm; /* double: deviation across a piece of line, and the piece's length */
    DtExpectation *out;
    double worst;
} Sum;

/* The squared uncertainty of a kind of figure at a place along its axis: of the nearest two in between. */
static double squared(const DtFigures *f, DtErrorKind kind, int axis, double at)
{
    const DtFigure *before = NULL, *after = NULL;
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *g = &f->f[i];
        if (g->kind != kind || (axis >= 0 && g->axis != axis) || !g->known)
            continue;
        if (isnan(g->at))
            return g->sd * g->sd;
        if (g->at <= at)
            before = g;
        else if (after == NULL)
            after = g;
    }
    if (before == NULL || after == NULL) {
        const DtFigure *only = before ? before : after;
        return only ? only->sd * only->sd : 0;
    }
    const double t = (at - before->at) / (after->at - before->at);
    const double sd = before->sd + t * (after->sd - before->sd);
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
    const DtFigures *f = s->f;
    const double scatter = value_of(f, DT_ERROR_OF_SCATTER, axis),
                 gear = value_of(f, DT_ERROR_OF_GEAR, axis);
    double v = squared(f, DT_ERROR_OF_POSITION, axis, at[axis]) +
               squared(f, DT_ERROR_OF_STRAIGHT, 1 - axis, at[1 - axis]) +
               squared(f, DT_ERROR_OF_PULLEY, axis, at[axis]) / 2 +
               squared(f, DT_ERROR_OF_TWIST, axis, at[axis]) / 4 + gear * gear / 2;
    v += squared(f, DT_ERROR_OF_SCALE, axis, 0) * off[axis] * off[axis];
    v += squared(f, DT_ERROR_OF_SQUARE, -1, 0) / 4 * off[1 - axis] * off[1 - axis];
    if (way[axis] < 0)
        v += squared(f, DT_ERROR_OF_BACKLASH, axis, at[axis]) + scatter * scatter;
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

/* Of all ink, the share that is off by more than t. */
static double beyond(const Sum *s, double t)
{
    double off = 0, all = 0;
    for (guint i = 0; i < s->size->len; i++) {
        const double w = g_array_index(s->long_mm, double, i);
        off += w * erfc(t / (g_array_index(s->size, double, i) * M_SQRT2));
        all += w;
    }
    return off / all;
}

static double where_share(const Sum *s, double share)
{
    double low = 0, high = 10;
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

gboolean dt_truing_expect(const DtProfile *p, const DtFigures *f, const DtMoves *m,
                          DtExpectation *out)
{
    const double finest_mm =
        3; /* pieces of ink that err by themselves, for the largest of all errors */
    const double step = MAX(1 / p->steps_per_mm[0], 1 / p->steps_per_mm[1]);
    int way[2] = {1, 1};
    double ink_mm = 0;
    Sum s = {f,
             p,
             middle_of(m),
             step * step / 3,
             g_array_new(FALSE, FALSE, sizeof(double)),
             g_array_new(FALSE, FALSE, sizeof(double)),
             out,
             0};
    *out = (DtExpectation){0};
    for (size_t i = 1; i < m->n; i++) {
        const DtMove *a = &m->m[i - 1], *b = &m->m[i];
        if (b->kind == DT_MOVE_DRAW) {
            add_piece(&s, a->ink, b->ink, a->to, b->to, way);
            ink_mm += dt_point_distance(a->ink, b->ink);
        } else {
            way[0] = b->to.x > a->to.x ? 1 : b->to.x < a->to.x ? -1 : way[0];
            way[1] = b->to.y > a->to.y ? 1 : b->to.y < a->to.y ? -1 : way[1];
        }
    }
    if (s.size->len > 0) {
        out->p95_mm = where_share(&s, 0.05);
        out->largest_mm = where_share(&s, MIN(finest_mm / MAX(ink_mm, finest_mm), 0.05));
    }
    g_array_unref(s.size);
    g_array_unref(s.long_mm);
    return out->p95_mm > 0;
}
