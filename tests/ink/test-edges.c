/* ink: lines along the edges of open hatches. */
#include "ink/look/chains.h"
#include "shapes-in-ink.h"

#include <math.h>

static DtPen pens[1] = {
    {.name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = 0.4, .dot_gain = 1}};
static const DtRack rack = {pens, 1};

/* Lines ---------------------------------------------------------------------------------------- */

/* The edges of random rings and open lines, cut into stretches, turned and shuffled at random, become the same lines
 * again, though not from the same start. */
static void test_stretches_become_long_lines(void)
{
    for (int round = 0; round < 200; round++) {
        g_auto(DtLines) l, all;
        dt_lines_init(&l);
        dt_lines_init(&all);
        const int n = g_test_rand_int_range(1, 5);
        int rings = 0;
        for (int i = 0; i < n; i++) {
            const int k = g_test_rand_int_range(1, 8), closed = k > 2 && g_test_rand_bit();
            rings += closed;
            DtPoint p[9];
            for (int j = 0; j <= k; j++)
                p[j] = dt_point(10 * i + j, j % 2 ? 0 : g_test_rand_int_range(1, 5));
            for (int j = 0; j < k + closed; j++) {
                DtPoint s[2] = {p[j], p[(j + 1) % (k + 1)]};
                if (g_test_rand_bit())
                    dt_lines_append(&all, (DtPoint[]){s[1], s[0]}, 2, FALSE);
                else
                    dt_lines_append(&all, s, 2, FALSE);
            }
        }
        g_autofree gboolean *taken = g_new0(gboolean, all.n);
        for (size_t i = 0; i < all.n; i++) {
            size_t k = (size_t)g_test_rand_int_range(0, (int)all.n);
            while (taken[k])
                k = (k + 1) % all.n;
            taken[k] = TRUE;
            dt_lines_append(&l, dt_lines_at(&all, k), 2, FALSE);
        }
        dt_chain_stretches(&l);
        g_assert_cmpuint(l.n, ==, n);
        for (size_t i = 0; i < l.n; i++)
            rings -= l.closed[i] ? 1 : 0;
        g_assert_cmpint(rings, ==, 0);
        g_assert_cmpfloat_with_epsilon(dt_lines_total_length(&l), dt_lines_total_length(&all),
                                       1e-9);
    }
}

/* Three stretches that meet do not become one line. */
static void test_a_fork_ends_lines(void)
{
    g_auto(DtLines) l;
    dt_lines_init(&l);
    const DtPoint at = {5, 5}, ends[] = {{0, 5}, {9, 5}, {5, 0}};
    for (size_t i = 0; i < 3; i++)
        dt_lines_append(&l, (DtPoint[]){at, ends[i]}, 2, FALSE);
    dt_chain_stretches(&l);
    g_assert_cmpuint(l.n, ==, 3);
}

/* Ink ------------------------------------------------------------------------------------------ */

static double ink_mm(const DtStrokes *s)
{
    double mm = 0;
    for (size_t i = 0; i < s->n; i++)
        mm += dt_strokes_length(s, i);
    return mm;
}

/* The share of the places on a circle that ink covers. */
static double inked_on_circle(const DtStrokes *s, DtPoint middle, double radius)
{
    enum { PLACES = 720 };
    int inked = 0;
    for (int i = 0; i < PLACES; i++) {
        const double a = 2 * G_PI * i / PLACES;
        inked += is_within_strokes(
            s, dt_point(middle.x + radius * cos(a), middle.y + radius * sin(a)), pens[0].tip / 2);
    }
    return (double)inked / PLACES;
}

/* The coverage with which black ink has the luminance of a grey: Murray 1936, with the luminance of IEC 61966-2-1. */
static double coverage_of(double grey)
{
    const double ink = pow((0.1 + 0.055) / 1.055, 2.4);
    return (1 - pow((grey + 0.055) / 1.055, 2.4)) / (1 - ink);
}

static DtStrokes ring(double outer, double inner, double grey)
{
    const int level = (int)lround(255 * grey);
    g_autofree char *paint = g_strdup_printf("#%02x%02x%02x", level, level, level);
    g_autofree char *svg = g_strdup_printf(
        "<circle cx='50' cy='50' r='%g' fill='none' stroke='%s' stroke-width='%g'/>",
        (outer + inner) / 2, paint, outer - inner);
    return shapes_in_ink(svg, &rack, &DT_INK_OPTIONS_DEFAULT, NULL);
}

/* The share of a ring about the page's middle that ink covers. */
static double covered_in_ring(const DtStrokes *s, double outer, double inner)
{
    enum { RINGS = 50 };
    double sum = 0, all = 0;
    for (int i = 0; i < RINGS; i++) {
        const double r = inner + (outer - inner) * (i + 0.5) / RINGS;
        sum += r * inked_on_circle(s, dt_point(50, 50), r);
        all += r;
    }
    return sum / all;
}

/* A ring of a light grey that is wide enough has both its edges, and covers what its hatch alone would cover; so has one of
 * a darker grey, which keeps its hatch too. */
static void test_a_light_shape_has_its_edge(void)
{
    static const struct {
        double grey, width;
    } rings[] = {{0.9, 5}, {0.9, 12}, {0.85, 4}, {0.75, 6}};
    for (size_t i = 0; i < G_N_ELEMENTS(rings); i++) {
        const double outer = 40, inner = outer - rings[i].width, half = pens[0].tip / 2;
        g_auto(DtStrokes) s = ring(outer, inner, rings[i].grey);
        const double share = covered_in_ring(&s, outer, inner),
                     edges = MIN(inked_on_circle(&s, dt_point(50, 50), outer - half),
                                 inked_on_circle(&s, dt_point(50, 50), inner + half));
        g_test_message("grey %g, %g mm: %.3f covered of %.3f, edges %.3f, %zu strokes",
                       rings[i].grey, rings[i].width, share, coverage_of(rings[i].grey), edges,
                       s.n);
        g_assert_cmpfloat(edges, >, 0.999);
        g_assert_cmpfloat_with_epsilon(share, coverage_of(rings[i].grey), 0.06);
    }
}

/* The hatch of a wide shape is as dark as the paint: the line along its edge does not make it lighter. That of a narrow
 * one is thinned. */
static void test_a_wide_shape_is_as_dark_as_its_paint(void)
{
    static const struct {
        double grey, width;
        gboolean thinned;
    } rings[] = {{0.75, 5, TRUE}, {0.75, 24, FALSE}, {0.5, 24, FALSE}};
    for (size_t i = 0; i < G_N_ELEMENTS(rings); i++) {
        const double outer = 40, inner = outer - rings[i].width,
                     wanted = coverage_of(rings[i].grey);
        g_auto(DtStrokes) s = ring(outer, inner, rings[i].grey);
        const double share = covered_in_ring(&s, outer - 1, inner + 1);
        g_test_message("grey %g, %g mm: %.3f covered of %.3f", rings[i].grey, rings[i].width, share,
                       wanted);
        if (rings[i].thinned)
            g_assert_cmpfloat(share, <, wanted - 0.04);
        else
            g_assert_cmpfloat_with_epsilon(share, wanted, 0.015);
    }
}

/* A pale colour whose few lines are hardly darker than the paper has its edge too, and nothing else shows it. */
static void test_a_pale_shape_has_its_edge(void)
{
    g_auto(DtStrokes) s = shapes_in_ink(
        "<circle cx='50' cy='50' r='29' fill='none' stroke='#e0f4ff' stroke-width='22'/>", &rack,
        &DT_INK_OPTIONS_DEFAULT, NULL);
    const double half = pens[0].tip / 2;
    g_assert_cmpfloat(inked_on_circle(&s, dt_point(50, 50), 40 - half), >, 0.999);
    g_assert_cmpfloat(inked_on_circle(&s, dt_point(50, 50), 18 + half), >, 0.999);
}

/* A closed line with `n` points around the middle of the page, at a distance of `mean` +- `by` mm, `waves` times. */
static char *wavy(double mean, double by, int waves, int n, const char *paint)
{
    GString *d = g_string_new("<path d='M");
    for (int i = 0; i < n; i++) {
        const double a = 2 * G_PI * i / n, r = mean + by * cos(waves * a);
        g_string_append_printf(d, "%s%.3f %.3f", i ? "L" : "", 50 + r * cos(a), 50 + r * sin(a));
    }
    g_string_append_printf(d, "Z' fill='%s'/>", paint);
    return g_string_free(d, FALSE);
}

static unsigned long_rings(const DtStrokes *s)
{
    unsigned n = 0;
    for (size_t i = 0; i < s->n; i++)
        n += s->strokes[i].closed && dt_strokes_length(s, i) > 150;
    return n;
}

/* The line along a wavy edge has no gaps where the edge turns inward. */
static void test_the_line_along_an_edge_has_no_gaps(void)
{
    g_autofree char *svg = wavy(30, 5, 5, 72, "#aaa");
    for (int edge = 0; edge < 2; edge++) {
        DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
        o.edge = edge > 0;
        g_auto(DtStrokes) s = shapes_in_ink(svg, &rack, &o, NULL);
        g_assert_cmpuint(long_rings(&s), ==, edge);
    }
}

/* Two squares of 30 mm side by side, x from 20 on, with gradients from left to right between greys. */
static DtStrokes gradients(const int *grey)
{
    g_autofree char *svg = g_strdup_printf(
        "<linearGradient id='a'><stop stop-color='#%02x%02x%02x'/><stop offset='1' "
        "stop-color='#%02x%02x%02x'/></linearGradient><linearGradient id='b'><stop "
        "stop-color='#%02x%02x%02x'/><stop offset='1' stop-color='#%02x%02x%02x'/>"
        "</linearGradient><rect x='20' y='20' width='30' height='30' fill='url(#a)'/>"
        "<rect x='50' y='20' width='30' height='30' fill='url(#b)'/>",
        grey[0], grey[0], grey[0], grey[1], grey[1], grey[1], grey[2], grey[2], grey[2], grey[3],
        grey[3], grey[3]);
    return shapes_in_ink(svg, &rack, &DT_INK_OPTIONS_DEFAULT, NULL);
}

/* A gradient has a line along its edge toward what is lighter, where it is not nearly white, in the ink that its tones
 * take. Where two meet there is one only if they differ by much. */
static void test_a_gradient_has_its_edge(void)
{
    static const struct {
        int grey[4];
        gboolean left, seam_left, seam_right, right; /* lines half a tip inside */
    } cases[] = {{{0x90, 0xb0, 0xb0, 0xc0}, TRUE, FALSE, FALSE, TRUE},
                 {{0xff, 0x80, 0x80, 0x90}, FALSE, FALSE, FALSE, TRUE},
                 {{0xd0, 0xd8, 0x70, 0x80}, TRUE, FALSE, TRUE, TRUE},
                 {{0x70, 0x80, 0xd0, 0xff}, TRUE, TRUE, FALSE, FALSE}};
    const double half = pens[0].tip / 2;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        const int *grey = cases[i].grey;
        double wanted = 0;
        for (int k = 0; k < 1000; k++) {
            const double x = (k + 0.5) / 1000;
            wanted += coverage_of((grey[0] + x * (grey[1] - grey[0])) / 255) / 2000 +
                      coverage_of((grey[2] + x * (grey[3] - grey[2])) / 255) / 2000;
        }
        g_auto(DtStrokes) s = gradients(grey);
        const double at[] = {20 + half, 50 - half, 50 + half, 80 - half},
                     share = ink_mm(&s) * pens[0].tip / 1800;
        const gboolean line[] = {cases[i].left, cases[i].seam_left, cases[i].seam_right,
                                 cases[i].right};
        for (int k = 0; k < 4; k++) {
            const double inked = inked_between(&s, dt_point(at[k], 21), dt_point(at[k], 49), half);
            g_test_message("case %zu, edge %d: %.3f inked", i, k, inked);
            if (line[k])
                g_assert_cmpfloat(inked, >, 0.99);
            else
                g_assert_cmpfloat(inked, <, 0.97);
        }
        g_test_message("%.3f covered of %.3f", share, wanted);
        g_assert_cmpfloat_with_epsilon(share, wanted, 0.05);
    }
}

/* The share of the places in a box, or in a circle within it, that ink covers. */
static double covered_in(const DtStrokes *s, DtBox b, gboolean circle)
{
    enum { SIDE = 60 };
    const DtPoint middle = {(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2};
    int n = 0, inked = 0;
    for (int i = 0; i < SIDE * SIDE; i++) {
        const DtPoint p = {b.x0 + dt_box_width(b) * (i % SIDE + 0.5) / SIDE,
                           b.y0 + dt_box_height(b) * (i / SIDE + 0.5) / SIDE};
        if (circle && dt_point_distance(p, middle) > dt_box_width(b) / 2)
            continue;
        n++;
        inked += is_within_strokes(s, p, pens[0].tip / 2);
    }
    return (double)inked / n;
}

enum { DISCS = 9 };

static DtBox disc_box(int i)
{
    return (DtBox){6 + 10 * i, 20, 12 + 10 * i, 26};
}

/* Discs of 6 mm and a large field below them, as one path. */
static DtStrokes discs_and_field(const char *defs, const char *paint)
{
    g_autoptr(GString) svg = g_string_new(defs);
    g_string_append(svg, "<path d='M5 40H95V95H5Z");
    for (int i = 0; i < DISCS; i++) {
        const DtBox b = disc_box(i);
        g_string_append_printf(svg, "M%g %ga3 3 0 0 1 6 0 3 3 0 0 1 -6 0Z", b.x0, b.y0 + 3);
    }
    g_string_append_printf(svg, "' fill='%s'/>", paint);
    return shapes_in_ink(svg->str, &rack, &DT_INK_OPTIONS_DEFAULT, NULL);
}

/* Small shapes, much of whose ink is the line along their edge, are no darker than a large one of the same paint. */
static void test_small_shapes_pay_for_their_edges(void)
{
    static const int greys[] = {0xd8, 0xc8, 0xb8};
    for (size_t i = 0; i < G_N_ELEMENTS(greys); i++) {
        g_autofree char *paint = g_strdup_printf("#%02x%02x%02x", greys[i], greys[i], greys[i]);
        g_auto(DtStrokes) s = discs_and_field("", paint);
        const double wanted = coverage_of(greys[i] / 255.0),
                     field = covered_in(&s, (DtBox){5, 40, 95, 95}, FALSE);
        g_test_message("%s: %.3f wanted, field %.3f", paint, wanted, field);
        g_assert_cmpfloat_with_epsilon(field, wanted, 0.05);
        for (int k = 0; k < DISCS; k++) {
            const double disc = covered_in(&s, disc_box(k), TRUE);
            g_test_message("  disc %.3f", disc);
            g_assert_cmpfloat_with_epsilon(disc, wanted, 0.05);
        }
    }
}

/* So are those of a gradient. */
static void test_small_parts_of_a_gradient_pay_for_their_edges(void)
{
    g_auto(DtStrokes) s = discs_and_field(
        "<linearGradient id='g' gradientUnits='userSpaceOnUse' x1='0' x2='100'><stop "
        "stop-color='#808080'/><stop offset='1' stop-color='#c0c0c0'/></linearGradient>",
        "url(#g)");
    for (int k = 0; k < DISCS; k++) {
        const DtBox b = disc_box(k);
        double wanted = 0;
        for (int i = 0; i < 60; i++)
            wanted += coverage_of((0x80 + 0.01 * (b.x0 + 0.1 * i) * 0x40) / 255) / 60;
        const double disc = covered_in(&s, b, TRUE);
        g_test_message("%.3f wanted, disc %.3f", wanted, disc);
        g_assert_cmpfloat_with_epsilon(disc, wanted, 0.08);
    }
}

/* A field that a line cuts in two has the same hatch on both sides, though the line along the edge is a greater
 * part of the ink of the smaller. */
static void test_a_cut_field_has_one_hatch(void)
{
    g_auto(DtStrokes) s = shapes_in_ink("<rect x='5' y='10' width='90' height='70' fill='#d0d0d0'/>"
                                        "<path d='M5 72H95' stroke='#000' stroke-width='0.8'/>",
                                        &rack, &DT_INK_OPTIONS_DEFAULT, NULL);
    const double large = covered_in(&s, (DtBox){10, 15, 90, 65}, FALSE),
                 small = covered_in(&s, (DtBox){10, 73.5, 90, 78.5}, FALSE);
    g_test_message("inside: large %.3f, small %.3f", large, small);
    g_assert_cmpfloat_with_epsilon(large, small, 0.015);
}

/* Pale lines over a pale field, each of a width of its own and as light as the field, are drawn along their middle where
 * they are thin; the wider ones are bare between lines along the edges of the field. None has all three. */
static void test_a_pale_line_is_one_line_or_two(void)
{
    static const double widths[] = {0.2, 0.3, 0.4, 0.6, 0.9, 1.1};
    g_autoptr(GString) svg =
        g_string_new("<rect x='5' y='5' width='90' height='90' fill='#cfe8ff'/>");
    DtInkReport r;
    for (size_t i = 0; i < G_N_ELEMENTS(widths); i++)
        g_string_append_printf(svg, "<path d='M%zu 10V90' stroke='#e8e8e8' stroke-width='%g'/>",
                               15 + 10 * i, widths[i]);
    g_auto(DtStrokes) s = shapes_in_ink(svg->str, &rack, &DT_INK_OPTIONS_DEFAULT, &r);
    for (size_t i = 0; i < G_N_ELEMENTS(widths); i++) {
        const double x = 15 + 10 * (double)i, half = pens[0].tip / 2, beside = widths[i] / 2 + half;
        double inked[3];
        for (int k = 0; k < 3; k++) {
            const double at = x + (k - 1) * beside;
            inked[k] = inked_between(&s, dt_point(at, 11), dt_point(at, 89), half / 2);
        }
        g_test_message("%g mm: %.3f, %.3f, %.3f inked", widths[i], inked[0], inked[1], inked[2]);
        for (int k = 0; k < 3; k++)
            if ((k == 1) == (widths[i] < 0.8))
                g_assert_cmpfloat(inked[k], >, 0.99);
            else
                g_assert_cmpfloat(inked[k], <, 0.5);
    }
    g_assert_cmpfloat(r.unseen_mm, ==, 0);
    dt_ink_report_clear(&r);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/edges/chains", test_stretches_become_long_lines);
    g_test_add_func("/ink/edges/fork", test_a_fork_ends_lines);
    g_test_add_func("/ink/edges/light", test_a_light_shape_has_its_edge);
    g_test_add_func("/ink/edges/wide", test_a_wide_shape_is_as_dark_as_its_paint);
    g_test_add_func("/ink/edges/pale", test_a_pale_shape_has_its_edge);
    g_test_add_func("/ink/edges/gradient", test_a_gradient_has_its_edge);
    g_test_add_func("/ink/edges/small", test_small_shapes_pay_for_their_edges);
    g_test_add_func("/ink/edges/small-gradient",
                    test_small_parts_of_a_gradient_pay_for_their_edges);
    g_test_add_func("/ink/edges/cut", test_a_cut_field_has_one_hatch);
    g_test_add_func("/ink/edges/pale-line", test_a_pale_line_is_one_line_or_two);
    g_test_add_func("/ink/edges/one-line", test_the_line_along_an_edge_has_no_gaps);
    return g_test_run();
}
