/* ink: what differs in the artwork differs on paper. */
#include "ink/look/assign.h"
#include "ink/trace.h"

#include "shapes-in-ink.h"

#include <math.h>
#include <string.h>

#define TIP 0.4

static DtPen pens[] = {{.name = (char *)"black",
                        .colour = {0.1, 0.1, 0.1, 1},
                        .tip = TIP,
                        .classes = (char *)"ink",
                        .dot_gain = 1},
                       {.name = (char *)"grey",
                        .colour = {0.6, 0.6, 0.6, 1},
                        .tip = TIP,
                        .classes = (char *)"pale",
                        .dot_gain = 1}};
static const DtRack rack = {pens, G_N_ELEMENTS(pens)};
static const DtColour paper = {1, 1, 1, 1};

static DtStrokes ink_of(const char *shapes, DtInkReport *report)
{
    return shapes_in_ink(shapes, &rack, &DT_INK_OPTIONS_DEFAULT, report);
}

static DtBox box_of(const DtStrokes *s, size_t i)
{
    DtBox b = DT_BOX_EMPTY;
    for (size_t k = 0; k < s->strokes[i].n; k++)
        b = dt_box_add_point(b, s->pts[s->strokes[i].first + k]);
    return b;
}

/* The ends of the ink on either side of x. */
static void ends_beside(const DtStrokes *s, double x, double *left, double *right)
{
    *left = -G_MAXDOUBLE;
    *right = G_MAXDOUBLE;
    for (size_t i = 0; i < s->n; i++) {
        const DtBox b = box_of(s, i);
        g_assert_true(b.x1 < x || b.x0 > x);
        if (b.x1 < x)
            *left = MAX(*left, b.x1);
        else
            *right = MIN(*right, b.x0);
    }
}

/* Two fields of one pen: black beside dark grey. Where both are dense the paper stays bare between them by 0.75
 * tips, half of it of either; all of it of the field where the other is narrow. Where the paints are nearly
 * one, or one of them can be hatched, there is none: their ink meets. */
static void test_fields_of_one_pen_have_a_gap(void)
{
    static const struct {
        const char *pen, *colour;
        double width, left, right;
    } cases[] = {{"ink", "#222", 40, 49.8, 50.2},    {"ink", "#222", 0.9, 49.8, 50.2},
                 {"ink", "#444", 40, 49.8, 50.2},    {"pale", "#444", 40, 49.65, 50.35},
                 {"pale", "#666", 40, 49.65, 50.35}, {"ink", "#333", 0.9, 49.5, 50.2},
                 {"ink", "#444", 0.9, 49.5, 50.2}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *svg =
            g_strdup_printf("<g class='%s'><rect x='10' y='10' width='40' height='30'/>"
                            "<rect x='50' y='10' width='%g' height='30' fill='%s'/></g>",
                            cases[i].pen, cases[i].width, cases[i].colour);
        double left, right;
        g_auto(DtStrokes) s = ink_of(svg, NULL);
        ends_beside(&s, 50, &left, &right);
        g_assert_cmpfloat_with_epsilon(left, cases[i].left, 0.01);
        g_assert_cmpfloat_with_epsilon(right, cases[i].right, 0.01);
    }
}

/* A hatch has a line along its edge, half a tip inside, toward the paper and what is lighter, and none toward what is
 * darker; an area that is left to the paper has one where it would not be seen. */
static void test_what_is_lighter_beside_gets_an_edge(void)
{
    static const struct {
        const char *colour, *beside;
        double side, along; /* mm; of the longest line of the first */
    } cases[] = {{"#aaa", "none", 30, 4 * 29.6},    {"#d0d0d0", "none", 30, 4 * 29.6},
                 {"#aaa", "#000", 30, 3 * 29.6},    {"#aaa", "#eaeaea", 30, 4 * 29.6},
                 {"#eaeaea", "none", 30, 4 * 29.6}, {"#eaeaea", "#aaa", 30, 3 * 29.6},
                 {"#f7ffff", "none", 80, 4 * 79.6}, {"#f0f0f0", "none", 30, 0},
                 {"#f0f0f0", "#000", 30, 0},        {"#f0f0f0", "none", 80, 0},
                 {"#ebebeb", "none", 80, 4 * 79.6}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *svg = g_strdup_printf(
            "<rect x='10' y='10' width='%g' height='%g' fill='%s'/>"
            "<rect x='%g' y='10' width='30' height='30' fill='%s'/>",
            cases[i].side, cases[i].side, cases[i].colour, 10 + cases[i].side, cases[i].beside);
        DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
        o.hatch = DT_HATCH_LINES; /* not joined: lines of more points are edges */
        g_auto(DtStrokes) s = shapes_in_ink(svg, &rack, &o, NULL);
        double along = 0;
        for (size_t k = 0; k < s.n; k++)
            if (box_of(&s, k).x1 < 10 + cases[i].side &&
                (s.strokes[k].closed || s.strokes[k].n > 3))
                along = MAX(along, dt_strokes_length(&s, k));
        g_assert_cmpfloat_with_epsilon(along, cases[i].along, 0.3);
    }
}

/* Of one paint: a field has a hatch; a strip narrower than three tips has one line along its middle, or is dense;
 * one that the pen just fills is dense. */
static void test_narrow_parts_have_no_pattern(void)
{
    DtInkReport r = {0};
    g_auto(DtStrokes) s = ink_of("<g fill='#aaa'><rect x='10' y='10' width='30' height='0.9'/>"
                                 "<rect x='10' y='30' width='30' height='20'/></g>"
                                 "<rect x='10' y='60' width='30' height='1.3' fill='#aaa'/>",
                                 &r);
    size_t own = 0;
    for (size_t i = 0; i < s.n; i++) {
        const DtBox b = box_of(&s, i);
        if (b.y1 < 11) {
            own++;
            g_assert_cmpint(s.strokes[i].kind, ==, DT_INK_CENTRE);
            g_assert_cmpfloat_with_epsilon(b.y0, 10.45, 0.01);
            g_assert_cmpfloat_with_epsilon(b.y1, 10.45, 0.01);
            g_assert_cmpfloat_with_epsilon(dt_strokes_length(&s, i), 29.2, 0.1);
        }
    }
    g_assert_cmpuint(own, ==, 1);
    gboolean hatched = FALSE;
    for (size_t i = 0; i < r.n; i++)
        hatched |= r.matches[i].area_mm2 > 500 && r.matches[i].coverage < 1;
    g_assert_true(hatched);
    dt_ink_report_clear(&r);
}

/* Lines so pale that the paper is nearer than any ink: they are areas among areas, which the paper may stand for.
 * Darker ones take the nearest pen, and a pen that was asked for is taken whatever the paint. */
static void test_pale_lines_are_areas(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    DtTrace t = {.rack = &rack, .o = &o, .appear = appear};
    static const struct {
        double grey, alpha;
        int asked;
        gboolean area;
        int pen;
    } cases[] = {{1, 1, -1, TRUE, -1},   {0.99, 1, -1, TRUE, -1}, {0.9, 1, -1, TRUE, -1},
                 {0.6, 1, -1, FALSE, 1}, {0.1, 1, -1, FALSE, 0},  {0.1, 0.3, -1, TRUE, -1},
                 {0.99, 1, 1, FALSE, 1}, {0.1, 0.3, 0, FALSE, 0}, {0.65, 1, -1, FALSE, 1},
                 {0.25, 1, -1, FALSE, 0}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        const double v = cases[i].grey;
        int pen;
        const gboolean area = dt_look_line_is_area(&t, (DtColour){v, v, v, cases[i].alpha}, 0.4,
                                                   cases[i].asked, &pen);
        g_assert_cmpint(area, ==, cases[i].area);
        g_assert_cmpint(pen, ==, cases[i].pen);
    }
}

/* Telling apart ------------------------------------------------------------------------------ */

static DtLookArea grey(double v, int asked)
{
    const DtLab lab = dt_colour_lab((DtColour){v, v, v, 1});
    return (DtLookArea){
        .lab = lab, .asked = asked, .least = 1, .area = 1e6, .recipe = DT_RECIPE_PAPER};
}

/* Two areas, of which the second borders on the first, or on the paper; returns the number of gaps. */
static guint assign(DtAppear *appear, DtLookArea *areas, int first, double length, double tip)
{
    g_autoptr(GArray) borders = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    g_autoptr(GArray) gaps = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    const DtPartBorder b = {first, 1, length};
    g_array_append_val(borders, b);
    dt_look_assign(appear, areas, 2, borders, tip, gaps);
    for (guint i = 0; i < gaps->len; i++) {
        g_assert_cmpint(g_array_index(gaps, DtPartBorder, i).a, ==, first);
        g_assert_cmpint(g_array_index(gaps, DtPartBorder, i).b, ==, 1);
    }
    return gaps->len;
}

static double far(const DtAppear *appear, const DtLookArea *a, DtRecipe r)
{
    return dt_appear_difference(appear, a->lab, r);
}

/* What a bare gap of 0.75 tips costs, by the mean of what both areas lose, is weighed against four times what the paints differ by;
 * the shape of one that may have no hatch and one pen alone can be told in no other way. */
static void test_a_gap_is_worth_its_contrast(void)
{
    static const double pairs[][2] = {{0, 0.25}, {0, 0.35}, {0.1, 0.4}};
    static const DtRecipe dense = {{0, -1}, {1, 0}};
    for (size_t i = 0; i < G_N_ELEMENTS(pairs); i++) {
        g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
        DtLookArea a[2] = {grey(pairs[i][0], 0), grey(pairs[i][1], 0)};
        double lost = 0;
        for (int k = 0; k < 2; k++)
            lost += (far(appear, &a[k], DT_RECIPE_PAPER) - far(appear, &a[k], dense)) / 2;
        const double most = 4 * dt_colour_difference(a[0].lab, a[1].lab) / (0.75 * lost);
        g_assert_cmpuint(assign(appear, a, 0, 30, 0.98 * most), ==, 1);
        for (int k = 0; k < 2; k++) {
            g_assert_cmpint(a[k].recipe.pen[0], ==, 0);
            g_assert_cmpfloat(a[k].recipe.share[0], ==, 1);
            g_assert_cmpint(a[k].outline, ==, -1);
        }
        g_assert_cmpuint(assign(appear, a, 0, 30, 1.02 * most), ==, 0);
        /* slivers, and what was decided elsewhere, stay */
        a[1].sliver = TRUE;
        g_assert_cmpuint(assign(appear, a, 0, 30, 0.5 * most), ==, 0);
        a[1].sliver = FALSE;
        g_assert_cmpuint(assign(appear, a, 0, 30, 0.5 * most), ==, 1);
        a[0].fixed = TRUE;
        g_assert_cmpuint(assign(appear, a, 0, 30, 0.5 * most), ==, 0);
    }
}

/* Shades of one pen: a small area is hatched more openly, of a large one that would cost more than a gap. */
static void test_the_cheapest_way_is_taken(void)
{
    static const DtPen blacks[] = {
        {.name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = TIP, .dot_gain = 1}};
    static const DtRack one = {(DtPen *)blacks, 1};
    g_autoptr(DtAppear) appear = dt_appear_new(&one, paper);
    for (int large = 0; large < 2; large++)
        for (int light = 0; light < 2; light++) { /* whichever comes first */
            DtLookArea a[2] = {grey(light == 0 ? 0.11 : 0, 0), grey(light == 1 ? 0.11 : 0, 0)};
            for (int k = 0; k < 2; k++) {
                a[k].least = 0;
                a[k].area = large ? 1e6 : 2;
            }
            g_assert_cmpuint(assign(appear, a, 0, 30, TIP / 2), ==, large);
            g_assert_cmpfloat(a[1 - light].recipe.share[0], ==, 1);
            g_assert_true((a[light].recipe.share[0] == 1) == large);
        }
}

static int pen_of_line(DtAppear *appear, const DtRack *of, DtColour paint, double width)
{
    const DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    DtTrace t = {.rack = of, .o = &o, .appear = appear};
    int pen;
    g_assert_false(dt_look_line_is_area(&t, paint, width, -1, &pen));
    return pen;
}

/* A grey line stays grey though green is nearer to it in lightness, and so do the middle of a grey strip and the
 * line around a grey field. What is greenish is drawn in green, and a grey in green where the only grey ink is
 * much too dark for it. */
static void test_greys_are_drawn_in_grey(void)
{
    static DtPen two[] = {
        {.name = (char *)"green", .colour = {0.18, 0.49, 0.2, 1}, .tip = TIP, .dot_gain = 1},
        {.name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = TIP, .dot_gain = 1}};
    static const DtRack both = {two, G_N_ELEMENTS(two)};
    g_autoptr(DtAppear) appear = dt_appear_new(&both, paper);
    const DtColour middle = {0.5, 0.5, 0.5, 1}, greenish = {0.4, 0.55, 0.42, 1};
    g_assert_cmpint(dt_appear_choose_thin(appear, dt_colour_lab(middle), FALSE), ==, 0);
    for (double width = 0.1; width < 0.45; width += 0.1)
        g_assert_cmpint(pen_of_line(appear, &both, middle, width), ==, 1);
    g_assert_cmpint(pen_of_line(appear, &both, greenish, 0.4), ==, 0);
    DtLookArea strip = grey(0.5, -1), field[2] = {grey(0, -1), grey(0.92, -1)};
    strip.narrow = TRUE;
    strip.least = 0.5; /* twice as wide as the pen */
    g_autoptr(GArray) borders = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    g_autoptr(GArray) gaps = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    dt_look_assign(appear, &strip, 1, borders, TIP, gaps);
    g_assert_cmpint(strip.recipe.pen[0], ==, 1);
    g_assert_cmpfloat(strip.recipe.share[0], ==, 0.5);
    assign(appear, field, -1, 30, 0.1);
    g_assert_cmpint(field[1].outline, ==, 1);
    const DtRecipe green = {{0, -1}, {1, 0}};
    const DtLab wide = dt_colour_lab((DtColour){0.6, 0.6, 0.6, 1});
    g_assert_cmpint(dt_appear_keep_grey(appear, wide, 5, 1, green).pen[0], ==, 0);
}

/* A line in dense ink is not told apart from a hatch of its pen that covers nearly all: one line does not show there,
 * unlike a field. */
static void test_a_line_is_lost_in_a_dark_hatch(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    for (int narrow = 0; narrow < 2; narrow++) {
        DtLookArea a[2] = {grey(0.25, 0), grey(0, 0)};
        a[0].least = 0;
        a[1].narrow = narrow != 0;
        const guint gaps = assign(appear, a, 0, 30, 0.1);
        g_test_message("narrow %d: %.2f beside %.2f, %u gaps", narrow, a[0].recipe.share[0],
                       a[1].recipe.share[0], gaps);
        g_assert_cmpuint(gaps, ==, narrow);
    }
}

/* A pale field on the paper gets a line along its edge while that is worth its contrast. */
static void test_a_pale_area_has_an_outline(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    DtLookArea a[2] = {grey(0, -1), grey(0.92, -1)};
    const int pen = dt_appear_choose_thin(appear, a[1].lab, TRUE);
    g_assert_cmpint(pen, ==, 1);
    const double contrast = dt_colour_difference(a[1].lab, dt_appear_lab(appear, DT_RECIPE_PAPER));
    const double most = 4 * contrast / dt_appear_thin_difference(appear, a[1].lab, pen, 1);
    g_assert_cmpuint(assign(appear, a, -1, 30, 0.98 * most), ==, 0);
    g_assert_cmpint(a[1].recipe.pen[0], ==, -1);
    g_assert_cmpint(a[1].outline, ==, pen);
    assign(appear, a, -1, 30, 1.02 * most);
    g_assert_cmpint(a[1].outline, ==, -1);
    a[1].asked = 0; /* asked for: it is in ink anyway */
    assign(appear, a, -1, 30, 0.98 * most);
    g_assert_cmpint(a[1].recipe.pen[0], ==, 0);
    a[1] = grey(0.985, -1); /* nearly white: nothing is to be seen */
    assign(appear, a, -1, 30, 0.01);
    g_assert_cmpint(a[1].outline, ==, -1);
    a[1] = grey(0.92, -1);
    a[1].narrow = TRUE; /* its middle is drawn where both sides are lighter */
    assign(appear, a, -1, 30, 0.01);
    g_assert_cmpint(a[1].recipe.pen[0], ==, -1);
    g_assert_cmpint(a[1].outline, ==, pen);
    a[1] = grey(0.985, -1);
    a[1].narrow = TRUE;
    assign(appear, a, -1, 30, 0.01);
    g_assert_cmpint(a[1].outline, ==, -1);
}

/* Two greys that one hatch stands for are hatched in two directions, whatever the border's length. */
static void test_like_hatches_turn(void)
{
    static DtPen black = {
        .name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = TIP, .dot_gain = 1};
    static const DtRack one = {&black, 1};
    g_autoptr(DtAppear) appear = dt_appear_new(&one, paper);
    const DtColour red = {0.85, 0.45, 0.45, 1}, blue = {0.45, 0.56, 0.85, 1};
    DtLookArea a[2] = {grey(0, -1), grey(0, -1)};
    a[0].lab = dt_colour_lab(red);
    a[1].lab = dt_colour_lab(blue);
    a[0].least = a[1].least = 0;
    g_assert_cmpuint(assign(appear, a, 0, 30, TIP), ==, 0);
    for (int k = 0; k < 2; k++) {
        g_assert_cmpint(a[k].recipe.pen[0], ==, 0);
        g_assert_cmpfloat(a[k].recipe.share[0], <, 1);
    }
    const double apart = dt_colour_difference(dt_appear_lab(appear, a[0].recipe),
                                              dt_appear_lab(appear, a[1].recipe));
    g_test_message("shares %.2f and %.2f, turns %d and %d, %.1f apart", a[0].recipe.share[0],
                   a[1].recipe.share[0], a[0].turn, a[1].turn, apart);
    g_assert_cmpfloat(apart, <, 4);
    g_assert_cmpint(a[0].turn, ==, 0);
    g_assert_cmpint(a[1].turn, ==, 1);
}

/* What is told of a colour: how far its ink is, and how far the nearest pen, drawn densely, would be. */
static void test_the_nearest_dense_pen_is_told(void)
{
    static const double greys[] = {0.05, 0.2, 0.34, 0.36, 0.5, 0.62, 0.9};
    for (size_t i = 0; i < G_N_ELEMENTS(greys); i++) {
        DtInkReport r;
        g_autofree char *svg = g_strdup_printf(
            "<rect x='10' y='10' width='30' height='30' fill='rgb(%g%%,%g%%,%g%%)'/>",
            100 * greys[i], 100 * greys[i], 100 * greys[i]);
        g_auto(DtStrokes) s = ink_of(svg, &r);
        g_assert_cmpuint(r.n, ==, 1);
        double least = G_MAXDOUBLE;
        for (size_t k = 0; k < rack.n; k++)
            least = MIN(least, dt_colour_difference(dt_colour_lab(r.matches[0].colour),
                                                    dt_colour_lab(pens[k].colour)));
        g_assert_cmpfloat_with_epsilon(r.matches[0].before, least, 1e-9);
        g_assert_cmpfloat_with_epsilon(r.matches[0].colour.g, greys[i], 0.005);
        g_assert_cmpfloat_with_epsilon(r.matches[0].area_mm2, 900, 1);
        dt_ink_report_clear(&r);
    }
}

/* A light grey is an open hatch though from 40 cm the bare paper is nearer to it, even if the sheet has nothing
 * else: dense ink would be far from it. The share is that of Murray and Davies (1936), in the steps of about an
 * eighth that are tried. What is nearly white is left bare. */
static void test_light_greys_are_open_hatches(void)
{
    static const DtPen black = {
        .name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = TIP, .dot_gain = 1};
    static const DtRack one = {(DtPen *)&black, 1};
    static const struct {
        int grey;
        gboolean bare;
    } cases[] = {{0xd6, FALSE}, {0xde, FALSE}, {0xe4, FALSE}, {0xf9, TRUE}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        const double ink = dt_colour_linear(0.1), light = dt_colour_linear(cases[i].grey / 255.0),
                     expected = cases[i].bare ? 0 : (1 - light) / (1 - ink);
        g_autofree char *svg =
            g_strdup_printf("<rect x='10' y='10' width='80' height='80' fill='#%1$x%1$x%1$x'/>",
                            (unsigned)cases[i].grey);
        g_auto(DtStrokes) s = shapes_in_ink(svg, &one, &DT_INK_OPTIONS_DEFAULT, NULL);
        double length = 0;
        for (size_t k = 0; k < s.n; k++)
            length += dt_strokes_length(&s, k);
        const double share = length * TIP / (80.0 * 80);
        g_test_message("%x: %.3f covered, expected %.3f", (unsigned)cases[i].grey, share, expected);
        g_assert_cmpfloat(fabs(share - expected), <=, expected / 8);
    }
}

static gboolean is_inked(const DtStrokes *s, DtPoint at)
{
    for (size_t i = 0; i < s->n; i++)
        for (size_t k = 1; k < s->strokes[i].n; k++) {
            const DtPoint *p = s->pts + s->strokes[i].first + k;
            const DtPoint d = dt_point_sub(p[0], p[-1]), from = dt_point_sub(at, p[-1]);
            const double length = d.x * d.x + d.y * d.y,
                         u = length > 0 ? CLAMP((from.x * d.x + from.y * d.y) / length, 0, 1) : 0;
            if (hypot(from.x - u * d.x, from.y - u * d.y) <= TIP / 2)
                return TRUE;
        }
    return FALSE;
}

/* Dark greys in lines of one direction, between what single lines can cover and dense ink, have bands. What they
 * leave bare is that of Murray and Davies (1936), in steps of about 1.4; by random points. */
static void test_dark_greys_have_bands(void)
{
    static const DtPen black = {
        .name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = TIP, .dot_gain = 1};
    static const DtRack one = {(DtPen *)&black, 1};
    static const int greys[] = {0x4d, 0x60};
    for (size_t i = 0; i < G_N_ELEMENTS(greys); i++) {
        const double ink = dt_colour_linear(0.1), light = dt_colour_linear(greys[i] / 255.0),
                     expected = (light - ink) / (1 - ink);
        g_autofree char *svg =
            g_strdup_printf("<rect x='10' y='10' width='80' height='80' fill='#%1$x%1$x%1$x'/>",
                            (unsigned)greys[i]);
        DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
        o.hatch = DT_HATCH_LINES;
        g_auto(DtStrokes) s = shapes_in_ink(svg, &one, &o, NULL);
        g_autoptr(GRand) random = g_rand_new_with_seed(1);
        unsigned bare = 0, n = 4000, ways[2] = {0, 0};
        for (unsigned k = 0; k < n; k++)
            bare += !is_inked(&s, (DtPoint){g_rand_double_range(random, 12, 88),
                                            g_rand_double_range(random, 12, 88)});
        for (size_t k = 0; k < s.n; k++)
            for (size_t j = 0; j + 1 < s.strokes[k].n; j++) {
                const DtPoint *p = s.pts + s.strokes[k].first + j, d = dt_point_sub(p[1], p[0]);
                if (fabs(d.x) > 1 && fabs(d.y) > 1)
                    ways[d.x * d.y > 0]++;
            }
        g_test_message("%x: %.3f bare, expected %.3f; %u and %u lines", (unsigned)greys[i],
                       (double)bare / n, expected, ways[0], ways[1]);
        g_assert_cmpfloat(fabs((double)bare / n - expected), <=, expected / 3);
        g_assert_cmpuint(MAX(ways[0], ways[1]), >, 100);
        g_assert_cmpuint(MIN(ways[0], ways[1]), ==, 0);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/look/gap", test_fields_of_one_pen_have_a_gap);
    g_test_add_func("/ink/look/narrow", test_narrow_parts_have_no_pattern);
    g_test_add_func("/ink/look/pale-lines", test_pale_lines_are_areas);
    g_test_add_func("/ink/look/greys", test_greys_are_drawn_in_grey);
    g_test_add_func("/ink/look/gap-worth", test_a_gap_is_worth_its_contrast);
    g_test_add_func("/ink/look/edges", test_what_is_lighter_beside_gets_an_edge);
    g_test_add_func("/ink/look/cheapest", test_the_cheapest_way_is_taken);
    g_test_add_func("/ink/look/line-in-hatch", test_a_line_is_lost_in_a_dark_hatch);
    g_test_add_func("/ink/look/outline", test_a_pale_area_has_an_outline);
    g_test_add_func("/ink/look/turns", test_like_hatches_turn);
    g_test_add_func("/ink/look/light-greys", test_light_greys_are_open_hatches);
    g_test_add_func("/ink/look/dark-greys", test_dark_greys_have_bands);
    g_test_add_func("/ink/look/told", test_the_nearest_dense_pen_is_told);
    return g_test_run();
}
