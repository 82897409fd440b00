/* ink: lines thinner than their pen that crowd: all are drawn, and told; thinned out, as much is drawn as covers the
 * artwork's share, and what is left out is told. */
#include "shapes-in-ink.h"

#include "drawtrue/base.h"

#include <math.h>
#include <string.h>

static DtPen pens[1] = {
    {.name = (char *)"black", .colour = {0, 0, 0, 1}, .tip = 0.4, .dot_gain = 1}};

static DtStrokes ink_of(const char *shapes, const DtInkOptions *o, DtInkReport *report)
{
    const DtRack rack = {pens, 1};
    return shapes_in_ink(shapes, &rack, o, report);
}

static DtInkOptions thinning(void)
{
    DtInkOptions o = DT_INK_OPTIONS_DEFAULT;
    o.thin_out = TRUE;
    return o;
}

static double length_of(const DtStrokes *s)
{
    double sum = 0;
    for (size_t i = 0; i < s->n; i++)
        sum += dt_strokes_length(s, i);
    return sum;
}

/* Level lines, 60 mm long, from y = 20 to y = 80. */
static char *level_lines(double width, double pitch, int *n)
{
    GString *d = g_string_new(NULL);
    *n = (int)floor(60 / pitch);
    for (int i = 0; i < *n; i++)
        g_string_append_printf(d, "M20 %.4fh60", 20 + i * pitch);
    char *shape = g_strdup_printf("<path d='%s' fill='none' stroke='#000' stroke-width='%.3f'/>",
                                  d->str, width);
    g_string_free(d, TRUE);
    return shape;
}

static gboolean has_line(const DtStrokes *s, double y)
{
    for (size_t i = 0; i < s->n; i++) {
        const DtPoint *p = s->pts + s->strokes[i].first;
        if (fabs(p[0].y - y) < 0.01 && fabs(p[1].y - y) < 0.01 && fabs(p[1].x - p[0].x) > 59.9)
            return TRUE;
    }
    return FALSE;
}

/* Of parallel lines whole ones are left out, evenly, and the outermost stays. */
static void test_crowded_lines_cover_as_much_as_in_the_artwork(void)
{
    const DtInkOptions o = thinning();
    static const double widths[] = {0.05, 0.08, 0.12}, pitches[] = {0.2, 0.27, 0.35};
    for (int i = 0; i < 9; i++) {
        int n;
        const double width = widths[i % 3], pitch = pitches[i / 3];
        g_autofree char *lines = level_lines(width, pitch, &n);
        DtInkReport r;
        g_auto(DtStrokes) s = ink_of(lines, &o, &r);
        const double drawn = length_of(&s), art = n * 60 * width / pens[0].tip;
        g_test_message("%.2f mm at %.2f mm: drawn %.2f of what covers as much", width, pitch,
                       drawn / art);
        g_assert_cmpfloat(drawn, >, 0.75 * art);
        g_assert_cmpfloat(drawn, <, 1.35 * art);
        g_assert_cmpfloat(fabs(drawn + r.crowded_mm - n * 60), <, 0.001 * n * 60);
        g_assert_cmpfloat(drawn / 60 - (double)s.n, >, -0.01); /* each is whole */
        g_assert_true(has_line(&s, 20) || has_line(&s, 80));
        dt_ink_report_clear(&r);
    }
}

/* Whether a note holds both texts. */
static gboolean is_noted(const DtInkReport *r, const char *one, const char *other)
{
    for (size_t i = 0;; i++) {
        g_autofree char *note = dt_ink_report_note(r, i);
        if (!note)
            return FALSE;
        if (strstr(note, one) && strstr(note, other))
            return TRUE;
    }
}

static void test_what_is_left_out_is_said(void)
{
    int n;
    g_autofree char *lines = level_lines(0.08, 0.25, &n);
    DtInkReport r;
    const DtInkOptions o = thinning();
    g_auto(DtStrokes) s = ink_of(lines, &o, &r);
    g_autofree char *number = g_strdup_printf("%.0f mm of lines", r.crowded_mm);
    g_assert_true(is_noted(&r, number, "are left out"));
    g_assert_cmpfloat(r.unseen_mm, <, 1); /* those are not counted twice */
    dt_ink_report_clear(&r);
}

/* Without it every line is drawn, and the report says how much is too many. */
static void test_that_lines_crowd_is_said(void)
{
    int n;
    g_autofree char *lines = level_lines(0.08, 0.25, &n);
    const DtInkOptions o = thinning();
    DtInkReport all, thinned;
    g_auto(DtStrokes) every = ink_of(lines, &DT_INK_OPTIONS_DEFAULT, &all);
    g_auto(DtStrokes) some = ink_of(lines, &o, &thinned);
    g_autofree char *number = g_strdup_printf("about %.0f mm too many", all.crowded_mm);
    g_assert_cmpfloat(fabs(all.crowded_mm - thinned.crowded_mm), <, 0.15 * thinned.crowded_mm);
    g_assert_cmpfloat(fabs(length_of(&every) - n * 60), <, 0.001 * n * 60);
    g_assert_cmpfloat(length_of(&some), <, 0.5 * length_of(&every));
    g_assert_true(is_noted(&all, number, "crowd"));
    dt_ink_report_clear(&all);
    dt_ink_report_clear(&thinned);
}

static void all_are_drawn(const char *shapes, const DtInkOptions *o, double length)
{
    DtInkReport r;
    g_auto(DtStrokes) s = ink_of(shapes, o, &r);
    g_assert_cmpfloat(r.crowded_mm, ==, 0);
    g_assert_cmpfloat(fabs(length_of(&s) - length), <, 0.001 * length);
    dt_ink_report_clear(&r);
}

/* A line alone, two and three side by side, lines two tips apart, graph paper of 1 mm, and lines that are hardly thinner
 * than the pen. */
static void test_lines_at_a_sane_pitch_stay(void)
{
    const DtInkOptions o = thinning();
    int n, across;
    g_autofree char *two_tips = level_lines(0.05, 0.8, &n);
    all_are_drawn(two_tips, &o, n * 60);
    g_autofree char *wide = level_lines(0.3, 0.45, &n);
    all_are_drawn(wide, &o, n * 60);
    g_autofree char *level = level_lines(0.05, 1, &across);
    g_autofree char *graph =
        g_strdup_printf("%s<g transform='rotate(90 50 50)'>%s</g>", level, level);
    all_are_drawn(graph, &o, 2 * across * 60);
    for (int side = 1; side <= 3; side++) {
        GString *few = g_string_new(NULL);
        for (int i = 0; i < side; i++)
            g_string_append_printf(few, "<path d='M20 %.2fh60' stroke='#000' stroke-width='0.05'/>",
                                   50 + 0.45 * i);
        all_are_drawn(few->str, &o, side * 60);
        g_string_free(few, TRUE);
    }
}

/* Dense fills, too, can be asked for together with it. */
static void test_lines_beside_dense_fills_are_thinned_out(void)
{
    int n;
    g_autofree char *lines = level_lines(0.08, 0.35, &n);
    DtInkOptions solid = thinning(), all = DT_INK_OPTIONS_DEFAULT;
    solid.solid = all.solid = TRUE;
    g_auto(DtStrokes) some = ink_of(lines, &solid, NULL), every = ink_of(lines, &all, NULL);
    g_assert_cmpfloat(length_of(&some), <, 0.5 * length_of(&every));
    g_assert_cmpfloat(fabs(length_of(&every) - n * 60), <, 0.001 * n * 60);
}

/* A heavier line among hairlines stays, wherever it is in the drawing's order. */
static void test_heavier_lines_are_kept_first(void)
{
    const DtInkOptions o = thinning();
    int n;
    g_autofree char *lines = level_lines(0.06, 0.3, &n);
    g_autofree char *shapes =
        g_strdup_printf("%s<path d='M20 50.15h60' stroke='#000' stroke-width='0.2'/>", lines);
    g_auto(DtStrokes) s = ink_of(shapes, &o, NULL);
    g_assert_true(has_line(&s, 50.15) || has_line(&s, 49.85));
}

/* The turns of a spiral, which is one line, are thinned out as lines are: the share of the ink is that of a uniform
 * tone. */
static void test_turns_of_one_line_are_thinned_out(void)
{
    const DtInkOptions o = thinning();
    GString *d = g_string_new("M50 50");
    for (int i = 1; i <= 60 * 90; i++) {
        const double turn = i / 90.0, r = 0.4 * turn;
        g_string_append_printf(d, "L%.3f %.3f", 50 + r * cos(2 * G_PI * turn),
                               50 + r * sin(2 * G_PI * turn));
    }
    g_autofree char *shape =
        g_strdup_printf("<path d='%s' fill='none' stroke='#000' stroke-width='0.08'/>", d->str);
    g_string_free(d, TRUE);
    DtInkReport r;
    g_auto(DtStrokes) s = ink_of(shape, &o, &r);
    const double all = length_of(&s) + r.crowded_mm, share = length_of(&s) / all;
    g_test_message("%.0f of %.0f mm are drawn", length_of(&s), all);
    g_assert_cmpfloat(share, >, 0.8 * 0.08 / 0.4);
    g_assert_cmpfloat(share, <, 1.8 * 0.08 / 0.4);
    dt_ink_report_clear(&r);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/crowded/share", test_crowded_lines_cover_as_much_as_in_the_artwork);
    g_test_add_func("/ink/crowded/said", test_what_is_left_out_is_said);
    g_test_add_func("/ink/crowded/sane", test_lines_at_a_sane_pitch_stay);
    g_test_add_func("/ink/crowded/told", test_that_lines_crowd_is_said);
    g_test_add_func("/ink/crowded/solid", test_lines_beside_dense_fills_are_thinned_out);
    g_test_add_func("/ink/crowded/heavier", test_heavier_lines_are_kept_first);
    g_test_add_func("/ink/crowded/turns", test_turns_of_one_line_are_thinned_out);
    return g_test_run();
}
