/* ink: what is counted as narrow parts that the ink does not show, on ink that is made by hand, and of which parts. */
#include "shapes-in-ink.h"

#include "ink/look/strips.h"

#include <math.h>

#define TIP 0.4

static DtPen pens[3] = {
    {.name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = TIP, .dot_gain = 1},
    {.name = (char *)"green", .colour = {0.18, 0.49, 0.2, 1}, .tip = TIP, .dot_gain = 1},
    {.name = (char *)"terracotta", .colour = {0.71, 0.28, 0.18, 1}, .tip = TIP, .dot_gain = 1}};
enum { BLACK, GREEN, TERRACOTTA };

static void add_line(DtStrokes *s, unsigned pen, double x0, double y0, double x1, double y1)
{
    const DtPoint p[2] = {{x0, y0}, {x1, y1}};
    dt_strokes_append(s, p, 2, FALSE, DT_INK_FILL, pen, -1);
}

/* Lines at 45 degrees whose middles are `pitch` mm apart. */
static void add_hatch(DtStrokes *s, unsigned pen, double pitch)
{
    for (double x = -40; x < 60; x += pitch * M_SQRT2)
        add_line(s, pen, x, 0, x + 40, 40);
}

/* Counts along a level part, from x = 10 to x = 30 about y = 20, as if met from both of its edges. */
static double unseen(DtStrokes *s, double width)
{
    const DtRack rack = {pens, 3};
    const DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    g_autoptr(GArray) thin = g_array_new(FALSE, FALSE, sizeof(DtThinPlace));
    for (int i = 0; i < 50; i++)
        for (int k = -1; k <= 1; k += 2) {
            const DtThinPlace place = {
                .at = {10.2 + 0.4 * i, 20}, .way = {k, 0}, .width = width, .mm = 0.2};
            g_array_append_val(thin, place);
        }
    DtTrace t = {.rack = &rack, .o = &o, .out = s, .thin = thin};
    dt_look_count_unseen(&t);
    g_test_message("%.1f mm unseen", t.unseen_mm);
    return t.unseen_mm;
}

/* A hatch that goes on through a part and both of its sides has lines in some places of the part and gaps in others:
 * each differs from what is beside it, and yet the part is not seen: at least half of it is counted, however open the hatch. */
static void test_a_hatch_that_goes_on_shows_nothing(void)
{
    static const double pitches[] = {0.55, 0.7, 1, 1.4}, widths[] = {0.3, 0.5, 0.8, 1.1};
    for (size_t i = 0; i < G_N_ELEMENTS(pitches); i++)
        for (size_t k = 0; k < G_N_ELEMENTS(widths); k++) {
            DtStrokes s;
            dt_strokes_init(&s);
            add_hatch(&s, BLACK, pitches[i]);
            g_test_message("pitch %.2f, width %.1f", pitches[i], widths[k]);
            g_assert_cmpfloat(unseen(&s, widths[k]), >, 10);
            dt_strokes_clear(&s);
        }
}

/* Thin bare lines along both edges show a part of the ink that is beside it, whatever its width. */
static void test_bare_edges_show_a_part(void)
{
    static const double widths[] = {0.4, 0.6, 0.8, 1.1}, gap = 0.12;
    for (size_t k = 0; k < G_N_ELEMENTS(widths); k++) {
        DtStrokes s;
        dt_strokes_init(&s);
        for (int i = -1; i <= 1; i++)
            add_line(&s, BLACK, 5, 20 + i * (widths[k] - TIP) / 2, 35,
                     20 + i * (widths[k] - TIP) / 2);
        for (int i = 0; i < 20; i++)
            for (int side = -1; side <= 1; side += 2) {
                const double y = 20 + side * ((widths[k] + TIP) / 2 + gap + 0.3 * i);
                add_line(&s, BLACK, 5, y, 35, y);
            }
        g_assert_cmpfloat(unseen(&s, widths[k]), ==, 0);
        dt_strokes_clear(&s);
    }
}

/* Neither a bare part in a field nor a line on bare paper is counted, but all of a part with nothing on it. */
static void test_lines_and_gaps_are_seen(void)
{
    DtStrokes s;
    dt_strokes_init(&s);
    g_assert_cmpfloat_with_epsilon(unseen(&s, 0.5), 20, 1e-6);
    add_line(&s, GREEN, 5, 20, 35, 20);
    g_assert_cmpfloat(unseen(&s, 0.5), ==, 0);
    dt_strokes_clear(&s);
    dt_strokes_init(&s);
    for (int i = 0; i < 20; i++)
        for (int side = -1; side <= 1; side += 2)
            add_line(&s, TERRACOTTA, 5, 20 + side * (0.5 + 0.3 * i), 35,
                     20 + side * (0.5 + 0.3 * i));
    g_assert_cmpfloat(unseen(&s, 0.5), ==, 0);
    dt_strokes_clear(&s);
}

/* What covers a point is found stroke by stroke; the sums as in dt_strips_light. */
static DtStripLight light_of_all(const DtTrace *t, const DtThinPlace *place, const DtStrip *strip)
{
    static const int by_lightness[] = {GREEN, TERRACOTTA, BLACK};
    double sum[2][3] = {{0}}, weights = 0;
    for (int i = -strip->steps; i <= strip->steps; i++)
        for (int j = 0; j <= strip->across; j++) {
            const double u = strip->begin + strip->along * i / strip->steps,
                         v = strip->from + (strip->to - strip->from) * j / MAX(strip->across, 1),
                         w = strip->faded ? 1 + cos(G_PI * i / (strip->steps + 1)) : 1;
            const DtPoint at = {place->at.x + place->way.x * u - place->way.y * v,
                                place->at.y + place->way.y * u + place->way.x * v};
            double light[2][3] = {{1, 1, 1}, {1, 1, 1}};
            for (int p = 0; p < 3; p++) {
                const int pen = by_lightness[p];
                gboolean covered = FALSE;
                for (size_t k = 0; k < t->out->n; k++) {
                    const DtStroke *s = &t->out->strokes[k];
                    const gboolean line = s->kind == DT_INK_OUTLINE;
                    if (s->pen == (unsigned)pen && (strip->kind == DT_STRIPS_ANY_INK ||
                                                    line == (strip->kind == DT_STRIPS_LINES)))
                        for (size_t m = 0; m + 1 < s->n; m++)
                            covered |= dt_point_segment_distance(at, t->out->pts[s->first + m],
                                                                 t->out->pts[s->first + m + 1]) <
                                       pens[pen].tip / 2;
                }
                const DtColour c = pens[pen].colour;
                const double own[3] = {dt_colour_linear(c.r), dt_colour_linear(c.g),
                                       dt_colour_linear(c.b)};
                for (int k = 0; covered && k < 3; k++) {
                    light[0][k] = own[k];
                    light[1][k] *= own[k];
                }
            }
            for (int k = 0; k < 6; k++)
                sum[k / 3][k % 3] += w * light[k / 3][k % 3];
            weights += w;
        }
    DtLab lab[2];
    for (int k = 0; k < 2; k++)
        lab[k] =
            dt_colour_lab_linear(sum[k][0] / weights, sum[k][1] / weights, sum[k][2] / weights);
    return (DtStripLight){lab[0], lab[1]};
}

/* Random ink, random places, also ones far apart, and random strips. */
static void test_strips_see_all_ink_near_them(void)
{
    const DtRack rack = {pens, 3};
    const DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    const double along = 1, aside = 1.1;
    int n_inked = 0;
    for (int round = 0; round < 20; round++) {
        DtStrokes s;
        g_autoptr(GArray) thin = g_array_new(FALSE, FALSE, sizeof(DtThinPlace));
        const double size = round % 2 ? 12 : 400;
        dt_strokes_init(&s);
        for (int i = 0; i < 60; i++) {
            DtPoint p[4];
            for (int k = 0; k < 4; k++)
                p[k] =
                    (DtPoint){g_test_rand_double_range(0, size), g_test_rand_double_range(0, size)};
            dt_strokes_append(&s, p, 2 + (size_t)i % 3, FALSE, i % 2 ? DT_INK_OUTLINE : DT_INK_FILL,
                              (unsigned)g_test_rand_int_range(0, 3), -1);
        }
        for (int i = 0; i < 30; i++) {
            const double way = g_test_rand_double_range(0, 2 * G_PI);
            const DtStroke *by = &s.strokes[g_test_rand_int_range(0, (gint32)s.n)];
            const DtThinPlace place = {.at = dt_point_lerp(s.pts[by->first], s.pts[by->first + 1],
                                                           g_test_rand_double_range(-0.1, 1.1)),
                                       .way = {cos(way), sin(way)}};
            g_array_append_val(thin, place);
        }
        DtTrace t = {.rack = &rack, .o = &o, .out = &s, .thin = thin};
        g_autoptr(DtStrips) strips = dt_strips_new(&t, 1, along, aside);
        for (guint i = 0; i < thin->len; i++) {
            const DtThinPlace *place = &g_array_index(thin, DtThinPlace, i);
            const double begin = g_test_rand_double_range(-along, along);
            const DtStrip strip = {begin,
                                   g_test_rand_double_range(0, along - fabs(begin)),
                                   g_test_rand_double_range(-aside, aside),
                                   g_test_rand_double_range(-aside, aside),
                                   4,
                                   (int)i % 5,
                                   i % 2,
                                   (DtStripsKind)(i % 3)};
            dt_strips_go_to(strips, place->at, place->way);
            const DtStripLight light = dt_strips_light(strips, &strip),
                               all = light_of_all(&t, place, &strip);
            g_assert_cmpfloat(dt_colour_difference(light.opaque, all.opaque), <, 1e-6);
            g_assert_cmpfloat(dt_colour_difference(light.clear, all.clear), <, 1e-6);
            n_inked += all.opaque.l < 99;
        }
        dt_strokes_clear(&s);
    }
    g_assert_cmpint(n_inked, >, 200);
}

/* In dense ink, where nothing of a dark paint shows on black. */
static double unseen_on_black(const char *shape)
{
    g_autofree char *svg =
        g_strconcat("<rect x='10' y='10' width='80' height='80' fill='#000'/>", shape, NULL);
    const DtRack rack = {pens, 3};
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    DtInkReport r;
    o.solid = TRUE;
    g_auto(DtStrokes) s = shapes_in_ink(svg, &rack, &o, &r);
    const double mm = r.unseen_mm;
    g_test_message("%.1f mm unseen", mm);
    dt_ink_report_clear(&r);
    return mm;
}

/* The narrow pieces of a wide part, such as the stem of a letter, are looked at, of a gradient as well; its corners are
 * none. */
static void test_narrow_pieces_of_wide_parts_are_counted(void)
{
#define STEM "<path d='M20 20H40V49.6H80V50.4H40V80H20Z' fill='"
    g_assert_cmpfloat_with_epsilon(unseen_on_black(STEM "#333'/>"), 40, 2);
    g_assert_cmpfloat_with_epsilon(
        unseen_on_black("<linearGradient id='g'><stop stop-color='#2c2c2c'/><stop offset='1' "
                        "stop-color='#3c3c3c'/></linearGradient>" STEM "url(#g)'/>"),
        40, 2);
    g_assert_cmpfloat(unseen_on_black("<path d='M30 30H60L45 56Z' fill='#333'/>"), ==, 0);
}

/* A line that is hardly wider than three tips is no field. */
static void test_lines_of_somewhat_more_than_three_tips_are_counted(void)
{
    g_assert_cmpfloat_with_epsilon(
        unseen_on_black("<rect x='20' y='50' width='60' height='1.3' fill='#333'/>"), 60, 3);
    g_assert_cmpfloat(unseen_on_black("<rect x='20' y='50' width='60' height='2' fill='#333'/>"),
                      ==, 0);
}

/* Between shapes whose edges are nearly the same a sliver may be visible, in the picture of the artwork hardly so. Its
 * paint is like the line's, but not so much that they become one. */
static void test_slivers_hide_no_line(void)
{
    static const char *const slivers[] = {
        "", "<rect x='20' y='49.99' width='60' height='0.03' fill='#4e4e4e'/>"};
    for (size_t i = 0; i < G_N_ELEMENTS(slivers); i++) {
        g_autofree char *svg = g_strconcat(
            slivers[i], "<rect x='20' y='50' width='60' height='0.8' fill='#333'/>", NULL);
        g_assert_cmpfloat_with_epsilon(unseen_on_black(svg), 60, 3);
    }
}

/* A gradient that is drawn like a flat paint has its own colours in the artwork: a black stroke shows where it is
 * lightest, on 24 mm, and a dark grey bar where it is black, on 48 mm. */
static void test_what_lies_on_gradients_that_are_drawn_flat_is_counted(void)
{
#define DARK_GRADIENT                                                                              \
    "<linearGradient id='g'><stop offset='.6'/><stop offset='.7' stop-color='#343434'/>"           \
    "</linearGradient><rect x='10' y='20' width='80' height='60' fill='url(#g)'/>"
    static const struct {
        const char *line;
        double unseen;
    } cases[] = {{"<path d='M10 50H90' stroke='#000' stroke-width='0.3'/>", 24},
                 {"<rect x='10' y='50' width='80' height='0.8' fill='#393939'/>", 48}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *svg = g_strconcat(DARK_GRADIENT, cases[i].line, NULL);
        g_test_message("%s", cases[i].line);
        g_assert_cmpfloat_with_epsilon(unseen_on_black(svg), cases[i].unseen, 4);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/unseen/hatch", test_a_hatch_that_goes_on_shows_nothing);
    g_test_add_func("/ink/unseen/bare-edges", test_bare_edges_show_a_part);
    g_test_add_func("/ink/unseen/lines", test_lines_and_gaps_are_seen);
    g_test_add_func("/ink/unseen/strips", test_strips_see_all_ink_near_them);
    g_test_add_func("/ink/unseen/pieces", test_narrow_pieces_of_wide_parts_are_counted);
    g_test_add_func("/ink/unseen/wider", test_lines_of_somewhat_more_than_three_tips_are_counted);
    g_test_add_func("/ink/unseen/slivers", test_slivers_hide_no_line);
    g_test_add_func("/ink/unseen/gradients",
                    test_what_lies_on_gradients_that_are_drawn_flat_is_counted);
    return g_test_run();
}
