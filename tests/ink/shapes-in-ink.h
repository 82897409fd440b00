/* shapes-in-ink: the strokes for shapes on a page of 100 mm square. */
#pragma once

#include "drawtrue/ink.h"

#include <string.h>

#define PAGE_OF_100_MM                                                                             \
    "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='100mm' viewBox='0 0 100 100'>"

/* Of shapes in SVG, with user units of 1 mm; `report` may be NULL. Freed with dt_strokes_clear(). */
static inline DtStrokes shapes_in_ink(const char *shapes, const DtRack *rack, const DtInkOptions *o,
                                      DtInkReport *report)
{
    g_autofree char *svg = g_strconcat(PAGE_OF_100_MM, shapes, "</svg>", NULL);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d =
        dt_art_read_data(svg, strlen(svg), "shapes.svg", &DT_ART_OPTIONS_DEFAULT, &error);
    g_assert_no_error(error);
    DtStrokes s;
    dt_strokes_init(&s);
    g_assert_true(dt_ink_trace(d, rack, o, &s, report, &error));
    g_assert_no_error(error);
    return s;
}
