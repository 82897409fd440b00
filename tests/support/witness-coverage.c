/* witness: the area that landed ink covers against what librsvg paints of the same drawing. */
#include "support/witness.h"
#include "drawtrue/base.h"
#include "support/pen-mask.h"
#include <cairo.h>
#include <gio/gio.h>
#include <librsvg/rsvg.h>
#include <math.h>

#define WHITE 250 /* of 255: a channel above this is paper */

typedef struct {
    int w, h;
    cairo_matrix_t bed_to_px;
    uint8_t *art, *ink; /* 1 where painted; w*h */
} Masks;

static cairo_t *new_canvas(const Masks *m, cairo_format_t format, cairo_surface_t **surface)
{
    *surface = cairo_image_surface_create(format, m->w, m->h);
    cairo_t *cr = cairo_create(*surface);
    cairo_set_matrix(cr, &m->bed_to_px);
    return cr;
}

/* Channels are premultiplied, so adding what alpha leaves free lays them on white. */
gboolean witness_pixel_is_painted(uint32_t argb)
{
    const uint32_t a = argb >> 24, free = 255 - a;
    const uint32_t r = ((argb >> 16) & 255) + free, g = ((argb >> 8) & 255) + free,
                   b = (argb & 255) + free;
    return a >= 128 && !(r > WHITE && g > WHITE && b > WHITE);
}

gboolean witness_paint_svg(const char *svg, const WitnessSheet *sheet, cairo_t *cr, GError **error)
{
    g_autoptr(GError) why = NULL;
    g_autoptr(GFile) file = g_file_new_for_path(svg);
    RsvgHandle *handle =
        rsvg_handle_new_from_gfile_sync(file, RSVG_HANDLE_FLAG_UNLIMITED, NULL, &why);
    if (!handle) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: librsvg: %s", svg, why->message);
        return FALSE;
    }
    rsvg_handle_set_dpi(handle, 96); /* CSS Values and Units 3, section 6.2; librsvg has 90 */
    const DtAffine a = sheet->page_to_bed;
    cairo_matrix_t page_to_bed = {a.xx, a.yx, a.xy, a.yy, a.x0, a.y0};
    cairo_transform(cr, &page_to_bed);
    const RsvgRectangle page = {0, 0, sheet->page_w, sheet->page_h};
    const gboolean ok = rsvg_handle_render_document(handle, cr, &page, &why);
    g_object_unref(handle);
    if (!ok)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: librsvg: %s", svg, why->message);
    return ok;
}

static gboolean paint_art(Masks *m, const char *svg, const WitnessSheet *sheet, GError **error)
{
    cairo_surface_t *surface;
    cairo_t *cr = new_canvas(m, CAIRO_FORMAT_ARGB32, &surface);
    const gboolean ok = witness_paint_svg(svg, sheet, cr, error);
    cairo_destroy(cr);
    if (ok) {
        cairo_surface_flush(surface);
        const uint8_t *rows = cairo_image_surface_get_data(surface);
        const int stride = cairo_image_surface_get_stride(surface);
        for (int y = 0; y < m->h; y++) {
            const uint32_t *row = (const uint32_t *)(const void *)(rows + (ptrdiff_t)y * stride);
            for (int x = 0; x < m->w; x++)
                m->art[(size_t)y * (size_t)m->w + (size_t)x] =
                    (uint8_t)witness_pixel_is_painted(row[x]);
        }
    }
    cairo_surface_destroy(surface);
    return ok;
}

void witness_stroke_pen(cairo_t *cr, const WitnessInk *ink, unsigned pen, double tip)
{
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    cairo_set_line_width(cr, tip);
    for (guint i = 0; i < ink->lines->len; i++) {
        const WitnessLine *line = &g_array_index(ink->lines, WitnessLine, i);
        if (line->pen != pen)
            continue;
        const DtPoint *p = &g_array_index(ink->pts, DtPoint, line->first);
        /* One by one: where lines of one path run beside each other, cairo without antialiasing inks gaps of
         * about a pixel. From 0: a dot needs a line of no length. */
        for (size_t k = 0; k < MAX(line->n, 2) - 1; k++) {
            cairo_move_to(cr, p[k].x, p[k].y);
            cairo_line_to(cr, p[MIN(k + 1, line->n - 1)].x, p[MIN(k + 1, line->n - 1)].y);
            cairo_stroke(cr);
        }
    }
}

static void paint_ink(Masks *m, const WitnessInk *ink, const double *tips, size_t n_tips)
{
    cairo_surface_t *surface;
    cairo_t *cr = new_canvas(m, CAIRO_FORMAT_A8, &surface);
    unsigned most = 0;
    for (guint i = 0; i < ink->lines->len; i++)
        most = MAX(most, g_array_index(ink->lines, WitnessLine, i).pen);
    for (unsigned pen = 0; pen <= most; pen++)
        witness_stroke_pen(cr, ink, pen, tips[MIN(pen, n_tips - 1)]);
    cairo_destroy(cr);
    cairo_surface_flush(surface);
    const uint8_t *rows = cairo_image_surface_get_data(surface);
    const int stride = cairo_image_surface_get_stride(surface);
    for (int y = 0; y < m->h; y++)
        for (int x = 0; x < m->w; x++)
            m->ink[(size_t)y * (size_t)m->w + (size_t)x] = rows[(ptrdiff_t)y * stride + x] >= 128;
    cairo_surface_destroy(surface);
}

static gboolean write_picture(const Masks *m, const char *path, GError **error)
{
    static const uint32_t colour[4] = {0xffffff, 0xd62728, 0x1f5fd6, 0x303030};
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, m->w, m->h);
    uint8_t *rows = cairo_image_surface_get_data(surface);
    const int stride = cairo_image_surface_get_stride(surface);
    for (int y = 0; y < m->h; y++) {
        uint32_t *row = (uint32_t *)(void *)(rows + (ptrdiff_t)y * stride);
        for (int x = 0; x < m->w; x++) {
            const size_t i = (size_t)y * (size_t)m->w + (size_t)x;
            row[x] = colour[m->art[i] + 2 * m->ink[i]];
        }
    }
    cairo_surface_mark_dirty(surface);
    const cairo_status_t status = cairo_surface_write_to_png(surface, path);
    cairo_surface_destroy(surface);
    if (status != CAIRO_STATUS_SUCCESS)
        g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", path, cairo_status_to_string(status));
    return status == CAIRO_STATUS_SUCCESS;
}

static void count(const Masks *m, double px_per_mm, WitnessCoverage *out)
{
    size_t n[4] = {0};
    const size_t all = (size_t)m->w * (size_t)m->h;
    for (size_t i = 0; i < all; i++)
        n[m->art[i] + 2 * m->ink[i]]++;
    const double px2 = px_per_mm * px_per_mm;
    const double either = (double)(n[1] + n[2] + n[3]);
    *out = (WitnessCoverage){.iou = either > 0 ? (double)n[3] / either : 1,
                             .art_mm2 = (double)(n[1] + n[3]) / px2,
                             .ink_mm2 = (double)(n[2] + n[3]) / px2,
                             .both_mm2 = (double)n[3] / px2};
}

/* Takes ink out of the count where no pen could leave it out. */
static void excuse(const Masks *m, double px_per_mm, double pen, WitnessCoverage *out)
{
    const size_t all = (size_t)m->w * (size_t)m->h;
    g_autofree uint8_t *near = g_malloc0(all);
    pen_mask_near_narrow(m->art, m->w, m->h, pen / 2 * px_per_mm, near);
    size_t n = 0;
    for (size_t i = 0; i < all; i++)
        n += !m->art[i] && m->ink[i] && near[i];
    const double excused = (double)n / (px_per_mm * px_per_mm);
    const double either = out->art_mm2 + out->ink_mm2 - out->both_mm2 - excused;
    out->excused_mm2 = excused;
    out->iou = either > 0 ? out->both_mm2 / either : 1;
}

static Masks masks_for(const WitnessSheet *sheet)
{
    const double k = sheet->px_per_mm;
    Masks m = {.w = (int)ceil((sheet->sheet.x1 - sheet->sheet.x0) * k),
               .h = (int)ceil((sheet->sheet.y1 - sheet->sheet.y0) * k)};
    cairo_matrix_init(&m.bed_to_px, k, 0, 0, -k, -sheet->sheet.x0 * k, sheet->sheet.y1 * k);
    return m;
}

uint8_t *witness_painted(const char *svg, const WitnessSheet *sheet, int *w, int *h, GError **error)
{
    Masks m = masks_for(sheet);
    m.art = g_malloc0((size_t)m.w * (size_t)m.h);
    if (!paint_art(&m, svg, sheet, error)) {
        g_free(m.art);
        return NULL;
    }
    *w = m.w;
    *h = m.h;
    return m.art;
}

gboolean witness_coverage(const char *svg, const WitnessSheet *sheet, const WitnessInk *landed,
                          const double *tips, size_t n_tips, const char *picture,
                          WitnessCoverage *out, GError **error)
{
    return witness_coverage_by_pen(svg, sheet, landed, tips, n_tips, 0, picture, out, error);
}

gboolean witness_coverage_by_pen(const char *svg, const WitnessSheet *sheet,
                                 const WitnessInk *landed, const double *tips, size_t n_tips,
                                 double pen, const char *picture, WitnessCoverage *out,
                                 GError **error)
{
    g_return_val_if_fail(n_tips > 0 && sheet->px_per_mm > 0, FALSE);
    const double k = sheet->px_per_mm;
    Masks m = masks_for(sheet);
    const size_t n = (size_t)m.w * (size_t)m.h;
    m.art = g_malloc0(n);
    m.ink = g_malloc0(n);
    gboolean ok = paint_art(&m, svg, sheet, error);
    if (ok) {
        paint_ink(&m, landed, tips, n_tips);
        count(&m, k, out);
        if (pen > 0)
            excuse(&m, k, pen, out);
        ok = !picture || write_picture(&m, picture, error);
    }
    g_free(m.art);
    g_free(m.ink);
    return ok;
}
