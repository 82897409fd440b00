/* ink: the pens and tones that certain shapes keep: black outlines, dark colours, and areas of fine lines. */
#include "shapes-in-ink.h"

#include "ink/look/assign.h"
#include "ink/look/separate.h"

static DtPen pens[] = {
    {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"green", .colour = {0.18, 0.49, 0.2, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"terracotta", .colour = {0.71, 0.28, 0.18, 1}, .tip = 0.4, .dot_gain = 1}};
static const DtRack rack = {pens, G_N_ELEMENTS(pens)};

static DtStrokes ink_of(const char *shapes)
{
    return shapes_in_ink(shapes, &rack, &DT_INK_OPTIONS_DEFAULT, NULL);
}

static double length_of(const DtStrokes *s, int pen)
{
    double sum = 0;
    for (size_t i = 0; i < s->n; i++)
        sum += pen < 0 || s->strokes[i].pen == pen ? dt_strokes_length(s, i) : 0;
    return sum;
}

/* A black outline 1 mm wide and long, which is one part with a field, beside a line of dark grey that would be dense black
 * too: it is told apart from that in some other way than by another hue. So is any grey: it has the pens that it has
 * alone, or grey ink. */
static void test_greys_keep_their_hue(void)
{
    const DtColour paper = {1, 1, 1, 1};
    g_autoptr(GRand) random = g_rand_new_with_seed(5);
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    for (int i = 0; i < 300; i++) {
        const double outline = i % 2 ? 0 : g_rand_double_range(random, 0, 0.9),
                     line = g_rand_double_range(random, 0, 1);
        DtLookArea areas[2] = {{.asked = -1, .narrow = TRUE, .least = 1, .area = 120},
                               {.asked = -1, .least = 0.3, .area = 400}};
        areas[0].lab = dt_colour_lab((DtColour){line, line, line, 1});
        areas[1].lab = dt_colour_lab((DtColour){outline, outline, outline, 1});
        const DtPartBorder border = {0, 1, 860};
        g_autoptr(GArray) borders = g_array_new(FALSE, FALSE, sizeof border);
        g_autoptr(GArray) gaps = g_array_new(FALSE, FALSE, sizeof border);
        dt_look_assign(appear, areas, 2, borders, 0.4, gaps);
        const DtRecipe alone = areas[1].recipe;
        g_array_append_val(borders, border);
        dt_look_assign(appear, areas, 2, borders, 0.4, gaps);
        for (int k = 0; k < 2; k++) {
            const int pen = areas[1].recipe.pen[k];
            g_assert_true(pen <= 0 || pen == alone.pen[0] || pen == alone.pen[1]);
        }
    }
}

/* A purple black beside a black is no other than that in ink: no bare gap parts them. */
static void test_blacks_are_not_parted(void)
{
    const DtColour paper = {1, 1, 1, 1};
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    DtLookArea areas[2] = {{.asked = -1, .narrow = TRUE, .least = 1, .area = 25},
                           {.asked = -1, .least = 0.3, .area = 52}};
    areas[0].lab = dt_colour_lab((DtColour){0, 0, 0, 1});
    areas[1].lab = dt_colour_lab((DtColour){0.07, 0.03, 0.1, 1});
    g_assert_cmpfloat(dt_colour_difference(areas[0].lab, areas[1].lab), >, 8);
    const DtPartBorder border = {0, 1, 50};
    g_autoptr(GArray) borders = g_array_new(FALSE, FALSE, sizeof border);
    g_autoptr(GArray) gaps = g_array_new(FALSE, FALSE, sizeof border);
    g_array_append_val(borders, border);
    dt_look_assign(appear, areas, 2, borders, 0.4, gaps);
    g_assert_cmpuint(gaps->len, ==, 0);
    for (int i = 0; i < 2; i++) {
        g_assert_cmpint(areas[i].recipe.pen[0], ==, 0);
        g_assert_cmpfloat(areas[i].recipe.share[0], ==, 1);
    }
}

/* No lighter ink is laid over black only to make it deeper: inks over black are hardly seen (common practice, no source),
 * and take as long as the black. Pens that are no black are crossed to be darker than either. */
static void test_black_hides_what_crosses_it(void)
{
    DtPen red_and_green[2] = {pens[1], pens[2]};
    const DtRack without = {red_and_green, 2};
    const DtColour paper = {1, 1, 1, 1};
    const DtAppearLimits any = {.only = -1, .hatch = -1, .second = -1, .two_pens = TRUE};
    g_autoptr(DtAppear) with_black = dt_appear_new(&rack, paper);
    g_autoptr(DtAppear) no_black = dt_appear_new(&without, paper);
    const DtLab black = dt_appear_lab(with_black, (DtRecipe){{0, -1}, {1, 0}});
    int alone = 0;
    for (int i = 0; i < 3 * 3 * 3; i++) {
        const DtColour dark = {i / 9 * 0.06, i / 3 % 3 * 0.06, i % 3 * 0.07, 1};
        const DtRecipe r = dt_appear_choose(with_black, dt_colour_lab(dark), any);
        if (r.pen[1] >= 0)
            g_assert_cmpfloat(dt_appear_lab(with_black, r).l, >=, black.l);
        alone += r.pen[1] < 0;
        g_assert_cmpint(dt_appear_choose(no_black, dt_colour_lab(dark), any).pen[1], >=, 0);
    }
    g_assert_cmpint(alone, >=, 18);
}

/* Nor in what changes: tones that are all but black have black alone, others keep the pens that they need. */
static void test_black_tones_have_no_other_ink(void)
{
    enum { N = 40 };
    const DtColour paper = {1, 1, 1, 1};
    const DtSeparationRules rules[] = {
        {.asked = -1, .most = 2, .way = DT_TONE_EVEN, .judge = DT_JUDGE_BOTH},
        {.asked = -1, .most = 4, .way = DT_TONE_THINNED, .judge = DT_JUDGE_BOTH, .shades = TRUE}};
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    for (int i = 0; i < 4; i++) {
        DtColour c[N];
        for (int k = 0; k < N; k++) {
            const double v = 0.09 * k / N;
            c[k] = i < 2 ? (DtColour){v, v, v, 1} : (DtColour){4 * v, 9 * v, 4 * v, 1};
        }
        DtSeparation *s = dt_separation_new(appear, c, N, rules[i % 2]);
        if (i < 2)
            g_assert_cmpuint(dt_separation_n_pens(s), ==, 1);
        else
            g_assert_cmpuint(dt_separation_n_pens(s), >, 1);
        dt_separation_free(s);
    }
}

/* Level lines 0.02 mm wide that meet, up to 40 in each shape, from #808080 to #c0c0c0 over 20 mm; every few steps one line
 * is a filled strip, half a line's width from its neighbours. */
static char *gradient_of_lines(double pitch, int in_a_shape, gboolean strips)
{
    GString *s = g_string_new(NULL);
    const int n = (int)(20 / pitch);
    for (int i = 0; i < n; i += in_a_shape) {
        const unsigned grey = 0x80 + 0x40 * (unsigned)i / (unsigned)n;
        const gboolean strip = strips && i % 8 == 0;
        g_string_append(s, "<path d='");
        for (int k = i; k < MIN(i + in_a_shape, n); k++)
            g_string_append_printf(s, strip ? "M20 %.3fh60v0.02h-60z" : "M20 %.3fh60",
                                   20 + k * pitch);
        if (strip)
            g_string_append_printf(s, "' fill='#%06x'/>", grey * 0x010101);
        else
            g_string_append_printf(s, "' fill='none' stroke='#%06x' stroke-width='0.02'/>",
                                   grey * 0x010101);
    }
    return g_string_free(s, FALSE);
}

/* Their ink covers about what the tones do by Murray and Davies 1936, on average 0.63 of black by linear light; drawn line
 * by line it would be dense. */
static void test_fine_lines_side_by_side_are_a_tone(void)
{
    for (int i = 0; i < 4; i++) {
        g_autofree char *shapes = gradient_of_lines(0.02, i % 2 ? 1 : 40, i >= 2);
        g_auto(DtStrokes) s = ink_of(shapes);
        const double covers = length_of(&s, -1) * 0.4 / (60 * 20);
        g_test_message("%d: covers %.2f", i, covers);
        g_assert_cmpfloat(covers, >, 0.5);
        g_assert_cmpfloat(covers, <, 0.8);
    }
}

/* Lines with gaps as wide as themselves are lines. */
static void test_lines_apart_are_lines(void)
{
    g_autofree char *shapes = gradient_of_lines(0.6, 40, FALSE);
    g_auto(DtStrokes) s = ink_of(shapes);
    g_assert_cmpfloat(length_of(&s, -1), >=, 33 * 60 - 1);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/hues/greys", test_greys_keep_their_hue);
    g_test_add_func("/ink/hues/blacks", test_blacks_are_not_parted);
    g_test_add_func("/ink/hues/black", test_black_hides_what_crosses_it);
    g_test_add_func("/ink/hues/black-tones", test_black_tones_have_no_other_ink);
    g_test_add_func("/ink/hues/side-by-side", test_fine_lines_side_by_side_are_a_tone);
    g_test_add_func("/ink/hues/apart", test_lines_apart_are_lines);
    return g_test_run();
}
