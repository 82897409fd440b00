/* parts of a plan: what a refusal lists, the options that follow from the machine, and tours. */
#include "job/private.h"

#include <math.h>
#include <string.h>

/* Four colours are named and ten notes, and how many more there are. */
static void test_what_a_refusal_lists(void)
{
    DtArtNote notes[12];
    DtInkMatch matches[8] = {0};
    for (int i = 0; i < 12; i++)
        notes[i] = (DtArtNote){i + 1, (char *)"left out"};
    for (int i = 0; i < 8; i++)
        matches[i] = (DtInkMatch){.colour = {1, i / 255.0, 254.6 / 255, 1}, .pen = i == 1 ? 0 : -1};
    for (int n = 0; n <= 8; n += 2) {
        const DtDrawing d = {.notes = notes, .n_notes = n ? (size_t)n + 4 : 0};
        const DtInkReport report = {.matches = matches, .n = (size_t)n};
        g_autoptr(GString) wanted = g_string_new("a.svg: nothing in it would put ink on the paper");
        int named = 0;
        for (int i = 0; i < n; i++)
            if (i != 1 && named++ < 4)
                g_string_append_printf(wanted, "%s #ff%02xff",
                                       i == 0 ? "\nleft to the paper:" : ",", (unsigned)i);
        if (named > 4)
            g_string_append_printf(wanted, " and %d colours more", named - 4);
        if (n == 0)
            g_string_append(wanted, ": no shape in it is painted");
        for (int i = 0; i < MIN((int)d.n_notes, 10); i++)
            g_string_append_printf(wanted, "\na.svg:%d: left out", i + 1);
        g_autoptr(GError) error = NULL;
        g_assert_false(dt_job_refuse_bare(&d, &report, "a.svg", &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_cmpstr(error->message, ==, wanted->str);
    }
}

/* Without a colour or a note to name, where the shapes are, or that they look like the paper. */
static void test_a_refusal_gives_a_reason(void)
{
    static const struct {
        double left; /* of the second shape; the first lies beside the page */
        const char *why;
    } cases[] = {{30, "its shapes lie outside of its page: make the page larger, or move them"},
                 {-8, "what it paints looks like the paper"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtShape shapes[2] = {0};
        for (int k = 0; k < 2; k++) {
            const double x = k ? cases[i].left : 20;
            dt_lines_begin(&shapes[k].outline);
            dt_lines_point(&shapes[k].outline, dt_point(x, 2));
            dt_lines_point(&shapes[k].outline, dt_point(x + 9, 4));
        }
        const DtDrawing d = {.shapes = shapes, .n_shapes = 2, .view = {0, 0, 10, 10}};
        const DtInkReport report = {0};
        g_autoptr(GError) error = NULL;
        g_assert_false(dt_job_refuse_bare(&d, &report, "a.svg", &error));
        g_autofree char *wanted =
            g_strdup_printf("a.svg: nothing in it would put ink on the paper: %s", cases[i].why);
        g_assert_cmpstr(error->message, ==, wanted);
        for (int k = 0; k < 2; k++)
            dt_lines_clear(&shapes[k].outline);
    }
}

/* An angle that was given stays; a direction for all hatches leaves no choice of the fastest. */
static void test_hatch_follows_the_machine(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    p->speed[0] = 10;
    for (int own = 0; own < 2; own++)
        for (int one_way = 0; one_way < 2; one_way++)
            for (int hatch = DT_HATCH_LINES; hatch <= DT_HATCH_FASTEST; hatch++) {
                DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
                o.own_angle = own;
                o.route.one_way = one_way;
                o.ink.hatch = (DtHatch)hatch;
                o.ink.angle = 0.3;
                const DtInkOptions got = dt_job_ink_options(p, &o);
                g_assert_cmpfloat(got.angle, ==, own ? 0.3 : dt_machine_fastest_angle(p));
                g_assert_cmpint(got.hatch, ==,
                                hatch == DT_HATCH_FASTEST && (own || one_way) ? DT_HATCH_SERPENTINE
                                                                              : (DtHatch)hatch);
                g_assert_true(got.seconds == dt_job_fill_seconds && got.seconds_user == p);
            }
}

/* One way is along the axis with more lost motion, with a run-in of half as much again. */
static void test_one_way_is_along_the_looser_axis(void)
{
    static const struct {
        double x[2], y[2], run_in;
        int axis;
        double wanted;
    } cases[] = {{{0.1, 0.4}, {0.3, 0.2}, 0, 0, 0.6},   {{0.1, 0.2}, {0.3, 0.2}, 0, 1, 0.45},
                 {{0.1, 0.2}, {0.3, 0.2}, 2, 1, 2},     {{0, 0}, {0, 0}, 0, 1, 0},
                 {{0.4, 0.1}, {0.1, 0.1}, 0.5, 0, 0.6}, {{0.2, 0.2}, {0.2, 0.2}, 0, 1, 0.3}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text =
            g_strdup_printf("[corrections]\nbacklash_x = 0:%g 100:%g\nbacklash_y = 0:%g 100:%g\n",
                            cases[i].x[0], cases[i].x[1], cases[i].y[0], cases[i].y[1]);
        g_autoptr(DtProfile) p = dt_profile_read_data(text, strlen(text), "p.ini", NULL);
        DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
        o.run_in = cases[i].run_in;
        dt_job_set_one_way(p, &o);
        g_assert_cmpint(o.one_way_axis, ==, cases[i].axis);
        g_assert_cmpfloat_with_epsilon(o.run_in, cases[i].wanted, 1e-12);
    }
}

/* One line of fill for each pen that has points, through all of them; other strokes stay as they are. */
static void test_tours(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.iterations = 50;
    g_auto(DtStrokes) s;
    dt_strokes_init(&s);
    const DtPoint triangle[3] = {{1, 1}, {9, 1}, {9, 9}};
    dt_strokes_append(&s, triangle, 3, TRUE, DT_INK_OUTLINE, 1, 7);
    enum { POINTS = 24 };
    for (int i = 0; i < POINTS; i++) {
        const DtPoint at = {20 + i * 7 % 23, 30 + i * 5 % 17};
        dt_strokes_append(&s, (DtPoint[]){at, at}, 1 + (size_t)i % 2, FALSE, DT_INK_TOUR,
                          i % 3 == 0 ? 2 : 0, 3);
    }
    g_assert_true(dt_job_join_tours(p, &o, &s, NULL));
    g_assert_cmpuint(s.n, ==, 3);
    g_assert_cmpuint(s.strokes[0].n, ==, 3);
    g_assert_cmpint(s.strokes[0].closed, ==, 1);
    g_assert_cmpint(s.strokes[0].kind, ==, DT_INK_OUTLINE);
    g_assert_cmpint(s.strokes[0].shape, ==, 7);
    g_assert_cmpuint(s.strokes[0].pen, ==, 1);
    for (int k = 1; k <= 2; k++) {
        const DtStroke *line = &s.strokes[k];
        g_assert_cmpuint(line->pen, ==, k == 1 ? 0 : 2);
        g_assert_cmpuint(line->n, ==, k == 1 ? POINTS * 2 / 3 : POINTS / 3);
        g_assert_cmpint(line->closed, ==, 0);
        g_assert_cmpint(line->kind, ==, DT_INK_FILL);
        g_assert_cmpint(line->shape, ==, -1);
        for (int i = 0; i < POINTS; i++) {
            int met = 0;
            for (size_t j = 0; j < line->n; j++)
                met += dt_point_distance(s.pts[line->first + j],
                                         (DtPoint){20 + i * 7 % 23, 30 + i * 5 % 17}) < 1e-9;
            g_assert_cmpint(met, ==, (i % 3 == 0) == (k == 2));
        }
    }
    g_assert_true(dt_job_join_tours(p, &o, &s, NULL)); /* nothing is left to join */
    g_assert_cmpuint(s.n, ==, 3);
}

static gboolean same_order(const DtSequence *a, const DtSequence *b)
{
    return a->n_pts == b->n_pts && memcmp(a->pts, b->pts, a->n_pts * sizeof *a->pts) == 0;
}

/* The way begins where the first pen is over the origin, ends at the park and goes by the place of pen changes,
 * which are all where the carriage's own errors take them. */
static void test_the_way_begins_and_ends_where_the_machine_does(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GRand) r = g_rand_new_with_seed(8);
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.iterations = 300;
    o.route.cut = FALSE;
    p->park = dt_point(250, 200);
    p->change_at = dt_point(10, 190);
    p->scale[0] = 1.02;
    int ends[3] = {0};
    for (int round = 0; round < 12; round++) {
        g_auto(DtJob) job;
        dt_job_init(&job);
        for (int i = 0; i < 14; i++) {
            const DtPoint a = {g_rand_double_range(r, 20, 200), g_rand_double_range(r, 20, 190)};
            const DtPoint line[2] = {a, {a.x + 8, a.y + 3}};
            dt_strokes_append(&job.strokes, line, 2, FALSE, DT_INK_OUTLINE, (unsigned)(i % 2), -1);
        }
        g_assert_true(dt_job_order(p, &o, &job, NULL));
        const DtCost cost = dt_profile_cost(p);
        for (int k = 0; k < 4; k++) { /* as it is, then with one of the places at another */
            const DtPoint other = {120, 5};
            DtRouteOptions route = o.route;
            g_auto(DtSequence) s = {0};
            route.start = k == 1 ? other : dt_machine_ink_at(p, dt_point(0, 0));
            route.end = k == 2 ? other : dt_machine_ink_at(p, p->park);
            route.change_at = k == 3 ? other : dt_machine_ink_at(p, p->change_at);
            g_assert_true(dt_route_order(&job.strokes, &cost, &p->rack, &route, &s, NULL));
            if (k == 0)
                g_assert_true(same_order(&job.sequence, &s));
            else
                ends[k - 1] += !same_order(&job.sequence, &s);
        }
    }
    for (int k = 0; k < 3; k++)
        g_assert_cmpint(ends[k], >, 0);
}

/* Bends of fine steps, for a wire of this bit rate. */
static void add_bends(DtSequence *s, double radius, int turns)
{
    dt_sequence_begin(s, 0, 0);
    for (int i = 0; i <= 60 * turns; i++) {
        const double angle = i * 2 * G_PI / 60, r = radius * (1 + 0.02 * sin(7 * angle));
        dt_sequence_point(s, dt_point(60 + r * cos(angle) + 0.1 * i / 60, 60 + r * sin(angle)));
    }
}

/* Of the moves as they are and those thinned by shares of the tolerance the best are taken: a second for each
 * stop within a stroke on top of their time. None leaves the line by more than the tolerance. */
static void test_moves_for_a_slow_wire(void)
{
    static const double shares[] = {0.15, 0.35, 0.6, 0.9};
    static const int bauds[] = {300, 1200, 2400, 9600, 115200};
    int thinned = 0, whole = 0;
    for (size_t b = 0; b < G_N_ELEMENTS(bauds); b++)
        for (double radius = 1; radius < 20; radius *= 4) {
            g_autoptr(DtProfile) p = dt_profile_new();
            g_auto(DtJob) job;
            p->dialect.baud = bauds[b];
            p->ink_tolerance = 0.05;
            dt_job_init(&job);
            add_bends(&job.sequence, radius, 3);
            g_assert_true(dt_job_move(p, &job, NULL));
            double least = G_MAXDOUBLE;
            size_t first = 0, best = 0;
            gboolean held_up = FALSE;
            for (int k = -1; k < 4 && (k < 0 || held_up); k++) {
                g_auto(DtMoves) m = {0};
                DtTimes t;
                g_assert_true(
                    k < 0 ? dt_machine_moves(p, &job.sequence, &m, NULL)
                          : dt_machine_moves_thinned(p, &job.sequence, shares[k] * 0.05, &m, NULL));
                dt_code_times(p, &m, FALSE, &t);
                if (k < 0) {
                    first = m.n;
                    held_up = t.starved > 0 || t.held_up_s > 0.01 * t.total_s;
                }
                if (t.total_s + (double)t.starved < least) {
                    least = t.total_s + (double)t.starved;
                    best = m.n;
                }
            }
            g_assert_cmpuint(job.moves.n, ==, best);
            g_assert_cmpfloat_with_epsilon(job.times.total_s + (double)job.times.starved, least,
                                           1e-9);
            thinned += best < first;
            whole += best == first;
            for (size_t i = 0; i < job.sequence.n_pts; i++) {
                double away = G_MAXDOUBLE;
                for (size_t k = 1; k < job.moves.n; k++)
                    if (job.moves.m[k].kind == DT_MOVE_DRAW)
                        away = MIN(away, dt_point_segment_distance(job.sequence.pts[i],
                                                                   job.moves.m[k - 1].ink,
                                                                   job.moves.m[k].ink));
                g_assert_cmpfloat(away, <=, 0.05 + 1e-6);
            }
        }
    g_assert_cmpint(thinned, >, 2);
    g_assert_cmpint(whole, >, 2);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/parts/refusal", test_what_a_refusal_lists);
    g_test_add_func("/parts/refusal/reason", test_a_refusal_gives_a_reason);
    g_test_add_func("/parts/hatch", test_hatch_follows_the_machine);
    g_test_add_func("/parts/one-way", test_one_way_is_along_the_looser_axis);
    g_test_add_func("/parts/tours", test_tours);
    g_test_add_func("/parts/way", test_the_way_begins_and_ends_where_the_machine_does);
    g_test_add_func("/parts/slow-wire", test_moves_for_a_slow_wire);
    return g_test_run();
}
