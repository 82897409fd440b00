/* ink: how lines lie to other ink, against a walk along every line in small steps; shares of pens against all others
 * on a grid. */
#include "ink/look/separate.h"
#include "ink/trace.h"

#include "drawtrue/ink.h"

#include <math.h>
#include <string.h>

static DtPen pens[] = {
    {.name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"grey", .colour = {0.6, 0.6, 0.6, 1}, .tip = 0.3, .dot_gain = 1},
    {.name = (char *)"red", .colour = {0.8, 0.1, 0.1, 1}, .tip = 0.7, .dot_gain = 1}};
enum { PENS = 3 };
static const DtRack rack = {pens, PENS};
static const DtColour paper = {1, 1, 1, 1};

/* Lines ---------------------------------------------------------------------------------------- */

#define FINE 0.01 /* mm, the witness's steps */

/* Within a square of `side` mm. */
static void add_random_stroke(DtStrokes *s, double side, DtInkKind kind, int pen, int shape)
{
    DtPoint p[3];
    const size_t n = (size_t)g_test_rand_int_range(2, 4);
    for (size_t i = 0; i < n; i++) /* to both sides of zero */
        p[i] = dt_point(g_test_rand_double_range(-side / 2, side / 2),
                        g_test_rand_double_range(-side / 2, side / 2));
    dt_strokes_append(s, p, n, n == 3 && g_test_rand_bit(), kind, (unsigned)pen, shape);
}

static double distance_to(const DtStrokes *all, size_t i, DtPoint at)
{
    const DtStroke *s = &all->strokes[i];
    double least = G_MAXDOUBLE;
    for (size_t k = 0; k + !s->closed < s->n; k++) {
        const DtPoint a = all->pts[s->first + k], b = all->pts[s->first + (k + 1) % s->n];
        const double dx = b.x - a.x, dy = b.y - a.y;
        const double t = CLAMP(((at.x - a.x) * dx + (at.y - a.y) * dy) / (dx * dx + dy * dy), 0, 1);
        least = MIN(least, hypot(a.x + t * dx - at.x, a.y + t * dy - at.y));
    }
    return least;
}

/* Whether ink of a stroke touches a line of stroke `own` at a place. */
typedef gboolean (*Touches)(const DtStrokes *all, size_t own, size_t other, DtPoint at);

/* The length of a line that some other stroke from `first` on touches; adds to *ends how often that begins or ends. */
static double touched(const DtStrokes *all, size_t first, size_t own, Touches touches,
                      unsigned *ends)
{
    const DtStroke *s = &all->strokes[own];
    double sum = 0;
    gboolean before = FALSE;
    for (size_t k = 0; k + !s->closed < s->n; k++) {
        const DtPoint a = all->pts[s->first + k], b = all->pts[s->first + (k + 1) % s->n];
        const int n = (int)ceil(hypot(b.x - a.x, b.y - a.y) / FINE);
        for (int j = 0; j < n; j++) {
            const double t = (j + 0.5) / n;
            const DtPoint at = {a.x + t * (b.x - a.x), a.y + t * (b.y - a.y)};
            gboolean any = FALSE;
            for (size_t i = first; i < all->n && !any; i++)
                any = touches(all, own, i, at);
            *ends += any != before;
            before = any;
            sum += any ? hypot(b.x - a.x, b.y - a.y) / n : 0;
        }
    }
    return sum;
}

/* The ink of a field's darker pen; black is darker than red, and red than grey. */
static gboolean hides(const DtStrokes *all, size_t own, size_t other, DtPoint at)
{
    static const int rank[PENS] = {0, 2, 1};
    const DtStroke *o = &all->strokes[other];
    return o->kind == DT_INK_FILL && rank[o->pen] < rank[all->strokes[own].pen] &&
           distance_to(all, other, at) < pens[o->pen].tip / 2;
}

static void test_what_fields_cover_of_lines_is_measured(void)
{
    const DtInkOptions options = DT_INK_OPTIONS_DEFAULT;
    double sum = 0;
    unsigned all_ends = 0;
    for (int round = 0; round < 60; round++) {
        g_auto(DtStrokes) s;
        dt_strokes_init(&s);
        const int n = g_test_rand_int_range(3, 40);
        for (int i = 0; i < n; i++)
            add_random_stroke(&s, 16,
                              (DtInkKind)g_test_rand_int_range(DT_INK_OUTLINE, DT_INK_DOT + 1),
                              g_test_rand_int_range(0, PENS), -1);
        const DtTrace t = {
            .rack = &rack, .o = &options, .out = &s, .first = (size_t)g_test_rand_int_range(0, 2)};
        double expected = 0;
        unsigned ends = 0;
        for (size_t i = t.first; i < s.n; i++)
            if (s.strokes[i].kind == DT_INK_OUTLINE)
                expected += touched(&s, t.first, i, hides, &ends);
        /* Each end is off by up to half a step of 0.2 mm, 0.06 on average. */
        g_assert_cmpfloat_with_epsilon(dt_look_lost_mm(&t), expected, 0.01 + 0.3 * sqrt(ends));
        sum += dt_look_lost_mm(&t) - expected;
        all_ends += ends;
    }
    g_test_message("%.2f mm off in all, %u ends", sum, all_ends);
    g_assert_cmpuint(all_ends, >, 200);
    g_assert_cmpfloat(fabs(sum), <, 0.3 * sqrt(all_ends));
}

/* A line is free where other ink is three quarters of its own tip from its edge, or farther. */
static gboolean is_near(const DtStrokes *all, size_t own, size_t other, DtPoint at)
{
    const double tip = pens[all->strokes[own].pen].tip;
    return own != other && distance_to(all, other, at) <
                               tip / 2 + 0.75 * tip + pens[all->strokes[other].pen].tip / 2;
}

static DtDrawing *thin_lines(int n)
{
    static const char *colours[] = {"#222", "#555", "#777", "#a33"};
    g_autoptr(GString) svg = g_string_new("<svg xmlns='http://www.w3.org/2000/svg' width='100mm' "
                                          "height='100mm' viewBox='0 0 100 100'>");
    for (int i = 0; i < n; i++)
        g_string_append_printf(svg, "<path d='M%d 0V9' fill='none' stroke='%s' stroke-width='%g'/>",
                               i, colours[g_test_rand_int_range(0, 4)],
                               0.05 * g_test_rand_int_range(1, 10));
    g_string_append(svg, "</svg>");
    g_autoptr(GError) error = NULL;
    DtDrawing *d =
        dt_art_read_data(svg->str, svg->len, "thin.svg", &DT_ART_OPTIONS_DEFAULT, &error);
    g_assert_no_error(error);
    g_assert_cmpuint(d->n_shapes, ==, n);
    return d;
}

static double painted_mm2(const DtTrace *t, size_t i)
{
    const DtStroke *s = &t->out->strokes[i];
    return s->shape < 0 ? 0
                        : dt_strokes_length(t->out, i) *
                              dt_art_stroke_width_mm(&t->d->shapes[s->shape].stroke);
}

static void record(DtTrace *t, size_t i)
{
    const DtStroke *s = &t->out->strokes[i];
    if (s->shape < 0)
        return;
    const DtColour paint = t->d->shapes[s->shape].stroke.paint.colour;
    dt_pens_record(t->pens,
                   (DtInkMatch){.colour = paint,
                                .pen = s->pen,
                                .across = -1,
                                .coverage = 1,
                                .area_mm2 = painted_mm2(t, i),
                                .distance = dt_ink_colour_distance(paint, pens[s->pen].colour)});
}

/* Each pen's share of the report is what its lines paint. */
static void assert_reported(const DtTrace *t)
{
    DtInkReport r = {0};
    double area[PENS] = {0};
    dt_pens_report(t->pens, &r);
    for (size_t i = 0; i < r.n; i++)
        area[r.matches[i].pen] += r.matches[i].area_mm2;
    for (size_t i = t->first; i < t->out->n; i++)
        area[t->out->strokes[i].pen] -= painted_mm2(t, i);
    for (int pen = 0; pen < PENS; pen++)
        g_assert_cmpfloat_with_epsilon(area[pen], 0, 1e-6);
    dt_ink_report_clear(&r);
}

/* Lines of random paints and widths, of random pens, among fields: those that the eye would see nearer in another
 * pen have it where 85 % of them are free. The order and the rest of the strokes stay. */
static void test_free_lines_take_the_pen_that_looks_nearer(void)
{
    const DtInkOptions options = DT_INK_OPTIONS_DEFAULT;
    unsigned kept = 0, changed = 0, ends = 0;
    for (int round = 0; round < 90; round++) {
        enum { LINES = 6 };
        const double side = g_test_rand_double_range(10, 90);
        g_autoptr(DtDrawing) d = thin_lines(LINES);
        g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
        g_auto(DtStrokes) s, before;
        dt_strokes_init(&s);
        dt_strokes_init(&before);
        const size_t first = (size_t)g_test_rand_int_range(0, 3);
        for (size_t i = 0; i < first; i++) /* another drawing's */
            add_random_stroke(&s, side, DT_INK_OUTLINE, 0, 0);
        for (int i = 0; i < LINES; i++)
            add_random_stroke(&s, side, g_test_rand_int_range(0, 8) ? DT_INK_OUTLINE : DT_INK_FILL,
                              g_test_rand_int_range(0, PENS),
                              g_test_rand_int_range(0, 12) ? i : -1);
        for (size_t i = 0; i < s.n; i++)
            dt_strokes_append(&before, s.pts + s.strokes[i].first, s.strokes[i].n,
                              s.strokes[i].closed, s.strokes[i].kind, s.strokes[i].pen,
                              s.strokes[i].shape);
        DtTrace t = {
            .d = d, .rack = &rack, .o = &options, .out = &s, .first = first, .appear = appear};
        t.pens = dt_pens_new(d, &rack, &options);
        for (size_t i = first; i < s.n; i++)
            record(&t, i);
        dt_look_lighten_lines(&t);
        assert_reported(&t);
        dt_pens_free(t.pens);
        g_assert_false(t.unsearched);
        g_assert_cmpuint(s.n, ==, before.n);
        for (size_t i = 0; i < s.n; i++) {
            const DtStroke *was = &before.strokes[i];
            int pen = was->pen;
            if (i >= first && was->kind == DT_INK_OUTLINE && was->shape >= 0) {
                const DtShape *shape = &d->shapes[was->shape];
                const double width = dt_art_stroke_width_mm(&shape->stroke);
                if (width < pens[pen].tip)
                    pen = dt_appear_choose_line(appear, shape->stroke.paint.colour, width, pen);
            }
            if (pen != was->pen) {
                const double share =
                    1 - touched(&before, first, i, is_near, &ends) / dt_strokes_length(&before, i);
                if (fabs(share - 0.85) < 0.03)
                    continue;
                if (share < 0.85)
                    pen = was->pen;
                kept += share < 0.85;
                changed += share > 0.85;
            }
            g_assert_cmpint(s.strokes[i].pen, ==, pen);
        }
    }
    g_test_message("%u changed, %u kept", changed, kept);
    g_assert_cmpuint(changed, >, 10);
    g_assert_cmpuint(kept, >, 10);
}

/* Beyond 400,000 points nothing is searched, which is said where it would have mattered: a line that is as wide as its
 * pen has the nearest one anyway. */
static void test_a_search_left_out_is_said_where_it_matters(void)
{
    const DtInkOptions options = DT_INK_OPTIONS_DEFAULT;
    g_autoptr(DtDrawing) d = thin_lines(2);
    g_autoptr(DtAppear) appear = dt_appear_new(&rack, paper);
    for (int thin = 0; thin < 2; thin++) {
        d->shapes[0].stroke.paint.colour = (DtColour){0.6, 0.6, 0.6, 1};
        d->shapes[0].stroke.width = thin ? 0.05 : 0.5;
        g_auto(DtStrokes) s;
        dt_strokes_init(&s);
        g_autofree DtPoint *p = g_new0(DtPoint, 400001);
        dt_strokes_append(&s, p, 400001, FALSE, DT_INK_OUTLINE, 0, 0);
        DtTrace t = {.d = d, .rack = &rack, .o = &options, .out = &s, .appear = appear};
        t.pens = dt_pens_new(d, &rack, &options);
        dt_look_lighten_lines(&t);
        dt_pens_free(t.pens);
        g_assert_cmpint(t.unsearched, ==, thin);
        g_assert_cmpint(s.strokes[0].pen, ==, 0);
    }
}

/* Shares ----------------------------------------------------------------------------------------- */

static double mean_difference(const DtAppear *a, const int *pen, size_t n, DtColour c,
                              const double *share)
{
    double light[3];
    dt_appear_light_of_many(a, pen, share, n, light);
    return dt_colour_difference(dt_colour_lab(c),
                                dt_colour_lab_linear(light[0], light[1], light[2]));
}

/* Inks that differ in every channel. */
static DtPen inks[PENS] = {
    {.name = (char *)"black", .colour = {0.1, 0.1, 0.1, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"orange", .colour = {0.95, 0.5, 0.1, 1}, .tip = 0.4, .dot_gain = 1},
    {.name = (char *)"blue", .colour = {0.1, 0.3, 0.85, 1}, .tip = 0.4, .dot_gain = 1}};
static const DtRack three = {inks, PENS};

/* From oranges by way of greys to blues. */
static void make_colours(DtColour *colours, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const double v = g_test_rand_double_range(0.3, 0.95);
        const double blue = g_test_rand_double_range(0, 1);
        colours[i] =
            (DtColour){v * (1 - 0.7 * blue), v * (0.6 + 0.1 * blue), v * (0.1 + 0.9 * blue), 1};
    }
}

/* Of all shares in steps of a sixteenth none gives a mean colour that is much nearer than those that are taken, which
 * are finer. One pen after the other finds no such shares for certain: of three the mean difference may be 2 more. */
static void test_no_other_shares_are_nearer(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&three, paper);
    DtColour colours[64];
    make_colours(colours, G_N_ELEMENTS(colours));
    for (unsigned most = 1; most <= PENS; most++) {
        DtSeparation *s = dt_separation_new(
            appear, colours, G_N_ELEMENTS(colours),
            (DtSeparationRules){
                .asked = -1, .most = most, .way = DT_TONE_THINNED, .judge = DT_JUDGE_BOTH});
        const unsigned n = dt_separation_n_pens(s);
        g_assert_cmpuint(n, >=, 1);
        g_assert_cmpuint(n, <=, most);
        int pen[PENS];
        for (unsigned i = 0; i < n; i++)
            pen[i] = dt_separation_pen(s, i);
        double sum = 0;
        for (size_t c = 0; c < G_N_ELEMENTS(colours); c++) {
            /* on the table's own colours, so that nothing is added between them */
            const DtColour at = {round(colours[c].r * 31) / 31, round(colours[c].g * 31) / 31,
                                 round(colours[c].b * 31) / 31, 1};
            double share[PENS], least = G_MAXDOUBLE;
            for (unsigned i = 0; i < n; i++)
                share[i] = dt_separation_share(s, i, at);
            const double own = mean_difference(appear, pen, n, at, share);
            for (int k = 0; k < (n < 2 ? 17 : n < 3 ? 17 * 17 : 17 * 17 * 17); k++) {
                const double other[PENS] = {k % 17 / 16.0, k / 17 % 17 / 16.0, k / 289 / 16.0};
                least = MIN(least, mean_difference(appear, pen, n, at, other));
            }
            g_assert_cmpfloat(own - least, <, n < 2 ? 0.02 : 20);
            sum += own - least;
        }
        g_test_message("%u pens: %.2f", n, sum / G_N_ELEMENTS(colours));
        g_assert_cmpfloat(sum / G_N_ELEMENTS(colours), <, n < 3 ? 0.02 : 2.5);
        dt_separation_free(s);
    }
}

/* The first pen is the best of all alone; each further one brings the colours nearer by 3 at least, the second of two at
 * most by 1.5, or by 3 if neither is the best alone; and a pen that was asked for is the only one. */
static void test_each_pen_is_worth_having(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&three, paper);
    for (int round = 0; round < 3; round++) {
        DtColour colours[48];
        make_colours(colours, G_N_ELEMENTS(colours));
        double least = G_MAXDOUBLE, last = G_MAXDOUBLE;
        int best = -1;
        for (int pen = 0; pen < PENS; pen++) {
            DtSeparation *s = dt_separation_new(
                appear, colours, G_N_ELEMENTS(colours),
                (DtSeparationRules){
                    .asked = pen, .most = PENS, .way = DT_TONE_THINNED, .judge = DT_JUDGE_BOTH});
            g_assert_cmpuint(dt_separation_n_pens(s), ==, 1);
            g_assert_cmpint(dt_separation_pen(s, 0), ==, pen);
            if (dt_separation_difference(s) < least) {
                least = dt_separation_difference(s);
                best = pen;
            }
            dt_separation_free(s);
        }
        DtSeparation *two = dt_separation_new(
            appear, colours, G_N_ELEMENTS(colours),
            (DtSeparationRules){
                .asked = -1, .most = 2, .way = DT_TONE_THINNED, .judge = DT_JUDGE_BOTH});
        const gboolean with_best = dt_separation_pen(two, 0) == best;
        if (dt_separation_n_pens(two) == 2)
            g_assert_cmpfloat(dt_separation_difference(two), <, least - (with_best ? 1.5 : 3));
        else
            g_assert_true(with_best);
        dt_separation_free(two);
        for (unsigned most = 1, n = 0; most <= PENS; most += 2) {
            DtSeparation *s = dt_separation_new(
                appear, colours, G_N_ELEMENTS(colours),
                (DtSeparationRules){
                    .asked = -1, .most = most, .way = DT_TONE_THINNED, .judge = DT_JUDGE_BOTH});
            g_assert_cmpint(dt_separation_pen(s, 0), ==, best);
            if (most == 1)
                g_assert_cmpfloat_with_epsilon(dt_separation_difference(s), least, 1e-9);
            else if (dt_separation_n_pens(s) > n)
                g_assert_cmpfloat(dt_separation_difference(s), <, last - 3);
            else
                g_assert_cmpfloat_with_epsilon(dt_separation_difference(s), last, 1e-9);
            last = dt_separation_difference(s);
            n = dt_separation_n_pens(s);
            dt_separation_free(s);
        }
    }
}

/* By one pen or two, judged from 40 cm, no colour is farther than in one of these pens laid densely. */
static void test_tones_from_near_are_no_farther_than_dense(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&three, paper);
    DtColour colours[48];
    make_colours(colours, G_N_ELEMENTS(colours));
    for (unsigned most = 1; most <= 2; most++) {
        DtSeparation *s = dt_separation_new(
            appear, colours, G_N_ELEMENTS(colours),
            (DtSeparationRules){
                .asked = -1, .most = most, .way = DT_TONE_THINNED, .judge = DT_JUDGE_NEAR});
        for (size_t i = 0; i < G_N_ELEMENTS(colours); i++) {
            const double own = dt_separation_near(s, &colours[i], 1);
            for (unsigned k = 0; k < dt_separation_n_pens(s); k++) {
                const DtRecipe dense = {{dt_separation_pen(s, k), -1}, {1, 0}};
                g_assert_cmpfloat(own, <=,
                                  dt_appear_tone_difference(appear, dt_colour_lab(colours[i]),
                                                            dense, DT_TONE_THINNED, TRUE) +
                                      1e-9);
            }
        }
        dt_separation_free(s);
    }
}

/* Greys between two of the table's have shares between theirs. */
static void test_greys_have_all_levels(void)
{
    g_autoptr(DtAppear) appear = dt_appear_new(&three, paper);
    DtColour colours[64];
    make_colours(colours, G_N_ELEMENTS(colours));
    DtSeparation *s = dt_separation_new(
        appear, colours, G_N_ELEMENTS(colours),
        (DtSeparationRules){
            .asked = -1, .most = PENS, .way = DT_TONE_THINNED, .judge = DT_JUDGE_BOTH});
    for (int step = 0; step < 31; step++)
        for (unsigned i = 0; i < dt_separation_n_pens(s); i++)
            for (double f = 0; f <= 1; f += 0.125) {
                const double v = (step + f) / 31, low = step / 31.0, high = (step + 1) / 31.0;
                const double expected =
                    (1 - f) * dt_separation_share(s, i, (DtColour){low, low, low, 1}) +
                    f * dt_separation_share(s, i, (DtColour){high, high, high, 1});
                g_assert_cmpfloat_with_epsilon(dt_separation_share(s, i, (DtColour){v, v, v, 1}),
                                               expected, 1e-9);
            }
    dt_separation_free(s);
}

/* A small part of 60 % beside a field of 20 %: the row of both tells what lies on the paper. */
static void test_a_row_gives_the_coverage_of_its_whole_area(void)
{
    const DtInkOptions options = DT_INK_OPTIONS_DEFAULT;
    const DtDrawing none = {0};
    const DtInkMatch parts[] = {
        {.pen = 0, .across = 2, .coverage = 0.6, .across_coverage = 0.4, .area_mm2 = 3},
        {.pen = 0, .across = 2, .coverage = 0.2, .across_coverage = 0.1, .area_mm2 = 97}};
    for (size_t order = 0; order < 2; order++) {
        DtInkReport r = {0};
        g_autoptr(DtPens) p = dt_pens_new(&none, &rack, &options);
        for (size_t i = 0; i < 2; i++) {
            DtInkMatch m = parts[i ^ order];
            m.colour = (DtColour){0.8, 0.8, 0.8, 1};
            dt_pens_record(p, m);
        }
        dt_pens_report(p, &r);
        g_assert_cmpuint(r.n, ==, 1);
        g_assert_cmpfloat_with_epsilon(r.matches[0].area_mm2, 100, 1e-9);
        g_assert_cmpfloat_with_epsilon(r.matches[0].coverage, 0.212, 1e-9);
        g_assert_cmpfloat_with_epsilon(r.matches[0].across_coverage, 0.109, 1e-9);
        dt_ink_report_clear(&r);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/beside/coverage", test_a_row_gives_the_coverage_of_its_whole_area);
    g_test_add_func("/ink/beside/lost", test_what_fields_cover_of_lines_is_measured);
    g_test_add_func("/ink/beside/free", test_free_lines_take_the_pen_that_looks_nearer);
    g_test_add_func("/ink/beside/unsearched", test_a_search_left_out_is_said_where_it_matters);
    g_test_add_func("/ink/beside/best", test_each_pen_is_worth_having);
    g_test_add_func("/ink/beside/near", test_tones_from_near_are_no_farther_than_dense);
    g_test_add_func("/ink/beside/shares", test_no_other_shares_are_nearer);
    g_test_add_func("/ink/beside/greys", test_greys_have_all_levels);
    return g_test_run();
}
