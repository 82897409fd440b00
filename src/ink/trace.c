/* trace: a drawing to strokes. Every painted part is laid on a stack, in painting order, as an area
 * or as lines; what is seen of each pen's areas is then filled, and what is seen of each line is
 * drawn. */
#include "drawtrue/ink.h"

#include "dedupe.h"
#include "fill.h"
#include "outline.h"
#include "parts.h"
#include "pens.h"
#include "stack.h"
#include "trim.h"

#include <math.h>

/* A stroke up to this much wider than the tip is drawn as one line. */
#define ONE_LINE 1.1
/* A paint whose alpha is below this leaves more of what lies beneath it than it covers: dense ink
 * leaves it out. */
#define SOLID 0.5
/* The paper's own colour must cover nearly all before what lies beneath it is left out. */
#define COVERING 0.9
/* Lines of one pen this near to one another (mm) are one line. */
#define COINCIDENT 0.02
/* Pitches that a hatch may have (mm). */
#define FINEST 0.01
#define COARSEST 10000.0
/* Coverages are told apart in this many steps. */
#define LEVELS 100
/* A dot is drawn this long (mm). */
#define DOT 0.01

/* What an area is inked with; each kind has a label on the stack. */
typedef struct {
    int pen;
    int level; /* coverage in steps of 1/LEVELS */
    int shape; /* whose paint changes from place to place; -1 for none */
} Ink;

typedef struct {
    const DtDrawing *d;
    const DtRack *rack;
    const DtInkOptions *o;
    DtPens *pens;
    DtLines *clips;      /* clean regions, made when first needed */
    uint8_t *clip_state; /* 0 not made, 1 being made, 2 made */
    DtStack *stack;
    GPtrArray *beside; /* DtStack of each ink, where nothing hides anything */
    GArray *inks;      /* Ink, by label less DT_STACK_FIRST */
    DtStrokes *out;
    size_t first; /* of its strokes that are ours */
} Trace;

/* Clips ------------------------------------------------------------------------------------------
 */

static const DtLines *clip_region(Trace *t, int clip, GError **error);

/* Replaces `l` (by its rule) by its part inside a clip, as a clean region. */
static gboolean clip_area(Trace *t, int clip, DtLines *l, DtPlaneRule rule, GError **error)
{
    const DtLines *mask = clip_region(t, clip, error);
    DtLines cut;
    dt_lines_init(&cut);
    if (!mask || !dt_region_intersect(l, rule, mask, &cut, error)) {
        dt_lines_clear(&cut);
        return FALSE;
    }
    dt_lines_clear(l);
    *l = cut;
    return TRUE;
}

static DtPlaneRule plane_rule(DtFillRule rule)
{
    return rule == DT_FILL_EVENODD ? DT_PLANE_EVENODD : DT_PLANE_NONZERO;
}

static gboolean make_clip(Trace *t, int clip, DtLines *out, GError **error)
{
    const DtClip *c = &t->d->clips[clip];
    g_autoptr(DtPlane) p = dt_plane_new();
    for (size_t i = 0; i < c->n_regions; i++) {
        const DtClipRegion *r = &c->regions[i];
        g_auto(DtLines) part;
        dt_lines_copy(&part, &r->outline);
        dt_trim_rings(&part);
        if (r->clip >= 0 && !clip_area(t, r->clip, &part, plane_rule(r->rule), error))
            return FALSE;
        dt_plane_add_rings(
            p, dt_plane_add_layer(p, r->clip >= 0 ? DT_PLANE_NONZERO : plane_rule(r->rule), 1),
            &part);
    }
    if (!dt_plane_build(p, error))
        return FALSE;
    dt_plane_region(p, 1, out, NULL);
    return c->parent < 0 || clip_area(t, c->parent, out, DT_PLANE_NONZERO, error);
}

static const DtLines *clip_region(Trace *t, int clip, GError **error)
{
    if ((size_t)clip >= t->d->n_clips || t->clip_state[clip] == 1) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: clip paths refer to one another",
                    t->d->path ? t->d->path : "drawing");
        return NULL;
    }
    if (t->clip_state[clip] == 0) {
        t->clip_state[clip] = 1;
        if (!make_clip(t, clip, &t->clips[clip], error))
            return NULL;
        t->clip_state[clip] = 2;
    }
    return &t->clips[clip];
}

/* Whether a clip is one upright rectangle that holds the whole box, so that it cuts nothing. */
static gboolean cuts_nothing(const DtLines *mask, DtBox b)
{
    if (mask->n != 1 || dt_lines_count(mask, 0) != 4)
        return FALSE;
    const DtPoint *p = dt_lines_at(mask, 0);
    for (int i = 0; i < 4; i++)
        if (p[i].x != p[(i + 1) % 4].x && p[i].y != p[(i + 1) % 4].y)
            return FALSE;
    DtBox m = dt_lines_box(mask);
    return b.x0 >= m.x0 && b.y0 >= m.y0 && b.x1 <= m.x1 && b.y1 <= m.y1;
}

/* Layers and lines -------------------------------------------------------------------------------
 */

static double rough_area(const DtLines *l)
{
    double sum = 0;
    for (size_t i = 0; i < l->n; i++)
        sum += dt_lines_area(l, i);
    return fabs(sum);
}

static int label_of(Trace *t, Ink ink)
{
    if (ink.pen < 0)
        return DT_STACK_PAPER;
    for (guint i = 0; i < t->inks->len; i++) {
        const Ink *k = &g_array_index(t->inks, Ink, i);
        if (k->pen == ink.pen && k->level == ink.level && k->shape == ink.shape)
            return DT_STACK_FIRST + (int)i;
    }
    g_array_append_val(t->inks, ink);
    return DT_STACK_FIRST + (int)t->inks->len - 1;
}

static int shape_index(const Trace *t, const DtShape *s)
{
    return (int)(s - t->d->shapes);
}

static Ink choose_ink(Trace *t, const DtShape *s, const DtPaint *paint, double area)
{
    Ink ink = {-1, LEVELS, -1};
    if (!t->o->tone) {
        ink.pen = dt_pens_choose(t->pens, s, paint, area);
        return ink;
    }
    double coverage;
    ink.pen = dt_pens_choose_tone(t->pens, s, paint, area, &coverage);
    ink.level = (int)lround(coverage * LEVELS);
    if (paint->kind == DT_PAINT_TONE && paint->tone && ink.pen >= 0)
        ink.shape = shape_index(t, s);
    else if (ink.level == 0)
        ink.pen = -1;
    return ink;
}

typedef struct {
    const DtTone *tone;
    DtColour pen, paper;
} ToneUser;

static double coverage_at(DtPoint at, void *user)
{
    const ToneUser *u = user;
    return dt_ink_coverage(dt_art_tone_at(u->tone, at), u->pen, u->paper);
}

static gboolean ink_region(Trace *t, const DtLines *region, Ink ink, int shape, GError **error)
{
    const DtPen *pen = &t->rack->pens[ink.pen];
    DtFillStyle f = {.hatch = t->o->hatch,
                     .angle = t->o->angle,
                     .pitch = t->o->pitch > 0 ? t->o->pitch : pen->tip,
                     .tip = pen->tip,
                     .pen = (unsigned)ink.pen,
                     .shape = shape,
                     .edge = t->o->edge,
                     .coverage = (double)ink.level / LEVELS};
    ToneUser user = {NULL, pen->colour, t->o->paper};
    if (ink.shape >= 0) {
        const DtShape *s = &t->d->shapes[ink.shape];
        user.tone = s->fill.kind == DT_PAINT_TONE ? s->fill.tone : s->stroke.paint.tone;
        f.tone = coverage_at;
        f.tone_user = &user;
    }
    if (t->o->fill)
        return dt_fill_area(region, &f, t->out, error);
    for (size_t i = 0; i < region->n; i++)
        dt_strokes_append(t->out, dt_lines_at(region, i), dt_lines_count(region, i), TRUE,
                          DT_INK_OUTLINE, f.pen, shape);
    return TRUE;
}

/* The area is outlined by itself. */
static gboolean outline_alone(Trace *t, const DtLines *area, DtPlaneRule rule, Ink ink, int shape,
                              GError **error)
{
    g_auto(DtLines) region;
    dt_lines_init(&region);
    return dt_region_clean(area, rule, &region, error) && ink_region(t, &region, ink, shape, error);
}

/* Where nothing hides anything the areas of one ink still are one area, lest they be inked twice.
 */
static DtStack *stack_beside(Trace *t, int label)
{
    while ((int)t->beside->len <= label)
        g_ptr_array_add(t->beside, NULL);
    if (!t->beside->pdata[label])
        t->beside->pdata[label] = dt_stack_new();
    return t->beside->pdata[label];
}

static gboolean add_area(Trace *t, const DtShape *s, const DtPaint *paint, Ink ink,
                         const DtLines *area, DtPlaneRule rule, GError **error)
{
    if (paint->colour.alpha < (ink.pen < 0 ? COVERING : SOLID) || (ink.pen < 0 && !t->o->hide))
        return TRUE;
    DtLines cut;
    dt_lines_copy(&cut, area);
    dt_trim_rings(&cut);
    gboolean good = TRUE;
    if (s->clip >= 0) {
        const DtLines *mask = clip_region(t, s->clip, error);
        good = mask != NULL;
        if (good && !cuts_nothing(mask, dt_lines_box(&cut))) {
            good = clip_area(t, s->clip, &cut, rule, error);
            rule = DT_PLANE_NONZERO;
        }
    }
    if (good && !t->o->hide && !t->o->fill) {
        good = outline_alone(t, &cut, rule, ink, shape_index(t, s), error);
    } else if (good) {
        int label = label_of(t, ink);
        good = dt_stack_add_area(t->o->hide ? t->stack : stack_beside(t, label), label, &cut, rule,
                                 error);
    }
    dt_lines_clear(&cut);
    return good;
}

/* Adds the part of an area that is inside a clean region, in one colour. */
static gboolean add_part(Trace *t, const DtShape *s, DtColour colour, gboolean paper,
                         const DtLines *area, DtPlaneRule rule, const DtLines *region,
                         GError **error)
{
    g_auto(DtLines) part;
    dt_lines_init(&part);
    if (!dt_region_intersect(area, rule, region, &part, error))
        return FALSE;
    if (part.n == 0)
        return TRUE;
    DtPaint paint = {DT_PAINT_FLAT, colour, NULL};
    Ink ink = {-1, LEVELS, -1};
    if (!paper)
        ink = choose_ink(t, s, &paint, dt_region_area(&part));
    return add_area(t, s, &paint, ink, &part, DT_PLANE_NONZERO, error);
}

/* Whether a paint is drawn in some places and not in others: only where ink is dense. */
static gboolean comes_in_parts(const Trace *t, const DtPaint *paint)
{
    return paint->kind == DT_PAINT_TONE && paint->tone && !t->o->tone && t->o->fill;
}

/* Where a shape's tone is drawn, within a box and the shape's clip. */
static gboolean find_parts(Trace *t, const DtShape *s, const DtPaint *paint, DtBox box,
                           DtParts *parts, GError **error)
{
    double finest = G_MAXDOUBLE;
    for (size_t i = 0; i < t->rack->n; i++)
        finest = MIN(finest, t->rack->pens[i].tip / 2);
    *parts = (DtParts){.all = FALSE};
    if (s->clip >= 0) {
        const DtLines *mask = clip_region(t, s->clip, error);
        if (!mask)
            return FALSE;
        box = dt_box_intersect(box, dt_lines_box(mask));
    }
    if (!dt_box_is_empty(box))
        box = dt_box_grow(box, t->o->tolerance);
    return dt_parts_find(paint->tone, box, finest, t->pens, dt_pens_asked(t->pens, s), parts,
                         error);
}

/* An area of any paint. */
static gboolean add_painted(Trace *t, const DtShape *s, const DtPaint *paint, const DtLines *area,
                            DtPlaneRule rule, double size, GError **error)
{
    g_auto(DtParts) parts = {.all = TRUE};
    if (comes_in_parts(t, paint) && !find_parts(t, s, paint, dt_lines_box(area), &parts, error))
        return FALSE;
    if (parts.all) {
        DtPaint whole = *paint;
        if (comes_in_parts(t, paint)) /* its mean reaches beyond the area */
            whole.colour.alpha = MAX(whole.colour.alpha, SOLID);
        return add_area(t, s, &whole, choose_ink(t, s, &whole, size), area, rule, error);
    }
    DtColour paper = t->o->paper;
    paper.alpha = 1;
    return add_part(t, s, paper, TRUE, area, rule, &parts.covers, error) &&
           add_part(t, s, parts.mean, FALSE, area, rule, &parts.ink, error);
}

/* Replaces lines by their parts inside a clean region. */
static gboolean cut_lines(const DtLines *mask, DtLines *l, GError **error)
{
    if (cuts_nothing(mask, dt_lines_box(l)))
        return TRUE;
    g_autoptr(DtPlane) p = dt_plane_new();
    int layer = dt_plane_add_layer(p, DT_PLANE_OUTSIDE, 0);
    dt_plane_add_rings(p, layer, mask);
    for (size_t i = 0; i < l->n; i++)
        dt_plane_add_line(p, layer, dt_lines_at(l, i), dt_lines_count(l, i), l->closed[i] != 0);
    if (!dt_plane_build(p, error))
        return FALSE;
    DtLines cut;
    dt_lines_init(&cut);
    for (size_t i = 0; i < l->n; i++)
        dt_plane_visible(p, (int)i, &cut);
    dt_lines_clear(l);
    *l = cut;
    return TRUE;
}

static gboolean clip_lines(Trace *t, int clip, DtLines *l, GError **error)
{
    const DtLines *mask = clip_region(t, clip, error);
    return mask && cut_lines(mask, l, error);
}

/* A line's owner on the stack: its pen and its shape in one number. */
static int owner_of(const Trace *t, int pen, int shape)
{
    return shape * (int)t->rack->n + pen;
}

static void append_lines(Trace *t, const DtLines *l, size_t first, size_t n, int pen, int shape)
{
    for (size_t i = first; i < first + n; i++)
        dt_strokes_append(t->out, dt_lines_at(l, i), dt_lines_count(l, i), l->closed[i] != 0,
                          DT_INK_OUTLINE, (unsigned)pen, shape);
}

static gboolean add_lines(Trace *t, const DtShape *s, int pen, DtLines *centre, GError **error)
{
    int shape = shape_index(t, s);
    dt_trim_lines(centre);
    if (s->clip >= 0 && !clip_lines(t, s->clip, centre, error))
        return FALSE;
    if (t->o->hide)
        return dt_stack_add_lines(t->stack, owner_of(t, pen, shape), centre, error);
    append_lines(t, centre, 0, centre->n, pen, shape);
    return TRUE;
}

/* Lines of any paint. */
static gboolean add_painted_lines(Trace *t, const DtShape *s, const DtPaint *paint, int pen,
                                  DtLines *centre, GError **error)
{
    if (!comes_in_parts(t, paint))
        return paint->colour.alpha < SOLID || add_lines(t, s, pen, centre, error);
    g_auto(DtParts) parts = {.all = FALSE};
    return find_parts(t, s, paint, dt_lines_box(centre), &parts, error) &&
           (parts.all || cut_lines(&parts.ink, centre, error)) &&
           add_lines(t, s, pen, centre, error);
}

static gboolean add_fill(Trace *t, const DtShape *s, GError **error)
{
    if (s->fill.kind == DT_PAINT_NONE || s->fill.colour.alpha <= 0)
        return TRUE;
    return add_painted(t, s, &s->fill, &s->outline, plane_rule(s->rule), rough_area(&s->outline),
                       error);
}

/* A line without dashes of its own takes those that its class, or the nearest group's, asks for;
 * `d` is the width of the drawn line, mm. `dash` has room for ten. */
static void dash_by_class(const Trace *t, const DtShape *s, double d, DtStrokeStyle *st,
                          double *dash)
{
    size_t n = 0;
    const double *type = dt_dash_of_class(s->classes, &n);
    int group = s->group;
    for (size_t i = 0; !type && i < t->d->n_groups && group >= 0 && (size_t)group < t->d->n_groups;
         i++) {
        type = dt_dash_of_class(t->d->groups[group].classes, &n);
        group = t->d->groups[group].parent;
    }
    double scale = sqrt(fabs(dt_affine_determinant(st->user_to_mm)));
    if (!type || st->n_dash > 0 || !(scale > 0))
        return;
    for (size_t i = 0; i < n; i++)
        dash[i] = type[i] * d / scale;
    st->dash = dash;
    st->n_dash = n;
}

/* Whether the shape's own fill has the ink of its stroke. A line along the edge of such a fill
 * would reach half a pen beyond what is painted, so the stroke joins the fill's area instead. */
static gboolean joins_fill(Trace *t, const DtShape *s, Ink ink)
{
    const DtPaint *fill = &s->fill;
    if (!t->o->hide || !t->o->fill || fill->kind == DT_PAINT_NONE || fill->colour.alpha < SOLID)
        return FALSE;
    Ink own = choose_ink(t, s, fill, 0);
    return own.pen == ink.pen && own.level == ink.level && own.shape == ink.shape;
}

static gboolean add_stroke(Trace *t, const DtShape *s, GError **error)
{
    DtStrokeStyle st = s->stroke;
    double width = dt_art_stroke_width_mm(&st), dash[10];
    if (st.paint.kind == DT_PAINT_NONE || st.paint.colour.alpha <= 0 || !(width > 0))
        return TRUE;
    Ink ink = choose_ink(t, s, &st.paint, dt_lines_total_length(&s->outline) * width);
    double tip = ink.pen < 0 ? 0 : t->rack->pens[ink.pen].tip;
    g_auto(DtLines) l;
    dt_lines_init(&l);
    dash_by_class(t, s, MAX(width, tip), &st, dash);
    if (ink.pen < 0 || width > tip * ONE_LINE || joins_fill(t, s, ink)) {
        dt_outline_area(&s->outline, &st, t->o->tolerance / 2, &l);
        return add_painted(t, s, &st.paint, &l, DT_PLANE_NONZERO, 0, error);
    }
    dt_outline_centre(&s->outline, &st, DOT, &l);
    return add_painted_lines(t, s, &st.paint, ink.pen, &l, error);
}

/* Strokes ----------------------------------------------------------------------------------------
 */

static int by_pen(const void *a, const void *b)
{
    const Ink *p = *(const Ink *const *)a, *q = *(const Ink *const *)b;
    return (p->pen > q->pen) - (p->pen < q->pen);
}

static gboolean collect_fills(Trace *t, GError **error)
{
    g_autoptr(GPtrArray) order = g_ptr_array_new();
    for (guint i = 0; i < t->inks->len; i++)
        g_ptr_array_add(order, &g_array_index(t->inks, Ink, i));
    g_ptr_array_sort(order, by_pen);
    for (guint i = 0; i < order->len; i++) {
        const Ink *ink = order->pdata[i];
        int label = label_of(t, *ink);
        DtStack *stack = t->o->hide || !t->o->fill ? t->stack : stack_beside(t, label);
        if (stack != t->stack && !dt_stack_finish(stack, error))
            return FALSE;
        const DtLines *region = dt_stack_region(stack, label);
        if (region && !ink_region(t, region, *ink, ink->shape, error))
            return FALSE;
    }
    return TRUE;
}

static void collect_lines(Trace *t)
{
    const int *owner;
    const DtLines *seen = dt_stack_lines(t->stack, &owner);
    int n = (int)t->rack->n;
    for (size_t i = 0; i < seen->n; i++)
        append_lines(t, seen, i, 1, owner[i] % n, owner[i] / n);
}

static gboolean trace_shapes(Trace *t, GError **error)
{
    for (size_t i = 0; i < t->d->n_shapes; i++) {
        const DtShape *s = &t->d->shapes[i];
        gboolean good = s->stroke_first ? add_stroke(t, s, error) && add_fill(t, s, error)
                                        : add_fill(t, s, error) && add_stroke(t, s, error);
        if (!good) {
            g_prefix_error(error, "%s:%d: ", t->d->path ? t->d->path : "drawing", s->line);
            return FALSE;
        }
    }
    if (!dt_stack_finish(t->stack, error) || !collect_fills(t, error)) {
        g_prefix_error(error, "%s: ", t->d->path ? t->d->path : "drawing");
        return FALSE;
    }
    collect_lines(t);
    if (t->o->dedupe)
        dt_dedupe_strokes(t->out, t->first, t->rack, MAX(COINCIDENT, t->o->tolerance));
    return TRUE;
}

static gboolean check(const DtRack *rack, const DtInkOptions *o, GError **error)
{
    if (!rack || rack->n == 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "the pen rack is empty: name at least one pen");
        return FALSE;
    }
    for (size_t i = 0; i < rack->n; i++)
        if (!(rack->pens[i].tip > 0) || !(rack->pens[i].tip <= 100)) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "pen %s: a tip of %g mm is not between 0 and 100 mm",
                        rack->pens[i].name ? rack->pens[i].name : "?", rack->pens[i].tip);
            return FALSE;
        }
    if (!(o->pitch == 0 || (o->pitch >= FINEST && o->pitch <= COARSEST)) || !isfinite(o->angle) ||
        !(o->tolerance > 0) || !isfinite(o->tolerance)) {
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "hatch pitch %g mm (0, or %g to %g), angle %g or tolerance %g mm is out of range",
            o->pitch, FINEST, COARSEST, o->angle, o->tolerance);
        return FALSE;
    }
    return TRUE;
}

static void free_stack(gpointer stack)
{
    dt_stack_free(stack);
}

gboolean dt_ink_trace(const DtDrawing *d, const DtRack *rack, const DtInkOptions *o, DtStrokes *out,
                      DtInkReport *report, GError **error)
{
    if (report)
        *report = (DtInkReport){NULL, 0};
    if (!check(rack, o, error))
        return FALSE;
    Trace t = {.d = d, .rack = rack, .o = o, .out = out, .first = out->n};
    t.pens = dt_pens_new(d, rack, o->paper);
    t.clips = g_new0(DtLines, d->n_clips + 1);
    t.clip_state = g_new0(uint8_t, d->n_clips + 1);
    t.stack = dt_stack_new();
    t.beside = g_ptr_array_new_with_free_func(free_stack);
    t.inks = g_array_new(FALSE, FALSE, sizeof(Ink));
    gboolean good = trace_shapes(&t, error);
    if (report)
        dt_pens_report(t.pens, report);
    for (size_t i = 0; i < d->n_clips; i++)
        dt_lines_clear(&t.clips[i]);
    g_free(t.clips);
    g_free(t.clip_state);
    dt_stack_free(t.stack);
    g_ptr_array_free(t.beside, TRUE);
    g_array_free(t.inks, TRUE);
    dt_pens_free(t.pens);
    return good;
}
