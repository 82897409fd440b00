/* add-shape: turns outlines into shapes, clip regions or boxes. */
#include "art/private.h"

#include <math.h>

void dt_art_store_lines(ArtReader *r, const DtLines *from, DtLines *to)
{
    *to = (DtLines){0};
    if (from->n == 0)
        return;
    gsize points = from->n_pts * sizeof *from->pts, firsts = (from->n + 1) * sizeof *from->first;
    char *room = dt_art_store_alloc(r->store, points + firsts + from->n);
    to->pts = memcpy(room, from->pts, points);
    to->first = memcpy(room + points, from->first, firsts);
    to->closed = memcpy(room + points + firsts, from->closed, from->n);
    to->n = to->cap = from->n;
    to->n_pts = to->cap_pts = from->n_pts;
}

/* From this many points on, lines are moved instead of copied. */
#define MANY_POINTS ((gsize)1 << 20)

/* Stores what flatten() found. */
static void store_scratch(ArtReader *r, DtLines *to)
{
    DtLines *from = &r->scratch;
    if (from->n_pts < MANY_POINTS) {
        dt_art_store_lines(r, from, to);
        return;
    }
    from->cap_pts = from->n_pts;
    from->pts = g_renew(DtPoint, from->pts, from->cap_pts);
    *to = *from;
    *from = (DtLines){0};
    g_ptr_array_add(r->store->blocks, to->pts);
    g_ptr_array_add(r->store->blocks, to->first);
    g_ptr_array_add(r->store->blocks, to->closed);
}

/* Clips ---------------------------------------------------------------------------------------- */

int dt_art_add_clip(ArtReader *r, DtClipRegion *regions, gsize n, int parent)
{
    DtClip clip = {.regions = regions, .n_regions = n, .parent = parent};
    DtBox none = DT_BOX_EMPTY;
    g_array_append_val(r->clips, clip);
    g_array_append_val(r->clip_rects, none);
    return (int)r->clips->len - 1;
}

int dt_art_add_rect_clip(ArtReader *r, DtBox box, DtAffine m, int parent)
{
    DtPoint corners[4] = {{box.x0, box.y0}, {box.x1, box.y0}, {box.x1, box.y1}, {box.x0, box.y1}};
    for (int i = 0; i < 4; i++)
        corners[i] = dt_affine_apply(m, corners[i]);
    g_auto(DtLines) l = {0};
    dt_lines_append(&l, corners, 4, TRUE);
    DtClipRegion *region = dt_art_store_zero(r->store, sizeof *region);
    dt_art_store_lines(r, &l, &region->outline);
    region->clip = -1;
    int index = dt_art_add_clip(r, region, 1, parent);
    if ((m.xy == 0 && m.yx == 0) || (m.xx == 0 && m.yy == 0))
        g_array_index(r->clip_rects, DtBox, index) = dt_lines_box(&l);
    return index;
}

/* Drops the rectangular clips that do not cut the box. */
static int needed_clip(const ArtReader *r, int clip, DtBox box)
{
    while (clip >= 0) {
        DtBox rect = g_array_index(r->clip_rects, DtBox, clip);
        if (dt_box_is_empty(rect) || box.x0 < rect.x0 || box.y0 < rect.y0 || box.x1 > rect.x1 ||
            box.y1 > rect.y1)
            break;
        clip = g_array_index(r->clips, DtClip, clip).parent;
    }
    return clip;
}

gboolean dt_art_flatten(ArtReader *r, const ArtNode *n, const DtPath *path, DtAffine m,
                        double tolerance, DtLines *out)
{
    const gsize left = ART_MAX_POINTS - MIN(r->points, ART_MAX_POINTS);
    if (dt_path_flatten_at_most(path, m, tolerance, left, out))
        return TRUE;
    dt_art_fail(r, n->line, "the drawing has more than %u points", (unsigned)ART_MAX_POINTS);
    out->n = out->n_pts = 0;
    return FALSE;
}

/* The path's lines in its own units. */
static void own_lines(ArtReader *r, const ArtNode *n, const DtPath *path, const ArtScope *scope,
                      DtLines *out)
{
    double stretch = MAX(dt_affine_max_stretch(scope->ctm), 1e-12);
    dt_art_flatten(r, n, path, DT_AFFINE_IDENTITY, r->tolerance / stretch, out);
}

/* Shapes --------------------------------------------------------------------------------------- */

static double stroke_reach(const DtStrokeStyle *s)
{
    double k = s->cap == DT_CAP_SQUARE ? G_SQRT2 : 1;
    if (s->join == DT_JOIN_MITER)
        k = MAX(k, s->miter_limit);
    return s->width / 2 * k * dt_affine_max_stretch(s->user_to_mm);
}

int dt_art_add_shape(ArtReader *r, const DtShape *shape)
{
    g_array_append_vals(r->shapes, shape, 1);
    return (int)r->shapes->len - 1;
}

/* User units per unit along the path: of pathLength, if it is given (SVG 2, 9.6.1). */
static double unit_along(ArtReader *r, const ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                         const DtPath *path)
{
    if (s->dash.n == 0 || !dt_art_attr(n, ART_AT_PATH_LENGTH))
        return 1;
    g_auto(DtLines) l = {0};
    own_lines(r, n, path, scope, &l);
    return dt_art_unit_along(n, dt_lines_total_length(&l));
}

/* Dashes are of units along the path. */
static void set_stroke(ArtReader *r, const ArtStyle *s, const ArtScope *scope, double unit,
                       DtStrokeStyle *out)
{
    out->width = dt_art_px(s->stroke_width, s, scope, ART_ALONG_BOTH, &r->root);
    out->cap = (DtCap)s->cap;
    out->join = (DtJoin)s->join;
    out->miter_limit = s->miter_limit;
    out->user_to_mm = s->fixed_stroke ? dt_affine_scale(r->unit_mm, r->unit_mm) : scope->ctm;
    out->dash_offset = dt_art_px(s->dash_offset, s, scope, ART_ALONG_BOTH, &r->root) * unit;
    if (!isfinite(out->dash_offset))
        out->dash_offset = 0;
    if (s->dash.n == 0)
        return;
    /* A list of odd length is repeated; a list with sum zero is a solid line (SVG 1.1 11.4). */
    gsize n = s->dash.n % 2 ? s->dash.n * 2 : s->dash.n;
    double *dash = dt_art_store_alloc(r->store, n * sizeof *dash), sum = 0;
    for (gsize i = 0; i < n; i++) {
        dash[i] =
            dt_art_px(s->dash.lengths[i % s->dash.n], s, scope, ART_ALONG_BOTH, &r->root) * unit;
        sum += dash[i];
    }
    if (sum > 0 && isfinite(sum)) {
        out->dash = dash;
        out->n_dash = n;
    }
}

/* Browsers draw the square caps of dashes of zero length upright, not along the line as in SVG
 * 2, 13.5.7. */
static void note_square_dots(ArtReader *r, const ArtNode *n, const DtStrokeStyle *s)
{
    for (gsize i = 0; s->cap == DT_CAP_SQUARE && i < s->n_dash; i += 2)
        if (s->dash[i] == 0) {
            dt_art_note(r, n,
                        "dashes of no length with square ends lie along the line; browsers set "
                        "them upright");
            return;
        }
}

static void note_beyond(ArtReader *r, const ArtNode *n)
{
    dt_art_note(r, n, "<%s>: its coordinates are beyond any page: left out", n->local);
}

/* Whether a point is on the path, ignoring points along curves, which would have to be flattened
 * at great cost. */
static gboolean is_beyond(const DtPath *path, DtAffine m)
{
    const DtPoint *q = path->pts;
    for (gsize i = 0; i < path->n_verb; i++) {
        if (path->verb[i] == DT_PATH_CLOSE)
            continue;
        q += path->verb[i] == DT_PATH_CUBIC ? 2 : 0;
        const DtPoint p = dt_affine_apply(m, *q++);
        if (!(fabs(p.x) <= ART_MAX_COORDINATE && fabs(p.y) <= ART_MAX_COORDINATE))
            return TRUE;
    }
    return FALSE;
}

/* Flattened with the page's tolerance; FALSE, with a note, if it is nowhere near a page. */
static gboolean flatten(ArtReader *r, const ArtNode *n, const DtPath *path, DtAffine m,
                        DtLines *out, DtBox *box)
{
    out->n = out->n_pts = 0;
    if (is_beyond(path, m)) {
        note_beyond(r, n);
        return FALSE;
    }
    if (!dt_art_flatten(r, n, path, m, r->tolerance, out))
        return FALSE;
    DtBox b = DT_BOX_EMPTY;
    double sum = 0; /* not finite if any coordinate is not */
    for (gsize i = 0; i < out->n_pts; i++) {
        DtPoint p = out->pts[i];
        b = (DtBox){MIN(b.x0, p.x), MIN(b.y0, p.y), MAX(b.x1, p.x), MAX(b.y1, p.y)};
        sum += p.x * 0 + p.y * 0;
    }
    *box = b;
    if (!isfinite(sum) || b.x0 < -ART_MAX_COORDINATE || b.y0 < -ART_MAX_COORDINATE ||
        b.x1 > ART_MAX_COORDINATE || b.y1 > ART_MAX_COORDINATE) {
        note_beyond(r, n);
        return FALSE;
    }
    r->points += out->n_pts;
    return out->n > 0;
}

static void emit_region(ArtReader *r, const ArtNode *n, const ArtScope *scope, const ArtStyle *s,
                        const DtPath *path)
{
    DtBox box;
    if (!flatten(r, n, path, scope->ctm, &r->scratch, &box))
        return;
    DtClipRegion region = {.rule = (DtFillRule)s->clip_rule, .clip = r->region_clip};
    store_scratch(r, &region.outline);
    g_array_append_val(r->regions, region);
}

/* The box of a stroke is that of the shape in its own units, extended by half the stroke width: an estimate where
 * mitres or square caps may reach farther. */
static DtBox stroke_box(ArtReader *r, const ArtNode *n, const ArtScope *scope, const ArtStyle *s,
                        const DtPath *path)
{
    double half = dt_art_px(s->stroke_width, s, scope, ART_ALONG_BOTH, &r->root) / 2;
    DtBox own = dt_path_box(path, DT_AFFINE_IDENTITY);
    if (dt_box_is_empty(own))
        return own;
    if (n->tag != ART_TAG_RECT && n->tag != ART_TAG_CIRCLE && n->tag != ART_TAG_ELLIPSE)
        r->box_is_estimate = TRUE;
    return dt_affine_apply_box(scope->ctm, dt_box_grow(own, half));
}

static void emit_box(ArtReader *r, const ArtNode *n, const ArtScope *scope, const ArtStyle *s,
                     const DtPath *path)
{
    if (r->box_of_strokes && s->stroke.kind != ART_PAINT_NONE) {
        r->box = dt_box_union(r->box, stroke_box(r, n, scope, s, path));
        return;
    }
    r->box = dt_box_union(r->box, dt_path_box(path, scope->ctm));
}

static gboolean paints(DtPaint p)
{
    return p.kind != DT_PAINT_NONE && p.colour.alpha > 0;
}

static gboolean is_bare_line(const DtLines *l)
{
    for (gsize i = 0; i < l->n; i++)
        if (dt_lines_count(l, i) > 2)
            return FALSE;
    return TRUE;
}

/* A shape whose fill, stroke or both are painted with a pattern. */
typedef struct {
    ArtReader *r;
    const ArtNode *n;
    const ArtScope *scope;
    const ArtStyle *s;
    const DtShape *shape;
    ArtNode *fill, *stroke; /* patterns */
    DtBox object_box, on_page;
} Patterned;

static void emit_fill_layer(const Patterned *p)
{
    ArtReader *r = p->r;
    DtShape one = *p->shape;
    one.stroke.paint.kind = DT_PAINT_NONE;
    if (!p->fill) {
        if (paints(one.fill)) {
            dt_art_store_lines(r, &p->shape->outline, &one.outline);
            dt_art_add_shape(r, &one);
        }
        return;
    }
    DtClipRegion *region = dt_art_store_zero(r->store, sizeof *region);
    region->rule = one.rule;
    region->clip = -1;
    dt_art_store_lines(r, &one.outline, &region->outline);
    int inside = dt_art_add_clip(r, region, 1, one.clip);
    dt_art_pattern_fill(r, p->n, p->fill, p->scope, p->s, p->object_box, inside,
                        p->s->fill_opacity);
}

static void emit_stroke_layer(const Patterned *p)
{
    ArtReader *r = p->r;
    DtShape one = *p->shape;
    one.fill.kind = DT_PAINT_NONE;
    if (!p->stroke) {
        if (paints(one.stroke.paint)) {
            dt_art_store_lines(r, &p->shape->outline, &one.outline);
            dt_art_add_shape(r, &one);
        }
        return;
    }
    int inside;
    if (one.stroke.width > 0 && dt_art_stroke_clip(r, &one, p->on_page, one.clip, &inside))
        dt_art_pattern_fill(r, p->n, p->stroke, p->scope, p->s, p->object_box, inside,
                            p->s->stroke_opacity);
}

static void emit_shape(ArtReader *r, const ArtNode *n, const ArtScope *scope, const ArtStyle *s,
                       const DtPath *path)
{
    DtBox on_page, box = DT_BOX_EMPTY;
    if (!flatten(r, n, path, scope->ctm, &r->scratch, &on_page))
        return;
    if (scope->object_box)
        box = *scope->object_box;
    else if (s->fill.kind == ART_PAINT_SERVER || s->stroke.kind == ART_PAINT_SERVER)
        box = dt_path_box(path, DT_AFFINE_IDENTITY);
    ArtFill fill = dt_art_paint_of(r, n, &s->fill, s->fill_opacity * scope->alpha, s, scope, box);
    ArtFill stroke =
        dt_art_paint_of(r, n, &s->stroke, s->stroke_opacity * scope->alpha, s, scope, box);
    DtShape shape = {.rule = (DtFillRule)s->fill_rule,
                     .fill = fill.paint,
                     .stroke_first =
                         memchr(s->paint_order, 's', 3) < memchr(s->paint_order, 'f', 3),
                     .group = scope->group,
                     .id = n->id,
                     .classes = n->classes,
                     .line = n->line};
    set_stroke(r, s, scope, unit_along(r, n, s, scope, path), &shape.stroke);
    shape.stroke.paint = stroke.paint;
    if (!(shape.stroke.width > 0))
        shape.stroke.paint.kind = DT_PAINT_NONE;
    else
        note_square_dots(r, n, &shape.stroke);
    if (is_bare_line(&r->scratch))
        shape.fill.kind = DT_PAINT_NONE; /* nothing inside */
    gboolean stroked = shape.stroke.paint.kind != DT_PAINT_NONE || stroke.pattern;
    on_page = dt_box_grow(on_page, stroked ? stroke_reach(&shape.stroke) : 0);
    shape.clip = needed_clip(r, scope->clip, on_page);
    dt_art_soften(r, scope, on_page, &shape.fill);
    dt_art_soften(r, scope, on_page, &shape.stroke.paint);
    if (!paints(shape.fill) && !paints(shape.stroke.paint) && !fill.pattern && !stroke.pattern)
        return;
    store_scratch(r, &shape.outline);
    if (!fill.pattern && !stroke.pattern) {
        dt_art_add_shape(r, &shape);
        return;
    }
    Patterned p = {r, n, scope, s, &shape, fill.pattern, stroke.pattern, box, on_page};
    for (int layer = 0; layer < 2; layer++) {
        if ((layer == 0) == shape.stroke_first)
            emit_stroke_layer(&p);
        else
            emit_fill_layer(&p);
    }
}

void dt_art_emit_tone(ArtReader *r, const ArtNode *n, const ArtScope *scope, const DtPath *path,
                      DtPaint paint)
{
    DtBox on_page;
    if (!flatten(r, n, path, scope->ctm, &r->scratch, &on_page))
        return;
    DtShape shape = {
        .fill = paint, .group = scope->group, .id = n->id, .classes = n->classes, .line = n->line};
    shape.stroke.user_to_mm = scope->ctm;
    shape.clip = needed_clip(r, scope->clip, on_page);
    dt_art_soften(r, scope, on_page, &shape.fill);
    store_scratch(r, &shape.outline);
    dt_art_add_shape(r, &shape);
}

void dt_art_emit_path(ArtReader *r, const ArtNode *n, const ArtScope *scope, const ArtStyle *s,
                      DtPath *path)
{
    if (r->error)
        return;
    switch (r->mode) {
    case ART_MODE_CLIP:
        emit_region(r, n, scope, s, path);
        break;
    case ART_MODE_BOX:
        emit_box(r, n, scope, s, path);
        break;
    case ART_MODE_PAINT: {
        gboolean marked = n->tag == ART_TAG_PATH || n->tag == ART_TAG_LINE ||
                          n->tag == ART_TAG_POLYLINE || n->tag == ART_TAG_POLYGON;
        marked = marked && (s->marker_start || s->marker_mid || s->marker_end);
        if (marked && s->paint_order[0] == 'm')
            dt_art_markers(r, n, scope, s, path);
        emit_shape(r, n, scope, s, path);
        if (marked && s->paint_order[0] != 'm')
            dt_art_markers(r, n, scope, s, path);
        break;
    }
    }
}
