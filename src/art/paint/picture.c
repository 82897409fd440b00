/* picture: paints a drawing with cairo, for proofs, masks and comparison with other readers. */
#include "art/private.h"

#include "drawtrue/work.h"
#include "art/paint/picture.h"

#include <math.h>

typedef struct {
    cairo_t *cr;
    const ArtPicture *a;
    int stack[ART_MAX_DEPTH]; /* open translucent groups, outermost first */
    int depth;
    double alpha;      /* product of their opacities */
    GHashTable *masks; /* by clip; of those made lately */
    guint most_masks;
} Painter;

static void trace(cairo_t *cr, const DtLines *l, gboolean close_all)
{
    for (gsize i = 0; i < l->n; i++) {
        const DtPoint *p = dt_lines_at(l, i);
        gsize n = dt_lines_count(l, i);
        if (n == 0)
            continue;
        cairo_move_to(cr, p[0].x, p[0].y);
        for (gsize j = 1; j < n; j++)
            cairo_line_to(cr, p[j].x, p[j].y);
        if (n == 1 && !l->closed[i])
            cairo_line_to(cr, p[0].x, p[0].y);
        if (l->closed[i] || close_all)
            cairo_close_path(cr);
    }
}

static void set_rule(cairo_t *cr, DtFillRule rule)
{
    cairo_set_fill_rule(cr, rule == DT_FILL_EVENODD ? CAIRO_FILL_RULE_EVEN_ODD
                                                    : CAIRO_FILL_RULE_WINDING);
}

/* Clips ---------------------------------------------------------------------------------------- */

/* The masks that are kept take at most this much memory, bytes. Without them, a clip that others refer to in many
 * ways would be painted once for each way. */
#define MASKS_SIZE 128e6

static guint masks_that_fit(cairo_t *cr)
{
    double x0, y0, x1, y1;
    cairo_clip_extents(cr, &x0, &y0, &x1, &y1);
    double w = x1 - x0, h = y1 - y0;
    cairo_user_to_device_distance(cr, &w, &h);
    return (guint)CLAMP(MASKS_SIZE / MAX(fabs(w * h), 1), 4, 256);
}

/* Clips to a chain of clips that have one plain region each; FALSE, with nothing done, if the
 * chain has others. */
static gboolean plain_chain(const ArtPicture *a, int clip)
{
    for (int c = clip; c >= 0; c = a->clips[c].parent)
        if (a->clips[c].n_regions != 1 || a->clips[c].regions[0].clip >= 0)
            return FALSE;
    return TRUE;
}

static void clip_plain(cairo_t *cr, const ArtPicture *a, int clip)
{
    for (int c = clip; c >= 0; c = a->clips[c].parent) {
        cairo_new_path(cr);
        trace(cr, &a->clips[c].regions[0].outline, TRUE);
        set_rule(cr, a->clips[c].regions[0].rule);
        cairo_clip(cr);
    }
}

static void paint_region(cairo_t *cr, const DtClipRegion *region, cairo_pattern_t *own)
{
    cairo_save(cr);
    cairo_new_path(cr);
    trace(cr, &region->outline, TRUE);
    set_rule(cr, region->rule);
    cairo_set_source_rgba(cr, 0, 0, 0, 1);
    if (own) {
        cairo_clip(cr);
        cairo_mask(cr, own);
        cairo_pattern_destroy(own);
    } else {
        cairo_fill(cr);
    }
    cairo_restore(cr);
}

/* Paints what the regions of a clip let through where their own masks and `outer` do. */
static void paint_regions(cairo_t *cr, const DtClip *c, cairo_pattern_t **own,
                          cairo_pattern_t *outer)
{
    if (outer)
        cairo_push_group_with_content(cr, CAIRO_CONTENT_ALPHA);
    for (gsize i = 0; i < c->n_regions; i++)
        paint_region(cr, &c->regions[i], own[i]);
    if (outer) {
        cairo_pop_group_to_source(cr);
        cairo_mask(cr, outer);
        cairo_pattern_destroy(outer);
    }
}

static void keep_mask(Painter *p, int clip, cairo_pattern_t *mask)
{
    if (g_hash_table_size(p->masks) >= p->most_masks)
        g_hash_table_remove_all(p->masks);
    g_hash_table_insert(p->masks, GINT_TO_POINTER(clip), cairo_pattern_reference(mask));
}

/* What a clip together with its parents lets through, as alpha; made while nothing is clipped. The masks that it
 * depends on are made before its own group is opened, so that groups do not nest as deep as clips do. */
static cairo_pattern_t *clip_mask(Painter *p, int clip)
{
    cairo_pattern_t *mask = g_hash_table_lookup(p->masks, GINT_TO_POINTER(clip));
    if (mask)
        return cairo_pattern_reference(mask);
    const DtClip *c = &p->a->clips[clip];
    gboolean plain = plain_chain(p->a, c->parent);
    cairo_pattern_t *outer = plain ? NULL : clip_mask(p, c->parent);
    g_autofree cairo_pattern_t **own = g_new0(cairo_pattern_t *, c->n_regions + 1);
    for (gsize i = 0; i < c->n_regions; i++)
        if (c->regions[i].clip >= 0)
            own[i] = clip_mask(p, c->regions[i].clip);
    cairo_push_group_with_content(p->cr, CAIRO_CONTENT_ALPHA);
    if (plain)
        clip_plain(p->cr, p->a, c->parent);
    paint_regions(p->cr, c, own, outer);
    mask = cairo_pop_group(p->cr);
    keep_mask(p, clip, mask);
    return mask;
}

/* Paints --------------------------------------------------------------------------------------- */

static cairo_matrix_t matrix_of(DtAffine m)
{
    cairo_matrix_t c;
    cairo_matrix_init(&c, m.xx, m.yx, m.xy, m.yy, m.x0, m.y0);
    return c;
}

static void add_stop(cairo_pattern_t *p, double offset, DtColour c, double alpha)
{
    cairo_pattern_add_color_stop_rgba(p, offset, c.r, c.g, c.b, MIN(c.alpha * alpha, 1));
}

static void set_tone(cairo_t *cr, const DtTone *t, double k)
{
    cairo_pattern_t *p = NULL;
    cairo_surface_t *image = NULL;
    static const cairo_extend_t extends[] = {CAIRO_EXTEND_PAD, CAIRO_EXTEND_REFLECT,
                                             CAIRO_EXTEND_REPEAT};
    if (t->kind == ART_TONE_IMAGE) {
        image = cairo_image_surface_create_for_data((guchar *)(gpointer)t->pixels,
                                                    CAIRO_FORMAT_ARGB32, t->w, t->h, t->w * 4);
        p = cairo_pattern_create_for_surface(image);
        cairo_surface_destroy(image);
        cairo_pattern_set_extend(p, CAIRO_EXTEND_PAD);
    } else if (t->kind == ART_TONE_LINEAR) {
        p = cairo_pattern_create_linear(t->p0.x, t->p0.y, t->p1.x, t->p1.y);
    } else {
        p = cairo_pattern_create_radial(t->p0.x, t->p0.y, t->r0, t->p1.x, t->p1.y, t->r1);
    }
    if (t->kind != ART_TONE_IMAGE)
        cairo_pattern_set_extend(p, extends[t->spread]);
    /* The colour before the first stop and after the last one is constant; cairo would blend one
     * into the other if the gradient repeats. */
    if (t->n_stops > 0) {
        add_stop(p, 0, t->stops[0].colour, t->alpha * k);
        for (gsize i = 0; i < t->n_stops; i++)
            add_stop(p, t->stops[i].offset, t->stops[i].colour, t->alpha * k);
        add_stop(p, 1, t->stops[t->n_stops - 1].colour, t->alpha * k);
    }
    cairo_matrix_t m = matrix_of(t->to_tone);
    cairo_pattern_set_matrix(p, &m);
    cairo_set_source(cr, p);
    cairo_pattern_destroy(p);
}

/* k removes the opacities of the open groups from the paint's alpha. */
static gboolean set_paint(cairo_t *cr, const DtPaint *p, double k)
{
    if (p->kind == DT_PAINT_NONE)
        return FALSE;
    if (p->tone && p->tone->kind == ART_TONE_FLAT) { /* masks belong to the groups */
        DtColour c = p->tone->stops[0].colour;
        cairo_set_source_rgba(cr, c.r, c.g, c.b, MIN(c.alpha * k, 1));
    } else if (p->kind == DT_PAINT_TONE)
        set_tone(cr, p->tone, k);
    else
        cairo_set_source_rgba(cr, p->colour.r, p->colour.g, p->colour.b,
                              MIN(p->colour.alpha * k, 1));
    return TRUE;
}

static void fill(cairo_t *cr, const DtShape *s, double k)
{
    if (!set_paint(cr, &s->fill, k))
        return;
    cairo_new_path(cr);
    trace(cr, &s->outline, TRUE);
    set_rule(cr, s->rule);
    if (s->fill.kind == DT_PAINT_TONE && s->fill.tone->kind == ART_TONE_IMAGE) {
        cairo_save(cr);
        cairo_clip(cr);
        cairo_paint_with_alpha(cr, MIN(s->fill.tone->alpha * k, 1));
        cairo_restore(cr);
    } else {
        cairo_fill(cr);
    }
}

/* cairo leaves out a dot with square caps, whose direction it cannot know; ours is along the x
 * axis of the user units (SVG 2, 13.5.4). */
static void trace_square_dots(cairo_t *cr, const DtShape *s)
{
    DtPoint d = {s->stroke.user_to_mm.xx * s->stroke.width * 1e-4,
                 s->stroke.user_to_mm.yx * s->stroke.width * 1e-4};
    for (gsize i = 0; s->stroke.cap == DT_CAP_SQUARE && i < s->outline.n; i++) {
        if (dt_lines_count(&s->outline, i) != 1)
            continue;
        DtPoint p = *dt_lines_at(&s->outline, i);
        cairo_move_to(cr, p.x - d.x, p.y - d.y);
        cairo_line_to(cr, p.x + d.x, p.y + d.y);
    }
}

static void stroke(cairo_t *cr, const DtShape *s, double k)
{
    const DtStrokeStyle *t = &s->stroke;
    double det = dt_affine_determinant(t->user_to_mm);
    if (det == 0 || !isfinite(det) || !set_paint(cr, &t->paint, k))
        return;
    cairo_save(cr);
    cairo_new_path(cr);
    trace(cr, &s->outline, FALSE);
    trace_square_dots(cr, s);
    cairo_matrix_t m = matrix_of(t->user_to_mm);
    cairo_transform(cr, &m);
    cairo_set_line_width(cr, t->width);
    cairo_set_line_cap(cr, t->cap == DT_CAP_ROUND    ? CAIRO_LINE_CAP_ROUND
                           : t->cap == DT_CAP_SQUARE ? CAIRO_LINE_CAP_SQUARE
                                                     : CAIRO_LINE_CAP_BUTT);
    cairo_set_line_join(cr, t->join == DT_JOIN_ROUND   ? CAIRO_LINE_JOIN_ROUND
                            : t->join == DT_JOIN_BEVEL ? CAIRO_LINE_JOIN_BEVEL
                                                       : CAIRO_LINE_JOIN_MITER);
    cairo_set_miter_limit(cr, t->miter_limit);
    cairo_set_dash(cr, t->dash, (int)t->n_dash, t->dash_offset);
    cairo_stroke(cr);
    cairo_restore(cr);
}

static void paint_shape(Painter *p, const DtShape *s)
{
    double k = p->alpha > 0 ? 1 / p->alpha : 1;
    if (s->stroke_first)
        stroke(p->cr, s, k);
    fill(p->cr, s, k);
    if (!s->stroke_first)
        stroke(p->cr, s, k);
}

/* Groups --------------------------------------------------------------------------------------- */

static gboolean is_see_through(const DtGroup *g)
{
    return g->opacity > 0 && (g->opacity < 1 || g->soft);
}

static void close_to(Painter *p, int depth)
{
    while (p->depth > depth) {
        const DtGroup *g = &p->a->groups[p->stack[--p->depth]];
        cairo_pop_group_to_source(p->cr);
        if (g->soft) {
            cairo_pattern_t *mask = dt_art_mask_alpha_pattern(g->soft);
            cairo_push_group(p->cr);
            cairo_mask(p->cr, mask);
            cairo_pop_group_to_source(p->cr);
            cairo_pattern_destroy(mask);
        }
        cairo_paint_with_alpha(p->cr, g->opacity);
        p->alpha /= g->opacity;
    }
}

/* Opens and closes translucent groups until those around `group` are open. */
static void enter_group(Painter *p, int group)
{
    int chain[ART_MAX_DEPTH], n = 0;
    for (int g = group; g >= 0; g = p->a->groups[g].parent)
        if (is_see_through(&p->a->groups[g]) && n < ART_MAX_DEPTH)
            chain[n++] = g;
    int same = 0;
    while (same < n && same < p->depth && p->stack[same] == chain[n - 1 - same])
        same++;
    close_to(p, same);
    while (p->depth < n) {
        int g = chain[n - 1 - p->depth];
        cairo_push_group(p->cr);
        p->stack[p->depth++] = g;
        p->alpha *= p->a->groups[g].opacity;
    }
}

static void paint_clipped(Painter *p, const DtShape *s)
{
    if (s->clip < 0 || plain_chain(p->a, s->clip)) {
        cairo_save(p->cr);
        clip_plain(p->cr, p->a, s->clip);
        paint_shape(p, s);
        cairo_restore(p->cr);
        return;
    }
    cairo_pattern_t *mask = clip_mask(p, s->clip);
    cairo_push_group(p->cr);
    paint_shape(p, s);
    cairo_pop_group_to_source(p->cr);
    cairo_mask(p->cr, mask);
    cairo_pattern_destroy(mask);
}

void dt_art_picture_paint(const ArtPicture *a, cairo_t *cr)
{
    Painter *p = g_new0(Painter, 1);
    *p = (Painter){.cr = cr, .a = a, .alpha = 1, .most_masks = masks_that_fit(cr)};
    p->masks = g_hash_table_new_full(NULL, NULL, NULL, (GDestroyNotify)cairo_pattern_destroy);
    for (gsize i = 0; i < a->n_shapes && !dt_work_stopped(); i++) {
        enter_group(p, a->shapes[i].group);
        paint_clipped(p, &a->shapes[i]);
    }
    close_to(p, 0);
    g_hash_table_unref(p->masks);
    g_free(p);
}

void dt_art_paint(const DtDrawing *d, cairo_t *cr)
{
    ArtPicture a = {d->shapes, d->n_shapes, d->clips, d->groups};
    cairo_save(cr);
    cairo_set_tolerance(cr, 0.1);
    dt_art_picture_paint(&a, cr);
    cairo_restore(cr);
}
