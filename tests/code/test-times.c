/* times: of moves, as the program that is written of them takes them. */
#include "drawtrue/code.h"

#include <math.h>

static void add_stroke(DtSequence *s, double y, double length)
{
    dt_sequence_begin(s, 0, s->n);
    for (int i = 0; i <= 40; i++)
        dt_sequence_point(s, dt_point(20 + length * i / 40, y + 0.2 * sin(i)));
}

static double sum_of(const DtMoves *m, const DtTimes *t, gboolean (*of)(DtMoveKind))
{
    double sum = 0, before = 0;
    for (size_t i = 0; i < m->n; i++) {
        g_assert_cmpfloat(t->at_s[i], >=, before - 1e-9);
        sum += of(m->m[i].kind) ? t->at_s[i] - before : 0;
        before = t->at_s[i];
    }
    return sum;
}

static gboolean is_pen(DtMoveKind k)
{
    return k == DT_MOVE_PEN_UP || k == DT_MOVE_PEN_DOWN;
}

static gboolean is_ink(DtMoveKind k)
{
    return k == DT_MOVE_DRAW;
}

static gboolean is_travel(DtMoveKind k)
{
    return k == DT_MOVE_TRAVEL || k == DT_MOVE_SLACK || k == DT_MOVE_END;
}

static gboolean is_home(DtMoveKind k)
{
    return k == DT_MOVE_HOME;
}

/* The times of the parts are those of the whole, move by move; the whole is the program's. */
static void test_parts_add_up_to_the_program_s_time(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) m = {0};
    DtTimes t, plain;
    p->dialect.decimals = 1; /* coarse, so that the program takes another time than the moves */
    p->drop_s = 0.3;
    add_stroke(&s, 40, 60);
    add_stroke(&s, 60, 3);
    g_assert_true(dt_machine_moves(p, &s, &m, NULL));
    dt_code_times(p, &m, TRUE, &t);
    dt_machine_time(p, &m, FALSE, &plain);

    gsize len;
    DtInspection i;
    g_autofree char *text = dt_code_write(p, &m, &len, NULL);
    g_assert_true(dt_code_inspect_text(p, text, len, &i, NULL));
    g_assert_cmpfloat_with_epsilon(t.total_s, i.time_s, 1e-6);
    g_assert_cmpfloat_with_epsilon(t.lift_s, i.dwell_s, 1e-9);
    g_assert_cmpfloat_with_epsilon(t.home_s, dt_machine_home_s(p), 1e-9);
    g_assert_cmpfloat(fabs(t.ink_s - plain.ink_s), >, 1e-3);

    g_assert_cmpfloat_with_epsilon(t.total_s, t.ink_s + t.travel_s + t.lift_s + t.home_s, 1e-6);
    g_assert_cmpfloat_with_epsilon(t.at_s[m.n - 1], t.total_s, 1e-6);
    g_assert_cmpfloat_with_epsilon(sum_of(&m, &t, is_pen), t.lift_s, 1e-6);
    g_assert_cmpfloat_with_epsilon(sum_of(&m, &t, is_home), t.home_s, 1e-6);
    g_assert_cmpfloat_with_epsilon(sum_of(&m, &t, is_ink), t.ink_s, 1e-6);
    g_assert_cmpfloat_with_epsilon(sum_of(&m, &t, is_travel), t.travel_s, 1e-6);
    g_assert_cmpfloat_with_epsilon(t.ink_s / t.travel_s, plain.ink_s / plain.travel_s, 1e-6);
    dt_inspection_clear(&i);
    dt_times_clear(&t);
}

/* Lost motion is part of the travel, and grows or shrinks with it. */
static void test_slack_is_fitted_with_the_travel(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) m = {0};
    DtTimes t, plain;
    double at = 0, lost = 0.4;
    for (int i = 0; i < 2; i++)
        p->backlash[i] = (DtTable){g_memdup2(&at, sizeof at), g_memdup2(&lost, sizeof lost), 1};
    p->dialect.decimals = 1;
    p->ink_tolerance = 0;
    const DtPoint square[] = {{40, 40}, {80, 40}, {80, 80}, {40, 80}, {40, 40}};
    dt_sequence_begin(&s, 0, 0);
    for (size_t i = 0; i < G_N_ELEMENTS(square); i++)
        dt_sequence_point(&s, square[i]);
    g_assert_true(dt_machine_moves(p, &s, &m, NULL));
    dt_code_times(p, &m, FALSE, &t);
    dt_machine_time(p, &m, FALSE, &plain);
    g_assert_null(t.at_s);
    g_assert_cmpfloat(plain.slack_s, >, 0);
    g_assert_cmpfloat_with_epsilon(t.slack_s / plain.slack_s, t.travel_s / plain.travel_s, 1e-9);
    g_assert_cmpfloat_with_epsilon(t.slack_up_s * plain.slack_s, plain.slack_up_s * t.slack_s,
                                   1e-9);
    g_assert_cmpfloat(fabs(t.travel_s / plain.travel_s - 1), <, 0.05);
}

/* A carriage that a program sends beyond the travel stands at its end, whatever the program says. */
static void test_homing_from_out_of_reach(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    const double w = p->travel[0], h = p->travel[1];
    g_assert_cmpfloat(dt_machine_home_from_s(p, dt_point(-2000, -1)), ==,
                      dt_machine_home_from_s(p, dt_point(0, 0)));
    g_assert_cmpfloat(dt_machine_home_from_s(p, dt_point(1e6, h + 1)), ==,
                      dt_machine_home_from_s(p, dt_point(w, h)));
}

/* Where a program homes again, the place is known. */
static void test_homing_again_counts_from_its_place(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtMoves) m = {0};
    const DtPoint at = {80, 30};
    const DtMove moves[] = {{.kind = DT_MOVE_PEN_UP},
                            {.kind = DT_MOVE_HOME},
                            {.kind = DT_MOVE_TRAVEL, .to = at, .ink = at},
                            {.kind = DT_MOVE_HOME},
                            {.kind = DT_MOVE_END}};
    for (gsize i = 0; i < G_N_ELEMENTS(moves); i++)
        dt_moves_append(&m, &moves[i]);
    DtTimes written, plain;
    dt_code_times(p, &m, FALSE, &written);
    dt_machine_time(p, &m, FALSE, &plain);
    const double want = dt_machine_home_s(p) + dt_machine_home_from_s(p, at);
    g_assert_cmpfloat_with_epsilon(written.home_s, want, 1e-9);
    g_assert_cmpfloat_with_epsilon(plain.home_s, want, 1e-9);
    /* both axes at two thirds of the slower speed: no more than that is added to homing from home */
    const double fast = MIN(p->speed[0], p->speed[1]) * 2 / 3;
    g_assert_cmpfloat_with_epsilon(dt_machine_home_from_s(p, at) -
                                       dt_machine_home_from_s(p, dt_point(0, 0)),
                                   (at.x + at.y) / fast, 1e-9);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/times/parts", test_parts_add_up_to_the_program_s_time);
    g_test_add_func("/code/times/slack", test_slack_is_fitted_with_the_travel);
    g_test_add_func("/times/homing-again", test_homing_again_counts_from_its_place);
    g_test_add_func("/code/times/out-of-reach", test_homing_from_out_of_reach);
    return g_test_run();
}
