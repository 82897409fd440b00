/* tip: the path of the pen's tip over the paper, and what each pen does, of moves told by hand. */
#include "proof/private.h"

#include <math.h>

static const DtMove moves[] = {
    {.kind = DT_MOVE_PEN_UP},
    {.kind = DT_MOVE_HOME},
    {.kind = DT_MOVE_TRAVEL, .to = {10, 10}, .ink = {10, 10}},
    {.kind = DT_MOVE_PEN_DOWN, .to = {10, 10}, .ink = {10, 10}},
    {.kind = DT_MOVE_DRAW, .to = {20, 10}, .ink = {20, 10}},
    {.kind = DT_MOVE_SLACK, .to = {19, 10}, .ink = {20, 10}},
    {.kind = DT_MOVE_DRAW, .to = {19, 14}, .ink = {20, 14}},
    {.kind = DT_MOVE_PEN_UP, .to = {19, 14}, .ink = {20, 14}},
    {.kind = DT_MOVE_TRAVEL, .to = {0, 0}, .ink = {0, 0}},
    {.kind = DT_MOVE_PEN_CHANGE, .pen = 1, .to = {0, 0}, .ink = {0.5, 0}},
    {.kind = DT_MOVE_TRAVEL, .pen = 1, .to = {5, 5}, .ink = {5.5, 5}},
    {.kind = DT_MOVE_PEN_DOWN, .pen = 1, .to = {5, 5}, .ink = {5.5, 5}},
    {.kind = DT_MOVE_PEN_UP, .pen = 1, .to = {5, 5}, .ink = {5.5, 5}},
    {.kind = DT_MOVE_TRAVEL, .pen = 7, .to = {8, 5}, .ink = {8, 5}},
    {.kind = DT_MOVE_PEN_DOWN, .pen = 7, .to = {8, 5}, .ink = {8, 5}}, /* of another rack */
    {.kind = DT_MOVE_DRAW, .pen = 7, .to = {8.05, 5}, .ink = {8, 5}},  /* taken up as slack */
    {.kind = DT_MOVE_DRAW, .pen = 7, .to = {8.05, 6}, .ink = {8, 6}},
    {.kind = DT_MOVE_PEN_UP, .pen = 7, .to = {8.05, 6}, .ink = {8, 6}},
    {.kind = DT_MOVE_END, .pen = 7, .to = {8.05, 6}, .ink = {8, 6}},
};
enum { N = G_N_ELEMENTS(moves) };

/* Each move takes its number plus one, s. */
static void fill_times(double at_s[N])
{
    double s = 0;
    for (int i = 0; i < N; i++)
        at_s[i] = s += i + 1;
}

static void assert_point(DtPoint p, double x, double y)
{
    g_assert_cmpfloat_with_epsilon(p.x, x, 1e-12);
    g_assert_cmpfloat_with_epsilon(p.y, y, 1e-12);
}

static void assert_travel(const DtProofTrace *t, guint i, DtPoint from, DtPoint to, double t0,
                          double t1)
{
    const DtProofTravel *v = &g_array_index(t->travels, DtProofTravel, i);
    assert_point(v->from, from.x, from.y);
    assert_point(v->to, to.x, to.y);
    g_assert_cmpfloat(v->t0, ==, t0);
    g_assert_cmpfloat(v->t1, ==, t1);
}

static void test_moves_are_traced(void)
{
    g_autoptr(DtProfile) p = dt_profile_new(); /* three pens */
    double at_s[N];
    fill_times(at_s);
    const DtMoves m = {.m = (DtMove *)moves, .n = N};
    const DtTimes times = {.at_s = at_s};
    DtProofInput in = {.profile = p, .moves = &m, .times = &times};
    DtProofTrace t;
    dt_proof_trace(&t, &in);
    g_assert_cmpuint(t.ink.n, ==, 3);
    g_assert_cmpuint(dt_lines_count(&t.ink, 0), ==, 3);
    assert_point(dt_lines_at(&t.ink, 0)[0], 10, 10);
    assert_point(dt_lines_at(&t.ink, 0)[1], 20, 10);
    assert_point(dt_lines_at(&t.ink, 0)[2], 20, 14);
    g_assert_cmpuint(dt_lines_count(&t.ink, 1), ==, 1); /* a dot */
    assert_point(dt_lines_at(&t.ink, 1)[0], 5.5, 5);
    g_assert_cmpuint(dt_lines_count(&t.ink, 2), ==, 2);
    g_assert_cmpuint(t.pen->len, ==, 3);
    g_assert_cmpuint(g_array_index(t.pen, uint16_t, 0), ==, 0);
    g_assert_cmpuint(g_array_index(t.pen, uint16_t, 1), ==, 1);
    g_assert_cmpuint(g_array_index(t.pen, uint16_t, 2), ==, 2); /* the last of the rack */
    assert_point(dt_point(t.box.x0, t.box.y0), 5.5, 5);
    assert_point(dt_point(t.box.x1, t.box.y1), 20, 14);
    g_assert_cmpuint(t.travels->len, ==, 4);
    assert_travel(&t, 0, dt_point(0, 0), dt_point(10, 10), 3, 6);
    assert_travel(&t, 1, dt_point(20, 14), dt_point(0, 0), 36, 45);
    assert_travel(&t, 2, dt_point(0.5, 0), dt_point(5.5, 5), 55, 66);
    assert_travel(&t, 3, dt_point(5.5, 5), dt_point(8, 5), 91, 105);
    dt_proof_trace_clear(&t);
    const DtMoves from_pen_down = {.m = (DtMove *)moves + 2,
                                   .n = 3}; /* of a program that lifts no pen at its start */
    in.moves = &from_pen_down;
    dt_proof_trace(&t, &in);
    g_assert_cmpuint(t.travels->len, ==, 1);
    g_assert_cmpuint(t.ink.n, ==, 1);
    g_assert_cmpuint(dt_lines_count(&t.ink, 0), ==, 2);
    dt_proof_trace_clear(&t);
    in.moves = &m;
    in.times = NULL;
    dt_proof_trace(&t, &in);
    assert_travel(&t, 1, dt_point(20, 14), dt_point(0, 0), 0, 0);
    dt_proof_trace_clear(&t);
}

static void test_what_each_pen_does(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    double at_s[N];
    fill_times(at_s);
    const DtMoves m = {.m = (DtMove *)moves, .n = N};
    const DtTimes times = {.at_s = at_s};
    DtProofPen pens[3];
    dt_proof_pens(p, &m, &times, pens);
    g_assert_cmpuint(pens[0].strokes, ==, 1);
    g_assert_cmpfloat(pens[0].ink_mm, ==, 14);
    g_assert_cmpfloat(pens[0].ink_s, ==, 5 + 7);
    g_assert_cmpfloat(pens[0].slack_s, ==, 6);
    g_assert_cmpfloat(pens[0].travel_s, ==, 3 + 9);
    g_assert_cmpfloat(pens[0].lift_s, ==, 1 + 4 + 8);
    g_assert_cmpuint(pens[1].strokes, ==, 1);
    g_assert_cmpfloat(pens[1].ink_mm, ==, 0);
    g_assert_cmpfloat(pens[1].travel_s, ==, 11);
    g_assert_cmpfloat(pens[1].lift_s, ==, 12 + 13);
    g_assert_cmpuint(pens[2].strokes, ==, 1);
    g_assert_cmpfloat(pens[2].slack_s, ==, 16);
    g_assert_cmpfloat(pens[2].ink_s, ==, 17);
    g_assert_cmpfloat(pens[2].ink_mm, ==, 1);
    g_assert_cmpfloat(pens[2].travel_s, ==, 14);
    dt_proof_pens(p, &m, NULL, pens);
    g_assert_cmpfloat(pens[0].ink_s + pens[0].slack_s + pens[0].travel_s + pens[0].lift_s, ==, 0);
    g_assert_cmpfloat(pens[0].ink_mm, ==, 14);
}

/* A pen's place is that of its first stroke, wherever it is in the rack; one that draws nothing has none. */
static void test_pens_in_drawing_order(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    static const DtMove drawn[] = {
        {.kind = DT_MOVE_PEN_DOWN, .pen = 2}, {.kind = DT_MOVE_PEN_UP, .pen = 2},
        {.kind = DT_MOVE_TRAVEL, .pen = 1},   {.kind = DT_MOVE_PEN_DOWN, .pen = 0},
        {.kind = DT_MOVE_PEN_UP, .pen = 0},   {.kind = DT_MOVE_PEN_DOWN, .pen = 2},
        {.kind = DT_MOVE_PEN_UP, .pen = 2}};
    const DtMoves m = {.m = (DtMove *)drawn, .n = G_N_ELEMENTS(drawn)};
    DtProofPen pens[3];
    size_t order[3];
    g_assert_cmpuint(p->rack.n, ==, 3);
    dt_proof_pens(p, &m, NULL, pens);
    g_assert_cmpuint(pens[2].turn, ==, 1);
    g_assert_cmpuint(pens[0].turn, ==, 2);
    g_assert_cmpuint(pens[1].turn, ==, 0);
    g_assert_cmpuint(dt_proof_pen_order(pens, 3, order), ==, 2);
    g_assert_cmpuint(order[0], ==, 2);
    g_assert_cmpuint(order[1], ==, 0);
}

/* A sequence has no moves yet: the pen goes from home to each run, to the change place, to the park. */
static void test_sequences_are_traced(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    p->change_at = dt_point(30, 40);
    p->park = dt_point(1, 2);
    g_auto(DtSequence) s = {0};
    dt_sequence_begin(&s, 0, 0);
    dt_sequence_point(&s, dt_point(10, 10));
    dt_sequence_point(&s, dt_point(12, 10));
    dt_sequence_begin(&s, 0, 1); /* nothing in it */
    dt_sequence_begin(&s, 0, 1);
    dt_sequence_point(&s, dt_point(12, 20));
    s.polylines[2].has_run_in = TRUE;
    s.polylines[2].run_in = dt_point(11, 19);
    dt_sequence_begin(&s, 1, 2);
    dt_sequence_point(&s, dt_point(30, 40)); /* where the pens are changed */
    dt_sequence_point(&s, dt_point(31, 40));
    DtProofTrace t;
    dt_proof_trace(&t, &(DtProofInput){.profile = p, .sequence = &s});
    g_assert_cmpuint(t.ink.n, ==, 3);
    g_assert_cmpuint(dt_lines_count(&t.ink, 0), ==, 2);
    g_assert_cmpuint(dt_lines_count(&t.ink, 1), ==, 1);
    g_assert_cmpuint(g_array_index(t.pen, uint16_t, 2), ==, 1);
    g_assert_cmpuint(t.travels->len, ==, 5);
    assert_travel(&t, 0, dt_point(0, 0), dt_point(10, 10), 0, 0);
    assert_travel(&t, 1, dt_point(12, 10), dt_point(11, 19), 0, 0);
    assert_travel(&t, 2, dt_point(11, 19), dt_point(12, 20), 0, 0);
    assert_travel(&t, 3, dt_point(12, 20), dt_point(30, 40), 0, 0);
    assert_travel(&t, 4, dt_point(31, 40), dt_point(1, 2), 0, 0);
    dt_proof_trace_clear(&t);
}

/* Frames ---------------------------------------------------------------------------------------- */

static void test_round_lengths(void)
{
    static const struct {
        double most, length;
    } cases[] = {{1, 1},   {1.99, 1}, {2, 2},     {4.99, 2},  {5, 5},        {9.99, 5},
                 {10, 10}, {37, 20},  {500, 500}, {0.1, 0.1}, {0.049, 0.02}, {0.0051, 0.005}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        g_assert_cmpfloat_with_epsilon(dt_proof_round_length(cases[i].most), cases[i].length,
                                       1e-9 * cases[i].length);
}

/* y grows upwards on the bed and downwards on the picture. */
static void test_places_on_the_picture(void)
{
    const DtProofFrame f = {{10, 20, 110, 70}, 5, 7, 4};
    g_assert_cmpfloat(dt_proof_frame_width(&f), ==, 400);
    g_assert_cmpfloat(dt_proof_frame_height(&f), ==, 200);
    assert_point(dt_proof_frame_at(&f, dt_point(10, 70)), 5, 7);
    assert_point(dt_proof_frame_at(&f, dt_point(110, 20)), 405, 207);
    assert_point(dt_proof_frame_at(&f, dt_point(35, 60)), 105, 47);
}

/* From the first second to the last each colour differs from the one before. */
static void test_colours_of_time(void)
{
    DtColour before = dt_proof_when(0);
    for (int i = 1; i <= 20; i++) {
        const DtColour c = dt_proof_when(i / 20.0);
        g_assert_cmpfloat(fabs(c.r - before.r) + fabs(c.g - before.g) + fabs(c.b - before.b), >,
                          0.02);
        g_assert_true(c.r >= 0 && c.r <= 1 && c.g >= 0 && c.g <= 1 && c.b >= 0 && c.b <= 1);
        before = c;
    }
    const DtColour first = dt_proof_when(-1), last = dt_proof_when(2);
    g_assert_cmpfloat(first.r, ==, dt_proof_when(0).r);
    g_assert_cmpfloat(last.b, ==, dt_proof_when(1).b);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/proof/tip/moves", test_moves_are_traced);
    g_test_add_func("/proof/tip/pens", test_what_each_pen_does);
    g_test_add_func("/proof/tip/drawing-order", test_pens_in_drawing_order);
    g_test_add_func("/proof/tip/sequence", test_sequences_are_traced);
    g_test_add_func("/proof/frame/round-lengths", test_round_lengths);
    g_test_add_func("/proof/frame/places", test_places_on_the_picture);
    g_test_add_func("/proof/frame/time", test_colours_of_time);
    return g_test_run();
}
