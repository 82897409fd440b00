/* Outside checks of route and time: published and exact optima, textbook times, and what a reversal
 * value means for ink. */
#include "route/tour.h"

#include "drawtrue/machine.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* TSPLIB95 ----------------------------------------------------------------------------------- */

static DtPoint *read_tsplib(const char *path, uint32_t *n)
{
    g_autofree char *text = NULL;
    g_autoptr(GError) error = NULL;
    g_assert_true(g_file_get_contents(path, &text, NULL, &error));
    const char *at = strstr(text, "DIMENSION");
    g_assert_cmpint(sscanf(at, "DIMENSION%*[ :]%u", n), ==, 1);
    at = strchr(strstr(text, "NODE_COORD_SECTION"), '\n');
    DtPoint *p = g_new(DtPoint, *n);
    for (uint32_t i = 0; i < *n; i++) {
        char *end;
        g_assert_cmpuint(g_ascii_strtoull(at, &end, 10), ==, i + 1);
        p[i].x = g_ascii_strtod(end, &end);
        p[i].y = g_ascii_strtod(end, &end);
        at = end;
    }
    return p;
}

/* The optimum of d493 is 35002 (Reinelt 1991, "TSPLIB - A Traveling Salesman Problem Library", and
 * its list of optimal solutions). A tour below it would mean that lengths are summed wrongly. Two
 * kicks per node, repaired by exchanges of some depth, leave a third of a per cent on average. */
static void test_d493_near_its_published_optimum(void)
{
    enum { OPTIMUM = 35002, SEEDS = 8 };
    uint32_t n;
    g_autofree char *path = g_test_build_filename(G_TEST_DIST, "data", "d493.tsp", NULL);
    g_autofree DtPoint *at = read_tsplib(path, &n);
    g_assert_cmpuint(n, ==, 493);
    DtMetric m = {.kind = DT_METRIC_ROUNDED};
    g_autofree uint32_t *order = g_new(uint32_t, n);
    int64_t sum = 0;
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        g_autoptr(DtTour) t = dt_tour_new(&m, n, at, NULL, NULL);
        dt_tour_find_near(t);
        dt_tour_start(t);
        DtTourBudget b = {.kicks = 1000, .seed = seed};
        dt_tour_improve(t, &b);
        dt_tour_order(t, order);
        int64_t length = 0;
        for (uint32_t i = 0; i < n; i++) {
            DtPoint a = at[order[i]], c = at[order[(i + 1) % n]];
            length += (int64_t)(sqrt((a.x - c.x) * (a.x - c.x) + (a.y - c.y) * (a.y - c.y)) + 0.5);
        }
        g_assert_cmpint(length, ==, t->length);
        g_assert_cmpint(length, >=, OPTIMUM);
        sum += length;
    }
    g_assert_cmpint(sum, <=, SEEDS * OPTIMUM * (1 + 1.0 / 300));
}

/* Exact orders ------------------------------------------------------------------------------- */

static const DtCost cost = {{12, 10}, {150, 80}, {3, 2}, 0.1, 0.15, 30, {0, 0}};

/* The least travel over all orders and directions of n strokes, by dynamic programming over sets
 * (Held and Karp 1962), from home and back. */
static double least_travel_s(DtPoint ends[][2], int n)
{
    enum { MOST = 12 };
    size_t states = (size_t)2 * MOST << n;
    g_autofree double *best = g_new(double, states);
    for (size_t i = 0; i < states; i++)
        best[i] = G_MAXDOUBLE;
    DtPoint home = {0, 0};
    double hop[MOST][2][MOST][2];
    for (int i = 0; i < n; i++)
        for (int a = 0; a < 2; a++) {
            best[((size_t)1 << i) * 2 * MOST + (size_t)(2 * i + a)] =
                dt_route_move_s(&cost, home, ends[i][!a]);
            for (int j = 0; j < n; j++)
                for (int b = 0; b < 2; b++)
                    hop[i][a][j][b] = dt_route_move_s(&cost, ends[i][a], ends[j][b]);
        }
    for (size_t set = 1; set < (size_t)1 << n; set++)
        for (int i = 0; i < n; i++)
            for (int a = 0; a < 2 && set >> i & 1; a++)
                for (int j = 0; j < n; j++)
                    for (int b = 0; b < 2 && !(set >> j & 1); b++) {
                        double *to = &best[(set | (size_t)1 << j) * 2 * MOST + (size_t)(2 * j + b)];
                        double by = best[set * 2 * MOST + (size_t)(2 * i + a)] + hop[i][a][j][!b];
                        *to = MIN(*to, by);
                    }
    double least = G_MAXDOUBLE;
    for (int i = 0; i < n; i++)
        for (int a = 0; a < 2; a++)
            least = MIN(least, best[(((size_t)1 << n) - 1) * 2 * MOST + (size_t)(2 * i + a)] +
                                   dt_route_move_s(&cost, ends[i][a], home));
    return least;
}

static double travel_s(const DtSequence *q)
{
    double s = 0;
    DtPoint at = {0, 0};
    for (size_t i = 0; i < q->n; i++) {
        s += dt_route_move_s(&cost, at, q->pts[q->polylines[i].first]);
        at = q->pts[q->polylines[i].first + q->polylines[i].n - 1];
    }
    return s + dt_route_move_s(&cost, at, dt_point(0, 0));
}

static void test_few_strokes_are_drawn_in_the_best_order(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(1962);
    for (int round = 0; round < 24; round++) {
        int n = round < 20 ? 1 + round % 10 : 11 + round % 2;
        DtPoint ends[12][2];
        DtStroke strokes[12];
        for (int i = 0; i < n; i++) {
            for (int a = 0; a < 2; a++)
                ends[i][a] =
                    dt_point(g_rand_double_range(r, 0, 200), g_rand_double_range(r, 0, 150));
            strokes[i] = (DtStroke){(size_t)(2 * i), 2, 0, DT_INK_OUTLINE, 0, -1};
        }
        DtStrokes set = {ends[0], (size_t)(2 * n), (size_t)(2 * n), strokes, (size_t)n, (size_t)n};
        DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
        o.join = 0;
        o.cut = FALSE;
        g_autoptr(GError) error = NULL;
        g_auto(DtSequence) q = {0};
        g_assert_true(dt_route_order(&set, &cost, NULL, &o, &q, &error));
        g_assert_cmpuint(q.n, ==, n);
        /* The search counts whole microseconds. */
        g_assert_cmpfloat_with_epsilon(travel_s(&q), least_travel_s(ends, n), 2e-5);
    }
}

/* Times -------------------------------------------------------------------------------------- */

/* Rest to rest over h at speed v and acceleration a: h/v + v/a where h >= v^2/a, else 2 sqrt(h/a)
 * (Biagiotti and Melchiorri 2008, "Trajectory Planning for Automatic Machines and Robots", section
 * 3.2, trapezoidal velocity trajectories; from memory). */
static double textbook_s(double h, double v, double a)
{
    return h >= v * v / a ? h / v + v / a : 2 * sqrt(h / a);
}

static void test_hops_take_the_textbook_time(void)
{
    DtCost c = {.speed = {12, 10}, .acceleration = {150, 80}};
    for (double h = 0.01; h < 400; h *= 1.7) {
        DtPoint o = {3, 4};
        g_assert_cmpfloat_with_epsilon(dt_route_move_s(&c, o, dt_point(3 + h, 4)),
                                       textbook_s(h, 12, 150), 1e-9);
        g_assert_cmpfloat_with_epsilon(dt_route_move_s(&c, o, dt_point(3, 4 - h)),
                                       textbook_s(h, 10, 80), 1e-9);
        /* On a diagonal the slower axis gives the pace: its own profile over its own way. */
        g_assert_cmpfloat_with_epsilon(dt_route_move_s(&c, o, dt_point(3 - h, 4 + h)),
                                       textbook_s(h, 10, 80), 1e-9);
    }
}

/* A straight line in many parts takes as long as in one; a square takes four sides from rest to
 * rest where the axes have no pull-in. */
static void test_moves_take_the_textbook_time(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    for (int a = 0; a < 2; a++) {
        p->speed[a] = a ? 10 : 12;
        p->acceleration[a] = a ? 80 : 150;
        p->pull_in[a] = 0;
    }
    p->lift_s = 0.1;
    p->drop_s = 0.15;
    for (int parts = 1; parts < 200; parts = parts * 3) {
        DtMoves m;
        dt_moves_init(&m);
        m.m = g_new0(DtMove, (size_t)parts + 6);
        m.m[m.n++] = (DtMove){.kind = DT_MOVE_PEN_DOWN};
        for (int i = 1; i <= parts; i++)
            m.m[m.n++] =
                (DtMove){.kind = DT_MOVE_DRAW, .to = {30.0 * i / parts, 0}, .feed_mm_s = 8};
        m.m[m.n++] = (DtMove){.kind = DT_MOVE_PEN_UP, .to = {30, 0}};
        DtPoint corners[4] = {{30, 20}, {0, 20}, {0, 0}, {0, 0}};
        for (int i = 0; i < 4; i++)
            m.m[m.n++] = (DtMove){.kind = i < 3 ? DT_MOVE_TRAVEL : DT_MOVE_END, .to = corners[i]};
        DtTimes t;
        dt_machine_time(p, &m, TRUE, &t);
        g_assert_cmpfloat_with_epsilon(t.ink_s, textbook_s(30, 8, 150), 1e-6);
        g_assert_cmpfloat_with_epsilon(t.travel_s,
                                       2 * textbook_s(20, 10, 80) + textbook_s(30, 12, 150), 1e-6);
        g_assert_cmpfloat_with_epsilon(t.lift_s, 0.25, 1e-12);
        g_assert_cmpfloat_with_epsilon(t.total_s, t.ink_s + t.travel_s + t.lift_s, 1e-9);
        for (size_t i = 1; i < m.n; i++)
            g_assert_cmpfloat(t.at_s[i], >=, t.at_s[i - 1]);
        g_assert_cmpfloat_with_epsilon(t.at_s[m.n - 1], t.total_s, 1e-9);
        dt_times_clear(&t);
        dt_moves_clear(&m);
    }
}

/* One way ------------------------------------------------------------------------------------ */

/* Reversal value B (ISO 230-2:2014, 3.14, from memory): the difference between where an axis comes
 * to stand when it approaches from the one side and from the other. An axis that stays behind by B
 * when it is driven towards -. */
typedef struct {
    double at, lost;
} LooseAxis;

static double loose_axis_to(LooseAxis *a, double command)
{
    a->at = CLAMP(a->at, command, command + a->lost);
    return a->at;
}

/* Mean distance along Y between where a line of the fill is meant to be and where it is drawn. */
static double mean_error(const DtSequence *q, double lost)
{
    LooseAxis y = {0, lost};
    double sum = 0;
    size_t n = 0;
    for (size_t i = 0; i < q->n; i++) {
        const DtPolyline *r = &q->polylines[i];
        const DtPoint *p = q->pts + r->first;
        if (r->has_run_in)
            loose_axis_to(&y, r->run_in.y);
        loose_axis_to(&y, p[0].y);
        for (size_t k = 1; k < r->n; k++)
            for (int part = 0; part <= 20; part++) {
                double want = p[k - 1].y + (p[k].y - p[k - 1].y) * part / 20;
                sum += fabs(loose_axis_to(&y, want) - want);
                n++;
            }
    }
    return sum / (double)n;
}

static void test_one_way_takes_the_reversal_value_out_of_a_fill(void)
{
    enum { LINES = 60 };
    DtPoint pts[2 * LINES];
    DtStroke strokes[LINES];
    for (int i = 0; i < LINES; i++) {
        int up = i % 2; /* as a serpentine is drawn */
        pts[2 * i + !up] = dt_point(20 + 0.4 * i, 20 + 0.4 * i);
        pts[2 * i + up] = dt_point(60 + 0.4 * i, 60);
        strokes[i] = (DtStroke){(size_t)(2 * i), 2, 0, DT_INK_FILL, 0, -1};
    }
    DtStrokes set = {pts, 2 * LINES, 2 * LINES, strokes, LINES, LINES};
    double error_mm[2];
    for (int way = 0; way < 2; way++) {
        DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
        o.one_way = way;
        o.one_way_axis = 1;
        g_auto(DtSequence) q = {0};
        g_autoptr(GError) error = NULL;
        g_assert_true(dt_route_order(&set, &cost, NULL, &o, &q, &error));
        error_mm[way] = mean_error(&q, 0.45);
    }
    g_assert_cmpfloat(error_mm[0], >, 0.45 / 4); /* about half of the lines are off by 0.45 mm */
    g_assert_cmpfloat(error_mm[1], <, error_mm[0] / 4);
}

/* The Chinese postman (Edmonds and Johnson 1973, "Matching, Euler tours and the Chinese postman"),
 * worked by hand: what must be gone over twice is a least matching of the places where an odd number of
 * lines meet, but for the two at which an open walk begins and ends. A spine of 40 mm with three ribs of
 * 0.6 mm on its middle has eight of them: the spine's ends, at which the walk begins and ends, and of each
 * rib the tip and the foot, which are 0.6 mm apart and nothing else is nearer. */
static void test_a_comb_takes_the_postmans_length(void)
{
    static const DtPoint pts[] = {{10, 10}, {50, 10},  {20, 10}, {20, 10.6},
                                  {30, 10}, {30, 9.4}, {40, 10}, {40, 10.6}};
    DtStroke strokes[4];
    for (size_t i = 0; i < 4; i++)
        strokes[i] = (DtStroke){2 * i, 2, 0, DT_INK_OUTLINE, 0, -1};
    const DtStrokes set = {
        .pts = (DtPoint *)(uintptr_t)pts, .n_pts = 8, .strokes = strokes, .n = 4};
    const DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    g_auto(DtSequence) q = {0};
    g_assert_true(dt_route_order(&set, &cost, NULL, &o, &q, NULL));
    g_assert_cmpuint(q.n, ==, 1);
    g_assert_cmpfloat_with_epsilon(dt_sequence_ink_mm(&q), 40 + 3 * 0.6 + 3 * 0.6, 1e-9);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/route/d493", test_d493_near_its_published_optimum);
    g_test_add_func("/outside/route/exact", test_few_strokes_are_drawn_in_the_best_order);
    g_test_add_func("/outside/time/hop", test_hops_take_the_textbook_time);
    g_test_add_func("/outside/time/moves", test_moves_take_the_textbook_time);
    g_test_add_func("/outside/route/one-way", test_one_way_takes_the_reversal_value_out_of_a_fill);
    g_test_add_func("/outside/route/postman", test_a_comb_takes_the_postmans_length);
    return g_test_run();
}
