/* features: drawings of one feature each, and pictures of them. */
#include "support/features.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WRAP_OPEN                                                                                  \
    "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" "      \
    "width=\"100\" height=\"100\" viewBox=\"0 0 100 100\">"
#define GOOD 0.98
#define GOOD_FAINT 0.96
#define COLOUR_STEP 16
#define TILE_STEP 24

static void feature_free(void *p)
{
    Feature *f = p;
    g_free(f->name);
    g_free(f->svg);
    g_free(f);
}

static char *fill_in(const char *pattern, const char *value)
{
    const char *mark = pattern ? strchr(pattern, '%') : NULL;
    if (!mark)
        return g_strdup(value);
    return g_strdup_printf("%.*s%s%s", (int)(mark - pattern), pattern, value, mark + 1);
}

static void add_line(GPtrArray *out, const char *pattern, char *line)
{
    char *tab = strchr(line, '\t');
    if (!tab)
        return;
    *tab = '\0';
    g_autofree char *body = fill_in(pattern, tab + 1);
    gboolean whole = g_str_has_prefix(body, "<svg") || g_str_has_prefix(body, "<?");
    Feature *f = g_new0(Feature, 1);
    f->name = g_strdup(line);
    f->svg = whole ? g_strdup(body) : g_strconcat(WRAP_OPEN, body, "</svg>", NULL);
    f->len = strlen(f->svg);
    g_ptr_array_add(out, f);
}

static void add_table(GPtrArray *out, char *text)
{
    const char *pattern = NULL;
    for (char *line = text, *next; line; line = next) {
        next = strchr(line, '\n');
        if (next)
            *next++ = '\0';
        if (line[0] == '=')
            pattern = line[1] ? line + 2 : NULL;
        else if (line[0] != '#' && line[0] != '\0')
            add_line(out, pattern, line);
    }
}

static gboolean add_file(GPtrArray *out, const char *folder, const char *name, GError **error)
{
    gboolean table = g_str_has_suffix(name, ".txt");
    if (!table && !g_str_has_suffix(name, ".svg"))
        return TRUE;
    g_autofree char *path = g_build_filename(folder, name, NULL);
    char *text = NULL;
    gsize len = 0;
    if (!g_file_get_contents(path, &text, &len, error))
        return FALSE;
    if (table) {
        add_table(out, text);
        g_free(text);
        return TRUE;
    }
    Feature *f = g_new0(Feature, 1);
    *f = (Feature){g_strdup(name), text, len};
    g_ptr_array_add(out, f);
    return TRUE;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

GPtrArray *features_read(const char *folder, GError **error)
{
    GDir *dir = g_dir_open(folder, 0, error);
    if (!dir)
        return NULL;
    g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
    const char *name;
    while ((name = g_dir_read_name(dir)))
        g_ptr_array_add(names, g_strdup(name));
    g_dir_close(dir);
    g_ptr_array_sort(names, by_name);
    GPtrArray *out = g_ptr_array_new_with_free_func(feature_free);
    for (guint i = 0; i < names->len; i++)
        if (!add_file(out, folder, names->pdata[i], error)) {
            g_ptr_array_unref(out);
            return NULL;
        }
    return out;
}

void features_size(const DtDrawing *d, int *w, int *h)
{
    double page_w = d ? dt_box_width(d->view) : 1, page_h = d ? dt_box_height(d->view) : 1;
    double k = FEATURE_SIDE / MAX(page_w, page_h);
    *w = (int)MAX(1, round(page_w * k));
    *h = (int)MAX(1, round(page_h * k));
}

cairo_surface_t *features_paint(const DtDrawing *d)
{
    int w, h;
    features_size(d, &w, &h);
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, w, h);
    cairo_t *cr = cairo_create(s);
    cairo_scale(cr, w / dt_box_width(d->view), h / dt_box_height(d->view));
    cairo_translate(cr, -d->view.x0, -d->view.y0);
    dt_art_paint(d, cr);
    cairo_destroy(cr);
    cairo_surface_flush(s);
    return s;
}

static const guint32 *row_of(cairo_surface_t *s, int y)
{
    return (const guint32 *)(const void *)(cairo_image_surface_get_data(s) +
                                           y * cairo_image_surface_get_stride(s));
}

/* Whether premultiplied colours over white agree. */
static gboolean agree(guint32 a, guint32 b, int step)
{
    int white_a = 255 - (int)(a >> 24), white_b = 255 - (int)(b >> 24);
    for (int shift = 0; shift <= 16; shift += 8) {
        int u = (int)(a >> shift & 255) + white_a, v = (int)(b >> shift & 255) + white_b;
        if (abs(u - v) > step)
            return FALSE;
    }
    return TRUE;
}

FeatureMatch features_match(cairo_surface_t *a, cairo_surface_t *b)
{
    int w = cairo_image_surface_get_width(a), h = cairo_image_surface_get_height(a);
    gsize both = 0, either = 0, faint_both = 0, faint_either = 0, same = 0;
    for (int y = 0; y < h; y++) {
        const guint32 *p = row_of(a, y), *q = row_of(b, y);
        for (int x = 0; x < w; x++) {
            guint32 u = p[x] >> 24, v = q[x] >> 24;
            both += u >= 128 && v >= 128;
            either += u >= 128 || v >= 128;
            faint_both += u >= 16 && v >= 16;
            faint_either += u >= 16 || v >= 16;
            same += u >= 16 && v >= 16 && agree(p[x], q[x], COLOUR_STEP);
        }
    }
    FeatureMatch m = {1, 1, 1, FALSE};
    if (either)
        m.iou = (double)both / (double)either;
    if (faint_either)
        m.faint = (double)faint_both / (double)faint_either;
    if (faint_both)
        m.colour = (double)same / (double)faint_both;
    m.same = m.iou >= GOOD && m.faint >= GOOD_FAINT && m.colour >= GOOD;
    return m;
}

void features_tile(cairo_surface_t *picture, guint32 *out, int stride)
{
    enum { STEP = FEATURE_SIDE / FEATURE_TILE };
    int w = cairo_image_surface_get_width(picture), h = cairo_image_surface_get_height(picture);
    for (int ty = 0; ty < FEATURE_TILE; ty++)
        for (int tx = 0; tx < FEATURE_TILE; tx++) {
            guint32 sum[4] = {0, 0, 0, 0}, v = 0;
            for (int y = ty * STEP; y < MIN((ty + 1) * STEP, h); y++)
                for (int x = tx * STEP; x < MIN((tx + 1) * STEP, w); x++)
                    for (int k = 0; k < 4; k++)
                        sum[k] += row_of(picture, y)[x] >> (8 * k) & 255;
            for (int k = 0; k < 4; k++)
                v |= (sum[k] + STEP * STEP / 2) / (STEP * STEP) << (8 * k);
            out[ty * stride + tx] = v;
        }
}

double features_tile_difference(const guint32 *a, int stride_a, const guint32 *b, int stride_b)
{
    int differ = 0;
    for (int y = 0; y < FEATURE_TILE; y++)
        for (int x = 0; x < FEATURE_TILE; x++)
            differ += !agree(a[y * stride_a + x], b[y * stride_b + x], TILE_STEP);
    return (double)differ / (FEATURE_TILE * FEATURE_TILE);
}
