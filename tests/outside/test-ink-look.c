/* outside: the colours that hatches are taken to have, worked by hand: Murray 1936 for one ink,
 * Yule and Nielsen 1951 for its dot gain, Neugebauer 1937 with Demichel's shares for two. */
#include "ink/look/appear.h"
#include "support/look.h"

#include <math.h>

/* Inks whose linear light is 0 or 1 in each channel. */
static DtPen pens[2] = {
    {.name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"red", .colour = {1, 0, 0, 1}, .tip = 0.4, .dot_gain = 1}};
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

/* Reflectances 1 and 0.04, half covered, n = 2: (0.5 + 0.5 * 0.2)^2 = 0.36, where Murray has 0.52. */
static void test_dot_gain_after_yule_and_nielsen(void)
{
    /* sRGB that encodes 0.04: 1.055 * 0.04^(1/2.4) - 0.055 */
    const double v = 1.055 * pow(0.04, 1 / 2.4) - 0.055;
    DtPen grey = {.name = (char *)"grey", .colour = {v, v, v, 1}, .tip = 0.4, .dot_gain = 1};
    const DtRack one = {&grey, 1};
    const DtRecipe half = {{0, -1}, {0.5, 0}};
    g_autoptr(DtAppear) plain = dt_appear_new(&one, white);
    double light[3];
    dt_appear_light(plain, half, light);
    g_assert_cmpfloat_with_epsilon(light[1], 0.52, 1e-9);
    grey.dot_gain = 2;
    g_autoptr(DtAppear) soft = dt_appear_new(&one, white);
    dt_appear_light(soft, half, light);
    g_assert_cmpfloat_with_epsilon(light[1], 0.36, 1e-9);
    /* a mid grey then takes less ink */
    const DtLab mid = dt_colour_lab((DtColour){0.6, 0.6, 0.6, 1});
    const DtAppearLimits any = {.only = -1, .hatch = -1, .second = -1, .two_pens = FALSE};
    g_assert_cmpfloat(dt_appear_choose(soft, mid, any).share[0], <,
                      dt_appear_choose(plain, mid, any).share[0]);
}

/* Shares 0.5 and 0.5 of two inks whose overprint is measured as black in place of what they multiply to. */
static void test_a_measured_overprint_counts(void)
{
    DtPen two[2] = {{.name = (char *)"red", .colour = {1, 0, 0, 1}, .tip = 0.4, .dot_gain = 1},
                    {.name = (char *)"warm red",
                     .colour = {1, 0, 0, 1},
                     .tip = 0.4,
                     .dot_gain = 1,
                     .over = (char *)"blue #00ff00, red #000000"}};
    const DtRack both = {two, 2};
    const DtRecipe half = {{0, 1}, {0.5, 0.5}};
    g_autoptr(DtAppear) a = dt_appear_new(&both, white);
    assert_light(a, half, 0.75, 0.25, 0.25);
    two[1].over = NULL;
    g_autoptr(DtAppear) b = dt_appear_new(&both, white);
    assert_light(b, half, 1, 0.25, 0.25);
}

/* The grey that half of the paper's light makes, L* 76.07, takes half of black ink on average. A pattern that
 * the eye sees counts as farther off than its mean: the choice is near it, and lighter. */
static void test_greys_are_black_lines(void)
{
    g_autoptr(DtAppear) a = dt_appear_new(&rack, white);
    DtAppearLimits any = {.only = -1, .hatch = -1, .second = -1, .two_pens = TRUE};
    DtRecipe r = dt_appear_choose(a, (DtLab){76.07, 0, 0}, any);
    g_assert_cmpint(r.pen[0], ==, 0);
    g_assert_cmpfloat(fabs(r.share[0] - 0.5), <=, 0.1);
    r = dt_appear_choose(a, (DtLab){98, 0, 0}, any);
    g_assert_cmpint(r.pen[0], ==, -1);
    r = dt_appear_choose(a, (DtLab){0, 0, 0}, any);
    g_assert_cmpint(r.pen[0], ==, 0);
    g_assert_cmpfloat(r.share[0], ==, 1);
}

static void assert_ideal(const LookPen *ink, size_t n_pens, const float art[3], const float seen[3])
{
    g_auto(LookPicture) ideal = {0};
    float light[3] = {art[0], art[1], art[2]};
    const LookPicture pixel = {1, 1, 5, light, NULL};
    look_of_ideal(&pixel, ink, n_pens, &ideal);
    for (int c = 0; c < 3; c++)
        g_assert_cmpfloat_with_epsilon(ideal.rgb[c], seen[c], 1e-6);
}

/* What the bench of looks compares with: light that a share of one ink leaves (1 - share, share being one of
 * 32nds) is reached, the paper stays, and a red without red ink is the grey of about its lightness (53.24, the
 * grey of 0.2126 of the light), since a grey's chroma cannot be mended. */
static void test_ideal_of_one_pen(void)
{
    const LookPen ink[2] = {{{0, 0, 0}, 0.4}, {{1, 0, 0}, 0.4}};
    const float paper[3] = {1, 1, 1}, grey[3] = {0.25, 0.25, 0.25}, pink[3] = {1, 0.5, 0.5},
                red[3] = {1, 0, 0}, both[3] = {0.5, 0.25, 0.25};
    assert_ideal(ink, 2, paper, paper);
    assert_ideal(ink, 2, grey, grey);
    assert_ideal(ink, 2, pink, pink);
    assert_ideal(ink, 2, red, red);
    g_auto(LookPicture) ideal = {0};
    float light[3] = {red[0], red[1], red[2]};
    const LookPicture pixel = {1, 1, 5, light, NULL};
    look_of_ideal(&pixel, ink, 1, &ideal);
    g_assert_cmpfloat(ideal.rgb[0], ==, ideal.rgb[1]);
    g_assert_cmpfloat_with_epsilon(ideal.rgb[0], 0.2126, 0.03);
    /* a colour of two inks is no pen's: one of them comes as near as it can */
    look_clear(&ideal);
    memcpy(light, both, sizeof light);
    look_of_ideal(&pixel, ink, 2, &ideal);
    g_assert_cmpfloat(ideal.rgb[1], ==, ideal.rgb[2]);
    g_assert_true(ideal.rgb[0] == ideal.rgb[1] || ideal.rgb[0] == 1);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/ink-look/murray", test_one_ink_after_murray);
    g_test_add_func("/outside/ink-look/neugebauer", test_two_inks_after_neugebauer);
    g_test_add_func("/outside/ink-look/yule-nielsen", test_dot_gain_after_yule_and_nielsen);
    g_test_add_func("/outside/ink-look/overprint", test_a_measured_overprint_counts);
    g_test_add_func("/outside/ink-look/greys", test_greys_are_black_lines);
    g_test_add_func("/outside/ink-look/ideal", test_ideal_of_one_pen);
    return g_test_run();
}
