/* ink: paints that change from place to place, where ink is dense. */
#include "drawtrue/base.h"
#include "drawtrue/ink.h"

#include <math.h>
#include <string.h>

#define PAGE                                                                                       \
    "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='100mm' "                        \
    "viewBox='0 0 100 100'>"

static DtStrokes ink_of(const char *defs, const char *shapes)
{
    DtPen pens[2] = {{.name = (char *)"black",
                      .colour = {0, 0, 0, 1},
                      .tip = 0.4,
                      .classes = (char *)"ebony",
                      .dot_gain = 1},
                     {.name = (char *)"red",
                      .colour = {0.9, 0.1, 0.1, 1},
                      .tip = 0.4,
                      .classes = (char *)"all",
                      .dot_gain = 1}};
    DtRack rack = {pens, 2};
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    o.solid = TRUE;
    g_autofree char *svg = g_strconcat(PAGE "<defs>", defs, "</defs>", shapes, "</svg>", NULL);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d =
        dt_art_read_data(svg, strlen(svg), "parts.svg", &DT_ART_OPTIONS_DEFAULT, &error);
    g_assert_no_error(error);
    DtStrokes s;
    dt_strokes_init(&s);
    g_assert_true(dt_ink_trace(d, &rack, &o, &s, NULL, &error));
    g_assert_no_error(error);
    return s;
}

static void assert_box(const DtStrokes *s, double x0, double y0, double x1, double y1)
{
    DtBox b = dt_strokes_box(s);
    g_assert_cmpfloat_with_epsilon(b.x0, x0, 0.01);
    g_assert_cmpfloat_with_epsilon(b.y0, y0, 0.01);
    g_assert_cmpfloat_with_epsilon(b.x1, x1, 0.01);
    g_assert_cmpfloat_with_epsilon(b.y1, y1, 0.01);
}

#define FADE                                                                                       \
    "<linearGradient id='g'><stop offset='0'/>"                                                    \
    "<stop offset='1' stop-opacity='0'/></linearGradient>"

static void test_fade_is_inked_where_it_hides_half(void)
{
    g_auto(DtStrokes) s = ink_of(FADE, "<rect x='10' y='10' width='80' height='40' "
                                       "fill='url(#g)'/>");
    assert_box(&s, 10.2, 10.2, 49.8, 49.8);
}

/* Of the opacity 1 - x half is left at x = 1 - 0.5 / 0.8. */
static void test_fade_counts_with_opacities(void)
{
    g_auto(DtStrokes) s = ink_of(FADE, "<g opacity='0.8'><rect x='10' y='10' width='80' "
                                       "height='40' fill='url(#g)'/></g>");
    assert_box(&s, 10.2, 10.2, 10 + 80 * 0.375 - 0.2, 49.8);
}

static void test_round_fade_is_inked_within_a_circle(void)
{
    g_auto(DtStrokes) s =
        ink_of("<radialGradient id='g' gradientUnits='userSpaceOnUse' cx='50' cy='50' r='40'>"
               "<stop offset='0'/><stop offset='1' stop-opacity='0'/></radialGradient>",
               "<rect width='100' height='100' fill='url(#g)'/>");
    double farthest = 0;
    for (size_t i = 0; i < s.n_pts; i++)
        farthest = MAX(farthest, dt_point_distance(s.pts[i], dt_point(50, 50)));
    g_assert_cmpfloat_with_epsilon(farthest, 19.8, 0.02);
    assert_box(&s, 30.2, 30.2, 69.8, 69.8);
}

/* Sharp stops: white to the left of the middle, which hides the black below it. */
#define HALF_WHITE                                                                                 \
    "<linearGradient id='g'><stop offset='0.5' stop-color='#fff'/>"                                \
    "<stop offset='0.5'/></linearGradient>"

static void test_what_looks_like_paper_hides_and_is_not_inked(void)
{
    g_auto(DtStrokes) s = ink_of(HALF_WHITE, "<rect x='20' y='20' width='20' height='20'/>"
                                             "<rect x='10' y='10' width='80' height='40' "
                                             "fill='url(#g)'/>");
    assert_box(&s, 50.2, 10.2, 89.8, 49.8);
}

static void test_a_pen_asked_for_draws_what_looks_like_paper(void)
{
    g_auto(DtStrokes) s = ink_of(HALF_WHITE, "<rect class='all' x='10' y='10' width='80' "
                                             "height='40' fill='url(#g)'/>");
    assert_box(&s, 10.2, 10.2, 89.8, 49.8);
}

/* Though the other pen's colour is nearer, whichever of the rack's pens it is. */
static void test_a_pen_asked_for_draws_what_fades(void)
{
    static const char *const names[] = {"ebony", "all"}, *const colours[] = {"#e61919", "#000"};
    for (guint pen = 0; pen < G_N_ELEMENTS(names); pen++)
        for (int asks = 0; asks < 2; asks++) {
            g_autofree char *stops =
                g_strdup_printf("<linearGradient id='g'><stop offset='0' "
                                "stop-color='%1$s'/><stop offset='1' stop-color='%1$s' "
                                "stop-opacity='0'/></linearGradient>",
                                colours[pen]);
            g_autofree char *shape = g_strdup_printf(
                "<rect %s='%s' x='10' y='10' width='80' height='40' fill='url(#g)'/>",
                asks ? "class" : "id", names[pen]);
            g_auto(DtStrokes) s = ink_of(stops, shape);
            assert_box(&s, 10.2, 10.2, 49.8, 49.8);
            for (size_t i = 0; i < s.n; i++)
                g_assert_cmpuint(s.strokes[i].pen, ==, asks ? pen : 1 - pen);
        }
}

static void test_thin_lines_fade_as_well(void)
{
    g_auto(DtStrokes) s =
        ink_of("<linearGradient id='g' gradientUnits='userSpaceOnUse' x1='10' x2='90'>"
               "<stop offset='0'/><stop offset='1' stop-opacity='0'/></linearGradient>",
               "<path d='M10 20H90' fill='none' stroke='url(#g)' stroke-width='0.4'/>");
    assert_box(&s, 10, 20, 50, 20);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/parts/fade", test_fade_is_inked_where_it_hides_half);
    g_test_add_func("/ink/parts/opacities", test_fade_counts_with_opacities);
    g_test_add_func("/ink/parts/round", test_round_fade_is_inked_within_a_circle);
    g_test_add_func("/ink/parts/paper", test_what_looks_like_paper_hides_and_is_not_inked);
    g_test_add_func("/ink/parts/asked", test_a_pen_asked_for_draws_what_looks_like_paper);
    g_test_add_func("/ink/parts/asked-fade", test_a_pen_asked_for_draws_what_fades);
    g_test_add_func("/ink/parts/lines", test_thin_lines_fade_as_well);
    return g_test_run();
}
