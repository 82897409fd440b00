/* surface: runs one drawing routine on a PNG, SVG or PDF, written whole or not at all. */
#include "proof/private.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <string.h>

static cairo_status_t collect(void *closure, const unsigned char *data, unsigned length)
{
    g_byte_array_append(closure, data, length);
    return CAIRO_STATUS_SUCCESS;
}

static cairo_surface_t *png_surface(GByteArray *bytes, double w, double h)
{
    (void)bytes; /* where it is written after drawing */
    return cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)(w + 0.5), (int)(h + 0.5));
}

static cairo_surface_t *svg_surface(GByteArray *bytes, double w, double h)
{
    return cairo_svg_surface_create_for_stream(collect, bytes, w * 0.75, h * 0.75);
}

static cairo_surface_t *pdf_surface(GByteArray *bytes, double w, double h)
{
    cairo_surface_t *s = cairo_pdf_surface_create_for_stream(collect, bytes, w * 0.75, h * 0.75);
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_CREATOR, "drawtrue");
    return s;
}

static const struct Format {
    const char *ending;
    cairo_surface_t *(*open)(GByteArray *bytes, double w, double h);
    double unit; /* surface units per unit of ours */
} formats[] = {
    {".png", png_surface, 1},
    {".svg", svg_surface, 0.75}, /* points */
    {".pdf", pdf_surface, 0.75},
};

static const struct Format *find_format(const char *path)
{
    const char *dot = strrchr(path, '.');
    for (gsize i = 0; dot && i < G_N_ELEMENTS(formats); i++)
        if (g_ascii_strcasecmp(dot, formats[i].ending) == 0)
            return &formats[i];
    return NULL;
}

gboolean dt_proof_check_path(const char *path, GError **error)
{
    if (find_format(path))
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_USAGE, "%s: a picture's name ends in .png, .svg or .pdf",
                path);
    return FALSE;
}

gboolean dt_proof_emit(const char *path, double width, double height, DtProofDraw draw,
                       gpointer user, GError **error)
{
    if (!dt_proof_check_path(path, error))
        return FALSE;
    const struct Format *format = find_format(path);
    g_autoptr(GByteArray) bytes = g_byte_array_new();
    cairo_surface_t *surface = format->open(bytes, width, height);
    cairo_t *cr = cairo_create(surface);
    cairo_scale(cr, format->unit, format->unit);
    draw(cr, user);
    cairo_status_t status = cairo_status(cr);
    cairo_destroy(cr);
    if (status == CAIRO_STATUS_SUCCESS && format->open == png_surface)
        status = cairo_surface_write_to_png_stream(surface, collect, bytes);
    cairo_surface_finish(surface);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    if (status != CAIRO_STATUS_SUCCESS) {
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: the picture cannot be drawn: %s", path,
                    cairo_status_to_string(status));
        return FALSE;
    }
    dt_base_sign_picture(bytes);
    return dt_base_write_file(path, (const char *)bytes->data, bytes->len, error);
}
