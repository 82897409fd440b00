/* header: what the file of a picture says of it beside its pixels and gdk-pixbuf does not apply: the
 * orientation in PNG and WebP files, and the colours of PNG files without an ICC profile. */
#include "art/source/raster.h"

#include <lcms2.h>
#include <math.h>
#include <zlib.h>

guint32 dt_art_big_endian(const guchar *p, int bytes)
{
    guint32 v = 0;
    for (int i = 0; i < bytes; i++)
        v = v << 8 | p[i];
    return v;
}

guint32 dt_art_little_endian(const guchar *p, int bytes)
{
    guint32 v = 0;
    while (bytes-- > 0)
        v = v << 8 | p[bytes];
    return v;
}

enum { FRAME = 12 }; /* length, type and check of a PNG file's chunk */

/* Of a chunk that can be left out (its type begins with a small letter); decoders check the others. */
static gboolean fails_check(const guchar *chunk, gsize length)
{
    return g_ascii_islower(chunk[4]) &&
           crc32(0, chunk + 4, (uInt)length + 4) != dt_art_big_endian(chunk + 8 + length, 4);
}

/* The first chunk of that type, with its frame. */
static const guchar *find_chunk(const guchar *data, gsize len, const char *type, gsize *chunk_len)
{
    for (gsize at = 8; at <= len && len - at >= FRAME;) {
        const gsize length = dt_art_big_endian(data + at, 4);
        if (len - at - FRAME < length)
            return NULL;
        if (memcmp(data + at + 4, type, 4) == 0) {
            *chunk_len = length;
            return data + at;
        }
        at += FRAME + length;
    }
    return NULL;
}

const guchar *dt_art_png_chunk(const guchar *data, gsize len, const char *type, gsize *chunk_len)
{
    const guchar *chunk = find_chunk(data, len, type, chunk_len);
    return chunk == NULL || fails_check(chunk, *chunk_len) ? NULL : chunk + 8;
}

gboolean dt_art_png_is_damaged(const guchar *data, gsize len)
{
    static const char *const used[] = {"cICP", "iCCP", "sRGB", "gAMA", "cHRM", "eXIf"};
    gboolean damaged = FALSE;
    for (gsize i = 0; len >= 20 && data[0] == 0x89 && i < G_N_ELEMENTS(used); i++) {
        gsize n = 0;
        const guchar *chunk = find_chunk(data, len, used[i], &n);
        damaged |= chunk != NULL && fails_check(chunk, n);
    }
    return damaged;
}

static const guchar *webp_chunk(const guchar *data, gsize len, const char *type, gsize *chunk_len)
{
    enum { HEADER = 8 }; /* type and length; a chunk of odd length is padded */
    for (gsize at = 12; at <= len && len - at >= HEADER;) {
        const gsize length = dt_art_little_endian(data + at + 4, 4);
        if (len - at - HEADER < length)
            return NULL;
        if (memcmp(data + at, type, 4) == 0) {
            *chunk_len = length;
            return data + at + HEADER;
        }
        at += HEADER + length + length % 2;
    }
    return NULL;
}

/* The tag Orientation (274, SHORT) of the first image directory of an Exif block, which is laid out as a
 * TIFF file (CIPA DC-008, 4.5 and 4.6.4 A); 0 where there is none. */
static int exif_orientation(const guchar *exif, gsize len)
{
    enum { ENTRY = 12, TAG = 274, SHORT = 3 };
    if (len >= 6 && memcmp(exif, "Exif\0", 6) == 0)
        exif += 6, len -= 6;
    if (len < 8 || (memcmp(exif, "II*\0", 4) != 0 && memcmp(exif, "MM\0*", 4) != 0))
        return 0;
    guint32 (*const number)(const guchar *, int) =
        exif[0] == 'I' ? dt_art_little_endian : dt_art_big_endian;
    const gsize at = number(exif + 4, 4);
    if (at > len || len - at < 2)
        return 0;
    const gsize n = MIN(number(exif + at, 2), (len - at - 2) / ENTRY);
    for (const guchar *e = exif + at + 2; e < exif + at + 2 + n * ENTRY; e += ENTRY)
        if (number(e, 2) == TAG && number(e + 2, 2) == SHORT)
            return (int)number(e + 8, 2);
    return 0;
}

int dt_art_raster_orientation(const guchar *data, gsize len)
{
    gsize n = 0;
    const guchar *exif = NULL;
    if (len >= 20 && data[0] == 0x89)
        exif = dt_art_png_chunk(data, len, "eXIf", &n);
    else if (len >= 20 && data[0] == 'R')
        exif = webp_chunk(data, len, "EXIF", &n);
    const int orientation = exif ? exif_orientation(exif, n) : 0;
    return orientation >= 1 && orientation <= 8 ? orientation : 0;
}

/* Colours ------------------------------------------------------------------------------------------ */

enum { WHITE, RED, GREEN, BLUE, N_POINTS };
/* Rec. ITU-R BT.709, as sRGB has them (IEC 61966-2-1), in the units of cHRM. */
static const guint32 srgb_points[2 * N_POINTS] = {31270, 32900, 64000, 33000,
                                                  30000, 60000, 15000, 6000};
#define SRGB_GAMMA 45455 /* what gAMA holds for sRGB (PNG, 11.3.2.5) */
#define UNIT 100000.0    /* of both chunks */

static gboolean is_near(guint32 a, guint32 b)
{
    return fabs((double)a - (double)b) <= 500;
}

static cmsCIExyY point_of(const guint32 *xy)
{
    return (cmsCIExyY){xy[0] / UNIT, xy[1] / UNIT, 1};
}

static cmsHPROFILE profile_of(guint32 gamma, const guint32 *points)
{
    cmsToneCurve *curve = cmsBuildGamma(NULL, UNIT / gamma), *curves[3] = {curve, curve, curve};
    const cmsCIExyY white = point_of(points);
    const cmsCIExyYTRIPLE primaries = {point_of(points + 2), point_of(points + 4),
                                       point_of(points + 6)};
    cmsHPROFILE profile = curve ? cmsCreateRGBProfile(&white, &primaries, curves) : NULL;
    if (curve)
        cmsFreeToneCurve(curve);
    return profile;
}

void *dt_art_png_profile(const guchar *data, gsize len, const char **doubt)
{
    static const guchar srgb_code[4] = {1, 13, 0,
                                        1}; /* ITU-T H.273: BT.709, sRGB, RGB, full range */
    gsize n = 0;
    *doubt = NULL;
    if (len < 20 || data[0] != 0x89)
        return NULL;
    const guchar *code = dt_art_png_chunk(data, len, "cICP", &n);
    if (code) {
        if (n != sizeof srgb_code || memcmp(code, srgb_code, n) != 0)
            *doubt =
                _("its colours are coded otherwise than as sRGB (cICP): they are taken as sRGB");
        return NULL;
    }
    if (dt_art_png_chunk(data, len, "iCCP", &n) || dt_art_png_chunk(data, len, "sRGB", &n))
        return NULL;
    guint32 gamma = SRGB_GAMMA, points[2 * N_POINTS];
    memcpy(points, srgb_points, sizeof points);
    const guchar *stated = dt_art_png_chunk(data, len, "gAMA", &n);
    if (stated && n == 4)
        gamma = dt_art_big_endian(stated, 4);
    stated = dt_art_png_chunk(data, len, "cHRM", &n);
    for (int i = 0; stated && n == 4 * G_N_ELEMENTS(points) && i < 2 * N_POINTS; i++)
        points[i] = dt_art_big_endian(stated + 4 * i, 4);
    gboolean same = is_near(gamma, SRGB_GAMMA);
    for (int i = 0; i < 2 * N_POINTS; i++)
        same = same && is_near(points[i], srgb_points[i]);
    if (same)
        return NULL;
    cmsHPROFILE profile = gamma > 0 ? profile_of(gamma, points) : NULL;
    if (!profile)
        *doubt = _("its gamma or its primaries cannot be used: its colours are taken as sRGB");
    return profile;
}
