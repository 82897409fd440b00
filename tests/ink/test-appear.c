/* appear: the look of hatches, tones and thin lines against a slow witness of the same models, in which
 * lines are blurred by summing the Gaussian. */
#include "ink/look/appear.h"

#include <math.h>
#include <string.h>

/* The luminance Gaussian of S-CIELAB (Zhang and Wandell 1997) from 40 cm and from 2 m, mm, and how much the
 * nearer distance counts. */
static const double sigma[2] = {0.14, 0.70}, counts[2] = {0.55, 0.45};
static const int points[2] = {12, 5}; /* across half a pattern */

#define CELLS 2400 /* of the blur's sum, over four standard deviations to each side */
#define CLOSE 0.08 /* of CIEDE2000, by the cells */

static DtPen pens[] = {
    {.name = (char *)"black", .colour = {0.08, 0.08, 0.1, 1}, .tip = 0.3, .dot_gain = 1},
    {.name = (char *)"green", .colour = {0.1, 0.55, 0.2, 1}, .tip = 0.5, .dot_gain = 1},
    {.name = (char *)"rose", .colour = {0.9, 0.4, 0.5, 1}, .tip = 0.4, .dot_gain = 1.8},
    {.name = (char *)"grey", .colour = {0.6, 0.6, 0.6, 1}, .tip = 0.25, .dot_gain = 1},
};
enum { PENS = G_N_ELEMENTS(pens) };
static const DtRack rack = {pens, PENS};
static const DtColour paper = {0.98, 0.96, 0.9, 1};

static void linear(DtColour c, double out[3])
{
    out[0] = dt_colour_linear(c.r);
    out[1] = dt_colour_linear(c.g);
    out[2] = dt_colour_linear(c.b);
}

/* One ink that covers a share: Murray and Davies 1936, with the exponent of Yule and Nielsen 1951. */
static void light_of_one(int pen, double share, double out[3])
{
    double white[3], ink[3];
    const double n = pens[pen].dot_gain;
    linear(paper, white);
    linear(pens[pen].colour, ink);
    for (int c = 0; c < 3; c++)
        out[c] = pow(pow(white[c], 1 / n) * (1 - share) + pow(ink[c], 1 / n) * share, n);
}

/* Two inks by Neugebauer 1937 with Demichel's shares; both together let through what both do. */
static void light_of_two(const int pen[2], const double share[2], double out[3])
{
    double white[3], ink[2][3];
    const double n = MAX(pens[pen[0]].dot_gain, pens[pen[1]].dot_gain);
    linear(paper, white);
    linear(pens[pen[0]].colour, ink[0]);
    linear(pens[pen[1]].colour, ink[1]);
    for (int c = 0; c < 3; c++) {
        double sum = 0;
        for (int k = 0; k < 4; k++) {
            double part = 1, light = white[c];
            for (int i = 0; i < 2; i++) {
                const int covered = k >> i & 1;
                part *= covered ? share[i] : 1 - share[i];
                light *= covered ? ink[i][c] / white[c] : 1;
            }
            sum += part * pow(light, 1 / n);
        }
        out[c] = pow(sum, n);
    }
}

static DtLab seen(const double light[3])
{
    return dt_colour_lab_linear(light[0], light[1], light[2]);
}

static gboolean is_covered(double x, double w, double period)
{
    return fabs(x - period * round(x / period)) <= w / 2;
}

/* The share at x of lines of width w, blurred: a sum over the Gaussian. */
static double blurred(double x, double w, double period, double s)
{
    double sum = 0, all = 0;
    for (int i = 0; i < CELLS; i++) {
        const double d = (8 * (i + 0.5) / CELLS - 4) * s, weight = exp(-d * d / (2 * s * s));
        all += weight;
        sum += is_covered(x + d, w, period) ? weight : 0;
    }
    return sum / all;
}

/* The lines side by side in a hatch: so many that the gap is at least a fifth of the tip. */
static int lines_of(double share)
{
    int n = 1;
    while (n * (1 / share - 1) < 0.2 - 1e-9)
        n++;
    return n;
}

/* A tone's lines are a tip apart, so that in the darker half the gaps are the pattern. */
static double share_at(double at, int pen, double share, gboolean tone, double s)
{
    if (share >= 1 || share <= 0)
        return share;
    const double rarer = tone && share > 0.5 ? 1 - share : share,
                 width = pens[pen].tip * (tone ? 1 : lines_of(share));
    const double part = blurred(at * width / rarer / 2, width, width / rarer, s);
    return rarer == share ? part : 1 - part;
}

/* Of a recipe from one distance. */
static double difference_from(DtLab colour, DtRecipe r, gboolean tone, int far)
{
    double sum = 0, light[3];
    const double s = sigma[far];
    const int along = points[far], across = r.pen[1] < 0 ? 1 : along;
    for (int i = 0; i < along; i++)
        for (int k = 0; k < across; k++) {
            const double both[2] = {
                share_at((i + 0.5) / along, r.pen[0], r.share[0], tone, s),
                r.pen[1] < 0 ? 0 : share_at((k + 0.5) / across, r.pen[1], r.share[1], tone, s)};
            if (r.pen[1] < 0 || r.pen[1] == r.pen[0]) /* by Demichel's shares */
                light_of_one(r.pen[0], 1 - (1 - both[0]) * (1 - both[1]), light);
            else
                light_of_two(r.pen, both, light);
            sum += dt_colour_difference(colour, seen(light)) / (along * across);
        }
    return sum;
}

static const DtColour colours[] = {{0.5, 0.5, 0.5, 1},  {0.9, 0.88, 0.8, 1}, {0.1, 0.1, 0.1, 1},
                                   {0.4, 0.7, 0.45, 1}, {0.8, 0.5, 0.6, 1},  {0.3, 0.3, 0.7, 1}};

static void test_light(void)
{
    g_autoptr(DtAppear) a = dt_appear_new(&rack, paper);
    double expected[3], got[3];
    g_assert_cmpint(dt_appear_n_pens(a), ==, PENS);
    dt_appear_light(a, DT_RECIPE_PAPER, got);
    linear(paper, expected);
    for (int c = 0; c < 3; c++)
        g_assert_cmpfloat_with_epsilon(got[c], expected[c], 1e-9);
    for (int p = 0; p < PENS; p++)
        for (int q = 0; q < PENS; q++)
            for (int k = 0; k < 9; k++) {
                const DtRecipe two = {{p, q}, {k / 3 * 0.5, k % 3 * 0.5}},
                               one = {{p, -1}, {k / 8.0, 0}};
                if (p != q) {
                    light_of_two(two.pen, two.share, expected);
                    dt_appear_light(a, two, got);
                    for (int c = 0; c < 3; c++)
                        g_assert_cmpfloat_with_epsilon(got[c], expected[c], 1e-9);
                }
                light_of_one(p, one.share[0], expected);
                dt_appear_light(a, one, got);
                for (int c = 0; c < 3; c++)
                    g_assert_cmpfloat_with_epsilon(got[c], expected[c], 1e-9);
                const DtLab lab = dt_appear_lab(a, one), other = seen(expected);
                g_assert_cmpfloat(dt_colour_difference(lab, other), <, 1e-6);
            }
}

/* Many inks, each by itself, multiply what the paper reflects. */
static void test_light_of_many(void)
{
    g_autoptr(DtAppear) a = dt_appear_new(&rack, paper);
    const int pen[] = {0, 1, 2};
    const double share[] = {0.2, 0.3, 0.4};
    double white[3], got[3];
    linear(paper, white);
    dt_appear_light_of_many(a, pen, share, 3, got);
    for (int c = 0; c < 3; c++) {
        double expected = white[c];
        for (int i = 0; i < 3; i++) {
            double one[3];
            light_of_one(pen[i], share[i], one);
            expected *= one[c] / white[c];
        }
        g_assert_cmpfloat_with_epsilon(got[c], expected, 1e-9);
    }
}

static void check_difference(const char *what, double got, double expected)
{
    if (fabs(got - expected) > CLOSE)
        g_error("%s: %g and not %g", what, got, expected);
}

/* The mean lightness counts once more. */
#define LIGHTNESS 0.25

static void test_differences(void)
{
    static const double shares[] = {0.06, 0.13, 0.24, 0.4, 0.61, 0.8, 0.85, 0.95, 1};
    g_autoptr(DtAppear) a = dt_appear_new(&rack, paper);
    for (size_t k = 0; k < G_N_ELEMENTS(colours); k++) {
        const DtLab colour = dt_colour_lab(colours[k]);
        g_assert_cmpfloat_with_epsilon(dt_appear_difference(a, colour, DT_RECIPE_PAPER),
                                       dt_colour_difference(colour, dt_colour_lab(paper)) +
                                           LIGHTNESS * fabs(colour.l - dt_colour_lab(paper).l),
                                       1e-9);
        for (int p = 0; p < PENS; p++)
            for (size_t i = 0; i < G_N_ELEMENTS(shares); i++) {
                const int other = (p + 1) % PENS;
                const gboolean two = i % 3 == 2 && k < 2;
                const DtRecipe r = {{p, two ? other : -1}, {shares[i], two ? 0.32 : 0}};
                const double near = difference_from(colour, r, FALSE, 0),
                             far = difference_from(colour, r, FALSE, 1);
                check_difference("near", dt_appear_near_difference(a, colour, r), near);
                check_difference("hatch", dt_appear_difference(a, colour, r),
                                 counts[0] * near + counts[1] * far +
                                     LIGHTNESS * fabs(colour.l - dt_appear_lab(a, r).l));
            }
        for (int p = 0; p < PENS; p++) {
            const DtRecipe twice = {{p, p}, {0.7, 0.61}};
            check_difference("crossed", dt_appear_near_difference(a, colour, twice),
                             difference_from(colour, twice, FALSE, 0));
        }
    }
}

static void check_tone(const char *what, const DtAppear *a, DtLab colour, DtRecipe r, DtToneWay way,
                       double near, double far)
{
    check_difference(what, dt_appear_tone_difference(a, colour, r, way, TRUE), near);
    check_difference(what, dt_appear_tone_difference(a, colour, r, way, FALSE),
                     counts[0] * near + counts[1] * far);
}

/* Even tones look like hatches that cover the same everywhere. */
static void test_tones(void)
{
    g_autoptr(DtAppear) a = dt_appear_new(&rack, paper);
    for (size_t k = 0; k < G_N_ELEMENTS(colours); k++) {
        const DtLab colour = dt_colour_lab(colours[k]);
        for (int p = 0; p < PENS; p++)
            for (int i = 0; i <= 4; i++) {
                const gboolean two = i == 1 && k < 2;
                const DtRecipe r = {{p, two ? (p + 1) % PENS : -1}, {i * 0.25, two ? 0.6 : 0}};
                const double near = difference_from(colour, r, TRUE, 0),
                             far = difference_from(colour, r, TRUE, 1);
                check_tone("tone", a, colour, r, DT_TONE_THINNED, near, far);
                check_tone("even tone", a, colour, r, DT_TONE_EVEN,
                           difference_from(colour, r, FALSE, 0),
                           difference_from(colour, r, FALSE, 1));
            }
    }
}

/* The shares that are tried rise from the least to the most, then to dense. */
static void test_shares(void)
{
    double share = DT_RECIPE_LEAST, most = 0;
    g_assert_cmpfloat(dt_appear_next_share(share, -1), ==, 0);
    g_assert_cmpfloat(dt_appear_next_share(1, 1), ==, 0);
    for (double next; (next = dt_appear_next_share(share, 1)) > 0; share = next) {
        g_assert_cmpfloat(next, >, share);
        g_assert_cmpfloat(next / share, <, 1.3);
        g_assert_cmpfloat(dt_appear_next_share(next, -1), ==, share);
        most = share;
    }
    g_assert_cmpfloat(share, ==, 1);
    g_assert_cmpfloat(most, ==, DT_RECIPE_MOST);
}

/* Black (0) and grey (3) have grey inks. */
static gboolean may_hatch(DtAppearLimits l, int pen)
{
    return l.hatch < 0 || pen == l.hatch || (l.greys && (pen == 0 || pen == 3));
}

static gboolean may_cross(DtAppearLimits l, int pen)
{
    return pen == l.second || may_hatch(l, pen);
}

static gboolean keeps(DtRecipe r, DtAppearLimits l)
{
    const gboolean open = r.pen[0] >= 0 && r.share[0] < 1, two = r.pen[1] >= 0;
    return (l.only < 0 || r.pen[0] == l.only) && (!l.flat || (!open && !two)) &&
           (l.two_pens || !two) && (!open || two || may_hatch(l, r.pen[0])) &&
           (!two || (may_cross(l, r.pen[0]) && may_cross(l, r.pen[1]))) &&
           (!open || r.share[0] >= l.least) && (!two || r.share[1] >= l.least);
}

/* The mean difference of a pen's hatch from its own mean, from 40 cm. */
static double rough_of(DtAppear *a, int pen, double share)
{
    const DtRecipe r = {{pen, -1}, {share, 0}};
    return share < 1 ? dt_appear_near_difference(a, dt_appear_lab(a, r), r) : 0;
}

static double euclid(DtLab a, DtLab b)
{
    return sqrt(pow(a.l - b.l, 2) + pow(a.a - b.a, 2) + pow(a.b - b.b, 2));
}

/* Over the ink of another pen, by how much less it differs from that than from the paper (CIE 1976). */
static double rough_over(DtAppear *a, int pen, double share, int other, double other_share)
{
    const DtRecipe alone = {{pen, -1}, {1, 0}}, below = {{other, -1}, {other_share, 0}},
                   over = {{other, pen}, {other_share, 1}};
    const double bare = euclid(dt_appear_lab(a, DT_RECIPE_PAPER), dt_appear_lab(a, alone));
    return rough_of(a, pen, share) *
           MIN(euclid(dt_appear_lab(a, below), dt_appear_lab(a, over)) / bare, 1);
}

/* Dense areas are preferred by 1, and by 0.4 to bands; a second pen costs 0.8, and 0.3 more if both hatches are open. Of
 * small shapes the patterns cost more. */
static double cost_of(DtAppear *a, DtLab colour, DtRecipe r, double small)
{
    double cost = dt_appear_difference(a, colour, r);
    if (r.pen[0] < 0)
        return cost;
    const gboolean dense = r.share[0] == 1, bands = !dense && lines_of(r.share[0]) > 1;
    const double rough = r.pen[1] < 0
                             ? rough_of(a, r.pen[0], r.share[0])
                             : hypot(rough_over(a, r.pen[0], r.share[0], r.pen[1], r.share[1]),
                                     rough_over(a, r.pen[1], r.share[1], r.pen[0], r.share[0]));
    cost += 0.8 * small * rough;
    return cost + (r.pen[1] >= 0 ? dense ? 0.8 : 1.1 : dense ? -1 : bands ? -0.6 : 0);
}

/* The best of all recipes of one pen that the limits leave. */
static double least_cost(DtAppear *a, DtLab colour, DtAppearLimits l, gboolean near_bound)
{
    double least = l.only < 0 ? dt_appear_difference(a, colour, DT_RECIPE_PAPER) : G_MAXDOUBLE;
    for (int p = 0; p < PENS; p++)
        for (double s = DT_RECIPE_LEAST; s > 0; s = dt_appear_next_share(s, 1)) {
            const DtRecipe r = {{p, -1}, {s, 0}};
            if (!keeps(r, l) ||
                (s < 1 && near_bound &&
                 dt_appear_near_difference(a, colour, r) > dt_appear_dense_difference(a, colour)))
                continue;
            least = MIN(least, cost_of(a, colour, r, l.least));
        }
    return least;
}

static void test_choice(void)
{
    static const DtAppearLimits limits[] = {
        {.only = -1, .hatch = -1, .second = -1},
        {.only = -1, .hatch = -1, .second = -1, .two_pens = TRUE},
        {-1, -1, -1, FALSE, 0, TRUE, TRUE},
        {-1, -1, -1, FALSE, 0.3, FALSE, TRUE},
        {.only = 1, .hatch = -1, .second = -1},
        {.only = 1, .hatch = -1, .second = -1, .flat = TRUE},
        {.only = -1, .hatch = 2, .second = -1},
        {-1, 0, 2, FALSE, 0, FALSE, TRUE},
        {-1, 3, 1, FALSE, 0.2, FALSE, TRUE},
        {.only = -1, .hatch = 1, .second = -1, .greys = TRUE},
        {-1, 1, 2, TRUE, 0, FALSE, TRUE}};
    g_autoptr(DtAppear) a = dt_appear_new(&rack, paper);
    int pairs[G_N_ELEMENTS(limits)] = {0};
    for (int bound = 0; bound < 2; bound++) {
        for (int i = 0; i < 64; i++) {
            const DtLab colour =
                dt_colour_lab((DtColour){i % 4 / 3.0, i / 4 % 4 / 3.0, i / 16 / 3.0, 1});
            for (size_t k = 0; k < G_N_ELEMENTS(limits); k++) {
                const DtRecipe r = dt_appear_choose(a, colour, limits[k]);
                const double single = least_cost(a, colour, limits[k], bound > 0);
                g_assert_true(keeps(r, limits[k]));
                if (r.pen[1] < 0)
                    g_assert_cmpfloat_with_epsilon(cost_of(a, colour, r, limits[k].least), single,
                                                   1e-6);
                else
                    g_assert_cmpfloat(cost_of(a, colour, r, limits[k].least), <, single);
                const DtRecipe again = dt_appear_choose(a, colour, limits[k]);
                g_assert_cmpint(again.pen[0], ==, r.pen[0]);
                g_assert_cmpfloat(again.share[0], ==, r.share[0]);
                pairs[k] += r.pen[1] >= 0;
            }
        }
        dt_appear_bound_near(a);
    }
    for (size_t k = 0; k < G_N_ELEMENTS(limits); k++) /* which of them let pens cross */
        g_assert_cmpint(pairs[k] > 0, ==,
                        limits[k].two_pens && !limits[k].flat && limits[k].only < 0);
}

/* The least cost of all pairs of pens and shares; those whose mean is farther are left out, and those with black, the first
 * pen, that are darker than it. */
static double least_of_pairs(DtAppear *a, DtLab colour, double least)
{
    const DtLab black = dt_appear_lab(a, (DtRecipe){{0, -1}, {1, 0}});
    for (int p = 0; p < PENS; p++)
        for (int q = 0; q < PENS; q++)
            for (double s = DT_RECIPE_LEAST; s > 0 && p != q; s = dt_appear_next_share(s, 1))
                for (double t = DT_RECIPE_LEAST; t < 1; t = dt_appear_next_share(t, 1)) {
                    const DtRecipe r = {{p, q}, {s, t}};
                    if ((p == 0 || q == 0) && dt_appear_lab(a, r).l < black.l)
                        continue;
                    if (dt_colour_difference(colour, dt_appear_lab(a, r)) + (s < 1 ? 1.1 : 0.8) <
                        least)
                        least = MIN(least, cost_of(a, colour, r, 0));
                }
    return least;
}

/* Pairs are searched in few shares first: what is found is nearly as good as the best of all. */
static void test_pairs(void)
{
    const DtAppearLimits both = {.only = -1, .hatch = -1, .second = -1, .two_pens = TRUE};
    g_autoptr(DtAppear) a = dt_appear_new(&rack, paper);
    double more = 0;
    int n = 0;
    for (int i = 0; i < 27; i++) {
        const DtLab colour =
            dt_colour_lab((DtColour){i % 3 * 0.35, i / 3 % 3 * 0.35, i / 9 * 0.35, 1});
        const DtRecipe r = dt_appear_choose(a, colour, both);
        const double found = cost_of(a, colour, r, 0), least = least_of_pairs(a, colour, found);
        g_assert_cmpfloat(found, <, least + 1.5);
        more += found - least;
        n += r.pen[1] >= 0;
    }
    g_assert_cmpint(n, >, 3);
    g_assert_cmpfloat(more / 27, <, 0.25);
}

/* The gaps of black lines over grey ink hardly show: a dark grey has as many lines as its mean colour takes. */
static void test_dark_greys_are_black_over_grey(void)
{
    static DtPen both[] = {
        {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = 0.4, .dot_gain = 1},
        {.name = (char *)"grey", .colour = {0.54, 0.55, 0.56, 1}, .tip = 0.4, .dot_gain = 1}};
    static const DtRack two = {both, G_N_ELEMENTS(both)};
    const DtAppearLimits l = {.only = -1, .hatch = -1, .second = -1, .two_pens = TRUE};
    g_autoptr(DtAppear) a = dt_appear_new(&two, (DtColour){1, 1, 1, 1});
    for (int grey = 0x32; grey <= 0x34; grey++) {
        const DtLab colour = dt_colour_lab((DtColour){grey / 255.0, grey / 255.0, grey / 255.0, 1});
        const DtRecipe r = dt_appear_choose(a, colour, l);
        const int k = r.pen[1] == 1; /* the grey, dense or nearly so */
        g_assert_cmpint(r.pen[k], ==, 1);
        g_assert_cmpint(r.pen[1 - k], ==, 0);
        g_assert_cmpfloat(r.share[k], >, 0.95);
        g_assert_cmpfloat_with_epsilon(dt_appear_lab(a, r).l, colour.l, 2);
    }
}

/* Greys on both sides of 3.5 from white: only what is nearly white may count as bare paper in dense ink. */
static void test_dense_ink_leaves_only_white_bare(void)
{
    static const struct {
        int grey;
        gboolean bare;
    } cases[] = {{255, TRUE},  {0xf9, TRUE},  {0xee, TRUE}, {0xec, FALSE},
                 {224, FALSE}, {0xd6, FALSE}, {128, FALSE}, {0, FALSE}};
    const DtColour white = {1, 1, 1, 1};
    g_autoptr(DtAppear) a = dt_appear_new(&rack, white);
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        const double v = cases[i].grey / 255.0;
        const DtLab colour = dt_colour_lab((DtColour){v, v, v, 1});
        double least =
            cases[i].bare ? dt_colour_difference(colour, dt_colour_lab(white)) : G_MAXDOUBLE;
        for (size_t pen = 0; pen < rack.n; pen++)
            least = MIN(least, dt_colour_difference(colour, dt_colour_lab(rack.pens[pen].colour)));
        g_assert_cmpfloat_with_epsilon(dt_appear_dense_difference(a, colour), least, 1e-9);
    }
}

/* Thin parts: differences of hue count half. */
static void test_thin_parts(void)
{
    g_autoptr(DtAppear) a = dt_appear_new(&rack, paper);
    for (int i = 0; i < 64; i++) {
        const DtLab colour =
            dt_colour_lab((DtColour){i % 4 / 3.0, i / 4 % 4 / 3.0, i / 16 / 3.0, 1});
        const DtLab half = {colour.l, colour.a / 2, colour.b / 2};
        int best[2] = {-1, 0};
        double least[2] = {G_MAXDOUBLE, G_MAXDOUBLE};
        for (int pen = -1; pen < PENS; pen++) {
            const double share = pen < 0 ? 0 : 0.7;
            double light[3];
            if (pen < 0)
                linear(paper, light);
            else
                light_of_one(pen, 1, light);
            const DtLab ink = seen(light);
            const double dense = dt_colour_difference(half, (DtLab){ink.l, ink.a / 2, ink.b / 2});
            g_assert_cmpfloat_with_epsilon(dt_appear_thin_difference(a, colour, pen, 1), dense,
                                           1e-9);
            if (pen >= 0)
                light_of_one(pen, share, light);
            const DtLab part = seen(light);
            g_assert_cmpfloat_with_epsilon(
                dt_appear_thin_difference(a, colour, pen, share),
                dt_colour_difference(half, (DtLab){part.l, part.a / 2, part.b / 2}), 1e-9);
            for (int ink_only = 0; ink_only < 2; ink_only++)
                if ((pen >= 0 || !ink_only) && dense < least[ink_only]) {
                    least[ink_only] = dense;
                    best[ink_only] = pen;
                }
        }
        g_assert_cmpint(dt_appear_choose_thin(a, colour, FALSE), ==, best[0]);
        g_assert_cmpint(dt_appear_choose_thin(a, colour, TRUE), ==, best[1]);
    }
}

/* A line of this light and width beside one that a pen draws, over the width of the latter. */
static double line_difference(const double light[3], double width, int pen, double drawn)
{
    double sum = 0, white[3];
    linear(paper, white);
    for (int far = 0; far < 2; far++)
        for (int i = 0; i < points[0]; i++) {
            const double x = (i + 0.5) / points[0] * drawn / 2,
                         share = blurred(x, width, 1e3, sigma[far]);
            double ink[3], art[3];
            light_of_one(pen, blurred(x, drawn, 1e3, sigma[far]), ink);
            for (int c = 0; c < 3; c++)
                art[c] = white[c] * (1 - share) + light[c] * share;
            sum += counts[far] * dt_colour_difference(seen(art), seen(ink)) / points[0];
        }
    return sum;
}

/* A lighter pen of the hue, where the eye finds its line nearer by 3 at least. */
static void test_lines(void)
{
    static const DtPen greys[] = {
        {.name = (char *)"black", .colour = {0.08, 0.08, 0.1, 1}, .tip = 0.5, .dot_gain = 1},
        {.name = (char *)"green", .colour = {0.1, 0.55, 0.2, 1}, .tip = 0.3, .dot_gain = 1},
        {.name = (char *)"grey", .colour = {0.5, 0.5, 0.5, 1}, .tip = 0.3, .dot_gain = 1},
        {.name = (char *)"pale", .colour = {0.75, 0.74, 0.75, 1}, .tip = 0.5, .dot_gain = 1.4}};
    memcpy(pens, greys, sizeof greys);
    g_autoptr(DtAppear) a = dt_appear_new(&rack, paper);
    int others = 0;
    for (int k = 0; k < 5; k++)
        for (double width = 0.04; width < 0.6; width += 0.03) {
            const double level = 0.1 + 0.15 * k;
            const DtColour paint = {level, level, level, 1};
            double light[3],
                far = line_difference((linear(paint, light), light), width, 0, pens[0].tip) - 3;
            gboolean tie = FALSE;
            int best = 0;
            for (int pen = 2; pen < PENS; pen++) { /* green is of another hue */
                const double d = line_difference(light, width, pen, pens[pen].tip);
                tie = tie || fabs(d - far) < CLOSE;
                if (width < pens[pen].tip && d < far) {
                    far = d;
                    best = pen;
                }
            }
            if (!tie)
                g_assert_cmpint(dt_appear_choose_line(a, paint, width, 0), ==, best);
            others += best > 0;
        }
    g_assert_cmpint(others, >, 10);
}

/* Of a grey a coloured line becomes grey ink, dense or covering the least share, unless that looks
 * farther by 3. */
static void test_grey_stays_grey(void)
{
    g_autoptr(DtAppear) a = dt_appear_new(&rack, paper);
    int changed = 0;
    for (int k = 0; k < 8; k++)
        for (double width = 0.1; width < 1.5; width += 0.2) {
            const double level = 0.15 + 0.1 * k, least = 0.3;
            const DtLab grey = dt_colour_lab((DtColour){level, level, level, 1});
            const DtRecipe green = {{1, -1}, {k % 2 ? 1 : 0.5, 0}}, black = {{0, -1}, {1, 0}};
            const double y = pow((MAX(grey.l, 8) + 16) / 116, 3), light[3] = {y, y, y};
            double most =
                3 + line_difference(light, width, 1, k % 2 ? MAX(pens[1].tip, width) : pens[1].tip);
            DtRecipe best = green;
            gboolean tie = FALSE;
            for (int pen = 0; pen < PENS; pen++)
                for (int line = 0; line < 2 && pen != 1; line++) {
                    const double d = line_difference(
                        light, width, pen, line ? pens[pen].tip : MAX(pens[pen].tip, width));
                    tie = tie || fabs(d - most) < CLOSE;
                    if (d < most) {
                        most = d;
                        best = (DtRecipe){{pen, -1}, {line ? least : 1, 0}};
                    }
                }
            const DtRecipe got = dt_appear_keep_grey(a, grey, width, least, green);
            if (!tie) {
                g_assert_cmpint(got.pen[0], ==, best.pen[0]);
                g_assert_cmpfloat(got.share[0], ==, best.share[0]);
                changed += got.pen[0] != 1;
            }
            g_assert_cmpint(dt_appear_keep_grey(a, grey, width, least, black).pen[0], ==, 0);
            g_assert_cmpint(
                dt_appear_keep_grey(a, dt_colour_lab(pens[1].colour), width, least, green).pen[0],
                ==, 1);
            g_assert_cmpint(dt_appear_keep_grey(a, grey, width, least, DT_RECIPE_PAPER).pen[0], ==,
                            -1);
        }
    g_assert_cmpint(changed, >, 5);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/appear/light", test_light);
    g_test_add_func("/appear/light-of-many", test_light_of_many);
    g_test_add_func("/appear/differences", test_differences);
    g_test_add_func("/appear/tones", test_tones);
    g_test_add_func("/appear/shares", test_shares);
    g_test_add_func("/appear/choice", test_choice);
    g_test_add_func("/appear/pairs", test_pairs);
    g_test_add_func("/appear/dark-greys", test_dark_greys_are_black_over_grey);
    g_test_add_func("/appear/dense", test_dense_ink_leaves_only_white_bare);
    g_test_add_func("/appear/thin-parts", test_thin_parts);
    g_test_add_func("/appear/lines", test_lines); /* and below: with other pens */
    g_test_add_func("/appear/grey", test_grey_stays_grey);
    return g_test_run();
}
