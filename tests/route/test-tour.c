/* tour: whatever is done to it, it stays one tour of all nodes with tied ones side by side, and its
 * length is known exactly. */
#include "route/tour.h"
#include "route/tour-private.h"
#include "route/near.h"
#include "route/pieces.h"
#include "route/search.h"
#include "drawtrue/work.h"

#include <math.h>
#include <time.h>

static void assert_sound(DtTour *t)
{
    g_autofree uint8_t *seen = g_new0(uint8_t, t->n);
    for (uint32_t i = 0; i < t->n; i++) {
        int32_t a = t->order[i], b = t->order[(i + 1) % t->n], c = t->order[(i + t->n - 1) % t->n];
        g_assert_cmpint(t->pos[a], ==, (int)i);
        g_assert_false(seen[a]++);
        if (t->tied[a] >= 0)
            g_assert_true(t->tied[a] == b || t->tied[a] == c);
    }
    int64_t known = t->length;
    dt_tour_measure(t);
    g_assert_cmpint(known, ==, t->length);
}

static void test_tours_stay_sound(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(31);
    DtCost cost = {{12, 10}, {150, 80}, {3, 0}, 0.1, 0.15, 30, {0, 0}};
    for (int round = 0; round < 80; round++) {
        uint32_t n = (uint32_t)g_rand_int_range(r, 1, 300) & ~1u;
        double grid = round % 3 ? 1000 : 4; /* many coincident nodes now and then */
        g_autofree DtPoint *at = g_new(DtPoint, n + 1);
        g_autofree int32_t *tied = g_new(int32_t, n + 1);
        g_autofree uint8_t *side = g_new0(uint8_t, n + 1);
        gboolean directed = round % 4 == 1;
        for (uint32_t i = 0; i < n; i++) {
            at[i] = dt_point(floor(g_rand_double(r) * grid), floor(g_rand_double(r) * grid));
            tied[i] = directed || (i / 2) % 3 ? (int32_t)(i ^ 1) : -1;
            if (directed)
                side[i] = i & 1 ? DT_SIDE_EXIT : DT_SIDE_ENTRY;
        }
        DtMetric m = dt_metric_of_cost(&cost, 1);
        g_autoptr(DtTour) t = dt_tour_new(&m, n, at, tied, side);
        dt_tour_find_near(t);
        dt_tour_start(t);
        assert_sound(t);
        int64_t start = t->length;
        DtTourBudget b = {.kicks = 300, .seed = (uint64_t)round};
        dt_tour_improve(t, &b);
        assert_sound(t);
        g_assert_cmpint(t->length, <=, start);
        for (uint32_t i = 0; directed && i < n; i++) {
            int32_t a = t->order[i], c = t->order[(i + 1) % n];
            if (t->tied[a] != c)
                g_assert_cmpint(t->side[a] & t->side[c], ==, 0);
        }
    }
}

/* Whether the graph that is left by k + 1 cuts and their new steps is one tour: it is walked node by node. */
static gboolean walk_is_tour(const int32_t (*end)[2], int k, int n)
{
    int32_t at = 0, from = -1;
    int passed = 0;
    do {
        int32_t way[2] = {(at + 1) % n, (at + n - 1) % n};
        for (int i = 0; i < k; i++)
            for (int side = 0; side < 2; side++) {
                if (end[i][side] != at)
                    continue;
                const int32_t to = side ? end[(i + 1) % k][0] : end[(i + k - 1) % k][1];
                for (int w = 0; w < 2; w++)
                    if (way[w] == end[i][!side])
                        way[w] = to;
            }
        const int32_t next = way[0] != from ? way[0] : way[1];
        from = at;
        at = next;
        passed++;
    } while (at != 0 && passed <= n);
    return passed == n;
}

static void test_closings_are_those_that_leave_one_tour(void)
{
    enum { N = 40 };
    g_autoptr(GRand) r = g_rand_new_with_seed(17);
    unsigned left_one = 0, left_more = 0;
    for (int round = 0; round < 2000; round++) {
        const int k = 1 + round % (DT_TOUR_DEPTH - 1);
        int32_t end[DT_TOUR_DEPTH][2];
        uint8_t cut[N] = {0};
        DtCuts cuts = {0};
        for (int i = 0; i < k; i++) { /* no two cuts side by side, for the walk's sake */
            int gap;
            do {
                gap = g_rand_int_range(r, 0, N);
            } while (cut[gap] || cut[(gap + 1) % N] || cut[(gap + N - 1) % N]);
            cut[gap] = 1;
            const gboolean first_before = g_rand_boolean(r);
            end[i][!first_before] = gap;
            end[i][first_before] = (gap + 1) % N;
            dt_cuts_add(&cuts, i, gap, first_before);
        }
        const uint32_t closings = dt_cuts_closings()[cuts.arrangement];
        for (int gap = 0; gap < N; gap++) {
            if (cut[gap] || cut[(gap + 1) % N] || cut[(gap + N - 1) % N])
                continue;
            int segment = 0;
            for (int i = 0; i < k; i++)
                segment += cuts.gap[i] < gap;
            for (int before = 0; before < 2; before++) {
                end[k][!before] = gap;
                end[k][before] = (gap + 1) % N;
                const gboolean one = walk_is_tour((const int32_t(*)[2])end, k + 1, N);
                g_assert_cmpint(closings >> (2 * (segment % k) + before) & 1, ==, one);
                left_one += one ? 1 : 0;
                left_more += one ? 0 : 1;
            }
        }
    }
    g_assert_cmpuint(left_one, >, 1000);
    g_assert_cmpuint(left_more, >, 1000);
}

/* The start of a tour through points drawn evenly from a square. */
static DtTour *tour_of_square(GRand *r, uint32_t n, double side)
{
    const DtMetric m = {.kind = DT_METRIC_ROUNDED};
    g_autofree DtPoint *at = g_new(DtPoint, n);
    for (uint32_t i = 0; i < n; i++)
        at[i] = dt_point(g_rand_double(r) * side, g_rand_double(r) * side);
    DtTour *t = dt_tour_new(&m, n, at, NULL, NULL);
    dt_tour_find_near(t);
    dt_tour_start(t);
    return t;
}

static void test_what_is_undone_is_as_it_was(void)
{
    enum { N = 200 };
    g_autoptr(GRand) r = g_rand_new_with_seed(23);
    g_autoptr(DtTour) t = tour_of_square(r, N, 1000);
    DtSearch s;
    dt_search_init(&s, t);
    for (int round = 0; round < 50; round++) {
        g_autofree DtPlace *old = g_memdup2(s.place - 1, (N + 2) * sizeof *old);
        const uint32_t first = (uint32_t)g_rand_int_range(r, 0, N);
        const uint32_t gap[4] = {first, first + 7, first + 8, first + 31};
        int64_t cost = 0, length = 0;
        for (int i = 0; i < N; i++)
            length += s.place[i].step;
        cost += dt_search_bridge(&s, gap);
        cost -= dt_search_settle(&s, TRUE);
        for (int i = 0; i < N; i++) {
            g_assert_cmpint(s.pos[s.place[i].node], ==, i);
            g_assert_cmpint(s.place[i].step, ==,
                            dt_tour_step(t, s.place[i].node, s.place[i + 1].node));
            length -= s.place[i].step;
        }
        g_assert_cmpint(length, ==, -cost);
        dt_search_undo(&s);
        g_assert_cmpmem(s.place - 1, (N + 2) * sizeof *old, old, (N + 2) * sizeof *old);
        for (int i = 0; i < N; i++)
            g_assert_cmpint(s.pos[s.place[i].node], ==, i);
    }
    dt_search_finish(&s);
}

/* A node with another neighbour in the tour since it was last examined without success is examined again. */
static void test_all_were_looked_at_where_they_are_left(void)
{
    enum { N = 600 };
    g_autoptr(GRand) r = g_rand_new_with_seed(29);
    g_autoptr(DtTour) t = tour_of_square(r, N, 1000);
    DtSearch s;
    dt_search_init(&s, t);
    for (int32_t a = 0; a < N; a++)
        dt_search_look_at(&s, a);
    g_assert_cmpint(dt_search_settle(&s, FALSE), >, 0);
    for (int round = 0; round < 100; round++) {
        for (int i = 0; i < N; i++) {
            const int32_t a = s.place[i].node, before = s.place[i - 1].node,
                          after = s.place[i + 1].node;
            g_assert_cmpint(s.vain[a][0], ==, MIN(before, after));
            g_assert_cmpint(s.vain[a][1], ==, MAX(before, after));
        }
        const uint32_t first = (uint32_t)g_rand_int_range(r, 0, N);
        const uint32_t gap[4] = {first, first + 7, first + 18, first + 31};
        dt_search_bridge(&s, gap);
        dt_search_settle(&s, TRUE);
        dt_search_forget(&s);
    }
    dt_search_finish(&s);
}

/* What is gained where the steps (a,b) and (c,d), b after a and d after c, become (a,c) and (b,d). */
static int64_t gain_of_two(const DtTour *t, int32_t a, int32_t b, int32_t c, int32_t d)
{
    if (a == c || a == d || b == c || t->tied[a] == b || t->tied[c] == d)
        return 0;
    return (int64_t)dt_tour_step(t, a, b) + dt_tour_step(t, c, d) - dt_tour_step(t, a, c) -
           dt_tour_step(t, b, d);
}

static int32_t beside(const DtTour *t, int32_t a, int by)
{
    return t->order[(t->pos[a] + by + (int32_t)t->n) % (int32_t)t->n];
}

static gboolean is_near(const DtTour *t, int32_t a, int32_t b)
{
    for (unsigned k = 0; k < t->width; k++)
        if (dt_tour_near(t, a)[k].node == b)
            return TRUE;
    return FALSE;
}

/* Two steps of a settled tour are hardly ever worth exchanging for one that is shorter than both, between neighbours, and
 * what closes the tour again. A few are: nodes with the neighbours with which they were examined in vain before are not
 * examined again. */
static void test_no_two_steps_are_worth_exchanging(void)
{
    enum { N = 400, ROUNDS = 8 };
    int worth = 0;
    g_autoptr(GRand) r = g_rand_new_with_seed(53);
    for (int round = 0; round < ROUNDS; round++) {
        DtPoint at[N];
        int32_t tied[N];
        DtCost cost = {{12, 10}, {150, 80}, {3, 0}, 0.1, 0.15, 30, {0, 0}};
        for (int i = 0; i < N; i++) {
            at[i] = dt_point(g_rand_double_range(r, 0, 200), g_rand_double_range(r, 0, 150));
            tied[i] = round % 2 ? i ^ 1 : -1;
        }
        const DtMetric m = dt_metric_of_cost(&cost, -1);
        g_autoptr(DtTour) t = dt_tour_new(&m, N, at, tied, NULL);
        dt_tour_find_near(t);
        dt_tour_start(t);
        const int64_t start = t->length;
        dt_tour_improve(t, &(DtTourBudget){.kicks = 0});
        g_assert_cmpint(t->length, <, start);
        for (int32_t b = 0; b < N; b++)
            for (unsigned k = 0; k < t->width; k++) {
                const int32_t c = dt_tour_near(t, b)[k].node;
                if (c < 0)
                    break;
                for (int way = 1; way >= -1; way -= 2) { /* one side of both, and the other */
                    const int32_t a = beside(t, b, way), d = beside(t, c, way);
                    const int32_t joined = dt_tour_near(t, b)[k].cost;
                    if (joined < MIN(dt_tour_step(t, a, b), dt_tour_step(t, c, d)) &&
                        is_near(t, c, b))
                        worth += gain_of_two(t, a, b, d, c) > 0;
                }
            }
    }
    g_assert_cmpint(worth, <=, ROUNDS * N / 200);
}

/* The shortest tour by dynamic programming over the sets that were visited (Held and Karp 1962). */
static int64_t shortest_of(const DtTour *t)
{
    enum { MOST = 11 };
    const uint32_t n = t->n - 1, all = (1u << n) - 1; /* the last node is where it begins */
    g_autofree int64_t *best = g_new(int64_t, ((gsize)all + 1) * MOST);
    int64_t shortest = G_MAXINT64;
    g_assert_cmpuint(n, <=, MOST);
    for (uint32_t set = 1; set <= all; set++)
        for (uint32_t last = 0; last < n; last++) {
            const uint32_t before = set & ~(1u << last);
            int64_t *to = &best[(gsize)set * MOST + last];
            *to = before == 0 && set >> last & 1 ? dt_tour_step(t, (int32_t)n, (int32_t)last)
                                                 : G_MAXINT32 * (int64_t)100;
            for (uint32_t k = 0; set >> last & 1 && k < n; k++)
                if (before >> k & 1)
                    *to = MIN(*to, best[(gsize)before * MOST + k] +
                                       dt_tour_step(t, (int32_t)k, (int32_t)last));
            if (set == all)
                shortest = MIN(shortest, *to + dt_tour_step(t, (int32_t)last, (int32_t)n));
        }
    return shortest;
}

static void test_few_nodes_get_the_shortest_tour(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(59);
    for (int round = 0; round < 60; round++) {
        const uint32_t n = (uint32_t)g_rand_int_range(r, 5, 12);
        DtPoint at[12];
        DtCost cost = {{12, 10}, {150, 80}, {3, 0}, 0.1, 0.15, 30, {0, 0}};
        for (uint32_t i = 0; i < n; i++)
            at[i] = dt_point(g_rand_double_range(r, 0, 100), g_rand_double_range(r, 0, 100));
        const DtMetric m = dt_metric_of_cost(&cost, -1);
        g_autoptr(DtTour) t = dt_tour_new(&m, n, at, NULL, NULL);
        dt_tour_find_near(t);
        dt_tour_start(t);
        dt_tour_improve(t, &(DtTourBudget){.kicks = 200, .seed = 1});
        g_assert_cmpint(t->length, ==, shortest_of(t));
    }
}

/* Kicks without end are ended by their time; where it is over before them, there are none. */
static void test_time_ends_the_kicks(void)
{
    enum { N = 100 };
    int64_t length[3];
    for (int i = 0; i < 3; i++) {
        g_autoptr(GRand) r = g_rand_new_with_seed(61);
        g_autoptr(DtTour) t = tour_of_square(r, N, 1000);
        const double now = (double)clock() / CLOCKS_PER_SEC;
        const DtTourBudget budgets[] = {{.kicks = 0},
                                        {.kicks = G_MAXUINT64, .until_s = now / 2},
                                        {.kicks = G_MAXUINT64, .until_s = now + 0.3}};
        dt_tour_improve(t, &budgets[i]);
        length[i] = t->length;
    }
    g_assert_cmpint(length[1], ==, length[0]);
    g_assert_cmpint(length[2], <, length[0]);
}

/* What kicks gain in the order of many short lines, some of which are loops instead, as a share of the cost
 * without them. */
static double gain_of_kicks(size_t loops)
{
    enum { N = 20100, KICKS = 6000 };
    g_autoptr(GRand) r = g_rand_new_with_seed(71);
    g_autofree DtPoint *pts = g_new(DtPoint, 3 * N);
    for (int i = 0; i < 3 * N; i++)
        pts[i] = i % 3 ? dt_point_add(pts[i - 1], dt_point(g_rand_double(r), g_rand_double(r)))
                       : dt_point(g_rand_double_range(r, 0, 300), g_rand_double_range(r, 0, 200));
    const DtCost cost = {{12, 10}, {150, 80}, {3, 0}, 0.1, 0.15, 30, {0, 0}};
    const DtMetric m = dt_metric_of_cost(&cost, -1);
    int64_t sum[2];
    for (int with = 0; with < 2; with++) {
        g_autofree DtPiece *p = g_new0(DtPiece, N);
        const DtPiecesTask task = {.kicks = with ? KICKS : 0, .seed = 1, .to = 1};
        for (size_t i = 0; i < N; i++)
            p[i] = (DtPiece){.pts = pts + 3 * i, .n = 3, .closed = i < loops};
        dt_pieces_order(&m, p, N, &task);
        sum[with] = dt_pieces_cost(&m, p, N, &task);
    }
    return 1 - (double)sum[1] / (double)sum[0];
}

/* A few loops among many lines do not take their kicks from them. */
static void test_few_loops_leave_the_kicks_to_the_lines(void)
{
    const double lines = gain_of_kicks(0), with_loops = gain_of_kicks(5);
    g_assert_cmpfloat(lines, >, 0);
    g_assert_cmpfloat(with_loops, >, 0.6 * lines);
}

/* The quadrant around a node in which another one lies. */
static int quadrant_around(const DtTour *t, int32_t self, int32_t other)
{
    const double dx = t->at[other].x - t->at[self].x, dy = t->at[other].y - t->at[self].y;
    return (dx < 0 ? 1 : 0) + (dy < 0 ? 2 : 0);
}

/* The four nearest nodes are neighbours, and the nearest one in each quadrant. Few enough points for
 * every quadrant to be searched to its end; no two share a coordinate. */
static void test_neighbours_are_on_all_sides(void)
{
    enum { N = 200, NEAREST = 4 };
    g_autoptr(GRand) r = g_rand_new_with_seed(37);
    g_autoptr(DtTour) t = tour_of_square(r, N, 1e8);
    for (int32_t a = 0; a < N; a++) {
        const DtNearNode *near = dt_tour_near(t, a);
        for (int32_t b = 0; b < N; b++) {
            if (b == a)
                continue;
            const int quadrant = quadrant_around(t, a, b);
            const int32_t step = dt_tour_step(t, a, b);
            int nearer = 0, nearer_there = 0;
            gboolean is_near = FALSE;
            for (int32_t c = 0; c < N; c++)
                if (c != a && dt_tour_step(t, a, c) < step) {
                    nearer++;
                    nearer_there += quadrant_around(t, a, c) == quadrant;
                }
            for (unsigned k = 0; k < t->width; k++)
                is_near |= near[k].node == b && near[k].cost == step;
            g_assert_true(is_near || (nearer >= NEAREST && nearer_there > 0));
        }
    }
}

/* Whether all steps from one node to another one cost at most so much, either way round. */
static gboolean is_joined_at(const DtTour *t, int32_t a, int32_t b, int32_t most)
{
    const int32_t n = (int32_t)t->n;
    for (int way = 1; way >= -1; way -= 2) {
        int32_t at = t->pos[a];
        while (t->order[at] != b) {
            const int32_t next = (at + way + n) % n;
            if (dt_tour_step(t, t->order[at], t->order[next]) > most)
                break;
            at = next;
        }
        if (t->order[at] == b)
            return TRUE;
    }
    return FALSE;
}

/* Of greedy fragments: the nearest neighbours that are not joined were ends of one fragment, or one of them had both its
 * steps already, none of them dearer. */
static void test_a_start_takes_the_cheapest_steps_first(void)
{
    enum { N = 500, NEAREST = 8 };
    static const double sides[] = {100, 30000, 5e8}; /* costs of up to 7, 15 and 29 bits */
    g_autoptr(GRand) r = g_rand_new_with_seed(41);
    for (gsize i = 0; i < G_N_ELEMENTS(sides); i++) {
        g_autoptr(DtTour) t = tour_of_square(r, N, sides[i]);
        for (int32_t a = 0; a < N; a++)
            for (unsigned k = 0; k < NEAREST; k++) {
                const DtNearNode near = dt_tour_near(t, a)[k];
                gboolean is_full = FALSE;
                for (int end = 0; end < 2; end++) {
                    const int32_t node = end ? near.node : a, at = t->pos[node];
                    const int32_t before = t->order[(at + N - 1) % N],
                                  after = t->order[(at + 1) % N];
                    is_full |= dt_tour_step(t, node, before) <= near.cost &&
                               dt_tour_step(t, node, after) <= near.cost;
                }
                g_assert_true(is_full || is_joined_at(t, a, near.node, near.cost));
            }
    }
}

static gboolean odd(uint32_t item, const void *user)
{
    (void)user;
    return item & 1;
}

static void test_near_finds_what_a_full_search_finds(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(5);
    for (int round = 0; round < 60; round++) {
        enum { N = 400 };
        DtPoint at[N];
        double grid = round % 2 ? 1e6 : 6;
        for (int i = 0; i < N; i++)
            at[i] = dt_point(floor(g_rand_double(r) * grid), floor(g_rand_double(r) * grid));
        DtNear tree;
        dt_near_init(&tree, at, NULL, N);
        DtNearQuery q = {.at = at[round], .k = 9, .quadrant = round % 5 - 1, .accept = odd};
        dt_near_find(&tree, &q);
        double best[N];
        unsigned n = 0;
        for (int i = 1; i < N; i += 2) {
            double dx = at[i].x - q.at.x, dy = at[i].y - q.at.y;
            /* Half-open quadrants that share no point: each holds one of its two edges. */
            gboolean in[4] = {(dx > 0 && dy >= 0) || (dx == 0 && dy == 0),
                              (dx < 0 && dy > 0) || (dx == 0 && dy > 0), dx >= 0 && dy < 0,
                              dx < 0 && dy <= 0};
            if (q.quadrant >= 0 && !in[q.quadrant])
                continue;
            best[n++] = dx * dx + dy * dy;
        }
        for (unsigned i = 0; i < MIN(n, q.k); i++) {
            unsigned least = i;
            for (unsigned j = i + 1; j < n; j++)
                if (best[j] < best[least])
                    least = j;
            double d = best[least];
            best[least] = best[i];
            best[i] = d;
        }
        g_assert_cmpuint(q.found, ==, MIN(n, q.k));
        for (unsigned i = 0; i < q.found; i++)
            g_assert_cmpfloat(q.d2[i], ==, best[i]);
        dt_near_clear(&tree);
    }
}

static void test_the_curve_is_an_order_of_neighbours(void)
{
    /* On a full grid of a power of two each step of the Hilbert curve is to a neighbour, wherever the grid lies and
     * however fine it is. */
    enum { SIDE = 16 };
    static const double fine[] = {0.001, 0.3, 1, 40};
    DtPoint at[SIDE * SIDE];
    uint32_t order[SIDE * SIDE];
    for (gsize k = 0; k < G_N_ELEMENTS(fine); k++) {
        gboolean seen[SIDE * SIDE] = {FALSE};
        for (int i = 0; i < SIDE * SIDE; i++)
            at[i] = dt_point((i % SIDE) * fine[k] - 5, (i / SIDE) * fine[k] + 70);
        dt_near_curve(at, SIDE * SIDE, order);
        for (int i = 0; i < SIDE * SIDE; i++) {
            g_assert_false(seen[order[i]]);
            seen[order[i]] = TRUE;
            if (i == 0)
                continue;
            const DtPoint a = at[order[i - 1]], b = at[order[i]];
            g_assert_cmpfloat_with_epsilon((fabs(a.x - b.x) + fabs(a.y - b.y)) / fine[k], 1, 1e-6);
        }
    }
}

/* Where the work was cancelled nobody has neighbours, and what is left is joined as it comes. */
static void test_a_start_of_cancelled_work_is_sound(void)
{
    enum { N = 120 };
    g_autoptr(DtWork) work = dt_work_new(NULL, NULL);
    g_autoptr(GRand) r = g_rand_new_with_seed(61);
    dt_work_cancel(work);
    DtWork *before = dt_work_enter(work);
    for (int kind = 0; kind < 3; kind++) { /* free, tied, tied and of one direction each */
        DtPoint at[N];
        int32_t tied[N];
        uint8_t side[N] = {0};
        DtCost cost = {{12, 10}, {150, 80}, {3, 0}, 0.1, 0.15, 30, {0, 0}};
        for (int i = 0; i < N; i++) {
            at[i] = dt_point(g_rand_double_range(r, 0, 100), g_rand_double_range(r, 0, 100));
            tied[i] = kind > 0 ? i ^ 1 : -1;
            side[i] = kind < 2 ? DT_SIDE_FREE : i & 1 ? DT_SIDE_EXIT : DT_SIDE_ENTRY;
        }
        const DtMetric m = dt_metric_of_cost(&cost, 1);
        g_autoptr(DtTour) t = dt_tour_new(&m, N, at, tied, side);
        dt_tour_find_near(t);
        dt_tour_start(t);
        assert_sound(t);
        for (int i = 0; i < N; i++) {
            const int32_t a = t->order[i], b = t->order[(i + 1) % N];
            if (t->tied[a] != b)
                g_assert_cmpint(t->side[a] & t->side[b] & DT_SIDE_DIRECTED, ==, 0);
        }
    }
    dt_work_leave(before);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/tour/two-steps", test_no_two_steps_are_worth_exchanging);
    g_test_add_func("/tour/shortest", test_few_nodes_get_the_shortest_tour);
    g_test_add_func("/tour/time", test_time_ends_the_kicks);
    g_test_add_func("/tour/few-loops", test_few_loops_leave_the_kicks_to_the_lines);
    g_test_add_func("/tour/closings", test_closings_are_those_that_leave_one_tour);
    g_test_add_func("/tour/looked-at", test_all_were_looked_at_where_they_are_left);
    g_test_add_func("/tour/undo", test_what_is_undone_is_as_it_was);
    g_test_add_func("/tour/stays-sound", test_tours_stay_sound);
    g_test_add_func("/tour/sides", test_neighbours_are_on_all_sides);
    g_test_add_func("/tour/start", test_a_start_takes_the_cheapest_steps_first);
    g_test_add_func("/tour/near", test_near_finds_what_a_full_search_finds);
    g_test_add_func("/tour/cancelled", test_a_start_of_cancelled_work_is_sound);
    g_test_add_func("/tour/curve", test_the_curve_is_an_order_of_neighbours);
    return g_test_run();
}
