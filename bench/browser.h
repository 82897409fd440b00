/* browser: a web browser as a further witness of what a drawing looks like. */
#pragma once

#include <cairo.h>
#include <glib.h>

/* The drawing as the browser paints it on a transparent sheet of w by h px; NULL where it does not.
 * `program` takes the options of Chromium. The caller destroys the surface. */
cairo_surface_t *browser_paint(const char *program, const char *drawing, int w, int h);

typedef struct {
    const char *data;      /* the drawing, */
    gsize len;             /* bytes */
    double page_w, page_h; /* of its page, CSS px; */
    int w, h;              /* px that it is wanted in */
    cairo_surface_t *picture;
} BrowserPicture;

/* Paints many drawings in one go, each no larger than `side` px; `picture` stays NULL where the
 * browser fails. */
void browser_paint_many(const char *program, BrowserPicture *pictures, gsize n, int side);
