/* Outside checks of art: photographs, made here byte by byte as their standards say, are read as those say. */
#include "drawtrue/art.h"
#include "drawtrue/base.h"

#include <gdk-pixbuf/gdk-pixbuf.h>
#include <lcms2.h>
#include <math.h>
#include <string.h>
#include <zlib.h>

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

/* The same, 5.3 and 13.2: a chunk that can be left out is not used if its check fails. */
static void test_damaged_chunks_of_png_files(void)
{
    static const guchar linear[4] = {0, 1, 0x86, 0xa0},
                        turn[26] = {'M', 'M', 0, 42, 0, 0, 0, 8, 0, 1,
                                    1,   18,  0, 3,  0, 0, 0, 1, 0, 6};
    const struct {
        const char *type;
        const guchar *data;
        guint len;
    } chunks[] = {{"gAMA", linear, sizeof linear}, {"eXIf", turn, sizeof turn}};
    g_autoptr(GdkPixbuf) p = gdk_pixbuf_new(GDK_COLORSPACE_RGB, FALSE, 8, 32, 16);
    gdk_pixbuf_fill(p, 0x808080ff);
    for (gsize i = 0; i < G_N_ELEMENTS(chunks); i++) {
        g_autoptr(GByteArray) file = png_with(p, chunks[i].type, chunks[i].data, chunks[i].len);
        file->data[8 + 25 + 8 + chunks[i].len + 3] ^= 1; /* the check's last byte */
        g_autoptr(DtDrawing) d = read_bytes(file->data, file->len, "damaged.png", 1);
        g_assert_cmpuint(d->n_notes, ==, 1);
        g_assert_nonnull(strstr(d->notes[0].text, "is damaged: it is not used"));
        g_assert_cmpfloat_with_epsilon(colour_at(d, 0.5, 0.5).r, 128 / 255.0, 0.003);
        g_assert_cmpfloat(d->width, >, d->height);
    }
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

/* ITU-T T.81 has no check of the data: damage shows where codes are not in the tables (annex F), or where data are
 * left over or missing. A run of bytes of noise is nearly always noticed, and a sound file never accused. */
static void test_damaged_jpeg_files(void)
{
    enum { SIDE = 96, HEADER = 640, RUN = 60, TRIALS = 40 };
    g_autoptr(GdkPixbuf) p = gdk_pixbuf_new(GDK_COLORSPACE_RGB, FALSE, 8, SIDE, SIDE);
    g_autoptr(GRand) dice = g_rand_new_with_seed(8);
    for (int i = 0; i < SIDE * gdk_pixbuf_get_rowstride(p); i++)
        gdk_pixbuf_get_pixels(p)[i] = (guchar)(i / 3 % 256 / 2 + g_rand_int_range(dice, 0, 128));
    g_autoptr(GByteArray) file = saved(p, "jpeg");
    g_assert_true(is_read(file->data, file->len, "sound.jpg", NULL));
    int told = 0;
    for (int i = 0; i < TRIALS; i++) {
        g_autofree guchar *bad = g_memdup2(file->data, file->len);
        const int from = g_rand_int_range(dice, HEADER, (gint)file->len - RUN - 2);
        for (int k = from; k < from + RUN; k++)
            bad[k] = (guchar)g_rand_int_range(dice, 0, 255); /* 255 would be a marker */
        g_autoptr(DtDrawing) d =
            dt_art_read_data((const char *)bad, file->len, "bad.jpg", NULL, NULL);
        told += d == NULL || (d->n_notes == 1 && strstr(d->notes[0].text, "its file is damaged"));
    }
    g_test_message("%d of %d told", told, TRIALS);
    g_assert_cmpint(told, >=, TRIALS * 9 / 10);
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

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/sources/exif-orientation", test_exif_orientation);
    g_test_add_func("/outside/sources/exif-damaged", test_exif_that_is_damaged);
    g_test_add_func("/outside/sources/png-colours", test_colours_of_png_files);
    g_test_add_func("/outside/sources/jpeg-damage", test_damaged_jpeg_files);
    g_test_add_func("/outside/sources/png-damage", test_damaged_chunks_of_png_files);
    g_test_add_func("/outside/sources/other-files", test_other_files_are_refused);
    g_test_add_func("/outside/sources/icc-profiles", test_icc_profiles);
    g_test_add_func("/outside/sources/unused-profiles", test_profiles_that_are_not_used);
    g_test_add_func("/outside/sources/cut-off", test_files_that_are_cut_off);
    g_test_add_func("/outside/sources/more-than-one", test_further_pictures_are_noted);
    g_test_add_func("/outside/sources/greys", test_greys_of_a_scan);
    return g_test_run();
}
