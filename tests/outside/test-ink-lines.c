/* outside: dash proportions against ISO 128-20:1996, and tip widths against ISO 9175-1 (both from
 * memory). */
#include "ink/outline.h"

#include <math.h>
#include <string.h>

static void test_line_types_of_iso_128(void)
{
    /* Line widths: dot at most 0.5, gap 3, short dash 6, dash 12, space 18, long dash 24. */
    static const struct {
        const char *name;
        double length[10];
    } types[] = {{"dashed", {12, 3}},
                 {"dashed-spaced", {12, 18}},
                 {"long-dashed-dotted", {24, 3, 0.5, 3}},
                 {"long-dashed-double-dotted", {24, 3, 0.5, 3, 0.5, 3}},
                 {"dotted", {0.5, 3}},
                 {"long-dashed-short-dashed", {24, 3, 6, 3}},
                 {"dashed-dotted", {12, 3, 0.5, 3}},
                 {"double-dashed-dotted", {12, 3, 12, 3, 0.5, 3}},
                 {"dashed-double-dotted", {12, 3, 0.5, 3, 0.5, 3}}};
    for (size_t i = 0; i < G_N_ELEMENTS(types); i++) {
        size_t n = 0;
        g_autofree char *classes = g_strdup_printf("border %s\tthin", types[i].name);
        const double *d = dt_dash_of_class(classes, &n);
        g_assert_nonnull(d);
        for (size_t k = 0; k < 10; k++)
            g_assert_cmpfloat(k < n ? d[k] : 0, ==, types[i].length[k]);
    }
    size_t n = 1;
    g_assert_null(dt_dash_of_class("dash dottedness", &n));
    g_assert_null(dt_dash_of_class(NULL, &n));
    g_assert_cmpuint(n, ==, 0);
}

static const DtColour BLACK = {0, 0, 0, 1};

static size_t dashes(double tip, double *first, double *gap)
{
    DtPen pen = {.name = (char *)"black", .colour = BLACK, .tip = tip, .dot_gain = 1};
    DtRack rack = {&pen, 1};
    DtShape s = {.clip = -1, .classes = "dashed"};
    DtPoint p[2] = {{0, 0}, {15 * tip * 20 - 3 * tip, 0}};
    dt_lines_init(&s.outline);
    dt_lines_append(&s.outline, p, 2, FALSE);
    s.stroke = (DtStrokeStyle){
        .paint = {DT_PAINT_FLAT, BLACK, NULL}, .width = tip / 2, .user_to_mm = {2, 0, 0, 2, 5, 7}};
    DtDrawing d = {.shapes = &s, .n_shapes = 1};
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    g_auto(DtStrokes) ink;
    dt_strokes_init(&ink);
    g_assert_true(dt_ink_trace(&d, &rack, &o, &ink, NULL, NULL));
    *first = dt_strokes_length(&ink, 0);
    *gap = dt_point_distance(ink.pts[ink.strokes[0].first + 1], ink.pts[ink.strokes[1].first]);
    dt_lines_clear(&s.outline);
    return ink.n;
}

static void test_dashes_at_the_tip_widths_of_iso_9175(void)
{
    /* 0.13 to 2 mm, each the root of two times the last, rounded. */
    static const double tips[] = {0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0};
    for (int i = 0; i < 9; i++) {
        double dash, gap;
        g_assert_cmpuint(dashes(tips[i], &dash, &gap), ==, 20);
        g_assert_cmpfloat_with_epsilon(dash, 12 * tips[i], 0.003);
        g_assert_cmpfloat_with_epsilon(gap, 3 * tips[i], 0.003);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/ink-lines/iso-128", test_line_types_of_iso_128);
    g_test_add_func("/outside/ink-lines/iso-9175", test_dashes_at_the_tip_widths_of_iso_9175);
    return g_test_run();
}
