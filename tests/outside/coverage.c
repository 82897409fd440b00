/* coverage: counted in pixels. */
#include "coverage.h"

#include <math.h>

#define PX 20.0 /* per mm */

double coverage_linear(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

double coverage_grey(double share, double solid)
{
    double y = 1 - share * (1 - solid);
    return y <= 0.0031308 ? 12.92 * y : 1.055 * pow(y, 1 / 2.4) - 0.055;
}

Paper paper_new(DtBox box)
{
    Paper p = {.w = (int)lround(dt_box_width(box) * PX), .h = (int)lround(dt_box_height(box) * PX)};
    p.surface = cairo_image_surface_create(CAIRO_FORMAT_A8, p.w, p.h);
    p.cr = cairo_create(p.surface);
    cairo_scale(p.cr, PX, PX);
    cairo_translate(p.cr, -box.x0, -box.y0);
    cairo_set_line_cap(p.cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(p.cr, CAIRO_LINE_JOIN_ROUND);
    return p;
}

void paper_draw(Paper *p, const double *xy, size_t n, gboolean closed, double tip)
{
    for (size_t k = 0; k < n; k++)
        cairo_line_to(p->cr, xy[2 * k], xy[2 * k + 1]);
    if (closed)
        cairo_close_path(p->cr);
    cairo_set_line_width(p->cr, tip);
    cairo_stroke(p->cr);
}

double paper_share(Paper *p)
{
    cairo_destroy(p->cr);
    cairo_surface_flush(p->surface);
    const unsigned char *rows = cairo_image_surface_get_data(p->surface);
    int stride = cairo_image_surface_get_stride(p->surface);
    double sum = 0;
    for (int y = 0; y < p->h; y++)
        for (int x = 0; x < p->w; x++)
            sum += rows[y * stride + x];
    cairo_surface_destroy(p->surface);
    return sum / 255 / p->w / p->h;
}
