/* ink: pale lines: those that are nearly of the paint of a field that they touch, and those that are left bare. */
#include "shapes-in-ink.h"

#include "drawtrue/base.h"

static DtPen pens[3] = {
    {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"green", .colour = {0.18, 0.49, 0.2, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"terracotta", .colour = {0.71, 0.28, 0.18, 1}, .tip = 0.4, .dot_gain = 1}};

static DtStrokes ink_of(const char *shapes, DtInkReport *report)
{
    const DtRack rack = {pens, 3};
    return shapes_in_ink(shapes, &rack, &DT_INK_OPTIONS_DEFAULT, report);
}

static gboolean is_inked(const DtStrokes *s, DtPoint at)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        const DtPoint *p = s->pts + k->first;
        for (size_t j = 0; j + (k->closed ? 0 : 1) < k->n; j++)
            if (dt_point_segment_distance(at, p[j], p[(j + 1) % k->n]) <= pens[k->pen].tip / 2)
                return TRUE;
    }
    return FALSE;
}

/* The share of a level line that has ink. */
static double inked_along(const DtStrokes *s, double x0, double x1, double y)
{
    int n = 0;
    for (int i = 0; i < 200; i++)
        n += is_inked(s, dt_point(x0 + (x1 - x0) * (i + 0.5) / 200, y));
    return n / 200.0;
}

/* A line along a short side of a field that is nearly of its paint is no step of a blend: it is drawn beyond it as it
 * is without the field. */
static void test_a_long_line_does_not_join_a_small_field(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='20' y='40' width='9' height='9.8' fill='#ffecec'/>"
                                 "<rect x='10' y='50' width='80' height='30' fill='#00aa77'/>"
                                 "<rect x='10' y='49.8' width='80' height='0.2' fill='#ffd9d9'/>",
                                 NULL);
    g_assert_cmpfloat(inked_along(&s, 40, 88, 49.9), >, 0.98);
    g_assert_cmpfloat(inked_along(&s, 12, 18, 49.9), >, 0.98);
}

/* One that does join it, and is left bare between a darker field and the paper, is counted. */
static void test_a_joined_line_that_does_not_show_is_counted(void)
{
    DtInkReport r;
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='30' width='32' height='19.8' fill='#ffecec'/>"
                                 "<rect x='10' y='50' width='80' height='30' fill='#00aa77'/>"
                                 "<rect x='10' y='49.8' width='80' height='0.2' fill='#ffd9d9'/>",
                                 &r);
    const double inked = inked_along(&s, 45, 89, 49.9);
    g_test_message("%.2f inked, %.1f mm not seen", inked, r.unseen_mm);
    g_assert_true(inked > 0.98 || r.unseen_mm > 0.9 * 48);
    dt_ink_report_clear(&r);
}

/* A white line that is much thinner than the tip is a gap that does not close, in dense ink and in that of gradients,
 * alone and side by side; a wider one is as wide as it is. */
static void test_a_bare_line_does_not_close(void)
{
    static const char *const fields[] = {
        "<rect x='10' y='10' width='80' height='80' fill='#000'/>",
        "<linearGradient id='a'><stop stop-color='#111'/><stop offset='1' stop-color='#222'/>"
        "</linearGradient><rect x='10' y='10' width='80' height='80' fill='url(#a)'/>",
        "<linearGradient id='a'><stop stop-color='#111'/><stop offset='1' stop-color='#222'/>"
        "</linearGradient><rect x='10' y='10' width='40' height='80' fill='url(#a)'/>"
        "<rect x='50' y='10' width='40' height='80' fill='url(#a)'/>"};
    static const struct {
        double width, bare;
    } lines[] = {{0.14, 0.3}, {0.2, 0.3}, {0.4, 0.4}};
    for (size_t f = 0; f < G_N_ELEMENTS(fields); f++)
        for (size_t l = 0; l < G_N_ELEMENTS(lines); l++) {
            g_autofree char *svg =
                g_strdup_printf("%s<path d='M20 50H80' stroke='#fff' stroke-width='%g'/>",
                                fields[f], lines[l].width);
            g_auto(DtStrokes) s = ink_of(svg, NULL);
            const double inside = lines[l].bare / 2 - 0.03, outside = lines[l].bare / 2 + 0.1;
            for (int side = -1; side <= 1; side += 2) {
                g_test_message("field %zu, line of %.2f: %.2f and %.2f inked", f, lines[l].width,
                               inked_along(&s, 21, 79, 50 + side * inside),
                               inked_along(&s, 21, 79, 50 + side * outside));
                g_assert_cmpfloat(inked_along(&s, 21, 79, 50 + side * inside), ==, 0);
                g_assert_cmpfloat(inked_along(&s, 21, 79, 50 + side * outside), >, 0.8);
            }
        }
}

/* A grey line over a cream and a dark field is bare on the dark one, and on the cream one a line of ink along its middle,
 * with no lines of that field's hatch along its edges. */
static void test_a_bare_line_is_drawn_where_it_is_the_darker(void)
{
    g_auto(DtStrokes) s =
        ink_of("<rect width='100' height='100' fill='#f5f0d0'/>"
               "<rect x='25' y='20' width='60' height='60' fill='#222'/>"
               "<path d='M10 50h80' fill='none' stroke='#808080' stroke-width='0.5'/>",
               NULL);
    const double left = inked_along(&s, 11, 23, 50), right = inked_along(&s, 87, 89, 50),
                 bare = inked_along(&s, 28, 82, 50);
    g_test_message("%.2f and %.2f inked on cream, %.2f on the dark field", left, right, bare);
    g_assert_cmpfloat(MIN(left, right), >, 0.95);
    g_assert_cmpfloat(bare, <, 0.05);
    for (int side = -1; side <= 1; side += 2)
        g_assert_cmpfloat(inked_along(&s, 11, 23, 50 + 0.4 * side), <, 0.5);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/pale/apart", test_a_long_line_does_not_join_a_small_field);
    g_test_add_func("/ink/pale/counted", test_a_joined_line_that_does_not_show_is_counted);
    g_test_add_func("/ink/pale/bare", test_a_bare_line_does_not_close);
    g_test_add_func("/ink/pale/middle", test_a_bare_line_is_drawn_where_it_is_the_darker);
    return g_test_run();
}
