/* splice: loops that hang on a line, on one another and on themselves become one way, which draws every
 * edge once and nothing else. */
#include "drawing.h"

#include <math.h>

enum { MOST_CORNERS = 7 };

/* A point on a random edge of a piece, not at its ends. */
static DtPoint on_edge(GRand *r, const DtPiece *p)
{
    const size_t e = (size_t)g_rand_int_range(r, 0, (gint32)edges_of(p));
    return dt_point_lerp(vertex(p, e), vertex(p, e + 1), g_rand_double_range(r, 0.1, 0.9));
}

/* A loop of a few corners, one of which is at `at`; drawn either way, begun at any corner. */
static void add_loop(Drawing *d, GRand *r, DtPoint at)
{
    DtPoint pts[MOST_CORNERS];
    const int n = g_rand_int_range(r, 3, MOST_CORNERS + 1), first = g_rand_int_range(r, 0, n);
    const double radius = g_rand_double_range(r, 1, 6), turn = g_rand_double_range(r, 0, 7);
    const DtPoint centre = dt_point(at.x - radius * cos(turn), at.y - radius * sin(turn));
    const int way = g_rand_boolean(r) ? 1 : -1;
    for (int i = 0; i < n; i++) {
        const double a = turn + way * 2 * G_PI * i / n;
        pts[(i + first) % n] =
            i == 0 ? at : dt_point(centre.x + radius * cos(a), centre.y + radius * sin(a));
    }
    add(d, pts, (size_t)n, TRUE);
}

/* Each loop hangs on one that was there before it. The root is a line or a loop itself. */
static void test_one_way_draws_every_edge_once(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(17);
    for (int round = 0; round < 300; round++) {
        Drawing d;
        drawing_init(&d);
        const DtPoint line[] = {{0, 0}, {40, 0}, {40, 25}};
        if (round % 3)
            add(&d, line, 3, FALSE);
        else
            add_loop(&d, r, dt_point(0, 0));
        const int loops = g_rand_int_range(r, 1, 12);
        for (int i = 0; i < loops; i++)
            add_loop(&d, r, on_edge(r, &d.set.p[g_rand_int_range(r, 0, (gint32)d.set.n)]));
        const double sum = total(&d.set);
        g_autofree DtPiece *given = g_memdup2(d.set.p, d.set.n * sizeof *given);
        const size_t n = d.set.n;
        dt_pieces_splice(&d.set, 1e-7, d.owned);
        g_assert_cmpuint(d.set.n, ==, 1);
        g_assert_cmpfloat_with_epsilon(length(&d.set.p[0]), sum, 1e-4);
        for (size_t i = 0; i < n; i++)
            for (size_t k = 0; k < given[i].n; k++) {
                const DtPoint a = given[i].pts[k], b = given[i].pts[(k + 1) % given[i].n];
                g_assert_cmpfloat(distance_to(&d.set.p[0], a), <, 1e-6);
                if (given[i].closed)
                    g_assert_cmpfloat(distance_to(&d.set.p[0], dt_point_lerp(a, b, 0.4)), <, 1e-6);
            }
        drawing_clear(&d);
    }
}

/* Across a gap within the join the pen goes there and back; a wider one is lifted over. */
static void test_gaps_count_twice(void)
{
    const DtPoint line[] = {{0, 0}, {20, 0}};
    const DtPoint square[] = {{8, 0.15}, {12, 0.15}, {12, 4}, {8, 4}};
    for (int wide = 0; wide < 2; wide++) {
        Drawing d;
        drawing_init(&d);
        add(&d, line, 2, FALSE);
        add(&d, square, 4, TRUE);
        dt_pieces_splice(&d.set, wide ? 0.14 : 0.16, d.owned);
        g_assert_cmpuint(d.set.n, ==, wide ? 2 : 1);
        if (!wide)
            g_assert_cmpfloat_with_epsilon(length(&d.set.p[0]), 20 + 2 * (4 + 3.85) + 2 * 0.15,
                                           1e-9);
        drawing_clear(&d);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/route/splice/once", test_one_way_draws_every_edge_once);
    g_test_add_func("/route/splice/gaps", test_gaps_count_twice);
    return g_test_run();
}
