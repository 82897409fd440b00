/* ink: lines that are part of a paint which changes, such as black ones under a translucent highlight, in another such
 * paint that has their pen in its hatch: that pen keeps away from them, the other goes on to their edges. */
#include "shapes-in-ink.h"

static DtPen pens[2] = {
    {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"terracotta", .colour = {0.71, 0.28, 0.18, 1}, .tip = 0.4, .dot_gain = 1}};
enum { BLACK, TERRACOTTA };

/* From the middle of a line of 0.5 mm, mm: in the gap beside it. */
#define BESIDE 0.45

/* The share of the places along a line from bottom to top that have ink of a pen. */
static double inked_by(const DtStrokes *s, unsigned pen, double x)
{
    int n = 0, inked = 0;
    for (double y = 25; y < 75; y += 0.1, n++) {
        gboolean found = FALSE;
        for (size_t i = 0; i < s->n && !found; i++) {
            const DtStroke *k = &s->strokes[i];
            for (size_t j = 0; j + (k->closed ? 0 : 1) < k->n && k->pen == pen && !found; j++)
                found = dt_point_segment_distance(dt_point(x, y), s->pts[k->first + j],
                                                  s->pts[k->first + (j + 1) % k->n]) <=
                        pens[pen].tip / 2;
        }
        inked += found;
    }
    return (double)inked / n;
}

static DtStrokes ink_of(const char *field, double width)
{
    const DtRack rack = {pens, 2};
    /* black all around, wide enough to be no line, and one line across the field; all of it under the highlight */
    g_autofree char *svg = g_strdup_printf(
        "<radialGradient id='h'><stop stop-color='#fff' stop-opacity='.3'/><stop offset='1' "
        "stop-color='#fff' stop-opacity='0'/></radialGradient>"
        "<rect x='10' y='10' width='80' height='80' fill='#000'/>"
        "<rect x='20' y='20' width='60' height='60' fill='%s'/>"
        "<rect x='%g' y='10' width='%g' height='80' fill='#000'/>"
        "<rect x='10' y='10' width='80' height='80' fill='url(#h)'/>",
        field, 40 - width / 2, width);
    return shapes_in_ink(svg, &rack, &DT_INK_OPTIONS_DEFAULT, NULL);
}

static void test_lines_keep_a_gap_in_their_own_pen(void)
{
    g_auto(DtStrokes) s = ink_of("#7c3f4c", 0.5);
    const double line = inked_by(&s, BLACK, 40), field = inked_by(&s, BLACK, 35),
                 other = inked_by(&s, TERRACOTTA, 35);
    g_test_message("black on the line %.2f, in the field %.2f", line, field);
    g_assert_cmpfloat(line, >=, 0.9);
    g_assert_cmpfloat(field, >=, 0.3);
    for (int side = -1; side <= 1; side += 2) {
        const double beside = inked_by(&s, BLACK, 40 + side * BESIDE),
                     left = inked_by(&s, TERRACOTTA, 40 + side * BESIDE);
        g_test_message("beside it black %.2f, terracotta %.2f of %.2f", beside, left, other);
        g_assert_cmpfloat(beside, <=, 0.1);
        g_assert_cmpfloat(left, >=, 0.75 * other);
    }
}

/* A line that is wider than the hatch's own by far shows without a gap. */
static void test_wide_lines_need_none(void)
{
    g_auto(DtStrokes) s = ink_of("#7c3f4c", 1.1);
    g_assert_cmpfloat(inked_by(&s, BLACK, 40), >=, 0.9);
    g_assert_cmpfloat(inked_by(&s, BLACK, 40 + 0.55 + 0.15), >=, 0.2);
}

/* Where the field's hatch has no black there is nothing to cut. */
static void test_fields_of_other_pens_stay_whole(void)
{
    g_auto(DtStrokes) s = ink_of("#e0a090", 0.5);
    g_assert_cmpfloat(inked_by(&s, BLACK, 40), >=, 0.9);
    g_assert_cmpfloat(inked_by(&s, TERRACOTTA, 40 + BESIDE), >=,
                      0.75 * inked_by(&s, TERRACOTTA, 35));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/tone-gaps/own-pen", test_lines_keep_a_gap_in_their_own_pen);
    g_test_add_func("/ink/tone-gaps/wide", test_wide_lines_need_none);
    g_test_add_func("/ink/tone-gaps/other-pens", test_fields_of_other_pens_stay_whole);
    return g_test_run();
}
