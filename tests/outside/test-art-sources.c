/* Outside checks of art: photographs and pages of PDF files, made here byte by byte as their standards
 * say, are read as those say. */
#include "drawtrue/art.h"
#include "drawtrue/base.h"

#include <gdk-pixbuf/gdk-pixbuf.h>
#include <lcms2.h>
#include <math.h>
#include <string.h>
#include <zlib.h>

#define MM_PER_PT (25.4 / 72)

static DtDrawing *read_bytes(const guchar *data, gsize len, const char *name, int page)
{
    g_autoptr(GError) error = NULL;
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.page = page;
    DtDrawing *d = dt_art_read_data((const char *)data, len, name, &o, &error);
    if (!d)
        g_error("%s", error->message);
    return d;
}

/* The colour of a photograph at a place of its page, 0 to 1 from its upper left corner. */
static DtColour colour_at(const DtDrawing *d, double x, double y)
{
    g_assert_cmpuint(d->n_shapes, ==, 1);
    g_assert_cmpint(d->shapes[0].fill.kind, ==, DT_PAINT_TONE);
    return dt_art_tone_at(d->shapes[0].fill.tone, dt_point(d->width * x, d->height * y));
}

static gboolean is_near(DtColour c, double r, double g, double b)
{
    return fabs(c.r - r) < 0.08 && fabs(c.g - g) < 0.08 && fabs(c.b - b) < 0.08;
}

/* Exif ---------------------------------------------------------------------------------------- */

/* 48 by 32 pixels: red, green, blue and white quarters. */
static GdkPixbuf *quarters(void)
{
    static const guint32 colours[4] = {0xff0000ff, 0x00ff00ff, 0x0000ffff, 0xffffffff};
    GdkPixbuf *p = gdk_pixbuf_new(GDK_COLORSPACE_RGB, FALSE, 8, 48, 32);
    for (int i = 0; i < 4; i++) {
        g_autoptr(GdkPixbuf) quarter = gdk_pixbuf_new_subpixbuf(p, i % 2 * 24, i / 2 * 16, 24, 16);
        gdk_pixbuf_fill(quarter, colours[i]);
    }
    return p;
}

/* An Exif block with the one tag Orientation (0x0112, SHORT), and what precedes it in a JPEG segment. */
static const guchar exif_head[] = {0xff, 0xe1, 0, 34, 'E', 'x', 'i', 'f', 0, 0};
static const guchar exif[] = {'M', 'M', 0, 42, 0, 0, 0, 8, 0, 1, 1, 0x12, 0,
                              3,   0,   0, 0,  1, 0, 0, 0, 0, 0, 0, 0,    0};
enum { EXIF_VALUE = 19 };

static void put_number(GByteArray *out, guint32 v)
{
    const guchar bytes[4] = {(guchar)(v >> 24), (guchar)(v >> 16), (guchar)(v >> 8), (guchar)v};
    g_byte_array_append(out, bytes, 4);
}

/* PNG (ISO/IEC 15948), 5.3. */
static void put_chunk(GByteArray *out, const char *type, const guchar *data, guint len)
{
    put_number(out, len);
    const guint from = out->len;
    g_byte_array_append(out, (const guchar *)type, 4);
    g_byte_array_append(out, data, len);
    put_number(out, (guint32)crc32(0, out->data + from, len + 4));
}

static GByteArray *saved(GdkPixbuf *p, const char *kind)
{
    g_autoptr(GError) error = NULL;
    char *file = NULL;
    gsize len = 0;
    gdk_pixbuf_save_to_buffer(p, &file, &len, kind, &error, NULL);
    g_assert_no_error(error);
    return g_byte_array_new_take((guchar *)file, len);
}

/* A PNG file of the picture with such a chunk after its header. */
static GByteArray *png_with(GdkPixbuf *p, const char *type, const guchar *data, guint len)
{
    enum { HEADER = 8 + 25 };
    g_autoptr(GByteArray) plain = saved(p, "png");
    GByteArray *out = g_byte_array_new();
    g_byte_array_append(out, plain->data, HEADER);
    if (type)
        put_chunk(out, type, data, len);
    g_byte_array_append(out, plain->data + HEADER, plain->len - HEADER);
    return out;
}

/* RFC 9649, 2.7: a header that says that Exif data follow the picture, whose size is one less there. */
static GByteArray *webp_with_exif(GdkPixbuf *p, const guchar *data, guint len)
{
    const guchar header[] = {'V', 'P', '8', 'X', 10, 0, 0, 0, 8, 0, 0, 0, 47, 0, 0, 31, 0, 0};
    const guchar head[] = {'E', 'X', 'I', 'F', (guchar)len, 0, 0, 0};
    enum { RIFF = 12 };
    g_autoptr(GByteArray) plain = saved(p, "webp");
    GByteArray *out = g_byte_array_new();
    g_byte_array_append(out, plain->data, RIFF);
    g_byte_array_append(out, header, sizeof header);
    g_byte_array_append(out, plain->data + RIFF, plain->len - RIFF);
    g_byte_array_append(out, head, sizeof head);
    g_byte_array_append(out, data, len);
    const guint32 size = GUINT32_TO_LE(out->len - 8);
    memcpy(out->data + 4, &size, sizeof size);
    return out;
}

static GByteArray *with_orientation(const char *kind, guchar orientation)
{
    g_autoptr(GdkPixbuf) p = quarters();
    guchar block[sizeof exif];
    memcpy(block, exif, sizeof exif);
    block[EXIF_VALUE] = orientation;
    if (strcmp(kind, "png") == 0)
        return png_with(p, "eXIf", block, sizeof block);
    if (strcmp(kind, "webp") == 0)
        return webp_with_exif(p, block, sizeof block);
    g_autoptr(GByteArray) plain = saved(p, kind);
    GByteArray *out = g_byte_array_new();
    g_byte_array_append(out, plain->data, 2); /* SOI */
    g_byte_array_append(out, exif_head, sizeof exif_head);
    g_byte_array_append(out, block, sizeof block);
    g_byte_array_append(out, plain->data + 2, plain->len - 2);
    return out;
}

/* CIPA DC-008 (Exif 2.3), 4.6.4 A: on which side of the visual image the 0th row and the 0th column
 * of what is stored lie. */
static void assert_orientation(const char *kind, int orientation)
{
    static const char rows[] = "?TTBBLRRL", columns[] = "?LRRLTTBB";
    static const double colours[4][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {1, 1, 1}};
    g_autoptr(GByteArray) file = with_orientation(kind, (guchar)orientation);
    g_autoptr(DtDrawing) d = read_bytes(file->data, file->len, kind, 1);
    g_assert_cmpint(d->width > d->height, ==, orientation < 5);
    for (int i = 0; i < 4; i++) {
        double x = 0.5, y = 0.5;
        const char sides[2] = {rows[orientation], columns[orientation]};
        const gboolean far[2] = {i / 2, i % 2};
        for (int k = 0; k < 2; k++) {
            const double where = far[k] ? 0.75 : 0.25;
            if (sides[k] == 'T' || sides[k] == 'B')
                y = sides[k] == 'T' ? where : 1 - where;
            else
                x = sides[k] == 'L' ? where : 1 - where;
        }
        const DtColour c = colour_at(d, x, y);
        if (!is_near(c, colours[i][0], colours[i][1], colours[i][2]))
            g_error("%s, orientation %d, quarter %d: %.2f %.2f %.2f", kind, orientation, i, c.r,
                    c.g, c.b);
    }
}

static void test_exif_orientation(void)
{
    static const char *const kinds[] = {"jpeg", "png", "webp"};
    for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++)
        for (int orientation = 1; orientation <= 8; orientation++)
            assert_orientation(kinds[i], orientation);
}

/* Blocks that are cut off, point beyond their end or state what is no orientation turn nothing. */
static void test_exif_that_is_damaged(void)
{
    g_autoptr(GdkPixbuf) p = quarters();
    guchar block[sizeof exif];
    for (guint i = 0; i < 4 * sizeof exif; i++) {
        memcpy(block, exif, sizeof exif);
        block[EXIF_VALUE] = i < sizeof exif ? 6 : 9;
        block[i % sizeof exif] ^= i < 2 * sizeof exif ? 0 : 0xff;
        const guint len = i < sizeof exif ? MIN(i, EXIF_VALUE) : sizeof exif;
        g_autoptr(GByteArray) png = png_with(p, "eXIf", block, len);
        g_autoptr(GByteArray) webp = webp_with_exif(p, block, len);
        g_autoptr(DtDrawing) a = read_bytes(png->data, png->len, "a.png", 1);
        g_autoptr(DtDrawing) b = read_bytes(webp->data, webp->len, "b.webp", 1);
        g_assert_true(a->width > a->height && b->width > b->height);
    }
}

/* Colour profiles ------------------------------------------------------------------------------ */

/* The colour that a flat picture of 128 is read as, with a profile of these curves and primaries. */
static DtColour read_with_profile(double gamma, const cmsCIExyYTRIPLE *primaries,
                                  const guchar rgb[3])
{
    static const cmsCIExyY white = {0.3127, 0.3290, 1};
    cmsToneCurve *curve = cmsBuildGamma(NULL, gamma), *curves[3] = {curve, curve, curve};
    cmsHPROFILE profile = cmsCreateRGBProfile(&white, primaries, curves);
    cmsUInt32Number n = 0;
    cmsSaveProfileToMem(profile, NULL, &n);
    g_autofree guchar *bytes = g_malloc(n);
    g_assert_true(cmsSaveProfileToMem(profile, bytes, &n));
    g_autofree char *text = g_base64_encode(bytes, n), *file = NULL;
    g_autoptr(GdkPixbuf) p = gdk_pixbuf_new(GDK_COLORSPACE_RGB, FALSE, 8, 16, 16);
    gdk_pixbuf_fill(p, (guint32)rgb[0] << 24 | (guint32)rgb[1] << 16 | (guint32)rgb[2] << 8 | 255);
    gsize len = 0;
    g_autoptr(GError) error = NULL;
    gdk_pixbuf_save_to_buffer(p, &file, &len, "jpeg", &error, "icc-profile", text, "quality", "100",
                              NULL);
    g_assert_no_error(error);
    cmsCloseProfile(profile);
    cmsFreeToneCurve(curve);
    g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "profiled.jpg", 1);
    return colour_at(d, 0.5, 0.5);
}

/* A profile that cannot be used is told, and the numbers are those of sRGB. */
static void test_profiles_that_are_not_used(void)
{
    static const guchar no_profile[128] = {0};
    cmsToneCurve *curve = cmsBuildGamma(NULL, 2.2);
    cmsHPROFILE grey = cmsCreateGrayProfile(cmsD50_xyY(), curve);
    cmsUInt32Number n = 0;
    g_assert_true(cmsSaveProfileToMem(grey, NULL, &n));
    g_autofree guchar *bytes = g_malloc(n);
    g_assert_true(cmsSaveProfileToMem(grey, bytes, &n));
    cmsCloseProfile(grey);
    cmsFreeToneCurve(curve);
    const struct {
        const guchar *bytes;
        gsize len;
        const char *note;
    } cases[] = {{bytes, n, "is not for RGB"}, {no_profile, sizeof no_profile, "is damaged"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = g_base64_encode(cases[i].bytes, cases[i].len), *file = NULL;
        g_autoptr(GdkPixbuf) p = gdk_pixbuf_new(GDK_COLORSPACE_RGB, FALSE, 8, 16, 16);
        gdk_pixbuf_fill(p, 0xc08040ff);
        gsize len = 0;
        g_assert_true(gdk_pixbuf_save_to_buffer(p, &file, &len, "jpeg", NULL, "icc-profile", text,
                                                "quality", "100", NULL));
        g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "profiled.jpg", 1);
        DtColour c = colour_at(d, 0.5, 0.5);
        g_assert_cmpfloat_with_epsilon(c.r, 0xc0 / 255.0, 0.02);
        g_assert_cmpfloat_with_epsilon(c.g, 0x80 / 255.0, 0.02);
        g_assert_cmpfloat_with_epsilon(c.b, 0x40 / 255.0, 0.02);
        g_assert_cmpuint(d->n_notes, ==, 1);
        g_assert_nonnull(strstr(d->notes[0].text, cases[i].note));
    }
}

/* IEC 61966-2-1, the coding of linear light. */
static double coded(double linear)
{
    return linear <= 0.0031308 ? 12.92 * linear : 1.055 * pow(linear, 1 / 2.4) - 0.055;
}

static void test_icc_profiles(void)
{
    static const cmsCIExyYTRIPLE srgb = {{0.64, 0.33, 1}, {0.30, 0.60, 1}, {0.15, 0.06, 1}};
    static const cmsCIExyYTRIPLE turned = {{0.30, 0.60, 1}, {0.15, 0.06, 1}, {0.64, 0.33, 1}};
    static const guchar grey[3] = {128, 128, 128}, mixed[3] = {200, 60, 20};
    DtColour c = read_with_profile(1, &srgb, grey);
    g_assert_cmpfloat_with_epsilon(c.r, coded(128.0 / 255), 0.01);
    g_assert_cmpfloat_with_epsilon(c.g, coded(128.0 / 255), 0.01);
    /* Primaries that stand in another order give their channels in that order. */
    c = read_with_profile(2.2, &turned, mixed);
    g_assert_cmpfloat_with_epsilon(c.g, coded(pow(200 / 255.0, 2.2)), 0.01);
    g_assert_cmpfloat_with_epsilon(c.b, coded(pow(60 / 255.0, 2.2)), 0.01);
    g_assert_cmpfloat_with_epsilon(c.r, coded(pow(20 / 255.0, 2.2)), 0.01);
}

/* W3C, Portable Network Graphics (third edition), 11.3.2: what a flat picture of these colours is read as
 * with such a chunk, of 32-bit numbers in most cases. */
static DtColour read_with_chunk(const char *type, const guint32 *numbers, guint n,
                                const guchar rgb[3], const char *note)
{
    g_autoptr(GdkPixbuf) p = gdk_pixbuf_new(GDK_COLORSPACE_RGB, FALSE, 8, 16, 16);
    gdk_pixbuf_fill(p, (guint32)rgb[0] << 24 | (guint32)rgb[1] << 16 | (guint32)rgb[2] << 8 | 255);
    g_autoptr(GByteArray) data = g_byte_array_new();
    for (guint i = 0; i < n; i++)
        put_number(data, numbers[i]);
    g_autoptr(GByteArray) file = png_with(p, type, data->data, data->len);
    g_autoptr(DtDrawing) d = read_bytes(file->data, file->len, "stated.png", 1);
    g_assert_cmpuint(d->n_notes, ==, note ? 1 : 0);
    if (note)
        g_assert_nonnull(strstr(d->notes[0].text, note));
    return colour_at(d, 0.5, 0.5);
}

static void test_colours_of_png_files(void)
{
    static const guchar grey[3] = {128, 128, 128}, mixed[3] = {200, 60, 20};
    static const guint32 linear = 100000, usual = 45455, none = 0;
    static const guint32 srgb[] = {31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000};
    static const guint32 turned[] = {31270, 32900, 30000, 60000, 15000, 6000, 64000, 33000};
    static const guint32 flat[] = {31270, 32900, 0, 0, 0, 0, 0, 0};
    static const guint32 srgb_code = 0x010d0001, other_code = 0x09100001; /* ITU-T H.273 */
    DtColour c = read_with_chunk("gAMA", &linear, 1, grey, NULL);
    g_assert_cmpfloat_with_epsilon(c.r, coded(128.0 / 255), 0.01);
    g_assert_cmpfloat_with_epsilon(c.b, coded(128.0 / 255), 0.01);
    c = read_with_chunk("gAMA", &usual, 1, grey, NULL);
    g_assert_cmpfloat_with_epsilon(c.g, 128.0 / 255, 0.003);
    c = read_with_chunk("cHRM", srgb, 8, mixed, NULL);
    g_assert_cmpfloat_with_epsilon(c.r, 200.0 / 255, 0.003);
    c = read_with_chunk("cHRM", turned, 8, mixed, NULL);
    g_assert_cmpfloat_with_epsilon(c.g, coded(pow(200 / 255.0, 2.2)), 0.01);
    g_assert_cmpfloat_with_epsilon(c.b, coded(pow(60 / 255.0, 2.2)), 0.01);
    g_assert_cmpfloat_with_epsilon(c.r, coded(pow(20 / 255.0, 2.2)), 0.01);
    read_with_chunk("gAMA", &none, 1, grey, "cannot be used");
    read_with_chunk("cHRM", flat, 8, grey, "cannot be used");
    c = read_with_chunk("cICP", &srgb_code, 1, mixed, NULL);
    g_assert_cmpfloat_with_epsilon(c.r, 200.0 / 255, 0.003);
    read_with_chunk("cICP", &other_code, 1, mixed, "(cICP)");
}

/* Whole files ---------------------------------------------------------------------------------- */

static gboolean is_read(const guchar *data, gsize len, const char *name, const char *note)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d = dt_art_read_data((const char *)data, len, name, NULL, &error);
    if (!d)
        return FALSE;
    g_assert_cmpuint(d->n_notes, ==, note ? 1 : 0);
    if (note)
        g_assert_nonnull(strstr(d->notes[0].text, note));
    return TRUE;
}

/* A picture of noise, whose data goes on to the end of the file, is refused wherever its file is cut off,
 * and read with anything behind it. */
static void assert_whole_only(const guchar *data, gsize len, const char *name)
{
    g_autofree guchar *longer = g_malloc0(len + 50);
    memcpy(longer, data, len);
    g_assert_true(is_read(longer, len, name, NULL));
    g_assert_true(is_read(longer, len + 50, name, NULL));
    for (gsize cut = 32; cut < len; cut += cut + 40 < len ? 7 : 1)
        if (is_read(data, cut, name, NULL))
            g_error("%s is read with %zu of %zu bytes", name, cut, len);
}

static void test_files_that_are_cut_off(void)
{
    g_autoptr(GdkPixbuf) p = gdk_pixbuf_new(GDK_COLORSPACE_RGB, FALSE, 8, 24, 24);
    g_autoptr(GRand) dice = g_rand_new_with_seed(5);
    for (int i = 0; i < 24 * gdk_pixbuf_get_rowstride(p); i++)
        gdk_pixbuf_get_pixels(p)[i] = (guchar)g_rand_int_range(dice, 0, 256);
    static const char *const kinds[] = {"png", "jpeg", "bmp", "tiff", "webp"};
    for (gsize i = 0; i < G_N_ELEMENTS(kinds); i++) {
        g_autofree char *file = NULL;
        g_autoptr(GError) error = NULL;
        gsize len = 0;
        gdk_pixbuf_save_to_buffer(p, &file, &len, kinds[i], &error, NULL);
        g_assert_no_error(error);
        assert_whole_only((const guchar *)file, len, kinds[i]);
    }
}

/* Compuserve's GIF89a, 2 by 1 pixels of two colours: one code of 3 bits each, between clear and end. */
#define GIF_FRAME 0x2c, 0, 0, 0, 0, 2, 0, 1, 0, 0, 2, 2, 0x44, 0x0a, 0
#define GIF_HEAD 'G', 'I', 'F', '8', '9', 'a', 2, 0, 1, 0, 0x80, 0, 0, 0, 0, 0, 255, 255, 255

/* TIFF 6.0: 1 by 1 pixels of grey, in one strip; `next` is where the next directory is. */
#define TIFF_ENTRY(tag, value) (tag) & 255, (tag) >> 8, 3, 0, 1, 0, 0, 0, value, 0, 0, 0
#define TIFF_PAGE(next)                                                                            \
    8, 0, TIFF_ENTRY(256, 1), TIFF_ENTRY(257, 1), TIFF_ENTRY(258, 8), TIFF_ENTRY(259, 1),          \
        TIFF_ENTRY(262, 1), TIFF_ENTRY(273, 4), TIFF_ENTRY(278, 1), TIFF_ENTRY(279, 1), next, 0,   \
        0, 0

static void test_further_pictures_are_noted(void)
{
    static const guchar one[] = {GIF_HEAD, GIF_FRAME, 0x3b};
    static const guchar two[] = {GIF_HEAD, GIF_FRAME, GIF_FRAME, 0x3b};
    static const guchar page[] = {'I', 'I', 42, 0, 8, 0, 0, 0, TIFF_PAGE(0)};
    static const guchar pages[] = {'I', 'I', 42, 0, 8, 0, 0, 0, TIFF_PAGE(110), TIFF_PAGE(0)};
    g_assert_true(is_read(one, sizeof one, "one.gif", NULL));
    g_assert_true(is_read(two, sizeof two, "two.gif", "only the first of the pictures"));
    g_assert_false(is_read(two, sizeof one - 3, "cut.gif", NULL));
    g_assert_true(is_read(page, sizeof page, "page.tif", NULL));
    g_assert_true(is_read(pages, sizeof pages, "pages.tif", "only the first of the pictures"));
    /* A scan is measured: none of its pages is chosen. */
    int w, h;
    g_autofree char *why = NULL;
    g_autofree uint8_t *grey =
        dt_art_read_grey((const char *)page, sizeof page, &w, &h, NULL, &why);
    g_assert_nonnull(grey);
    g_assert_null(dt_art_read_grey((const char *)pages, sizeof pages, &w, &h, NULL, &why));
    g_assert_nonnull(strstr(why, "more than one picture"));
}

/* What a scan is read by: the luma of Recommendation ITU-R BT.601, 0.299 R + 0.587 G + 0.114 B, over white paper where
 * a picture is translucent; rows from above. */
static void test_greys_of_a_scan(void)
{
    enum { W = 5, H = 3 };
    static const char *const kinds[] = {"png", "bmp"};
    g_autoptr(GRand) dice = g_rand_new_with_seed(6);
    for (int alpha = 0; alpha < 2; alpha++) {
        g_autoptr(GdkPixbuf) p = gdk_pixbuf_new(GDK_COLORSPACE_RGB, alpha, 8, W, H);
        const int n = gdk_pixbuf_get_n_channels(p), stride = gdk_pixbuf_get_rowstride(p);
        guchar *const pixels = gdk_pixbuf_get_pixels(p);
        for (int y = 0; y < H; y++)
            for (int i = 0; i < W * n; i++)
                pixels[y * stride + i] = (guchar)g_rand_int_range(dice, 0, 256);
        for (gsize k = 0; k < (alpha ? 1 : G_N_ELEMENTS(kinds)); k++) {
            g_autofree char *file = NULL, *why = NULL;
            g_autoptr(GError) error = NULL;
            gsize len = 0;
            int w, h;
            gdk_pixbuf_save_to_buffer(p, &file, &len, kinds[k], &error, NULL);
            g_assert_no_error(error);
            g_autofree uint8_t *grey = dt_art_read_grey(file, len, &w, &h, NULL, &why);
            g_assert_cmpint(w, ==, W);
            g_assert_cmpint(h, ==, H);
            for (int i = 0; i < W * H; i++) {
                const guchar *c = pixels + i / W * stride + i % W * n;
                const double luma = 0.299 * c[0] + 0.587 * c[1] + 0.114 * c[2],
                             share = alpha ? c[3] / 255.0 : 1;
                g_assert_cmpfloat_with_epsilon(grey[i], share * luma + (1 - share) * 255, 1.6);
            }
        }
    }
}

/* Pages ---------------------------------------------------------------------------------------- */

/* A PDF file of two pages; the second has these entries and this content. What else is given follows the
 * objects, which refer to nothing in it. */
static char *pdf_of(const char *content, const char *entries, const GString *extra, gsize *len)
{
    g_autofree char *objects[5] = {
        g_strdup("<</Type/Catalog/Pages 2 0 R>>"),
        g_strdup("<</Type/Pages/Kids[3 0 R 4 0 R]/Count 2>>"),
        g_strdup("<</Type/Page/Parent 2 0 R/MediaBox[0 0 99 99]>>"),
        g_strdup_printf("<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]/Contents 5 0 R%s>>",
                        entries),
        g_strdup_printf("<</Length %zu>>stream\n%sendstream", strlen(content), content)};
    GString *s = g_string_new("%PDF-1.6\n");
    gsize at[5];
    for (int i = 0; i < 5; i++) {
        at[i] = s->len;
        g_string_append_printf(s, "%d 0 obj\n%s\nendobj\n", i + 1, objects[i]);
        if (i > 0)
            g_free(objects[i]);
    }
    if (extra)
        g_string_append_len(s, extra->str, (gssize)extra->len);
    const gsize table = s->len;
    g_string_append(s, "xref\n0 6\n0000000000 65535 f \n");
    for (int i = 0; i < 5; i++)
        g_string_append_printf(s, "%010zu 00000 n \n", at[i]);
    g_string_append_printf(s, "trailer\n<</Size 6/Root 1 0 R>>\nstartxref\n%zu\n%%%%EOF\n", table);
    *len = s->len;
    return g_string_free(s, FALSE);
}

/* The same, with the content of one red rectangle. */
static char *pdf_with(const char *entries, const GString *extra, gsize *len)
{
    return pdf_of("1 0 0 rg 150 250 50 40 re f\n", entries, extra, len);
}

static char *pdf(const char *entries, gsize *len)
{
    return pdf_with(entries, NULL, len);
}

/* Page size and the rectangle's box, all in points. */
static void assert_page(const char *entries, double w, double h, DtBox box)
{
    gsize len = 0;
    g_autofree char *file = pdf(entries, &len);
    g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "page.pdf", 2);
    g_assert_cmpfloat_with_epsilon(d->width, w * MM_PER_PT, 0.01);
    g_assert_cmpfloat_with_epsilon(d->height, h * MM_PER_PT, 0.01);
    DtBox found = DT_BOX_EMPTY;
    for (gsize i = 0; i < d->n_shapes; i++)
        if (d->shapes[i].fill.colour.g < 0.5) /* the white of the page is no ink */
            found = dt_box_union(found, dt_lines_box(&d->shapes[i].outline));
    g_assert_cmpfloat_with_epsilon(found.x0, box.x0 * MM_PER_PT, 0.01);
    g_assert_cmpfloat_with_epsilon(found.y0, box.y0 * MM_PER_PT, 0.01);
    g_assert_cmpfloat_with_epsilon(found.x1, box.x1 * MM_PER_PT, 0.01);
    g_assert_cmpfloat_with_epsilon(found.y1, box.y1 * MM_PER_PT, 0.01);
}

/* ISO 32000-1, 14.11.2: the page that is shown is its crop box, by default its media box; 7.7.3.3:
 * turned clockwise by Rotate. */
static void test_page_boxes(void)
{
    assert_page("", 612, 792, (DtBox){150, 792 - 290, 200, 792 - 250});
    assert_page("/CropBox[100 200 300 500]", 200, 300, (DtBox){50, 210, 100, 250});
    assert_page("/CropBox[100 200 300 500]/Rotate 90", 300, 200, (DtBox){50, 50, 90, 100});
    assert_page("/CropBox[100 200 300 500]/Rotate 180", 200, 300, (DtBox){100, 50, 150, 90});
    assert_page("/CropBox[100 200 300 500]/Rotate 270", 300, 200, (DtBox){210, 100, 250, 150});
}

/* ISO 32000-1, 7.5.7: objects deflated together, after a list of their numbers and places. */
static GString *object_stream(const char *object)
{
    guchar packed[256];
    uLongf n = sizeof packed;
    g_autofree char *objects = g_strdup_printf("9 0 %s", object);
    g_assert_cmpint(compress(packed, &n, (const Bytef *)objects, strlen(objects)), ==, Z_OK);
    GString *s = g_string_new(NULL);
    g_string_printf(
        s, "8 0 obj\n<</Type/ObjStm/N 1/First 4/Filter/FlateDecode/Length %lu>>stream\r\n", n);
    g_string_append_len(s, (const char *)packed, (gssize)n);
    g_string_append(s, "\nendstream\nendobj\n");
    return s;
}

/* ISO 32000-1, table 30: the unit of a page, 1/72 inch by default, wherever its dictionary is. */
static void test_unit_of_a_page_is_noted(void)
{
    static const struct {
        const char *entry;
        gboolean noted;
    } cases[] = {{"/UserUnit 2", TRUE}, {"/UserUnit 1.0", FALSE}, {"/UserUnit\n.5", TRUE}};
    for (gsize i = 0; i < 2 * G_N_ELEMENTS(cases); i++) {
        const char *entry = cases[i / 2].entry;
        g_autofree char *page = g_strdup_printf("<</Type/Page/Rotate 0%s>>", entry);
        g_autoptr(GString) packed = object_stream(page);
        gsize len = 0;
        g_autofree char *file = i % 2 ? pdf_with("", packed, &len) : pdf(entry, &len);
        g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "page.pdf", 2);
        g_assert_cmpuint(d->n_notes, ==, cases[i / 2].noted ? 1 : 0);
        if (cases[i / 2].noted)
            g_assert_nonnull(strstr(d->notes[0].text, "UserUnit"));
    }
}

static void test_further_pages_are_noted(void)
{
    gsize len = 0;
    g_autofree char *file = pdf("", &len);
    g_autoptr(DtDrawing) second = read_bytes((const guchar *)file, len, "page.pdf", 2);
    g_assert_cmpuint(second->n_notes, ==, 0); /* somebody asked for it */
    g_autoptr(DtDrawing) first = read_bytes((const guchar *)file, len, "page.pdf", 1);
    g_assert_cmpuint(first->n_notes, ==, 1);
    g_assert_cmpstr(first->notes[0].text, ==,
                    "page 1 of 2 is drawn: the option page draws another");
}

/* An operator that ISO 32000-1 does not have: the converter leaves it out and goes on. */
static void test_damaged_page_is_noted(void)
{
    gsize len = 0;
    g_autofree char *file = pdf("", &len);
    char *paint = g_strstr_len(file, (gssize)len, " 40 re f");
    memcpy(paint, " 40 xx f", 8);
    g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "page.pdf", 2);
    g_assert_cmpuint(d->n_notes, ==, 1);
    g_assert_nonnull(strstr(d->notes[0].text, "may be incomplete"));
    g_assert_nonnull(strstr(d->notes[0].text, "xx"));
}

/* ISO 32000-1, 9.6.2.2: fourteen fonts are known to every reader; the text of others, where the file does
 * not hold them, is drawn in whatever there is. */
static void test_fonts_that_are_missing_are_noted(void)
{
    static const char *const fonts[] = {"Helvetica", "SeedDrawerSans", "Seed#20Drawer#20Sans"};
    static const char *const notes[] = {NULL, " font SeedDrawerSans: ", " font Seed Drawer Sans: "};
    for (gsize i = 0; i < G_N_ELEMENTS(fonts); i++) {
        g_autofree char *resources = g_strdup_printf(
            "/Resources<</Font<</F<</Type/Font/Subtype/TrueType/BaseFont/%s>>>>>>", fonts[i]);
        gsize len = 0;
        g_autofree char *file = pdf(resources, &len);
        g_autoptr(DtDrawing) d = read_bytes((const guchar *)file, len, "page.pdf", 2);
        g_assert_cmpuint(d->n_notes, ==, notes[i] ? 1 : 0);
        if (notes[i])
            g_assert_nonnull(strstr(d->notes[0].text, notes[i]));
    }
}

/* As single lines, words stand where those of the page do: widths of Helvetica by the Adobe Core 14 font
 * metrics (from memory). */
static void test_words_as_single_lines(void)
{
    static const double size = 24, x = 100, y = 600, seed = 0.667 + 3 * 0.556, space = 0.278,
                        bank = 3 * 0.556 + 0.5;
    gsize len = 0;
    g_autofree char *file = pdf_of(
        "BT /F 24 Tf 100 600 Td (Seed bank) Tj ET\n1 0 0 rg 150 250 50 40 re f\n",
        "/Resources<</Font<</F<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>>>>>", NULL, &len);
    g_autoptr(GError) error = NULL;
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.page = 2;
    o.single_line_text = TRUE;
    g_autoptr(DtDrawing) d = dt_art_read_data(file, len, "page.pdf", &o, &error);
    g_assert_no_error(error);
    const double from[2] = {x, x + (seed + space) * size}, width[2] = {seed * size, bank * size};
    guint words = 0, fills = 0;
    for (gsize i = 0; i < d->n_shapes; i++) {
        const DtShape *s = &d->shapes[i];
        fills += s->fill.kind != DT_PAINT_NONE && s->fill.colour.g < 0.5;
        if (s->fill.kind != DT_PAINT_NONE || s->stroke.paint.kind == DT_PAINT_NONE)
            continue;
        g_assert_cmpuint(words, <, 2);
        const DtBox box = dt_lines_box(&s->outline);
        g_assert_cmpfloat_with_epsilon(box.x0 / MM_PER_PT, from[words], 3);
        g_assert_cmpfloat_with_epsilon(box.x1 / MM_PER_PT, from[words] + width[words], 3);
        g_assert_cmpfloat_with_epsilon(box.y1 / MM_PER_PT, 792 - y, 2);
        for (gsize k = 0; k < s->outline.n; k++)
            g_assert_false(s->outline.closed[k]);
        words++;
    }
    g_assert_cmpuint(words, ==, 2);
    g_assert_cmpuint(fills, ==, 1); /* the rectangle, and no letter */
    g_assert_cmpuint(d->n_notes, >, 0);
    g_assert_nonnull(strstr(d->notes[d->n_notes - 1].text, "set upright and black"));
}

/* Formats that are not read ---------------------------------------------------------------------- */

static void test_other_files_are_refused(void)
{
    static const struct {
        const char *bytes;
        gsize len;
    } files[] = {{"\0\0\1\0\1\0\x10\x10", 8}, {"P6 1 1 255\n???", 14}, {"seeds\n", 6}};
    for (gsize i = 0; i < G_N_ELEMENTS(files); i++) {
        g_autoptr(GError) error = NULL;
        g_assert_null(dt_art_read_data(files[i].bytes, files[i].len, "other", NULL, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_nonnull(strstr(error->message, "no drawing of a kind that is read here"));
    }
}

static void test_pages_that_are_not_there(void)
{
    gsize len = 0;
    g_autofree char *file = pdf("", &len);
    g_autoptr(GError) error = NULL;
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.page = 3;
    g_assert_null(dt_art_read_data(file, len, "page.pdf", &o, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_true(g_str_has_prefix(error->message, "page.pdf: "));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/sources/exif-orientation", test_exif_orientation);
    g_test_add_func("/outside/sources/exif-damaged", test_exif_that_is_damaged);
    g_test_add_func("/outside/sources/png-colours", test_colours_of_png_files);
    g_test_add_func("/outside/sources/pdf-fonts", test_fonts_that_are_missing_are_noted);
    g_test_add_func("/outside/sources/other-files", test_other_files_are_refused);
    g_test_add_func("/outside/sources/icc-profiles", test_icc_profiles);
    g_test_add_func("/outside/sources/unused-profiles", test_profiles_that_are_not_used);
    g_test_add_func("/outside/sources/pdf-words", test_words_as_single_lines);
    g_test_add_func("/outside/sources/cut-off", test_files_that_are_cut_off);
    g_test_add_func("/outside/sources/more-than-one", test_further_pictures_are_noted);
    g_test_add_func("/outside/sources/greys", test_greys_of_a_scan);
    g_test_add_func("/outside/sources/pdf-page-boxes", test_page_boxes);
    g_test_add_func("/outside/sources/pdf-user-unit", test_unit_of_a_page_is_noted);
    g_test_add_func("/outside/sources/pdf-pages", test_further_pages_are_noted);
    g_test_add_func("/outside/sources/pdf-damaged", test_damaged_page_is_noted);
    g_test_add_func("/outside/sources/pdf-page-missing", test_pages_that_are_not_there);
    return g_test_run();
}
