/* ink/hatch: no line is missing, none overruns, whatever the outline. */
#include "ink/fill/hatch.h"
#include "ink/outline.h"
#include "ink/plane/region.h"
#include "support/shapes.h"

/* Every line is cut where the rule says: tested in the middles between neighbouring crossings. */
static void check_hatch(const DtLines *l, DtFillRule rule, double angle, double pitch)
{
    g_auto(DtHatching) h = {0};
    g_assert_true(dt_hatch_lines(l, rule, (DtHatchGrid){angle, pitch, 0}, &h, NULL));
    double c = cos(angle), s = sin(angle);
    DtLines turned;
    dt_lines_copy(&turned, l);
    dt_lines_transform(&turned, dt_affine_rotate(-angle));
    DtBox b = dt_lines_box(&turned);
    size_t at = 0;
    for (int32_t k = (int32_t)floor(b.y0 / pitch) - 1; k <= (int32_t)ceil(b.y1 / pitch) + 1; k++) {
        double v = k * pitch, last = b.x0 - 1;
        for (; at < h.n && h.c[2 * at].line == k; at++) {
            double u0 = h.c[2 * at].u, u1 = h.c[2 * at + 1].u;
            g_assert_cmpint(h.c[2 * at + 1].line, ==, k);
            g_assert_cmpfloat(u0, <, u1);
            g_assert_cmpfloat(last, <, u0);
            for (int i = 1; i < 8; i++) {
                double in = u0 + (u1 - u0) * i / 8, out = last + (u0 - last) * i / 8;
                DtPoint p = {in * c - v * s, in * s + v * c},
                        q = {out * c - v * s, out * s + v * c};
                if (distance_to_edges(l, p) > 1e-9)
                    g_assert_true(dt_lines_inside(l, rule, p));
                if (distance_to_edges(l, q) > 1e-9)
                    g_assert_false(dt_lines_inside(l, rule, q));
            }
            last = u1;
        }
        for (int i = 1; i < 8; i++) {
            double out = last + (b.x1 + 1 - last) * i / 8;
            DtPoint q = {out * c - v * s, out * s + v * c};
            if (distance_to_edges(l, q) > 1e-9)
                g_assert_false(dt_lines_inside(l, rule, q));
        }
    }
    g_assert_cmpuint(at, ==, h.n);
    dt_lines_clear(&turned);
}

static void test_every_line_is_cut_where_the_rule_says(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(1);
    const double angles[] = {0, G_PI / 2, G_PI / 4, 0.3};
    for (int round = 0; round < 400; round++) {
        g_auto(DtLines) l;
        dt_lines_init(&l);
        random_outline(rand, 14, &l);
        /* Pitches of 1 and 0.5 mm put vertices and level edges right on the lines. */
        double pitch = (const double[]){1, 0.5, 0.37}[round % 3];
        check_hatch(&l, round % 2 ? DT_FILL_EVENODD : DT_FILL_NONZERO, angles[(round / 3) % 4],
                    pitch);
    }
}

static double nearest_line(const DtLines *l, DtPoint p)
{
    return distance_to_edges(l, p);
}

static void test_joins_stay_inside_and_every_line_is_drawn(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(2);
    size_t lines = 0, lifts = 0;
    for (int round = 0; round < 80; round++) {
        g_auto(DtLines) l, clean, path, plain;
        dt_lines_init(&l);
        dt_lines_init(&clean);
        dt_lines_init(&path);
        dt_lines_init(&plain);
        if (round % 2)
            wavy_disc(dt_point(20, 20), 5 + round / 8.0, 2 + round % 9, 400, &l);
        else
            random_outline(rand, 10, &l);
        g_assert_true(dt_region_clean(&l, DT_PLANE_NONZERO, &clean, NULL));
        g_auto(DtHatching) h = {0};
        g_assert_true(
            dt_hatch_lines(&clean, DT_FILL_NONZERO, (DtHatchGrid){G_PI / 4, 0.4, 0}, &h, NULL));
        dt_hatch_serpentine(&h, &clean, 3.2, &path);
        dt_hatch_plain(&h, &plain);
        if (round % 2) {
            lines += h.n;
            lifts += path.n;
        }
        for (size_t i = 0; i < path.n_pts; i++) {
            DtPoint p = path.pts[i];
            if (!dt_lines_inside(&clean, DT_FILL_NONZERO, p))
                g_assert_cmpfloat(distance_to_edges(&clean, p), <, 1e-9);
        }
        for (size_t i = 0; i < path.n; i++)
            for (size_t k = 0; k + 1 < dt_lines_count(&path, i); k++)
                for (int j = 1; j < 6; j++) {
                    DtPoint *q = dt_lines_at(&path, i), p = dt_point_lerp(q[k], q[k + 1], j / 6.0);
                    if (!dt_lines_inside(&clean, DT_FILL_NONZERO, p))
                        g_assert_cmpfloat(distance_to_edges(&clean, p), <, 0.01);
                }
        for (size_t i = 0; i < plain.n_pts; i++)
            g_assert_cmpfloat(nearest_line(&path, plain.pts[i]), <, 1e-9);
    }
    g_assert_cmpuint(lifts * 10, <, lines);
}

static void test_neighbours_meet_in_register(void)
{
    /* Two halves of a square, hatched apart, have the lines of the whole. */
    DtPoint whole[4] = {{0, 0}, {20, 0}, {20, 20}, {0, 20}};
    DtPoint left[4] = {{0, 0}, {7.3, 0}, {11.1, 20}, {0, 20}};
    DtPoint right[4] = {{7.3, 0}, {20, 0}, {20, 20}, {11.1, 20}};
    DtLines l[3];
    double length[3];
    for (int i = 0; i < 3; i++) {
        dt_lines_init(&l[i]);
        dt_lines_append(&l[i], i == 0 ? whole : i == 1 ? left : right, 4, TRUE);
        g_auto(DtHatching) h = {0};
        g_assert_true(dt_hatch_lines(&l[i], DT_FILL_NONZERO, (DtHatchGrid){0.5, 0.4, 0}, &h, NULL));
        length[i] = dt_hatch_length(&h);
        dt_lines_clear(&l[i]);
    }
    g_assert_cmpfloat_with_epsilon(length[0], length[1] + length[2], 1e-9);
}

static void test_bad_pitches_and_points_are_refused(void)
{
    DtPoint square[4] = {{0, 0}, {20, 0}, {20, 20}, {0, 20}};
    g_auto(DtLines) l;
    dt_lines_init(&l);
    dt_lines_append(&l, square, 4, TRUE);
    const double bad[] = {0, -1, NAN, INFINITY, 1e-12, 1e-300};
    for (int i = 0; i < 6; i++) {
        g_auto(DtHatching) h = {0};
        g_autoptr(GError) error = NULL;
        g_assert_false(
            dt_hatch_lines(&l, DT_FILL_NONZERO, (DtHatchGrid){0.5, bad[i], 0}, &h, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    }
    DtPoint far[4] = {{0, 1e6}, {20, 1e6}, {20, 1e6 + 20}, {0, 1e6 + 20}};
    g_auto(DtLines) apart; /* few crossings, but too many lines between them */
    dt_lines_copy(&apart, &l);
    dt_lines_append(&apart, far, 4, TRUE);
    g_auto(DtHatching) none = {0};
    g_autoptr(GError) many = NULL;
    g_assert_false(
        dt_hatch_lines(&apart, DT_FILL_NONZERO, (DtHatchGrid){0, 0.01, 0}, &none, &many));
    g_assert_error(many, DT_ERROR, DT_ERROR_INPUT);
    g_auto(DtHatching) wide = {0};
    g_assert_true(dt_hatch_lines(&l, DT_FILL_NONZERO, (DtHatchGrid){0.5, 1000, 0}, &wide, NULL));
    g_assert_cmpuint(wide.n, <=, 1);
    l.pts[2].y = NAN;
    g_auto(DtHatching) h = {0};
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_hatch_lines(&l, DT_FILL_NONZERO, (DtHatchGrid){0.5, 1, 0}, &h, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

/* Bands of three lines, also below zero: a serpentine joins the lines of each, and no two bands. */
static void test_bands_are_lines_side_by_side(void)
{
    const double pitch = 2, apart = 0.4, shift = -0.1;
    const DtPoint corners[4] = {{-3, -5}, {7, -5}, {7, 5}, {-3, 5}};
    g_auto(DtHatching) h = {0};
    g_auto(DtLines) l, joined;
    dt_lines_init(&l);
    dt_lines_init(&joined);
    dt_lines_append(&l, corners, 4, TRUE);
    g_assert_true(dt_hatch_bands(&l, DT_FILL_NONZERO, (DtHatchGrid){0, pitch, shift},
                                 (DtHatchBand){3, apart}, &h, NULL));
    size_t n = 0;
    for (int band = -3; band <= 3; band++)
        for (int i = 0; i < 3; i++) {
            const double y = shift + band * pitch + i * apart;
            if (y < -5 || y >= 5)
                continue;
            g_assert_cmpuint(n, <, h.n);
            g_assert_cmpfloat_with_epsilon(dt_hatch_point(&h, &h.c[2 * n]).y, y, 1e-9);
            g_assert_cmpfloat_with_epsilon(dt_hatch_point(&h, &h.c[2 * n + 1]).x, 7, 1e-9);
            n++;
        }
    g_assert_cmpuint(n, ==, h.n);
    dt_hatch_serpentine(&h, &l, 8 * apart, &joined);
    g_assert_cmpuint(joined.n, ==, 5);
    for (size_t i = 0; i < joined.n; i++)
        for (size_t k = 0; k + 1 < dt_lines_count(&joined, i); k++) {
            const DtPoint *p = dt_lines_at(&joined, i) + k;
            g_assert_cmpfloat(fabs(p[1].y - p[0].y), <=, apart + 1e-9);
        }
}

/* Joins across gaps -------------------------------------------------------------------------- */

#define TIP 0.4

/* Area that lines ink, mm^2. */
static double inked(const DtLines *lines)
{
    g_auto(DtLines) band;
    dt_lines_init(&band);
    g_assert_true(dt_outline_band(lines, TIP, DT_CAP_ROUND, 0.001, &band, NULL));
    return dt_region_area(&band);
}

/* *plain gets single lines, and joined bands. */
static void hatch_with_gaps(const DtLines *l, double pitch, DtHatchBand band, DtLines *plain,
                            DtLines *joined)
{
    g_auto(DtHatching) h = {0};
    g_assert_true(dt_hatch_bands(l, DT_FILL_NONZERO, (DtHatchGrid){0.6, pitch, 0}, band, &h, NULL));
    dt_lines_init(plain);
    dt_lines_init(joined);
    if (band.n > 1)
        dt_hatch_serpentine(&h, l, 8 * TIP, plain);
    else
        dt_hatch_plain(&h, plain);
    dt_hatch_meander(&h, l, 8 * TIP, TIP, joined);
}

static void assert_inside(const DtLines *region, const DtLines *path)
{
    for (size_t i = 0; i < path->n; i++)
        for (size_t k = 0; k + 1 < dt_lines_count(path, i); k++)
            for (int j = 0; j <= 5; j++) {
                const DtPoint *q = dt_lines_at(path, i) + k, p = dt_point_lerp(q[0], q[1], j / 5.0);
                if (!dt_lines_inside(region, DT_FILL_NONZERO, p))
                    g_assert_cmpfloat(distance_to_edges(region, p), <, 0.01);
            }
}

/* Joined across gaps, lines and bands ink as much as before, within half of a percent where the joins are up
 * to 3.5 %; few lifts are left, and no join leaves the region. */
static void test_joins_across_gaps_add_no_ink(void)
{
    static const struct {
        double pitch;
        DtHatchBand band;
    } grids[] = {{0.5, {1, 0}}, {0.6, {1, 0}}, {0.78, {1, 0}}, {1.3, {3, TIP}}};
    for (gsize i = 0; i < G_N_ELEMENTS(grids); i++)
        for (int waves = 0; waves <= 7; waves += 7) {
            g_auto(DtLines) l, plain, joined;
            dt_lines_init(&l);
            wavy_disc(dt_point(20, 20), 15, waves, 400, &l);
            hatch_with_gaps(&l, grids[i].pitch, grids[i].band, &plain, &joined);
            g_assert_cmpuint(3 * joined.n, <, plain.n);
            g_assert_cmpfloat_with_epsilon(inked(&joined) / inked(&plain), 1, 0.005);
            assert_inside(&l, &joined);
        }
}

/* Wider gaps are not joined across. */
static void test_wide_gaps_stay(void)
{
    const DtPoint square[4] = {{0, 0}, {20, 0}, {20, 20}, {0, 20}};
    g_auto(DtLines) l, plain, joined;
    dt_lines_init(&l);
    dt_lines_append(&l, square, 4, TRUE);
    hatch_with_gaps(&l, 2.2 * TIP, DT_HATCH_SINGLE, &plain, &joined);
    g_assert_cmpuint(joined.n, ==, plain.n);
}

/* A strip with two lines, at y 0 and 0.7, whose right end has `edge` and a hole, turned to the hatch's direction.
 * The number of lines into which they are joined. */
static size_t join_strip(const DtPoint *edge, size_t n_edge, const DtPoint *hole, size_t n_hole)
{
    const DtPoint left[2] = {{0, 0.8}, {0, -0.1}};
    g_auto(DtLines) l, plain, joined;
    dt_lines_init(&l);
    dt_lines_begin(&l);
    for (size_t i = 0; i < n_edge; i++)
        dt_lines_point(&l, edge[i]);
    for (size_t i = 0; i < 2; i++)
        dt_lines_point(&l, left[i]);
    dt_lines_close(&l);
    if (n_hole > 0)
        dt_lines_append(&l, hole, n_hole, TRUE);
    dt_lines_transform(&l, dt_affine_rotate(0.6));
    hatch_with_gaps(&l, 0.7, DT_HATCH_SINGLE, &plain, &joined);
    assert_inside(&l, &joined);
    return joined.n;
}

/* Where a join, set back, would meet another part of the edge, there is none. */
static void test_joins_keep_out_of_holes(void)
{
    const DtPoint straight[2] = {{20, -0.1}, {20, 0.8}};
    const DtPoint folded[5] = {{20, -0.1}, {20, 0.5}, {19.65, 0.36}, {20.1, 0.68}, {20.1, 0.8}};
    /* Clockwise: between the lines, and from the lower one to between them. */
    const DtPoint dot[4] = {{19.83, 0.25}, {19.73, 0.35}, {19.83, 0.45}, {19.93, 0.35}};
    const DtPoint tongue[6] = {{19, -0.05},  {18.85, -0.05}, {18.85, 0.4},
                               {19.9, 0.37}, {19.9, 0.33},   {19, 0.3}};
    g_assert_cmpuint(join_strip(straight, 2, NULL, 0), ==, 1);
    g_assert_cmpuint(join_strip(folded, 5, NULL, 0), ==, 2);
    g_assert_cmpuint(join_strip(straight, 2, dot, 4), ==, 2);
    g_assert_cmpuint(join_strip(straight, 2, tongue, 6), ==, 3);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/hatch/cut-by-the-rule", test_every_line_is_cut_where_the_rule_says);
    g_test_add_func("/ink/hatch/joins-stay-inside", test_joins_stay_inside_and_every_line_is_drawn);
    g_test_add_func("/ink/hatch/register", test_neighbours_meet_in_register);
    g_test_add_func("/ink/hatch/bands", test_bands_are_lines_side_by_side);
    g_test_add_func("/ink/hatch/across-gaps", test_joins_across_gaps_add_no_ink);
    g_test_add_func("/ink/hatch/wide-gaps", test_wide_gaps_stay);
    g_test_add_func("/ink/hatch/joins-keep-out", test_joins_keep_out_of_holes);
    g_test_add_func("/ink/hatch/bad-input", test_bad_pitches_and_points_are_refused);
    return g_test_run();
}
