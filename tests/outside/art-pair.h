/* A drawing painted twice, by cairo from our shapes and by librsvg, on transparent sheets of 1000
 * px along the longer side. */
#pragma once

#include "drawtrue/art.h"
#include "support/font-leaks.h"

#include <cairo.h>
#include <librsvg/rsvg.h>
#include <math.h>
#include <string.h>

#define UNIT_MM (25.4 / 96)

typedef struct {
    cairo_surface_t *ours, *theirs;
} Pair;

static inline cairo_surface_t *pair_sheet(double w, double h, cairo_t **cr, double *scale)
{
    *scale = 1000 / MAX(w, h);
    cairo_surface_t *s = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, (int)round(w * *scale),
                                                    (int)round(h * *scale));
    *cr = cairo_create(s);
    return s;
}

static inline Pair pair_paint(const char *data, gsize len, const char *name)
{
    Pair p;
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d = dt_art_read_data(data, len, name, NULL, &error);
    g_assert_no_error(error);
    RsvgHandle *h = rsvg_handle_new_from_data((const guint8 *)data, len, NULL);
    g_assert_nonnull(h);
    double w, hgt, scale;
    rsvg_handle_set_dpi(h, 96);
    if (!rsvg_handle_get_intrinsic_size_in_pixels(h, &w, &hgt)) {
        w = d->width / UNIT_MM;
        hgt = d->height / UNIT_MM;
    }
    cairo_t *cr;
    p.theirs = pair_sheet(w, hgt, &cr, &scale);
    cairo_scale(cr, scale, scale);
    rsvg_handle_render_document(h, cr, &(RsvgRectangle){0, 0, w, hgt}, NULL);
    cairo_destroy(cr);
    p.ours = pair_sheet(w, hgt, &cr, &scale);
    cairo_scale(cr, scale / UNIT_MM, scale / UNIT_MM);
    dt_art_paint(d, cr);
    cairo_destroy(cr);
    cairo_surface_flush(p.ours);
    cairo_surface_flush(p.theirs);
    g_object_unref(h);
    return p;
}

static inline void pair_clear(Pair *p)
{
    cairo_surface_destroy(p->ours);
    cairo_surface_destroy(p->theirs);
}

/* Painted is where alpha is at least one half: the intersection of the two masks over their union.
 */
static inline double pair_agreement(const Pair *p)
{
    gsize both = 0, either = 0;
    int rows = cairo_image_surface_get_height(p->ours);
    int stride = cairo_image_surface_get_stride(p->ours);
    const guchar *a = cairo_image_surface_get_data(p->ours);
    const guchar *b = cairo_image_surface_get_data(p->theirs);
    for (int i = 3; i < rows * stride; i += 4) { /* alpha, little endian */
        both += a[i] >= 128 && b[i] >= 128;
        either += a[i] >= 128 || b[i] >= 128;
    }
    return either ? (double)both / (double)either : 1;
}

/* The share of the pixels painted by both whose channels, alpha included, differ by no more than
 * `step` of 255. */
static inline double pair_colours(const Pair *p, int step)
{
    gsize both = 0, agree = 0;
    int rows = cairo_image_surface_get_height(p->ours);
    int stride = cairo_image_surface_get_stride(p->ours);
    const guchar *a = cairo_image_surface_get_data(p->ours);
    const guchar *b = cairo_image_surface_get_data(p->theirs);
    for (int i = 0; i < rows * stride; i += 4) {
        if (a[i + 3] < 128 || b[i + 3] < 128)
            continue;
        int worst = 0;
        for (int k = 0; k < 4; k++)
            worst = MAX(worst, abs(a[i + k] - b[i + k]));
        both++;
        agree += worst <= step;
    }
    return both ? (double)agree / (double)both : 1;
}
