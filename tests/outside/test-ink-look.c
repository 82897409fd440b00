/* outside: the colours that hatches are taken to have, worked by hand: Murray 1936 for one ink, Neugebauer
 * 1937 with Demichel's shares for two. */
#include "ink/look/appear.h"

#include <math.h>

/* Inks whose linear light is 0 or 1 in each channel. */
static DtPen pens[2] = {{(char *)"black", {0, 0, 0, 1}, 0.4, {0, 0}, NULL, NULL},
                        {(char *)"red", {1, 0, 0, 1}, 0.4, {0, 0}, NULL, NULL}};
static const DtRack rack = {pens, 2};
static const DtColour white = {1, 1, 1, 1};

static void assert_light(DtAppear *a, DtRecipe r, double red, double green, double blue)
{
    double light[3];
    dt_appear_light(a, r, light);
    g_assert_cmpfloat_with_epsilon(light[0], red, 1e-12);
    g_assert_cmpfloat_with_epsilon(light[1], green, 1e-12);
    g_assert_cmpfloat_with_epsilon(light[2], blue, 1e-12);
}

static void test_one_ink_after_murray(void)
{
    g_autoptr(DtAppear) a = dt_appear_new(&rack, white);
    assert_light(a, DT_RECIPE_PAPER, 1, 1, 1);
    assert_light(a, (DtRecipe){{0, -1}, {0.25, 0}}, 0.75, 0.75, 0.75);
    assert_light(a, (DtRecipe){{1, -1}, {0.4, 0}}, 1, 0.6, 0.6);
    assert_light(a, (DtRecipe){{1, -1}, {1, 0}}, 1, 0, 0);
}

/* Shares 0.5 and 0.4: paper 0.3, black 0.3, red 0.2, both 0.2; red light from paper and red, the rest from
 * the paper alone. */
static void test_two_inks_after_neugebauer(void)
{
    g_autoptr(DtAppear) a = dt_appear_new(&rack, white);
    assert_light(a, (DtRecipe){{0, 1}, {0.5, 0.4}}, 0.3 + 0.2, 0.3, 0.3);
}

/* The grey that half of the paper's light makes, L* 76.07, takes half of black ink on average. A pattern that
 * the eye sees counts as farther off than its mean: the choice is near it, and lighter. */
static void test_greys_are_black_lines(void)
{
    g_autoptr(DtAppear) a = dt_appear_new(&rack, white);
    DtAppearLimits any = {-1, -1, 0, FALSE, TRUE};
    DtRecipe r = dt_appear_choose(a, (DtLab){76.07, 0, 0}, any);
    g_assert_cmpint(r.pen[0], ==, 0);
    g_assert_cmpfloat(fabs(r.share[0] - 0.5), <=, 0.1);
    r = dt_appear_choose(a, (DtLab){98, 0, 0}, any);
    g_assert_cmpint(r.pen[0], ==, -1);
    r = dt_appear_choose(a, (DtLab){0, 0, 0}, any);
    g_assert_cmpint(r.pen[0], ==, 0);
    g_assert_cmpfloat(r.share[0], ==, 1);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/ink-look/murray", test_one_ink_after_murray);
    g_test_add_func("/outside/ink-look/neugebauer", test_two_inks_after_neugebauer);
    g_test_add_func("/outside/ink-look/greys", test_greys_are_black_lines);
    return g_test_run();
}
