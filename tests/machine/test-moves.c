/* moves: the ink of the moves, by a play model of the test's own, lies on the planned line. */
#include "drawtrue/machine.h"

#include <math.h>
#include <string.h>

/* A carriage within the slack of its drive, true mm along the axis -------------------------- */

typedef struct {
    double at[8], lost[8];
    int n;
} TrueTable;

typedef struct {
    TrueTable table[2];
    double scale[2], square;
    double drive[2], carriage[2]; /* true mm */
} TrueMachine;

static double true_lost(const TrueTable *t, double at)
{
    if (t->n == 0)
        return 0;
    for (int i = 0; i + 1 < t->n; i++)
        if (at >= t->at[i] && at < t->at[i + 1])
            return t->lost[i] +
                   (t->lost[i + 1] - t->lost[i]) * (at - t->at[i]) / (t->at[i + 1] - t->at[i]);
    return at < t->at[0] ? t->lost[0] : t->lost[t->n - 1];
}

/* The carriage c with c = m + lost(c), by bisection. */
static double pulled(const TrueTable *t, double m)
{
    double low = m, high = m + 6;
    for (int i = 0; i < 80; i++) {
        double middle = 0.5 * (low + high);
        *(middle < m + true_lost(t, middle) ? &low : &high) = middle;
    }
    return 0.5 * (low + high);
}

static double follow(const TrueTable *t, double c, double from, double m)
{
    if (m > from)
        return MAX(c, m);
    return m < from ? MIN(c, pulled(t, m)) : c;
}

static DtPoint true_tip(const TrueMachine *m, const double *c, DtPoint offset)
{
    return dt_point(c[0] + c[1] * sin(m->square) + offset.x, c[1] * cos(m->square) + offset.y);
}

/* Cases ---------------------------------------------------------------------------------------- */

static DtTable make_table(const TrueTable *t)
{
    return (DtTable){g_memdup2(t->at, sizeof t->at), g_memdup2(t->lost, sizeof t->lost),
                     (size_t)t->n};
}

static TrueTable random_table(GRand *r)
{
    TrueTable t = {.n = g_rand_int_range(r, 0, 8)};
    double at = g_rand_double_range(r, -10, 40);
    for (int i = 0; i < t.n; i++) {
        t.at[i] = at;
        double step = g_rand_double_range(r, 5, 60);
        double lost = i ? t.lost[i - 1] + step * g_rand_double_range(r, -0.02, 0.02)
                        : g_rand_double_range(r, 0, 0.6);
        t.lost[i] = CLAMP(lost, 0, 0.8);
        at += step;
    }
    return t;
}

static DtProfile *random_profile(GRand *r, TrueMachine *m)
{
    DtProfile *p = dt_profile_new();
    p->ink_tolerance = 0;
    m->square = p->square = g_rand_double_range(r, -0.02, 0.02);
    for (int i = 0; i < 2; i++) {
        m->scale[i] = p->scale[i] = g_rand_double_range(r, 0.97, 1.03);
        m->table[i] = random_table(r);
        p->backlash[i] = make_table(&m->table[i]);
        m->drive[i] = m->carriage[i] = 0;
        p->rack.pens[1].offset = dt_point(0.3, -0.2);
    }
    return p;
}

static DtPoint random_point(GRand *r)
{
    return dt_point(g_rand_double_range(r, 12, 260), g_rand_double_range(r, 12, 190));
}

/* Long lines, short ones, lines along an axis, tiny reversals, loops and dots. */
static void random_run(GRand *r, DtSequence *s, unsigned pen)
{
    dt_sequence_begin(s, pen, s->n);
    DtPoint at = random_point(r);
    size_t first = s->n_pts;
    int n = g_rand_int_range(r, 1, 12), kind = g_rand_int_range(r, 0, 4);
    dt_sequence_point(s, at);
    for (int i = 1; i < n; i++) {
        DtPoint next = random_point(r);
        if (kind == 1)
            next = dt_point(at.x + g_rand_double_range(r, -1, 1), at.y);
        else if (kind == 2)
            next = dt_point(at.x + g_rand_double_range(r, -1e-3, 1e-3),
                            at.y + g_rand_double_range(r, -0.5, 1));
        else if (i % 5 == 4)
            next = at;
        at = dt_point(CLAMP(next.x, 12, 260), CLAMP(next.y, 12, 190));
        dt_sequence_point(s, at);
    }
    if (kind == 3)
        dt_sequence_point(s, s->pts[first]);
}

/* Ellipses and spirals of all sizes, which turn round gently. */
static void random_curves(GRand *r, DtSequence *s)
{
    for (int n = g_rand_int_range(r, 1, 4); n > 0; n--) {
        DtPoint c = dt_point(g_rand_double_range(r, 40, 230), g_rand_double_range(r, 40, 160));
        double a = exp(g_rand_double_range(r, log(0.05), log(25))), turn = g_rand_double(r);
        double b = a * g_rand_double_range(r, 0.1, 1), grow = g_rand_double_range(r, -0.3, 0.1);
        dt_sequence_begin(s, 1, s->n);
        for (int i = 0; i <= 90; i++) {
            double t = i * 4 * G_PI / 90, k = 1 + grow * i / 90;
            double x = a * k * cos(t), y = b * k * sin(t);
            dt_sequence_point(s, dt_point(c.x + x * cos(turn) - y * sin(turn),
                                          c.y + x * sin(turn) + y * cos(turn)));
        }
    }
}

static void random_sequence(GRand *r, DtSequence *s)
{
    dt_sequence_init(s);
    int n = g_rand_int_range(r, 1, 12), change = g_rand_int_range(r, 0, n + 1);
    for (int i = 0; i < n; i++)
        random_run(r, s, i >= change);
}

/* The judge ------------------------------------------------------------------------------------ */

typedef struct {
    double worst;       /* of all ink, from the planned line that it belongs to */
    double drawn_mm;    /* of the run being drawn */
    double slack_moved; /* how far the carriage ever went during DT_MOVE_SLACK */
    size_t slacks_down; /* DT_MOVE_SLACK with the pen down */
    size_t runs;
} Verdict;

static double off_line(const DtSequence *s, size_t run, DtPoint at)
{
    const DtPolyline *r = &s->polylines[run];
    double best = dt_point_distance(at, s->pts[r->first]);
    for (size_t i = 1; i < r->n; i++)
        best = MIN(best,
                   dt_point_segment_distance(at, s->pts[r->first + i - 1], s->pts[r->first + i]));
    return best;
}

static double run_length(const DtSequence *s, size_t run)
{
    double sum = 0;
    const DtPolyline *r = &s->polylines[run];
    for (size_t i = 1; i < r->n; i++)
        sum += dt_point_distance(s->pts[r->first + i - 1], s->pts[r->first + i]);
    return sum;
}

static void run_motion(TrueMachine *m, const DtMove *move, DtPoint offset, gboolean down,
                       const DtSequence *s, Verdict *v)
{
    enum { SAMPLES = 8 };
    double from[2] = {m->drive[0], m->drive[1]}, start[2] = {m->carriage[0], m->carriage[1]};
    double to[2] = {move->to.x * m->scale[0], move->to.y * m->scale[1]};
    DtPoint before = true_tip(m, start, offset);
    for (int k = 1; k <= SAMPLES; k++) {
        double c[2];
        for (int i = 0; i < 2; i++) {
            double at = k == SAMPLES ? to[i] : from[i] + (to[i] - from[i]) * k / SAMPLES;
            m->carriage[i] = c[i] = follow(&m->table[i], start[i], from[i], at);
        }
        DtPoint at = true_tip(m, c, offset);
        if (down)
            v->worst = MAX(v->worst, off_line(s, move->polyline, at));
        v->drawn_mm += down ? dt_point_distance(before, at) : 0;
        if (move->kind == DT_MOVE_SLACK)
            v->slack_moved = MAX(v->slack_moved, dt_point_distance(before, at));
        before = at;
    }
    m->drive[0] = to[0];
    m->drive[1] = to[1];
    g_assert_cmpfloat_with_epsilon(before.x, move->ink.x, 1e-6);
    g_assert_cmpfloat_with_epsilon(before.y, move->ink.y, 1e-6);
}

/* Runs the moves on the true machine. `slip`: what a run's ink length may miss. */
static Verdict judge(TrueMachine *m, const DtProfile *p, const DtSequence *s, const DtMoves *moves,
                     double slip)
{
    Verdict v = {0};
    gboolean down = FALSE;
    g_assert_cmpuint(moves->n, >=, 3);
    g_assert_cmpint(moves->m[0].kind, ==, DT_MOVE_PEN_UP);
    g_assert_cmpint(moves->m[1].kind, ==, DT_MOVE_HOME);
    g_assert_cmpint(moves->m[moves->n - 1].kind, ==, DT_MOVE_END);
    g_assert_cmpfloat(moves->m[moves->n - 1].to.x, ==, 0);
    g_assert_cmpfloat(moves->m[moves->n - 1].to.y, ==, 0);
    for (size_t i = 0; i < moves->n; i++) {
        const DtMove *move = &moves->m[i];
        switch (move->kind) {
        case DT_MOVE_TRAVEL:
        case DT_MOVE_DRAW:
        case DT_MOVE_SLACK:
            g_assert_true(down || move->kind != DT_MOVE_DRAW);
            g_assert_true(!down || move->kind != DT_MOVE_TRAVEL);
            v.slacks_down += down && move->kind == DT_MOVE_SLACK;
            run_motion(m, move, p->rack.pens[move->pen].offset, down, s, &v);
            break;
        case DT_MOVE_PEN_DOWN:
            g_assert_false(down);
            down = TRUE;
            v.drawn_mm = 0;
            g_assert_cmpuint(move->polyline, ==, v.runs++);
            g_assert_cmpfloat(
                dt_point_distance(move->ink, s->pts[s->polylines[move->polyline].first]), <,
                slip + 1e-6);
            break;
        case DT_MOVE_PEN_UP:
            if (down)
                g_assert_cmpfloat_with_epsilon(v.drawn_mm, run_length(s, move->polyline),
                                               slip + 1e-5);
            down = FALSE;
            break;
        case DT_MOVE_PEN_CHANGE:
        case DT_MOVE_TURN_PAPER:
            g_assert_cmpfloat(m->drive[0], ==, p->change_at.x);
            g_assert_false(down);
            break;
        case DT_MOVE_HOME:
        case DT_MOVE_END:
            g_assert_false(down);
            break;
        }
    }
    g_assert_cmpuint(v.runs, ==, s->n);
    return v;
}

static void test_ink_lies_on_the_planned_line(void)
{
    GRand *r = g_rand_new_with_seed(20);
    for (int round = 0; round < 400; round++) {
        TrueMachine m;
        g_autoptr(DtProfile) p = random_profile(r, &m);
        p->steps_per_mm[0] = p->steps_per_mm[1] = 1e9; /* every reversal is a real one */
        g_auto(DtSequence) s;
        random_sequence(r, &s);
        g_auto(DtMoves) moves;
        dt_moves_init(&moves);
        g_autoptr(GError) error = NULL;
        g_assert_true(dt_machine_moves(p, &s, &moves, &error));
        g_assert_no_error(error);
        Verdict v = judge(&m, p, &s, &moves, 0);
        g_assert_cmpfloat(v.worst, <, 1e-6);
        g_assert_cmpfloat(v.slack_moved, <, 1e-9);
    }
    g_rand_free(r);
}

static void test_the_model_has_teeth(void)
{
    GRand *r = g_rand_new_with_seed(21);
    TrueMachine m = {.scale = {1, 1}, .table = {{{0}, {0.3}, 1}, {{0}, {0.45}, 1}}};
    g_autoptr(DtProfile) p = dt_profile_new(); /* no corrections */
    g_auto(DtSequence) s;
    dt_sequence_init(&s);
    dt_sequence_begin(&s, 0, 0);
    dt_sequence_point(&s, dt_point(50, 50));
    dt_sequence_point(&s, dt_point(60, 50));
    dt_sequence_point(&s, dt_point(60, 60));
    dt_sequence_point(&s, dt_point(50, 60));
    dt_sequence_point(&s, dt_point(50, 50));
    g_auto(DtMoves) moves;
    dt_moves_init(&moves);
    g_assert_true(dt_machine_moves(p, &s, &moves, NULL));
    double worst = 0;
    for (size_t i = 0; i < moves.n; i++) {
        const DtMove *move = &moves.m[i];
        double to[2] = {move->to.x, move->to.y};
        for (int k = 0; k < 2; k++) {
            m.carriage[k] = follow(&m.table[k], m.carriage[k], m.drive[k], to[k]);
            m.drive[k] = to[k];
        }
        if (move->kind == DT_MOVE_DRAW)
            worst = MAX(worst, off_line(&s, 0, true_tip(&m, m.carriage, dt_point(0, 0))));
    }
    g_assert_cmpfloat(worst, >, 0.29);
    g_rand_free(r);
}

/* A line with noise far below a step: the slack must not be taken up at every wiggle. */
static void test_jitter_is_not_corrected_twice(void)
{
    GRand *r = g_rand_new_with_seed(22);
    TrueMachine m;
    g_autoptr(DtProfile) p = random_profile(r, &m);
    dt_profile_drop_corrections(p);
    m = (TrueMachine){.scale = {1, 1}, .table = {{{0, 300}, {0.12, 0.38}, 2}, {{0}, {0.45}, 1}}};
    p->backlash[0] = make_table(&m.table[0]);
    p->backlash[1] = make_table(&m.table[1]);
    g_auto(DtSequence) s;
    dt_sequence_init(&s);
    dt_sequence_begin(&s, 0, 0);
    for (int i = 0; i <= 1000; i++)
        dt_sequence_point(&s, dt_point(250 - 0.2 * i, 100 + g_rand_double_range(r, -0.001, 0.001)));
    g_auto(DtMoves) moves;
    dt_moves_init(&moves);
    g_assert_true(dt_machine_moves(p, &s, &moves, NULL));
    Verdict v = judge(&m, p, &s, &moves, 0.1);
    g_assert_cmpfloat(v.worst, <, 0.005);
    g_assert_cmpuint(v.slacks_down, ==, 0);
    g_rand_free(r);
}

/* A wiggle of less than half a step that grows into a real reversal is followed from its turn. */
static void test_a_slow_reversal_is_kept(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    p->ink_tolerance = 0;
    TrueMachine m = {.scale = {1, 1}, .table = {{{0}, {0.3}, 1}, {{0}, {0.45}, 1}}};
    p->backlash[0] = make_table(&m.table[0]);
    p->backlash[1] = make_table(&m.table[1]);
    g_auto(DtSequence) s;
    dt_sequence_init(&s);
    dt_sequence_begin(&s, 0, 0);
    for (int i = 0; i <= 2000; i++) /* a circle in steps of 0.03 mm */
        dt_sequence_point(
            &s, dt_point(100 + 10 * cos(i * G_PI / 1000), 100 + 10 * sin(i * G_PI / 1000)));
    g_auto(DtMoves) moves;
    dt_moves_init(&moves);
    g_assert_true(dt_machine_moves(p, &s, &moves, NULL));
    Verdict v = judge(&m, p, &s, &moves, 0.1);
    g_assert_cmpfloat(v.worst, <, 0.0101 + 0.0026);
    g_assert_cmpuint(v.slacks_down, ==,
                     0); /* each axis waits at its turns while the other goes on */

    DtTimes waiting, standing;
    dt_machine_time(p, &moves, FALSE, &waiting);
    p->steps_per_mm[0] = p->steps_per_mm[1] = 1e9; /* no room to wait in */
    g_assert_true(dt_machine_moves(p, &s, &moves, NULL));
    m = (TrueMachine){.scale = {1, 1}, .table = {{{0}, {0.3}, 1}, {{0}, {0.45}, 1}}};
    v = judge(&m, p, &s, &moves, 0.1);
    g_assert_cmpfloat(v.worst, <, 1e-6);
    g_assert_cmpuint(v.slacks_down, ==, 3); /* from its start in + and -, a circle turns thrice */
    dt_machine_time(p, &moves, FALSE, &standing);
    g_assert_cmpfloat(waiting.total_s, <, standing.total_s);
}

/* The strokes of the first test as the motors can follow them: within a step and a half of the
 * line, whatever the tables, with every end where it should be. */
static void test_what_motors_can_follow_stays_near_the_line(void)
{
    GRand *r = g_rand_new_with_seed(24);
    for (int round = 0; round < 200; round++) {
        TrueMachine m;
        g_autoptr(DtProfile) p = random_profile(r, &m);
        g_auto(DtSequence) s;
        random_sequence(r, &s);
        random_curves(r, &s);
        g_auto(DtMoves) moves;
        dt_moves_init(&moves);
        g_autoptr(GError) error = NULL;
        g_assert_true(dt_machine_moves(p, &s, &moves, &error));
        g_assert_no_error(error);
        Verdict v = judge(&m, p, &s, &moves, 0.3);
        g_assert_cmpfloat(v.worst, <, 1.5 * 1.03 / p->steps_per_mm[0]);
        g_assert_cmpfloat(v.slack_moved, <, 1e-9);
    }
    g_rand_free(r);
}

/* How far the planned line is from the ink at most, the ink being sampled closely. */
static double off_ink(const DtSequence *s, size_t run, const GArray *ink)
{
    double worst = 0;
    const DtPolyline *r = &s->polylines[run];
    const DtPoint *at = (const DtPoint *)(const void *)ink->data;
    for (size_t k = 0; k < r->n; k++) {
        double best = dt_point_distance(s->pts[r->first + k], at[0]);
        for (guint i = 1; i < ink->len; i++)
            best = MIN(best, dt_point_segment_distance(s->pts[r->first + k], at[i - 1], at[i]));
        worst = MAX(worst, best);
    }
    return worst;
}

/* Every corner of the planned lines has ink within the tolerance. */
static double most_bare(const DtSequence *s, const DtMoves *moves)
{
    double worst = 0;
    g_autoptr(GArray) ink = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    for (size_t i = 0; i < moves->n; i++) {
        const DtMove *move = &moves->m[i];
        if (move->kind == DT_MOVE_PEN_DOWN)
            g_array_set_size(ink, 0);
        g_array_append_val(ink, move->ink);
        if (move->kind == DT_MOVE_PEN_UP && ink->len > 1)
            worst = MAX(worst, off_ink(s, move->polyline, ink));
    }
    return worst;
}

/* With a tolerance the ink keeps within it, both ways, and no run takes longer. */
static void test_the_tolerance_is_kept_and_saves_time(void)
{
    GRand *r = g_rand_new_with_seed(25);
    double exact_s = 0, eased_s = 0;
    for (int round = 0; round < 150; round++) {
        TrueMachine m;
        g_autoptr(DtProfile) p = random_profile(r, &m);
        const TrueMachine at_home = m;
        g_auto(DtSequence) s;
        random_sequence(r, &s);
        random_curves(r, &s);
        g_auto(DtMoves) moves;
        dt_moves_init(&moves);
        DtTimes exact, eased;
        g_assert_true(dt_machine_moves(p, &s, &moves, NULL));
        dt_machine_time(p, &moves, FALSE, &exact);
        p->ink_tolerance = g_rand_double_range(r, 0.02, 0.2);
        g_assert_true(dt_machine_moves(p, &s, &moves, NULL));
        dt_machine_time(p, &moves, FALSE, &eased);
        m = at_home;
        const Verdict v = judge(&m, p, &s, &moves, 1e9);
        g_assert_cmpfloat(v.worst, <, p->ink_tolerance + 1e-6);
        g_assert_cmpfloat(most_bare(&s, &moves), <, p->ink_tolerance + 1e-6);
        g_assert_cmpfloat(v.slack_moved, <, 1e-9);
        /* where a run ends a little elsewhere, the way on may be longer by that */
        g_assert_cmpfloat(eased.total_s, <, exact.total_s * 1.003);
        exact_s += exact.total_s;
        eased_s += eased.total_s;
    }
    g_assert_cmpfloat(eased_s, <, exact_s);
    g_rand_free(r);
}

static double seconds_of_a_zigzag(double height, double tolerance, DtTimes *t)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    const TrueTable lost = {{0}, {0.45}, 1};
    g_auto(DtSequence) s;
    dt_sequence_init(&s);
    dt_sequence_begin(&s, 0, 0);
    for (int i = 0; i <= 100; i++)
        dt_sequence_point(&s, dt_point(50 + i, 50 + (i % 2) * height));
    g_auto(DtMoves) moves;
    dt_moves_init(&moves);
    p->ink_tolerance = tolerance;
    p->backlash[1] = make_table(&lost);
    g_assert_true(dt_machine_moves(p, &s, &moves, NULL));
    dt_machine_time(p, &moves, FALSE, t);
    return t->ink_s + t->slack_s;
}

/* A hundred turns, 0.1 mm high, are left out by a tolerance of 0.08 mm; of 1 mm they are waited at, which
 * is sooner than to stand still. */
static void test_small_reversals_are_left_out_and_others_eased(void)
{
    DtTimes t;
    const double flat = seconds_of_a_zigzag(0, 0, &t);
    g_assert_cmpfloat(seconds_of_a_zigzag(0.1, 0.08, &t), <, flat * 1.01);
    const double exact = seconds_of_a_zigzag(1, 0, &t);
    g_assert_cmpfloat(seconds_of_a_zigzag(1, 0.08, &t), <, 0.9 * exact);
    g_assert_cmpfloat(t.slack_s, <, 0.3);
}

static void test_leaving_the_travel_is_refused_with_the_numbers(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    p->scale[0] = 0.99;
    g_auto(DtSequence) s;
    dt_sequence_init(&s);
    dt_sequence_begin(&s, 0, 0);
    dt_sequence_point(&s, dt_point(10, 10));
    dt_sequence_point(&s, dt_point(20, 10));
    dt_sequence_begin(&s, 0, 0);
    dt_sequence_point(&s, dt_point(10, 10));
    dt_sequence_point(&s, dt_point(299, 10));
    g_auto(DtMoves) moves;
    dt_moves_init(&moves);
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_machine_moves(p, &s, &moves, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "302.020"));
    g_assert_nonnull(strstr(error->message, "300 mm"));
    g_assert_nonnull(strstr(error->message, "stroke 2"));
    g_assert_cmpuint(moves.n, ==, 0);
    g_clear_error(&error);
    s.pts[3].x = NAN;
    g_assert_false(dt_machine_moves(p, &s, &moves, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    s.polylines[1].pen = 7;
    g_assert_false(dt_machine_moves(p, &s, &moves, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

static void test_nothing_to_draw_homes_and_ends(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_auto(DtSequence) s;
    dt_sequence_init(&s);
    g_auto(DtMoves) moves;
    dt_moves_init(&moves);
    g_assert_true(dt_machine_moves(p, &s, &moves, NULL));
    g_assert_cmpuint(moves.n, ==, 3);
    g_assert_cmpint(moves.m[2].kind, ==, DT_MOVE_END);
}

static void test_command_is_the_inverse_of_ink(void)
{
    GRand *r = g_rand_new_with_seed(23);
    for (int i = 0; i < 1000; i++) {
        TrueMachine m;
        g_autoptr(DtProfile) p = random_profile(r, &m);
        DtPoint at = random_point(r);
        DtPoint back = dt_machine_ink_at(p, dt_machine_command(p, at));
        g_assert_cmpfloat(dt_point_distance(at, back), <, 1e-10);
    }
    g_rand_free(r);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/machine/moves/ink-on-the-line", test_ink_lies_on_the_planned_line);
    g_test_add_func("/machine/moves/near-the-line",
                    test_what_motors_can_follow_stays_near_the_line);
    g_test_add_func("/machine/moves/tolerance", test_the_tolerance_is_kept_and_saves_time);
    g_test_add_func("/machine/moves/zigzag", test_small_reversals_are_left_out_and_others_eased);
    g_test_add_func("/machine/moves/teeth", test_the_model_has_teeth);
    g_test_add_func("/machine/moves/jitter", test_jitter_is_not_corrected_twice);
    g_test_add_func("/machine/moves/slow-reversal", test_a_slow_reversal_is_kept);
    g_test_add_func("/machine/moves/travel", test_leaving_the_travel_is_refused_with_the_numbers);
    g_test_add_func("/machine/moves/nothing", test_nothing_to_draw_homes_and_ends);
    g_test_add_func("/machine/moves/inverse", test_command_is_the_inverse_of_ink);
    return g_test_run();
}
