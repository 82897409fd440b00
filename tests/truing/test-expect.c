/* truing: the ink error that is expected of moves. */
#include "drawtrue/truing.h"

#include <math.h>

/* A line along X of 100 mm, drawn `off` mm beside it, pen down and up about it. */
static void line(DtSequence *q, DtMoves *m, double off)
{
    dt_sequence_init(q);
    dt_moves_init(m);
    dt_sequence_begin(q, 0, 0);
    dt_sequence_point(q, dt_point(10, 20));
    dt_sequence_point(q, dt_point(110, 20));
    const DtMove moves[] = {
        {.kind = DT_MOVE_TRAVEL, .to = {10, 20}, .ink = {10, 20 + off}},
        {.kind = DT_MOVE_PEN_DOWN, .to = {10, 20}, .ink = {10, 20 + off}},
        {.kind = DT_MOVE_DRAW, .to = {110, 20}, .ink = {110, 20 + off}, .feed_mm_s = 10},
        {.kind = DT_MOVE_PEN_UP, .to = {110, 20}, .ink = {110, 20 + off}}};
    for (gsize i = 0; i < G_N_ELEMENTS(moves); i++)
        dt_moves_append(m, &moves[i]);
}

/* What is planned to be off is off, and a motor's steps: uniform over 0.01 mm, 95 % of which are within 0.0057 by the
 * normal deviation that stands for it. */
static void test_what_is_planned_counts(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    const double step = MAX(1 / p->steps_per_mm[0], 1 / p->steps_per_mm[1]),
                 steps = 1.96 * step / sqrt(12);
    const DtFigures none = {0};
    for (int k = 0; k < 2; k++) {
        g_auto(DtSequence) q;
        g_auto(DtMoves) m;
        DtExpectation e;
        const double off = k * 0.08;
        line(&q, &m, off);
        g_assert_true(dt_truing_expect(p, &none, &q, &m, &e));
        g_assert_cmpfloat(e.p95_mm, >=, off + 0.8 * steps * (k == 0));
        g_assert_cmpfloat(e.p95_mm, <=, off + 1.05 * steps);
        g_assert_true(dt_truing_expect(p, &none, NULL, &m, &e));
        g_assert_cmpfloat(e.p95_mm, <=, 1.05 * steps); /* without the lines nobody knows */
    }
}

/* Normal deviations across the line: 1.96 of them hold 95 %; along it none. */
static void test_what_is_uncertain_counts(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtSequence) q;
    g_auto(DtMoves) m;
    DtExpectation e;
    DtFigure f = {
        .kind = DT_ERROR_OF_POSITION, .axis = 1, .pen = -1, .at = NAN, .known = TRUE, .sd = 0.05};
    const DtFigures one = {.f = &f, .n = 1};
    line(&q, &m, 0);
    g_assert_true(dt_truing_expect(p, &one, &q, &m, &e));
    g_assert_cmpfloat_with_epsilon(e.p95_mm, 1.96 * 0.05, 0.003);
    f.axis = 0;
    g_assert_true(dt_truing_expect(p, &one, &q, &m, &e));
    g_assert_cmpfloat(e.p95_mm, <, 0.01);
}

/* A line that is drawn there and back, and meets itself: no place of it is taken for another. */
static void test_a_line_drawn_again_is_followed(void)
{
    static const DtPoint way[] = {{10, 10},  {10, 14}, {10.3, 16}, {10, 14},
                                  {9.8, 18}, {10, 10}, {30, 10},   {30, 40}};
    g_autoptr(DtProfile) p = dt_profile_new();
    const DtFigures none = {0};
    DtExpectation e;
    g_auto(DtSequence) q;
    g_auto(DtMoves) m;
    dt_sequence_init(&q);
    dt_moves_init(&m);
    dt_sequence_begin(&q, 0, 0);
    for (gsize i = 0; i < G_N_ELEMENTS(way); i++) {
        const DtMove move = {.kind = i ? DT_MOVE_DRAW : DT_MOVE_PEN_DOWN,
                             .to = way[i],
                             .ink = way[i],
                             .feed_mm_s = i ? 10 : 0};
        if (i == 0) {
            const DtMove travel = {.kind = DT_MOVE_TRAVEL, .to = way[0], .ink = way[0]};
            dt_moves_append(&m, &travel);
        }
        dt_sequence_point(&q, way[i]);
        dt_moves_append(&m, &move);
    }
    g_assert_true(dt_truing_expect(p, &none, &q, &m, &e));
    g_assert_cmpfloat(e.largest_mm, <, 0.03);
}

/* Ink that leaves out a spur of the line is on the line all the same, and it is followed from where it is found again:
 * all of the line is looked at once, however long the rest of it is. */
static void test_ink_that_skips_a_spur_is_found_again(void)
{
    enum { ROWS = 140, PLACES = 100 };
    g_autoptr(DtProfile) p = dt_profile_new();
    const DtFigures none = {0};
    DtExpectation e;
    g_auto(DtSequence) q;
    g_auto(DtMoves) m;
    dt_sequence_init(&q);
    dt_moves_init(&m);
    dt_sequence_begin(&q, 0, 0);
    const DtPoint first[] = {{10, 10}, {15, 10}, {15, 40}, {15, 10}};
    const DtMove travel = {.kind = DT_MOVE_TRAVEL, .to = first[0], .ink = first[0]},
                 down = {.kind = DT_MOVE_PEN_DOWN, .to = first[0], .ink = first[0]};
    for (gsize i = 0; i < G_N_ELEMENTS(first); i++)
        dt_sequence_point(&q, first[i]);
    dt_moves_append(&m, &travel);
    dt_moves_append(&m, &down);
    for (int row = 0; row < ROWS; row++)
        for (int i = 0; i <= PLACES; i++) {
            const DtPoint at = {20 + (row % 2 ? PLACES - i : i), 10 + row};
            const DtMove draw = {.kind = DT_MOVE_DRAW, .to = at, .ink = at, .feed_mm_s = 10};
            dt_sequence_point(&q, at);
            dt_moves_append(&m, &draw);
        }
    g_assert_true(dt_truing_expect(p, &none, &q, &m, &e));
    g_assert_cmpfloat(e.largest_mm, <, 0.03);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/expect/planned", test_what_is_planned_counts);
    g_test_add_func("/expect/uncertain", test_what_is_uncertain_counts);
    g_test_add_func("/expect/again", test_a_line_drawn_again_is_followed);
    g_test_add_func("/expect/spur", test_ink_that_skips_a_spur_is_found_again);
    return g_test_run();
}
