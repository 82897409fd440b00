/* lost: relations between lines and other ink: what darker pens cover of them, and which lines
 * lie on bare paper. */
#include "ink/trace.h"

#include "drawtrue/work.h"
#include "ink/look/cells.h"

#include <math.h>

/* Steps along the lines, mm. */
#define STEP 0.2

typedef struct {
    const DtStrokes *all;
    DtCells *cells;
} Ink;

static size_t n_segments(const DtStroke *s)
{
    return s->n - (s->closed ? 0 : 1);
}

/* In steps of at most STEP. */
static void each_step(const DtStrokes *all, size_t i,
                      void (*f)(DtPoint a, DtPoint b, const DtStroke *s, void *user), void *user)
{
    const DtStroke *s = &all->strokes[i];
    const DtPoint *p = all->pts + s->first;
    for (size_t k = 0; k < n_segments(s); k++) {
        DtPoint a = p[k], b = p[(k + 1) % s->n];
        int n = MAX(1, (int)MIN(ceil(dt_point_distance(a, b) / STEP), 1e6));
        for (int j = 0; j < n; j++)
            f(dt_point_lerp(a, b, (double)j / n), dt_point_lerp(a, b, (j + 1.0) / n), s, user);
    }
}

static void take_ink(const Ink *ink, size_t i)
{
    const DtStroke *s = &ink->all->strokes[i];
    const DtPoint *p = ink->all->pts + s->first;
    for (size_t k = 0; k < n_segments(s); k++)
        dt_cells_add(ink->cells, p[k], p[(k + 1) % s->n], i);
}

static const DtStroke *stroke_of(const Ink *ink, const DtCellStretch *s)
{
    return &ink->all->strokes[s->of];
}

typedef struct {
    const DtTrace *t;
    const Ink *ink;
    const double *lightness;
    double lost;
} Count;

/* A step of a line is lost if its middle is under a darker pen's ink. */
static void count_step(DtPoint a, DtPoint b, const DtStroke *s, void *user)
{
    Count *c = user;
    DtPoint at = dt_point_lerp(a, b, 0.5);
    const GArray *cell = dt_cells_near(c->ink->cells, at);
    for (guint i = 0; cell && i < cell->len; i++) {
        const DtCellStretch *o = &g_array_index(cell, DtCellStretch, i);
        const unsigned pen = stroke_of(c->ink, o)->pen;
        if (c->lightness[pen] < c->lightness[s->pen] - DT_LOOK_DARKER &&
            dt_point_segment_distance(at, o->a, o->b) < c->t->rack->pens[pen].tip / 2) {
            c->lost += dt_point_distance(a, b);
            return;
        }
    }
}

/* The ink of fields: what other lines cover at crossings does not count. */
static gboolean is_field(const DtStroke *s)
{
    return s->kind == DT_INK_FILL;
}

double dt_look_lost_mm(const DtTrace *t)
{
    gboolean lines = FALSE, fields = FALSE;
    for (size_t i = t->first; i < t->out->n; i++) {
        fields |= is_field(&t->out->strokes[i]);
        lines |= t->out->strokes[i].kind == DT_INK_OUTLINE;
    }
    if (!lines || !fields || t->rack->n < 2)
        return 0;
    double widest = 0;
    g_autofree double *lightness = g_new(double, t->rack->n);
    for (size_t i = 0; i < t->rack->n; i++) {
        lightness[i] = dt_colour_lab(t->rack->pens[i].colour).l;
        widest = MAX(widest, t->rack->pens[i].tip);
    }
    g_autoptr(DtCells) cells = dt_cells_new(widest / 2);
    const Ink ink = {t->out, cells};
    for (size_t i = t->first; i < t->out->n; i++)
        if (is_field(&t->out->strokes[i]))
            take_ink(&ink, i);
    Count c = {t, &ink, lightness, 0};
    for (size_t i = t->first; i < t->out->n; i++)
        if (t->out->strokes[i].kind == DT_INK_OUTLINE)
            each_step(t->out, i, count_step, &c);
    return c.lost;
}

/* Lighter lines ------------------------------------------------------------------------------ */

/* A line is free if no other ink is closer than this many tips, measured between the edges of
 * both. */
#define FREE_TIPS 0.75
/* Largest share of a line given to a lighter pen that may not be free. */
#define LEAST_FREE 0.85
/* In drawings with more points free lines are not searched for. */
enum { MOST_POINTS = 400000 };
/* This many of their lines are sampled to see whether a search would have been worth while. */
enum { MOST_PICKED = 1000 };

typedef struct {
    const DtTrace *t;
    const Ink *ink;
    double free_mm, all_mm;
} Freedom;

static void count_free(DtPoint a, DtPoint b, const DtStroke *s, void *user)
{
    Freedom *f = user;
    const DtPen *pens = f->t->rack->pens;
    const size_t own = (size_t)(s - f->t->out->strokes);
    const DtPoint at = dt_point_lerp(a, b, 0.5);
    const double reach = (0.5 + FREE_TIPS) * pens[s->pen].tip, mm = dt_point_distance(a, b);
    const GArray *cell = dt_cells_near(f->ink->cells, at);
    f->all_mm += mm;
    for (guint i = 0; cell && i < cell->len; i++) {
        const DtCellStretch *o = &g_array_index(cell, DtCellStretch, i);
        if (o->of != own && dt_point_segment_distance(at, o->a, o->b) <
                                reach + pens[stroke_of(f->ink, o)->pen].tip / 2)
            return;
    }
    f->free_mm += mm;
}

/* The pen that a stroke should have, possibly its own. */
static int lighter_pen(const DtTrace *t, size_t i)
{
    const DtStroke *s = &t->out->strokes[i];
    if (s->kind != DT_INK_OUTLINE || s->shape < 0)
        return s->pen;
    const DtShape *shape = &t->d->shapes[s->shape];
    const DtColour paint = shape->stroke.paint.colour;
    const double width = dt_art_stroke_width_mm(&shape->stroke);
    if (shape->stroke.paint.kind != DT_PAINT_FLAT || !(width > 0) ||
        width >= t->rack->pens[s->pen].tip || dt_pens_asked(t->pens, shape) >= 0 ||
        dt_pens_ruled(t->pens, paint) >= 0)
        return s->pen;
    return dt_appear_choose_line(t->appear, dt_colour_over(paint, t->o->paper), width, s->pen);
}

static void lighten(DtTrace *t, size_t i, int pen)
{
    DtStroke *s = &t->out->strokes[i];
    const DtShape *shape = &t->d->shapes[s->shape];
    const DtColour paint = dt_colour_over(shape->stroke.paint.colour, t->o->paper);
    const double width = dt_art_stroke_width_mm(&shape->stroke),
                 area = dt_strokes_length(t->out, i) * width;
    for (int way = 0; way < 2; way++) {
        const int drawn_by = way ? pen : s->pen;
        dt_pens_record(t->pens, (DtInkMatch){.colour = paint,
                                             .pen = drawn_by,
                                             .across = -1,
                                             .coverage = 1,
                                             .area_mm2 = way ? area : -area,
                                             .distance = dt_appear_line_difference(
                                                 t->appear, paint, width, drawn_by,
                                                 t->rack->pens[drawn_by].tip)});
    }
    s->pen = (uint16_t)pen;
}

/* Whether any of some lines, evenly sampled, should have a lighter pen if it lies free. */
static gboolean wants_lighter_pen(const DtTrace *t)
{
    const size_t step = (t->out->n - t->first) / MOST_PICKED + 1;
    for (size_t i = t->first; i < t->out->n; i += step)
        if (lighter_pen(t, i) != t->out->strokes[i].pen)
            return TRUE;
    return FALSE;
}

void dt_look_lighten_lines(DtTrace *t)
{
    const size_t n = t->out->n;
    if (t->rack->n < 2)
        return;
    if (t->out->n_pts > MOST_POINTS) {
        t->unsearched = wants_lighter_pen(t);
        return;
    }
    g_autofree int *pen = g_new(int, n + 1);
    gboolean any = FALSE;
    for (size_t i = t->first; i < n; i++) {
        pen[i] = lighter_pen(t, i);
        any |= pen[i] != t->out->strokes[i].pen;
    }
    if (!any)
        return;
    double reach = 0;
    for (size_t i = 0; i < t->rack->n; i++)
        reach = MAX(reach, (1 + FREE_TIPS) * t->rack->pens[i].tip);
    g_autoptr(DtCells) cells = dt_cells_new(reach);
    const Ink ink = {t->out, cells};
    for (size_t i = t->first; i < n; i++)
        take_ink(&ink, i);
    g_autofree gboolean *frees = g_new0(gboolean, n + 1);
    for (size_t i = t->first; i < n && !dt_work_stopped(); i++) {
        Freedom f = {t, &ink, 0, 0};
        if (pen[i] != t->out->strokes[i].pen)
            each_step(t->out, i, count_free, &f);
        frees[i] = f.all_mm > 0 && f.free_mm >= LEAST_FREE * f.all_mm;
    }
    for (size_t i = t->first; i < n; i++)
        if (frees[i])
            lighten(t, i, pen[i]);
}
