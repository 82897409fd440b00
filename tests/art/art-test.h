/* What the art tests share. */
#pragma once

#include "drawtrue/art.h"
#include "drawtrue/base.h"
#include "support/font-leaks.h"

#include <math.h>
#include <string.h>

static inline DtDrawing *read_text(const char *svg)
{
    g_autoptr(GError) error = NULL;
    DtDrawing *d = dt_art_read_data(svg, strlen(svg), "test.svg", NULL, &error);
    g_assert_no_error(error);
    g_assert_nonnull(d);
    return d;
}

/* A page of 100 px by 100 px whose user unit is one millimetre. */
#define PAGE                                                                                       \
    "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' "          \
    "width='100mm' height='100mm' viewBox='0 0 100 100'>"

static inline DtDrawing *read_page(const char *content)
{
    g_autofree char *svg = g_strconcat(PAGE, content, "</svg>", NULL);
    return read_text(svg);
}

static inline void assert_box(DtBox b, double x0, double y0, double x1, double y1)
{
    g_assert_cmpfloat_with_epsilon(b.x0, x0, 0.02);
    g_assert_cmpfloat_with_epsilon(b.y0, y0, 0.02);
    g_assert_cmpfloat_with_epsilon(b.x1, x1, 0.02);
    g_assert_cmpfloat_with_epsilon(b.y1, y1, 0.02);
}

static inline void assert_colour(DtColour c, double r, double g, double b, double alpha)
{
    g_assert_cmpfloat_with_epsilon(c.r, r, 0.003);
    g_assert_cmpfloat_with_epsilon(c.g, g, 0.003);
    g_assert_cmpfloat_with_epsilon(c.b, b, 0.003);
    g_assert_cmpfloat_with_epsilon(c.alpha, alpha, 0.003);
}

static inline void assert_refused(const char *svg, const char *message)
{
    g_autoptr(GError) error = NULL;
    DtDrawing *d = dt_art_read_data(svg, strlen(svg), "test.svg", NULL, &error);
    g_assert_null(d);
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    if (!strstr(error->message, message))
        g_error("'%s' is not in '%s'", message, error->message);
}
