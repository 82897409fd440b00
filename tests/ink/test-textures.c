/* ink: areas of many parts that are narrower than the pen are drawn as their mean colours, and told; lines, details and
 * what shows shapes stay. */
#include "ink/look/distances.h"
#include "shapes-in-ink.h"

#include "drawtrue/base.h"

#include <math.h>
#include <string.h>

#define TIP 0.4

static DtPen pens[1] = {
    {.name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = TIP, .dot_gain = 1}};

static DtStrokes ink_of(const char *shapes, const DtInkOptions *o, DtInkReport *report)
{
    const DtRack rack = {pens, 1};
    return shapes_in_ink(shapes, &rack, o, report);
}

static double length_of(const DtStrokes *s)
{
    double sum = 0;
    for (size_t i = 0; i < s->n; i++)
        sum += dt_strokes_length(s, i);
    return sum;
}

/* Upright slivers from (20, 20), as one fill. */
static char *slivers(double across, double height, double width, double pitch)
{
    GString *d = g_string_new("<path d='");
    for (double x = 0; x + width <= across; x += pitch)
        g_string_append_printf(d, "M%.4f 20h%.4fv%.3fh%.4fz", 20 + x, width, height, -width);
    g_string_append(d, "'/>");
    return g_string_free(d, FALSE);
}

static gboolean is_noted(const DtInkReport *r, const char *text)
{
    for (size_t i = 0;; i++) {
        g_autofree char *note = dt_ink_report_note(r, i);
        if (!note)
            return FALSE;
        if (strstr(note, text))
            return TRUE;
    }
}

/* As much is covered as in the artwork (Murray 1936, after Davies: the mean light decides), not all. */
static void test_slivers_cover_as_much_as_in_the_artwork(void)
{
    static const double widths[] = {0.04, 0.08, 0.14}, pitches[] = {0.2, 0.3, 0.37};
    for (int i = 0; i < 9; i++) {
        const double width = widths[i % 3], pitch = pitches[i / 3], art = 900 * width / pitch;
        g_autofree char *shape = slivers(30, 30, width, pitch);
        DtInkReport r;
        g_auto(DtStrokes) s = ink_of(shape, &DT_INK_OPTIONS_DEFAULT, &r);
        const double ink = length_of(&s) * TIP;
        g_test_message("%.2f at %.2f mm: ink %.0f mm^2 of %.0f", width, pitch, ink, art);
        g_assert_cmpfloat(ink, >, 0.7 * art);
        g_assert_cmpfloat(ink, <, 1.3 * art);
        g_assert_cmpfloat(fabs(r.texture_mm2 - 900), <, 45);
        g_autofree char *number = g_strdup_printf("%.0f mm² are textures", r.texture_mm2);
        g_assert_true(is_noted(&r, number));
        dt_ink_report_clear(&r);
    }
}

/* Half of the paper, in strips one over the other. */
static void test_strips_of_two_colours_are_their_mean(void)
{
    GString *d = g_string_new(NULL);
    for (int i = 0; i < 300; i++)
        g_string_append_printf(d, "<rect x='20' y='%.2f' width='30' height='0.1' fill='#%s'/>",
                               20 + 0.1 * i, i % 2 ? "000" : "fff");
    g_autofree char *shapes = g_string_free(d, FALSE);
    DtInkReport r;
    g_auto(DtStrokes) s = ink_of(shapes, &DT_INK_OPTIONS_DEFAULT, &r);
    const double share = length_of(&s) * TIP / 900;
    g_test_message("%.2f are covered", share);
    g_assert_cmpfloat(fabs(share - 0.5), <, 0.1);
    g_assert_cmpfloat(fabs(r.texture_mm2 - 900), <, 45);
    dt_ink_report_clear(&r);
}

static void has_no_texture(const char *shapes, const DtInkOptions *o)
{
    DtInkReport r;
    g_auto(DtStrokes) s = ink_of(shapes, o, &r);
    g_assert_cmpfloat(r.texture_mm2, ==, 0);
    g_assert_false(is_noted(&r, "textures"));
    g_assert_cmpuint(s.n, >, 0);
    dt_ink_report_clear(&r);
}

/* Less than ten tips wide, at a pitch that the pen can draw, or no finer than the pen. */
static void test_lines_and_details_stay(void)
{
    g_autofree char *small = slivers(3.4, 30, 0.08, 0.25);
    g_autofree char *free = slivers(30, 30, 0.08, 0.9);
    g_autofree char *wide = slivers(30, 30, 0.38, 0.76);
    has_no_texture(small, &DT_INK_OPTIONS_DEFAULT);
    has_no_texture(free, &DT_INK_OPTIONS_DEFAULT);
    has_no_texture(wide, &DT_INK_OPTIONS_DEFAULT);
}

/* Dense fills, and what the user gave a pen. */
static void test_what_the_user_asked_for_stays(void)
{
    g_autofree char *shape = slivers(30, 30, 0.08, 0.25);
    DtInkOptions solid = DT_INK_OPTIONS_DEFAULT, asked = DT_INK_OPTIONS_DEFAULT;
    solid.solid = TRUE;
    asked.rules[0] = (DtInkColourRule){{0, 0, 0, 1}, 0};
    asked.n_rules = 1;
    has_no_texture(shape, &solid);
    has_no_texture(shape, &asked);
}

/* Squares of 4 mm of which every other one is almost bare: a drawing of squares, of which the lines are drawn. */
static void test_what_shows_shapes_stays(void)
{
    GString *d = g_string_new("<path d='");
    for (int row = 0; row < 8; row++)
        for (int i = 0; i < 150; i++)
            g_string_append_printf(d, "M%.3f %.3fv4h%.3fv-4z", 20 + i * 0.2, 20.0 + 4 * row,
                                   (i / 20 + row) % 2 ? 0.17 : 0.02);
    g_string_append(d, "'/>");
    g_autofree char *shape = g_string_free(d, FALSE);
    has_no_texture(shape, &DT_INK_OPTIONS_DEFAULT);
}

/* A bar as wide as three tips in a texture is itself. */
static void test_a_bar_in_a_texture_stays(void)
{
    g_autofree char *fine = slivers(30, 30, 0.06, 0.25);
    g_autofree char *shapes =
        g_strdup_printf("%s<rect x='24' y='34' width='22' height='1.2' fill='#000'/>", fine);
    DtInkReport r;
    g_auto(DtStrokes) s = ink_of(shapes, &DT_INK_OPTIONS_DEFAULT, &r);
    g_assert_cmpfloat(fabs(r.texture_mm2 - (900 - 22 * 1.2)), <, 45);
    double along = 0; /* ink on its middle line: an end or a side of every stroke is elsewhere */
    for (size_t i = 0; i < s.n; i++) {
        const DtPoint *p = s.pts + s.strokes[i].first;
        for (size_t k = 0; k + 1 < s.strokes[i].n; k++)
            if (fabs(p[k].y - p[k + 1].y) < 0.01 && fabs(p[k + 1].x - p[k].x) > 15)
                along += fabs(p[k + 1].x - p[k].x);
    }
    g_test_message("%.0f mm along the bar", along);
    g_assert_cmpfloat(along, >, 2 * 20);
    dt_ink_report_clear(&r);
}

/* Against all distances, one by one. */
static void test_distances_are_within_two_percent(void)
{
    enum { W = 70, H = 50 };
    g_autofree uint8_t *mask = g_new0(uint8_t, W * H);
    g_autofree uint16_t *d = g_new(uint16_t, W * H);
    for (int i = 0; i < 5; i++)
        mask[g_test_rand_int_range(0, W * H)] = 1;
    dt_distance_from(mask, W, H, d);
    for (int i = 0; i < W * H; i++) {
        double least = G_MAXDOUBLE;
        for (int k = 0; k < W * H; k++)
            if (mask[k])
                least = MIN(least, hypot(i % W - k % W, i / W - k / W));
        g_assert_cmpfloat(fabs((double)d[i] / DT_DISTANCE_ONE - least), <=, 0.0203 * least + 1e-9);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/textures/share", test_slivers_cover_as_much_as_in_the_artwork);
    g_test_add_func("/ink/textures/strips", test_strips_of_two_colours_are_their_mean);
    g_test_add_func("/ink/textures/details", test_lines_and_details_stay);
    g_test_add_func("/ink/textures/asked", test_what_the_user_asked_for_stays);
    g_test_add_func("/ink/textures/shapes", test_what_shows_shapes_stays);
    g_test_add_func("/ink/textures/bar", test_a_bar_in_a_texture_stays);
    g_test_add_func("/ink/textures/distance", test_distances_are_within_two_percent);
    return g_test_run();
}
