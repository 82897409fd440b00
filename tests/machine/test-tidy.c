/* tidy: corners that are cut and turns that are waited out, point by point, by hand. */
#include "machine/tidy.h"

#include <math.h>
#include <string.h>

static DtProfile *profile(const char *corrections)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text = g_strconcat(
        "[motion]\nsteps_per_mm_x = 100 /mm\nsteps_per_mm_y = 100 /mm\nspeed_x = 12 mm/s\n"
        "speed_y = 12 mm/s\npull_in_x = 3 mm/s\npull_in_y = 3 mm/s\n[corrections]\n",
        corrections, NULL);
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    return p;
}

static GArray *run_of(const DtPoint *pts, gsize n)
{
    GArray *run = g_array_new(FALSE, FALSE, sizeof(DtCarriagePoint));
    for (gsize i = 0; i < n; i++) {
        const DtCarriagePoint c = {.at = {pts[i].x, pts[i].y}, .way = (double)i};
        g_array_append_val(run, c);
    }
    return run;
}

#define AT(run, i) (&g_array_index(run, DtCarriagePoint, i))
#define NEAR(a, b) g_assert_cmpfloat_with_epsilon(a, b, 1e-9)

static void test_points_between_and_how_far_off(void)
{
    const DtPoint pts[] = {{0, 0}, {10, 0}, {10, 20}};
    g_autoptr(GArray) run = run_of(pts, 3);
    const DtCarriagePoint m = dt_tidy_between(AT(run, 1), AT(run, 2), 0.25);
    NEAR(m.at[0], 10);
    NEAR(m.at[1], 5);
    NEAR(m.way, 1.25);
    NEAR(dt_tidy_off2(run, &m), 0);
    const DtCarriagePoint off = {.at = {13, 9}, .way = 1.25}; /* from (10, 5): 3 and 4 */
    NEAR(dt_tidy_off2(run, &off), 25);
    const DtCarriagePoint last = {.at = {10, 21}, .way = 2};
    NEAR(dt_tidy_off2(run, &last), 1);
}

/* A corner of a straight line of 50 mm and one at this angle is cut so that the chord passes it at the depth of the rule:
 * the cut times the sine of half the turn. */
static void test_corners_are_cut_to_their_depth(void)
{
    static const struct {
        const char *corrections;
        double degrees, length, corner, most;
        double speed; /* 0: the usual one */
        double cut;   /* -1: by the depth; 0: none */
    } cases[] = {{"", 90, 50, 0.05, 1, 0, -1},
                 {"", 60, 50, 0.05, 1, 0, -1},
                 {"", -120, 50, 0.1, 1, 0, -1},
                 {"", 150, 50, 0.1, 1, 0, -1},
                 {"", 90, 50, 0.5, 0.2, 0, 0.2 / 0.70710678118654752}, /* as much as is left */
                 {"", 90, 0.2, 0.5, 1, 0, 0.45 * 0.2},                 /* less than half a line */
                 {"", 90, 50, 0.05, 1, 3, 0},  /* passed at full speed as it is */
                 {"", 90, 50, 0, 1, 0, 0},     /* no depth */
                 {"", 90, 0.05, 0.5, 1, 0, 0}, /* a few steps have no effect */
                 {"", 0, 50, 0.05, 1, 0, 0},   /* no corner */
                 {"backlash_x = 0.3 mm\n", 90, 50, 0.05, 1, 0, -1},
                 {"backlash_x = 0.3 mm\n", 120, 50, 0.05, 1, 0, 0}, /* which turns round there */
                 {"backlash_y = 0.3 mm\n", 120, 50, 0.05, 1, 0, -1}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtProfile) p = profile(cases[i].corrections);
        const double a = cases[i].degrees * G_PI / 180, mm = cases[i].length;
        const DtPoint pts[] = {{100 - mm, 100}, {100, 100}, {100 + mm * cos(a), 100 + mm * sin(a)}};
        const DtWayRule rule = {.most = cases[i].most, .corner = cases[i].corner};
        g_autoptr(GArray) run = run_of(pts, 3), out = run_of(pts, 1);
        if (cases[i].speed > 0)
            p->speed[0] = p->speed[1] = cases[i].speed;
        dt_corners_cut(p, run, &rule, run, out);
        const double cut = cases[i].cut < 0 ? cases[i].corner / fabs(sin(a / 2)) : cases[i].cut;
        g_assert_cmpuint(out->len, ==, cut > 0 ? 4 : 3);
        NEAR(AT(out, 0)->at[0], pts[0].x);
        NEAR(AT(out, out->len - 1)->at[1], pts[2].y);
        if (cut == 0) {
            NEAR(AT(out, 1)->at[0], 100);
            continue;
        }
        NEAR(AT(out, 1)->at[0], 100 - cut);
        NEAR(AT(out, 1)->at[1], 100);
        NEAR(AT(out, 2)->at[0], 100 + cut * cos(a));
        NEAR(AT(out, 2)->at[1], 100 + cut * sin(a));
        NEAR(AT(out, 1)->way, 1 - cut / mm);
        NEAR(AT(out, 2)->way, 1 + cut / mm);
    }
}

/* X goes out, back and out again while Y goes on: 0.1 mm before either turn X waits, and once Y has gone a tenth of its way
 * there X takes up its slack. */
static void test_turns_are_waited_out(void)
{
    const DtPoint pts[] = {{20, 20}, {30, 25}, {20, 30}, {30, 35}};
    static const struct {
        double x, y, taken;
        int turn;
    } wanted[] = {{20, 20, 0, 0},          {29.9, 24.95, 0, -1},   {29.9, 24.96, 0, -1},
                  {29.9, 25, 4 / 9.0, -1}, {29.9, 25.05, 1, -1},   {20.1, 29.95, 0, 1},
                  {20.1, 29.96, 0, 1},     {20.1, 30, 4 / 9.0, 1}, {20.1, 30.05, 1, 1},
                  {30, 35, 0, 0}};
    g_autoptr(DtProfile) p = profile("backlash_x = 0.3 mm\n");
    const DtWayRule rule = {.most = 0.5, .depth = 0.1, .least_way = 0.2};
    g_autoptr(GArray) run = run_of(pts, 4), out = run_of(pts, 1);
    dt_waits_put(p, run, &rule, 0, run, out);
    g_assert_cmpuint(out->len, ==, G_N_ELEMENTS(wanted));
    for (guint i = 0; i < out->len; i++) {
        const DtCarriagePoint *c = AT(out, i);
        NEAR(c->at[0], wanted[i].x);
        NEAR(c->at[1], wanted[i].y);
        NEAR(c->taken[0], wanted[i].taken);
        g_assert_cmpint(c->turn[0], ==, wanted[i].turn);
        g_assert_cmpint(c->turn[1], ==, 0);
    }
}

/* Where the other axis would not go far enough meanwhile, or the ink would leave its line, or the other axis turns round
 * there too, the run stays as it is. */
static void test_turns_that_cannot_be_waited_out_stay(void)
{
    static const struct {
        double most, depth, least_way;
        DtPoint end;
        gboolean waits;
    } cases[] = {{0.5, 0.1, 0.33, {20, 30}, TRUE},   {0.5, 0.1, 0.34, {20, 30}, FALSE},
                 {0.5, 0.01, 0, {20, 30}, FALSE},    /* less than two steps */
                 {0.5, 0.1, 0.2, {20, 20.5}, FALSE}, /* both turn round */
                 {0.01, 0.1, 0.33, {20, 30}, FALSE}, {0.01, 0.1, 0, {20, 30}, FALSE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        const DtPoint pts[] = {{20, 20}, {30, 25}, cases[i].end};
        g_autoptr(DtProfile) p = profile("backlash_x = 0.3 mm\n");
        const DtWayRule rule = {
            .most = cases[i].most, .depth = cases[i].depth, .least_way = cases[i].least_way};
        g_autoptr(GArray) run = run_of(pts, 3), out = run_of(pts, 1);
        dt_waits_put(p, run, &rule, 0, run, out);
        gboolean waits = FALSE;
        for (guint k = 0; k < out->len; k++)
            waits |= AT(out, k)->turn[0] != 0;
        g_assert_cmpint(waits, ==, cases[i].waits);
        if (!waits) {
            g_assert_cmpuint(out->len, ==, 3);
            g_assert_cmpmem(out->data, 3 * sizeof(DtCarriagePoint), run->data,
                            3 * sizeof(DtCarriagePoint));
        }
    }
}

/* A leg between two turns that count becomes monotone by the mean of the largest before and the smallest to come (Ubhaya
 * 1974); turns count where the axis goes back by more than twice the least. */
static void test_small_reversals_are_left_out(void)
{
    enum { LEG = 60, LEGS = 3, N = LEG * LEGS + 1 };
    static const double least = 0.05;
    g_autoptr(GRand) r = g_rand_new_with_seed(67);
    for (int round = 0; round < 40; round++) {
        DtCarriagePoint c[N], old[N];
        const int axis = round % 2;
        double at = 50;
        for (int i = 0; i < N; i++) {
            const int leg = (i - 1) / LEG, d = (leg + round / 2) % 2 ? -1 : 1;
            const gboolean turn =
                i % LEG == 1 || i % LEG == 0; /* the first and the last step of a leg are large */
            at += i == 0 ? 0 : d * (turn ? 0.5 : g_rand_double_range(r, -0.02, 0.06));
            c[i] = (DtCarriagePoint){.at = {at, at}, .way = i};
        }
        memcpy(old, c, sizeof c);
        dt_legs_straighten(c, N, axis, least);
        for (int i = 0; i < N; i++) {
            const int leg = MIN(MAX(i - 1, 0) / LEG, LEGS - 1), d = (leg + round / 2) % 2 ? -1 : 1;
            const int from = leg * LEG, to = from + LEG;
            double high = -G_MAXDOUBLE, low = G_MAXDOUBLE;
            for (int k = from; k <= i; k++)
                high = MAX(high, d * old[k].at[axis]);
            for (int k = i; k <= to; k++)
                low = MIN(low, d * old[k].at[axis]);
            const double back = high - low;
            if (back > 2 * least)
                g_error("the leg itself turns round");
            NEAR(c[i].at[axis], high > low ? d * (high + low) / 2 : old[i].at[axis]);
            g_assert_cmpfloat(c[i].at[1 - axis], ==, old[i].at[1 - axis]);
        }
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/tidy/between", test_points_between_and_how_far_off);
    g_test_add_func("/tidy/legs", test_small_reversals_are_left_out);
    g_test_add_func("/tidy/corners", test_corners_are_cut_to_their_depth);
    g_test_add_func("/tidy/waits", test_turns_are_waited_out);
    g_test_add_func("/tidy/no-waits", test_turns_that_cannot_be_waited_out_stay);
    return g_test_run();
}
