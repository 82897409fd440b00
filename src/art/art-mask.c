/* art-mask: areas from pictures. A mask becomes a clip where its luminance times alpha is at least
 * one half (SVG 1.1 14.4): its content is painted, and the half level is traced. A stroke that is
 * painted with a pattern becomes a clip in the same way. */
#include "art-picture.h"

#include <math.h>
#include <stdlib.h>

#define SIDE 1024 /* px along the longer side of what is traced */

/* Tracing -------------------------------------------------------------------------------------- */

/* A picture of levels with an empty border, row by row. */
typedef struct {
    int w, h;
    guint8 *level;
} Levels;

static int level_at(const Levels *l, int x, int y)
{
    return l->level[(gsize)y * (gsize)l->w + (gsize)x];
}

#define HALF 127.5

static double crossing(int a, int b)
{
    return (HALF - a) / (b - a);
}

/* Edges of the grid: of cell (x, y) the top one runs from sample (x,y) to (x+1,y), the left one
 * from (x,y) to (x,y+1). */
typedef enum { TOP, RIGHT, BOTTOM, LEFT } Side;

static DtPoint edge_point(const Levels *l, int x, int y, Side side)
{
    int a = level_at(l, x, y), b = level_at(l, x + 1, y);
    int c = level_at(l, x + 1, y + 1), d = level_at(l, x, y + 1);
    switch (side) {
    case TOP:
        return (DtPoint){x + crossing(a, b), y};
    case RIGHT:
        return (DtPoint){x + 1, y + crossing(b, c)};
    case BOTTOM:
        return (DtPoint){x + crossing(d, c), y + 1};
    default:
        return (DtPoint){x, y + crossing(a, d)};
    }
}

static int corners(const Levels *l, int x, int y)
{
    return (level_at(l, x, y) > HALF) | (level_at(l, x + 1, y) > HALF) << 1 |
           (level_at(l, x + 1, y + 1) > HALF) << 2 | (level_at(l, x, y + 1) > HALF) << 3;
}

/* Where the contour that enters a cell by a side leaves it, the inside on its right; -1 where none
 * enters there. Of the two saddles each keeps its inside corners apart. */
static int leave_by(int c, Side enter)
{
    static const signed char table[16][4] = {
        /* TOP RIGHT BOTTOM LEFT */
        [0] = {-1, -1, -1, -1},     [1] = {LEFT, -1, -1, -1},     [2] = {-1, TOP, -1, -1},
        [3] = {-1, LEFT, -1, -1},   [4] = {-1, -1, RIGHT, -1},    [5] = {LEFT, -1, RIGHT, -1},
        [6] = {-1, -1, TOP, -1},    [7] = {-1, -1, LEFT, -1},     [8] = {-1, -1, -1, BOTTOM},
        [9] = {BOTTOM, -1, -1, -1}, [10] = {-1, TOP, -1, BOTTOM}, [11] = {-1, BOTTOM, -1, -1},
        [12] = {-1, -1, -1, RIGHT}, [13] = {RIGHT, -1, -1, -1},   [14] = {-1, -1, -1, TOP},
        [15] = {-1, -1, -1, -1},
    };
    return table[c][enter];
}

/* Follows one contour from the top edge of cell (x, y) until it is back there. */
static void follow(const Levels *l, int x, int y, guint8 *seen, DtLines *out)
{
    Side enter = TOP;
    int sx = x, sy = y;
    dt_lines_begin(out);
    do {
        if (enter == TOP)
            seen[(gsize)y * (gsize)l->w + (gsize)x] = 1;
        dt_lines_point(out, edge_point(l, x, y, enter));
        int leave = leave_by(corners(l, x, y), enter);
        if (leave < 0)
            break;
        x += leave == RIGHT ? 1 : leave == LEFT ? -1 : 0;
        y += leave == BOTTOM ? 1 : leave == TOP ? -1 : 0;
        enter = (Side)((leave + 2) % 4);
    } while (x != sx || y != sy || enter != TOP);
    dt_lines_close(out);
}

/* Keeps the points of p[0..n) that matter within a quarter pixel: Douglas and Peucker 1973. */
static void thin(const DtPoint *p, gsize from, gsize to, guint8 *keep)
{
    GArray *stack = g_array_new(FALSE, FALSE, 2 * sizeof(gsize));
    gsize range[2] = {from, to};
    g_array_append_vals(stack, range, 1);
    while (stack->len > 0) {
        memcpy(range, stack->data + (stack->len - 1) * sizeof range, sizeof range);
        g_array_set_size(stack, stack->len - 1);
        double worst = 0.25;
        gsize at = 0;
        for (gsize i = range[0] + 1; i < range[1]; i++) {
            double d = dt_point_segment_distance(p[i], p[range[0]], p[range[1]]);
            if (d > worst) {
                worst = d;
                at = i;
            }
        }
        if (at == 0)
            continue;
        keep[at] = 1;
        gsize left[2] = {range[0], at}, right[2] = {at, range[1]};
        g_array_append_vals(stack, left, 1);
        g_array_append_vals(stack, right, 1);
    }
    g_array_free(stack, TRUE);
}

static void append_thinned(DtLines *out, const DtPoint *p, gsize n)
{
    if (n < 3)
        return;
    g_autofree guint8 *keep = g_malloc0(n);
    keep[0] = keep[n / 2] = keep[n - 1] = 1;
    thin(p, 0, n / 2, keep);
    thin(p, n / 2, n - 1, keep);
    dt_lines_begin(out);
    for (gsize i = 0; i < n; i++)
        if (keep[i])
            dt_lines_point(out, p[i]);
    dt_lines_close(out);
}

static void trace(const Levels *l, DtLines *out)
{
    g_autofree guint8 *seen = g_malloc0((gsize)l->w * (gsize)l->h);
    g_auto(DtLines) raw = {0};
    for (int y = 0; y + 1 < l->h; y++)
        for (int x = 0; x + 1 < l->w; x++)
            if (!seen[(gsize)y * (gsize)l->w + (gsize)x] && leave_by(corners(l, x, y), TOP) >= 0)
                follow(l, x, y, seen, &raw);
    for (gsize i = 0; i < raw.n; i++)
        append_thinned(out, dt_lines_at(&raw, i), dt_lines_count(&raw, i));
}

/* Pictures ------------------------------------------------------------------------------------- */

typedef struct {
    DtBox box;    /* of the page that is pictured */
    double scale; /* px per mm */
    int w, h;     /* px, the border of one included on each side */
    cairo_surface_t *surface;
    cairo_t *cr;
} Sheet;

static gboolean sheet_open(DtBox box, Sheet *s)
{
    double side = MAX(dt_box_width(box), dt_box_height(box));
    if (dt_box_is_empty(box) || !(side > 0))
        return FALSE;
    s->box = box;
    s->scale = SIDE / side;
    s->w = (int)ceil(dt_box_width(box) * s->scale) + 2;
    s->h = (int)ceil(dt_box_height(box) * s->scale) + 2;
    s->surface = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, s->w, s->h);
    s->cr = cairo_create(s->surface);
    cairo_rectangle(s->cr, 1, 1, s->w - 2, s->h - 2);
    cairo_clip(s->cr);
    cairo_translate(s->cr, 1, 1);
    cairo_scale(s->cr, s->scale, s->scale);
    cairo_translate(s->cr, -box.x0, -box.y0);
    return TRUE;
}

/* Luminance times alpha by the coefficients of SVG 1.1 14.4, or alpha alone. */
static guint8 level_of(guint32 v, gboolean luminance)
{
    if (!luminance)
        return (guint8)(v >> 24);
    double l = 0.2125 * (v >> 16 & 255) + 0.7154 * (v >> 8 & 255) + 0.0721 * (v & 255);
    return (guint8)MIN(l + 0.5, 255);
}

/* Closes the sheet and traces it: page coordinates. */
static void sheet_trace(Sheet *s, gboolean luminance, DtLines *out)
{
    cairo_destroy(s->cr);
    cairo_surface_flush(s->surface);
    Levels l = {s->w, s->h, g_malloc((gsize)s->w * (gsize)s->h)};
    const guchar *data = cairo_image_surface_get_data(s->surface);
    int stride = cairo_image_surface_get_stride(s->surface);
    for (int y = 0; y < s->h; y++)
        for (int x = 0; x < s->w; x++) {
            guint32 v;
            memcpy(&v, data + (gsize)y * (gsize)stride + (gsize)x * 4, 4);
            l.level[(gsize)y * (gsize)s->w + (gsize)x] = level_of(v, luminance);
        }
    cairo_surface_destroy(s->surface);
    trace(&l, out);
    g_free(l.level);
    /* Samples stand in the middle of their pixels. */
    DtAffine m = dt_affine_then(dt_affine_translate(-0.5, -0.5),
                                dt_affine_scale(1 / s->scale, 1 / s->scale));
    dt_lines_transform(out, dt_affine_then(m, dt_affine_translate(s->box.x0, s->box.y0)));
}

static int clip_from(ArtReader *r, const DtLines *lines, int parent)
{
    DtClipRegion *region = art_store_zero(r->store, sizeof *region);
    region->rule = DT_FILL_EVENODD;
    region->clip = -1;
    art_store_lines(r, lines, &region->outline);
    return art_add_clip(r, region, 1, parent);
}

/* Masks ---------------------------------------------------------------------------------------- */

/* The mask's own region on the page; one that is turned is added to the clip. */
static gboolean mask_region(ArtReader *r, const ArtNode *mask, const ArtStyle *s,
                            const ArtScope *scope, DtBox object, DtBox *out, int *clip)
{
    static const ArtLength low = {-10, ART_UNIT_PERCENT}, size = {120, ART_UNIT_PERCENT};
    const char *units = art_attr(mask, ART_AT_MASK_UNITS);
    gboolean by_box = !units || strcmp(units, "userSpaceOnUse") != 0;
    ArtScope in = *scope;
    if (by_box) {
        if (dt_box_is_empty(object) || !(dt_box_width(object) > 0 && dt_box_height(object) > 0))
            return FALSE;
        in.vw = in.vh = 1;
        DtAffine fit = {dt_box_width(object), 0, 0, dt_box_height(object), object.x0, object.y0};
        in.ctm = dt_affine_then(fit, scope->ctm);
    }
    double x = art_attr_px(r, mask, ART_AT_X, s, &in, ART_ALONG_X, low);
    double y = art_attr_px(r, mask, ART_AT_Y, s, &in, ART_ALONG_Y, low);
    double w = art_attr_px(r, mask, ART_AT_WIDTH, s, &in, ART_ALONG_X, size);
    double h = art_attr_px(r, mask, ART_AT_HEIGHT, s, &in, ART_ALONG_Y, size);
    if (!(w > 0 && h > 0))
        return FALSE;
    DtBox own = {x, y, x + w, y + h};
    *out = dt_affine_apply_box(in.ctm, own);
    if (in.ctm.xy != 0 || in.ctm.yx != 0) /* the box of a turned region is larger */
        *clip = art_add_rect_clip(r, own, in.ctm, *clip);
    *out = dt_box_intersect(*out, dt_box_grow(r->d->view, 1));
    return !dt_box_is_empty(*out);
}

/* Paints the mask's content alone into the sheet. */
static void paint_content(ArtReader *r, ArtNode *mask, const ArtScope *scope, Sheet *sheet)
{
    GArray *outer = r->shapes;
    ArtMode mode = r->mode;
    r->shapes = g_array_new(FALSE, FALSE, sizeof(DtShape));
    r->mode = ART_MODE_PAINT;
    art_walk_children(r, mask, scope);
    ArtPicture a = {(const DtShape *)(void *)r->shapes->data, r->shapes->len,
                    (const DtClip *)(void *)r->clips->data,
                    (const DtGroup *)(void *)r->groups->data};
    art_picture_paint(&a, sheet->cr);
    g_array_free(r->shapes, TRUE);
    r->shapes = outer;
    r->mode = mode;
}

static gboolean mask_clip(ArtReader *r, ArtNode *n, ArtNode *mask, const ArtScope *scope, int *clip)
{
    ArtStyle style;
    art_style_in_place(r, mask, &style);
    ArtScope in = *scope;
    if (!art_go_deeper(r, mask, &in))
        return FALSE;
    const char *content = art_attr(mask, ART_AT_MASK_CONTENT_UNITS);
    DtBox object = scope->object_box ? *scope->object_box : art_node_box(r, n, scope), region;
    if (!mask_region(r, mask, &style, scope, object, &region, clip))
        return FALSE;
    in.style = &style;
    in.clip = -1;
    in.group = -1;
    in.alpha = 1;
    in.object_box = NULL;
    if (content && strcmp(content, "objectBoundingBox") == 0) {
        if (dt_box_is_empty(object))
            return FALSE;
        DtAffine fit = {dt_box_width(object), 0, 0, dt_box_height(object), object.x0, object.y0};
        in.ctm = dt_affine_then(fit, scope->ctm);
        in.vw = in.vh = 1;
    }
    Sheet sheet;
    if (!sheet_open(region, &sheet))
        return FALSE;
    int own = -1;
    if (art_clip_of(r, mask, &style, &in, &own)) {
        in.clip = own;
        paint_content(r, mask, &in, &sheet);
    }
    g_auto(DtLines) lines = {0};
    sheet_trace(&sheet, !style.mask_by_alpha, &lines);
    art_note(r, n->line, "a mask is drawn as a clip where it lets at least half through");
    if (lines.n == 0)
        return FALSE;
    *clip = clip_from(r, &lines, *clip);
    return TRUE;
}

gboolean art_mask_of(ArtReader *r, ArtNode *n, const ArtStyle *s, const ArtScope *scope, int *clip)
{
    ArtNode *mask = art_target(r->doc, s->mask);
    if (!mask || mask->tag != ART_TAG_MASK) {
        art_note(r, n->line, "the mask %.60s is not in this file: not masked", s->mask);
        return TRUE;
    }
    if (mask->busy > 0) {
        art_note(r, n->line, "the mask %.60s masks itself", s->mask);
        return FALSE;
    }
    mask->busy++;
    gboolean shows = mask_clip(r, n, mask, scope, clip);
    mask->busy--;
    return shows;
}

gboolean art_stroke_clip(ArtReader *r, const DtShape *shape, DtBox box, int parent, int *clip)
{
    Sheet sheet;
    box = dt_box_intersect(box, dt_box_grow(r->d->view, 1));
    if (!sheet_open(box, &sheet))
        return FALSE;
    DtShape one = *shape;
    one.fill.kind = DT_PAINT_NONE;
    one.stroke.paint = (DtPaint){.kind = DT_PAINT_FLAT, .colour = {0, 0, 0, 1}};
    one.clip = -1;
    one.group = -1;
    ArtPicture a = {&one, 1, NULL, NULL};
    art_picture_paint(&a, sheet.cr);
    g_auto(DtLines) lines = {0};
    sheet_trace(&sheet, FALSE, &lines);
    if (lines.n == 0)
        return FALSE;
    *clip = clip_from(r, &lines, parent);
    return TRUE;
}
