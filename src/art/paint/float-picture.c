/* float-picture: floating-point pictures for filters and blends. */
#include "art/paint/effect.h"
#include "art/paint/levels.h"

#include <math.h>

#define FAINT 16 /* factor by which alpha is raised for the outline: from 1/32 on it counts */

ArtImage dt_art_image_new(int w, int h)
{
    return (ArtImage){w, h, g_new0(float, (gsize)w *(gsize)h * 4)};
}

#define TABLE 4096 /* steps of the transfer function, well below a level of 8 bits */

static const float *transfer_table(gboolean back)
{
    static float *tables;
    if (g_once_init_enter(&tables)) {
        float *t = g_new(float, 2 * (TABLE + 1));
        for (int i = 0; i <= TABLE; i++) {
            t[i] = (float)dt_art_linear((double)i / TABLE);
            t[TABLE + 1 + i] = (float)dt_art_unlinear((double)i / TABLE);
        }
        g_once_init_leave(&tables, t);
    }
    return back ? tables + TABLE + 1 : tables;
}

void dt_art_image_linear(ArtImage *a, gboolean back)
{
    const float *table = transfer_table(back);
    for (gsize i = 0; i < (gsize)a->w * (gsize)a->h; i++) {
        float *p = a->px + 4 * i;
        if (!(p[3] > 0))
            continue;
        for (int k = 0; k < 3; k++) {
            float v = (float)art_share(p[k] / p[3]) * TABLE;
            int at = (int)v;
            float share = v - (float)at;
            p[k] = (at < TABLE ? table[at] + (table[at + 1] - table[at]) * share : table[TABLE]) *
                   p[3];
        }
    }
}

/* One box of `size` pixels along a line of n units, each `width` floats; its middle is `shift`
 * from the unit. A unit is a pixel of a row, or a whole row: columns are blurred side by side,
 * in memory order. */
static inline void box(const float *from, float *to, int n, int width, int size, int shift,
                       double *sum)
{
    const double share = 1.0 / size;
    for (int k = 0; k < width; k++)
        sum[k] = 0;
    for (int i = MIN(shift - size, 0); i < n; i++) {
        const int enter = i + size - shift, leave = i - shift;
        if (enter >= 0 && enter < n)
            for (int k = 0; k < width; k++)
                sum[k] += from[(gssize)enter * width + k];
        if (leave >= 0 && leave < n)
            for (int k = 0; k < width; k++)
                sum[k] -= from[(gssize)leave * width + k];
        if (i >= 0)
            for (int k = 0; k < width; k++)
                to[(gssize)i * width + k] = (float)(MAX(sum[k], 0) * share);
    }
}

static inline void blur_line(float *line, float *room, int n, int width, int size, double *sum)
{
    int half = size / 2;
    if (size % 2) {
        box(line, room, n, width, size, half + 1, sum);
        box(room, line, n, width, size, half + 1, sum);
        box(line, room, n, width, size, half + 1, sum);
    } else {
        box(line, room, n, width, size, half + 1, sum);
        box(room, line, n, width, size, half, sum);
        box(line, room, n, width, size + 1, half + 1, sum);
    }
    memcpy(line, room, (gsize)n * (gsize)width * sizeof *line);
}

void dt_art_image_blur(ArtImage *a, double across, double down)
{
    const double factor = 3 * sqrt(2 * G_PI) / 4;
    int wide = (int)floor(across * factor + 0.5), high = (int)floor(down * factor + 0.5);
    g_autofree float *room = g_new(float, (gsize)a->w *(gsize)a->h * 4);
    g_autofree double *sums = g_new(double, (gsize)a->w * 4);
    for (int y = 0; y < a->h && wide > 1; y++)
        blur_line(a->px + (gsize)y * (gsize)a->w * 4, room, a->w, 4, MIN(wide, a->w),
                  (double[4]){0});
    if (high > 1)
        blur_line(a->px, room, a->h, a->w * 4, MIN(high, a->h), sums);
}

ArtImage dt_art_image_from(cairo_surface_t *s)
{
    cairo_surface_flush(s);
    ArtImage a =
        dt_art_image_new(cairo_image_surface_get_width(s), cairo_image_surface_get_height(s));
    const guchar *data = cairo_image_surface_get_data(s);
    int stride = cairo_image_surface_get_stride(s);
    for (int y = 0; y < a.h; y++)
        for (int x = 0; x < a.w; x++) {
            guint32 v;
            float *p = a.px + ((gsize)y * (gsize)a.w + (gsize)x) * 4;
            memcpy(&v, data + (gsize)y * (gsize)stride + (gsize)x * 4, 4);
            for (int k = 0; k < 3; k++)
                p[k] = (float)(v >> (16 - 8 * k) & 255) / 255;
            p[3] = (float)(v >> 24) / 255;
        }
    return a;
}

static guint32 pixel_of(const float *p)
{
    guint32 alpha = (guint32)(art_share(p[3]) * 255 + 0.5), v = alpha << 24;
    for (int k = 0; k < 3; k++)
        v |= MIN((guint32)(art_share(p[k]) * 255 + 0.5), alpha) << (16 - 8 * k);
    return v;
}

void dt_art_image_draw(const ArtImage *a, cairo_surface_t *onto, cairo_operator_t how)
{
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, a->w, a->h);
    guint32 *to = (guint32 *)(void *)cairo_image_surface_get_data(s);
    int stride = cairo_image_surface_get_stride(s) / 4;
    for (int y = 0; y < a->h; y++)
        for (int x = 0; x < a->w; x++)
            to[y * stride + x] = pixel_of(a->px + ((gsize)y * (gsize)a->w + (gsize)x) * 4);
    cairo_surface_mark_dirty(s);
    cairo_t *cr = cairo_create(onto);
    cairo_set_source_surface(cr, s, 0, 0);
    cairo_set_operator(cr, how);
    cairo_paint(cr);
    cairo_destroy(cr);
    cairo_surface_destroy(s);
}

ArtImage dt_art_image_of_shapes(ArtReader *r, const ArtPictureSheet *sheet, guint from, guint to,
                                int clip)
{
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, sheet->w, sheet->h);
    cairo_t *cr = cairo_create(surface);
    cairo_translate(cr, 1, 1);
    cairo_scale(cr, sheet->scale, sheet->scale);
    cairo_translate(cr, -sheet->box.x0, -sheet->box.y0);
    guint n = to - from;
    g_autofree DtShape *shapes = g_new(DtShape, n + 1);
    if (n > 0)
        memcpy(shapes, &g_array_index(r->shapes, DtShape, from), n * sizeof *shapes);
    for (guint i = 0; i < n; i++)
        if (shapes[i].clip == clip)
            shapes[i].clip = -1;
    ArtPicture a = {shapes, n, (const DtClip *)(void *)r->clips->data,
                    (const DtGroup *)(void *)r->groups->data};
    dt_art_picture_paint(&a, cr);
    cairo_destroy(cr);
    ArtImage image = dt_art_image_from(surface);
    cairo_surface_destroy(surface);
    return image;
}

/* The outline of everything that is visible at all. */
static void trace(const ArtPictureSheet *sheet, const ArtImage *a, DtLines *out)
{
    gsize n = (gsize)a->w * (gsize)a->h;
    ArtLevels l = {a->w, a->h, g_malloc(n)};
    for (gsize i = 0; i < n; i++)
        l.level[i] = (guint8)MIN(a->px[4 * i + 3] * 255 * FAINT, 255);
    for (int x = 0; x < a->w; x++)
        l.level[x] = l.level[n - 1 - (gsize)x] = 0;
    for (int y = 0; y < a->h; y++)
        l.level[(gsize)y * (gsize)a->w] = l.level[(gsize)(y + 1) * (gsize)a->w - 1] = 0;
    dt_art_levels_trace(&l, out);
    g_free(l.level);
    double k = 1 / sheet->scale;
    dt_lines_transform(out, (DtAffine){k, 0, 0, k, sheet->box.x0 - k / 2, sheet->box.y0 - k / 2});
}

/* Whether a raster picture is among the shapes from number `from` on. */
static gboolean has_raster(const ArtReader *r, guint from)
{
    for (guint i = from; i < r->shapes->len; i++) {
        const DtPaint *fill = &g_array_index(r->shapes, DtShape, i).fill;
        if (fill->kind == DT_PAINT_TONE && fill->tone->raster)
            return TRUE;
    }
    return FALSE;
}

void dt_art_image_emit(ArtReader *r, const ArtNode *n, const ArtScope *scope,
                       const ArtPictureSheet *sheet, const ArtImage *a, guint from)
{
    gsize count = (gsize)a->w * (gsize)a->h;
    guint32 *pixels = dt_art_new_pixels(r, n->line, count);
    const gboolean raster = has_raster(r, from);
    g_array_set_size(r->shapes, from);
    g_auto(DtLines) lines = {0};
    trace(sheet, a, &lines);
    DtAffine to_px = {sheet->scale,
                      0,
                      0,
                      sheet->scale,
                      1 - sheet->box.x0 * sheet->scale,
                      1 - sheet->box.y0 * sheet->scale};
    DtAffine back;
    if (!pixels || lines.n == 0 || !dt_affine_invert(to_px, &back))
        return;
    double sum[4] = {0, 0, 0, 0};
    for (gsize i = 0; i < count; i++) {
        pixels[i] = pixel_of(a->px + 4 * i);
        for (int k = 0; k < 4; k++)
            sum[k] += (double)a->px[4 * i + (gsize)k];
    }
    DtTone *t = dt_art_tone_new(r, ART_TONE_IMAGE, back);
    if (!t || !(sum[3] > 0))
        return;
    t->pixels = pixels;
    t->w = a->w;
    t->h = a->h;
    t->raster = raster;
    DtShape shape = {.rule = DT_FILL_EVENODD,
                     .clip = scope->clip,
                     .id = n->id,
                     .classes = n->classes,
                     .line = n->line};
    shape.fill = (DtPaint){.kind = DT_PAINT_TONE,
                           .colour = {sum[0] / sum[3], sum[1] / sum[3], sum[2] / sum[3],
                                      CLAMP(sum[3] / (double)count, 0.01, 1)},
                           .tone = t};
    shape.stroke.user_to_mm = scope->ctm;
    dt_art_store_lines(r, &lines, &shape.outline);
    r->points += lines.n_pts;
    dt_art_add_shape(r, &shape);
}
