/* ink: narrow parts whose paint changes from place to place. */
#include "shapes-in-ink.h"

#define TIP 0.4

static DtPen pens[] = {
    {.name = (char *)"black", .colour = {0.11, 0.11, 0.11, 1}, .tip = TIP, .dot_gain = 1}};
static const DtRack rack = {pens, 1};

/* A level bar from x = 10 to x = 90 about y = 20, 1 mm high, in a gradient along it. */
static DtStrokes bar_in_ink(const char *stops)
{
    const DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    g_autofree char *svg =
        g_strdup_printf("<linearGradient id='g'>%s</linearGradient>"
                        "<rect x='10' y='19.5' width='80' height='1' fill='url(#g)'/>",
                        stops);
    return shapes_in_ink(svg, &rack, &o, NULL);
}

/* The share of the bar's height that is inked at x. */
static double inked(const DtStrokes *s, double x)
{
    enum { PLACES = 100 };
    int n = 0;
    for (int i = 0; i < PLACES; i++)
        n += is_within_strokes(s, (DtPoint){x, 19.5 + (i + 0.5) / PLACES}, TIP / 2);
    return (double)n / PLACES;
}

/* On average it is dark enough for solid ink, but its light end must not have that. */
static void test_a_light_end_of_a_dark_bar_stays_light(void)
{
    g_auto(DtStrokes) s = bar_in_ink("<stop offset='.7'/><stop offset='.7' stop-color='#ddd'/>");
    for (double x = 11; x < 89; x += 1) {
        g_test_message("x %.0f: %.2f", x, inked(&s, x));
        if (x < 65)
            g_assert_cmpfloat(inked(&s, x), >, 0.9);
        if (x > 67)
            g_assert_cmpfloat(inked(&s, x), <, 0.5);
    }
}

/* From black to white: on average a line does, but black is solid. */
static void test_a_black_end_of_a_grey_bar_is_solid(void)
{
    g_auto(DtStrokes) s = bar_in_ink("<stop/><stop offset='1' stop-color='#fff'/>");
    g_assert_cmpfloat(inked(&s, 12), >, 0.9);
    g_assert_cmpfloat(inked(&s, 25), >, 0.9);
    g_assert_cmpfloat(inked(&s, 70), <, 0.5);
    g_assert_cmpfloat(inked(&s, 85), <, 0.5);
}

/* Greys that one ink suits about equally well: one piece, that ends nowhere but at the bar's ends. */
static void test_a_bar_of_similar_greys_is_one_piece(void)
{
    g_auto(DtStrokes) s =
        bar_in_ink("<stop stop-color='#999'/><stop offset='1' stop-color='#bbb'/>");
    for (double x = 12; x < 88; x += 0.5)
        g_assert_cmpfloat_with_epsilon(inked(&s, x), TIP, 0.05);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/narrow-tones/light-end", test_a_light_end_of_a_dark_bar_stays_light);
    g_test_add_func("/ink/narrow-tones/black-end", test_a_black_end_of_a_grey_bar_is_solid);
    g_test_add_func("/ink/narrow-tones/similar", test_a_bar_of_similar_greys_is_one_piece);
    return g_test_run();
}
