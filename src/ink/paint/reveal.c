/* reveal: from the visible parts of the stack to strokes. */
#include "ink/look/crowded-lines.h"
#include "ink/trace.h"

#include "drawtrue/work.h"
#include "ink/fill/fill.h"
#include "ink/outline.h"

#include <math.h>

/* Inks -------------------------------------------------------------------------------------- */

DtInk dt_trace_choose(DtTrace *t, DtSeen seen, int label, double area_mm2)
{
    DtInk ink = DT_INK_PAPER;
    if (!t->o->tone) {
        ink.pen = dt_pens_choose(t->pens, seen.colour, seen.pen, area_mm2);
        return ink;
    }
    double coverage;
    ink.pen = dt_pens_choose_tone(t->pens, seen.colour, seen.pen, area_mm2, &coverage);
    ink.level = (int)lround(coverage * DT_TRACE_LEVELS);
    if (label >= 0 && ink.pen >= 0)
        ink.label = label;
    else if (ink.level == 0)
        ink.pen = -1;
    return ink;
}

/* Areas ------------------------------------------------------------------------------------- */

typedef struct {
    const DtPaintLayers *layers;
    int label;
    DtColour pen, paper;
} Look;

static DtSeen seen_at(DtPoint at, void *user)
{
    const Look *l = user;
    return dt_paint_layers_seen_at(l->layers, l->label, at);
}

static double coverage_at(DtPoint at, void *user)
{
    const Look *l = user;
    return dt_ink_coverage(seen_at(at, user).colour, l->pen, l->paper);
}

gboolean dt_trace_parts(DtTrace *t, int label, DtBox box, DtThreshold *out, GError **error)
{
    double finest = G_MAXDOUBLE;
    for (size_t i = 0; i < t->rack->n; i++)
        finest = MIN(finest, t->rack->pens[i].tip / 2);
    if (!dt_box_is_empty(box))
        box = dt_box_grow(box, t->o->tolerance);
    Look look = {.layers = t->layers, .label = label};
    return dt_threshold_find((DtView){seen_at, &look}, box, finest, t->pens, out, error);
}

/* How the areas of an ink are filled by its first pen. */
static DtFillStyle style_of(const DtTrace *t, const DtInk *ink, int shape)
{
    const DtPen *pen = &t->rack->pens[ink->pen];
    const gboolean open = ink->level < DT_TRACE_LEVELS;
    return (DtFillStyle){
        .hatch = t->o->hatch,
        .angle = t->o->angle + ink->turn * DT_LOOK_TURN_ANGLE,
        .pitch = (t->o->pitch > 0 ? t->o->pitch : pen->tip) * (open ? 1 : t->o->spread),
        .tip = pen->tip,
        .pen = (unsigned)ink->pen,
        .shape = shape,
        .edge = t->o->edge,
        .coverage = (double)ink->level / DT_TRACE_LEVELS / (open ? t->o->spread : 1),
        .seconds = t->o->seconds,
        .seconds_user = t->o->seconds_user};
}

gboolean dt_trace_region(DtTrace *t, const DtLines *region, DtInk ink, int shape, GError **error)
{
    DtFillStyle f = style_of(t, &ink, shape);
    Look look = {t->layers, ink.label, t->rack->pens[ink.pen].colour, t->o->paper};
    f.tone = ink.label >= 0 ? coverage_at : NULL;
    f.tone_user = &look;
    if (f.tone) {
        f.spread = t->o->spread;
        f.pitch = (t->o->pitch > 0 ? t->o->pitch : f.tip) * f.spread;
    }
    if (t->o->fill)
        return dt_fill_area(region, &f, t->out, error);
    for (size_t i = 0; i < region->n; i++)
        dt_strokes_append(t->out, dt_lines_at(region, i), dt_lines_count(region, i), TRUE,
                          DT_INK_OUTLINE, f.pen, shape);
    return TRUE;
}

/* Adds a region of one look to the others of its ink. */
static gboolean reveal_as(DtTrace *t, DtSeen seen, int label, const DtLines *region, GError **error)
{
    if (region->n == 0)
        return TRUE;
    if (!t->o->tone && seen.pen < 0 && seen.colour.alpha < DT_PAINT_LAYER_SOLID) {
        t->faint++;
        return TRUE;
    }
    int i = dt_trace_ink_number(t, dt_trace_choose(t, seen, label, dt_region_area(region)), NULL);
    return i < 0 || dt_trace_lay_region(t, i, region, error);
}

/* Dense ink where layers change from place to place. */
static gboolean reveal_parts(DtTrace *t, int label, const DtLines *region, GError **error)
{
    g_auto(DtThreshold) parts = {.all = FALSE};
    g_auto(DtLines) drawn;
    dt_lines_init(&drawn);
    if (!dt_trace_parts(t, label, dt_lines_box(region), &parts, error))
        return FALSE;
    if (parts.all)
        return reveal_as(t, parts.mean, -1, region, error);
    return dt_region_intersect(region, DT_PLANE_NONZERO, &parts.ink, &drawn, error) &&
           reveal_as(t, parts.mean, -1, &drawn, error);
}

static gboolean reveal_label(DtTrace *t, int label, const DtLines *region, GError **error)
{
    int settled = dt_paint_layers_ink(t->layers, label);
    if (settled >= 0)
        return dt_trace_lay_region(t, settled, region, error);
    gboolean changes = dt_paint_layers_changes(t->layers, label);
    if (changes && !t->o->tone && t->o->fill)
        return reveal_parts(t, label, region, error);
    return reveal_as(t, dt_paint_layers_seen(t->layers, label), changes ? label : -1, region,
                     error);
}

static gboolean reveal_areas(DtTrace *t, GError **error)
{
    int n = (int)dt_stack_n_labels(t->stack);
    for (int label = DT_STACK_FIRST; label < n; label++) {
        const DtLines *region = dt_stack_region(t->stack, label);
        dt_work_report(0.5 + 0.2 * label / n);
        if (!dt_work_check(error))
            return FALSE;
        if (region && !reveal_label(t, label, region, error))
            return FALSE;
    }
    return TRUE;
}

/* The union of all areas of an ink; NULL if there are none. */
gboolean dt_trace_finish_place(DtInkPlace *p, const DtLines **region, GError **error)
{
    *region = p->only.n > 0 ? &p->only : NULL;
    if (!p->stack)
        return TRUE;
    if (!dt_stack_finish(p->stack, error))
        return FALSE;
    *region = dt_stack_region(p->stack, DT_STACK_FIRST);
    return TRUE;
}

static int by_pen(const void *a, const void *b)
{
    const DtInkPlace *p = *(const DtInkPlace *const *)a, *q = *(const DtInkPlace *const *)b;
    if (p->ink.pen != q->ink.pen)
        return p->ink.pen < q->ink.pen ? -1 : 1;
    return (p > q) - (p < q);
}

/* Counts the ink of strokes from number `first` on that lies beside the dense area they fill: parts that are finer than
 * the pen have lines as wide as the pen. */
static void count_beside(DtTrace *t, const DtInkPlace *p, const DtLines *region, size_t first)
{
    if (p->separation || p->ink.label >= 0 || p->ink.level < DT_TRACE_LEVELS || p->ink.across >= 0)
        return;
    double ink = 0;
    for (size_t i = first; i < t->out->n; i++)
        ink += dt_strokes_length(t->out, i) * t->rack->pens[p->ink.pen].tip;
    t->beside_mm2 += MAX(ink - dt_region_area(region), 0);
}

/* The rest of a place's region if part of it is to stay bare. */
static gboolean draw_place(DtTrace *t, const DtInkPlace *p, const DtLines *region, GError **error)
{
    g_auto(DtLines) left;
    dt_lines_init(&left);
    if (!dt_trace_subtract_cut(&p->cut, &region, &left, error))
        return FALSE;
    const size_t first = t->out->n;
    if (!(t->appear ? dt_look_draw(t, p, region, error)
                    : dt_trace_region(t, region, p->ink, -1, error)))
        return FALSE;
    if (t->o->fill)
        count_beside(t, p, region, first);
    return TRUE;
}

static gboolean draw_areas(DtTrace *t, GError **error)
{
    g_autoptr(GPtrArray) order = g_ptr_array_new();
    for (guint i = 0; i < t->inks->len; i++)
        g_ptr_array_add(order, dt_trace_place(t, i));
    g_ptr_array_sort(order, by_pen);
    for (guint i = 0; i < order->len; i++) {
        DtInkPlace *p = order->pdata[i];
        const DtLines *region;
        dt_work_report(0.7 + 0.3 * i / order->len);
        if (!dt_trace_finish_place(p, &region, error) ||
            (region && !draw_place(t, p, region, error)))
            return FALSE;
    }
    return TRUE;
}

/* Lines ------------------------------------------------------------------------------------- */

void dt_trace_lines(DtTrace *t, const DtLines *l, int pen, int shape)
{
    for (size_t i = 0; i < l->n; i++)
        dt_strokes_append(t->out, dt_lines_at(l, i), dt_lines_count(l, i), l->closed[i] != 0,
                          DT_INK_OUTLINE, (unsigned)pen, shape);
}

/* An overlay that changes from place to place is sampled in steps of this (mm), and the point
 * where it begins or ends to hide is found by this many halvings of a step. */
#define STEP 0.2
#define HALVINGS 8

typedef struct {
    DtTrace *t;
    int overlay;
    DtColour paint; /* of the line */
} Behind;

/* A line shows through a translucent layer if there it can differ from what is beside it by this much
 * (CIEDE2000). */
#define SHOWS_THROUGH 10.0

static DtLab lab_behind(DtColour overlay, DtColour behind)
{
    return dt_colour_lab(dt_colour_over(overlay, behind));
}

/* What is beside the line is not known here, but it is between white and black. */
static gboolean shows_through(DtColour overlay, DtColour line)
{
    const DtLab own = lab_behind(overlay, line);
    for (double side = 0; side <= 1; side++)
        if (dt_colour_difference(own, lab_behind(overlay, (DtColour){side, side, side, 1})) >=
            SHOWS_THROUGH)
            return TRUE;
    return FALSE;
}

static gboolean is_hidden(const Behind *b, DtPoint at)
{
    const DtSeen seen = dt_paint_layers_seen_at(b->t->layers, b->overlay, at);
    if (b->t->appear && seen.pen < 0)
        return !shows_through(seen.colour, b->paint);
    return dt_threshold_hides(seen, b->t->pens);
}

/* The point of change between two places, one hidden and one not. */
static DtPoint edge_between(const Behind *b, DtPoint from, DtPoint to)
{
    gboolean hidden = is_hidden(b, from);
    for (int i = 0; i < HALVINGS; i++) {
        DtPoint middle = dt_point_lerp(from, to, 0.5);
        if (is_hidden(b, middle) == hidden)
            from = middle;
        else
            to = middle;
    }
    return hidden ? to : from;
}

/* The parts of a line that a varying overlay does not hide. */
static void look_behind(const Behind *b, const DtPoint *p, size_t n, gboolean closed, DtLines *out)
{
    DtPoint last = p[0];
    gboolean hidden = is_hidden(b, last);
    if (!hidden) {
        dt_lines_begin(out);
        dt_lines_point(out, last);
    }
    for (size_t i = 0; i + (closed ? 0 : 1) < n; i++) {
        DtPoint to = p[(i + 1) % n];
        int steps = MAX(1, (int)MIN(ceil(dt_point_distance(p[i], to) / STEP), 100000));
        for (int k = 1; k <= steps; k++) {
            DtPoint next = k == steps ? to : dt_point_lerp(p[i], to, (double)k / steps);
            gboolean hides = is_hidden(b, next);
            if (hides != hidden) {
                DtPoint edge = edge_between(b, last, next);
                if (hidden)
                    dt_lines_begin(out);
                dt_lines_point(out, edge);
            }
            if (!hides && k == steps)
                dt_lines_point(out, next);
            hidden = hides;
            last = next;
        }
    }
}

static void add_seen(DtTrace *t, const DtLines *seen, size_t i, int owner, int overlay,
                     DtPenLines *out)
{
    const DtPoint *p = dt_lines_at(seen, i);
    size_t n = dt_lines_count(seen, i), before = out->lines.n;
    gboolean closed = seen->closed[i] != 0;
    Behind b = {
        t, overlay,
        dt_colour_over(t->d->shapes[owner / (int)t->rack->n].stroke.paint.colour, t->o->paper)};
    if (overlay == 0)
        dt_lines_append(&out->lines, p, n, closed);
    else if (dt_paint_layers_changes(t->layers, overlay))
        look_behind(&b, p, n, closed, &out->lines);
    else if (!is_hidden(&b, p[0]))
        dt_lines_append(&out->lines, p, n, closed);
    for (size_t k = before; k < out->lines.n; k++)
        g_array_append_val(out->owners, owner);
}

static DtPenLines *find_lines(DtTrace *t)
{
    size_t n = t->rack->n;
    const int *owner, *overlay;
    const DtLines *seen = dt_stack_lines(t->stack, &owner, &overlay);
    DtPenLines *all = g_new0(DtPenLines, n);
    for (size_t i = 0; i < n; i++)
        all[i].owners = g_array_new(FALSE, FALSE, sizeof(int));
    for (size_t i = 0; i < seen->n; i++)
        add_seen(t, seen, i, owner[i], overlay[i], &all[owner[i] % (int)n]);
    return all;
}

static void free_lines(DtPenLines *all, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        dt_lines_clear(&all[i].lines);
        g_array_free(all[i].owners, TRUE);
    }
    g_free(all);
}

/* Lines and areas of one ink ---------------------------------------------------------------------
 * A line inside an area of its own ink is inked already. One along the edge of such an area would
 * reach half a pen beyond what is painted: what is painted of it joins the area instead. */

/* A part shorter than this many tips is left in its line: a lift would cost more. */
#define SHORTEST_TIPS 2
/* If half a line's width is no more than this (mm), nothing is added to an area. */
#define NOTHING 0.02

/* The area that part of a line of some width paints. */
static gboolean join_stretch(DtTrace *t, int place, const DtPoint *p, size_t n, gboolean closed,
                             double width, GError **error)
{
    if (width / 2 <= NOTHING)
        return TRUE;
    g_auto(DtLines) line, area;
    dt_lines_init(&line);
    dt_lines_init(&area);
    dt_lines_append(&line, p, n, closed);
    DtStrokeStyle st = {.width = width,
                        .cap = DT_CAP_BUTT,
                        .join = DT_JOIN_ROUND,
                        .miter_limit = 4,
                        .user_to_mm = DT_AFFINE_IDENTITY};
    dt_outline_area(&line, &st, t->o->tolerance / 2, &area);
    return dt_trace_lay_beside(t, place, &area, DT_PLANE_NONZERO, error);
}

static gboolean same_point(DtPoint a, DtPoint b)
{
    return a.x == b.x && a.y == b.y;
}

/* Adds a part to the lines that stay: appended to the last of them if it continues that. */
static void keep_part(DtPenLines *out, const DtLines *parts, size_t i, size_t first, int owner)
{
    const DtPoint *p = dt_lines_at(parts, i);
    size_t n = dt_lines_count(parts, i);
    if (parts->closed[i] || out->lines.n == first ||
        !same_point(out->lines.pts[out->lines.n_pts - 1], p[0])) {
        dt_lines_append(&out->lines, p, n, parts->closed[i] != 0);
        g_array_append_val(out->owners, owner);
        return;
    }
    for (size_t k = 1; k < n; k++)
        dt_lines_point(&out->lines, p[k]);
}

/* Sorts the parts of one line by the number of their sides inside the area. */
static gboolean sort_parts(DtTrace *t, int place_number, const DtLines *parts, const int *sides,
                           int owner, DtPenLines *out, GError **error)
{
    gboolean apart =
        t->appear && !dt_look_is_one_paint(t, owner, dt_trace_place(t, (guint)place_number));
    const DtPen *pen = &t->rack->pens[owner % (int)t->rack->n];
    double width = dt_art_stroke_width_mm(&t->d->shapes[owner / (int)t->rack->n].stroke);
    size_t first = out->lines.n;
    for (size_t i = 0; i < parts->n; i++) {
        if (apart || sides[i] == 0 || dt_lines_length(parts, i) < SHORTEST_TIPS * pen->tip)
            keep_part(out, parts, i, first, owner);
        else if (sides[i] == 1 &&
                 !join_stretch(t, place_number, dt_lines_at(parts, i), dt_lines_count(parts, i),
                               parts->closed[i] != 0, width, error))
            return FALSE;
    }
    return TRUE;
}

/* Merges the lines of a pen with its dense areas. */
static gboolean join_lines(DtTrace *t, int place_number, const DtLines *region, DtPenLines *l,
                           GError **error)
{
    g_autoptr(DtPlane) p = dt_plane_new();
    DtPenLines left = {.owners = g_array_new(FALSE, FALSE, sizeof(int))};
    g_autoptr(GArray) sides = g_array_new(FALSE, FALSE, sizeof(int));
    dt_lines_init(&left.lines);
    dt_plane_add_rings(p, dt_plane_add_layer(p, DT_PLANE_NONZERO, 1), region);
    for (size_t i = 0; i < l->lines.n; i++)
        dt_plane_add_line(p, 0, dt_lines_at(&l->lines, i), dt_lines_count(&l->lines, i),
                          l->lines.closed[i] != 0);
    gboolean good = dt_plane_build(p, error);
    for (size_t i = 0; good && i < l->lines.n; i++) {
        g_auto(DtLines) parts;
        dt_lines_init(&parts);
        g_array_set_size(sides, 0);
        dt_plane_sides(p, (int)i, &parts, sides);
        good = sort_parts(t, place_number, &parts, (const int *)(const void *)sides->data,
                          g_array_index(l->owners, int, i), &left, error);
    }
    DtPenLines old = *l;
    *l = left;
    dt_lines_clear(&old.lines);
    g_array_free(old.owners, TRUE);
    return good;
}

static gboolean join_all(DtTrace *t, DtPenLines *all, GError **error)
{
    if (t->o->tone || !t->o->fill)
        return TRUE;
    for (guint i = 0; i < t->inks->len; i++) {
        DtPenLines *l = &all[dt_trace_place(t, i)->ink.pen];
        const DtLines *region;
        if (l->lines.n == 0 || dt_trace_place(t, i)->ink.level < DT_TRACE_LEVELS ||
            dt_trace_place(t, i)->ink.label >= 0)
            continue;
        if (!dt_trace_finish_place(dt_trace_place(t, i), &region, error))
            return FALSE;
        if (!region)
            continue;
        g_auto(DtLines) copy; /* a stack that is extended drops its region */
        dt_lines_copy(&copy, region);
        if (!join_lines(t, (int)i, &copy, l, error))
            return FALSE;
    }
    return TRUE;
}

gboolean dt_trace_reveal(DtTrace *t, GError **error)
{
    if (!(t->appear ? dt_look_compose(t, error) : reveal_areas(t, error)))
        return FALSE;
    if (t->only_thin)
        return TRUE;
    DtPenLines *all = find_lines(t);
    gboolean good = join_all(t, all, error) &&
                    (!(t->appear || t->o->thin_out) || dt_look_thin_out(t, all, error)) &&
                    (!t->appear || dt_look_give_way(t, all, error)) && draw_areas(t, error) &&
                    dt_look_draw_points(t, error);
    for (size_t i = 0; good && i < t->rack->n; i++)
        for (size_t k = 0; k < all[i].lines.n; k++) {
            int owner = g_array_index(all[i].owners, int, k), n = (int)t->rack->n;
            dt_strokes_append(t->out, dt_lines_at(&all[i].lines, k),
                              dt_lines_count(&all[i].lines, k), all[i].lines.closed[k] != 0,
                              DT_INK_OUTLINE, (unsigned)(owner % n), owner / n);
        }
    free_lines(all, t->rack->n);
    return good;
}
