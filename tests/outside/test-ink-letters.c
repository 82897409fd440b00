/* outside: single-line letters against the National Bureau of Standards' plates (Hershey 1967;
 * NBS Special Publication 424), glyphs 501 and 508 of the simplex roman, from memory. */
#include "drawtrue/base.h"
#include "drawtrue/ink.h"

#include <math.h>

/* In the plates' units, 21 from the base line to the top of a capital: where each stroke begins and
 * ends, from the left bearing and the base line. */
typedef struct {
    double x0, y0, x1, y1;
} Line;

static const Line letter_a[] = {{9, 21, 1, 0}, {9, 21, 17, 0}, {4, 7, 14, 7}};
static const Line letter_h[] = {{4, 21, 4, 0}, {18, 21, 18, 0}, {4, 11, 18, 11}};
enum { ADVANCE_A = 18, BASE = 50, LEFT = 10 };

static DtDrawing *read(const char *attributes, const char *text)
{
    g_autofree char *svg = g_strdup_printf(
        "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='80mm' viewBox='0 0 200 80'>"
        "<text y='%d' font-size='20' font-family='sans-serif' %s>%s</text></svg>",
        BASE, attributes, text);
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.single_line_text = TRUE;
    g_autoptr(GError) error = NULL;
    DtDrawing *d = dt_art_read_data(svg, strlen(svg), "letters.svg", &o, &error);
    g_assert_no_error(error);
    return d;
}

static DtBox strokes_box(const DtDrawing *d)
{
    DtBox b = DT_BOX_EMPTY;
    for (size_t i = 0; i < d->n_shapes; i++)
        b = dt_box_union(b, dt_lines_box(&d->shapes[i].outline));
    return b;
}

static gboolean has_line(const DtDrawing *d, DtPoint a, DtPoint b)
{
    for (size_t i = 0; i < d->n_shapes; i++)
        for (size_t k = 0; k < d->shapes[i].outline.n; k++) {
            const DtPoint *p = dt_lines_at(&d->shapes[i].outline, k);
            if (dt_lines_count(&d->shapes[i].outline, k) == 2 &&
                dt_point_distance(p[0], a) + dt_point_distance(p[1], b) < 1e-6)
                return TRUE;
        }
    return FALSE;
}

static void check(const DtDrawing *d, const Line *lines, double left, double unit)
{
    for (int i = 0; i < 3; i++)
        g_assert_true(has_line(d, dt_point(left + lines[i].x0 * unit, BASE - lines[i].y0 * unit),
                               dt_point(left + lines[i].x1 * unit, BASE - lines[i].y1 * unit)));
}

static void test_letters_have_the_plates_proportions_and_spacing(void)
{
    g_autoptr(DtDrawing) d = read("x='10'", "AH");
    double unit = (BASE - strokes_box(d).y0) / 21;
    g_assert_cmpfloat_with_epsilon(21 * unit, 0.72 * 20, 0.4); /* a capital's usual height */
    check(d, letter_a, LEFT, unit);
    check(d, letter_h, LEFT + ADVANCE_A * unit, unit);
}

/* The words keep to the width that the artwork gives them, on its base line. */
static void test_a_line_fits_the_artworks_box(void)
{
    g_autoptr(DtDrawing) plain = read("x='10'", "HAH"),
                         wide = read("x='10' textLength='90'", "HAH");
    double unit = (BASE - strokes_box(plain).y0) / 21;
    g_assert_cmpfloat_with_epsilon(BASE - strokes_box(wide).y0, 21 * unit, 1e-6);
    g_assert_cmpfloat_with_epsilon(strokes_box(wide).y1, BASE, 1e-6);
    g_assert_cmpfloat(strokes_box(wide).x1, <=, LEFT + 90);
    g_assert_cmpfloat(strokes_box(wide).x1, >, LEFT + 90 - 10 * unit);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/ink-letters/plates",
                    test_letters_have_the_plates_proportions_and_spacing);
    g_test_add_func("/outside/ink-letters/box", test_a_line_fits_the_artworks_box);
    return g_test_run();
}
