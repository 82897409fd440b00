/* image: raster images inside the drawing, stored as tones. Only data within the file is used:
 * nothing is ever fetched. */
#include "art/source/raster.h"

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

typedef struct {
    ArtRaster raster;
    const char *why; /* why it cannot be shown; in the store */
} Known;

static void decode(ArtReader *r, const char *uri, Known *out)
{
    gsize len = 0;
    g_autofree guchar *data = data_of(uri, &len);
    g_autofree char *why = NULL;
    if (!data || !dt_art_is_raster((const char *)data, len))
        out->why = _("it is not a PNG, JPEG, GIF, WebP, TIFF or BMP");
    else if (!dt_art_raster_read(data, len, &out->raster, &why))
        out->why = dt_art_store_text(r->store, why, strlen(why));
}

/* The image of a data URI, decoded once however often it is used; NULL, with a note, if it
 * cannot be shown. */
static const ArtRaster *raster_of(ArtReader *r, const ArtNode *n, const char *uri)
{
    Known *known = g_hash_table_lookup(r->memo, uri);
    if (!known) {
        known = dt_art_store_zero(r->store, sizeof *known);
        g_hash_table_insert(r->memo, (void *)uri, known);
        decode(r, uri, known);
        if (known->raster.pixels) {
            g_ptr_array_add(r->store->blocks, known->raster.pixels);
            r->pixels += (gsize)known->raster.w * (gsize)known->raster.h;
        }
    }
    if (!known->raster.pixels) {
        dt_art_note(r, n, "an image is left out: %.100s", known->why);
        return NULL;
    }
    if (known->raster.doubt)
        dt_art_note(r, n, "an image: %s", known->raster.doubt);
    if (known->raster.damage)
        dt_art_note(r, n, "an image: %s", known->raster.damage);
    if (known->raster.rest)
        dt_art_note(r, n, "an image: %s", known->raster.rest);
    if (r->pixels > ART_MAX_PICTURE) {
        dt_art_fail(r, n->line, "its images have more than %u million pixels together",
                    (unsigned)(ART_MAX_PICTURE >> 20));
        return NULL;
    }
    return &known->raster;
}

guint32 *dt_art_new_pixels(ArtReader *r, int line, gsize n)
{
    r->pixels += n;
    if (r->pixels > ART_MAX_PICTURE) {
        dt_art_fail(r, line, "its images have more than %u million pixels together",
                    (unsigned)(ART_MAX_PICTURE >> 20));
        return NULL;
    }
    guint32 *pixels = g_malloc(n * sizeof *pixels);
    g_ptr_array_add(r->store->blocks, pixels);
    return pixels;
}

static void emit(ArtReader *r, const ArtNode *n, const ArtScope *scope, const ArtRaster *raster,
                 DtAffine image_to_user, DtBox shown)
{
    DtTone *t = dt_art_tone_new(r, ART_TONE_IMAGE, dt_affine_then(image_to_user, scope->ctm));
    if (!t)
        return;
    t->pixels = raster->pixels;
    t->w = raster->w;
    t->h = raster->h;
    t->raster = TRUE;
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
    dt_art_emit_tone(r, n, scope, &path,
                     (DtPaint){.kind = DT_PAINT_TONE, .colour = mean, .tone = t});
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
    const ArtRaster *raster = raster_of(r, n, href);
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
