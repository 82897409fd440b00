/* whole: whether the file of a picture goes on to its end. Decoders that read while a file is still being
 * fetched take one that was cut off for one whose rest is yet to come, and leave the rest blank. The
 * decoders of GIF and TIFF refuse such files themselves. */
#include "art/source/raster.h"

enum { JPEG_END = 0xd9 };

/* The place of the next marker's code from `at` on, `len` if there is none. In a scan a byte of ones is
 * followed by 0, or begins a restart marker, which has no length. */
static gsize next_marker(const guchar *data, gsize len, gsize at)
{
    for (; at + 1 < len; at++) {
        const guchar code = data[at + 1];
        const gboolean restart = code >= 0xd0 && code <= 0xd7;
        if (data[at] == 0xff && code != 0 && code != 0xff && !restart)
            return at + 1;
    }
    return len;
}

/* ITU-T T.81, B.1.1.2 and B.2: marker segments up to the end-of-image marker. */
static gboolean is_whole_jpeg(const guchar *data, gsize len)
{
    gsize at = next_marker(data, len, 2);
    while (at < len && data[at] != JPEG_END) {
        if (len - at < 3)
            return FALSE;
        const gsize length = dt_art_big_endian(data + at + 1, 2);
        if (len - at - 1 < length)
            return FALSE;
        at = next_marker(data, len, at + 1 + length);
    }
    return at < len;
}

/* PNG (ISO/IEC 15948), 5.3 and 11.2.5: chunks up to IEND. */
static gboolean is_whole_png(const guchar *data, gsize len)
{
    gsize n;
    return dt_art_png_chunk(data, len, "IEND", &n) != NULL;
}

/* The RIFF header of a WebP file (RFC 9649, 2.4) states how many bytes follow it. */
static gboolean is_whole_webp(const guchar *data, gsize len)
{
    return len - 8 >= dt_art_little_endian(data + 4, 4);
}

/* A Windows bitmap states where its pixels begin and how many bytes they take, or 0 bytes where that
 * follows from the size: rows of whole 32-bit words. */
static gboolean is_whole_bmp(const guchar *data, gsize len)
{
    enum { HEADERS = 14 + 40 };
    if (len < HEADERS)
        return FALSE;
    const gsize from = dt_art_little_endian(data + 10, 4);
    const gsize width = dt_art_little_endian(data + 18, 4),
                bits = dt_art_little_endian(data + 28, 2);
    const gint32 height =
        (gint32)dt_art_little_endian(data + 22, 4); /* negative: from the top down */
    const guint32 packing = dt_art_little_endian(data + 30, 4);
    const gboolean is_packed = packing == 1 || packing == 2;
    const gsize rows = height < 0 ? (gsize)(-(gint64)height) : (gsize)height;
    const gsize bytes =
        is_packed ? dt_art_little_endian(data + 34, 4) : (width * bits + 31) / 32 * 4 * rows;
    return from <= len && len - from >= bytes;
}

gboolean dt_art_raster_is_whole(const guchar *data, gsize len)
{
    if (len < 20)
        return FALSE;
    if (data[0] == 0xff)
        return is_whole_jpeg(data, len);
    if (data[0] == 0x89)
        return is_whole_png(data, len);
    if (data[0] == 'R')
        return is_whole_webp(data, len);
    return data[0] != 'B' || is_whole_bmp(data, len);
}
