/* features: drawings of one feature each, and pictures of them. */
#include "support/feature-table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WRAP_OPEN                                                                                  \
    "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" "      \
    "width=\"100\" height=\"100\" viewBox=\"0 0 100 100\">"
#define GOOD 0.98
#define FAINT 16
#define COLOUR_STEP 16
#define SMALL_SIDE (6 * FEATURE_TILE) /* px: enough for means */

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
    gboolean whole = g_str_has_prefix(body, "<svg xmlns") || g_str_has_prefix(body, "<?");
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

void features_size(const DtDrawing *d, int side, int *w, int *h)
{
    double page_w = d ? dt_box_width(d->view) : 1, page_h = d ? dt_box_height(d->view) : 1;
    double k = side / MAX(page_w, page_h);
    *w = (int)MAX(1, round(page_w * k));
    *h = (int)MAX(1, round(page_h * k));
}

cairo_surface_t *features_paint(const DtDrawing *d, int side, cairo_antialias_t edges)
{
    int w, h;
    features_size(d, side, &w, &h);
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, w, h);
    cairo_t *cr = cairo_create(s);
    cairo_set_antialias(cr, edges);
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

static int over_white(guint32 v, int shift)
{
    return (int)(v >> shift & 255) + 255 - (int)(v >> 24);
}

/* Of premultiplied colours over white, in the channel where they differ most, 0 to 255. */
static int most_apart(guint32 a, guint32 b)
{
    int most = 0;
    for (int shift = 0; shift <= 16; shift += 8)
        most = MAX(most, abs(over_white(a, shift) - over_white(b, shift)));
    return most;
}

typedef struct {
    const guint32 *pixels;
    int w, h, stride;
} View;

static View view_of(cairo_surface_t *s)
{
    return (View){row_of(s, 0), cairo_image_surface_get_width(s), cairo_image_surface_get_height(s),
                  cairo_image_surface_get_stride(s) / 4};
}

typedef struct {
    gsize painted, met;     /* at least half, and where the other is so within a pixel */
    gsize faint, faint_met; /* at all */
    gsize same;             /* of the latter: with the other's colour within a pixel */
} Count;

/* The least and the most of each channel over white. */
typedef struct {
    int least[3], most[3];
} Range;

static void widen(Range *r, guint32 v)
{
    for (int k = 0; k < 3; k++) {
        int c = over_white(v, 8 * k);
        r->least[k] = MIN(r->least[k], c);
        r->most[k] = MAX(r->most[k], c);
    }
}

static gboolean is_within(const Range *r, guint32 v)
{
    for (int k = 0; k < 3; k++) {
        int c = over_white(v, 8 * k);
        if (c < r->least[k] - COLOUR_STEP || c > r->most[k] + COLOUR_STEP)
            return FALSE;
    }
    return TRUE;
}

/* Counts the pixels of one picture that the other has at the same place or beside it: browsers fit
 * letters to their pixels. */
static Count count_met(View a, View b)
{
    Count n = {0};
    for (int y = 0; y < a.h; y++)
        for (int x = 0; x < a.w; x++) {
            guint32 v = a.pixels[y * a.stride + x];
            if (v >> 24 < FAINT)
                continue;
            guint32 most = 0;
            Range range = {{255, 255, 255}, {0, 0, 0}};
            for (int w = MAX(y - 1, 0); w <= MIN(y + 1, b.h - 1); w++)
                for (int u = MAX(x - 1, 0); u <= MIN(x + 1, b.w - 1); u++) {
                    guint32 o = b.pixels[w * b.stride + u];
                    most = MAX(most, o >> 24);
                    widen(&range, o);
                }
            n.painted += v >> 24 >= 128;
            n.met += v >> 24 >= 128 && most >= 128;
            n.faint++;
            n.faint_met += most >= FAINT;
            n.same += most >= FAINT && is_within(&range, v);
        }
    return n;
}

static double share(gsize part, gsize whole)
{
    return whole ? (double)part / (double)whole : 1;
}

FeatureMatch features_match(cairo_surface_t *a, cairo_surface_t *b)
{
    Count p = count_met(view_of(a), view_of(b)), q = count_met(view_of(b), view_of(a));
    FeatureMatch m = {.iou = share(p.met + q.met, p.painted + q.painted),
                      .faint = share(p.faint_met + q.faint_met, p.faint + q.faint),
                      .colour = share(p.same + q.same, p.faint_met + q.faint_met)};
    m.same = m.iou >= GOOD && m.faint >= GOOD && m.colour >= GOOD;
    return m;
}

void features_tile(cairo_surface_t *picture, int side, guint32 *out, int stride)
{
    int step = side / FEATURE_TILE, area = step * step;
    int w = cairo_image_surface_get_width(picture), h = cairo_image_surface_get_height(picture);
    for (int ty = 0; ty < FEATURE_TILE; ty++)
        for (int tx = 0; tx < FEATURE_TILE; tx++) {
            guint32 sum[4] = {0, 0, 0, 0}, v = 0;
            for (int y = ty * step; y < MIN((ty + 1) * step, h); y++)
                for (int x = tx * step; x < MIN((tx + 1) * step, w); x++)
                    for (int k = 0; k < 4; k++)
                        sum[k] += row_of(picture, y)[x] >> (8 * k) & 255;
            for (int k = 0; k < 4; k++)
                v |= (sum[k] + (guint32)area / 2) / (guint32)area << (8 * k);
            out[ty * stride + tx] = v;
        }
}

double features_distance(const DtDrawing *d, const guint32 *reference, int stride)
{
    guint32 ours[FEATURE_TILE * FEATURE_TILE];
    cairo_surface_t *picture = features_paint(d, SMALL_SIDE, CAIRO_ANTIALIAS_DEFAULT);
    features_tile(picture, SMALL_SIDE, ours, FEATURE_TILE);
    cairo_surface_destroy(picture);
    int sum = 0;
    for (int y = 0; y < FEATURE_TILE; y++)
        for (int x = 0; x < FEATURE_TILE; x++)
            sum += most_apart(ours[y * FEATURE_TILE + x], reference[y * stride + x]);
    return (double)sum / (FEATURE_TILE * FEATURE_TILE);
}

char *features_verdict(const Feature *f, const char *verdict, const DtDrawing *d, double distance,
                       const char *refusal)
{
    GString *row = g_string_new(NULL);
    g_string_printf(row, "%s\t%s", f->name, verdict);
    if (!d)
        g_string_append_printf(row, "\t-\t%s", refusal);
    else
        g_string_append_printf(row, "\t%.2f", distance);
    for (size_t i = 0; d && i < d->n_notes; i++)
        g_string_append_printf(row, "\t%d: %s", d->notes[i].line, d->notes[i].text);
    return g_string_free(row, FALSE);
}
