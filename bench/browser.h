/* browser: a web browser as a further witness of what a drawing looks like. */
#pragma once

#include <cairo.h>

/* The drawing as the browser paints it on a transparent sheet of w by h px; NULL where it does not.
 * `program` takes the options of Chromium. The caller destroys the surface. */
cairo_surface_t *browser_paint(const char *program, const char *drawing, int w, int h);
