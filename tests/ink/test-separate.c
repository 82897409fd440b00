/* ink: the pens of gradients and pictures. */
#include "ink/look/separate.h"

#define TIP 0.4

static const DtColour paper = {1, 1, 1, 1};

/* The colours of a flower, from brown in its shadows to a bright red, which by one pen look nearly as near but all
 * alike: a picture gets black as well, by which its shadows are to be seen; without counting these it would not. */
static void test_pictures_keep_light_and_shade(void)
{
    static DtPen two[] = {
        {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"brick", .colour = {0.71, 0.28, 0.18, 1}, .tip = TIP, .dot_gain = 1}};
    static const DtRack black_and_brick = {two, G_N_ELEMENTS(two)};
    g_autoptr(DtAppear) appear = dt_appear_new(&black_and_brick, paper);
    enum { ALL = 32 };
    DtColour c[ALL];
    for (int i = 0; i < ALL; i++) {
        const double f = (double)i / (ALL - 1);
        c[i] = (DtColour){0.4 + 0.6 * f, 0.05 + 0.4 * f * f, 0.03, 1};
    }
    DtSeparationRules rules = {
        .asked = -1, .most = 4, .way = DT_TONE_THINNED, .judge = DT_JUDGE_BOTH};
    DtSeparation *plain = dt_separation_new(appear, c, ALL, rules);
    rules.shades = TRUE;
    DtSeparation *shaded = dt_separation_new(appear, c, ALL, rules);
    g_test_message("difference %.2f without light and shade, %.2f with",
                   dt_separation_difference(plain), dt_separation_difference(shaded));
    g_assert_cmpuint(dt_separation_n_pens(plain), ==, 1);
    g_assert_cmpint(dt_separation_pen(plain, 0), ==, 1);
    g_assert_cmpuint(dt_separation_n_pens(shaded), ==, 2);
    g_assert_cmpint(dt_separation_pen(shaded, 0), ==, 1);
    g_assert_cmpint(dt_separation_pen(shaded, 1), ==, 0);
    g_assert_cmpfloat(dt_separation_difference(shaded), <, dt_separation_difference(plain));
    g_assert_cmpfloat(dt_separation_share(shaded, 1, c[0]), >, 0.3);
    g_assert_cmpfloat(dt_separation_share(shaded, 1, c[ALL - 1]), <, 0.05);
    dt_separation_free(plain);
    dt_separation_free(shaded);
}

/* The pens for a gradient from one colour to another; returns how many. */
static unsigned pens_of_gradient(const DtRack *of, DtColour a, DtColour b, int *pen)
{
    g_autoptr(DtAppear) appear = dt_appear_new(of, paper);
    enum { ALL = 40 };
    DtColour c[ALL];
    for (int i = 0; i < ALL; i++) {
        const double f = (double)i / (ALL - 1);
        c[i] = (DtColour){a.r + f * (b.r - a.r), a.g + f * (b.g - a.g), a.b + f * (b.b - a.b), 1};
    }
    DtSeparation *s = dt_separation_new(
        appear, c, ALL,
        (DtSeparationRules){.asked = -1, .most = 2, .way = DT_TONE_EVEN, .judge = DT_JUDGE_BOTH});
    const unsigned n = dt_separation_n_pens(s);
    for (unsigned i = 0; i < n; i++)
        pen[i] = dt_separation_pen(s, i);
    dt_separation_free(s);
    return n;
}

/* A teal is nearest by the green as long as there is one pen, and much nearer by two others. A brown with a brown pen
 * is not made of red and green, which are nearer by a little only. */
static void test_two_pens_of_a_gradient(void)
{
    static DtPen five[] = {
        {.name = (char *)"green", .colour = {0.18, 0.49, 0.20, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"light green", .colour = {0.49, 0.70, 0.26, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"light blue", .colour = {0.31, 0.66, 0.86, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"brown", .colour = {0.48, 0.29, 0.17, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"red", .colour = {0.78, 0.16, 0.16, 1}, .tip = TIP, .dot_gain = 1}};
    static const DtRack felts = {five, G_N_ELEMENTS(five)};
    const DtColour teal[2] = {{0.25, 0.5, 0.5, 1}, {0.5, 0.75, 0.75, 1}},
                   brown[2] = {{0.38, 0.31, 0.25, 1}, {0.63, 0.5, 0.38, 1}};
    int pen[2];
    g_assert_cmpuint(pens_of_gradient(&felts, teal[0], teal[1], pen), ==, 2);
    g_assert_cmpint(pen[0] + pen[1], ==, 3);
    g_assert_cmpint(pen[0] * pen[1], ==, 2);
    const unsigned n = pens_of_gradient(&felts, brown[0], brown[1], pen);
    g_assert_cmpint(pen[0], ==, 3);
    g_assert_true(n == 1 || pen[1] != 0);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/separate/light-and-shade", test_pictures_keep_light_and_shade);
    g_test_add_func("/ink/separate/two-pens", test_two_pens_of_a_gradient);
    return g_test_run();
}
