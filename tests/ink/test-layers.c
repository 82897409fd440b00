/* ink: translucent paints over one another and over what lies beneath. */
#include "ink/paint/layers.h"
#include "shapes-in-ink.h"

#include "drawtrue/base.h"

#include <math.h>
#include <string.h>

/* A picture of two by two grey pixels. */
#define PIXELS                                                                                     \
    "iVBORw0KGgoAAAANSUhEUgAAAAIAAAACCAAAAABX3VL4AAAA"                                             \
    "DklEQVR4nGNgSGBY8B8AA8UCAKEFgZcAAAAASUVORK5CYII="

static DtStrokes ink_of(const char *shapes, gboolean tone, DtInkReport *report)
{
    DtPen pens[2] = {{.name = (char *)"black",
                      .colour = {0, 0, 0, 1},
                      .tip = 0.4,
                      .classes = (char *)"ink",
                      .dot_gain = 1},
                     {.name = (char *)"red",
                      .colour = {1, 0, 0, 1},
                      .tip = 0.4,
                      .classes = (char *)"seal",
                      .dot_gain = 1}};
    DtRack rack = {pens, 2};
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    o.tone = tone;
    o.solid = TRUE;
    return shapes_in_ink(shapes, &rack, &o, report);
}

static DtBox box_of_pen(const DtStrokes *s, unsigned pen)
{
    DtBox b = DT_BOX_EMPTY;
    for (size_t i = 0; i < s->n; i++)
        for (size_t k = 0; k < s->strokes[i].n && s->strokes[i].pen == pen; k++)
            b = dt_box_add_point(b, s->pts[s->strokes[i].first + k]);
    return b;
}

static void assert_box(DtBox b, double x0, double y0, double x1, double y1)
{
    g_assert_cmpfloat_with_epsilon(b.x0, x0, 0.01);
    g_assert_cmpfloat_with_epsilon(b.y0, y0, 0.01);
    g_assert_cmpfloat_with_epsilon(b.x1, x1, 0.01);
    g_assert_cmpfloat_with_epsilon(b.y1, y1, 0.01);
}

/* What hides just half is inked, what hides a little less is not: areas and lines, by colour or for a pen that was
 * asked for, by an opacity of their own or of their group. */
static void test_half_is_enough(void)
{
    static const char *const shapes[] = {
        "<g %s='%s'><rect x='10' y='10' width='20' height='20'/></g>",
        "<g %s='%s'><rect class='seal' x='10' y='10' width='20' height='20'/></g>",
        "<g %s='%s'><path d='M10 10L30 30' fill='none' stroke='#000' stroke-width='0.3'/></g>",
        "<g %s='%s'><path class='seal' d='M10 10L30 30' fill='none' stroke='#000' "
        "stroke-width='0.3'/></g>",
        "<g %s='%s'><path class='seal' d='M10 10L30 30' fill='none' stroke='#000' "
        "stroke-width='3'/></g>"};
    for (size_t i = 0; i < G_N_ELEMENTS(shapes); i++)
        for (int half = 0; half < 2; half++)
            for (int group = 0; group < 2; group++) {
                g_auto(GStrv) parts = g_strsplit(shapes[i], "%s", 3);
                const char *own = i < 2 ? "fill-opacity" : "stroke-opacity";
                g_autofree char *svg = g_strconcat(parts[0], group ? "opacity" : own, parts[1],
                                                   half ? "0.5" : "0.49", parts[2], NULL);
                g_auto(DtStrokes) s = ink_of(svg, FALSE, NULL);
                g_assert_cmpint(s.n > 0, ==, half);
            }
}

/* 1 - 0.6 * 0.6 is more than half. */
static void test_two_faint_layers_are_inked_where_they_overlap(void)
{
    g_auto(DtStrokes) s =
        ink_of("<g fill-opacity='0.4'><rect x='10' y='10' width='40' height='30'/>"
               "<rect x='30' y='20' width='40' height='30'/></g>",
               FALSE, NULL);
    assert_box(box_of_pen(&s, 0), 30.2, 20.2, 49.8, 39.8);
}

static void test_a_group_of_one_opacity_is_no_darker_where_its_shapes_overlap(void)
{
    g_auto(DtStrokes) s = ink_of("<g opacity='0.4'><rect x='10' y='10' width='40' height='30'/>"
                                 "<rect x='30' y='20' width='40' height='30'/></g>",
                                 FALSE, NULL);
    g_assert_cmpuint(s.n, ==, 0);
}

static void test_a_group_of_one_opacity_mixes_with_what_lies_beneath(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='50' height='50' opacity='0.4'/>"
                                 "<g opacity='0.4'><rect x='20' y='20' width='10' height='10'/>"
                                 "<rect x='25' y='20' width='60' height='10'/></g>",
                                 FALSE, NULL);
    assert_box(box_of_pen(&s, 0), 20.2, 20.2, 59.8, 29.8);
}

static void test_shade_over_a_colour_turns_to_the_nearer_pen(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='60' height='20' fill='red'/>"
                                 "<rect x='40' y='10' width='50' height='20' fill-opacity='0.9'/>",
                                 FALSE, NULL);
    assert_box(box_of_pen(&s, 1), 10.2, 10.2, 39.8, 29.8);
    assert_box(box_of_pen(&s, 0), 40.2, 10.2, 89.8, 29.8);
}

static void test_haze_of_the_paper_leaves_what_it_lies_on(void)
{
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='60' height='20'/>"
                                 "<rect x='40' y='5' width='50' height='40' fill='white' "
                                 "fill-opacity='0.3'/>",
                                 FALSE, NULL);
    assert_box(box_of_pen(&s, 0), 10.2, 10.2, 69.8, 29.8);
}

/* One area: nothing marks where the translucent layer begins. */
static void test_layers_of_one_pen_are_one_area(void)
{
    g_auto(DtStrokes) one = ink_of("<rect x='10' y='10' width='60' height='20'/>", FALSE, NULL);
    g_auto(DtStrokes) two = ink_of("<rect x='10' y='10' width='60' height='20'/>"
                                   "<rect x='40' y='10' width='30' height='20' fill='white' "
                                   "fill-opacity='0.3'/>",
                                   FALSE, NULL);
    g_assert_cmpuint(one.n, ==, two.n);
    g_assert_cmpuint(one.n_pts, ==, two.n_pts);
}

static void test_an_asked_pen_shows_through_faint_layers(void)
{
    g_auto(DtStrokes) s =
        ink_of("<rect class='seal' x='10' y='10' width='60' height='20' fill='blue'/>"
               "<rect x='30' y='10' width='20' height='20' fill-opacity='0.4'/>",
               FALSE, NULL);
    assert_box(box_of_pen(&s, 1), 10.2, 10.2, 69.8, 29.8);
    g_assert_true(dt_box_is_empty(box_of_pen(&s, 0)));
}

/* A pen that is asked for draws a paint that covers at least half, as densely as if it covered all, and hides what lies
 * beneath; one that covers less is left out and counted. So too beneath a translucent paint that is elsewhere. */
static void test_an_asked_pen_draws_what_covers_half(void)
{
    static const double opacities[] = {1, 0.99, 0.51, 0.5, 0.49, 0.1};
    static const char *const classes[] = {"ink", "seal"};
    for (unsigned pen = 0; pen < 2; pen++)
        for (int beneath = 0; beneath < 2; beneath++) {
            double dense = 0;
            for (size_t i = 0; i < G_N_ELEMENTS(opacities); i++) {
                DtInkReport r;
                g_autofree char *svg = g_strdup_printf(
                    "<path class='%s' d='M10 15h50' stroke='#000' stroke-width='0.4'/>"
                    "<rect class='%s' x='10' y='10' width='50' height='20' fill='blue' "
                    "fill-opacity='%g'/>%s",
                    classes[1 - pen], classes[pen], opacities[i],
                    beneath ? "<rect x='80' y='80' width='9' height='9' fill-opacity='0.3'/>" : "");
                g_auto(DtStrokes) s = ink_of(svg, FALSE, &r);
                double length[2] = {0};
                for (size_t k = 0; k < s.n; k++)
                    length[s.strokes[k].pen] += dt_strokes_length(&s, k);
                dense = i == 0 ? length[pen] : dense;
                const gboolean drawn = opacities[i] >= 0.5;
                g_assert_cmpuint(r.faint, ==, !drawn + beneath);
                g_assert_cmpfloat_with_epsilon(length[pen], drawn ? dense : 0, 1e-6);
                g_assert_cmpfloat_with_epsilon(length[1 - pen], drawn ? 0 : 50, 1e-6);
                dt_ink_report_clear(&r);
            }
            g_assert_cmpfloat(dense, >, 2000);
        }
}

#define LINE "<path d='M10 20H90' stroke='red' stroke-width='0.4'/>"

static void test_lines_are_hidden_by_layers_together(void)
{
    g_auto(DtStrokes) s =
        ink_of(LINE "<g fill-opacity='0.4'><rect x='30' y='10' width='40' height='20'/>"
                    "<rect x='50' y='10' width='40' height='20'/></g>",
               FALSE, NULL);
    double length = 0;
    for (size_t i = 0; i < s.n; i++)
        if (s.strokes[i].pen == 1)
            length += dt_strokes_length(&s, i);
    g_assert_cmpfloat_with_epsilon(length, 60, 0.01);
}

/* Whichever way the line runs, and through its bends. */
static void test_lines_are_hidden_by_a_fade_where_it_hides_half(void)
{
    static const char *const ways[] = {"M10 20H90", "M90 20H10", "M10 20H30V22H40V20H57.3V20H90",
                                       "M90 20H66V20H10"};
    for (size_t w = 0; w < G_N_ELEMENTS(ways); w++) {
        g_autofree char *svg =
            g_strdup_printf("<defs><linearGradient id='g'><stop offset='0'/>"
                            "<stop offset='1' stop-opacity='0'/></linearGradient></defs>"
                            "<path d='%s' stroke='red' stroke-width='0.4' fill='none'/>"
                            "<rect x='20' y='10' width='60' height='20' fill='url(#g)'/>",
                            ways[w]);
        g_auto(DtStrokes) s = ink_of(svg, FALSE, NULL);
        double length = 0;
        size_t n = 0;
        for (size_t i = 0; i < s.n; i++)
            if (s.strokes[i].pen == 1) {
                const DtPoint *p = s.pts + s.strokes[i].first;
                const double x0 = MIN(p[0].x, p[s.strokes[i].n - 1].x);
                g_assert_true(fabs(x0 - 10) < 0.02 || fabs(x0 - 50) < 0.02 || fabs(x0 - 80) < 0.02);
                length += dt_strokes_length(&s, i);
                n++;
            }
        g_assert_cmpfloat_with_epsilon(length, 10 + 40, 0.02);
        g_assert_cmpuint(n, ==, 3); /* to, under and beyond the fade */
    }
}

/* A fade to 0.6 over a layer of 0.4: half is hidden where 1 - 0.6 (1 - a) = 0.5, a = 1/6. */
static void test_a_fade_adds_to_the_layer_beneath(void)
{
    g_auto(DtStrokes) s =
        ink_of("<defs><linearGradient id='g'><stop offset='0' stop-opacity='0.6'/>"
               "<stop offset='1' stop-opacity='0'/></linearGradient></defs>"
               "<g><rect x='10' y='10' width='80' height='20' fill-opacity='0.4'/>"
               "<rect x='10' y='10' width='80' height='20' fill='url(#g)'/></g>",
               FALSE, NULL);
    assert_box(box_of_pen(&s, 0), 10.2, 10.2, 10 + 80 * (1 - 1 / 3.6) - 0.2, 29.8);
}

static double drawn(const char *shapes)
{
    g_auto(DtStrokes) s = ink_of(shapes, TRUE, NULL);
    double length = 0;
    for (size_t i = 0; i < s.n; i++)
        length += dt_strokes_length(&s, i);
    return length;
}

/* #000 at 0.3 over #000 at 0.2 on white is #000 at 0.44, which is #8f8f8f. */
static void test_tone_of_layers_is_that_of_their_mix(void)
{
    double layers = drawn("<g><rect x='10' y='10' width='60' height='60' fill-opacity='0.2'/>"
                          "<rect x='10' y='10' width='60' height='60' fill-opacity='0.3'/></g>");
    double mixed = drawn("<rect x='10' y='10' width='60' height='60' fill='#8f8f8f'/>");
    g_assert_cmpfloat(mixed, >, 100);
    g_assert_cmpfloat(fabs(layers / mixed - 1), <, 0.03);
}

static void test_report_names_the_mix(void)
{
    DtInkReport r;
    g_auto(DtStrokes) s = ink_of("<rect x='10' y='10' width='60' height='20' fill='#ff0000'/>"
                                 "<rect x='10' y='10' width='60' height='20' fill-opacity='0.4'/>",
                                 FALSE, &r);
    g_assert_cmpuint(r.n, ==, 1);
    g_assert_cmpfloat_with_epsilon(r.matches[0].colour.r, 0.6, 0.001);
    g_assert_cmpfloat_with_epsilon(r.matches[0].area_mm2, 1200, 0.1);
    dt_ink_report_clear(&r);
}

/* Property: however a overlap is put together, the same is seen. */
static void test_overlaps_may_be_laid_in_any_grouping(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    for (int round = 0; round < 200; round++) {
        g_autoptr(DtPaintLayers) c = dt_paint_layers_new();
        DtStackOverlap overlaps = dt_paint_layers_overlap(c);
        enum { N = 8 };
        int label[N];
        for (int i = 0, group = -1; i < N; i++) {
            if (g_rand_int_range(rand, 0, 3) == 0)
                group = g_rand_boolean(rand) ? -1 : i;
            double opacity = group < 0 ? 1 : 0.6;
            DtPaintLayer layer = {{g_rand_double(rand), g_rand_double(rand), g_rand_double(rand),
                                   opacity * (i == N - 1 ? 1 : g_rand_double(rand))},
                                  NULL,
                                  NULL,
                                  FALSE,
                                  -1,
                                  group,
                                  opacity,
                                  -1};
            layer.opaque = layer.colour.alpha >= DT_PAINT_LAYER_OPAQUE;
            label[i] = dt_paint_layers_label(c, &layer);
        }
        DtSeen whole = dt_paint_layers_seen(c, overlaps.overlap(label, N, overlaps.user));
        for (size_t cut = 1; cut < N; cut++) {
            int two[2] = {overlaps.overlap(label, cut, overlaps.user),
                          overlaps.overlap(label + cut, N - cut, overlaps.user)};
            DtSeen halves = dt_paint_layers_seen(c, overlaps.overlap(two, 2, overlaps.user));
            g_assert_cmpfloat(fabs(halves.colour.r - whole.colour.r), <, 0.004);
            g_assert_cmpfloat(fabs(halves.colour.b - whole.colour.b), <, 0.004);
            g_assert_cmpfloat(fabs(halves.colour.alpha - whole.colour.alpha), <, 0.002);
        }
    }
}

/* Thousands of translucent areas that all cross: in bounded time, by whichever rule. */
static void test_a_thicket_of_translucent_areas_is_drawn(void)
{
    GString *text = g_string_new("<g fill-opacity='0.05'>");
    g_autoptr(GRand) rand = g_rand_new_with_seed(6);
    for (int i = 0; i < 400; i++)
        g_string_append_printf(text, "<rect x='%d' y='%d' width='%d' height='%d'/>",
                               g_rand_int_range(rand, 5, 40), g_rand_int_range(rand, 5, 40),
                               g_rand_int_range(rand, 10, 55), g_rand_int_range(rand, 10, 55));
    g_string_append(text, "</g>");
    g_auto(DtStrokes) s = ink_of(text->str, FALSE, NULL);
    g_assert_cmpuint(s.n, >, 0);
    g_string_free(text, TRUE);
}

/* Groups that cannot be mixed into one colour: what is done in place of mixing is said. */
static void test_giving_up_on_mixing_is_noted(void)
{
    GString *text = g_string_new("<rect x='80' y='80' width='15' height='15'/>");
    g_autoptr(GRand) rand = g_rand_new_with_seed(6);
    for (int i = 0; i < 400; i++)
        g_string_append_printf(text,
                               "<g opacity='0.%d'><rect x='%g' y='%g' width='%g' height='%g'/></g>",
                               g_rand_int_range(rand, 1, 5), g_rand_double_range(rand, 2, 30),
                               g_rand_double_range(rand, 2, 30), g_rand_double_range(rand, 5, 60),
                               g_rand_double_range(rand, 5, 60));
    DtInkReport r;
    g_auto(DtStrokes) s = ink_of(text->str, FALSE, &r);
    g_autofree char *note = dt_ink_report_note(&r, 0);
    g_assert_cmpuint(s.n, >, 0);
    g_assert_true(r.judged_alone);
    g_assert_nonnull(note);
    g_assert_nonnull(strstr(note, "cross too often"));
    g_autofree char *faint = dt_ink_report_note(&r, 1);
    g_assert_nonnull(strstr(faint, "hide too little to be drawn"));
    g_autofree char *narrow = dt_ink_report_note(&r, 2);
    g_assert_nonnull(strstr(narrow, "too many narrow parts"));
    g_assert_null(dt_ink_report_note(&r, 3));
    dt_ink_report_clear(&r);
    g_string_free(text, TRUE);
}

/* What is drawn without its tones is said, once for each kind, with its number. */
static void test_dense_gradients_and_pictures_are_noted(void)
{
    const char *shapes =
        "<linearGradient id='g'><stop offset='0' stop-color='#000'/>"
        "<stop offset='1' stop-color='#fff'/></linearGradient>"
        "<rect x='10' y='10' width='30' height='30' fill='url(#g)'/>"
        "<circle cx='70' cy='25' r='15' fill='url(#g)'/>"
        "<image x='10' y='50' width='30' height='30' href='data:image/png;base64," PIXELS "'/>";
    for (int tone = 0; tone < 2; tone++) {
        DtInkReport r;
        g_auto(DtStrokes) s = ink_of(shapes, tone, &r);
        g_assert_cmpuint(r.dense_gradients, ==, tone ? 0 : 2);
        g_assert_cmpuint(r.dense_pictures, ==, tone ? 0 : 1);
        g_assert_false(r.judged_alone);
        g_autofree char *first = dt_ink_report_note(&r, 0), *second = dt_ink_report_note(&r, 1);
        if (tone) {
            g_assert_null(first);
        } else {
            g_assert_cmpstr(first, ==, "2 gradients are drawn in dense ink, without their tones");
            g_assert_cmpstr(second, ==, "1 picture is drawn in dense ink, without its tones");
        }
        g_assert_null(dt_ink_report_note(&r, 2));
        dt_ink_report_clear(&r);
    }
}

/* What limits keep from being looked at is said. */
static void test_limits_are_noted(void)
{
    const DtInkReport r = {.together = 2, .unsearched = TRUE};
    g_autofree char *first = dt_ink_report_note(&r, 0), *second = dt_ink_report_note(&r, 1);
    g_assert_nonnull(strstr(first, "2 paints come in too many parts"));
    g_assert_nonnull(strstr(second, "too much ink to look for thin lines"));
    g_assert_null(dt_ink_report_note(&r, 2));
}

/* Slivers of 0.05 mm are lines as wide as the pen in ink: most of it lies beside them. In a field none does, and little
 * in bars that take two lines. */
static void test_ink_beside_fine_shapes_is_noted(void)
{
    static const double widths[] = {0.05, 0.6, 30};
    for (size_t i = 0; i < G_N_ELEMENTS(widths); i++) {
        GString *path = g_string_new("<path d='");
        for (int k = 0; k < (widths[i] > 1 ? 1 : 20); k++)
            g_string_append_printf(path, "M10 %dh60v%gh-60z", 10 + 3 * k, widths[i]);
        g_string_append(path, "'/>");
        DtInkReport r;
        g_auto(DtStrokes) s = ink_of(path->str, FALSE, &r);
        g_autofree char *note = dt_ink_report_note(&r, 0);
        g_test_message("%g mm wide: %.3f of the ink; %s", widths[i], r.beside, note);
        if (i == 0) {
            g_assert_cmpfloat_with_epsilon(r.beside, 1 - widths[0] / 0.4, 0.02);
            g_assert_nonnull(strstr(note, "lies beside the shapes"));
        } else {
            g_assert_cmpfloat(r.beside, <, 0.4);
            g_assert_null(note);
        }
        dt_ink_report_clear(&r);
        g_string_free(path, TRUE);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
#define ADD(name) g_test_add_func("/ink/layers/" #name, test_##name)
    ADD(half_is_enough);
    ADD(two_faint_layers_are_inked_where_they_overlap);
    ADD(a_group_of_one_opacity_is_no_darker_where_its_shapes_overlap);
    ADD(a_group_of_one_opacity_mixes_with_what_lies_beneath);
    ADD(shade_over_a_colour_turns_to_the_nearer_pen);
    ADD(haze_of_the_paper_leaves_what_it_lies_on);
    ADD(layers_of_one_pen_are_one_area);
    ADD(an_asked_pen_shows_through_faint_layers);
    ADD(an_asked_pen_draws_what_covers_half);
    ADD(lines_are_hidden_by_layers_together);
    ADD(lines_are_hidden_by_a_fade_where_it_hides_half);
    ADD(a_fade_adds_to_the_layer_beneath);
    ADD(tone_of_layers_is_that_of_their_mix);
    ADD(report_names_the_mix);
    ADD(overlaps_may_be_laid_in_any_grouping);
    ADD(a_thicket_of_translucent_areas_is_drawn);
    ADD(giving_up_on_mixing_is_noted);
    ADD(dense_gradients_and_pictures_are_noted);
    ADD(limits_are_noted);
    ADD(ink_beside_fine_shapes_is_noted);
    return g_test_run();
}
