/* pdf-compare: whether a page as it was read looks as a second reader paints it. Converters of PDF make mistakes with
 * transparency, tiles and shadings, and say nothing. */
#include "art/source/raster.h"

#include "drawtrue/work.h"

#include <cairo.h>
#include <stdlib.h>

enum {
    REACH =
        2, /* px to each side over which pixels are averaged: edges are smoothed in other ways */
    UNLIKE = 64,   /* of 255, in one of the three colours: an edge that is a pixel aside makes 51 */
    PAINTED = 10,  /* of 255 below white */
    LEAST_PX = 30, /* fewer are a matter of smoothing */
    PER_MILLE = 10, /* of the painted pixels */
};

void dt_art_page_seen_clear(ArtPageSeen *s)
{
    g_free(s->rgb);
    *s = (ArtPageSeen){0};
}

/* As RGB on white paper, three bytes a pixel. NULL if it cannot be painted. */
static guchar *paint(const DtDrawing *d, int w, int h)
{
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_RGB24, w, h);
    cairo_t *cr = cairo_create(s);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_paint(cr);
    cairo_scale(cr, w / dt_box_width(d->view), h / dt_box_height(d->view));
    cairo_translate(cr, -d->view.x0, -d->view.y0);
    dt_art_paint(d, cr);
    const gboolean good = cairo_status(cr) == CAIRO_STATUS_SUCCESS;
    cairo_destroy(cr);
    cairo_surface_flush(s);
    guchar *rgb = good ? g_malloc((gsize)w * (gsize)h * 3) : NULL;
    for (int y = 0; good && y < h; y++) {
        const guint32 *row =
            (const guint32 *)(const void *)(cairo_image_surface_get_data(s) +
                                            (gsize)y * (gsize)cairo_image_surface_get_stride(s));
        for (int x = 0; x < w; x++)
            for (int c = 0; c < 3; c++)
                rgb[((gsize)y * (gsize)w + (gsize)x) * 3 + (gsize)c] =
                    (guchar)(row[x] >> (16 - 8 * c));
    }
    cairo_surface_destroy(s);
    return rgb;
}

/* The mean of a colour around a pixel. */
static int mean_at(const guchar *rgb, int w, int h, int x, int y, int c)
{
    int sum = 0, n = 0;
    for (int v = MAX(y - REACH, 0); v <= MIN(y + REACH, h - 1); v++)
        for (int u = MAX(x - REACH, 0); u <= MIN(x + REACH, w - 1); u++, n++)
            sum += rgb[((gsize)v * (gsize)w + (gsize)u) * 3 + (gsize)c];
    return sum / n;
}

char *dt_art_pdf_difference(const DtDrawing *d, const ArtPageSeen *seen)
{
    const int w = seen->w, h = seen->h;
    if (!seen->rgb || !(dt_box_width(d->view) > 0) || !(dt_box_height(d->view) > 0))
        return NULL;
    g_autofree guchar *own = paint(d, w, h);
    guint64 painted = 0, unlike = 0;
    for (int y = 0; own && y < h && !dt_work_stopped(); y++)
        for (int x = 0; x < w; x++) {
            gboolean ink = FALSE;
            int most = 0;
            for (int c = 0; c < 3; c++) {
                const int a = mean_at(own, w, h, x, y, c), b = mean_at(seen->rgb, w, h, x, y, c);
                ink |= MIN(a, b) < 255 - PAINTED;
                most = MAX(most, abs(a - b));
            }
            painted += ink ? 1 : 0;
            unlike += most > UNLIKE ? 1 : 0;
        }
    if (unlike < LEAST_PX || unlike * 1000 < painted * PER_MILLE)
        return NULL;
    return g_strdup_printf(
        _("%.0f %% of what is painted on the page looks otherwise to a second reader of PDF: "
          "compare the proof with the page before it is drawn"),
        (double)unlike * 100 / (double)painted);
}
