/* sections: pieces are cut where they meet, nothing is lost by it, and few of them are drawn in the best
 * order there is. */
#include "cost.h"
#include "drawing.h"
#include "route/tour.h"

#include <math.h>
#include <string.h>

static void add_line(Drawing *d, double x0, double y0, double x1, double y1)
{
    const DtPoint p[] = {{x0, y0}, {x1, y1}};
    add(d, p, 2, FALSE);
}

static void assert_cut(Drawing *d, size_t sections, uint32_t nodes)
{
    DtSections s;
    g_assert_true(dt_sections_cut(&d->set, 0.2, &s));
    g_assert_cmpuint(s.set.n, ==, sections);
    g_assert_cmpuint(s.n_nodes, ==, nodes);
    g_assert_cmpfloat_with_epsilon(total(&s.set), total(&d->set), 1e-9);
    dt_sections_clear(&s);
    drawing_clear(d);
}

static void test_pieces_are_cut_where_they_meet(void)
{
    Drawing d;
    drawing_init(&d); /* a cross */
    add_line(&d, 0, 0, 10, 0);
    add_line(&d, 5, -5, 5, 5);
    assert_cut(&d, 4, 6);

    drawing_init(&d); /* a T, its stem a little short of the bar */
    add_line(&d, 0, 0, 10, 0);
    add_line(&d, 5, 0.15, 5, 5);
    assert_cut(&d, 3, 5);

    drawing_init(&d); /* too far apart */
    add_line(&d, 0, 0, 10, 0);
    add_line(&d, 5, 0.25, 5, 5);
    assert_cut(&d, 2, 4);

    drawing_init(&d); /* ends at ends */
    add_line(&d, 0, 0, 10, 0);
    add_line(&d, 10.1, 0, 20, 3);
    assert_cut(&d, 2, 4);

    drawing_init(&d); /* the end goes a hair too far */
    add_line(&d, 0, 0, 10, 0);
    add_line(&d, 5, -0.03, 5, 5);
    assert_cut(&d, 3, 5);

    const DtPoint square[] = {{0, 0}, {10, 0}, {10, 10}, {0, 10}};
    drawing_init(&d); /* a loop that nothing touches stays whole */
    add(&d, square, 4, TRUE);
    assert_cut(&d, 1, 0);

    drawing_init(&d); /* one that a line crosses twice */
    add(&d, square, 4, TRUE);
    add_line(&d, -5, 5, 15, 5);
    assert_cut(&d, 5, 6);

    const DtPoint eight[] = {{0, 0}, {10, 10}, {10, 0}, {0, 10}};
    drawing_init(&d); /* one that crosses itself */
    add(&d, eight, 4, TRUE);
    assert_cut(&d, 2, 2);

    const DtPoint nine[] = {{5, 0}, {5, 10}, {0, 10}, {0, 5}, {4.9, 5}};
    drawing_init(&d); /* a line that ends on itself */
    add(&d, nine, 5, FALSE);
    assert_cut(&d, 2, 3);
}

/* Hatch lines with a gap in them lie on one line as exactly as numbers go. They do not cross. */
static void test_parts_of_one_line_are_not_cut(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(20);
    for (int i = 0; i < 3000; i++) {
        const DtPoint from = {g_rand_double_range(r, 0, 150), g_rand_double_range(r, 0, 100)};
        const double angle = g_rand_double_range(r, 0, 6.28), far = g_rand_double_range(r, 5, 90);
        const DtPoint to = {from.x + far * cos(angle), from.y + far * sin(angle)};
        const double gap = g_rand_double_range(r, 0.25, 1) / far,
                     at = g_rand_double_range(r, 0.2, 0.8);
        const DtPoint before[] = {from, dt_point_lerp(from, to, at)};
        const DtPoint behind[] = {dt_point_lerp(from, to, at + gap), to};
        Drawing d;
        drawing_init(&d);
        add(&d, before, 2, FALSE);
        add(&d, behind, 2, FALSE);
        assert_cut(&d, 2, 4);
    }
}

static DtPoint random_point(GRand *r, double side)
{
    return dt_point(g_rand_double_range(r, 0, side), g_rand_double_range(r, 0, side));
}

/* Lines, bends and triangles, and short lines that begin on others. */
static void add_random(Drawing *d, GRand *r, size_t n, double side)
{
    for (size_t i = 0; i < n; i++) {
        const DtPoint p[3] = {random_point(r, side), random_point(r, side), random_point(r, side)};
        const int kind = g_rand_int_range(r, 0, 4);
        if (kind > 1 && i > 0) {
            const DtPiece *on = &d->set.p[g_rand_int_range(r, 0, (gint32)i)];
            const DtPoint at = dt_point_lerp(on->pts[0], on->pts[on->n - 1], g_rand_double(r));
            const double angle = g_rand_double_range(r, 0, 2 * G_PI),
                         mm = g_rand_double_range(r, 0.3, 3);
            add_line(d, at.x, at.y, at.x + mm * cos(angle), at.y + mm * sin(angle));
        } else {
            add(d, p, kind == 0 ? 2 : 3, kind == 1 && i % 3 == 0);
        }
    }
}

static void test_cutting_loses_nothing(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(41);
    for (int round = 0; round < 60; round++) {
        Drawing d;
        DtSections s;
        const double join = round % 4 ? 0.2 : 0;
        drawing_init(&d);
        add_random(&d, r, (size_t)g_rand_int_range(r, 0, 60), 40);
        g_assert_true(dt_sections_cut(&d.set, join, &s));
        g_assert_cmpfloat_with_epsilon(total(&s.set), total(&d.set), 1e-6);
        for (size_t i = 0; i < s.set.n; i++)
            for (int end = 0; end < 2 && s.node[i][0] != DT_NO_NODE; end++) {
                const DtPoint at = s.set.p[i].pts[end ? s.set.p[i].n - 1 : 0];
                g_assert_cmpfloat(dt_point_distance(at, s.at[s.node[i][end]]), <=, join / 4 + 1e-9);
            }
        for (uint32_t i = 0; i < s.n_contacts; i++)
            g_assert_cmpfloat(dt_point_distance(s.at[s.contact[i][0]], s.at[s.contact[i][1]]), <=,
                              join + 1e-6);
        dt_sections_clear(&s);
        drawing_clear(&d);
    }
}

/* Orders ------------------------------------------------------------------------------------- */

/* The least of all orders and directions. */
static void try_orders(DtLinks *l, DtPiece *p, size_t n, size_t done, const DtPiecesTask *task,
                       int64_t *best)
{
    if (done == n) {
        *best = MIN(*best, dt_pieces_cost(&l->metric, p, n, task));
        return;
    }
    for (size_t i = done; i < n; i++)
        for (int backwards = 0; backwards < 2; backwards++) {
            const DtPiece first = p[done], then = p[i];
            p[i] = first;
            p[done] = then;
            p[done].backwards = (uint8_t)backwards;
            try_orders(l, p, n, done + 1, task, best);
            p[done] = first;
            p[i] = then;
        }
}

/* Ways back as long as any, so that the order alone is tried, and neither coats nor a share. */
static void test_few_sections_are_drawn_in_the_best_order(void)
{
    enum { CASES = 120, MOST = 5 };
    g_autoptr(GRand) r = g_rand_new_with_seed(7);
    int done = 0, within = 0;
    while (done < CASES) {
        Drawing d;
        DtSections s;
        drawing_init(&d);
        add_random(&d, r, (size_t)g_rand_int_range(r, 1, 4), 12);
        g_assert_true(dt_sections_cut(&d.set, 0.2, &s));
        gboolean loops = FALSE; /* their start is one more choice */
        for (size_t i = 0; i < s.set.n; i++)
            loops |= s.set.p[i].closed;
        if (s.set.n <= MOST && !loops) {
            g_autoptr(DtLinks) l = dt_links_new(&s, &cost, 0.2, 3);
            g_autofree DtPiece *p = g_memdup2(s.set.p, s.set.n * sizeof *p);
            DtPiecesTask task = {.kicks = 20000, .seed = 1, .links = l};
            for (size_t i = 0; i < s.set.n; i++)
                p[i].section = (uint32_t)i;
            int64_t best = G_MAXINT64;
            try_orders(l, p, s.set.n, 0, &task, &best);
            dt_pieces_order(&l->metric, p, s.set.n, &task);
            const int64_t found = dt_pieces_cost(&l->metric, p, s.set.n, &task);
            g_assert_cmpint(found, >=, best);
            within += (double)found <= 1.02 * (double)best;
            done++;
        }
        dt_sections_clear(&s);
        drawing_clear(&d);
    }
    g_assert_cmpint(100 * within, >=, 95 * CASES);
}

/* Where a loop starts depends on where its neighbours do: in the end none could start elsewhere for less. */
static void test_no_loop_could_start_better(void)
{
    enum { LOOPS = 5, CORNERS = 7 };
    g_autoptr(GRand) r = g_rand_new_with_seed(17);
    const DtMetric m = dt_metric_of_cost(&cost, 0.2);
    for (int round = 0; round < 300; round++) {
        DtPoint pts[LOOPS][CORNERS];
        DtPiece p[LOOPS];
        for (size_t i = 0; i < LOOPS; i++) {
            const DtPoint at = {g_rand_double_range(r, 0, 60), g_rand_double_range(r, 0, 60)};
            const double radius = g_rand_double_range(r, 2, 40);
            for (int k = 0; k < CORNERS; k++)
                pts[i][k] = dt_point(at.x + radius * cos(2 * G_PI * k / CORNERS + (double)i),
                                     at.y + radius * sin(2 * G_PI * k / CORNERS + (double)i));
            p[i] = (DtPiece){.pts = pts[i], .n = CORNERS, .stroke = i, .closed = TRUE};
        }
        const DtPiecesTask task = {.kicks = 50,
                                   .seed = 1,
                                   .end = {60, 0},
                                   .end_anywhere = round % 2 == 0,
                                   .keep = round % 3 == 0};
        dt_pieces_order(&m, p, LOOPS, &task);
        const int64_t found = dt_pieces_cost(&m, p, LOOPS, &task);
        gboolean seen[LOOPS] = {FALSE};
        for (size_t i = 0; i < LOOPS; i++) {
            g_assert_false(seen[p[i].stroke]);
            seen[p[i].stroke] = TRUE;
            const size_t turn = p[i].turn;
            for (p[i].turn = 0; p[i].turn < CORNERS; p[i].turn++)
                g_assert_cmpint(dt_pieces_cost(&m, p, LOOPS, &task), >=, found);
            p[i].turn = turn;
        }
    }
}

/* How often each section is gone over again. */
static void test_no_line_gets_more_than_one_coat_more(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(5);
    size_t ways = 0;
    for (int round = 0; round < 30; round++) {
        Drawing d;
        DtSections s;
        drawing_init(&d);
        add_random(&d, r, (size_t)g_rand_int_range(r, 5, 60), 25);
        g_assert_true(dt_sections_cut(&d.set, 0.2, &s));
        g_autoptr(DtLinks) l = dt_links_new(&s, &cost, 0.2, 3);
        g_autofree DtPiece *p = g_memdup2(s.set.p, s.set.n * sizeof *p);
        g_autofree int *coats = g_new0(int, s.set.n);
        DtPiecesTask task = {.kicks = 500, .seed = 1};
        const double most = 0.1 * total(&s.set);
        double back = 0;
        for (size_t i = 0; i < s.set.n; i++)
            p[i].section = (uint32_t)i;
        dt_links_order(l, p, s.set.n, &task, most);
        for (size_t i = 1; i < s.set.n; i++) {
            const DtPassage by =
                dt_links_between(l, dt_piece_last_end(&p[i - 1]), dt_piece_first_end(&p[i]));
            if (by.kind != DT_LINK_RETRACE)
                continue;
            const DtWayBack *way = dt_links_path(l, by.path);
            g_assert_cmpfloat(way->mm, <=, 3 + 1e-9);
            back += way->mm;
            ways++;
            for (uint32_t k = 0; k < way->n; k++)
                coats[g_array_index(l->steps, uint32_t, way->first + k) / 2]++;
        }
        for (size_t i = 0; i < s.set.n; i++)
            g_assert_cmpint(coats[i], <=, 1);
        g_assert_cmpfloat(back, <=, most + 1e-9);
        dt_sections_clear(&s);
        drawing_clear(&d);
    }
    g_assert_cmpuint(ways, >, 30);
}

/* A run that ends where it begins is drawn from one that passes it, wherever that is. */
static void test_rounds_are_drawn_from_what_passes_them(void)
{
    Drawing d;
    DtSections s;
    drawing_init(&d);
    const DtPoint square[] = {{10, 10}, {20, 10}, {20, 20}, {10, 20}};
    add(&d, square, 4, TRUE);
    add_line(&d, 0, 12, 30, 12);
    g_assert_true(dt_sections_cut(&d.set, 0.2, &s));
    g_assert_cmpuint(s.set.n, ==, 5);
    g_autoptr(DtLinks) l = dt_links_new(&s, &cost, 0.2, 0);
    g_autofree DtPiece *p = g_memdup2(s.set.p, s.set.n * sizeof *p);
    const DtPiecesTask task = {.links = l};
    for (size_t i = 0; i < s.set.n; i++)
        p[i].section = (uint32_t)i;
    const int64_t before = dt_pieces_cost(&l->metric, p, s.set.n, &task);
    dt_links_place_rounds(l, p, s.set.n, &task);
    g_assert_cmpint(dt_pieces_cost(&l->metric, p, s.set.n, &task), <, before);
    for (size_t i = 1; i < s.set.n; i++)
        g_assert_cmpint(
            dt_links_between(l, dt_piece_last_end(&p[i - 1]), dt_piece_first_end(&p[i])).kind, ==,
            DT_LINK_JOIN);
    dt_sections_clear(&s);
    drawing_clear(&d);
}

/* A drawing in one piece where an even number of lines meets everywhere is drawn without a lift (Euler 1736, Hierholzer
 * 1873): the dark squares of a chess board touch at their corners. */
static void test_touching_squares_are_one_run(void)
{
    for (int side = 2; side <= 15; side++) {
        Drawing d;
        DtSections s;
        drawing_init(&d);
        for (int y = 0; y < side; y++)
            for (int x = y % 2; x < side; x += 2) {
                const DtPoint square[] = {
                    {8 * x, 8 * y}, {8 * x + 8, 8 * y}, {8 * x + 8, 8 * y + 8}, {8 * x, 8 * y + 8}};
                add(&d, square, 4, TRUE);
            }
        g_assert_true(dt_sections_cut(&d.set, 0.2, &s));
        g_autoptr(DtLinks) l = dt_links_new(&s, &cost, 0.2, 0);
        g_autofree DtPiece *p = g_memdup2(s.set.p, s.set.n * sizeof *p);
        DtPiecesTask task = {.end_anywhere = TRUE, .seed = 1};
        for (size_t i = 0; i < s.set.n; i++)
            p[i].section = (uint32_t)i;
        dt_links_order(l, p, s.set.n, &task, 0);
        for (size_t i = 1; i < s.set.n; i++)
            g_assert_cmpint(
                dt_links_between(l, dt_piece_last_end(&p[i - 1]), dt_piece_first_end(&p[i])).kind,
                ==, DT_LINK_JOIN);
        dt_sections_clear(&s);
        drawing_clear(&d);
    }
}

/* Whether the pen turns nowhere by more than about 20 degrees. */
static gboolean is_smooth(const DtPiece *p, size_t n)
{
    DtPoint before = {0, 0};
    for (size_t i = 0; i < n; i++)
        for (size_t k = 1; k < dt_piece_count(&p[i]); k++) {
            const DtPoint way = dt_point_sub(dt_piece_at(&p[i], k), dt_piece_at(&p[i], k - 1));
            const DtPoint unit = dt_point_scale(way, 1 / hypot(way.x, way.y));
            if ((i > 0 || k > 1) && dt_point_dot(before, unit) < 0.94)
                return FALSE;
            before = unit;
        }
    return TRUE;
}

/* A round is gone along the way that the pen has to turn less for, whichever way it was given: a circle of 36 sides
 * whose lowest point lies on a line along X, over it or under it. */
static void test_rounds_are_entered_without_a_sharp_turn(void)
{
    enum { SIDES = 36 };
    for (int k = 0; k < 4; k++) {
        Drawing d;
        DtSections s;
        DtPoint circle[SIDES];
        for (int i = 0; i < SIDES; i++) {
            const double angle = (k & 1 ? -1 : 1) * 2 * G_PI * i / SIDES;
            circle[i] = dt_point(15 + 5 * sin(angle), 10 + (k & 2 ? 5 : -5) * cos(angle));
        }
        drawing_init(&d);
        add(&d, circle, SIDES, TRUE);
        add_line(&d, 0, circle[0].y, 15, circle[0].y);
        add_line(&d, 15, circle[0].y, 30, circle[0].y);
        g_assert_true(dt_sections_cut(&d.set, 0.2, &s));
        g_autoptr(DtLinks) l = dt_links_new(&s, &cost, 0.2, 0);
        g_autofree DtPiece *p = g_memdup2(s.set.p, s.set.n * sizeof *p);
        const DtPiecesTask task = {.links = l};
        for (size_t i = 0; i < s.set.n; i++)
            p[i].section = (uint32_t)i;
        g_assert_cmpuint(s.set.n, ==, 3);
        dt_links_place_rounds(l, p, s.set.n, &task);
        g_assert_cmpuint(p[1].stroke, ==, 0); /* between the two lines */
        g_assert_true(is_smooth(p, s.set.n));
        dt_sections_clear(&s);
        drawing_clear(&d);
    }
}

/* A node's neighbours are others than it and its own other end, each once, the cheapest first, with the cost of the
 * step there; no more of them than a list holds or than there are. */
static void test_neighbours_of_ends(void)
{
    static const uint32_t counts[] = {1, 2, 4, 8, 9, 60}; /* lines through one place */
    for (gsize c = 0; c < G_N_ELEMENTS(counts); c++) {
        Drawing d;
        DtSections s;
        drawing_init(&d);
        for (uint32_t i = 0; i < counts[c]; i++) {
            const double angle = 2 * G_PI * i / counts[c];
            add_line(&d, 30, 30, 30 + (10 + i % 7) * cos(angle), 30 + (10 + i % 7) * sin(angle));
        }
        g_assert_true(dt_sections_cut(&d.set, 0.01, &s));
        g_assert_cmpuint(s.set.n, ==, counts[c]);
        g_autoptr(DtLinks) l = dt_links_new(&s, &cost, 0.01, 40);
        const uint32_t n = (uint32_t)l->n;
        g_autofree DtPoint *at = g_new(DtPoint, n);
        g_autofree int32_t *tied = g_new(int32_t, n);
        g_autofree uint32_t *end = g_new(uint32_t, n);
        for (uint32_t i = 0; i < n; i++) {
            at[i] = l->end[i].at;
            tied[i] = (int32_t)(i ^ 1);
            end[i] = i;
        }
        g_autoptr(DtTour) t = dt_tour_new(&l->metric, n, at, tied, NULL);
        dt_tour_set_links(t, l, end);
        dt_tour_find_near(t);
        g_assert_cmpuint(t->width, ==, MIN(16, n - 1));
        for (uint32_t i = 0; i < n; i++) {
            const DtNearNode *near = dt_tour_near(t, (int32_t)i);
            g_assert_true(near[0].node >= 0 || counts[c] == 1);
            for (unsigned k = 0; k < t->width; k++) {
                const int32_t other = near[k].node;
                g_assert_true(other < 0 || k == 0 || near[k - 1].node >= 0);
                if (other < 0)
                    continue;
                g_assert_true(other != (int32_t)i && other != t->tied[i]);
                g_assert_cmpint(near[k].cost, ==, dt_tour_step(t, (int32_t)i, other));
                g_assert_true(k == 0 || near[k].cost >= near[k - 1].cost);
                for (unsigned j = 0; j < k; j++)
                    g_assert_cmpint(near[j].node, !=, other);
            }
        }
        dt_sections_clear(&s);
        drawing_clear(&d);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/sections/loops", test_no_loop_could_start_better);
    g_test_add_func("/sections/cut", test_pieces_are_cut_where_they_meet);
    g_test_add_func("/sections/one-line", test_parts_of_one_line_are_not_cut);
    g_test_add_func("/sections/nothing-lost", test_cutting_loses_nothing);
    g_test_add_func("/sections/best-order", test_few_sections_are_drawn_in_the_best_order);
    g_test_add_func("/sections/coats", test_no_line_gets_more_than_one_coat_more);
    g_test_add_func("/sections/rounds", test_rounds_are_drawn_from_what_passes_them);
    g_test_add_func("/sections/touching-squares", test_touching_squares_are_one_run);
    g_test_add_func("/sections/rounds-smooth", test_rounds_are_entered_without_a_sharp_turn);
    g_test_add_func("/sections/neighbours", test_neighbours_of_ends);
    return g_test_run();
}
