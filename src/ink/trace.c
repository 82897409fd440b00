/* trace: a drawing to strokes. Every painted part becomes a layer of the plane, in painting order, or
 * a line at its height; what is seen of each pen is then filled, and what is seen of each line is
 * drawn. */
#include "drawtrue/ink.h"

#include "fill.h"
#include "outline.h"
#include "pens.h"
#include "plane.h"

#include <math.h>

/* A stroke up to this much wider than the tip is drawn as one line. */
#define ONE_LINE 1.1
/* A paint whose alpha is below this leaves more of what lies beneath it than it covers: dense ink
 * leaves it out. */
#define SOLID 0.5
/* The paper's own colour must cover nearly all before what lies beneath it is left out. */
#define COVERING 0.9
/* A dot is drawn this long (mm). */
#define DOT 0.01

typedef struct {
    int pen, shape;
} LineOwner;

typedef struct {
    const DtDrawing *d;
    const DtRack *rack;
    const DtInkOptions *o;
    DtPens *pens;
    DtLines *clips;       /* clean regions, made when first needed */
    uint8_t *clip_state;  /* 0 not made, 1 being made, 2 made */
    DtPlane *plane;
    int n_layers;
    GArray *owners; /* LineOwner of each line of the plane */
    DtStrokes *out;
} Trace;

/* Clips ------------------------------------------------------------------------------------------ */

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
        if (r->clip >= 0 && !clip_area(t, r->clip, &part, plane_rule(r->rule), error))
            return FALSE;
        dt_plane_add_rings(
            p, dt_plane_add_layer(p, r->clip >= 0 ? DT_PLANE_NONZERO : plane_rule(r->rule), 1, FALSE),
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

/* Layers and lines ------------------------------------------------------------------------------- */

static double rough_area(const DtLines *l)
{
    double sum = 0;
    for (size_t i = 0; i < l->n; i++)
        sum += dt_lines_area(l, i);
    return fabs(sum);
}

/* The label of what a pen paints, see collect_fills(). */
static int label_of_pen(int pen)
{
    return pen + 1;
}

static DtFillStyle style_of_pen(const Trace *t, int pen, int shape)
{
    double tip = t->rack->pens[pen].tip;
    return (DtFillStyle){t->o->hatch, t->o->angle, t->o->pitch > 0 ? t->o->pitch : tip, tip,
                         (unsigned)pen, shape};
}

static gboolean ink_region(Trace *t, const DtLines *region, int pen, int shape, GError **error)
{
    DtFillStyle f = style_of_pen(t, pen, shape);
    if (t->o->fill)
        return dt_fill_area(region, &f, t->out, error);
    for (size_t i = 0; i < region->n; i++)
        dt_strokes_append(t->out, dt_lines_at(region, i), dt_lines_count(region, i), TRUE,
                          DT_INK_OUTLINE, (unsigned)pen, shape);
    return TRUE;
}

/* Nothing hides anything: the area is inked by itself. */
static gboolean ink_alone(Trace *t, const DtLines *area, DtPlaneRule rule, int pen, int shape,
                          GError **error)
{
    g_auto(DtLines) region;
    dt_lines_init(&region);
    return dt_region_clean(area, rule, &region, error) && ink_region(t, &region, pen, shape, error);
}

static gboolean add_area(Trace *t, const DtShape *s, const DtPaint *paint, int pen,
                         const DtLines *area, DtPlaneRule rule, GError **error)
{
    gboolean sheer = paint->colour.alpha < SOLID;
    if (pen < 0 && (paint->colour.alpha < COVERING || !t->o->hide))
        return TRUE;
    if (sheer && !t->o->tone)
        return TRUE;
    DtLines cut;
    dt_lines_copy(&cut, area);
    gboolean good = TRUE;
    if (s->clip >= 0) {
        const DtLines *mask = clip_region(t, s->clip, error);
        good = mask != NULL;
        if (good && !cuts_nothing(mask, dt_lines_box(area))) {
            good = clip_area(t, s->clip, &cut, rule, error);
            rule = DT_PLANE_NONZERO;
        }
    }
    if (good && !t->o->hide) {
        good = ink_alone(t, &cut, rule, pen, (int)(s - t->d->shapes), error);
    } else if (good) {
        t->n_layers = dt_plane_add_layer(t->plane, rule, label_of_pen(pen), sheer) + 1;
        dt_plane_add_rings(t->plane, t->n_layers - 1, &cut);
    }
    dt_lines_clear(&cut);
    return good;
}

/* Replaces lines by their parts inside a clip. */
static gboolean clip_lines(Trace *t, int clip, DtLines *l, GError **error)
{
    const DtLines *mask = clip_region(t, clip, error);
    if (!mask)
        return FALSE;
    if (cuts_nothing(mask, dt_lines_box(l)))
        return TRUE;
    g_autoptr(DtPlane) p = dt_plane_new();
    int layer = dt_plane_add_layer(p, DT_PLANE_OUTSIDE, 0, FALSE);
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

static gboolean add_lines(Trace *t, const DtShape *s, int pen, DtLines *centre, GError **error)
{
    if (s->clip >= 0 && !clip_lines(t, s->clip, centre, error))
        return FALSE;
    LineOwner owner = {pen, (int)(s - t->d->shapes)};
    for (size_t i = 0; i < centre->n; i++) {
        dt_plane_add_line(t->plane, t->o->hide ? t->n_layers : G_MAXINT, dt_lines_at(centre, i),
                          dt_lines_count(centre, i), centre->closed[i] != 0);
        g_array_append_val(t->owners, owner);
    }
    return TRUE;
}

static gboolean add_fill(Trace *t, const DtShape *s, GError **error)
{
    if (s->fill.kind == DT_PAINT_NONE || s->fill.colour.alpha <= 0)
        return TRUE;
    int pen = dt_pens_choose(t->pens, s, &s->fill, rough_area(&s->outline));
    return add_area(t, s, &s->fill, pen, &s->outline, plane_rule(s->rule), error);
}

static gboolean add_stroke(Trace *t, const DtShape *s, GError **error)
{
    const DtStrokeStyle *st = &s->stroke;
    double width = dt_art_stroke_width_mm(st);
    if (st->paint.kind == DT_PAINT_NONE || st->paint.colour.alpha <= 0 || !(width > 0))
        return TRUE;
    int pen = dt_pens_choose(t->pens, s, &st->paint, dt_lines_total_length(&s->outline) * width);
    g_auto(DtLines) l;
    dt_lines_init(&l);
    if (pen < 0 || width > t->rack->pens[pen].tip * ONE_LINE) {
        dt_outline_area(&s->outline, st, t->o->tolerance / 2, &l);
        return add_area(t, s, &st->paint, pen, &l, DT_PLANE_NONZERO, error);
    }
    if (st->paint.colour.alpha < SOLID && !t->o->tone)
        return TRUE;
    dt_outline_centre(&s->outline, st, DOT, &l);
    return add_lines(t, s, pen, &l, error);
}

/* Strokes ---------------------------------------------------------------------------------------- */

static gboolean collect_fills(Trace *t, GError **error)
{
    for (size_t i = 0; i < t->rack->n; i++) {
        g_auto(DtLines) region;
        dt_lines_init(&region);
        dt_plane_region(t->plane, label_of_pen((int)i), &region, NULL);
        if (!ink_region(t, &region, (int)i, -1, error))
            return FALSE;
    }
    return TRUE;
}

static void collect_lines(Trace *t)
{
    g_auto(DtLines) seen;
    dt_lines_init(&seen);
    for (guint i = 0; i < t->owners->len; i++) {
        LineOwner owner = g_array_index(t->owners, LineOwner, i);
        size_t first = seen.n;
        dt_plane_visible(t->plane, (int)i, &seen);
        for (size_t k = first; k < seen.n; k++)
            dt_strokes_append(t->out, dt_lines_at(&seen, k), dt_lines_count(&seen, k),
                              seen.closed[k] != 0, DT_INK_OUTLINE, (unsigned)owner.pen,
                              owner.shape);
    }
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
    if (!dt_plane_build(t->plane, error) || !collect_fills(t, error)) {
        g_prefix_error(error, "%s: ", t->d->path ? t->d->path : "drawing");
        return FALSE;
    }
    collect_lines(t);
    return TRUE;
}

static gboolean check(const DtRack *rack, const DtInkOptions *o, GError **error)
{
    if (!rack || rack->n == 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "the pen rack is empty: name at least one pen");
        return FALSE;
    }
    for (size_t i = 0; i < rack->n; i++)
        if (!(rack->pens[i].tip > 0) || !(rack->pens[i].tip <= 100)) {
            g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                        "pen %s: a tip of %g mm is not between 0 and 100 mm",
                        rack->pens[i].name ? rack->pens[i].name : "?", rack->pens[i].tip);
            return FALSE;
        }
    if (!(o->pitch >= 0) || !isfinite(o->pitch) || !isfinite(o->angle) || !(o->tolerance > 0) ||
        !isfinite(o->tolerance)) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "hatch pitch %g mm, angle %g or tolerance %g mm is out of range", o->pitch,
                    o->angle, o->tolerance);
        return FALSE;
    }
    return TRUE;
}

gboolean dt_ink_trace(const DtDrawing *d, const DtRack *rack, const DtInkOptions *o,
                      DtStrokes *out, DtInkReport *report, GError **error)
{
    if (report)
        *report = (DtInkReport){NULL, 0};
    if (!check(rack, o, error))
        return FALSE;
    Trace t = {.d = d, .rack = rack, .o = o, .out = out};
    t.pens = dt_pens_new(d, rack, o->paper);
    t.clips = g_new0(DtLines, d->n_clips + 1);
    t.clip_state = g_new0(uint8_t, d->n_clips + 1);
    t.plane = dt_plane_new();
    t.owners = g_array_new(FALSE, FALSE, sizeof(LineOwner));
    gboolean good = trace_shapes(&t, error);
    if (report)
        dt_pens_report(t.pens, report);
    for (size_t i = 0; i < d->n_clips; i++)
        dt_lines_clear(&t.clips[i]);
    g_free(t.clips);
    g_free(t.clip_state);
    g_array_free(t.owners, TRUE);
    dt_plane_free(t.plane);
    dt_pens_free(t.pens);
    return good;
}
