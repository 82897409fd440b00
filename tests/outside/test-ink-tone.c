/* outside: coverage of toned fills, counted on a picture that cairo draws of the ink, against the
 * law of Murray 1936 (after Davies). */
#include "drawtrue/ink.h"

#include "coverage.h"

#include <math.h>

static DtPen pen = {
    .name = (char *)"black", .colour = {0.1, 0.1, 0.12, 1}, .tip = 0.4, .dot_gain = 1};

/* Luminance with the coefficients of ITU-R BT.709, to four digits as IEC 61966-2-1 gives them. */
static double luminance(DtColour c)
{
    return 0.2126 * coverage_linear(c.r) + 0.7152 * coverage_linear(c.g) +
           0.0722 * coverage_linear(c.b);
}

/* The grey that a share of solid ink on white paper makes. */
static DtColour grey_of(double coverage)
{
    double v = coverage_grey(coverage, luminance(pen.colour));
    return (DtColour){v, v, v, 1};
}

/* The share of the box that ink covers. */
static double measure(const DtStrokes *s, DtBox b)
{
    Paper p = paper_new(b);
    for (size_t i = 0; i < s->n; i++)
        paper_draw(&p, &s->pts[s->strokes[i].first].x, s->strokes[i].n, s->strokes[i].closed != 0,
                   pen.tip);
    return paper_share(&p);
}

static void trace(DtDrawing *d, DtHatch hatch, DtStrokes *s)
{
    DtRack rack = {&pen, 1};
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    o.tone = TRUE;
    o.hatch = hatch;
    g_autoptr(GError) error = NULL;
    dt_ink_trace(d, &rack, &o, s, NULL, &error);
    g_assert_no_error(error);
}

static void test_wedge_of_eleven_steps(void)
{
    static const DtHatch kinds[] = {DT_HATCH_SERPENTINE, DT_HATCH_LINES, DT_HATCH_CROSSED};
    for (int kind = 0; kind < 3; kind++)
        for (int i = 0; i <= 10; i++) {
            double asked = i / 10.0;
            DtShape shape = {.clip = -1};
            DtPoint p[4] = {{5, 5}, {35, 5}, {35, 35}, {5, 35}};
            dt_lines_init(&shape.outline);
            dt_lines_append(&shape.outline, p, 4, TRUE);
            shape.fill = (DtPaint){DT_PAINT_FLAT, grey_of(asked), NULL};
            DtDrawing d = {.shapes = &shape, .n_shapes = 1};
            g_auto(DtStrokes) s;
            dt_strokes_init(&s);
            trace(&d, kinds[kind], &s);
            double got = measure(&s, (DtBox){5, 5, 35, 35});
            g_test_message("hatch %d: asked %.2f, covered %.4f", (int)kinds[kind], asked, got);
            g_assert_cmpfloat(fabs(got - asked), <=, 0.02);
            if (i == 0)
                g_assert_cmpuint(s.n, ==, 0);
            dt_lines_clear(&shape.outline);
        }
}

static void test_gradient_covers_from_place_to_place(void)
{
    static const char svg[] =
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='30mm' viewBox='0 0 100 30'>"
        "<linearGradient id='g'><stop offset='0' stop-color='#fff'/>"
        "<stop offset='1' stop-color='#1a1a1f'/></linearGradient>"
        "<rect width='100' height='30' fill='url(#g)'/></svg>";
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d =
        dt_art_read_data(svg, sizeof svg - 1, "wedge.svg", &DT_ART_OPTIONS_DEFAULT, &error);
    g_assert_no_error(error);
    g_auto(DtStrokes) s;
    dt_strokes_init(&s);
    trace(d, DT_HATCH_LINES, &s);
    for (int i = 0; i < 5; i++) {
        double asked = 0; /* the mean over the strip of the colour that the gradient has there */
        for (int k = 0; k < 100; k++) {
            double t = (20 * i + 0.2 * k + 0.1) / 100;
            DtColour c = {1 + t * (0x1a / 255.0 - 1), 1 + t * (0x1a / 255.0 - 1),
                          1 + t * (0x1f / 255.0 - 1), 1};
            asked += (1 - luminance(c)) / (1 - luminance(pen.colour)) / 100;
        }
        double got = measure(&s, (DtBox){20 * i, 1, 20 * i + 20, 29});
        g_test_message("strip %d: asked %.3f, covered %.3f", i, asked, got);
        g_assert_cmpfloat(fabs(got - MIN(asked, 1)), <=, 0.03);
    }
}

/* Worked by hand after Yule and Nielsen 1951: paper 0.81, ink 0.01, covered by half. n = 1 (Murray and Davies 1936)
 * gives 0.41; n = 2 gives ((0.9 + 0.1) / 2)^2 = 0.25. */
static void test_dot_gain_of_measured_steps(void)
{
    const double half[] = {0.5}, none[] = {0, 1};
    const double murray[] = {0.41}, two[] = {0.25}, ends[] = {0.81, 0.01};
    g_assert_cmpfloat_with_epsilon(dt_ink_fit_dot_gain(half, murray, 1, 0.81, 0.01), 1, 1e-6);
    g_assert_cmpfloat_with_epsilon(dt_ink_fit_dot_gain(half, two, 1, 0.81, 0.01), 2, 1e-6);
    g_assert_cmpfloat(dt_ink_fit_dot_gain(none, ends, 2, 0.81, 0.01), ==, 0);
    g_assert_cmpfloat(dt_ink_fit_dot_gain(half, two, 1, 0.01, 0.81), ==, 0);
    /* Bare and dense steps tell nothing, and hide nothing: the same n with them, in any order. */
    const double shares[] = {0, 0.5, 1}, all[] = {0.81, 0.25, 0.01};
    const double falling[] = {1, 0.5, 0}, rising[] = {0.01, 0.25, 0.81};
    g_assert_cmpfloat_with_epsilon(dt_ink_fit_dot_gain(shares, all, 3, 0.81, 0.01), 2, 1e-6);
    g_assert_cmpfloat_with_epsilon(dt_ink_fit_dot_gain(falling, rising, 3, 0.81, 0.01), 2, 1e-6);
    /* Measured steps are off by a little either way. */
    g_autoptr(GRand) r = g_rand_new_with_seed(1951);
    double share[9], seen[9];
    for (int i = 0; i < 9; i++) {
        share[i] = 0.1 * (i + 1);
        seen[i] = pow(pow(0.81, 1 / 1.7) * (1 - share[i]) + pow(0.01, 1 / 1.7) * share[i], 1.7) +
                  g_rand_double_range(r, -0.005, 0.005);
    }
    g_assert_cmpfloat_with_epsilon(dt_ink_fit_dot_gain(share, seen, 9, 0.81, 0.01), 1.7, 0.05);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/ink-tone/wedge", test_wedge_of_eleven_steps);
    g_test_add_func("/outside/ink-tone/gradient", test_gradient_covers_from_place_to_place);
    g_test_add_func("/outside/ink-tone/dot-gain", test_dot_gain_of_measured_steps);
    return g_test_run();
}
