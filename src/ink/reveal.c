/* reveal: from what is seen of the stack to strokes. */
#include "trace.h"

#include "fill.h"

#include <math.h>

/* Inks -------------------------------------------------------------------------------------------
 */

DtInk dt_trace_choose(DtTrace *t, DtSeen seen, int label, double area_mm2)
{
    DtInk ink = {-1, DT_TRACE_LEVELS, -1};
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

static DtInkPlace *place(const DtTrace *t, guint i)
{
    return &g_array_index(t->inks, DtInkPlace, i);
}

int dt_trace_ink_number(DtTrace *t, DtInk ink)
{
    if (ink.pen < 0)
        return -1;
    for (guint i = 0; i < t->inks->len; i++) {
        const DtInk *k = &place(t, i)->ink;
        if (k->pen == ink.pen && k->level == ink.level && k->label == ink.label)
            return (int)i;
    }
    DtInkPlace fresh = {.ink = ink};
    dt_lines_init(&fresh.only);
    g_array_append_val(t->inks, fresh);
    return (int)t->inks->len - 1;
}

gboolean dt_trace_lay_beside(DtTrace *t, int i, const DtLines *area, DtPlaneRule rule,
                             GError **error)
{
    DtInkPlace *p = place(t, (guint)i);
    if (!p->stack) {
        p->stack = dt_stack_new(NULL);
        if (p->only.n > 0 &&
            !dt_stack_add_area(p->stack, DT_STACK_FIRST, &p->only, DT_PLANE_NONZERO, error))
            return FALSE;
    }
    return dt_stack_add_area(p->stack, DT_STACK_FIRST, area, rule, error);
}

/* The same for a clean region, which needs no stack while it is alone. */
static gboolean lay_region(DtTrace *t, int i, const DtLines *region, GError **error)
{
    DtInkPlace *p = place(t, (guint)i);
    if (p->stack || p->only.n > 0)
        return dt_trace_lay_beside(t, i, region, DT_PLANE_NONZERO, error);
    dt_lines_append_lines(&p->only, region);
    return TRUE;
}

/* Areas ------------------------------------------------------------------------------------------
 */

typedef struct {
    const DtCoats *coats;
    int label;
    DtColour pen, paper;
} Look;

static DtSeen seen_at(DtPoint at, void *user)
{
    const Look *l = user;
    return dt_coats_seen_at(l->coats, l->label, at);
}

static double coverage_at(DtPoint at, void *user)
{
    const Look *l = user;
    return dt_ink_coverage(seen_at(at, user).colour, l->pen, l->paper);
}

gboolean dt_trace_parts(DtTrace *t, int label, DtBox box, DtParts *out, GError **error)
{
    double finest = G_MAXDOUBLE;
    for (size_t i = 0; i < t->rack->n; i++)
        finest = MIN(finest, t->rack->pens[i].tip / 2);
    if (!dt_box_is_empty(box))
        box = dt_box_grow(box, t->o->tolerance);
    Look look = {.coats = t->coats, .label = label};
    return dt_parts_find((DtSight){seen_at, &look}, box, finest, t->pens, out, error);
}

gboolean dt_trace_region(DtTrace *t, const DtLines *region, DtInk ink, int shape, GError **error)
{
    const DtPen *pen = &t->rack->pens[ink.pen];
    Look look = {t->coats, ink.label, pen->colour, t->o->paper};
    DtFillStyle f = {.hatch = t->o->hatch,
                     .angle = t->o->angle,
                     .pitch = t->o->pitch > 0 ? t->o->pitch : pen->tip,
                     .tip = pen->tip,
                     .pen = (unsigned)ink.pen,
                     .shape = shape,
                     .edge = t->o->edge,
                     .coverage = (double)ink.level / DT_TRACE_LEVELS,
                     .tone = ink.label >= 0 ? coverage_at : NULL,
                     .tone_user = &look};
    if (t->o->fill)
        return dt_fill_area(region, &f, t->out, error);
    for (size_t i = 0; i < region->n; i++)
        dt_strokes_append(t->out, dt_lines_at(region, i), dt_lines_count(region, i), TRUE,
                          DT_INK_OUTLINE, f.pen, shape);
    return TRUE;
}

/* Lays a region of one look beside the others of its ink. */
static gboolean reveal_as(DtTrace *t, DtSeen seen, int label, const DtLines *region, GError **error)
{
    if (region->n == 0 || (!t->o->tone && seen.pen < 0 && seen.colour.alpha < DT_COAT_SOLID))
        return TRUE;
    int i = dt_trace_ink_number(t, dt_trace_choose(t, seen, label, dt_region_area(region)));
    return i < 0 || lay_region(t, i, region, error);
}

/* Dense ink where coats change from place to place. */
static gboolean reveal_parts(DtTrace *t, int label, const DtLines *region, GError **error)
{
    g_auto(DtParts) parts = {.all = FALSE};
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
    int settled = dt_coats_ink(t->coats, label);
    if (settled >= 0)
        return lay_region(t, settled, region, error);
    gboolean changes = dt_coats_changes(t->coats, label);
    if (changes && !t->o->tone && t->o->fill)
        return reveal_parts(t, label, region, error);
    return reveal_as(t, dt_coats_seen(t->coats, label), changes ? label : -1, region, error);
}

static gboolean reveal_areas(DtTrace *t, GError **error)
{
    int n = (int)dt_stack_n_labels(t->stack);
    for (int label = DT_STACK_FIRST; label < n; label++) {
        const DtLines *region = dt_stack_region(t->stack, label);
        if (region && !reveal_label(t, label, region, error))
            return FALSE;
    }
    return TRUE;
}

static int by_pen(const void *a, const void *b)
{
    const DtInkPlace *p = *(const DtInkPlace *const *)a, *q = *(const DtInkPlace *const *)b;
    if (p->ink.pen != q->ink.pen)
        return p->ink.pen < q->ink.pen ? -1 : 1;
    return (p > q) - (p < q);
}

static gboolean draw_areas(DtTrace *t, GError **error)
{
    g_autoptr(GPtrArray) order = g_ptr_array_new();
    for (guint i = 0; i < t->inks->len; i++)
        g_ptr_array_add(order, place(t, i));
    g_ptr_array_sort(order, by_pen);
    for (guint i = 0; i < order->len; i++) {
        const DtInkPlace *p = order->pdata[i];
        const DtLines *region = p->only.n > 0 ? &p->only : NULL;
        if (p->stack) {
            if (!dt_stack_finish(p->stack, error))
                return FALSE;
            region = dt_stack_region(p->stack, DT_STACK_FIRST);
        }
        if (region && !dt_trace_region(t, region, p->ink, -1, error))
            return FALSE;
    }
    return TRUE;
}

/* Lines ------------------------------------------------------------------------------------------
 */

void dt_trace_lines(DtTrace *t, const DtLines *l, int pen, int shape)
{
    for (size_t i = 0; i < l->n; i++)
        dt_strokes_append(t->out, dt_lines_at(l, i), dt_lines_count(l, i), l->closed[i] != 0,
                          DT_INK_OUTLINE, (unsigned)pen, shape);
}

/* A veil that changes from place to place is looked at in steps of this (mm), and where it begins
 * or ends to hide, in so many halvings of a step. */
#define STEP 0.2
#define HALVINGS 8

typedef struct {
    DtTrace *t;
    int veil;
} Behind;

static gboolean is_hidden(const Behind *b, DtPoint at)
{
    return dt_parts_hides(dt_coats_seen_at(b->t->coats, b->veil, at), b->t->pens);
}

/* Where between two places, one hidden and one not, that changes. */
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

/* The parts of a line that a veil which changes does not hide. */
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

static void reveal_line(DtTrace *t, const DtLines *seen, size_t i, int owner, int veil)
{
    int pen = owner % (int)t->rack->n, shape = owner / (int)t->rack->n;
    const DtPoint *p = dt_lines_at(seen, i);
    size_t n = dt_lines_count(seen, i);
    gboolean closed = seen->closed[i] != 0;
    g_auto(DtLines) parts;
    dt_lines_init(&parts);
    Behind b = {t, veil};
    if (veil == 0)
        dt_lines_append(&parts, p, n, closed);
    else if (dt_coats_changes(t->coats, veil))
        look_behind(&b, p, n, closed, &parts);
    else if (!is_hidden(&b, p[0]))
        dt_lines_append(&parts, p, n, closed);
    dt_trace_lines(t, &parts, pen, shape);
}

static void reveal_lines(DtTrace *t)
{
    const int *owner, *veil;
    const DtLines *seen = dt_stack_lines(t->stack, &owner, &veil);
    for (size_t i = 0; i < seen->n; i++)
        reveal_line(t, seen, i, owner[i], veil[i]);
}

gboolean dt_trace_reveal(DtTrace *t, GError **error)
{
    if (!reveal_areas(t, error) || !draw_areas(t, error))
        return FALSE;
    reveal_lines(t);
    return TRUE;
}
