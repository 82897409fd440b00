/* ink: which paints the report gives as one, against all pairs of them. */
#include "shapes-in-ink.h"

#include <math.h>

/* Paints that differ by no more than this (CIEDE2000) are reported as one. */
#define ALIKE 2.3

static DtPen pens[] = {
    {.name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"green", .colour = {0.2, 0.5, 0.2, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"red", .colour = {0.8, 0.1, 0.1, 1}, .tip = 0.4, .dot_gain = 1}};
static const DtRack rack = {pens, G_N_ELEMENTS(pens)};

/* A colour within `most` steps of eight bits of another one. */
static int near_to(int rgb, int most)
{
    int c = 0;
    for (int shift = 0; shift < 24; shift += 8) {
        const int part = (rgb >> shift & 255) + g_test_rand_int_range(-most, most + 1);
        c |= CLAMP(part, 0, 255) << shift;
    }
    return c;
}

static gboolean is_listed(const DtInkReport *r, DtColour c)
{
    for (size_t i = 0; i < r->n; i++)
        if (dt_ink_colour_distance(r->matches[i].colour, c) <= ALIKE)
            return TRUE;
    return FALSE;
}

/* Strong, dull and grey paints, each beside others that hardly differ from it: no two of a pen that
 * look alike are listed, and each paint is, by itself or by one that looks like it. */
static void test_paints_that_look_alike_are_one(void)
{
    enum { PAINTS = 600, BESIDE = 4 };
    g_auto(DtStrokes) ink;
    DtInkReport report;
    g_autoptr(GString) shapes = g_string_new(NULL);
    int colours[PAINTS];
    for (int i = 0; i < PAINTS; i++) {
        const int any = g_test_rand_int_range(0, 0x1000000), grey = g_test_rand_int_range(0, 230);
        colours[i] = i % BESIDE   ? near_to(colours[i - i % BESIDE], 6)
                     : i % 3 == 0 ? near_to(grey * 0x10101, 12)
                                  : any;
        g_string_append_printf(shapes,
                               "<path d='M%d %dh1.5' stroke='#%06x' stroke-width='0.4' "
                               "fill='none'/>",
                               2 + i % 24 * 4, 2 + i / 24 * 3, (unsigned)colours[i]);
    }
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    ink = shapes_in_ink(shapes->str, &rack, &o, &report);
    g_assert_cmpuint(report.n, >, PAINTS / BESIDE / 2);
    for (size_t i = 0; i < report.n; i++)
        for (size_t k = i + 1; k < report.n; k++)
            if (report.matches[i].pen == report.matches[k].pen &&
                report.matches[i].across == report.matches[k].across)
                g_assert_cmpfloat(
                    dt_ink_colour_distance(report.matches[i].colour, report.matches[k].colour), >,
                    ALIKE);
    for (int i = 0; i < PAINTS; i++) {
        const DtColour c = {(colours[i] >> 16) / 255.0, (colours[i] >> 8 & 255) / 255.0,
                            (colours[i] & 255) / 255.0, 1};
        g_assert_true(is_listed(&report, c));
    }
    dt_ink_report_clear(&report);
}

/* Lines of a few styles in turns are as many of each as if each style came by itself. Some of the paints
 * share a place among those that are remembered. */
static void test_styles_in_turns(void)
{
    static const char *const styles[] = {"stroke='#101010' stroke-width='0.3'",
                                         "stroke='#d01010' stroke-width='0.3'",
                                         "stroke='#109010' stroke-width='0.3'",
                                         "stroke='#d01010' stroke-opacity='0.2' stroke-width='0.3'",
                                         "stroke='#fefefe' stroke-width='0.3'",
                                         "stroke='#888' stroke-width='0.2'"};
    enum { STYLES = G_N_ELEMENTS(styles), EACH = 5 };
    double mm[2][3] = {{0}};
    for (int turns = 0; turns < 2; turns++) {
        g_autoptr(GString) shapes = g_string_new(NULL);
        DtInkReport report;
        for (int i = 0; i < STYLES * EACH; i++)
            g_string_append_printf(shapes, "<path d='M%d %dh3' %s fill='none'/>", 5 + i % 6 * 14,
                                   5 + i / 6 * 9, styles[turns ? i % STYLES : i / EACH]);
        DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
        g_auto(DtStrokes) ink = shapes_in_ink(shapes->str, &rack, &o, &report);
        for (size_t i = 0; i < ink.n; i++)
            mm[turns][ink.strokes[i].pen] += dt_strokes_length(&ink, i);
        dt_ink_report_clear(&report);
    }
    for (int pen = 0; pen < 3; pen++) {
        g_assert_cmpfloat_with_epsilon(mm[0][pen], mm[1][pen], 1e-6);
        g_assert_cmpfloat(mm[0][pen], >=, 3 * EACH - 1e-6);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/matches/alike", test_paints_that_look_alike_are_one);
    g_test_add_func("/ink/matches/styles-in-turns", test_styles_in_turns);
    return g_test_run();
}
