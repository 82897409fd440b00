/* image: raster images inside the drawing, carried as tone. Only data within the file counts:
 * nothing is ever fetched. */
#include "art/private.h"

#include "drawtrue/work.h"

#include <cairo.h>
#include <math.h>
#include <setjmp.h>
#include <stdio.h>

#include <jpeglib.h>

#define MAX_PIXELS ((gsize)64 << 20) /* of one image and of all together */

typedef struct {
    int w, h;
    guint32 *pixels; /* ARGB32, premultiplied */
} Raster;

/* PNG ------------------------------------------------------------------------------------------ */

typedef struct {
    const guchar *p;
    gsize left;
} Bytes;

static cairo_status_t read_bytes(void *user, guchar *out, unsigned n)
{
    Bytes *b = user;
    if (n > b->left)
        return CAIRO_STATUS_READ_ERROR;
    memcpy(out, b->p, n);
    b->p += n;
    b->left -= n;
    return CAIRO_STATUS_SUCCESS;
}

/* Width and height stand at bytes 16 to 23 of the first chunk: ISO/IEC 15948, 11.2.2. */
static gboolean png_fits(const guchar *p, gsize len)
{
    if (len < 24)
        return FALSE;
    guint32 w, h;
    memcpy(&w, p + 16, 4);
    memcpy(&h, p + 20, 4);
    w = GUINT32_FROM_BE(w);
    h = GUINT32_FROM_BE(h);
    return w > 0 && h > 0 && w < 32768 && h < 32768 && (gsize)w * h <= MAX_PIXELS;
}

static gboolean read_png(const guchar *data, gsize len, Raster *out)
{
    Bytes b = {data, len};
    if (!png_fits(data, len))
        return FALSE;
    cairo_surface_t *s = cairo_image_surface_create_from_png_stream(read_bytes, &b);
    gboolean good = cairo_surface_status(s) == CAIRO_STATUS_SUCCESS;
    if (good) {
        out->w = cairo_image_surface_get_width(s);
        out->h = cairo_image_surface_get_height(s);
        cairo_surface_t *copy = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, out->w, out->h);
        cairo_t *cr = cairo_create(copy);
        cairo_set_source_surface(cr, s, 0, 0);
        cairo_paint(cr);
        cairo_destroy(cr);
        cairo_surface_flush(copy);
        out->pixels = g_malloc((gsize)out->w * (gsize)out->h * 4);
        for (int y = 0; y < out->h; y++)
            memcpy(out->pixels + (gsize)y * (gsize)out->w,
                   cairo_image_surface_get_data(copy) +
                       (gsize)y * (gsize)cairo_image_surface_get_stride(copy),
                   (gsize)out->w * 4);
        cairo_surface_destroy(copy);
    }
    cairo_surface_destroy(s);
    return good;
}

/* JPEG ----------------------------------------------------------------------------------------- */

typedef struct {
    struct jpeg_error_mgr base;
    jmp_buf escape;
} JpegErrors;

static void on_jpeg_error(j_common_ptr j)
{
    longjmp(((JpegErrors *)(void *)j->err)->escape, 1);
}

static void on_jpeg_message(j_common_ptr j)
{
    (void)j;
}

static void take_row(const JSAMPLE *row, int components, Raster *out, int y)
{
    guint32 *to = out->pixels + (gsize)y * (gsize)out->w;
    for (int x = 0; x < out->w; x++, row += components) {
        guint32 r = row[0], g = components > 1 ? row[1] : r, b = components > 1 ? row[2] : r;
        if (components == 4) { /* CMYK as most writers store it: inverted */
            r = (guint32)row[0] * row[3] / 255;
            g = (guint32)row[1] * row[3] / 255;
            b = (guint32)row[2] * row[3] / 255;
        }
        to[x] = 0xff000000u | r << 16 | g << 8 | b;
    }
}

static gboolean read_jpeg(const guchar *data, gsize len, Raster *out)
{
    struct jpeg_decompress_struct j;
    JpegErrors errors;
    JSAMPLE *volatile row = NULL;
    j.err = jpeg_std_error(&errors.base);
    errors.base.error_exit = on_jpeg_error;
    errors.base.output_message = on_jpeg_message;
    jpeg_create_decompress(&j);
    if (setjmp(errors.escape)) {
        jpeg_destroy_decompress(&j);
        g_free(row);
        g_clear_pointer(&out->pixels, g_free);
        return FALSE;
    }
    jpeg_mem_src(&j, data, (unsigned long)len);
    jpeg_read_header(&j, TRUE);
    if (j.jpeg_color_space == JCS_YCCK || j.jpeg_color_space == JCS_CMYK)
        j.out_color_space = JCS_CMYK;
    else if (j.jpeg_color_space != JCS_GRAYSCALE)
        j.out_color_space = JCS_RGB;
    if ((gsize)j.image_width * j.image_height > MAX_PIXELS)
        longjmp(errors.escape, 1);
    jpeg_start_decompress(&j);
    out->w = (int)j.output_width;
    out->h = (int)j.output_height;
    out->pixels = g_malloc0((gsize)out->w * (gsize)out->h * 4);
    row = g_malloc((gsize)out->w * (gsize)j.output_components);
    while (j.output_scanline < j.output_height) {
        if (dt_work_stopped())
            longjmp(errors.escape, 1);
        int y = (int)j.output_scanline;
        JSAMPROW rows[1] = {row};
        jpeg_read_scanlines(&j, rows, 1);
        take_row(row, j.output_components, out, y);
    }
    jpeg_finish_decompress(&j);
    jpeg_destroy_decompress(&j);
    g_free(row);
    return TRUE;
}

/* Elements ------------------------------------------------------------------------------------- */

/* RFC 2397; the bytes, or NULL. g_free. */
static guchar *data_of(const char *uri, gsize *len)
{
    if (g_ascii_strncasecmp(uri, "data:", 5) != 0)
        return NULL;
    const char *comma = strchr(uri, ',');
    if (!comma)
        return NULL;
    g_autofree char *head = g_strndup(uri, (gsize)(comma - uri));
    if (strstr(head, "base64"))
        return g_base64_decode(comma + 1, len);
    GBytes *bytes = g_uri_unescape_bytes(comma + 1, -1, NULL, NULL);
    return bytes ? g_bytes_unref_to_data(bytes, len) : NULL;
}

static gboolean decode(const char *uri, Raster *out)
{
    gsize len = 0;
    g_autofree guchar *data = data_of(uri, &len);
    if (!data)
        return FALSE;
    if (len > 8 && memcmp(data, "\x89PNG\r\n\x1a\n", 8) == 0)
        return read_png(data, len, out);
    if (len > 3 && data[0] == 0xff && data[1] == 0xd8)
        return read_jpeg(data, len, out);
    return FALSE;
}

/* The image of a data URI, decoded once however often it is used; NULL, with a note, where it
 * cannot be shown. */
static const Raster *raster_of(ArtReader *r, const ArtNode *n, const char *uri)
{
    Raster *known = g_hash_table_lookup(r->memo, uri);
    if (!known) {
        known = dt_art_store_zero(r->store, sizeof *known);
        g_hash_table_insert(r->memo, (void *)uri, known);
        if (decode(uri, known)) {
            g_ptr_array_add(r->store->blocks, known->pixels);
            r->pixels += (gsize)known->w * (gsize)known->h;
        }
    }
    if (!known->pixels) {
        dt_art_note(r, n, "an image that is neither PNG nor JPEG, or damaged: left out");
        return NULL;
    }
    if (r->pixels > MAX_PIXELS) {
        dt_art_fail(r, n->line, "its images have more than %u million pixels together",
                 (unsigned)(MAX_PIXELS >> 20));
        return NULL;
    }
    return known;
}

guint32 *dt_art_new_pixels(ArtReader *r, int line, gsize n)
{
    r->pixels += n;
    if (r->pixels > MAX_PIXELS) {
        dt_art_fail(r, line, "its images have more than %u million pixels together",
                 (unsigned)(MAX_PIXELS >> 20));
        return NULL;
    }
    guint32 *pixels = g_malloc(n * sizeof *pixels);
    g_ptr_array_add(r->store->blocks, pixels);
    return pixels;
}

static void emit(ArtReader *r, const ArtNode *n, const ArtScope *scope, const Raster *raster,
                 DtAffine image_to_user, DtBox shown)
{
    DtTone *t = dt_art_tone_new(r, ART_TONE_IMAGE, dt_affine_then(image_to_user, scope->ctm));
    if (!t)
        return;
    t->pixels = raster->pixels;
    t->w = raster->w;
    t->h = raster->h;
    t->alpha = scope->alpha;
    double sum[4] = {0, 0, 0, 0};
    gsize count = (gsize)raster->w * (gsize)raster->h;
    for (gsize i = 0; i < count; i++)
        for (int k = 0; k < 4; k++)
            sum[k] += (raster->pixels[i] >> (8 * k) & 255) / 255.0;
    DtColour mean = {0, 0, 0, 0};
    if (sum[3] > 0)
        mean = (DtColour){sum[2] / sum[3], sum[1] / sum[3], sum[0] / sum[3],
                          sum[3] / (double)count * scope->alpha};
    g_auto(DtPath) path = {0};
    dt_art_rect_path(&path, shown.x0, shown.y0, dt_box_width(shown), dt_box_height(shown), 0, 0);
    dt_art_emit_tone(r, n, scope, &path, (DtPaint){.kind = DT_PAINT_TONE, .colour = mean, .tone = t});
}

void dt_art_image(ArtReader *r, ArtNode *n, const ArtScope *scope, const ArtStyle *s)
{
    static const ArtLength zero = {.value = 0, .unit = ART_UNIT_NUMBER};
    double x = dt_art_attr_px(r, n, ART_AT_X, s, scope, ART_ALONG_X, zero);
    double y = dt_art_attr_px(r, n, ART_AT_Y, s, scope, ART_ALONG_Y, zero);
    double w = dt_art_attr_px(r, n, ART_AT_WIDTH, s, scope, ART_ALONG_X, zero);
    double h = dt_art_attr_px(r, n, ART_AT_HEIGHT, s, scope, ART_ALONG_Y, zero);
    if (r->mode == ART_MODE_BOX) {
        g_auto(DtPath) path = {0};
        dt_art_rect_path(&path, x, y, w, h, 0, 0);
        dt_art_emit_path(r, n, scope, s, &path);
        return;
    }
    if (r->mode != ART_MODE_PAINT || s->hidden)
        return;
    const char *href = dt_art_href(n);
    if (!href || g_ascii_strncasecmp(href, "data:", 5) != 0) {
        dt_art_note(r, n, "an image outside of this file is not fetched: left out");
        return;
    }
    const Raster *raster = raster_of(r, n, href);
    if (!raster)
        return;
    if (!dt_art_attr(n, ART_AT_WIDTH))
        w = dt_art_attr(n, ART_AT_HEIGHT) ? h * raster->w / raster->h : raster->w;
    if (!dt_art_attr(n, ART_AT_HEIGHT))
        h = w * raster->h / raster->w;
    if (!(w > 0 && h > 0))
        return;
    DtBox whole = {0, 0, raster->w, raster->h};
    DtAffine fit = dt_art_aspect_map(dt_art_attr(n, ART_AT_PRESERVE_ASPECT_RATIO), whole, w, h);
    fit = dt_affine_then(fit, dt_affine_translate(x, y));
    DtBox shown = dt_affine_apply_box(fit, whole);
    if (!s->overflow)
        shown = dt_box_intersect(shown, (DtBox){x, y, x + w, y + h});
    emit(r, n, scope, raster, fit, shown);
}
