/* test-art-css: colours and math functions against values that their specifications give. */
#include "drawtrue/art.h"

#include <string.h>

static DtColour fill_of(const char *colour)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *svg = g_strdup_printf("<svg xmlns='http://www.w3.org/2000/svg' width='9' "
                                           "height='9'><rect width='9' height='9' "
                                           "style='fill:%s'/></svg>",
                                           colour);
    g_autoptr(DtDrawing) d = dt_art_read_data(svg, strlen(svg), "colour.svg", NULL, &error);
    g_assert_no_error(error);
    return d->shapes[0].fill.colour;
}

/* CSS Color 4, sections 9.1, 9.3 and 10: one colour in four spaces, #7d2329; 8: hwb (from memory). */
static void test_sample_colours(void)
{
    static const struct {
        const char *text;
        int r, g, b;
    } samples[] = {{"lab(29.2345% 39.3825 20.0664)", 0x7d, 0x23, 0x29},
                   {"lch(29.2345% 44.2 27)", 0x7d, 0x23, 0x29},
                   {"oklab(40.101% 0.1147 0.0453)", 0x7d, 0x23, 0x29},
                   {"oklch(40.101% 0.12332 21.555)", 0x7d, 0x23, 0x29},
                   {"color(xyz-d65 0.09458 0.05723 0.02704)", 0x7d, 0x23, 0x29},
                   {"hwb(150 20% 10%)", 0x33, 0xe6, 0x8c},
                   {"hsl(120 100% 25%)", 0x00, 0x80, 0x00},
                   {"color-mix(in srgb, red 25%, blue)", 0x40, 0x00, 0xbf}};
    for (gsize i = 0; i < G_N_ELEMENTS(samples); i++) {
        DtColour c = fill_of(samples[i].text);
        g_assert_cmpfloat_with_epsilon(c.r * 255, samples[i].r, 1.6);
        g_assert_cmpfloat_with_epsilon(c.g * 255, samples[i].g, 1.6);
        g_assert_cmpfloat_with_epsilon(c.b * 255, samples[i].b, 1.6);
    }
}

/* CSS Color 4, 13.2: what is mapped lies within sRGB and keeps its hue, so that the green of Display
 * P3 stays greener than red and blue. What is as light as white is white, what is as dark as black
 * is black, however much chroma it has. */
static void test_gamut_mapping(void)
{
    DtColour c = fill_of("color(display-p3 0 1 0)");
    g_assert_cmpfloat(c.g, >, 0.9);
    g_assert_cmpfloat(MAX(c.r, c.b), <, 0.6);
    g_assert_cmpfloat(MIN(c.r, c.b), >=, 0);
    for (int hue = 0; hue < 360; hue += 60)
        for (int white = 0; white < 2; white++) {
            g_autofree char *text = g_strdup_printf("oklch(%d 0.3 %d)", white, hue);
            c = fill_of(text);
            g_assert_true(c.r == white && c.g == white && c.b == white && c.alpha == 1);
        }
}

/* CSS Values 4, sections 10.1 to 10.7, by the examples there and their arithmetic. */
static void test_math_functions(void)
{
    static const struct {
        const char *text;
        double px;
    } samples[] = {{"calc(1px * (2 + 3))", 5},
                   {"min(10px, 4px)", 4},
                   {"clamp(2px, 9px, 5px)", 5},
                   {"round(up, 13px, 5px)", 15},
                   {"mod(18px, 5px)", 3},
                   {"mod(-18px, 5px)", 2},
                   {"rem(-18px, 5px)", -3},
                   {"calc(1px * sin(30deg))", 0.5},
                   {"calc(1px * pow(2, 3))", 8},
                   {"hypot(3px, 4px)", 5},
                   {"calc(1px * log(8, 2))", 3},
                   {"calc(1px * sign(-3px) * -1)", 1},
                   {"abs(-7px)", 7},
                   {"calc(10px + 10%)", 20}};
    for (gsize i = 0; i < G_N_ELEMENTS(samples); i++) {
        g_autoptr(GError) error = NULL;
        g_autofree char *svg =
            g_strdup_printf("<svg xmlns='http://www.w3.org/2000/svg' width='100' height='100'>"
                            "<rect style='x:%s' width='1' height='1'/></svg>",
                            samples[i].text);
        g_autoptr(DtDrawing) d = dt_art_read_data(svg, strlen(svg), "math.svg", NULL, &error);
        g_assert_no_error(error);
        g_assert_cmpuint(d->n_notes, ==, 0);
        g_assert_cmpfloat_with_epsilon(dt_lines_box(&d->shapes[0].outline).x0,
                                       samples[i].px * 25.4 / 96, 1e-6);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/css/colours", test_sample_colours);
    g_test_add_func("/outside/css/gamut", test_gamut_mapping);
    g_test_add_func("/outside/css/math", test_math_functions);
    return g_test_run();
}
