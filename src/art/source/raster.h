/* raster, private: photographs and other pictures as pixels. */
#pragma once

#include "art/private.h"

#define ART_MAX_PICTURE ((gsize)64 << 20) /* pixels of one picture and of all together */

typedef struct {
    int w, h;
    guint32 *pixels;   /* ARGB32, premultiplied; g_free */
    const char *doubt; /* what was not applied; static, NULL for nothing */
    const char *rest;  /* what is not shown; likewise */
} ArtRaster;

/* Whether the bytes begin as a PNG, JPEG, GIF, WebP, TIFF or BMP file does. */
gboolean dt_art_is_raster(const char *data, gsize len);
/* Whether such a file goes on to the end of its picture. FALSE is certain; files whose ends are not known
 * here, and damage within, are left to their decoders. */
gboolean dt_art_raster_is_whole(const guchar *data, gsize len);
/* Reads such a file with gdk-pixbuf: rotated as its EXIF orientation says, converted from its
 * embedded profile (ICC.1) to sRGB by lcms2. FALSE, with *why for a message, if it cannot be
 * read. */
gboolean dt_art_raster_read(const guchar *data, gsize len, ArtRaster *out, char **why);

/* A drawing that shows only such a file, as SVG text; g_free. */
char *dt_art_raster_page(const char *data, gsize len, gsize *out_len);

/* Whether the bytes begin as a PDF file does (ISO 32000-1, 7.5.2). */
gboolean dt_art_is_pdf(const char *data, gsize len);
/* A page of it, from 1, as SVG text; g_free. A converter runs in a separate process, with limits
 * on time and memory. What is not drawn goes to `notes`, as texts for g_free. */
char *dt_art_pdf_page(const char *data, gsize len, const char *name, const DtArtOptions *options,
                      gsize *out_len, GPtrArray *notes, GError **error);
