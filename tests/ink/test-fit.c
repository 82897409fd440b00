/* ink/fit: length times pitch is the area, whatever the shape; what hangs together is on one grid.
 */
#include "ink/fill/depth.h"
#include "ink/fill/fit.h"
#include "ink/plane/region.h"
#include "support/shapes.h"

#include <math.h>

#define PITCH 0.4

typedef struct {
    double area, inked; /* mm^2: of the pieces; their hatch's length times its own pitch */
    size_t pieces, rings, shifted;
} Sum;

static void add_piece(const DtHatching *h, const DtLines *piece, void *user)
{
    Sum *sum = user;
    double area = 0;
    for (size_t i = 0; i < piece->n; i++)
        area += dt_lines_area(piece, i);
    double inked = dt_hatch_length(h) * h->grid.pitch;
    if (area > 0.05)
        g_assert_cmpfloat_with_epsilon(inked / area, 1, 0.0025);
    g_assert_cmpfloat(h->grid.pitch, <=, PITCH);
    sum->area += area;
    sum->inked += inked;
    sum->pieces++;
    sum->rings += piece->n;
    sum->shifted += h->grid.shift != 0;
}

static Sum hatch(const DtLines *region, double angle, DtHatchFit fit)
{
    Sum sum = {0};
    g_assert_true(dt_hatch_pieces(region, (DtHatchGrid){angle, PITCH, 0}, DT_HATCH_SINGLE, fit,
                                  add_piece, &sum, NULL));
    return sum;
}

static void test_length_times_pitch_is_the_area(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(21);
    for (int round = 0; round < 150; round++) {
        g_auto(DtLines) l, clean, inset;
        dt_lines_init(&l);
        dt_lines_init(&clean);
        dt_lines_init(&inset);
        if (round % 3)
            wavy_disc(dt_point(20, 20), g_rand_double_range(rand, 1.2, 9), 2 + round % 9, 200, &l);
        else
            random_outline(rand, 10, &l);
        g_assert_true(dt_region_clean(&l, DT_PLANE_NONZERO, &clean, NULL));
        g_assert_true(dt_region_inset(&clean, 0.2, &inset, NULL));
        Sum sum = hatch(&inset, g_rand_double_range(rand, 0, 3), DT_FIT_PITCH);
        g_assert_cmpuint(sum.rings, ==, inset.n);
        if (sum.area > 0.05)
            g_assert_cmpfloat_with_epsilon(sum.inked / sum.area, 1, 0.0025);
    }
}

/* Where edges run along the lines, the number of lines jumps as the grid shifts. */
static void test_edges_along_the_lines(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(22);
    for (int round = 0; round < 200; round++) {
        g_auto(DtLines) l;
        dt_lines_init(&l);
        double w = g_rand_double_range(rand, 0.2, 12), h = g_rand_double_range(rand, 0.1, 6);
        double a = g_rand_double_range(rand, 0, 3), step = g_rand_double_range(rand, 0.2, 0.8) * h;
        DtPoint box[6] = {{0, 0}, {w, 0}, {w, h}, {w / 3, h}, {w / 3, step}, {0, step}};
        dt_lines_append(&l, box, 6, TRUE);
        if (round % 2) { /* a plain box */
            l.pts[4] = dt_point(0, h);
            l.pts[5] = dt_point(0, h / 2);
        }
        dt_lines_transform(&l, dt_affine_rotate(a));
        hatch(&l, a, DT_FIT_PITCH);
    }
}

/* A big area is well served by the sheet's grid, and stays on it. */
static void test_large_areas_keep_the_sheets_grid(void)
{
    g_auto(DtLines) l;
    dt_lines_init(&l);
    wavy_disc(dt_point(80, 80), 60, 7, 2000, &l);
    Sum sum = hatch(&l, G_PI / 4, DT_FIT_PITCH);
    g_assert_cmpuint(sum.pieces, ==, 1);
    g_assert_cmpuint(sum.shifted, ==, 0);
}

/* A piece that lies between two lines of the sheet gets one along its middle; one that a line meets keeps the grid. */
static void test_a_piece_between_the_sheets_lines_is_inked(void)
{
    const DtHatchGrid sheet = {0, 4, 0};
    gsize between = 0;
    for (int i = 0; i < 40; i++) {
        const double low = 0.2 * i, high = low + 0.5 + 0.03 * i;
        const DtPoint box[4] = {{3, low}, {9, low}, {9, high}, {3, high}};
        g_auto(DtLines) piece;
        g_auto(DtHatching) plain = {0}, fitted = {0};
        dt_lines_init(&piece);
        dt_lines_append(&piece, box, 4, TRUE);
        g_assert_true(dt_hatch_lines(&piece, DT_FILL_NONZERO, sheet, &plain, NULL));
        const DtHatchGrid fit = dt_hatch_fit(&piece, sheet, DT_HATCH_SINGLE, DT_FIT_SHEET);
        g_assert_true(dt_hatch_lines(&piece, DT_FILL_NONZERO, fit, &fitted, NULL));
        g_assert_cmpuint(fitted.n, ==, 1);
        if (plain.n > 0) {
            g_assert_cmpfloat(fit.shift, ==, sheet.shift);
        } else {
            between++;
            g_assert_cmpfloat_with_epsilon(dt_hatch_point(&fitted, &fitted.c[0]).y,
                                           (low + high) / 2, 1e-9);
        }
    }
    g_assert_cmpuint(between, >, 10);
}

/* Islands are pieces of their own, a ring with its hole is one. */
static void test_pieces_are_what_hangs_together(void)
{
    g_auto(DtLines) l, clean;
    dt_lines_init(&l);
    dt_lines_init(&clean);
    for (int i = 0; i < 6; i++)
        for (int ring = 0; ring < 3; ring++)
            wavy_disc(dt_point(10 + 15 * i, 10), (const double[]){6, 4, 1.5}[ring], 3, 60, &l);
    g_assert_true(dt_region_clean(&l, DT_PLANE_EVENODD, &clean, NULL));
    Sum sum = hatch(&clean, 0.3, DT_FIT_SHIFT);
    g_assert_cmpuint(clean.n, ==, 36);
    g_assert_cmpuint(sum.pieces, ==, 18);
    g_assert_cmpuint(hatch(&clean, 0.3, DT_FIT_SHIFT).pieces, ==, 18);
}

/* The inner depth of simple shapes is known: half of the narrower side, the radius of a circle. */
static void test_the_depth_of_simple_shapes(void)
{
    static const struct {
        double w, h;
        int corners; /* 0: a rectangle; of a polygon round an ellipse */
        double depth;
    } cases[] = {{10, 10, 0, 5}, {40, 10, 0, 5}, {3, 90, 0, 1.5}, {12, 12, 64, 6}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(DtLines) l;
        dt_lines_init(&l);
        dt_lines_begin(&l);
        l.closed[0] = TRUE;
        const double w = cases[i].w / 2, h = cases[i].h / 2;
        if (cases[i].corners == 0) {
            dt_lines_point(&l, dt_point(20 - w, 30 - h));
            dt_lines_point(&l, dt_point(20 + w, 30 - h));
            dt_lines_point(&l, dt_point(20 + w, 30 + h));
            dt_lines_point(&l, dt_point(20 - w, 30 + h));
        }
        for (int k = 0; k < cases[i].corners; k++) { /* its sides touch the circle */
            const double a = 2 * G_PI * k / cases[i].corners, r = w / cos(G_PI / cases[i].corners);
            dt_lines_point(&l, dt_point(20 + r * cos(a), 30 + r * sin(a)));
        }
        for (double share = 0.1; share < 2; share += 0.1) {
            if (fabs(share - 1) < 0.05)
                continue;
            g_assert_cmpint(dt_depth_exceeds(&l, share * cases[i].depth), ==,
                            share < 1 ? DT_DEPTH_MORE : DT_DEPTH_LESS);
        }
        g_assert_cmpint(dt_depth_exceeds(&l, cases[i].depth - 0.004), ==, DT_DEPTH_MORE);
        g_assert_cmpint(dt_depth_exceeds(&l, cases[i].depth + 0.004), ==, DT_DEPTH_LESS);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/fit/depth", test_the_depth_of_simple_shapes);
    g_test_add_func("/ink/fit/area", test_length_times_pitch_is_the_area);
    g_test_add_func("/ink/fit/along-the-lines", test_edges_along_the_lines);
    g_test_add_func("/ink/fit/sheet", test_large_areas_keep_the_sheets_grid);
    g_test_add_func("/ink/fit/between", test_a_piece_between_the_sheets_lines_is_inked);
    g_test_add_func("/ink/fit/pieces", test_pieces_are_what_hangs_together);
    return g_test_run();
}
