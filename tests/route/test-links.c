/* links: what it costs to get from one line to the next, across a corner, back over a line, or with a lift; by the motion
 * of the axes, worked out a second time. */
#include "cost.h"

#include <math.h>
#include <string.h>

static const double lift_more_s = 0.05; /* wear, and a dot at either end */

typedef struct {
    DtPieces set;
    DtSections s;
    DtLinks *l;
    DtPoint pts[4][2];
} Lines;

/* Up to four lines, two of them to meet at one place as a rule. */
static void lines_init(Lines *f, const DtPoint (*pts)[2], size_t n, double join, double longest)
{
    *f = (Lines){0};
    memcpy(f->pts, pts, n * sizeof *pts);
    for (size_t i = 0; i < n; i++)
        dt_pieces_add(&f->set, (DtPiece){.pts = f->pts[i], .n = 2, .stroke = i});
    g_assert_true(dt_sections_cut(&f->set, join, &f->s));
    g_assert_cmpuint(f->s.set.n, ==, n);
    f->l = dt_links_new(&f->s, &cost, join, longest);
}

static void lines_clear(Lines *f)
{
    dt_links_free(f->l);
    dt_sections_clear(&f->s);
    g_free(f->set.p);
}

/* The end of a section that lies at a place. */
static uint32_t end_at(const DtLinks *l, DtPoint at, size_t line)
{
    for (uint32_t i = 0; i < l->n; i++)
        if (dt_point_distance(l->end[i].at, at) < 1e-9 && l->sections->set.p[i / 2].stroke == line)
            return i;
    g_assert_not_reached();
}

static DtPoint unit(DtPoint d)
{
    return dt_point_scale(d, 1 / hypot(d.x, d.y));
}

/* The largest k for which k times a unit vector is within both limits. */
static double limit(const double by_axis[2], DtPoint d)
{
    const double x = d.x != 0 ? by_axis[0] / fabs(d.x) : INFINITY,
                 y = d.y != 0 ? by_axis[1] / fabs(d.y) : INFINITY;
    return MIN(x, y);
}

/* The speed that a line of this length reaches between two stops: v^2 = p^2 + 2 a (mm / 2). */
static double top(DtPoint d, double mm)
{
    const double p = limit(cost.pull_in, d);
    return MIN(limit(cost.speed, d), sqrt(p * p + limit(cost.acceleration, d) * mm));
}

/* How much longer a ramp from v to s takes than its way does at v: (v-s)/a less (v^2-s^2)/(2 a v). */
static double ramp(DtPoint d, double v, double s)
{
    const double a = limit(cost.acceleration, d);
    return v > s ? (v - s) / a - (v * v - s * s) / (2 * a * v) : 0;
}

/* Lost motion of the axes that turn round, both at a time: from the pull-in rate by the axis's acceleration, and no faster
 * than its speed. */
static double slack(DtPoint in, DtPoint out)
{
    const double a[2] = {in.x, in.y}, b[2] = {out.x, out.y};
    double longest = 0;
    for (int i = 0; i < 2; i++) {
        const double p = cost.pull_in[i], acceleration = cost.acceleration[i], mm = cost.slack[i];
        const double t = (sqrt(p * p + 2 * acceleration * mm) - p) / acceleration;
        if (a[i] * b[i] < 0 && fabs(a[i]) > 0.05 && fabs(b[i]) > 0.05)
            longest = MAX(longest, MAX(t, mm / cost.speed[i]));
    }
    return longest;
}

/* At a corner no axis changes its speed by more than its pull-in rate at once. */
static double corner(DtPoint in, double mm_in, DtPoint out, double mm_out)
{
    const double v = top(in, mm_in), w = top(out, mm_out), dx = fabs(out.x - in.x),
                 dy = fabs(out.y - in.y);
    double s = MIN(v, w);
    s = MIN(s, dx > 1e-9 ? cost.pull_in[0] / dx : INFINITY);
    s = MIN(s, dy > 1e-9 ? cost.pull_in[1] / dy : INFINITY);
    return ramp(in, v, s) + ramp(out, w, s) + slack(in, out);
}

static void check_us(int32_t have, double want_s)
{
    g_assert_cmpint(ABS(have - (int32_t)lround(want_s * 1e6)), <=, 2);
}

#define CENTRE dt_point(50, 50)

static DtPoint around(double mm, double angle)
{
    return dt_point(50 + mm * cos(angle), 50 + mm * sin(angle));
}

/* Two lines that meet, in all directions and of several lengths, the first of them now and then hardly off an axis; a
 * millionth of a second is a unit. */
static void test_corners_cost_what_the_axes_lose(void)
{
    enum { WAYS = 23 };
    static const double lengths[][2] = {{20, 20}, {0.5, 20}, {3, 1}};
    for (gsize k = 0; k < G_N_ELEMENTS(lengths); k++)
        for (int i = 0; i < WAYS; i++)
            for (int j = 0; j < WAYS; j++) {
                const double a = 2 * G_PI * i / WAYS + (j % 2 ? 0.03 : 0),
                             b = 2 * G_PI * j / WAYS + 0.07;
                const DtPoint pts[2][2] = {{around(lengths[k][0], a), CENTRE},
                                           {CENTRE, around(lengths[k][1], b)}};
                Lines f;
                lines_init(&f, pts, 2, 0.001, 0);
                const uint32_t in = end_at(f.l, CENTRE, 0), out = end_at(f.l, CENTRE, 1);
                const DtPassage p = dt_links_between(f.l, in, out);
                const double want = corner(dt_point(-cos(a), -sin(a)), lengths[k][0],
                                           dt_point(cos(b), sin(b)), lengths[k][1]);
                g_assert_cmpint(p.kind, ==, DT_LINK_JOIN);
                check_us(p.cost, want);
                g_assert_cmpint(dt_links_cost(f.l, in, out), ==, p.cost);
                g_assert_cmpint(dt_links_cost(f.l, out, in), ==, p.cost);
                lines_clear(&f);
            }
}

/* Stop, lift, travel, lower and start again, with the slack of both turns, and a little for wear. */
static void test_lifts_cost_both_stops_and_the_way(void)
{
    enum { WAYS = 17 };
    for (int i = 0; i < WAYS; i++)
        for (int j = 0; j < WAYS; j++) {
            const double a = 2 * G_PI * i / WAYS, b = 2 * G_PI * j / WAYS + 0.07;
            const DtPoint from = {20, 30}, to = {60, 45}, way = unit(dt_point_sub(to, from));
            const DtPoint in = {cos(a), sin(a)}, out = {cos(b), sin(b)};
            const DtPoint pts[2][2] = {{dt_point_sub(from, dt_point_scale(in, 5)), from},
                                       {to, dt_point_add(to, dt_point_scale(out, 8))}};
            Lines f;
            lines_init(&f, pts, 2, 0.001, 0);
            const uint32_t e = end_at(f.l, from, 0), g = end_at(f.l, to, 1);
            const double stop = ramp(in, top(in, 5), limit(cost.pull_in, in)),
                         start = ramp(out, top(out, 8), limit(cost.pull_in, out));
            const double want = 0.1 + 0.15 + dt_route_move_s(&cost, from, to) + stop + start +
                                slack(in, way) + slack(way, out) + lift_more_s;
            const DtPassage p = dt_links_between(f.l, e, g);
            g_assert_cmpint(p.kind, ==, DT_LINK_LIFT);
            check_us(p.cost, want);
            check_us(f.l->end[e].stop, stop);
            check_us(f.l->end[g].stop, start);
            g_assert_cmpfloat(dt_links_saved(f.l, &p, e, g), ==, 0);
            lines_clear(&f);
        }
}

/* A gap within the join is drawn across at full speed; one beyond it is not. */
static void test_gaps_within_the_join_are_drawn_across(void)
{
    for (int wide = 0; wide < 2; wide++) {
        const double gap = wide ? 0.31 : 0.29;
        const DtPoint pts[2][2] = {{{10, 50}, {50, 50}}, {{50, 50 + gap}, {50, 80}}};
        Lines f;
        lines_init(&f, pts, 2, 0.3, 0);
        const DtPassage p =
            dt_links_between(f.l, end_at(f.l, pts[0][1], 0), end_at(f.l, pts[1][0], 1));
        g_assert_cmpint(p.kind, ==, wide ? DT_LINK_LIFT : DT_LINK_JOIN);
        if (!wide)
            check_us(p.cost,
                     corner(dt_point(1, 0), 40, dt_point(0, 1), 30 - gap) + gap / cost.speed[1]);
        lines_clear(&f);
    }
}

/* From the tip of a short branch back over it: its length at full speed, and a corner at either end of it. Only where that
 * takes less time than a lift. */
static void test_ways_back_cost_the_line_again(void)
{
    static const double branches[] = {2, 15};
    for (gsize k = 0; k < G_N_ELEMENTS(branches); k++) {
        const double mm = branches[k];
        const DtPoint pts[3][2] = {{{20, 50}, CENTRE}, {CENTRE, {80, 50}}, {CENTRE, {50, 50 + mm}}};
        Lines f;
        lines_init(&f, pts, 3, 0.001, 40);
        const uint32_t tip = end_at(f.l, pts[2][1], 2), on = end_at(f.l, CENTRE, 1);
        const DtPoint up = {0, 1}, down = {0, -1}, right = {1, 0};
        const double want =
            corner(up, mm, down, mm) + mm / cost.speed[1] + corner(down, mm, right, 30);
        const DtPoint way = unit(dt_point(0, -mm));
        const double lift = 0.25 + dt_route_move_s(&cost, pts[2][1], CENTRE) +
                            ramp(up, top(up, mm), 2) + ramp(right, top(right, 30), 3) +
                            slack(up, way) + slack(way, right) + lift_more_s;
        const DtPassage p = dt_links_between(f.l, tip, on);
        const DtPassage there = dt_links_between(f.l, on, tip);
        g_assert_cmpint(p.kind, ==, want < lift ? DT_LINK_RETRACE : DT_LINK_LIFT);
        check_us(p.cost, MIN(want, lift));
        g_assert_cmpint(there.kind, ==, p.kind);
        g_assert_cmpint(there.cost, ==, p.cost);
        if (p.kind == DT_LINK_RETRACE) {
            g_assert_cmpint(there.backwards, ==, !p.backwards);
            g_assert_cmpfloat_with_epsilon(dt_links_path(f.l, p.path)->mm, mm, 1e-9);
            g_assert_cmpfloat_with_epsilon(dt_links_saved(f.l, &p, tip, on), (lift - want) * 1e6,
                                           4);
            g_autoptr(GArray) points = g_array_new(FALSE, FALSE, sizeof(DtPoint));
            dt_links_points(f.l, &p, points);
            g_assert_cmpuint(points->len, >=, 2);
            const DtPoint first = g_array_index(points, DtPoint, 0),
                          last = g_array_index(points, DtPoint, points->len - 1);
            g_assert_cmpfloat(dt_point_distance(first, pts[2][1]), <, 1e-9);
            g_assert_cmpfloat(dt_point_distance(last, CENTRE), <, 1e-9);
        }
        lines_clear(&f);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/links/corners", test_corners_cost_what_the_axes_lose);
    g_test_add_func("/links/lifts", test_lifts_cost_both_stops_and_the_way);
    g_test_add_func("/links/joins", test_gaps_within_the_join_are_drawn_across);
    g_test_add_func("/links/back", test_ways_back_cost_the_line_again);
    return g_test_run();
}
