/* ink: pens and coverage for all areas of a drawing at once. */
#include "ink/look/assign.h"
#include "ink/look/separate.h"

#include <math.h>

#define TIP 0.4

static DtPen pens[] = {
    {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = TIP, .dot_gain = 1},
    {.name = (char *)"grey", .colour = {0.54, 0.55, 0.56, 1}, .tip = TIP, .dot_gain = 1},
    {.name = (char *)"red", .colour = {0.78, 0.16, 0.16, 1}, .tip = TIP, .dot_gain = 1},
    {.name = (char *)"yellow", .colour = {0.96, 0.82, 0.09, 1}, .tip = TIP, .dot_gain = 1},
    {.name = (char *)"green", .colour = {0.18, 0.49, 0.2, 1}, .tip = TIP, .dot_gain = 1},
    {.name = (char *)"blue", .colour = {0.12, 0.31, 0.64, 1}, .tip = TIP, .dot_gain = 1}};
static const DtRack rack = {pens, G_N_ELEMENTS(pens)};
static const DtColour paper = {1, 1, 1, 1};

static DtLookArea area_of(DtColour c)
{
    return (DtLookArea){.lab = dt_colour_lab(c), .asked = -1, .area = 1000, .outline = -1};
}

static void assign(DtAppear *appear, DtLookArea *areas, size_t n)
{
    g_autoptr(GArray) borders = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    g_autoptr(GArray) gaps = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    dt_look_assign(appear, areas, n, borders, TIP, gaps);
}

/* Dense terracotta looks the same over or under a green that only one of two fields has, if it is opaque: then the fields
 * are told apart by something else. The light of opaque inks is that of the areas seen, after Murray and Davies. */
static void test_what_a_dense_pen_hides_tells_nothing_apart(void)
{
    DtPen three[] = {
        {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"green", .colour = {0.18, 0.49, 0.2, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"terracotta", .colour = {0.71, 0.28, 0.18, 1}, .tip = TIP, .dot_gain = 1}};
    const DtRack of_three = {three, G_N_ELEMENTS(three)};
    g_autoptr(DtAppear) appear = dt_appear_new(&of_three, paper);
    const DtRecipe alone = {{2, -1}, {1, 0}}, over = {{2, 1}, {1, 0.5}}, under = {{1, 2}, {0.5, 1}},
                   open = {{2, 1}, {0.5, 0.5}};
    const DtLab dense = dt_appear_lab(appear, alone);
    g_assert_cmpfloat(dt_colour_difference(dense, dt_appear_lab(appear, over)), >, 10);
    g_assert_cmpfloat(dt_colour_difference(dense, dt_appear_opaque_lab(appear, over)), <, 1e-6);
    g_assert_cmpfloat(dt_colour_difference(dense, dt_appear_opaque_lab(appear, under)), <, 1e-6);
    double light[3];
    for (int c = 0; c < 3; c++) {
        const double own[2] = {
            dt_colour_linear((&three[2].colour.r)[c]),
            dt_colour_linear((&three[1].colour.r)[c]),
        };
        light[c] = own[0] / 2 + own[1] / 4 + 1.0 / 4;
    }
    g_assert_cmpfloat(dt_colour_difference(dt_colour_lab_linear(light[0], light[1], light[2]),
                                           dt_appear_opaque_lab(appear, open)),
                      <, 1e-6);
    /* Browns, whatever recipes they get: none may be told apart only by what is hidden. */
    unsigned inked = 0;
    g_autoptr(GRand) random = g_rand_new_with_seed(20);
    for (unsigned k = 0; k < 2000; k++) {
        DtLookArea areas[2];
        for (int i = 0; i < 2; i++)
            areas[i] = area_of((DtColour){g_rand_double_range(random, 0.3, 0.9),
                                          g_rand_double_range(random, 0.05, 0.5),
                                          g_rand_double_range(random, 0, 0.3), 1});
        const DtPartBorder border = {0, 1, 500};
        g_autoptr(GArray) borders = g_array_new(FALSE, FALSE, sizeof border);
        g_autoptr(GArray) gaps = g_array_new(FALSE, FALSE, sizeof border);
        g_array_append_val(borders, border);
        if (dt_colour_difference(areas[0].lab, areas[1].lab) < 10)
            continue;
        dt_look_assign(appear, areas, 2, borders, TIP, gaps);
        const DtRecipe r = areas[0].recipe, s = areas[1].recipe;
        const int more[2] = {r.pen[1] == r.pen[0] ? -1 : r.pen[1],
                             s.pen[1] == s.pen[0] ? -1 : s.pen[1]};
        const gboolean same_pens = r.pen[0] == s.pen[0] && more[0] == more[1];
        if (gaps->len > 0 || r.pen[0] < 0 || s.pen[0] < 0 || same_pens)
            continue;
        inked += more[0] >= 0 || more[1] >= 0;
        g_assert_cmpfloat(
            dt_colour_difference(dt_appear_opaque_lab(appear, r), dt_appear_opaque_lab(appear, s)),
            >=, DT_LOOK_TOLD_APART);
    }
    g_assert_cmpuint(inked, >, 5);
}

/* However much nearer a hatch looks from afar: from 40 cm a drawing must not look farther from the artwork than
 * in dense ink. Drawn by wide tips (1 mm, ISO 9175-1) some of the colours would, by what counts over both
 * distances. */
static void test_never_much_farther_than_dense(void)
{
    DtPen wide[G_N_ELEMENTS(pens)];
    const DtRack wide_rack = {wide, G_N_ELEMENTS(wide)};
    for (size_t i = 0; i < G_N_ELEMENTS(wide); i++) {
        wide[i] = pens[i];
        wide[i].tip = 1;
    }
    unsigned bound = 0, n = 0;
    for (int i = 0; i < 6 * 6 * 6; i++) {
        const DtColour c = {i / 36 / 5.0, i / 6 % 6 / 5.0, i % 6 / 5.0, 1};
        const DtLab lab = dt_colour_lab(c);
        g_autoptr(DtAppear) appear = dt_appear_new(&wide_rack, paper);
        DtLookArea area = area_of(c);
        const DtAppearLimits any = {.only = -1, .hatch = -1, .second = -1, .two_pens = TRUE};
        const double dense = dt_appear_dense_difference(appear, lab);
        const DtRecipe free = dt_appear_choose(appear, lab, any);
        bound += dt_appear_near_difference(appear, lab, free) > dense + 0.5;
        assign(appear, &area, 1);
        g_assert_cmpfloat(dt_appear_near_difference(appear, lab, area.recipe), <=, dense + 0.5);
        n++;
    }
    g_test_message("%u of %u colours are held back", bound, n);
    g_assert_cmpuint(bound, >, 0);
}

/* A narrow red-brown part that black would draw as the field beside it is told apart by a gap: green is as light, but its
 * hue is the opposite one. */
static void test_a_narrow_part_is_not_told_apart_by_another_hue(void)
{
    DtPen own[] = {pens[0], pens[4], pens[3]};
    const DtRack black_green_yellow = {own, G_N_ELEMENTS(own)};
    const DtLab brown = dt_colour_lab((DtColour){0.63, 0.27, 0.19, 1});
    g_autoptr(DtAppear) appear = dt_appear_new(&black_green_yellow, paper);
    DtLookArea areas[2] = {area_of((DtColour){0.63, 0.27, 0.19, 1}),
                           area_of((DtColour){0.76, 0.4, 0.31, 1})};
    areas[0].narrow = TRUE;
    areas[0].least = 1;
    areas[0].area = 1.2;
    areas[1].area = 100;
    const DtPartBorder border = {0, 1, 4};
    g_autoptr(GArray) borders = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    g_autoptr(GArray) gaps = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    g_array_append_val(borders, border);
    dt_look_assign(appear, areas, 2, borders, TIP, gaps);
    g_assert_cmpint(areas[1].recipe.pen[0], ==, 0);
    g_assert_cmpfloat(areas[1].recipe.share[0], >=, 0.5);
    g_assert_cmpint(areas[0].recipe.pen[0], ==, 0);
    g_assert_cmpuint(gaps->len, ==, 1);
    g_assert_cmpfloat(dt_colour_difference(brown, dt_colour_lab(own[0].colour)), <,
                      dt_colour_difference(brown, dt_colour_lab(own[1].colour)));
}

/* A line that crosses a field of its own pen keeps that pen there, within a gap, rather than to change to another pen
 * that is about as far from its paint; alone it may have that. */
static void test_a_line_keeps_one_pen(void)
{
    DtPen own[] = {pens[0], pens[4], pens[2]};
    const DtRack black_green_terracotta = {own, G_N_ELEMENTS(own)};
    const DtColour blue = {0, 0, 0.8, 1};
    own[2].colour = (DtColour){0.71, 0.28, 0.18, 1};
    for (int longer = 0; longer < 2; longer++) {
        g_autoptr(DtAppear) appear = dt_appear_new(&black_green_terracotta, paper);
        DtLookArea areas[3] = {area_of(blue), area_of((DtColour){0.45, 0.45, 0.45, 1}),
                               area_of(blue)};
        areas[0].narrow = areas[2].narrow = TRUE;
        areas[0].least = areas[2].least = 1;
        areas[0].area = 4;
        areas[2].area = longer ? 20 : 0.04;
        areas[1].area = 100;
        const DtPartBorder border[2] = {{-1, 2, 20}, {0, 1, 20}};
        g_autoptr(GArray) borders = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
        g_autoptr(GArray) gaps = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
        g_array_append_vals(borders, border, 2);
        dt_look_assign(appear, areas, 3, borders, TIP, gaps);
        g_assert_cmpint(areas[1].recipe.pen[0], ==, 0);
        g_assert_cmpint(areas[0].recipe.pen[0], ==, longer ? 0 : 2);
        g_assert_cmpuint(gaps->len, ==, longer ? 1 : 0);
    }
}

/* The direction of a grey's hatch, over which lines of a pen run along each direction. */
static int turn_beside(int pen, const double mm[DT_LOOK_TURNS])
{
    const DtRack black = {pens, 1};
    g_autoptr(DtAppear) appear = dt_appear_new(&black, paper);
    double along[2 * DT_LOOK_TURNS] = {0};
    for (int i = 0; i < DT_LOOK_TURNS; i++)
        along[pen * DT_LOOK_TURNS + i] = mm[i];
    DtLookArea areas[2] = {area_of((DtColour){0.8, 0.8, 0.8, 1}),
                           area_of((DtColour){0.8, 0.8, 0.8, 1})};
    areas[1].along = along;
    assign(appear, areas, 2);
    g_assert_cmpint(areas[0].recipe.pen[0], ==, 0);
    g_assert_cmpfloat(areas[0].recipe.share[0], <, 0.5);
    g_assert_cmpint(areas[0].turn, ==, areas[1].turn); /* one field in two areas */
    return areas[1].turn;
}

static void test_a_hatch_turns_from_lines_along_it(void)
{
    static const double one_way[] = {20, 0, 0, 0}, two_ways[] = {20, 18, 30, 2},
                        all_ways[] = {20, 18, 30, 19}, short_line[] = {2, 0, 0, 0};
    g_assert_cmpint(turn_beside(0, one_way), >, 0);
    g_assert_cmpint(turn_beside(0, two_ways), ==, 3);
    g_assert_cmpint(turn_beside(0, all_ways), ==, 0);
    g_assert_cmpint(turn_beside(0, short_line), ==, 0);
    g_assert_cmpint(turn_beside(1, one_way), ==, 0); /* lines of another pen show */
}

/* Where two pens are named for what is open, no other one is hatched and no others are crossed. */
static void test_only_the_named_pens_are_crossed(void)
{
    unsigned crossed = 0;
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    for (int i = 0; i < 4 * 4 * 4; i++)
        for (int a = 0; a < 6; a++)
            for (int b = (a + 1) % 2; b < 6; b += 2) {
                const DtLab lab =
                    dt_colour_lab((DtColour){i / 16 / 3.0, i / 4 % 4 / 3.0, i % 4 / 3.0, 1});
                const DtAppearLimits ab = {.only = -1, .hatch = a, .second = b, .two_pens = TRUE};
                const DtRecipe r = dt_appear_choose(appear, lab, ab);
                if (r.pen[1] < 0)
                    continue;
                g_assert_true((r.pen[0] == a && r.pen[1] == b) || (r.pen[0] == b && r.pen[1] == a));
                crossed++;
            }
    g_assert_cmpuint(crossed, >, 20);
}

/* Crossed lines spread by the larger dot gain of the two, whichever pen has it. */
static void test_crossed_pens_take_the_larger_gain(void)
{
    DtPen two[2] = {pens[0], pens[2]};
    const DtRack both = {two, 2};
    const DtRecipe r = {{0, 1}, {0.4, 0.3}};
    DtLab seen[4];
    for (int i = 0; i < 4; i++) {
        two[0].dot_gain = i & 1 ? 2 : 1;
        two[1].dot_gain = i & 2 ? 2 : 1;
        g_autoptr(DtAppear) appear = dt_appear_new(&both, paper);
        seen[i] = dt_appear_lab(appear, r);
    }
    g_assert_cmpfloat(dt_colour_difference(seen[0], seen[3]), >, 1);
    for (int i = 1; i < 3; i++)
        g_assert_cmpfloat(dt_colour_difference(seen[i], seen[3]), <, 1e-6);
}

/* Without black, greys darker than the grey ink are nearer by a second pen across it, the same for all. */
static void test_greys_share_their_pens(void)
{
    const DtRack no_black = {pens + 1, G_N_ELEMENTS(pens) - 1};
    DtLookArea areas[9];
    g_autoptr(DtAppear) appear = dt_appear_new(&no_black, paper);
    for (int i = 0; i < 9; i++) {
        const double v = 0.1 + 0.1 * i;
        areas[i] = area_of((DtColour){v, v, v, 1});
    }
    assign(appear, areas, 9);
    unsigned crossed = 0, others = 0;
    gboolean used[G_N_ELEMENTS(pens)] = {FALSE};
    for (int i = 0; i < 9; i++) {
        const DtRecipe r = areas[i].recipe;
        crossed += r.pen[1] >= 0;
        for (int k = 0; k < 2; k++)
            if (r.pen[k] >= 0 && (r.pen[1] >= 0 || r.share[0] < 1))
                used[r.pen[k]] = TRUE;
    }
    for (size_t i = 1; i < no_black.n; i++)
        others += used[i];
    g_assert_cmpuint(crossed, >, 0);
    g_assert_true(used[0]); /* grey */
    g_assert_cmpuint(others, ==, 1);
}

/* Grey inks mix without a change of hue: black takes part in the dark ones, and grey ink alone has the light ones,
 * since its lines are seen less. */
static void test_light_greys_take_grey_ink(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    DtLookArea areas[2] = {area_of((DtColour){0.25, 0.25, 0.25, 1}),
                           area_of((DtColour){0.75, 0.75, 0.75, 1})};
    areas[0].area = 20000;
    assign(appear, areas, 2);
    g_assert_true(areas[0].recipe.pen[0] == 0 || areas[0].recipe.pen[1] == 0);
    g_assert_cmpint(areas[1].recipe.pen[0], ==, 1);
    g_assert_cmpint(areas[1].recipe.pen[1], ==, -1);
    g_assert_cmpfloat(areas[1].recipe.share[0], <, 1);
}

/* A dark grey has lines in two directions, however large it is, where these look nearer by one unit, and no farther from
 * 40 cm; a black and a middle grey have not. */
static void test_dark_tones_are_crossed(void)
{
    const DtRack one = {pens, 1};
    g_autoptr(DtAppear) appear = dt_appear_new(&one, paper);
    unsigned crossed = 0;
    for (int v = 0; v <= 160; v += 4) {
        DtLookArea area = area_of((DtColour){v / 255.0, v / 255.0, v / 255.0, 1});
        const DtAppearLimits greys = {.only = -1, .hatch = 0, .second = -1, .greys = TRUE};
        const DtRecipe alone = dt_appear_choose(appear, area.lab, greys);
        area.area = 10000;
        assign(appear, &area, 1);
        g_assert_cmpint(area.recipe.pen[0], ==, 0);
        if (area.recipe.pen[1] < 0)
            continue;
        crossed++;
        g_assert_cmpint(area.recipe.pen[1], ==, 0);
        g_assert_cmpint(v, >, 28);
        g_assert_cmpint(v, <, 128);
        g_assert_cmpfloat(dt_appear_difference(appear, area.lab, area.recipe), <=,
                          dt_appear_difference(appear, area.lab, alone) - 1);
        g_assert_cmpfloat(dt_appear_near_difference(appear, area.lab, area.recipe), <=,
                          dt_appear_near_difference(appear, area.lab, alone));
    }
    g_test_message("%u greys of 41 are crossed", crossed);
    g_assert_cmpuint(crossed, >, 6);
    /* A blue that would only be as light as it should, and no nearer, stays dense. */
    DtPen own = pens[5];
    const DtRack blue = {&own, 1};
    own.colour = (DtColour){0.1216, 0.3059, 0.6118, 1};
    g_autoptr(DtAppear) by_blue = dt_appear_new(&blue, paper);
    DtLookArea area = area_of((DtColour){0.1255, 0.251, 1, 1});
    assign(by_blue, &area, 1);
    g_assert_cmpint(area.recipe.pen[1], ==, -1);
    g_assert_cmpfloat(area.recipe.share[0], ==, 1);
}

static void check_black(const DtRack *pens_of)
{
    g_autoptr(DtAppear) appear = dt_appear_new(pens_of, paper);
    DtLookArea area = area_of((DtColour){0, 0, 0, 1});
    assign(appear, &area, 1);
    g_assert_cmpint(area.recipe.pen[0], ==, 0);
    g_assert_cmpint(area.recipe.pen[1], ==, -1);
    g_assert_cmpfloat(area.recipe.share[0], ==, 1);
}

/* Black is drawn by the black pen alone, though another ink over it, or under it where it has hardly a gap, would be
 * deeper still. */
static void test_black_takes_one_pen(void)
{
    static DtPen felt[] = {
        {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"orange", .colour = {0.94, 0.49, 0.1, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"brown", .colour = {0.48, 0.29, 0.17, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"violet", .colour = {0.42, 0.24, 0.6, 1}, .tip = TIP, .dot_gain = 1}};
    const DtRack other = {felt, G_N_ELEMENTS(felt)};
    check_black(&rack);
    check_black(&other);
}

/* A tone of lines a tip apart, of which some are left out, painted and blurred sample by sample: what the eye sees
 * of it from 40 cm (Gaussian of 0.14 mm), against the tables. */
static double painted_tone(const DtRack *own, int drawn, int of, DtLab colour)
{
    enum { PER_TIP = 80, REACH = 160 };
    const double tip = own->pens[0].tip, sigma = 0.14 / tip * PER_TIP;
    const double bare = 1, ink = dt_colour_linear(own->pens[0].colour.r);
    const int n = of * PER_TIP;
    double sum = 0;
    for (int i = 0; i < n; i++) {
        double covered = 0, weight = 0;
        for (int k = -REACH; k <= REACH; k++) {
            const double w = exp(-0.5 * k * k / sigma / sigma);
            weight += w;
            covered += ((i + k + 4 * n) % n) / PER_TIP < drawn ? w : 0;
        }
        const double light = bare + (ink - bare) * covered / weight;
        sum += dt_colour_difference(colour, dt_colour_lab_linear(light, light, light));
    }
    return sum / n;
}

static void test_tones_look_as_their_lines_do(void)
{
    DtPen pen = {.name = (char *)"grey", .colour = {0.2, 0.2, 0.2, 1}, .tip = 0.4, .dot_gain = 1};
    const DtRack own = {&pen, 1};
    g_autoptr(DtAppear) appear = dt_appear_new(&own, paper);
    static const int shares[][2] = {{1, 5}, {1, 4}, {1, 2}, {3, 4}, {4, 5}, {9, 10}};
    for (size_t i = 0; i < G_N_ELEMENTS(shares); i++) {
        const double share = (double)shares[i][0] / shares[i][1];
        const DtRecipe r = {{0, -1}, {share, 0}};
        const DtLab mean = dt_appear_lab(appear, r);
        const double painted = painted_tone(&own, shares[i][0], shares[i][1], mean);
        const double expected = dt_appear_tone_difference(appear, mean, r, DT_TONE_THINNED, TRUE);
        g_test_message("%.2f: painted %.2f, by the tables %.2f", share, painted, expected);
        g_assert_cmpfloat(fabs(expected - painted), <, 1);
    }
}

/* Pale blues that one dark pen would hatch: from 40 cm the dense light pen looks nearer, and is taken. */
static void test_tones_look_no_farther_than_dense_ink(void)
{
    DtPen blues[2] = {
        {.name = (char *)"light", .colour = {0.31, 0.66, 0.86, 1}, .tip = 0.4, .dot_gain = 1},
        {.name = (char *)"dark", .colour = {0.12, 0.31, 0.64, 1}, .tip = 0.4, .dot_gain = 1}};
    const DtRack own = {blues, 2};
    g_autoptr(DtAppear) appear = dt_appear_new(&own, paper);
    DtColour c[40];
    for (int i = 0; i < 40; i++)
        c[i] = (DtColour){0.36 + 0.004 * i, 0.55 + 0.003 * i, 0.84, 1};
    DtSeparation *s = dt_separation_new(
        appear, c, 40,
        (DtSeparationRules){
            .asked = -1, .most = 2, .way = DT_TONE_THINNED, .judge = DT_JUDGE_NEAR});
    double dense;
    dt_separation_dense(appear, c, 40, FALSE, &dense);
    g_test_message("near %.2f, dense %.2f", dt_separation_near(s, c, 40), dense);
    g_assert_cmpfloat(dt_separation_near(s, c, 40), <, dense + 1e-6);
    g_assert_cmpint(dt_separation_pen(s, 0), ==, 0);
    dt_separation_free(s);
}

/* Dark browns in black from 40 cm: few wide gaps are farther off than dense ink, many narrow ones nearer. */
static void test_even_tones_stay_open(void)
{
    const DtRack black = {pens, 1};
    g_autoptr(DtAppear) appear = dt_appear_new(&black, paper);
    DtColour c[20];
    for (int i = 0; i < 20; i++)
        c[i] = (DtColour){0.46 + 0.004 * i, 0.21 + 0.002 * i, 0.1, 1};
    DtSeparation *thinned = dt_separation_new(
        appear, c, 20,
        (DtSeparationRules){
            .asked = -1, .most = 2, .way = DT_TONE_THINNED, .judge = DT_JUDGE_NEAR});
    DtSeparation *even = dt_separation_new(
        appear, c, 20,
        (DtSeparationRules){.asked = -1, .most = 2, .way = DT_TONE_EVEN, .judge = DT_JUDGE_NEAR});
    for (int i = 0; i < 20; i++) {
        g_assert_cmpfloat(dt_separation_share(thinned, 0, c[i]), ==, 1);
        g_assert_cmpfloat(dt_separation_share(even, 0, c[i]), <, 0.97);
    }
    dt_separation_free(thinned);
    dt_separation_free(even);
}

/* Strong light greens: dense green ink is nearest in hue and up to 14 units of L* too dark, so it covers less. */
static void test_lightness_counts_beside_hue(void)
{
    DtPen three[3] = {
        {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"green", .colour = {0.18, 0.49, 0.2, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"earth", .colour = {0.71, 0.28, 0.18, 1}, .tip = TIP, .dot_gain = 1}};
    const DtRack own = {three, 3};
    g_autoptr(DtAppear) appear = dt_appear_new(&own, paper);
    for (int i = 0; i < 5; i++) {
        DtLookArea area = area_of((DtColour){0.3 + 0.05 * i, 0.75 + 0.03 * i, 0.1 * i, 1});
        assign(appear, &area, 1);
        const DtLab got = dt_appear_lab(appear, area.recipe);
        g_assert_cmpint(area.recipe.pen[0], ==, 1);
        g_assert_cmpfloat(fabs(got.l - area.lab.l), <, 6);
    }
}

/* Each pen's own colour is nearest to itself, wherever it stands in the rack; of no colour at all none is. */
static void test_the_dense_pen_is_the_nearest(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    double off;
    for (size_t i = 0; i < rack.n; i++) {
        g_assert_cmpint(dt_separation_dense(appear, &pens[i].colour, 1, FALSE, &off), ==, (int)i);
        g_assert_cmpfloat(off, <, 1);
    }
    g_assert_cmpint(dt_separation_dense(appear, &paper, 0, FALSE, &off), ==, -1);
}

/* At the edges of the cube of colours as beside them: shares that a pen can draw, and no jumps. */
static void test_shares_hold_at_the_edges_of_all_colours(void)
{
    enum { SIDE = 21 };
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    DtColour all[SIDE * SIDE];
    for (int face = 0; face < 6; face++) {
        for (int i = 0; i < SIDE * SIDE; i++) {
            const double u = i / SIDE / (SIDE - 1.0), v = i % SIDE / (SIDE - 1.0), w = face % 2;
            all[i] = face / 2 == 0   ? (DtColour){w, u, v, 1}
                     : face / 2 == 1 ? (DtColour){u, w, v, 1}
                                     : (DtColour){u, v, w, 1};
        }
        DtSeparation *s = dt_separation_new(
            appear, all, SIDE * SIDE,
            (DtSeparationRules){
                .asked = -1, .most = 2, .way = DT_TONE_THINNED, .judge = DT_JUDGE_NEAR});
        for (int i = 0; i < SIDE * SIDE; i++) {
            const DtColour inside = {0.5 + (all[i].r - 0.5) * 0.998, 0.5 + (all[i].g - 0.5) * 0.998,
                                     0.5 + (all[i].b - 0.5) * 0.998, 1};
            for (unsigned k = 0; k < dt_separation_n_pens(s); k++) {
                const double share = dt_separation_share(s, k, all[i]);
                g_assert_cmpfloat(share, >=, 0);
                g_assert_cmpfloat(share, <=, 1);
                g_assert_cmpfloat(fabs(share - dt_separation_share(s, k, inside)), <, 0.15);
            }
        }
        dt_separation_free(s);
    }
}

static void append_square(DtLines *l, double x, double y, double side, gboolean hole)
{
    const DtPoint p[] = {{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}};
    const DtPoint back[] = {p[3], p[2], p[1], p[0]};
    dt_lines_append(l, hole ? back : p, 4, TRUE);
}

/* A square with a hole, one within the hole, and one beside: three pieces, each closed and with its own area. */
static void test_parts_are_whole_pieces(void)
{
    static const double areas[] = {400 - 100, 16, 25};
    gboolean found[3] = {FALSE};
    g_auto(DtLines) region;
    dt_lines_init(&region);
    append_square(&region, 0, 0, 20, FALSE);
    append_square(&region, 5, 5, 10, TRUE);
    append_square(&region, 8, 8, 4, FALSE);
    append_square(&region, 30, 0, 5, FALSE);
    g_autoptr(GArray) parts = g_array_new(FALSE, FALSE, sizeof(DtPart));
    g_array_set_clear_func(parts, dt_part_clear);
    g_assert_true(dt_parts_add(parts, 7, &region));
    g_assert_cmpuint(parts->len, ==, 3);
    for (guint i = 0; i < parts->len; i++) {
        const DtPart *p = &g_array_index(parts, DtPart, i);
        g_assert_cmpint(p->label, ==, 7);
        for (size_t k = 0; k < p->rings.n; k++)
            g_assert_true(p->rings.closed[k]);
        for (int k = 0; k < 3; k++)
            found[k] |= fabs(p->area - areas[k]) < 1e-9 && p->rings.n == (k == 0 ? 2 : 1);
    }
    g_assert_true(found[0] && found[1] && found[2]);
}

static DtLab lab_of(const DtAppear *appear, const int *pen, const double *share)
{
    double light[3];
    dt_appear_light_of_many(appear, pen, share, 3, light);
    return dt_colour_lab_linear(light[0], light[1], light[2]);
}

/* The least difference of three pens on a grid of shares that together are no darker than black. */
static double least_on_grid(const DtAppear *appear, DtLab colour, const int *pen)
{
    enum { GRID = 20 };
    const double black = dt_appear_lab(appear, (DtRecipe){{0, -1}, {1, 0}}).l - 1e-6;
    double least = G_MAXDOUBLE;
    for (int i = 0; i < (GRID + 1) * (GRID + 1) * (GRID + 1); i++) {
        const double share[3] = {(double)(i % (GRID + 1)) / GRID,
                                 (double)(i / (GRID + 1) % (GRID + 1)) / GRID,
                                 (double)(i / (GRID + 1) / (GRID + 1)) / GRID};
        const DtLab lab = lab_of(appear, pen, share);
        if (lab.l >= black)
            least = MIN(least, dt_colour_difference(colour, lab));
    }
    return least;
}

/* Shares of three pens are about as near as an exhaustive search finds, for colours within their reach
 * and beyond it. */
static void test_shares_are_the_nearest(void)
{
    static DtPen three[] = {
        {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"red", .colour = {0.78, 0.16, 0.16, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"blue", .colour = {0.12, 0.31, 0.64, 1}, .tip = TIP, .dot_gain = 1}};
    static const DtRack reds_and_blues = {three, G_N_ELEMENTS(three)};
    g_autoptr(DtAppear) appear = dt_appear_new(&reds_and_blues, paper);
    enum { SIDE = 5, ALL = SIDE * SIDE * SIDE };
    DtColour c[ALL];
    for (int i = 0; i < ALL; i++) /* in the separation's own steps of 1/31 */
        c[i] = (DtColour){(double)(i % SIDE * 7) / 31, (double)(i / SIDE % SIDE * 7) / 31,
                          (double)(i / SIDE / SIDE * 7) / 31, 1};
    DtSeparation *s = dt_separation_new(
        appear, c, ALL,
        (DtSeparationRules){
            .asked = -1, .most = 4, .way = DT_TONE_THINNED, .judge = DT_JUDGE_BOTH});
    g_assert_cmpuint(dt_separation_n_pens(s), ==, 3);
    const int pen[3] = {dt_separation_pen(s, 0), dt_separation_pen(s, 1), dt_separation_pen(s, 2)};
    double off = 0;
    for (int i = 0; i < ALL; i++) {
        const DtLab lab = dt_colour_lab(c[i]);
        double share[3];
        for (unsigned k = 0; k < 3; k++)
            share[k] = dt_separation_share(s, k, c[i]);
        off += (dt_colour_difference(lab, lab_of(appear, pen, share)) -
                least_on_grid(appear, lab, pen)) /
               ALL;
    }
    dt_separation_free(s);
    g_test_message("%.3f farther than a search of the grid", off);
    g_assert_cmpfloat(off, <, 0.15);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/assign/gain", test_crossed_pens_take_the_larger_gain);
    g_test_add_func("/ink/assign/hidden", test_what_a_dense_pen_hides_tells_nothing_apart);
    g_test_add_func("/ink/assign/named", test_only_the_named_pens_are_crossed);
    g_test_add_func("/ink/assign/dense", test_never_much_farther_than_dense);
    g_test_add_func("/ink/assign/greys", test_greys_share_their_pens);
    g_test_add_func("/ink/assign/grey-inks", test_light_greys_take_grey_ink);
    g_test_add_func("/ink/assign/crossed", test_dark_tones_are_crossed);
    g_test_add_func("/ink/assign/narrow-hue", test_a_narrow_part_is_not_told_apart_by_another_hue);
    g_test_add_func("/ink/assign/one-pen", test_a_line_keeps_one_pen);
    g_test_add_func("/ink/assign/turns", test_a_hatch_turns_from_lines_along_it);
    g_test_add_func("/ink/assign/black", test_black_takes_one_pen);
    g_test_add_func("/ink/assign/tones", test_tones_look_as_their_lines_do);
    g_test_add_func("/ink/assign/tones-near", test_tones_look_no_farther_than_dense_ink);
    g_test_add_func("/ink/assign/lightness", test_lightness_counts_beside_hue);
    g_test_add_func("/ink/assign/tones-even", test_even_tones_stay_open);
    g_test_add_func("/ink/assign/nearest-shares", test_shares_are_the_nearest);
    g_test_add_func("/ink/assign/dense-pen", test_the_dense_pen_is_the_nearest);
    g_test_add_func("/ink/assign/edges", test_shares_hold_at_the_edges_of_all_colours);
    g_test_add_func("/ink/assign/parts", test_parts_are_whole_pieces);
    return g_test_run();
}
