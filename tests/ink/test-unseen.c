/* ink: what is counted as narrow parts that the ink does not show, on ink that is made by hand, and of which parts. */
#include "shapes-in-ink.h"

#include "ink/trace.h"

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

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/unseen/hatch", test_a_hatch_that_goes_on_shows_nothing);
    g_test_add_func("/ink/unseen/bare-edges", test_bare_edges_show_a_part);
    g_test_add_func("/ink/unseen/lines", test_lines_and_gaps_are_seen);
    g_test_add_func("/ink/unseen/pieces", test_narrow_pieces_of_wide_parts_are_counted);
    return g_test_run();
}
