/* raster, private: photographs and other pictures as pixels. */
#pragma once

#include "art/private.h"

#define ART_MAX_PICTURE ((gsize)64 << 20) /* pixels of one picture and of all together */

typedef struct {
    int w, h;
    guint32 *pixels;    /* ARGB32, premultiplied; g_free */
    const char *doubt;  /* what was not applied; static, NULL for nothing */
    const char *rest;   /* what is not shown; likewise */
    const char *damage; /* what may be wrong with its pixels; likewise */
} ArtRaster;

/* Whether the bytes begin as a PNG, JPEG, GIF, WebP, TIFF or BMP file does. */
gboolean dt_art_is_raster(const char *data, gsize len);
/* Whether such a file goes on to the end of its picture. FALSE is certain; files whose ends are not known
 * here, and damage within, are left to their decoders. */
gboolean dt_art_raster_is_whole(const guchar *data, gsize len);
/* Reads such a file with gdk-pixbuf: rotated as its EXIF orientation says, converted from its
 * embedded profile (ICC.1), or a PNG file's gamma and primaries, to sRGB by lcms2. FALSE, with *why for a
 * message, if it cannot be read. */
gboolean dt_art_raster_read(const guchar *data, gsize len, ArtRaster *out, char **why);

/* Whether a JPEG file's data are damaged, as far as that is noticed: they carry no check. FALSE for other files. */
gboolean dt_art_jpeg_is_damaged(const guchar *data, gsize len);

/* Numbers of 1 to 4 bytes, with the most or the least significant byte first. */
guint32 dt_art_big_endian(const guchar *p, int bytes);
guint32 dt_art_little_endian(const guchar *p, int bytes);
/* The data of the first chunk of that type (four letters) of a PNG file (ISO/IEC 15948, 5.3), within
 * `data`; NULL if there is none, if the file ends before, or if one that can be left out fails its check (5.5). */
const guchar *dt_art_png_chunk(const guchar *data, gsize len, const char *type, gsize *chunk_len);
/* Whether a chunk that states colours or the orientation fails its check; FALSE for other files. */
gboolean dt_art_png_is_damaged(const guchar *data, gsize len);
/* The Exif orientation, 1 to 8, that a PNG (third edition, eXIf) or WebP file (RFC 9649, EXIF) states;
 * 0 where it states none, and for other files. */
int dt_art_raster_orientation(const guchar *data, gsize len);
/* The lcms2 profile of a PNG file whose chunks gAMA and cHRM say that its colours are not sRGB, and which
 * has no ICC profile; cmsCloseProfile. NULL for sRGB and for other files, or with *doubt, static, where
 * what is stated cannot be applied. */
void *dt_art_png_profile(const guchar *data, gsize len, const char **doubt);

/* A drawing that shows only such a file, as SVG text; g_free. */
char *dt_art_raster_page(const char *data, gsize len, gsize *out_len);

/* Whether the bytes begin as a PDF file does (ISO 32000-1, 7.5.2). */
gboolean dt_art_is_pdf(const char *data, gsize len);
/* Whether such a file states a unit other than 1/72 inch for any page, which the converter ignores. Within
 * an encrypted file it may not be seen. */
gboolean dt_art_pdf_has_unit(const char *data, gsize len);
/* A page as a second reader paints it, three bytes a pixel; without `rgb` if there is none. */
typedef struct {
    guchar *rgb;
    int w, h;
} ArtPageSeen;
void dt_art_page_seen_clear(ArtPageSeen *s);

/* A page of it, from 1, as SVG text; g_free. A converter runs in a separate process, with limits
 * on time and memory, and so does the second reader. What is not drawn goes to `notes`, as texts for g_free. */
char *dt_art_pdf_page(const char *data, gsize len, const char *name, const DtArtOptions *options,
                      gsize *out_len, ArtPageSeen *seen, GPtrArray *notes, GError **error);
/* A note, g_free, where the drawing looks otherwise than the page was seen; NULL where they are alike. */
char *dt_art_pdf_difference(const DtDrawing *d, const ArtPageSeen *seen);
