/* pdf-unit: whether a page of a PDF file has a unit of its own. */
#define _GNU_SOURCE /* memmem */
#include "art/source/raster.h"

#include <zlib.h>

#define UNIT_KEY "/UserUnit"
#define MOST_UNPACKED ((gsize)64 << 20) /* bytes of all object streams together */

/* ISO 32000-1, table 30: the key's value is the unit in 1/72 inch, 1 by default. */
static gboolean states_unit(const char *text, gsize len)
{
    const char *end = text + len;
    for (const char *at = text;
         (at = memmem(at, (gsize)(end - at), UNIT_KEY, sizeof UNIT_KEY - 1));) {
        char number[32] = {0};
        at += sizeof UNIT_KEY - 1;
        memcpy(number, at, MIN(sizeof number - 1, (gsize)(end - at)));
        if (g_ascii_strtod(number, NULL) != 1)
            return TRUE;
    }
    return FALSE;
}

/* The dictionary that precedes the stream's data is that of an object stream (7.5.7): its objects are
 * deflated together. */
static gboolean is_object_stream(const char *data, const char *stream)
{
    enum { LONGEST = 512 };
    const char *from = stream - MIN((gsize)(stream - data), LONGEST), *object = from;
    for (const char *p = from; (p = memmem(p, (gsize)(stream - p), " obj", 4)); p += 4)
        object = p;
    return memmem(object, (gsize)(stream - object), "/ObjStm", 7) != NULL;
}

/* What can be unpacked of a deflated stream, in at most `most` bytes. */
static GByteArray *inflated(const char *data, gsize len, gsize most)
{
    GByteArray *out = g_byte_array_new();
    guchar part[1 << 14];
    z_stream z = {.next_in = (Bytef *)(gpointer)data, .avail_in = (uInt)len};
    if (inflateInit(&z) != Z_OK)
        return out;
    for (int state = Z_OK; state == Z_OK && out->len < most;) {
        z.next_out = part;
        z.avail_out = sizeof part;
        state = inflate(&z, Z_NO_FLUSH);
        g_byte_array_append(out, part, (guint)(sizeof part - z.avail_out));
    }
    inflateEnd(&z);
    return out;
}

gboolean dt_art_pdf_has_unit(const char *data, gsize len)
{
    static const char word[] = "stream";
    const char *end = data + len;
    gsize unpacked = 0;
    if (states_unit(data, len))
        return TRUE;
    for (const char *p = data; (p = memmem(p, (gsize)(end - p), word, sizeof word - 1));) {
        const char *stream = p;
        p += sizeof word - 1;
        const gsize line = p + 1 < end && p[0] == '\r' && p[1] == '\n' ? 2 : 1;
        if (end - p <= 2 || (p[0] != '\r' && p[0] != '\n') || unpacked >= MOST_UNPACKED ||
            !is_object_stream(data, stream))
            continue;
        g_autoptr(GByteArray) objects =
            inflated(p + line, (gsize)(end - p) - line, MOST_UNPACKED - unpacked);
        unpacked += objects->len;
        if (objects->len > 0 && states_unit((const char *)objects->data, objects->len))
            return TRUE;
    }
    return FALSE;
}
