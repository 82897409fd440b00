/* painter: artwork and lines on a cairo context in bed mm. */
#include "proof/private.h"

#include <math.h>

void dt_proof_path(cairo_t *cr, const DtLines *l, size_t i)
{
    const DtPoint *at = dt_lines_at(l, i);
    size_t n = dt_lines_count(l, i);
    if (n == 0)
        return;
    cairo_move_to(cr, at[0].x, at[0].y);
    for (size_t k = 1; k < n; k++)
        cairo_line_to(cr, at[k].x, at[k].y);
    if (l->closed[i])
        cairo_close_path(cr);
    else if (n == 1)
        cairo_line_to(cr, at[0].x, at[0].y); /* a dot */
}

void dt_proof_stroke(cairo_t *cr, const DtLines *l, DtColour colour, double width)
{
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_width(cr, width);
    dt_proof_colour(cr, colour);
    for (size_t i = 0; i < l->n; i++) {
        dt_proof_path(cr, l, i);
        cairo_stroke(cr);
    }
}

/* Artwork -------------------------------------------------------------------------------------- */

static void outline_path(cairo_t *cr, const DtLines *l, gboolean close_all)
{
    for (size_t i = 0; i < l->n; i++) {
        dt_proof_path(cr, l, i);
        if (close_all)
            cairo_close_path(cr);
    }
}

static void set_rule(cairo_t *cr, DtFillRule rule)
{
    cairo_set_fill_rule(cr, rule == DT_FILL_EVENODD ? CAIRO_FILL_RULE_EVEN_ODD
                                                    : CAIRO_FILL_RULE_WINDING);
}

static void enter_clip(cairo_t *cr, const DtDrawing *d, int clip, int depth);

/* The union of several regions cannot be one cairo path with one rule, so it becomes a mask; a clip
 * of one region, nearly all of them, stays a path. */
static cairo_pattern_t *union_mask(cairo_t *cr, const DtDrawing *d, const DtClip *c, int depth)
{
    cairo_push_group_with_content(cr, CAIRO_CONTENT_ALPHA);
    for (size_t i = 0; i < c->n_regions; i++) {
        const DtClipRegion *r = &c->regions[i];
        cairo_save(cr);
        enter_clip(cr, d, r->clip, depth + 1);
        cairo_new_path(cr);
        outline_path(cr, &r->outline, TRUE);
        set_rule(cr, r->rule);
        cairo_set_source_rgba(cr, 0, 0, 0, 1);
        cairo_fill(cr);
        cairo_restore(cr);
    }
    return cairo_pop_group(cr);
}

static gboolean is_simple(const DtClip *c)
{
    return c->n_regions == 0 || (c->n_regions == 1 && c->regions[0].clip < 0);
}

/* Intersects the clip with every simple clip of the chain; the others are left to
 * collect_masks(). */
static void enter_clip(cairo_t *cr, const DtDrawing *d, int clip, int depth)
{
    for (int i = clip; i >= 0 && (size_t)i < d->n_clips && depth < 64;
         i = d->clips[i].parent, depth++) {
        const DtClip *c = &d->clips[i];
        if (!is_simple(c))
            continue;
        cairo_new_path(cr);
        if (c->n_regions) {
            outline_path(cr, &c->regions[0].outline, TRUE);
            set_rule(cr, c->regions[0].rule);
        }
        cairo_clip(cr);
    }
}

static void paint_tone(cairo_t *cr, const DtTone *tone)
{
    double x0, y0, x1, y1;
    cairo_clip_extents(cr, &x0, &y0, &x1, &y1);
    enum { CELLS = 256 };
    double w = x1 - x0, h = y1 - y0;
    if (!(w > 0 && h > 0))
        return;
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, CELLS, CELLS);
    if (cairo_surface_status(image) != CAIRO_STATUS_SUCCESS)
        return;
    unsigned char *data = cairo_image_surface_get_data(image);
    int stride = cairo_image_surface_get_stride(image);
    for (int j = 0; j < CELLS; j++)
        for (int i = 0; i < CELLS; i++) {
            DtPoint at = {x0 + (i + 0.5) * w / CELLS, y0 + (j + 0.5) * h / CELLS};
            DtColour c = dt_art_tone_at(tone, at);
            uint32_t a = (uint32_t)(c.alpha * 255 + 0.5);
            uint32_t r = (uint32_t)(c.r * c.alpha * 255 + 0.5);
            uint32_t g = (uint32_t)(c.g * c.alpha * 255 + 0.5);
            uint32_t b = (uint32_t)(c.b * c.alpha * 255 + 0.5);
            ((uint32_t *)(void *)(data + j * stride))[i] = a << 24 | r << 16 | g << 8 | b;
        }
    cairo_surface_mark_dirty(image);
    cairo_save(cr);
    cairo_translate(cr, x0, y0);
    cairo_scale(cr, w / CELLS, h / CELLS);
    cairo_set_source_surface(cr, image, 0, 0);
    cairo_pattern_set_filter(cairo_get_source(cr), CAIRO_FILTER_BILINEAR);
    cairo_pattern_set_extend(cairo_get_source(cr), CAIRO_EXTEND_PAD);
    cairo_paint(cr);
    cairo_restore(cr);
    cairo_surface_destroy(image);
}

static void fill_shape(cairo_t *cr, const DtShape *s)
{
    if (s->fill.kind == DT_PAINT_NONE)
        return;
    cairo_new_path(cr);
    outline_path(cr, &s->outline, TRUE);
    set_rule(cr, s->rule);
    if (s->fill.kind == DT_PAINT_FLAT) {
        dt_proof_colour(cr, s->fill.colour);
        cairo_fill(cr);
        return;
    }
    cairo_save(cr);
    cairo_clip(cr);
    paint_tone(cr, s->fill.tone);
    cairo_restore(cr);
}

static void set_pen(cairo_t *cr, const DtStrokeStyle *s)
{
    static const cairo_line_cap_t caps[] = {CAIRO_LINE_CAP_BUTT, CAIRO_LINE_CAP_ROUND,
                                            CAIRO_LINE_CAP_SQUARE};
    static const cairo_line_join_t joins[] = {CAIRO_LINE_JOIN_MITER, CAIRO_LINE_JOIN_ROUND,
                                              CAIRO_LINE_JOIN_BEVEL};
    cairo_set_line_cap(cr, caps[s->cap]);
    cairo_set_line_join(cr, joins[s->join]);
    cairo_set_miter_limit(cr, s->miter_limit);
    cairo_set_line_width(cr, s->width);
    cairo_set_dash(cr, s->dash, (int)s->n_dash, s->dash_offset);
}

static void stroke_shape(cairo_t *cr, const DtShape *s)
{
    DtAffine m = s->stroke.user_to_mm;
    if (s->stroke.paint.kind == DT_PAINT_NONE || s->stroke.width <= 0 ||
        fabs(dt_affine_determinant(m)) < 1e-12)
        return;
    cairo_new_path(cr);
    outline_path(cr, &s->outline, FALSE);
    cairo_save(cr);
    cairo_matrix_t nib = {m.xx, m.yx, m.xy, m.yy, m.x0, m.y0};
    cairo_transform(cr, &nib);
    set_pen(cr, &s->stroke);
    dt_proof_colour(cr, s->stroke.paint.colour); /* the mean of a tone: strokes are narrow */
    cairo_stroke(cr);
    cairo_restore(cr);
}

static void paint_shape(cairo_t *cr, const DtShape *s)
{
    if (s->stroke_first)
        stroke_shape(cr, s);
    fill_shape(cr, s);
    if (!s->stroke_first)
        stroke_shape(cr, s);
}

/* The shape under those clips of its chain that need a mask, outermost last. */
static void paint_masked(cairo_t *cr, const DtDrawing *d, const DtShape *s, int clip, int depth)
{
    while (clip >= 0 && (size_t)clip < d->n_clips && is_simple(&d->clips[clip]))
        clip = d->clips[clip].parent;
    if (clip < 0 || (size_t)clip >= d->n_clips || depth > 64) {
        paint_shape(cr, s);
        return;
    }
    cairo_pattern_t *mask = union_mask(cr, d, &d->clips[clip], depth);
    cairo_push_group(cr);
    paint_masked(cr, d, s, d->clips[clip].parent, depth + 1);
    cairo_pop_group_to_source(cr);
    cairo_mask(cr, mask);
    cairo_pattern_destroy(mask);
}

void dt_proof_paint(cairo_t *cr, const DtDrawing *d)
{
    for (size_t i = 0; i < d->n_shapes; i++) {
        cairo_save(cr);
        enter_clip(cr, d, d->shapes[i].clip, 0);
        paint_masked(cr, d, &d->shapes[i], d->shapes[i].clip, 0);
        cairo_restore(cr);
    }
}
