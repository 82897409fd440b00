/* ink: lines of two paints that end as the same ink cross without a gap, and are told from what lies beside
 * them. */
#include "shapes-in-ink.h"

#include "drawtrue/base.h"

#include <math.h>

static DtPen pens[2] = {
    {.name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"red", .colour = {0.77, 0.15, 0.15, 1}, .tip = 0.4, .dot_gain = 1}};

static DtStrokes ink_of(const char *shapes, size_t n_pens)
{
    const DtRack rack = {pens, n_pens};
    return shapes_in_ink(shapes, &rack, &DT_INK_OPTIONS_DEFAULT, NULL);
}

static double inked_along(const DtStrokes *s, DtPoint a, DtPoint b)
{
    return inked_between(s, a, b, 0.2);
}

/* A grid of upright lines with a paint and a width (mm), and level ones over them. */
static char *grid(const char *upright, double width, const char *level, double level_width)
{
    GString *s = g_string_new(NULL);
    for (int i = 0; i < 5; i++)
        g_string_append_printf(s, "<path d='M%d 20V80' stroke='%s' stroke-width='%g'/>",
                               30 + 10 * i, upright, width);
    for (int i = 0; i < 5; i++)
        g_string_append_printf(s, "<path d='M20 %dH80' stroke='%s' stroke-width='%g'/>",
                               30 + 10 * i, level, level_width);
    return g_string_free(s, FALSE);
}

static void test_lines_of_one_ink_cross_without_a_gap(void)
{
    static const struct {
        const char *upright, *level;
        double width, level_width;
    } grids[] = {{"#ccc", "#888", 0.25, 0.25}, /* an area under a line */
                 {"#888", "#ccc", 0.25, 0.25},
                 {"#ccc", "#888", 0.6, 0.6},  /* two areas, each with a line along its middle */
                 {"#ccc", "#999", 0.45, 0.3}, /* dense */
                 {"#ccc", "#c00", 0.25, 0.25}};
    for (size_t i = 0; i < G_N_ELEMENTS(grids); i++) {
        g_autofree char *svg =
            grid(grids[i].upright, grids[i].width, grids[i].level, grids[i].level_width);
        g_auto(DtStrokes) s = ink_of(svg, 1);
        double least = 1;
        for (int k = 0; k < 5; k++) {
            least = MIN(least,
                        inked_along(&s, dt_point(30 + 10 * k, 20.5), dt_point(30 + 10 * k, 79.5)));
            least = MIN(least,
                        inked_along(&s, dt_point(20.5, 30 + 10 * k), dt_point(79.5, 30 + 10 * k)));
        }
        g_test_message("%s under %s: %.3f inked", grids[i].upright, grids[i].level, least);
        g_assert_cmpfloat(least, >, 0.9999);
    }
}

/* Another pen's ink is told from what it crosses. */
static void test_another_ink_has_a_gap(void)
{
    g_autofree char *svg = grid("#ccc", 0.25, "#c00", 0.25);
    g_auto(DtStrokes) s = ink_of(svg, 2);
    const double inked = inked_along(&s, dt_point(30, 28), dt_point(30, 32));
    g_test_message("%.3f inked", inked);
    g_assert_cmpfloat(inked, <, 0.99);
}

/* Lines of one ink side by side are not joined, nor is a line along a narrow part, or one that ends in it at
 * both ends. */
static void test_what_lies_beside_is_told_apart(void)
{
    g_auto(DtStrokes) pair = ink_of("<path d='M20 40H80' stroke='#ccc' stroke-width='.6'/>"
                                    "<path d='M20 40.6H80' stroke='#888' stroke-width='.6'/>"
                                    "<path d='M50 20V60' stroke='#aaa' stroke-width='.6'/>",
                                    1);
    g_assert_cmpfloat(inked_along(&pair, dt_point(21, 40), dt_point(79, 40)), >, 0.98);
    g_assert_cmpfloat(inked_along(&pair, dt_point(21, 40.6), dt_point(79, 40.6)), >, 0.98);
    g_assert_cmpfloat(inked_along(&pair, dt_point(21, 40.3), dt_point(79, 40.3)), <, 0.05);
    g_auto(DtStrokes) along = ink_of("<rect x='20' y='40' width='60' height='1' fill='#444'/>"
                                     "<path d='M10 40.2H90' stroke='#000' stroke-width='.4'/>",
                                     1);
    double bare = 0;
    for (double y = 40.45; y < 40.8; y += 0.05)
        bare = MAX(bare, 1 - inked_along(&along, dt_point(22, y), dt_point(78, y)));
    g_assert_cmpfloat(bare, >, 0.95);
    g_auto(DtStrokes) mark = ink_of("<rect x='20' y='40' width='60' height='1' fill='#444'/>"
                                    "<path d='M49.7 40.5H50.3' stroke='#000' stroke-width='.4'/>",
                                    1);
    g_assert_cmpfloat(inked_along(&mark, dt_point(49, 40.5), dt_point(51, 40.5)), <, 0.95);
}

/* A line beside a part that is as short as a crossing is still beside it. */
static void test_a_short_part_beside_is_no_crossing(void)
{
    for (double w = 0.6; w < 1.5; w += 0.2) {
        g_autofree char *svg =
            g_strdup_printf("<rect x='50' y='40.07' width='%g' height='.8' fill='#444'/>"
                            "<path d='M20 40H80' stroke='#000' stroke-width='.133'/>",
                            w);
        g_auto(DtStrokes) s = ink_of(svg, 1);
        g_assert_cmpfloat(inked_along(&s, dt_point(50, 40.35), dt_point(50 + w, 40.35)), ==, 0);
        g_assert_cmpfloat(inked_along(&s, dt_point(50, 40), dt_point(50 + w, 40)), ==, 1);
        g_assert_cmpfloat(inked_along(&s, dt_point(50, 40.6), dt_point(50 + w, 40.6)), >, 0.5);
    }
}

/* An open hatch has a line along its edge, but not where the artwork has one, which would become twice as wide.
 * That one may lie beside the edge. */
static void test_an_edge_has_one_line(void)
{
    for (double y = 39.7; y < 40.4; y += 0.15) {
        g_autofree char *svg =
            g_strdup_printf("<rect x='20' y='40' width='60' height='30' fill='#ccc'/>"
                            "<path d='M20 %gH80' fill='none' stroke='#000' stroke-width='.3'/>",
                            y);
        g_auto(DtStrokes) s = ink_of(svg, 1);
        g_assert_cmpfloat(inked_along(&s, dt_point(22, y), dt_point(78, y)), ==, 1);
        for (double aside = 0.25; aside < 0.6; aside += 0.05)
            g_assert_cmpfloat(inked_along(&s, dt_point(22, y + aside), dt_point(78, y + aside)), <,
                              0.5);
        g_assert_cmpfloat(inked_along(&s, dt_point(20.2, 45), dt_point(20.2, 65)), ==, 1);
    }
}

/* What a line is told to look like is what the eye sees of it: black ink is far from grey, but a thin black
 * line among paper is not far from a grey one. */
static void test_a_line_is_compared_as_it_is_seen(void)
{
    const DtRack rack = {pens, 1};
    DtInkReport r;
    g_autofree char *svg = grid("#ccc", 0.25, "#888", 0.25);
    g_auto(DtStrokes) s = shapes_in_ink(svg, &rack, &DT_INK_OPTIONS_DEFAULT, &r);
    g_assert_cmpuint(r.n, ==, 2);
    for (size_t i = 0; i < r.n; i++) {
        const DtInkMatch *m = &r.matches[i];
        g_test_message("grey %.2f: %.1f, dense ink %.1f", m->colour.r, m->distance, m->before);
        g_assert_cmpfloat(m->distance, <, 18);
        g_assert_cmpfloat(m->distance, >, 5);
        g_assert_cmpfloat(m->before, >, 2 * m->distance);
    }
    dt_ink_report_clear(&r);
    g_auto(DtStrokes) same =
        shapes_in_ink("<path d='M20 40H80' stroke='rgb(10%,10%,10%)' stroke-width='.4'/>", &rack,
                      &DT_INK_OPTIONS_DEFAULT, &r);
    g_assert_cmpuint(r.n, ==, 1);
    g_assert_cmpfloat(r.matches[0].distance, <, 0.5);
    dt_ink_report_clear(&r);
}

/* The length of the fields' ink that runs along a direction, to 10 degrees, as a share of all. */
static double share_along(const DtStrokes *s, double direction)
{
    double along = 0, all = 0;
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        for (size_t j = 0; j + 1 < k->n && k->kind == DT_INK_FILL; j++) {
            const DtPoint a = s->pts[k->first + j], b = s->pts[k->first + j + 1];
            const double off = remainder(atan2(b.y - a.y, b.x - a.x) - direction, G_PI);
            all += dt_point_distance(a, b);
            along += fabs(off) < G_PI / 18 ? dt_point_distance(a, b) : 0;
        }
    }
    return along / all;
}

/* The hatch of a field takes another direction where a line of its pen would be one of its lines. */
static void test_a_line_along_a_hatch_is_crossed_by_it(void)
{
    static const struct {
        const char *line;
        gboolean turns;
    } cases[] = {{"M25 25L75 75", TRUE},  {"M75 25L25 75", FALSE},
                 {"M25 28L75 70", TRUE},  {"M25 50H75", FALSE},
                 {"M50 50L51 51", FALSE}, {"M25 25L75 75M75 25L25 75", TRUE}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *svg =
            g_strdup_printf("<rect x='20' y='20' width='60' height='60' fill='#ccc'/>"
                            "<path d='%s' stroke='#000' stroke-width='.35' fill='none'/>",
                            cases[i].line);
        g_auto(DtStrokes) s = ink_of(svg, 2);
        const double share = share_along(&s, DT_INK_OPTIONS_DEFAULT.angle);
        g_test_message("%s: %.2f of the hatch keeps its direction", cases[i].line, share);
        g_assert_true(cases[i].turns ? share < 0.1 : share > 0.6);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/crossings/joined", test_lines_of_one_ink_cross_without_a_gap);
    g_test_add_func("/ink/crossings/another-ink", test_another_ink_has_a_gap);
    g_test_add_func("/ink/crossings/beside", test_what_lies_beside_is_told_apart);
    g_test_add_func("/ink/crossings/short", test_a_short_part_beside_is_no_crossing);
    g_test_add_func("/ink/crossings/edge", test_an_edge_has_one_line);
    g_test_add_func("/ink/crossings/seen", test_a_line_is_compared_as_it_is_seen);
    g_test_add_func("/ink/crossings/along", test_a_line_along_a_hatch_is_crossed_by_it);
    return g_test_run();
}
