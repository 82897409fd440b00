/* side-by-side: fine strokes that lie side by side and so paint an area, such as the steps of a gradient that was exported
 * as lines. Drawn line by line each would be as wide as the pen, and the tone dense. */
#include "drawtrue/work.h"
#include "ink/look/compose.h"
#include "ink/outline.h"

#include <math.h>

/* Such lines, their way back included, cover a share of their box between these, which spares other drawings the search:
 * lines that cross one another often cover more. Their area is at least so many times as wide as one of them. */
#define LEAST_OF_BOX 0.2
#define MOST_OF_BOX 3.0
#define LEAST_WIDTHS 3.0
/* From one shape to the next the paint changes by less than this (CIEDE2000). */
#define ALIKE 8.0
/* Gaps smaller than this share of a line's width, and than this width, mm, are closed, if the lines themselves are at
 * least the third share of the whole: exported coordinates are rounded, and steps do not quite meet. */
#define GAP 0.6
#define WIDEST_GAP 0.02
#define LEAST_COVERED 0.85
/* More points are not looked at together. */
enum { MOST_POINTS = 50000 };
/* Lines side by side do not cross: of so many pieces of them, evenly spread, all together cross others not more than so
 * many times as often. */
enum { SAMPLED = 64, MOST_CROSSINGS = 2 };

/* Shapes one after the other that are looked at together. */
typedef struct {
    size_t n_pts;   /* of their outlines */
    double mm, mm2; /* length of all lines; times their width */
    DtBox box;
} Run;

static gboolean is_drawn(const DtPaint *p)
{
    return p->kind != DT_PAINT_NONE && p->colour.alpha > 0;
}

/* The paint of a shape that is nothing but fine lines, or a fine strip; NULL otherwise. */
static const DtPaint *paint_of_fine(const DtShape *s, double tip, double *mm, double *width)
{
    const gboolean filled = is_drawn(&s->fill), stroked = is_drawn(&s->stroke.paint);
    const DtPaint *paint = filled ? &s->fill : &s->stroke.paint;
    *mm = dt_lines_total_length(&s->outline);
    *width = dt_art_stroke_width_mm(&s->stroke);
    if (filled) {
        *mm /= 2;
        *width = fabs(dt_region_area(&s->outline)) / MAX(*mm, 1e-6);
    }
    return filled != stroked && (filled || s->stroke.n_dash == 0) && *width < tip &&
                   paint->kind == DT_PAINT_FLAT
               ? paint
               : NULL;
}

/* What closes gaps beside a line, on both sides together, mm. */
static double growth(double width)
{
    return MIN(GAP * width, WIDEST_GAP);
}

DtStrokeStyle dt_look_close_gaps(const DtStrokeStyle *stroke)
{
    const double width = dt_art_stroke_width_mm(stroke);
    DtStrokeStyle wider = *stroke;
    wider.width *= 1 + growth(width) / width;
    return wider;
}

static gboolean grow_fill(const DtShape *s, double width, DtLines *out, GError **error)
{
    g_auto(DtLines) clean;
    dt_lines_init(&clean);
    return dt_region_clean(&s->outline, dt_plane_rule(s->rule), &clean, error) &&
           dt_region_inset(&clean, -growth(width) / 2, out, error);
}

/* Adds the area of a shape. */
static gboolean add_area(const DtTrace *t, const DtShape *s, DtLines *area, GError **error)
{
    double mm, width;
    paint_of_fine(s, dt_compose_tip(t), &mm, &width);
    if (!is_drawn(&s->fill)) {
        const DtStrokeStyle wider = dt_look_close_gaps(&s->stroke);
        return dt_outline_region(&s->outline, &wider, t->o->tolerance / 2, area, error);
    }
    g_auto(DtLines) grown;
    dt_lines_init(&grown);
    if (!grow_fill(s, width, &grown, error))
        return FALSE;
    dt_lines_append_lines(area, &grown);
    return TRUE;
}

/* The fine shapes from `first` on whose paints change little from one to the next; returns the first that is none. */
static size_t collect(Run *run, const DtTrace *t, size_t first)
{
    const double tip = dt_compose_tip(t);
    const DtPaint *before = NULL;
    size_t i = first;
    for (; i < t->d->n_shapes; i++) {
        const DtShape *s = &t->d->shapes[i];
        double mm, width;
        const DtPaint *paint = paint_of_fine(s, tip, &mm, &width);
        if (!paint || run->n_pts + s->outline.n_pts > MOST_POINTS ||
            (before && dt_ink_colour_distance(before->colour, paint->colour) >= ALIKE))
            break;
        run->n_pts += s->outline.n_pts;
        run->mm += mm;
        run->mm2 += mm * width;
        run->box = dt_box_union(run->box, dt_lines_box(&s->outline));
        before = paint;
    }
    return i;
}

typedef struct {
    DtPoint a, b;
} Piece;

static GArray *pieces_of(const DtTrace *t, size_t first, size_t end)
{
    GArray *out = g_array_new(FALSE, FALSE, sizeof(Piece));
    for (size_t i = first; i < end; i++) {
        const DtLines *l = &t->d->shapes[i].outline;
        for (size_t k = 0; k < l->n; k++) {
            const DtPoint *p = dt_lines_at(l, k);
            for (size_t j = 0; j + 1 < dt_lines_count(l, k); j++) {
                const Piece piece = {p[j], p[j + 1]};
                g_array_append_val(out, piece);
            }
        }
    }
    return out;
}

static gboolean do_cross(const Piece *p, const Piece *q)
{
    const DtPoint u = dt_point_sub(p->b, p->a), v = dt_point_sub(q->b, q->a);
    return dt_point_cross(u, dt_point_sub(q->a, p->a)) *
                   dt_point_cross(u, dt_point_sub(q->b, p->a)) <
               0 &&
           dt_point_cross(v, dt_point_sub(p->a, q->a)) *
                   dt_point_cross(v, dt_point_sub(p->b, q->a)) <
               0;
}

/* Whether the lines of a run cross so often that they are no area: finding that area would take long. */
static gboolean cross_often(const DtTrace *t, size_t first, size_t end)
{
    g_autoptr(GArray) pieces = pieces_of(t, first, end);
    const guint step = pieces->len / SAMPLED + 1;
    guint sampled = 0, crossings = 0;
    for (guint i = 0; i < pieces->len; i += step, sampled++)
        for (guint k = 0; k < pieces->len; k++)
            crossings +=
                (guint)do_cross(&g_array_index(pieces, Piece, i), &g_array_index(pieces, Piece, k));
    return crossings > MOST_CROSSINGS * sampled;
}

/* Whether the lines of a run, shapes `first` up to `end`, are side by side. */
static gboolean is_area(const Run *run, const DtTrace *t, size_t first, size_t end, gboolean *is,
                        GError **error)
{
    g_auto(DtLines) area, clean;
    dt_lines_init(&area);
    dt_lines_init(&clean);
    const double box = run->n_pts > 0 ? dt_box_width(run->box) * dt_box_height(run->box) : 0;
    if (run->mm2 < LEAST_OF_BOX * box || run->mm2 > MOST_OF_BOX * box || cross_often(t, first, end))
        return TRUE;
    for (size_t i = first; i < end; i++)
        if (!dt_work_check(error) || !add_area(t, &t->d->shapes[i], &area, error))
            return FALSE;
    if (!dt_region_clean(&area, DT_PLANE_NONZERO, &clean, error))
        return FALSE;
    const double mm2 = dt_region_area(&clean);
    *is = 2 * mm2 >= LEAST_WIDTHS * run->mm2 / run->mm * dt_lines_total_length(&clean) &&
          run->mm2 >= LEAST_COVERED * mm2;
    return TRUE;
}

gboolean dt_look_find_side_by_side(DtTrace *t, size_t shape, GError **error)
{
    if (shape < t->run_end)
        return TRUE;
    Run run = {.box = DT_BOX_EMPTY};
    GError *failure = NULL;
    t->run_end = MAX(collect(&run, t, shape), shape + 1);
    t->side_by_side = FALSE;
    if (is_area(&run, t, shape, t->run_end, &t->side_by_side, &failure))
        return TRUE;
    if (failure->domain == DT_PLANE_ERROR) { /* they cross so often that they are no area */
        g_clear_error(&failure);
        return TRUE;
    }
    g_propagate_error(error, failure);
    return FALSE;
}

gboolean dt_look_close_fill(const DtTrace *t, size_t shape, DtLines *out, GError **error)
{
    const DtShape *s = &t->d->shapes[shape];
    double mm, width;
    if (shape >= t->run_end || !t->side_by_side ||
        !paint_of_fine(s, dt_compose_tip(t), &mm, &width))
        return TRUE;
    return grow_fill(s, width, out, error);
}
