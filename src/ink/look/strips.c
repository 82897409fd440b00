/* strips: the light from strips of the paper, with the drawn ink on it. The ink is cut into short stretches, which lie
 * in a grid; those near a place are put into its own coordinates, along and aside of its way. */
#include "ink/look/strips.h"

#include "drawtrue/work.h"

#include <math.h>

/* Longest stretch, mm; the grid's cells are at least as wide. */
#define STRETCH 1.0
/* Most cells of the grid. */
#define MOST_CELLS 1e6
/* Added to boxes (mm), so that rounding loses nothing. */
#define SLACK 1e-6
/* Squared distances that differ by less than this share may be equal but for rounding. */
#define ROUNDING 1e-9

/* Cells without stretches: near a place, and far from all. */
enum { NONE = -1, FAR = -2 };

/* A straight stretch of a stroke. */
typedef struct {
    DtPoint a, b;
    unsigned pen;
    gboolean line;
    int next; /* of its cell; NONE: there is no other */
} Stretch;

/* One near the place: its box, ink and all, in the place's coordinates. */
typedef struct {
    DtPoint a, b, ab;
    double per_length2; /* 1 / length^2; 0 if it has none */
    double along[2], aside[2];
    gboolean line;
} Near;

typedef struct {
    double reach;         /* of its ink, half a tip */
    double least2, most2; /* its square, where rounding may decide between these */
    double lightness;
    double light[3]; /* linear */
    GArray *near;    /* Near */
    GArray *on;      /* Near: those on a strip */
} PenInk;

struct DtStrips {
    const DtTrace *t;
    double along, aside; /* how far from a place strips go */
    double reach;        /* of the widest pen's ink */
    DtBox box;
    double width; /* of a cell, mm */
    int columns, rows;
    int *first; /* stretch of each cell */
    GArray *stretches;
    PenInk *pens;
    double bare[3]; /* the paper, linear */
    DtPoint at, way;
};

/* The grid --------------------------------------------------------------------------------------- */

static DtBox grow(DtBox b, double x, double y)
{
    return (DtBox){b.x0 - x, b.y0 - y, b.x1 + x, b.y1 + y};
}

static int column(const DtStrips *s, double x)
{
    return (int)CLAMP((x - s->box.x0) / s->width, 0, s->columns - 1);
}

static int row(const DtStrips *s, double y)
{
    return (int)CLAMP((y - s->box.y0) / s->width, 0, s->rows - 1);
}

/* Where the middles of stretches may be whose ink is on a strip beside a place. */
static DtBox box_around(const DtStrips *s, DtPoint at, DtPoint way)
{
    const double by = s->reach + STRETCH / 2 + SLACK;
    return grow((DtBox){at.x, at.y, at.x, at.y},
                fabs(way.x) * s->along + fabs(way.y) * s->aside + by,
                fabs(way.y) * s->along + fabs(way.x) * s->aside + by);
}

static void make_grid(DtStrips *s, guint stride)
{
    const GArray *thin = s->t->thin;
    s->box = DT_BOX_EMPTY;
    for (guint i = 0; i < thin->len; i += stride)
        s->box = dt_box_add_point(s->box, g_array_index(thin, DtThinPlace, i).at);
    const double by = hypot(s->along, s->aside) + s->reach + STRETCH;
    s->box = grow(s->box, by, by);
    const double w = dt_box_width(s->box), h = dt_box_height(s->box);
    s->width = MAX(STRETCH, sqrt(w / MOST_CELLS * h));
    s->columns = (int)MIN(w / s->width, MOST_CELLS) + 1;
    s->rows = (int)MIN(h / s->width, MOST_CELLS) + 1;
    s->first = g_new(int, (gsize)s->columns *(gsize)s->rows);
    for (int i = 0; i < s->columns * s->rows; i++)
        s->first[i] = FAR;
    for (guint i = 0; i < thin->len; i += stride) {
        const DtThinPlace *p = &g_array_index(thin, DtThinPlace, i);
        const DtBox b = box_around(s, p->at, p->way);
        for (int y = row(s, b.y0); y <= row(s, b.y1); y++)
            for (int x = column(s, b.x0); x <= column(s, b.x1); x++)
                s->first[y * s->columns + x] = NONE;
    }
}

static void lay_stretch(DtStrips *s, DtPoint a, DtPoint b, const DtStroke *of)
{
    const DtPoint middle = dt_point_lerp(a, b, 0.5);
    int *first = &s->first[row(s, middle.y) * s->columns + column(s, middle.x)];
    if (*first == FAR)
        return;
    const Stretch new = {a, b, of->pen, of->kind == DT_INK_OUTLINE, *first};
    *first = (int)s->stretches->len;
    g_array_append_val(s->stretches, new);
}

static void lay_ink(DtStrips *s)
{
    const DtStrokes *all = s->t->out;
    for (size_t i = s->t->first; i < all->n && !dt_work_stopped(); i++) {
        const DtStroke *of = &all->strokes[i];
        const DtPoint *q = all->pts + of->first;
        for (size_t k = 0; k + (of->closed ? 0 : 1) < of->n; k++) {
            const DtPoint a = q[k], b = q[(k + 1) % of->n];
            const int n = MAX(1, (int)MIN(ceil(dt_point_distance(a, b) / STRETCH), 1e6));
            for (int j = 0; j < n; j++)
                lay_stretch(s, dt_point_lerp(a, b, (double)j / n),
                            dt_point_lerp(a, b, (j + 1.0) / n), of);
        }
    }
}

DtStrips *dt_strips_new(const DtTrace *t, guint stride, double along, double aside)
{
    DtStrips *s = g_new0(DtStrips, 1);
    *s = (DtStrips){.t = t,
                    .along = along,
                    .aside = aside,
                    .bare = {dt_colour_linear(t->o->paper.r), dt_colour_linear(t->o->paper.g),
                             dt_colour_linear(t->o->paper.b)}};
    s->pens = g_new0(PenInk, t->rack->n + 1);
    for (size_t i = 0; i < t->rack->n; i++) {
        const DtPen *pen = &t->rack->pens[i];
        s->reach = MAX(s->reach, pen->tip / 2);
        s->pens[i] = (PenInk){
            .reach = pen->tip / 2,
            .least2 = pen->tip / 2 * (pen->tip / 2) * (1 - ROUNDING),
            .most2 = pen->tip / 2 * (pen->tip / 2) * (1 + ROUNDING),
            .lightness = dt_colour_lab(pen->colour).l,
            .light = {dt_colour_linear(pen->colour.r), dt_colour_linear(pen->colour.g),
                      dt_colour_linear(pen->colour.b)},
            .near = g_array_new(FALSE, FALSE, sizeof(Near)),
            .on = g_array_new(FALSE, FALSE, sizeof(Near)),
        };
    }
    s->stretches = g_array_new(FALSE, FALSE, sizeof(Stretch));
    make_grid(s, stride);
    lay_ink(s);
    return s;
}

void dt_strips_free(DtStrips *s)
{
    for (size_t i = 0; i < s->t->rack->n; i++) {
        g_array_free(s->pens[i].near, TRUE);
        g_array_free(s->pens[i].on, TRUE);
    }
    g_free(s->pens);
    g_array_free(s->stretches, TRUE);
    g_free(s->first);
    g_free(s);
}

/* Strips ----------------------------------------------------------------------------------------- */

/* The ends of what a pen draws between two places on an axis. */
static void set_ends(double ends[2], double a, double b, double reach)
{
    ends[0] = MIN(a, b) - reach;
    ends[1] = MAX(a, b) + reach;
}

static gboolean overlap(const double ends[2], double from, double to)
{
    return ends[0] <= to + SLACK && ends[1] >= from - SLACK;
}

static void add_if_near(DtStrips *s, const Stretch *t)
{
    const DtPoint a = dt_point_sub(t->a, s->at), b = dt_point_sub(t->b, s->at),
                  left = {-s->way.y, s->way.x}, ab = dt_point_sub(t->b, t->a);
    const double length2 = dt_point_dot(ab, ab), reach = s->pens[t->pen].reach;
    Near n = {.a = t->a,
              .b = t->b,
              .ab = ab,
              .per_length2 = length2 > 0 ? 1 / length2 : 0,
              .line = t->line};
    set_ends(n.along, dt_point_dot(a, s->way), dt_point_dot(b, s->way), reach);
    set_ends(n.aside, dt_point_dot(a, left), dt_point_dot(b, left), reach);
    if (overlap(n.along, -s->along, s->along) && overlap(n.aside, -s->aside, s->aside))
        g_array_append_val(s->pens[t->pen].near, n);
}

void dt_strips_go_to(DtStrips *s, DtPoint at, DtPoint way)
{
    const DtBox b = box_around(s, at, way);
    const int x0 = column(s, b.x0), x1 = column(s, b.x1), y1 = row(s, b.y1);
    s->at = at;
    s->way = way;
    for (size_t i = 0; i < s->t->rack->n; i++)
        g_array_set_size(s->pens[i].near, 0);
    for (int y = row(s, b.y0); y <= y1; y++)
        for (int x = x0; x <= x1; x++)
            for (int i = s->first[y * s->columns + x]; i >= 0;) {
                const Stretch *t = &g_array_index(s->stretches, Stretch, i);
                add_if_near(s, t);
                i = t->next;
            }
}

static gboolean is_of_kind(const Near *n, DtStripsKind kind)
{
    return kind == DT_STRIPS_ANY_INK || n->line == (kind == DT_STRIPS_LINES);
}

/* Finds each pen's ink on a strip. */
static void select_ink(DtStrips *s, const DtStrip *strip)
{
    const double from = MIN(strip->from, strip->to), to = MAX(strip->from, strip->to);
    for (size_t i = 0; i < s->t->rack->n; i++) {
        const GArray *near = s->pens[i].near;
        GArray *on = s->pens[i].on;
        g_array_set_size(on, 0);
        for (guint k = 0; k < near->len; k++) {
            const Near *n = &g_array_index(near, Near, k);
            if (is_of_kind(n, strip->kind) && overlap(n->aside, from, to) &&
                overlap(n->along, strip->begin - strip->along, strip->begin + strip->along))
                g_array_append_vals(on, n, 1);
        }
    }
}

static gboolean covers(const PenInk *pen, DtPoint at)
{
    const Near *n = (const Near *)(const void *)pen->on->data;
    for (guint i = 0; i < pen->on->len; i++, n++) {
        const double x = at.x - n->a.x, y = at.y - n->a.y,
                     t = CLAMP((x * n->ab.x + y * n->ab.y) * n->per_length2, 0.0, 1.0),
                     dx = x - n->ab.x * t, dy = y - n->ab.y * t, apart2 = dx * dx + dy * dy;
        if (apart2 < pen->least2 ||
            (apart2 < pen->most2 && dt_point_segment_distance(at, n->a, n->b) < pen->reach))
            return TRUE;
    }
    return FALSE;
}

typedef struct {
    double opaque[3], clear[3], weight;
} Sum;

static void add_light(const DtStrips *s, DtPoint at, double weight, Sum *sum)
{
    double clear[3] = {s->bare[0], s->bare[1], s->bare[2]}, darkest = G_MAXDOUBLE;
    const double *opaque = s->bare;
    for (size_t i = 0; i < s->t->rack->n; i++) {
        const PenInk *pen = &s->pens[i];
        if (!covers(pen, at))
            continue;
        for (int c = 0; c < 3; c++)
            clear[c] *= pen->light[c];
        if (pen->lightness < darkest) {
            darkest = pen->lightness;
            opaque = pen->light;
        }
    }
    for (int c = 0; c < 3; c++) {
        sum->opaque[c] += weight * opaque[c];
        sum->clear[c] += weight * clear[c];
    }
    sum->weight += weight;
}

static DtLab lab_of(const double sum[3], double n)
{
    return dt_colour_lab_linear(sum[0] / n, sum[1] / n, sum[2] / n);
}

DtStripLight dt_strips_light(DtStrips *s, const DtStrip *strip)
{
    const DtPoint at = {s->at.x + s->way.x * strip->begin, s->at.y + s->way.y * strip->begin};
    Sum sum = {.weight = 0};
    select_ink(s, strip);
    for (int i = -strip->steps; i <= strip->steps; i++) {
        const double u = strip->along * i / strip->steps,
                     weight = strip->faded ? 1 + cos(G_PI * i / (strip->steps + 1)) : 1;
        for (int j = 0; j <= strip->across; j++) {
            const double v = strip->from + (strip->to - strip->from) * j / MAX(strip->across, 1);
            const DtPoint q = {at.x + s->way.x * u - s->way.y * v,
                               at.y + s->way.y * u + s->way.x * v};
            add_light(s, q, weight, &sum);
        }
    }
    DtStripLight light = {.opaque = lab_of(sum.opaque, sum.weight)};
    light.clear = memcmp(sum.opaque, sum.clear, sizeof sum.clear) == 0
                      ? light.opaque
                      : lab_of(sum.clear, sum.weight);
    return light;
}

gboolean dt_strips_ink_at(DtStrips *s, DtStripsKind kind, double *lightest, double *darkest)
{
    *lightest = -G_MAXDOUBLE;
    *darkest = G_MAXDOUBLE;
    select_ink(s, &(DtStrip){.kind = kind});
    for (size_t i = 0; i < s->t->rack->n; i++)
        if (covers(&s->pens[i], s->at)) {
            *lightest = MAX(*lightest, s->pens[i].lightness);
            *darkest = MIN(*darkest, s->pens[i].lightness);
        }
    return *lightest >= *darkest;
}
