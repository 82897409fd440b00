/* raster: photographs and other pictures, read by gdk-pixbuf and converted to sRGB by lcms2. */
#include "art/source/raster.h"

#include <gdk-pixbuf/gdk-pixbuf.h>
#include <lcms2.h>
#include <math.h>

gboolean dt_art_is_raster(const char *data, gsize len)
{
    static const struct {
        const char *bytes;
        gsize n, at;
    } heads[] = {{"\x89PNG\r\n\x1a\n", 8, 0},
                 {"\xff\xd8\xff", 3, 0},
                 {"GIF8", 4, 0},
                 {"WEBP", 4, 8},
                 {"II*\0", 4, 0},
                 {"MM\0*", 4, 0},
                 {"BM", 2, 0}};
    for (gsize i = 0; i < G_N_ELEMENTS(heads); i++)
        if (len >= heads[i].at + heads[i].n + 12 &&
            memcmp(data + heads[i].at, heads[i].bytes, heads[i].n) == 0)
            return TRUE;
    return FALSE;
}

/* The size is known before anything is unpacked: pictures that are too large are not. */
static void on_size(GdkPixbufLoader *loader, int w, int h, gpointer user)
{
    if (w > 0 && h > 0 && (gsize)w * (gsize)h <= ART_MAX_PICTURE)
        return;
    *(gboolean *)user = TRUE;
    gdk_pixbuf_loader_set_size(loader, 0, 0); /* only its properties are read */
}

/* Whether the file holds more pictures than the one that is shown: an animation, or further pages. */
static gboolean has_more(GdkPixbufLoader *loader)
{
    GdkPixbufAnimation *frames = gdk_pixbuf_loader_get_animation(loader);
    GdkPixbuf *first = gdk_pixbuf_loader_get_pixbuf(loader);
    return (frames && !gdk_pixbuf_animation_is_static_image(frames)) ||
           (first && gdk_pixbuf_get_option(first, "multipage"));
}

static GdkPixbuf *upright(GdkPixbuf *p, const guchar *data, gsize len)
{
    const int orientation = dt_art_raster_orientation(data, len);
    const char digit[] = {(char)('0' + orientation), '\0'};
    if (orientation > 0 && !gdk_pixbuf_get_option(p, "orientation"))
        gdk_pixbuf_set_option(p, "orientation", digit);
    return gdk_pixbuf_apply_embedded_orientation(p);
}

static GdkPixbuf *load(const guchar *data, gsize len, gboolean *more, char **why)
{
    *more = FALSE;
    if (!dt_art_raster_is_whole(data, len)) {
        *why = g_strdup(_("its file is cut off before the picture ends"));
        return NULL;
    }
    GdkPixbufLoader *loader = gdk_pixbuf_loader_new();
    g_autoptr(GError) error = NULL;
    gboolean too_large = FALSE;
    GdkPixbuf *found = NULL;
    g_signal_connect(loader, "size-prepared", G_CALLBACK(on_size), &too_large);
    gboolean good = gdk_pixbuf_loader_write(loader, data, len, &error);
    good = gdk_pixbuf_loader_close(loader, good ? &error : NULL) && good;
    if (too_large)
        *why = g_strdup_printf(
            _("it has more than %u million pixels: scan it at 300 dpi, or make it smaller"),
            (unsigned)(ART_MAX_PICTURE >> 20));
    else if (!good)
        *why = g_strdup(error ? error->message : _("it is damaged"));
    else if (gdk_pixbuf_loader_get_pixbuf(loader))
        found = upright(gdk_pixbuf_loader_get_pixbuf(loader), data, len);
    *more = found && has_more(loader);
    if (!found && !*why)
        *why = g_strdup(_("it is damaged"));
    g_object_unref(loader);
    return found;
}

/* The profile that the file states, which may be none: as ICC profile or, in PNG files, by numbers. */
static cmsHPROFILE stated_profile(GdkPixbuf *p, const guchar *data, gsize len, const char **doubt)
{
    const char *text = gdk_pixbuf_get_option(p, "icc-profile");
    gsize n = 0;
    if (!text)
        return dt_art_png_profile(data, len, doubt);
    g_autofree guchar *bytes = g_base64_decode(text, &n);
    cmsHPROFILE profile = cmsOpenProfileFromMem(bytes, (cmsUInt32Number)n);
    if (!profile)
        *doubt = _("its colour profile is damaged: its colours are taken as sRGB");
    return profile;
}

/* Converts the pixels to sRGB, in place; the reason if that cannot be done. */
static const char *to_srgb(GdkPixbuf *p, cmsHPROFILE from)
{
    if (cmsGetColorSpace(from) != cmsSigRgbData)
        return _("its colour profile is not for RGB: its colours are taken as sRGB");
    cmsHPROFILE to = cmsCreate_sRGBProfile();
    cmsUInt32Number format = gdk_pixbuf_get_has_alpha(p) ? TYPE_RGBA_8 : TYPE_RGB_8;
    cmsHTRANSFORM t = cmsCreateTransform(from, format, to, format, INTENT_RELATIVE_COLORIMETRIC,
                                         cmsFLAGS_COPY_ALPHA | cmsFLAGS_BLACKPOINTCOMPENSATION);
    cmsCloseProfile(to);
    if (!t)
        return _("its colour profile cannot be used: its colours are taken as sRGB");
    guchar *row = gdk_pixbuf_get_pixels(p);
    for (int y = 0; y < gdk_pixbuf_get_height(p); y++, row += gdk_pixbuf_get_rowstride(p))
        cmsDoTransform(t, row, row, (cmsUInt32Number)gdk_pixbuf_get_width(p));
    cmsDeleteTransform(t);
    return NULL;
}

static void premultiply(const GdkPixbuf *p, guint32 *out)
{
    int n = gdk_pixbuf_get_n_channels(p), w = gdk_pixbuf_get_width(p);
    const guchar *rows = gdk_pixbuf_read_pixels(p);
    for (int y = 0; y < gdk_pixbuf_get_height(p); y++) {
        const guchar *from = rows + (gsize)y * (gsize)gdk_pixbuf_get_rowstride(p);
        for (int x = 0; x < w; x++, from += n) {
            guint32 a = n > 3 ? from[3] : 255, v = a << 24;
            for (int k = 0; k < 3; k++)
                v |= (from[k] * a + 127) / 255 << (16 - 8 * k);
            *out++ = v;
        }
    }
}

gboolean dt_art_raster_read(const guchar *data, gsize len, ArtRaster *out, char **why)
{
    *out = (ArtRaster){.w = 0};
    *why = NULL;
    gboolean more;
    g_autoptr(GdkPixbuf) read = load(data, len, &more, why);
    if (!read)
        return FALSE;
    if (dt_art_jpeg_is_damaged(data, len))
        out->damage = _("its file is damaged: drawn as far as it can be read");
    if (more)
        out->rest = _("only the first of the pictures in its file is drawn");
    cmsHPROFILE profile = stated_profile(read, data, len, &out->doubt);
    g_autoptr(GdkPixbuf) own = profile ? gdk_pixbuf_copy(read) : g_object_ref(read);
    if (profile && own)
        out->doubt = to_srgb(own, profile);
    if (profile)
        cmsCloseProfile(profile);
    if (out->doubt == NULL && dt_art_png_is_damaged(data, len))
        out->doubt = _("what it says of its colours or its orientation is damaged: it is not used");
    if (!own) {
        *why = g_strdup(_("there is not enough memory for it"));
        return FALSE;
    }
    out->w = gdk_pixbuf_get_width(own);
    out->h = gdk_pixbuf_get_height(own);
    out->pixels = g_malloc((gsize)out->w * (gsize)out->h * 4);
    premultiply(own, out->pixels);
    return TRUE;
}

static double stated_dpi(GdkPixbuf *p)
{
    const char *text = gdk_pixbuf_get_option(p, "x-dpi");
    const double dpi = text ? g_ascii_strtod(text, NULL) : 0;
    return isfinite(dpi) && dpi > 0 ? dpi : 0;
}

uint8_t *dt_art_read_grey(const char *data, gsize len, int *w, int *h, double *dpi, char **why)
{
    *w = *h = 0;
    *why = NULL;
    if (!dt_art_is_raster(data, len)) {
        *why = g_strdup(_("it is not a picture of a kind that is read here"));
        return NULL;
    }
    gboolean more;
    g_autoptr(GdkPixbuf) read = load((const guchar *)data, len, &more, why);
    if (read && more) {
        *why = g_strdup(_("its file holds more than one picture"));
        return NULL;
    }
    if (!read)
        return NULL;
    if (dpi)
        *dpi = stated_dpi(read);
    const int n = gdk_pixbuf_get_n_channels(read);
    const guchar *rows = gdk_pixbuf_read_pixels(read);
    *w = gdk_pixbuf_get_width(read);
    *h = gdk_pixbuf_get_height(read);
    uint8_t *grey = g_malloc((gsize)*w * (gsize)*h), *to = grey;
    for (int y = 0; y < *h; y++) {
        const guchar *from = rows + (gsize)y * (gsize)gdk_pixbuf_get_rowstride(read);
        for (int x = 0; x < *w; x++, from += n) {
            const guint luma = (guint)(from[0] * 77 + from[1] * 150 + from[2] * 29 + 128) >> 8;
            *to++ = (uint8_t)(n > 3 ? (luma * from[3] + 255u * (255u - from[3])) / 255 : luma);
        }
    }
    return grey;
}

char *dt_art_raster_page(const char *data, gsize len, gsize *out_len)
{
    static const char head[] = "<svg xmlns='http://www.w3.org/2000/svg'><image href='data:;base64,";
    static const char tail[] = "'/></svg>";
    gsize room = sizeof head + sizeof tail + (len / 3 + 1) * 4 + 8, n = sizeof head - 1;
    char *text = g_malloc(room);
    int state = 0, save = 0;
    memcpy(text, head, n);
    n += g_base64_encode_step((const guchar *)data, len, FALSE, text + n, &state, &save);
    n += g_base64_encode_close(FALSE, text + n, &state, &save);
    memcpy(text + n, tail, sizeof tail);
    *out_len = n + sizeof tail - 1;
    return text;
}
