/* route: every stroke drawn once, in less time than as given, and bad input told apart. */
#include "drawtrue/route.h"
#include "drawtrue/work.h"

#include <gio/gio.h>
#include <math.h>
#include <string.h>

static const DtCost cost = {{12, 10}, {150, 80}, {3, 2}, 0.1, 0.15, 30, {0, 0}};

static DtColour grey(double v)
{
    return (DtColour){v, v, v, 1};
}

/* A set of strokes that owns its arrays. */
typedef struct {
    DtStrokes s;
} Set;

static void set_add(Set *set, const DtPoint *pts, size_t n, gboolean closed, DtInkKind kind,
                    unsigned pen)
{
    DtStrokes *s = &set->s;
    s->pts = g_renew(DtPoint, s->pts, s->n_pts + n + 1);
    s->strokes = g_renew(DtStroke, s->strokes, s->n + 1);
    if (n > 0)
        memcpy(s->pts + s->n_pts, pts, n * sizeof *pts);
    s->strokes[s->n++] = (DtStroke){s->n_pts, n, (uint8_t)closed, (uint8_t)kind, (uint16_t)pen, -1};
    s->n_pts += n;
}

static void set_clear(Set *set)
{
    g_free(set->s.pts);
    g_free(set->s.strokes);
    memset(set, 0, sizeof *set);
}

static DtPoint random_point(GRand *r, double side)
{
    return dt_point(g_rand_double_range(r, 0, side), g_rand_double_range(r, 0, side));
}

static void add_random(Set *set, GRand *r, size_t n, unsigned pens, double side)
{
    for (size_t i = 0; i < n; i++) {
        DtPoint p[6];
        size_t count = (size_t)g_rand_int_range(r, 1, 7);
        p[0] = random_point(r, side);
        for (size_t k = 1; k < count; k++)
            p[k] = dt_point(p[k - 1].x + g_rand_double_range(r, -5, 5),
                            p[k - 1].y + g_rand_double_range(r, -5, 5));
        set_add(set, p, count, count > 2 && g_rand_boolean(r),
                g_rand_boolean(r) ? DT_INK_FILL : DT_INK_OUTLINE,
                (unsigned)g_rand_int_range(r, 0, (gint32)pens));
    }
}

static double stroke_length(const DtStrokes *s, unsigned pen)
{
    double sum = 0;
    for (size_t i = 0; i < s->n; i++)
        sum += s->strokes[i].pen == pen ? dt_strokes_length(s, i) : 0;
    return sum;
}

static double run_length(const DtSequence *q, unsigned pen)
{
    double sum = 0;
    for (size_t i = 0; i < q->n; i++)
        for (size_t j = 1; j < q->polylines[i].n && q->polylines[i].pen == pen; j++)
            sum += dt_point_distance(q->pts[q->polylines[i].first + j - 1],
                                     q->pts[q->polylines[i].first + j]);
    return sum;
}

static double off_ink(const DtSequence *q, unsigned pen, DtPoint p)
{
    double least = G_MAXDOUBLE;
    for (size_t i = 0; i < q->n; i++) {
        const DtPolyline *r = &q->polylines[i];
        const DtPoint *at = q->pts + r->first;
        for (size_t j = 0; j < r->n && r->pen == pen; j++)
            least = MIN(least, dt_point_segment_distance(p, at[j > 0 ? j - 1 : 0], at[j]));
    }
    return least;
}

/* Every part of every stroke is drawn by its pen, and nothing else but `more` mm at most. */
static void assert_same_ink(const DtStrokes *s, const DtSequence *q, unsigned pens, double more)
{
    for (unsigned pen = 0; pen < pens; pen++) {
        g_assert_cmpfloat(run_length(q, pen), >=, stroke_length(s, pen) - 1e-9);
        g_assert_cmpfloat(run_length(q, pen), <=, stroke_length(s, pen) + more + 1e-9);
    }
    for (size_t i = 0; i < s->n; i++) {
        const DtStroke *k = &s->strokes[i];
        for (size_t j = 0; j < k->n; j++) {
            DtPoint a = s->pts[k->first + j], b = s->pts[k->first + (j + 1) % k->n];
            g_assert_cmpfloat(off_ink(q, k->pen, a), <, 1e-9);
            if (k->closed || j + 1 < k->n)
                g_assert_cmpfloat(off_ink(q, k->pen, dt_point_lerp(a, b, 0.3)), <, 1e-9);
        }
    }
}

static double travel_s(const DtSequence *q, DtPoint start, DtPoint end)
{
    double s = 0;
    DtPoint at = start;
    for (size_t i = 0; i < q->n; i++) {
        const DtPolyline *r = &q->polylines[i];
        s += dt_route_move_s(&cost, at, q->pts[r->first]) + cost.lift_s + cost.drop_s;
        at = q->pts[r->first + r->n - 1];
    }
    return s + dt_route_move_s(&cost, at, end);
}

static void order(const Set *set, const DtRouteOptions *o, DtSequence *q)
{
    g_autoptr(GError) error = NULL;
    dt_sequence_init(q);
    g_assert_true(dt_route_order(&set->s, &cost, NULL, o, q, &error));
    g_assert_no_error(error);
}

static void test_no_ink_is_lost_and_no_time_either(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(7);
    for (int round = 0; round < 30; round++) {
        Set set = {0};
        unsigned pens = (unsigned)g_rand_int_range(r, 1, 4);
        add_random(&set, r, (size_t)g_rand_int_range(r, 0, 80), pens, 100);
        DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
        o.retrace = 0;
        o.iterations = (uint64_t)g_rand_int_range(r, 0, 300);
        o.join = 0;
        o.one_way = round % 3 == 0;
        o.one_way_axis = round % 2;
        o.end = random_point(r, 100);
        DtSequence q, given;
        order(&set, &o, &q);
        assert_same_ink(&set.s, &q, pens, 0);
        for (size_t i = 1; i < q.n; i++)
            g_assert_cmpuint(q.polylines[i - 1].pen, <=, q.polylines[i].pen);
        if (!o.one_way && pens == 1) {
            o.keep_order = TRUE;
            order(&set, &o, &given);
            g_assert_cmpfloat(travel_s(&q, o.start, o.end), <=,
                              travel_s(&given, o.start, o.end) + 1e-6 * (double)(set.s.n + 2));
            dt_sequence_clear(&given);
        }
        dt_sequence_clear(&q);
        set_clear(&set);
    }
}

static void test_kept_order_is_the_order_given(void)
{
    Set set = {0};
    g_autoptr(GRand) r = g_rand_new_with_seed(11);
    add_random(&set, r, 50, 1, 100);
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    o.retrace = 0;
    o.keep_order = TRUE;
    o.join = 0;
    DtSequence q;
    order(&set, &o, &q);
    g_assert_cmpuint(q.n, ==, 50);
    for (size_t i = 0; i < q.n; i++)
        g_assert_cmpuint(q.polylines[i].stroke, ==, i);
    dt_sequence_clear(&q);
    set_clear(&set);
}

static void test_an_iteration_budget_repeats_itself(void)
{
    Set set = {0};
    g_autoptr(GRand) r = g_rand_new_with_seed(3);
    add_random(&set, r, 300, 2, 100);
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    o.retrace = 0;
    o.iterations = 2000;
    DtSequence a, b;
    order(&set, &o, &a);
    order(&set, &o, &b);
    g_assert_cmpuint(a.n, ==, b.n);
    g_assert_cmpmem(a.pts, a.n_pts * sizeof *a.pts, b.pts, b.n_pts * sizeof *b.pts);
    dt_sequence_clear(&a);
    dt_sequence_clear(&b);
    set_clear(&set);
}

static void test_gaps_within_the_join_are_drawn_across(void)
{
    /* A line in four parts, in disorder, with gaps of 0.1 and 0.3 mm. */
    Set set = {0};
    DtPoint parts[4][2] = {
        {{20.1, 5}, {30, 5}}, {{10, 5}, {0, 5}}, {{40, 5}, {30.3, 5}}, {{10, 5}, {20, 5}}};
    for (int i = 0; i < 4; i++)
        set_add(&set, parts[i], 2, FALSE, DT_INK_OUTLINE, 0);
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    o.retrace = 0;
    o.join = 0.2;
    DtSequence q;
    order(&set, &o, &q);
    g_assert_cmpuint(q.n, ==, 2);
    g_assert_cmpfloat_with_epsilon(dt_sequence_ink_mm(&q), 30 + 9.7, 1e-9);
    dt_sequence_clear(&q);
    o.join = 0;
    order(&set, &o, &q);
    g_assert_cmpuint(q.n, ==, 3); /* ends that touch are joined without any gap */
    dt_sequence_clear(&q);
    set_clear(&set);
}

static void test_a_loop_starts_where_it_is_nearest(void)
{
    Set set = {0};
    DtPoint square[4] = {{70, 60}, {70, 50}, {50, 50}, {50, 60}};
    set_add(&set, square, 4, TRUE, DT_INK_OUTLINE, 0);
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    o.retrace = 0;
    DtSequence q;
    order(&set, &o, &q);
    g_assert_cmpuint(q.n, ==, 1);
    g_assert_cmpuint(q.polylines[0].n, ==, 5);
    g_assert_cmpfloat(q.pts[0].x, ==, 50);
    g_assert_cmpfloat(q.pts[0].y, ==, 50);
    g_assert_cmpmem(&q.pts[0], sizeof(DtPoint), &q.pts[4], sizeof(DtPoint));
    dt_sequence_clear(&q);
    set_clear(&set);
}

static void test_a_loop_is_drawn_from_what_touches_it(void)
{
    /* A square, a line that ends in the middle of its side, a hole that the line passes at a
     * distance, and a loop that touches the hole alone. */
    const DtPoint square[] = {{10, 10}, {50, 10}, {50, 50}, {10, 50}};
    const DtPoint line[] = {{30, 50}, {30, 30}, {44, 30}};
    const DtPoint hole[] = {{30.1, 36}, {34, 36}, {34, 40}, {30.1, 40}};
    const DtPoint on_hole[] = {{34, 37}, {36, 37}, {36, 39}};
    Set set = {0};
    set_add(&set, square, 4, TRUE, DT_INK_FILL, 0);
    set_add(&set, on_hole, 3, TRUE, DT_INK_FILL, 0);
    set_add(&set, hole, 4, TRUE, DT_INK_FILL, 0);
    set_add(&set, line, 3, FALSE, DT_INK_FILL, 0);
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    o.retrace = 0;
    g_auto(DtSequence) q;
    order(&set, &o, &q);
    g_assert_cmpuint(q.n, ==, 1);
    assert_same_ink(&set.s, &q, 1, 0.2);
    set_clear(&set);
}

/* Whether a run ends where it begins after a way of this length. */
static gboolean is_round_of(const DtSequence *q, size_t run, double length)
{
    const DtPoint *p = q->pts + q->polylines[run].first;
    const size_t n = q->polylines[run].n;
    double sum = 0;
    for (size_t i = 1; i < n; i++)
        sum += dt_point_distance(p[i - 1], p[i]);
    return dt_point_distance(p[0], p[n - 1]) <= 1e-9 && fabs(sum - length) <= 1e-9 * length;
}

static void test_loops_among_strokes_cost_no_lifts(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(12);
    for (int round = 0; round < 40; round++) {
        Set set = {0};
        add_random(&set, r, (size_t)g_rand_int_range(r, 2, 120), 1, round % 2 ? 20 : 60);
        size_t loops = 0, open = 0;
        for (size_t i = 0; i < set.s.n; i++) {
            loops += set.s.strokes[i].closed;
            open += !set.s.strokes[i].closed;
        }
        DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
        o.retrace = 0;
        o.iterations = 200;
        o.join = 0.01 * g_rand_int_range(r, 0, 40);
        g_auto(DtSequence) q;
        order(&set, &o, &q);
        assert_same_ink(&set.s, &q, 1, o.join * (double)(2 * loops + open));
        for (size_t i = 0; i < set.s.n; i++) { /* no loop is left that another run passes */
            const DtStroke *k = &set.s.strokes[i];
            gboolean alone = FALSE;
            double near = G_MAXDOUBLE;
            for (size_t j = 0; j < q.n && k->closed; j++)
                alone |=
                    q.polylines[j].stroke == i && is_round_of(&q, j, dt_strokes_length(&set.s, i));
            if (!alone)
                continue;
            for (size_t j = 0; j < k->n; j++)
                for (size_t m = 0; m < q.n; m++)
                    for (size_t n = 1; n < q.polylines[m].n && q.polylines[m].stroke != i; n++)
                        near =
                            MIN(near, dt_point_segment_distance(set.s.pts[k->first + j],
                                                                q.pts[q.polylines[m].first + n - 1],
                                                                q.pts[q.polylines[m].first + n]));
            g_assert_cmpfloat(near, >, o.join);
        }
        set_clear(&set);
    }
}

static void test_light_pens_draw_first_if_asked(void)
{
    DtPen pens[3] = {{.colour = grey(0.1)}, {.colour = grey(0.9)}, {.colour = grey(0.5)}};
    DtRack rack = {pens, 3};
    Set set = {0};
    for (unsigned pen = 0; pen < 3; pen++) {
        DtPoint line[2] = {{pen, 1}, {pen, 2}};
        set_add(&set, line, 2, FALSE, DT_INK_OUTLINE, pen);
    }
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    o.retrace = 0;
    g_autoptr(GError) error = NULL;
    for (int light = 0; light < 2; light++) {
        o.light_first = light;
        g_auto(DtSequence) q = {0};
        g_assert_true(dt_route_order(&set.s, &cost, &rack, &o, &q, &error));
        const unsigned want[2][3] = {{0, 1, 2}, {1, 2, 0}};
        for (int i = 0; i < 3; i++)
            g_assert_cmpuint(q.polylines[i].pen, ==, want[light][i]);
    }
    set_clear(&set);
}

/* One way: every part of a fill rises along the axis, after a run-in that rises, too. */
static void test_one_way_fills_rise_along_the_axis(void)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(23);
    for (int axis = 0; axis < 2; axis++) {
        Set set = {0};
        for (int i = 0; i < 40; i++) {
            DtPoint zigzag[9], from = random_point(r, 80);
            for (int k = 0; k < 9; k++)
                zigzag[k] = dt_point_add(from, random_point(r, 20));
            set_add(&set, zigzag, 9, i % 4 == 0, DT_INK_FILL, 0);
        }
        DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
        o.retrace = 0;
        o.one_way = TRUE;
        o.one_way_axis = axis;
        o.iterations = 500;
        o.run_in = 2;
        DtSequence q;
        order(&set, &o, &q);
        assert_same_ink(&set.s, &q, 1, 0);
        for (size_t i = 0; i < q.n; i++) {
            const DtPolyline *run = &q.polylines[i];
            const DtPoint *p = q.pts + run->first;
            double first = axis ? p[0].y : p[0].x;
            g_assert_true(run->has_run_in);
            double from = axis ? run->run_in.y : run->run_in.x;
            g_assert_cmpfloat(fabs(first - from - MIN(o.run_in, first)), <, 1e-9);
            for (size_t k = 1; k < run->n; k++)
                g_assert_cmpfloat(axis ? p[k].y : p[k].x, >=, axis ? p[k - 1].y : p[k - 1].x);
        }
        dt_sequence_clear(&q);
        set_clear(&set);
    }
}

static void test_moves_are_as_fast_as_each_axis_allows(void)
{
    DtPoint o = {0, 0};
    /* A long move along X alone, and a diagonal on which Y is the slower axis. */
    g_assert_cmpfloat_with_epsilon(dt_route_speed_along(&cost, dt_point(-5, 0)), 12, 1e-12);
    g_assert_cmpfloat_with_epsilon(dt_route_speed_along(&cost, dt_point(2, -2)), 10 * sqrt(2),
                                   1e-12);
    g_assert_cmpfloat_with_epsilon(dt_route_acceleration_along(&cost, dt_point(1, 1)), 80 * sqrt(2),
                                   1e-9);
    g_assert_cmpfloat(dt_route_speed_along(&cost, o), ==, 0);
    g_assert_cmpfloat(dt_route_move_s(&cost, o, o), ==, 0);
    /* Pull-in as fast as the axis: no ramp at all. */
    DtCost brisk = cost;
    brisk.pull_in[0] = 12;
    g_assert_cmpfloat_with_epsilon(dt_route_move_s(&brisk, o, dt_point(60, 0)), 5, 1e-12);
}

/* Bad input ---------------------------------------------------------------------------------- */

static void test_nothing_one_and_equal_strokes(void)
{
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    o.retrace = 0;
    Set set = {0};
    DtSequence q;
    order(&set, &o, &q);
    g_assert_cmpuint(q.n, ==, 0);
    dt_sequence_clear(&q);
    set_add(&set, NULL, 0, FALSE, DT_INK_OUTLINE, 0);
    order(&set, &o, &q);
    g_assert_cmpuint(q.n, ==, 0);
    dt_sequence_clear(&q);
    DtPoint p[2] = {{3, 3}, {3, 3}};
    for (int i = 0; i < 3000; i++)
        set_add(&set, p, 1 + i % 2, i % 3 == 0, DT_INK_FILL, 0);
    for (int way = 0; way < 2; way++) {
        o.one_way = way;
        o.iterations = 1000;
        order(&set, &o, &q);
        g_assert_cmpuint(q.n, ==, way ? 3000 : 1);
        dt_sequence_clear(&q);
    }
    set_clear(&set);
}

static void refused(const Set *set, const DtCost *c, const DtRack *rack, const DtRouteOptions *o,
                    const char *word)
{
    g_autoptr(GError) error = NULL;
    g_auto(DtSequence) q = {0};
    g_assert_false(dt_route_order(&set->s, c, rack, o, &q, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, word));
}

static void test_refusals(void)
{
    Set set = {0};
    DtPoint line[2] = {{1, 1}, {2, 2}};
    set_add(&set, line, 2, FALSE, DT_INK_OUTLINE, 2);
    DtRouteOptions good = DT_ROUTE_OPTIONS_DEFAULT, o = good;
    DtCost c = cost;
    c.speed[1] = NAN;
    refused(&set, &c, NULL, &good, "Y axis");
    c = cost;
    c.acceleration[0] = 0;
    refused(&set, &c, NULL, &good, "X axis");
    c = cost;
    c.pull_in[0] = -1;
    refused(&set, &c, NULL, &good, "pull-in");
    c = cost;
    c.lift_s = INFINITY;
    refused(&set, &c, NULL, &good, "pen times");
    o.join = NAN;
    refused(&set, &cost, NULL, &o, "gap");
    o = good;
    o.budget_s = -1;
    refused(&set, &cost, NULL, &o, "budget");
    o = good;
    o.start.x = NAN;
    refused(&set, &cost, NULL, &o, "comes from");
    o = good;
    o.one_way = TRUE;
    o.one_way_axis = 2;
    refused(&set, &cost, NULL, &o, "axis");
    o.one_way_axis = 0;
    o.run_in = -1;
    refused(&set, &cost, NULL, &o, "run-in");
    DtPen pens[2] = {0};
    DtRack rack = {pens, 2};
    refused(&set, &cost, &rack, &good, "pen 3");
    set.s.pts[1].y = INFINITY;
    refused(&set, &cost, NULL, &good, "point 1 of stroke 0");
    /* of more than the numbers of ends can count: they are not even looked at */
    const Set many = {.s = {.n = G_MAXINT32 / 4}};
    refused(&many, &cost, NULL, &good, "too many to order");
    set_clear(&set);
}

static void stop_at_once(const DtWorkState *state, void *user)
{
    g_assert_cmpint(state->stage, ==, DT_STAGE_ORDER);
    dt_work_cancel(*(DtWork **)user);
}

static void test_cancelled_work_stops(void)
{
    Set set = {0};
    g_autoptr(GRand) r = g_rand_new_with_seed(9);
    add_random(&set, r, 200, 1, 100);
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    o.retrace = 0;
    g_autoptr(GError) error = NULL;
    g_auto(DtSequence) q = {0};
    DtWork *work = NULL;
    work = dt_work_new(stop_at_once, &work);
    DtWork *before = dt_work_enter(work);
    dt_work_begin(DT_STAGE_ORDER);
    g_assert_false(dt_route_order(&set.s, &cost, NULL, &o, &q, &error));
    g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
    dt_work_leave(before);
    dt_work_unref(work);
    set_clear(&set);
}

/* A spine of 60 mm with ribs, each a stroke of its own that begins on it. */
static void add_comb(Set *set, int ribs, double rib)
{
    const DtPoint spine[] = {{10, 10}, {70, 10}};
    set_add(set, spine, 2, FALSE, DT_INK_OUTLINE, 0);
    for (int i = 0; i < ribs; i++) {
        const double x = 15 + 50.0 * i / MAX(ribs - 1, 1);
        const DtPoint p[] = {{x, 10}, {x, 10 + (i % 2 ? rib : -rib)}};
        set_add(set, p, 2, FALSE, DT_INK_OUTLINE, 0);
    }
}

static void test_ribs_are_drawn_out_and_back_from_their_spine(void)
{
    Set set = {0};
    DtSequence q;
    add_comb(&set, 5, 0.5);
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    order(&set, &o, &q);
    g_assert_cmpuint(q.n, ==, 1);
    g_assert_cmpuint(q.retraced, ==, 5);
    g_assert_cmpfloat_with_epsilon(dt_sequence_ink_mm(&q), 60 + 2 * 5 * 0.5, 1e-9);
    dt_sequence_clear(&q);
    o.retrace = 0;
    order(&set, &o, &q);
    g_assert_cmpuint(q.n, ==, 6);
    g_assert_cmpuint(q.retraced, ==, 0);
    g_assert_cmpfloat_with_epsilon(dt_sequence_ink_mm(&q), 60 + 5 * 0.5, 1e-9);
    dt_sequence_clear(&q);
    set_clear(&set);
}

/* Dashes touch nothing; two strokes that meet at their ends go on from one to the other; no more than a
 * twentieth of the ink is gone over twice; a long rib is not. */
static void test_what_is_not_drawn_twice(void)
{
    Set set = {0};
    DtSequence q;
    DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
    for (int i = 0; i < 20; i++) {
        const DtPoint dash[] = {{10 + 4.0 * i, 50}, {12 + 4.0 * i, 50}};
        set_add(&set, dash, 2, FALSE, DT_INK_OUTLINE, 0);
    }
    const DtPoint bend[2][2] = {{{10, 80}, {12, 80}}, {{12, 80}, {12, 82}}};
    set_add(&set, bend[0], 2, FALSE, DT_INK_OUTLINE, 0);
    set_add(&set, bend[1], 2, FALSE, DT_INK_OUTLINE, 0);
    add_comb(&set, 1, 3.5);
    order(&set, &o, &q);
    g_assert_cmpuint(q.retraced, ==, 0);
    g_assert_cmpuint(q.n, ==, 20 + 1 + 2);
    dt_sequence_clear(&q);
    set_clear(&set);

    add_comb(&set, 40, 2);
    order(&set, &o, &q);
    double ink = 60 + 40 * 2;
    g_assert_cmpuint(q.retraced, >, 0);
    g_assert_cmpfloat(dt_sequence_ink_mm(&q), <=, 1.05 * ink + 1e-9);
    dt_sequence_clear(&q);
    set_clear(&set);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/route/no-ink-no-time-lost", test_no_ink_is_lost_and_no_time_either);
    g_test_add_func("/route/kept-order", test_kept_order_is_the_order_given);
    g_test_add_func("/route/repeats-itself", test_an_iteration_budget_repeats_itself);
    g_test_add_func("/route/joins", test_gaps_within_the_join_are_drawn_across);
    g_test_add_func("/route/loop-start", test_a_loop_starts_where_it_is_nearest);
    g_test_add_func("/route/loop-touched", test_a_loop_is_drawn_from_what_touches_it);
    g_test_add_func("/route/loops-among-strokes", test_loops_among_strokes_cost_no_lifts);
    g_test_add_func("/route/ribs", test_ribs_are_drawn_out_and_back_from_their_spine);
    g_test_add_func("/route/not-twice", test_what_is_not_drawn_twice);
    g_test_add_func("/route/light-first", test_light_pens_draw_first_if_asked);
    g_test_add_func("/route/one-way", test_one_way_fills_rise_along_the_axis);
    g_test_add_func("/route/move-times", test_moves_are_as_fast_as_each_axis_allows);
    g_test_add_func("/route/degenerate", test_nothing_one_and_equal_strokes);
    g_test_add_func("/route/refusals", test_refusals);
    g_test_add_func("/route/cancelled", test_cancelled_work_stops);
    return g_test_run();
}
