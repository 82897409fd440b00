/* pattern: patterns as shapes, tile by tile (SVG 1.1 13.3). */
#include "art/paint/picture.h"

#include <math.h>

#define MAX_CHAIN 32

typedef struct {
    ArtNode *n[MAX_CHAIN];
    int len;
} Chain;

static Chain chain_of(ArtReader *r, ArtNode *n)
{
    Chain c = {.len = 0};
    while (n && n->tag == ART_TAG_PATTERN && c.len < MAX_CHAIN) {
        for (int i = 0; i < c.len; i++)
            if (c.n[i] == n)
                return c;
        c.n[c.len++] = n;
        n = dt_art_target(r->doc, dt_art_href(n));
    }
    return c;
}

/* The nearest one of the chain that has the attribute; NULL if none has. */
static ArtNode *owner_of(const Chain *c, ArtName name)
{
    for (int i = 0; i < c->len; i++)
        if (dt_art_attr(c->n[i], name))
            return c->n[i];
    return NULL;
}

static gboolean says(const Chain *c, ArtName name, const char *value)
{
    const ArtNode *n = owner_of(c, name);
    return n && strcmp(dt_art_attr(n, name), value) == 0;
}

static double number(ArtReader *r, const Chain *c, ArtName name, const ArtStyle *s,
                     const ArtScope *scope, ArtAlong along)
{
    const ArtNode *n = owner_of(c, name);
    ArtLength zero = {.value = 0, .unit = ART_UNIT_NUMBER};
    return n ? dt_art_attr_px(r, n, name, s, scope, along, zero) : 0;
}

static ArtNode *content_of(const Chain *c)
{
    for (int i = 0; i < c->len; i++)
        for (ArtNode *k = c->n[i]->first; k; k = k->next)
            if (k->tag != ART_TAG_WORDS)
                return c->n[i];
    return NULL;
}

/* Data for one pattern fill. */
typedef struct {
    ArtNode *content;
    ArtStyle style;    /* of the content's parent */
    double x, y, w, h; /* the first tile */
    DtAffine to_page;  /* of the tiles' space */
    DtAffine inner;    /* of the content, relative to a tile's corner */
    double vw, vh;
} Tiling;

static gboolean set_up(ArtReader *r, ArtNode *pattern, const ArtScope *scope, const ArtStyle *s,
                       DtBox box, Tiling *t)
{
    Chain c = chain_of(r, pattern);
    t->content = content_of(&c);
    if (!t->content)
        return FALSE;
    dt_art_style_in_place(r, t->content, &t->style);
    gboolean by_box = !says(&c, ART_AT_PATTERN_UNITS, "userSpaceOnUse");
    gboolean content_by_box = says(&c, ART_AT_PATTERN_CONTENT_UNITS, "objectBoundingBox");
    double bw = dt_box_width(box), bh = dt_box_height(box);
    if ((by_box || content_by_box) && !(bw > 0 && bh > 0))
        return FALSE;
    ArtScope units = *scope;
    if (by_box)
        units.vw = units.vh = 1;
    t->x = number(r, &c, ART_AT_X, s, &units, ART_ALONG_X);
    t->y = number(r, &c, ART_AT_Y, s, &units, ART_ALONG_Y);
    t->w = number(r, &c, ART_AT_WIDTH, s, &units, ART_ALONG_X);
    t->h = number(r, &c, ART_AT_HEIGHT, s, &units, ART_ALONG_Y);
    if (by_box) {
        t->x = box.x0 + t->x * bw;
        t->y = box.y0 + t->y * bh;
        t->w *= bw;
        t->h *= bh;
    }
    t->to_page = scope->ctm;
    t->to_page = dt_affine_then(
        dt_art_server_map(r, (const ArtNode *const *)c.n, c.len, ART_AT_PATTERN_TRANSFORM, scope),
        scope->ctm);
    t->inner = DT_AFFINE_IDENTITY;
    t->vw =
        scope
            ->vw; /* a pattern is no viewport for percentages (SVG 2, 8.2), whatever its view box */
    t->vh = scope->vh;
    ArtNode *viewed = owner_of(&c, ART_AT_VIEW_BOX);
    if (viewed) {
        DtBox view;
        gboolean slice;
        if (!dt_art_view_map(r, viewed, t->w, t->h, &t->inner, &view, &slice))
            return FALSE;
    } else if (content_by_box) {
        t->inner = dt_affine_scale(bw, bh);
        t->vw = t->vh = 1;
    }
    return t->w > 0 && t->h > 0;
}

gboolean dt_art_pattern_paints(ArtReader *r, ArtNode *pattern, const ArtScope *scope,
                               const ArtStyle *s, DtBox box)
{
    Tiling t;
    return set_up(r, pattern, scope, s, box, &t);
}

static void draw_tile(ArtReader *r, const Tiling *t, const ArtScope *scope, double i, double j)
{
    ArtScope in = *scope;
    DtAffine corner =
        dt_affine_then(dt_affine_translate(t->x + i * t->w, t->y + j * t->h), t->to_page);
    /* SVG 1.1, 13.3 leaves tiles that overflow undefined; other readers clip all of them. */
    in.clip = dt_art_add_rect_clip(r, (DtBox){0, 0, t->w, t->h}, corner, scope->clip);
    in.ctm = dt_affine_then(t->inner, corner);
    dt_art_walk_children(r, t->content, &in);
}

/* The mean colour of one tile, for tiles too many to draw. */
static DtColour mean_of_tile(ArtReader *r, const Tiling *t, const ArtScope *scope)
{
    enum { SIDE = 32 };
    guint shapes = r->shapes->len;
    ArtScope in = *scope;
    in.clip = in.group = -1;
    in.soft = NULL;
    draw_tile(r, t, &in, 0, 0);
    DtAffine corner = dt_affine_then(dt_affine_translate(t->x, t->y), t->to_page), back;
    DtColour sum = {0, 0, 0, 0};
    if (dt_affine_invert(corner, &back)) {
        cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, SIDE, SIDE);
        cairo_t *cr = cairo_create(surface);
        cairo_scale(cr, SIDE / t->w, SIDE / t->h);
        cairo_matrix_t m;
        cairo_matrix_init(&m, back.xx, back.yx, back.xy, back.yy, back.x0, back.y0);
        cairo_transform(cr, &m);
        ArtPicture a = {(const DtShape *)(void *)r->shapes->data + shapes, r->shapes->len - shapes,
                        (const DtClip *)(void *)r->clips->data,
                        (const DtGroup *)(void *)r->groups->data};
        dt_art_picture_paint(&a, cr);
        cairo_destroy(cr);
        cairo_surface_flush(surface);
        const guchar *p = cairo_image_surface_get_data(surface);
        for (int i = 0; i < SIDE * SIDE; i++, p += 4) {
            guint32 v;
            memcpy(&v, p, 4);
            sum.alpha += (v >> 24) / 255.0;
            sum.r += (v >> 16 & 255) / 255.0;
            sum.g += (v >> 8 & 255) / 255.0;
            sum.b += (v & 255) / 255.0;
        }
        cairo_surface_destroy(surface);
    }
    g_array_set_size(r->shapes, shapes);
    if (!(sum.alpha > 0))
        return sum;
    return (DtColour){sum.r / sum.alpha, sum.g / sum.alpha, sum.b / sum.alpha,
                      sum.alpha / (SIDE * SIDE)};
}

static void flat_instead(ArtReader *r, const ArtNode *n, const Tiling *t, const ArtScope *scope,
                         int clip)
{
    dt_art_note(r, n, "a pattern of more than %d tiles is painted as its mean colour",
                ART_MAX_TILES);
    const DtClipRegion *region = &g_array_index(r->clips, DtClip, clip).regions[0];
    DtShape shape = {.rule = region->rule,
                     .fill = {.kind = DT_PAINT_FLAT, .colour = mean_of_tile(r, t, scope)},
                     .clip = g_array_index(r->clips, DtClip, clip).parent,
                     .group = scope->group,
                     .id = n->id,
                     .classes = n->classes,
                     .line = n->line};
    shape.stroke.user_to_mm = scope->ctm;
    DtLines outline = g_array_index(r->clips, DtClip, clip).regions[0].outline;
    dt_art_store_lines(r, &outline, &shape.outline);
    dt_art_soften(r, scope, dt_lines_box(&outline), &shape.fill);
    if (shape.fill.colour.alpha > 0)
        dt_art_add_shape(r, &shape);
}

/* The cost of a tile in plain shapes, so that an exponential pattern is refused before it is
 * expanded. */
static double weight_of(const ArtNode *content)
{
    double weight = 0;
    for (const ArtNode *n = content->first; n; n = n->next) {
        if (n->tag == ART_TAG_WORDS)
            continue;
        const char *stroke = dt_art_attr(n, ART_P_STROKE), *style = dt_art_attr(n, ART_AT_STYLE);
        gboolean traced = (stroke && strstr(stroke, "url(")) ||
                          (style && strstr(style, "stroke:url(")) || dt_art_attr(n, ART_P_MASK) ||
                          dt_art_attr(n, ART_P_FILTER);
        weight += n->tag == ART_TAG_TEXT ? 32 : traced ? 500 : n->tag == ART_TAG_USE ? 2 : 1;
        weight += n->tag == ART_TAG_TEXT ? 0 : weight_of(n);
    }
    return weight;
}

static void draw_tiles(ArtReader *r, const ArtNode *n, const Tiling *t, const ArtScope *scope,
                       DtBox page_box, int clip)
{
    DtAffine back;
    if (!dt_affine_invert(t->to_page, &back))
        return;
    DtBox b = dt_affine_apply_box(back, page_box);
    /* A tile that only touches the region does not count. */
    const double touch = 1e-6;
    double i0 = floor((b.x0 - t->x) / t->w + touch), i1 = ceil((b.x1 - t->x) / t->w - touch);
    double j0 = floor((b.y0 - t->y) / t->h + touch), j1 = ceil((b.y1 - t->y) / t->h - touch);
    if (!((i1 - i0) * (j1 - j0) <= ART_MAX_TILES)) {
        flat_instead(r, n, t, scope, clip);
        return;
    }
    r->tiled += (i1 - i0) * (j1 - j0) * weight_of(t->content);
    if (r->tiled > ART_MAX_TILED)
        dt_art_fail(r, n->line, "its patterns unfold to more than %u elements",
                    (unsigned)ART_MAX_TILED);
    for (double j = j0; j < j1; j++)
        for (double i = i0; i < i1 && !r->error; i++)
            draw_tile(r, t, scope, i, j);
}

void dt_art_pattern_fill(ArtReader *r, const ArtNode *n, ArtNode *pattern, const ArtScope *scope,
                         const ArtStyle *s, DtBox box, int clip, double opacity)
{
    if (pattern->busy > 0) {
        dt_art_note(r, n, "a pattern paints itself: left out");
        return;
    }
    Tiling t;
    ArtScope in = *scope;
    pattern->busy++;
    if (dt_art_go_deeper(r, pattern, &in) && set_up(r, pattern, scope, s, box, &t)) {
        in.style = &t.style;
        in.clip = clip;
        in.alpha *= opacity;
        in.vw = t.vw;
        in.vh = t.vh;
        in.object_box = NULL;
        if (opacity < 1)
            in.group = dt_art_add_group(r, pattern, &in, opacity, NULL);
        DtBox region = dt_lines_box(&g_array_index(r->clips, DtClip, clip).regions[0].outline);
        region = dt_box_intersect(region, dt_box_grow(r->d->view, dt_box_width(r->d->view)));
        if (!dt_box_is_empty(region))
            draw_tiles(r, n, &t, &in, region, clip);
    }
    pattern->busy--;
}
