/* model: where a scan shows the ink of a command, by the formulas at its head written a second time (seen.c), and how that
 * changes with each unknown, by trying. */
#include "seen.h"

#include <math.h>
#include <string.h>

/* By hand: knots at 2, 5 and 8 with 10, 16 and 4; beyond the ends the last value. */
static void test_a_curve_is_straight_between_its_knots(void)
{
    static const double b[] = {99, 10, 16, 4, 99};
    static const struct {
        double at, value, share[3];
    } want[] = {{0, 10, {1, 0, 0}}, {2, 10, {1, 0, 0}},       {3, 12, {2 / 3.0, 1 / 3.0, 0}},
                {5, 16, {0, 1, 0}}, {6.5, 10, {0, 0.5, 0.5}}, {8, 4, {0, 0, 1}},
                {11, 4, {0, 0, 1}}};
    const DtCurve c = {.first = 1, .n = 3, .from = 2, .step = 3};
    for (gsize i = 0; i < G_N_ELEMENTS(want); i++) {
        double row[5] = {7, 7, 7, 7, 7};
        g_assert_cmpfloat_with_epsilon(dt_curve_at(&c, b, want[i].at), want[i].value, 1e-12);
        dt_curve_add(&c, want[i].at, 3, row);
        for (int k = 0; k < 3; k++)
            g_assert_cmpfloat_with_epsilon(row[1 + k], 7 + 3 * want[i].share[k], 1e-12);
        g_assert_true(row[0] == 7 && row[4] == 7);
    }
}

static void claim(char *taken, int n, int first, int count)
{
    for (int i = first; i < first + count; i++) {
        g_assert_cmpint(i, >=, 0);
        g_assert_cmpint(i, <, n);
        g_assert_false(taken[i]);
        taken[i] = TRUE;
    }
}

/* Each unknown has a place of its own, and none is left over. */
static void test_unknowns_have_places_of_their_own(void)
{
    for (int photographs = 0; photographs < 2; photographs++) {
        const SeenTruth none = {0};
        SeenModel f;
        seen_model_init(&f, &none, seen_quarters, 3);
        f.scans[1]->photograph = photographs;
        dt_model_clear(&f.m);
        dt_model_init(&f.m, f.p, &f.e);
        const DtModel *m = &f.m;
        g_autofree char *taken = g_new0(char, m->n);
        for (int i = 0; i < 2; i++) {
            claim(taken, m->n, m->scale[i], 1);
            claim(taken, m->n, m->glass_scale[i], 1);
            claim(taken, m->n, m->pulley[i], 2);
            claim(taken, m->n, m->gear[i], 2);
            claim(taken, m->n, m->card[i], 1);
        }
        claim(taken, m->n, m->square, 1);
        claim(taken, m->n, m->skew, 1);
        claim(taken, m->n, m->lines, m->n_lines);
        for (int i = 0; i < DT_CURVES; i++)
            claim(taken, m->n, m->curves[i].first, m->curves[i].n);
        for (int k = 0; k < 3; k++) /* all terms x^a y^b of the degrees 2 to 5, for x and y */
            claim(taken, m->n, m->pose[k].first,
                  photographs && k == 1 ? 3 + 2 * (3 + 4 + 5 + 6) : 3);
        for (int i = 0; i < m->n; i++)
            g_assert_true(taken[i]);
        seen_model_clear(&f);
    }
}

/* Curves reach from the first to the last place that was seen, in equal steps no wider than the kind's. */
static void test_curves_span_what_was_seen(void)
{
    static const double widest[DT_CURVES] = {6, 6, 6, 6, 22, 22, 40, 40, 12, 12};
    const SeenTruth none = {0};
    SeenModel f;
    seen_model_init(&f, &none, seen_quarters, 2);
    double low[3] = {1e9, 1e9, 1e9}, high[3] = {-1e9, -1e9, -1e9};
    for (size_t k = 0; k < f.n_scans; k++)
        for (size_t i = 0; i < f.scans[k]->n; i++) {
            low[2] = MIN(low[2], f.scans[k]->seen[i].at.y);
            high[2] = MAX(high[2], f.scans[k]->seen[i].at.y);
        }
    for (size_t i = 0; i < f.m.n_items; i++) {
        const double at[2] = {f.m.items[i].middle.x, f.m.items[i].middle.y};
        for (int axis = 0; axis < 2; axis++) {
            low[axis] = MIN(low[axis], at[axis]);
            high[axis] = MAX(high[axis], at[axis]);
        }
    }
    for (int id = 0; id < DT_CURVES; id++) {
        const DtCurve *c = &f.m.curves[id];
        const int of = id >= DT_CURVE_WAVE ? 2 : id % 2;
        g_assert_cmpfloat_with_epsilon(c->from, low[of], 1e-9);
        g_assert_cmpfloat_with_epsilon(c->from + (c->n - 1) * c->step, high[of], 1e-9);
        g_assert_cmpint(c->n, ==, 1 + MAX((int)ceil((high[of] - low[of]) / widest[id] - 1e-9), 3));
    }
    g_assert_cmpfloat_with_epsilon(f.m.glass_mm, (high[2] - low[2]) / 2, 1e-9);
    seen_model_clear(&f);
}

/* One item for each mark and each piece of a line of some 5 mm, with both scans of it. */
static void test_items_are_marks_and_pieces_of_lines(void)
{
    const SeenTruth none = {0};
    SeenModel f;
    seen_model_init(&f, &none, seen_quarters, 2);
    size_t items = 0;
    int lines = 0;
    for (size_t i = 0; i < f.s->n; i++) {
        const DtMark *k = &f.s->marks[i];
        const gboolean is_line =
            k->kind == DT_MARK_GAUGE && k->place == 0; /* the others are ticks */
        const int pieces = is_line ? MAX((int)(dt_point_distance(k->from, k->to) / 5), 1)
                                   : k->kind == DT_MARK_POSITION;
        int line = -1;
        lines += is_line;
        for (int piece = 0; piece < pieces; piece++, items++) {
            const DtItem *item = &f.m.items[items];
            const DtPoint want = dt_point_lerp(k->from, k->to, (piece + 0.5) / pieces);
            g_assert_cmpuint(item->mark, ==, i);
            g_assert_cmpint(item->piece, ==, piece);
            g_assert_cmpfloat(dt_point_distance(item->middle, want), <, 1e-9);
            g_assert_cmpint(item->axis, ==, fabs(k->to.x - k->from.x) > 1e-6 ? 1 : 0);
            g_assert_cmpfloat(item->weight, ==, 1);
            if (is_line && piece == 0)
                line = item->line;
            g_assert_cmpint(item->line, ==, line);
            for (size_t scan = 0; scan < 2; scan++)
                g_assert_cmpuint(item->seen[scan]->mark, ==, i);
        }
    }
    g_assert_cmpuint(items, ==, f.m.n_items);
    g_assert_cmpint(lines, ==, f.m.n_lines);
    seen_model_clear(&f);
}

/* A model with something of everything. */
static void fill(DtModel *m, double bends)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(3);
    for (int i = 0; i < 2; i++) {
        m->gear_period[i] = 2.1 + i;
        m->b[m->scale[i]] = 0.004 - 0.007 * i;
        m->b[m->glass_scale[i]] = -0.002 + 0.005 * i;
        for (int k = 0; k < 2; k++) {
            m->b[m->pulley[i] + k] = 0.03 - 0.05 * k + 0.02 * i;
            m->b[m->gear[i] + k] = 0.0004 + 0.0003 * k - 0.0006 * i;
        }
    }
    m->b[m->square] = 0.006;
    m->b[m->skew] = -0.003;
    for (int i = 0; i < m->n_lines; i++)
        m->b[m->lines + i] = 0.02 * i - 0.03;
    for (int id = 0; id < DT_CURVES; id++)
        for (int i = 0; i < m->curves[id].n; i++)
            m->b[m->curves[id].first + i] =
                (id / 2 == DT_CURVE_SLACK / 2 ? 0.3 : 0) + g_rand_double_range(r, -0.01, 0.01);
    for (int k = 0; k < m->n_scans; k++)
        for (int i = 0; m->pose[k].photograph && i < 2 * DT_BEND_TERMS; i++)
            m->b[m->pose[k].first + 3 + i] = g_rand_double_range(r, -bends, bends);
}

static double knots(const DtModel *m, int id, double at)
{
    const DtCurve *c = &m->curves[id];
    const double *b = m->b + c->first;
    for (int i = 0; i + 1 < c->n; i++) {
        const double t = (at - c->from) / c->step - i;
        if (t <= 1 || i + 2 == c->n)
            return b[i] + CLAMP(t, 0, 1) * (b[i + 1] - b[i]);
    }
    g_assert_not_reached();
}

static DtPoint ink_of(const DtModel *m, DtPoint c, const int way[2])
{
    const double at[2] = {c.x, c.y};
    double k[2], r[2];
    for (int i = 0; i < 2; i++) {
        const double u = (1 + m->b[m->scale[i]]) * at[i], *pulley = m->b + m->pulley[i],
                     *gear = m->b + m->gear[i];
        const double t = 2 * G_PI * u / m->turn[i], g = 2 * G_PI * u / m->gear_period[i];
        k[i] = u + pulley[0] * sin(t) + pulley[1] * cos(t);
        if (m->gear_period[i] > 0)
            k[i] += gear[0] * sin(g) + gear[1] * cos(g);
        if (way[i] < 0)
            k[i] += knots(m, DT_CURVE_SLACK + i, k[i]);
        r[i] = k[i] + knots(m, DT_CURVE_POSITION + i, k[i]) +
               (way[1 - i] > 0 ? 0.5 : -0.5) * knots(m, DT_CURVE_TWIST + i, k[i]);
    }
    return dt_point(r[0] + r[1] * sin(m->b[m->square]) + knots(m, DT_CURVE_STRAIGHT + 1, k[1]),
                    r[1] * cos(m->b[m->square]) + knots(m, DT_CURVE_STRAIGHT, k[0]));
}

static void test_ink_lies_where_the_formula_says(void)
{
    const SeenTruth none = {0};
    SeenModel f;
    seen_model_init(&f, &none, seen_quarters, 1);
    g_assert_cmpfloat_with_epsilon(f.m.turn[0], G_PI * (12 + f.p->cord_diameter[0]), 1e-9);
    g_assert_cmpfloat_with_epsilon(f.m.turn[1], G_PI * (10 + f.p->cord_diameter[1]), 1e-9);
    fill(&f.m, 0);
    for (int teeth = 1; teeth >= 0; teeth--) {
        for (int i = 0; i < 400; i++) {
            const DtPoint c = {2 + 5.6 * (i % 20), 1 + 5.7 * (i / 20)};
            const int way[2] = {i % 3 ? 1 : -1, i % 5 < 2 ? 1 : -1};
            const DtPoint want = ink_of(&f.m, c, way), ink = dt_model_ink(&f.m, c, way, NULL, NULL);
            g_assert_cmpfloat(dt_point_distance(want, ink), <, 1e-9);
        }
        f.m.gear_period[0] = f.m.gear_period[1] = 0;
    }
    seen_model_clear(&f);
}

/* Whether an unknown is a share or an angle, by which a place moves the more the farther away it is. */
static gboolean is_lever(const DtModel *m, int k, int i)
{
    return i == m->scale[0] || i == m->scale[1] || i == m->glass_scale[0] ||
           i == m->glass_scale[1] || i == m->square || i == m->skew || i == m->pose[k].first + 2;
}

/* The change of an item's place with each unknown, by central differences. The derivatives leave out that curves and teeth
 * have slopes, and that another place of the line comes to lie abreast of what was measured. */
static void check_row(DtModel *m, const DtItem *item, int k, double *row, double *scratch)
{
    const double tolerance = 0.03, lever_mm = 100;
    g_autofree double *other = g_new(double, m->n);
    memset(row, 0, (size_t)m->n * sizeof *row);
    dt_model_residual(m, item, k, row, scratch);
    for (int i = 0; i < m->n; i++) {
        const double step = 1e-5, kept = m->b[i];
        double there[2];
        for (int side = 0; side < 2; side++) {
            m->b[i] = kept + (side ? step : -step);
            there[side] = -dt_model_residual(m, item, k, other, scratch);
        }
        m->b[i] = kept;
        const double by = (there[1] - there[0]) / (2 * step);
        const double lever = is_lever(m, k, i) ? lever_mm : 1;
        g_assert_cmpfloat(fabs(by - row[i]), <=, tolerance * MAX(fabs(by), lever));
    }
}

static void test_derivatives_are_those_of_the_place(void)
{
    const SeenTruth none = {0};
    SeenModel f;
    seen_model_init(&f, &none, seen_quarters, 4);
    f.scans[1]->photograph = TRUE;
    dt_model_clear(&f.m);
    dt_model_init(&f.m, f.p, &f.e);
    fill(&f.m, 0.001);
    g_autofree double *row = g_new(double, f.m.n), *scratch = g_new(double, 2 * f.m.n);
    for (size_t i = 0; i < f.m.n_items; i += 7)
        check_row(&f.m, &f.m.items[i], (int)(i / 7 % 4), row, scratch);
    seen_model_clear(&f);
}

/* What a scan shows of a machine is what the model of that machine says; and a mark beside its place by 0.1 mm, towards
 * + of the axis that it shows, leaves 0.1 mm, whichever way its normal points. */
static void test_a_machine_leaves_nothing_of_its_own_scan(void)
{
    const SeenTruth t = {.scale = {0.003, -0.002},
                         .square = 0.004,
                         .pulley = {{0.05, 0.02}, {-0.03, 0.04}},
                         .slack = {0.4, 0.2},
                         .twist = {0.05, -0.03},
                         .glass_scale = {0.001, -0.002},
                         .skew = 0.002};
    SeenModel f;
    seen_model_init(&f, &t, seen_quarters, 4);
    DtModel *m = &f.m;
    for (int i = 0; i < 2; i++) {
        m->b[m->scale[i]] = t.scale[i];
        m->b[m->glass_scale[i]] = t.glass_scale[i];
        m->b[m->pulley[i]] = t.pulley[i][0];
        m->b[m->pulley[i] + 1] = t.pulley[i][1];
        for (int k = 0; k < m->curves[DT_CURVE_SLACK + i].n; k++)
            m->b[m->curves[DT_CURVE_SLACK + i].first + k] = t.slack[i];
        for (int k = 0; k < m->curves[DT_CURVE_TWIST + i].n; k++)
            m->b[m->curves[DT_CURVE_TWIST + i].first + k] = t.twist[i];
    }
    m->b[m->square] = t.square;
    m->b[m->skew] = t.skew;
    g_autofree double *row = g_new0(double, m->n), *scratch = g_new(double, 2 * m->n);
    for (size_t i = 0; i < m->n_items; i++)
        for (int k = 0; k < 4; k++) {
            DtItem item = m->items[i];
            DtSeen moved = *item.seen[k];
            g_assert_cmpfloat(fabs(dt_model_residual(m, &item, k, row, scratch)), <, 2e-4);
            const double c = cos(seen_quarters[k]), s = sin(seen_quarters[k]);
            /* the direction of + on the glass, whose y points down */
            const DtPoint plus = item.axis == 0 ? dt_point(c, s) : dt_point(s, -c);
            moved.at = dt_point_add(moved.at, dt_point_scale(plus, 0.1));
            item.seen[k] = &moved;
            g_assert_cmpfloat_with_epsilon(dt_model_residual(m, &item, k, row, scratch), 0.1, 2e-3);
        }
    seen_model_clear(&f);
}

static void test_a_rule_is_laid_between_the_two_ticks(void)
{
    const SeenTruth none = {0};
    SeenModel f;
    seen_model_init(&f, &none, seen_quarters, 1);
    for (int axis = 0; axis < 2; axis++) {
        DtPoint ticks[2];
        g_assert_true(dt_model_gauge_ticks(f.s, axis, ticks));
        size_t found = 0;
        for (size_t i = 0; i < f.s->n; i++) {
            const DtMark *k = &f.s->marks[i];
            if (k->kind == DT_MARK_GAUGE && k->axis == axis && k->row == 1 && k->place > 0) {
                const DtPoint c = dt_point_lerp(k->from, k->to, 0.5);
                g_assert_cmpfloat(dt_point_distance(ticks[k->place - 1], c), <, 1e-9);
                found++;
            }
        }
        g_assert_cmpuint(found, ==, 2);
        const double low = axis == 0 ? ticks[0].x : ticks[0].y,
                     high = axis == 0 ? ticks[1].x : ticks[1].y;
        g_assert_cmpfloat(high - low, >, 60);
    }
    g_autoptr(DtTestSheet) blank = dt_sheet_new_blank(f.p, DT_SHEET_SCAN, "2026-03-14", 1);
    DtPoint ticks[2];
    g_assert_false(dt_model_gauge_ticks(blank, 0, ticks));
    static const double read[] = {80.1, 80.4, 80.1};
    const DtEvidence e = {.rule_mm = {NULL, read}, .n_rule = {0, 3}};
    g_assert_cmpfloat_with_epsilon(dt_model_rule_mean(&e, 1), 80.2, 1e-9);
    seen_model_clear(&f);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/model/curve", test_a_curve_is_straight_between_its_knots);
    g_test_add_func("/model/unknowns", test_unknowns_have_places_of_their_own);
    g_test_add_func("/model/spans", test_curves_span_what_was_seen);
    g_test_add_func("/model/items", test_items_are_marks_and_pieces_of_lines);
    g_test_add_func("/model/ink", test_ink_lies_where_the_formula_says);
    g_test_add_func("/model/derivatives", test_derivatives_are_those_of_the_place);
    g_test_add_func("/model/own-scan", test_a_machine_leaves_nothing_of_its_own_scan);
    g_test_add_func("/model/rule", test_a_rule_is_laid_between_the_two_ticks);
    return g_test_run();
}
