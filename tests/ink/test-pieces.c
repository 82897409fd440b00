/* pieces that stand alone, each against a slow or obvious way: sorting, number lists, dashes, grids of
 * shares and the lines around them. */
#include "ink/outline.h"
#include "ink/paint/number-lists.h"
#include "ink/picture/flow.h"
#include "ink/plane/radix.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* By key, then by the order in which they came. */
static int by_key(const void *a, const void *b)
{
    const DtKey *p = a, *q = b;
    return p->key != q->key ? (p->key < q->key ? -1 : 1) : (p->id > q->id) - (p->id < q->id);
}

static void test_sorting(void)
{
    static const size_t sizes[] = {0, 1, 2, 3, 47, 48, 49, 100, 2048, 5000};
    static const int bits[] = {1, 8, 11, 12, 33, 63, 64};
    g_autoptr(GRand) r = g_rand_new_with_seed(5);
    for (size_t i = 0; i < G_N_ELEMENTS(sizes); i++)
        for (size_t b = 0; b < G_N_ELEMENTS(bits); b++)
            for (int shift = 0; shift < 64; shift += 21) {
                const size_t n = sizes[i];
                g_autofree DtKey *a = g_new(DtKey, n + 1), *wanted = g_new(DtKey, n + 1);
                for (size_t k = 0; k < n; k++) {
                    const uint64_t any = (uint64_t)g_rand_int(r) << 32 | g_rand_int(r);
                    const uint64_t low = bits[b] == 64 ? any : any & (((uint64_t)1 << bits[b]) - 1);
                    a[k] = wanted[k] = (DtKey){low << shift, (uint32_t)k};
                }
                a[n] = (DtKey){0, 77}; /* is not theirs */
                dt_radix_sort(a, n);
                qsort(wanted, n, sizeof *wanted, by_key);
                for (size_t k = 0; k < n; k++) {
                    g_assert_cmpuint(a[k].key, ==, wanted[k].key);
                    g_assert_cmpuint(a[k].id, ==, wanted[k].id);
                }
                g_assert_cmpuint(a[n].id, ==, 77);
            }
    static const int32_t rising[] = {G_MININT32, -70000, -1, 0, 1, 65536, G_MAXINT32};
    for (size_t i = 1; i < G_N_ELEMENTS(rising); i++)
        g_assert_cmpuint(dt_radix_signed(rising[i - 1]), <, dt_radix_signed(rising[i]));
}

/* The n items of which the digits of `code` say the values: sequences of up to four from -2 to 1. */
static size_t sequence(int code, int32_t items[4])
{
    size_t n = 0;
    for (; code > 0; code /= 4)
        items[n++] = code % 4 - 2;
    return n;
}

static void test_number_lists(void)
{
    DtNumberLists lists;
    dt_number_lists_init(&lists);
    g_assert_cmpuint(dt_number_lists_count(&lists), ==, 0);
    uint32_t place[256];
    for (int round = 0; round < 2; round++)
        for (int code = 0; code < 256; code++) {
            int32_t items[4] = {9, 9, 9, 9};
            const uint32_t at = dt_number_lists_put(&lists, items, sequence(code, items));
            g_assert_cmpuint(at, ==, round ? place[code] : (uint32_t)code);
            place[code] = at;
            g_assert_cmpuint(dt_number_lists_count(&lists), ==, round ? 256 : (size_t)code + 1);
        }
    for (int code = 0; code < 256; code++) {
        int32_t items[4];
        size_t n, wanted = sequence(code, items);
        const int32_t *got = dt_number_lists_at(&lists, place[code], &n);
        g_assert_cmpmem(got, n * sizeof *got, items, wanted * sizeof *items);
    }
    dt_number_lists_clear(&lists);
    dt_number_lists_clear(&lists); /* what is empty stays so */
}

/* Dashes ------------------------------------------------------------------------------------- */

/* Whether the pattern inks a place: SVG 1.1, 11.4. Gaps shorter than `least` are ink. */
static gboolean inks(const double *dash, size_t n, double at, double least)
{
    double whole = 0;
    const size_t all = n % 2 ? 2 * n : n;
    for (size_t i = 0; i < all; i++)
        whole += dash[i % n];
    at -= floor(at / whole) * whole;
    for (size_t i = 0; i < all; at -= dash[i % n], i++)
        if (at < dash[i % n])
            return i % 2 == 0 || dash[i % n] < least;
    return TRUE;
}

static gboolean is_edge(const double *dash, size_t n, double at, double least)
{
    return inks(dash, n, at - 1e-6, least) != inks(dash, n, at + 1e-6, least);
}

static const struct {
    size_t n;
    double dash[6];
} patterns[] = {{2, {4, 2}},
                {1, {3}},
                {3, {5, 1, 2}},
                {4, {6, 0.3, 2, 3}},
                {4, {0, 2, 3, 1}},
                {6, {4, 2, 1, 0.4, 1, 0.2}},
                {6, {1, 0.1, 2, 3, 1, 0.2}},
                {2, {7, 0.25}}};

static void test_dashes(void)
{
    const DtPoint bent[4] = {{0, 0}, {20, 0}, {20, 13}, {3, 13}};
    const double corner[5] = {0, 20, 33, 50, 50 + sqrt(9 + 169)};
    for (size_t k = 0; k < G_N_ELEMENTS(patterns); k++)
        for (double offset = -9; offset < 12; offset += 3.7)
            for (int closed = 0; closed < 2; closed++) {
                const double *dash = patterns[k].dash;
                g_auto(DtLines) line, out;
                dt_lines_init(&line);
                dt_lines_init(&out);
                dt_lines_append(&line, bent, 4, closed > 0);
                dt_dash_lines(&line, dash, patterns[k].n, offset, &out);
                for (double s = 0.013; s < corner[3 + closed]; s += 0.21) {
                    if (is_edge(dash, patterns[k].n, offset + s, 0))
                        continue;
                    int side = 0;
                    while (s > corner[side + 1])
                        side++;
                    const DtPoint at =
                        dt_point_lerp(bent[side], bent[(side + 1) % 4],
                                      (s - corner[side]) / (corner[side + 1] - corner[side]));
                    double away = G_MAXDOUBLE;
                    for (size_t i = 0; i < out.n; i++) {
                        const DtPoint *p = dt_lines_at(&out, i);
                        g_assert_cmpint(out.closed[i], ==, 0);
                        for (size_t j = 1; j < dt_lines_count(&out, i); j++)
                            away = MIN(away, dt_point_segment_distance(at, p[j - 1], p[j]));
                    }
                    g_assert_cmpint(away < 1e-6, ==, inks(dash, patterns[k].n, offset + s, 0));
                }
            }
}

/* What is no pattern leaves the line whole. */
static void test_no_dashes(void)
{
    static const struct {
        size_t n;
        double dash[3];
    } none[] = {{0, {0}},      {2, {0, 0}},        {2, {3, -1}},
                {2, {NAN, 1}}, {2, {INFINITY, 1}}, {2, {1e-6, 1e-6}}};
    const DtPoint p[2] = {{1, 2}, {30, 2}};
    for (size_t k = 0; k < G_N_ELEMENTS(none); k++) {
        g_auto(DtLines) line, out;
        dt_lines_init(&line);
        dt_lines_init(&out);
        dt_lines_append(&line, p, 2, FALSE);
        dt_dash_lines(&line, none[k].dash, none[k].n, 1, &out);
        g_assert_cmpuint(out.n, ==, 1);
        g_assert_cmpfloat(dt_lines_total_length(&out), ==, 29);
    }
}

static void test_bridged_gaps(void)
{
    for (size_t k = 0; k < G_N_ELEMENTS(patterns); k++)
        for (double least = 0; least < 4; least += 0.35) {
            const double *dash = patterns[k].dash;
            const size_t n = patterns[k].n;
            size_t n_out;
            double shift;
            g_autofree double *out = dt_dash_bridge(dash, n, least, &n_out, &shift);
            g_assert_cmpuint(n_out % 2, ==, 0);
            for (size_t i = 1; i < n_out; i += 2)
                g_assert_cmpfloat(out[i], >=, least);
            for (double s = 0.013; s < 40; s += 0.17) {
                if (is_edge(dash, n, s, least))
                    continue;
                g_assert_cmpint(n_out == 0 || inks(out, n_out, s - shift, 0), ==,
                                inks(dash, n, s, least));
            }
        }
}

/* Shares ------------------------------------------------------------------------------------- */

static double slope(DtPoint p, void *user)
{
    (void)user;
    return p.x / 10 - p.y / 40 - 0.2; /* below 0 at the left, above 1 at the right */
}

static double even(DtPoint p, void *user)
{
    (void)p;
    return *(double *)user;
}

static void test_share_grids(void)
{
    const DtPoint corner[3] = {{2, 1}, {17, 1}, {2, 11}};
    g_auto(DtLines) region;
    dt_lines_init(&region);
    dt_lines_append(&region, corner, 3, TRUE);
    for (int few = 0; few < 2; few++) {
        g_auto(DtShareGrid) g = {0};
        dt_share_grid_make(&region, slope, NULL, 0.5, few ? 96 : 100000, &g);
        g_assert_cmpfloat_with_epsilon(g.step, few ? 1.25 : 0.5,
                                       1e-9); /* 15 by 10 mm at 96 places */
        g_assert_cmpint(g.w, ==, few ? 12 : 30);
        g_assert_cmpint(g.h, ==, few ? 8 : 20);
        for (int y = 0; y < g.h; y++)
            for (int x = 0; x < g.w; x++) {
                const DtPoint p = dt_share_grid_point(&g, x, y);
                g_assert_cmpfloat_with_epsilon(p.x, 2 + g.step * (x + 0.5), 1e-9);
                g_assert_cmpfloat_with_epsilon(p.y, 1 + g.step * (y + 0.5), 1e-9);
                const double edge = 2 + 15 * (11 - p.y) / 10, s = g.share[y * g.w + x];
                if (fabs(p.x - edge) > 0.02)
                    g_assert_cmpfloat_with_epsilon(s, p.x < edge ? CLAMP(slope(p, NULL), 0, 1) : 0,
                                                   1e-5);
                g_assert_cmpfloat_with_epsilon(dt_share_grid_at(&g, p), s, 1e-6);
                const double right = x + 1 < g.w ? g.share[y * g.w + x + 1] : 0,
                             up = y + 1 < g.h ? g.share[(y + 1) * g.w + x] : 0,
                             both = x + 1 < g.w && y + 1 < g.h ? g.share[(y + 1) * g.w + x + 1] : 0;
                const DtPoint between = dt_share_grid_point(&g, x + 0.25, y + 0.5);
                g_assert_cmpfloat_with_epsilon(
                    dt_share_grid_at(&g, between),
                    0.5 * (0.75 * s + 0.25 * right) + 0.5 * (0.75 * up + 0.25 * both), 1e-6);
            }
        g_assert_cmpfloat(dt_share_grid_at(&g, dt_point(2 - g.step, 5)), ==, 0);
        g_assert_cmpfloat(dt_share_grid_at(&g, dt_point(NAN, 5)), ==, 0);
        g_assert_cmpfloat(dt_share_grid_at(&g, dt_point(5, 40)), ==, 0);
    }
    g_auto(DtLines) nothing;
    g_auto(DtShareGrid) none = {0};
    dt_lines_init(&nothing);
    dt_share_grid_make(&nothing, slope, NULL, 0.5, 100, &none);
    g_assert_null(none.share);
}

/* In an even square they are squares within one another, tip / share apart, the outermost half as far
 * from the edge: all points lie at these depths, and all sides are there. */
static void test_contours_of_an_even_square(void)
{
    const double tip = 0.5, side = 24, step = 0.1;
    const DtPoint corner[4] = {{3, 4}, {3 + side, 4}, {3 + side, 4 + side}, {3, 4 + side}};
    g_auto(DtLines) region;
    dt_lines_init(&region);
    dt_lines_append(&region, corner, 4, TRUE);
    for (double share = 0.2; share < 1.01; share += 0.4) {
        g_auto(DtShareGrid) g = {0};
        g_auto(DtLines) lines;
        dt_lines_init(&lines);
        dt_share_grid_make(&region, even, &share, step, 1000000, &g);
        dt_contour_lines(&g, tip, &lines);
        const double apart = tip / share;
        double wanted = 0;
        for (double depth = apart / 2; depth < side / 2; depth += apart)
            wanted += 4 * (side - 2 * depth);
        g_assert_cmpfloat_with_epsilon(dt_lines_total_length(&lines), wanted, 0.04 * wanted);
        for (size_t i = 0; i < lines.n_pts; i++) {
            const DtPoint p = lines.pts[i];
            const double x = MIN(p.x - 3, 3 + side - p.x), y = MIN(p.y - 4, 4 + side - p.y);
            if (fabs(x - y) < 3 * step)
                continue; /* the sweeping rounds corners */
            const double level = MIN(x, y) / apart - 0.5;
            g_assert_cmpfloat(fabs(level - round(level)) * apart, <, 1.1 * step);
        }
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/pieces/sorting", test_sorting);
    g_test_add_func("/pieces/number-lists", test_number_lists);
    g_test_add_func("/pieces/dashes", test_dashes);
    g_test_add_func("/pieces/no-dashes", test_no_dashes);
    g_test_add_func("/pieces/bridged-gaps", test_bridged_gaps);
    g_test_add_func("/pieces/share-grids", test_share_grids);
    g_test_add_func("/pieces/contours", test_contours_of_an_even_square);
    return g_test_run();
}
