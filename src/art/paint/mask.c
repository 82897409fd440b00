/* mask: converts pictures to areas. A mask becomes a clip where its luminance times alpha is at
 * least one half (SVG 1.1 14.4): its content is painted, and the half level is traced. How much
 * it lets through there becomes opacity. A stroke that is painted with a pattern becomes a clip
 * in the same way. */
#include "art/paint/levels.h"
#include "art/paint/picture.h"

#include <math.h>

#define SIDE 1024      /* px along the longer side of a traced picture, */
#define PAGE_SIDE 4096 /* but no finer than these along the page */
#define COARSE 8       /* coarser by this factor once half of the budget for tracing is used */

/* Pictures ------------------------------------------------------------------------------------- */

gboolean dt_art_sheet_open(ArtReader *r, int line, DtBox box, double px, ArtPictureSheet *s)
{
    DtBox page = r->d->view;
    double side = MAX(dt_box_width(box), dt_box_height(box));
    if (dt_box_is_empty(box) || !(side > 0))
        return FALSE;
    s->box = box;
    double fineness = r->traced > ART_MAX_TRACED / 2 ? 1.0 / COARSE : 1;
    s->scale = fineness * MIN(px / side, PAGE_SIDE / MAX(dt_box_width(page), dt_box_height(page)));
    s->w = (int)ceil(dt_box_width(box) * s->scale) + 2;
    s->h = (int)ceil(dt_box_height(box) * s->scale) + 2;
    r->traced += (gsize)s->w * (gsize)s->h;
    if (r->traced > ART_MAX_TRACED) {
        dt_art_fail(r, line, "its masks have more than %u million pixels together",
                    (unsigned)(ART_MAX_TRACED >> 20));
        return FALSE;
    }
    s->surface = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, s->w, s->h);
    s->cr = cairo_create(s->surface);
    cairo_rectangle(s->cr, 1, 1, s->w - 2, s->h - 2);
    cairo_clip(s->cr);
    cairo_translate(s->cr, 1, 1);
    cairo_scale(s->cr, s->scale, s->scale);
    cairo_translate(s->cr, -box.x0, -box.y0);
    return TRUE;
}

typedef enum { BY_ALPHA, BY_LUMINANCE, BY_LINEAR_LUMINANCE } Measure;

/* Luminance times alpha by the coefficients of SVG 1.1 14.4, or alpha alone. */
static guint8 level_of(guint32 v, Measure measure)
{
    guint32 alpha = v >> 24;
    if (measure == BY_ALPHA || alpha == 0)
        return (guint8)alpha;
    double c[3];
    for (int i = 0; i < 3; i++) {
        c[i] = v >> (16 - 8 * i) & 255;
        if (measure == BY_LINEAR_LUMINANCE)
            c[i] = dt_art_linear(MIN(c[i] / alpha, 1)) * alpha;
    }
    return (guint8)MIN(0.2125 * c[0] + 0.7154 * c[1] + 0.0721 * c[2] + 0.5, 255);
}

/* Closes the sheet; the levels are freed with g_free(). */
static ArtLevels sheet_close(ArtPictureSheet *s, Measure measure)
{
    cairo_destroy(s->cr);
    cairo_surface_flush(s->surface);
    ArtLevels l = {s->w, s->h, g_malloc((gsize)s->w * (gsize)s->h)};
    const guchar *data = cairo_image_surface_get_data(s->surface);
    int stride = cairo_image_surface_get_stride(s->surface);
    guint32 before = 0;
    for (int y = 0; y < s->h; y++)
        for (int x = 0; x < s->w; x++) {
            guint32 v;
            memcpy(&v, data + (gsize)y * (gsize)stride + (gsize)x * 4, 4);
            guint8 *level = &l.level[(gsize)y * (gsize)s->w + (gsize)x];
            *level = x > 0 && v == before ? level[-1] : level_of(v, measure);
            before = v;
        }
    cairo_surface_destroy(s->surface);
    return l;
}

/* From the page to the sheet's pixels, whose samples are at their centres. */
DtAffine dt_art_sheet_map(const ArtPictureSheet *s)
{
    return (DtAffine){s->scale, 0, 0, s->scale, 1 - s->box.x0 * s->scale, 1 - s->box.y0 * s->scale};
}

/* The half level: page coordinates. */
static void trace(const ArtPictureSheet *s, const ArtLevels *l, DtLines *out)
{
    dt_art_levels_trace(l, out);
    double k = 1 / s->scale;
    dt_lines_transform(out, (DtAffine){k, 0, 0, k, s->box.x0 - k / 2, s->box.y0 - k / 2});
}

static int clip_from(ArtReader *r, const DtLines *lines, int parent)
{
    DtClipRegion *region = dt_art_store_zero(r->store, sizeof *region);
    region->rule = DT_FILL_EVENODD;
    region->clip = -1;
    dt_art_store_lines(r, lines, &region->outline);
    return dt_art_add_clip(r, region, 1, parent);
}

/* Masks ---------------------------------------------------------------------------------------- */

/* The mask's own region on the page; if it is rotated it is added to the clip. */
static gboolean mask_region(ArtReader *r, const ArtNode *mask, const ArtStyle *s,
                            const ArtScope *scope, DtBox object, DtBox *out, int *clip)
{
    static const ArtLength low = {.value = -10, .unit = ART_UNIT_PERCENT},
                           size = {.value = 120, .unit = ART_UNIT_PERCENT};
    const char *units = dt_art_attr(mask, ART_AT_MASK_UNITS);
    gboolean by_box = !units || strcmp(units, "userSpaceOnUse") != 0;
    ArtScope in = *scope;
    if (by_box) {
        if (dt_box_is_empty(object) || !(dt_box_width(object) > 0 && dt_box_height(object) > 0))
            return FALSE;
        in.vw = in.vh = 1;
        DtAffine fit = {dt_box_width(object), 0, 0, dt_box_height(object), object.x0, object.y0};
        in.ctm = dt_affine_then(fit, scope->ctm);
    }
    double x = dt_art_attr_px(r, mask, ART_AT_X, s, &in, ART_ALONG_X, low);
    double y = dt_art_attr_px(r, mask, ART_AT_Y, s, &in, ART_ALONG_Y, low);
    double w = dt_art_attr_px(r, mask, ART_AT_WIDTH, s, &in, ART_ALONG_X, size);
    double h = dt_art_attr_px(r, mask, ART_AT_HEIGHT, s, &in, ART_ALONG_Y, size);
    if (!(w > 0 && h > 0))
        return FALSE;
    DtBox own = {x, y, x + w, y + h};
    *out = dt_affine_apply_box(in.ctm, own);
    if (in.ctm.xy != 0 || in.ctm.yx != 0) /* the box of a rotated region is larger */
        *clip = dt_art_add_rect_clip(r, own, in.ctm, *clip);
    *out = dt_box_intersect(*out, dt_box_grow(r->d->view, 1));
    return !dt_box_is_empty(*out);
}

/* Paints the mask's content alone into the sheet. */
static void paint_content(ArtReader *r, ArtNode *mask, const ArtScope *scope,
                          ArtPictureSheet *sheet)
{
    GArray *outer = r->shapes;
    ArtMode mode = r->mode;
    r->shapes = g_array_new(FALSE, FALSE, sizeof(DtShape));
    r->mode = ART_MODE_PAINT;
    dt_art_walk_children(r, mask, scope);
    ArtPicture a = {(const DtShape *)(void *)r->shapes->data, r->shapes->len,
                    (const DtClip *)(void *)r->clips->data,
                    (const DtGroup *)(void *)r->groups->data};
    dt_art_picture_paint(&a, sheet->cr);
    g_array_free(r->shapes, TRUE);
    r->shapes = outer;
    r->mode = mode;
}

/* The result for a mask where it was last used, which is the same for many elements in one
 * place. */
typedef struct {
    DtAffine ctm;
    DtBox region;
    double vw, vh;
    const DtSoft *outer;
    int parent;
    gboolean shows;
    ArtCut cut;
} Known;

static gboolean is_same(const Known *a, const Known *b)
{
    return art_same_map(a->ctm, b->ctm) && a->region.x0 == b->region.x0 &&
           a->region.y0 == b->region.y0 && a->region.x1 == b->region.x1 &&
           a->region.y1 == b->region.y1 && a->vw == b->vw && a->vh == b->vh &&
           a->outer == b->outer && a->parent == b->parent;
}

/* Makes the cut of a mask whose content is placed by `in`. */
static gboolean cut_region(ArtReader *r, ArtNode *mask, const ArtStyle *style, ArtScope *in,
                           DtBox region, ArtCut *cut)
{
    ArtPictureSheet sheet;
    ArtCut own;
    if (!dt_art_sheet_open(r, mask->line, region, SIDE, &sheet))
        return FALSE;
    if (dt_art_clip_of(r, mask, style, in, &own)) {
        in->clip = own.clip;
        in->soft = own.soft;
        in->alpha = own.level;
        in->group = dt_art_add_group(r, mask, in, own.level, own.soft);
        paint_content(r, mask, in, &sheet);
    }
    Measure measure = style->mask_by_alpha    ? BY_ALPHA
                      : style->linear_colours ? BY_LINEAR_LUMINANCE
                                              : BY_LUMINANCE;
    ArtLevels l = sheet_close(&sheet, measure);
    g_auto(DtLines) lines = {0};
    trace(&sheet, &l, &lines);
    if (lines.n > 0) {
        double even;
        const DtSoft *soft =
            dt_art_mask_alpha_new(r, &l, dt_art_sheet_map(&sheet), cut->soft, &even);
        if (soft)
            cut->soft = soft;
        else
            cut->level *= even;
        cut->clip = clip_from(r, &lines, cut->clip);
    }
    g_free(l.level);
    return lines.n > 0;
}

static gboolean cut_by(ArtReader *r, ArtNode *n, ArtNode *mask, const ArtScope *scope, ArtCut *cut)
{
    ArtStyle style;
    dt_art_style_in_place(r, mask, &style);
    ArtScope in = *scope;
    if (!dt_art_go_deeper(r, mask, &in))
        return FALSE;
    const char *content = dt_art_attr(mask, ART_AT_MASK_CONTENT_UNITS);
    DtBox object = scope->object_box ? *scope->object_box : dt_art_node_box(r, n, scope), region;
    if (!mask_region(r, mask, &style, scope, object, &region, &cut->clip))
        return FALSE;
    in.style = &style;
    in.clip = -1;
    in.group = -1;
    in.alpha = 1;
    in.soft = NULL;
    in.object_box = NULL;
    if (content && strcmp(content, "objectBoundingBox") == 0) {
        if (dt_box_is_empty(object))
            return FALSE;
        DtAffine fit = {dt_box_width(object), 0, 0, dt_box_height(object), object.x0, object.y0};
        in.ctm = dt_affine_then(fit, scope->ctm);
        in.vw = in.vh = 1;
    }
    Known here = {in.ctm, region, in.vw, in.vh, cut->soft, cut->clip, FALSE, *cut};
    Known *known = g_hash_table_lookup(r->memo, mask);
    if (!known || !is_same(known, &here)) {
        here.shows = cut_region(r, mask, &style, &in, region, &here.cut);
        if (!known)
            known = dt_art_store_alloc(r->store, sizeof *known);
        *known = here;
        g_hash_table_insert(r->memo, mask, known);
        dt_art_note(r, n,
                    "a mask is drawn as a clip where it lets at least half through, and as opacity "
                    "inside");
    }
    *cut = known->cut;
    return known->shows;
}

gboolean dt_art_mask_of(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope,
                        ArtCut *cut)
{
    ArtNode *mask = dt_art_target(r->doc, s->mask);
    if (!mask || mask->tag != ART_TAG_MASK) {
        dt_art_note(r, n, "the mask %.60s is not in this file: not masked", s->mask);
        return TRUE;
    }
    if (mask->busy > 0) {
        dt_art_note(r, n, "the mask %.60s masks itself", s->mask);
        return FALSE;
    }
    mask->busy++;
    gboolean shows = cut_by(r, n, mask, scope, cut);
    mask->busy--;
    return shows;
}

gboolean dt_art_stroke_clip(ArtReader *r, const DtShape *shape, DtBox box, int parent, int *clip)
{
    ArtPictureSheet sheet;
    box = dt_box_intersect(box, dt_box_grow(r->d->view, 1));
    if (!dt_art_sheet_open(r, shape->line, box, SIDE, &sheet))
        return FALSE;
    DtShape one = *shape;
    one.fill.kind = DT_PAINT_NONE;
    one.stroke.paint = (DtPaint){.kind = DT_PAINT_FLAT, .colour = {0, 0, 0, 1}};
    one.clip = -1;
    one.group = -1;
    ArtPicture a = {&one, 1, NULL, NULL};
    dt_art_picture_paint(&a, sheet.cr);
    g_auto(DtLines) lines = {0};
    ArtLevels l = sheet_close(&sheet, BY_ALPHA);
    trace(&sheet, &l, &lines);
    g_free(l.level);
    if (lines.n == 0)
        return FALSE;
    *clip = clip_from(r, &lines, parent);
    return TRUE;
}
