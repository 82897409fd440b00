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

/* Whether a place is within `reach` mm of a stroke. */
static inline gboolean is_within_strokes(const DtStrokes *s, DtPoint p, double reach)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        for (size_t j = 0; j + (k->closed ? 0 : 1) < k->n; j++)
            if (dt_point_segment_distance(p, s->pts[k->first + j],
                                          s->pts[k->first + (j + 1) % k->n]) <= reach)
                return TRUE;
    }
    return FALSE;
}

/* The share of the places along a line that are within `reach` mm of a stroke. */
static inline double inked_between(const DtStrokes *s, DtPoint a, DtPoint b, double reach)
{
    enum { PLACES = 600 };
    int n = 0;
    for (int i = 0; i < PLACES; i++)
        n += is_within_strokes(s, dt_point_lerp(a, b, (i + 0.5) / PLACES), reach);
    return (double)n / PLACES;
}
