/* figures: they come back from the journal as they were measured, and each points at its cause. */
#include "truing/sheet/sheet-parts.h"
#include "truing/solve/solve.h"
#include "truing/compare.h"

#include <math.h>
#include <string.h>

static gboolean same(double a, double b)
{
    return a == b || (isnan(a) && isnan(b));
}

/* Every kind, each field with a value of its own, NANs and no axis among them. */
static void test_figures_come_back(void)
{
    g_autoptr(DtFigures) f = g_new0(DtFigures, 1);
    for (int kind = 0; kind <= DT_ERROR_OF_TIP_WIDTH; kind++) {
        const DtFigure g = {.kind = (DtErrorKind)kind,
                            .axis = kind % 3 - 1,
                            .pen = kind % 4 - 1,
                            .at = kind % 2 ? NAN : 10.125 + kind,
                            .known = kind % 3 != 0,
                            .value = kind % 5 ? -0.1 * kind : NAN,
                            .sd = 0.01 * kind + 1.0 / 3,
                            .sd_shared = 0.005 * kind,
                            .value_2 = kind % 7 ? 2.5 + kind : NAN,
                            .sd_2 = 0.001 * kind,
                            .gain_mm = 0.125 * kind,
                            .proposed = kind % 2 == 0};
        dt_figures_add(f, &g);
    }
    f->ink_before_mm = 0.375;
    f->ink_after_mm = NAN;
    f->notes = g_strdup("two\nlines");
    g_autofree char *text = dt_figures_to_json(f);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtFigures) back = dt_figures_from_json(text, &error);
    g_assert_no_error(error);
    g_assert_cmpuint(back->n, ==, f->n);
    g_assert_cmpfloat(back->ink_before_mm, ==, 0.375);
    g_assert_true(isnan(back->ink_after_mm));
    g_assert_cmpstr(back->notes, ==, "two\nlines");
    for (size_t i = 0; i < f->n; i++) {
        const DtFigure *a = &f->f[i], *b = &back->f[i];
        g_assert_cmpint(a->kind, ==, b->kind);
        g_assert_cmpint(a->axis, ==, b->axis);
        g_assert_cmpint(a->pen, ==, b->pen);
        g_assert_cmpint(a->known, ==, b->known);
        g_assert_cmpint(a->proposed, ==, b->proposed);
        g_assert_true(same(a->at, b->at) && same(a->value, b->value) && same(a->sd, b->sd));
        g_assert_true(same(a->value_2, b->value_2) && same(a->sd_2, b->sd_2));
        g_assert_cmpfloat(a->sd_shared, ==, b->sd_shared);
        g_assert_cmpfloat(a->gain_mm, ==, b->gain_mm);
    }
    g_autofree char *again = dt_figures_to_json(back);
    g_assert_cmpstr(again, ==, text);
}

/* Where a journal does not say how much of an uncertainty other sheets share, it may be all. */
static void test_figures_of_an_older_journal_may_share_all(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtFigures) f = dt_figures_from_json(
        "{\"figures\": [{\"figure\": \"scale\", \"axis\": \"x\", \"known\": true, "
        "\"value\": 1.001, \"standard_uncertainty\": 0.0002}]}",
        &error);
    g_assert_no_error(error);
    g_assert_cmpfloat(f->f[0].sd, ==, 0.0002);
    g_assert_cmpfloat(f->f[0].sd_shared, ==, 0.0002);
}

static void test_damaged_figures_are_refused(void)
{
    static const char *const wrong[] = {"",
                                        "[]",
                                        "{}",
                                        "{\"figures\": 3}",
                                        "{\"figures\": {}}",
                                        "{\"figures\": [3]}",
                                        "{\"figures\": [{}]}",
                                        "{\"figures\": [{\"figure\": 3}]}",
                                        "{\"figures\": [{\"figure\": \"scal\"}]}",
                                        "{\"figures\": [{\"figure\": \"scale\"}"};
    for (size_t i = 0; i < G_N_ELEMENTS(wrong); i++) {
        g_autoptr(GError) error = NULL;
        g_assert_null(dt_figures_from_json(wrong[i], &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    }
    /* what is missing or of another kind is not known */
    g_autoptr(DtFigures) f = dt_figures_from_json(
        "{\"figures\": [{\"figure\": \"scale\", \"value\": \"3\", \"axis\": 1, \"known\": 1}]}",
        NULL);
    g_assert_cmpuint(f->n, ==, 1);
    g_assert_cmpint(f->f[0].axis, ==, -1);
    g_assert_cmpint(f->f[0].pen, ==, -1);
    g_assert_false(f->f[0].known);
    g_assert_true(isnan(f->f[0].value) && isnan(f->f[0].at) && isnan(f->f[0].sd));
    g_assert_cmpfloat(f->f[0].gain_mm, ==, 0);
    g_assert_null(f->notes);
}

static void test_words_and_units(void)
{
    double factor;
    for (int k = 0; k <= DT_ERROR_OF_TIP_WIDTH; k++)
        for (int i = 0; i < k; i++)
            g_assert_cmpstr(dt_error_word((DtErrorKind)k), !=, dt_error_word((DtErrorKind)i));
    g_assert_cmpstr(dt_error_unit(DT_ERROR_OF_SQUARE, &factor), ==, "degrees");
    g_assert_cmpfloat_with_epsilon(factor, 180 / G_PI, 1e-12);
    g_assert_cmpstr(dt_error_unit(DT_ERROR_OF_BACKLASH, &factor), ==, "mm");
    g_assert_cmpfloat(factor, ==, 1);
    g_assert_cmpstr(dt_error_title(DT_ERROR_OF_BACKLASH), ==, "reversal value"); /* ISO 230-2 */
}

/* Causes ------------------------------------------------------------------------------------------ */

static void add(DtFigures *f, DtErrorKind kind, int axis, double at, double value, double sd,
                double gain)
{
    const DtFigure g = {.kind = kind,
                        .axis = axis,
                        .pen = -1,
                        .at = at,
                        .known = TRUE,
                        .value = value,
                        .sd = sd,
                        .gain_mm = gain,
                        .proposed = TRUE};
    dt_figures_add(f, &g);
}

static void assert_causes(const DtFigures *f, const DtPart *parts, const int *axes,
                          const double *ink_mm, size_t n)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    size_t found;
    g_autofree DtSuspect *s = dt_truing_diagnose(p, f, &found);
    g_assert_cmpuint(found, ==, n);
    for (size_t i = 0; i < n; i++) {
        g_assert_cmpstr(dt_part_word(s[i].part), ==, dt_part_word(parts[i]));
        g_assert_cmpint(s[i].axis, ==, axes[i]);
        g_assert_cmpfloat_with_epsilon(s[i].ink_mm, ink_mm[i], 1e-9);
        g_assert_cmpint(s[i].corrected, ==, dt_part_is_corrected(parts[i]));
    }
}

/* Each figure by itself, the one that costs most ink first; what cannot be told from noise is none. */
static void test_figures_point_at_causes(void)
{
    g_autoptr(DtFigures) f = g_new0(DtFigures, 1);
    add(f, DT_ERROR_OF_PULLEY, 0, NAN, 0.2, 0.01, 0.15);
    add(f, DT_ERROR_OF_GEAR, 1, NAN, 0.05, 0.01, 9);     /* 0.8 of its amplitude */
    add(f, DT_ERROR_OF_SCATTER, 0, NAN, 0.1, 0.01, 9);   /* 1.15 of it */
    add(f, DT_ERROR_OF_TIP_PLAY, -1, NAN, 0.3, 0.01, 9); /* half of it */
    add(f, DT_ERROR_OF_RINGING, 1, NAN, 0.02, 0.009, 9); /* 0.016: not twice its uncertainty */
    add(f, DT_ERROR_OF_SQUARE, -1, NAN, 0.01, 5, 0.6);   /* its uncertainty is no length */
    add(f, DT_ERROR_OF_SCALE, 0, NAN, 0.001, 0, 0.002);  /* too little to see */
    add(f, DT_ERROR_OF_SPEED, 0, NAN, 14.2, 0, 0);       /* of 15: less than 95 % */
    add(f, DT_ERROR_OF_SPEED, 1, NAN, 11.5, 0, 0);       /* of 12 */
    assert_causes(f,
                  (const DtPart[]){DT_PART_TORQUE, DT_PART_FRAME, DT_PART_PULLEY, DT_PART_HOLDER,
                                   DT_PART_FRICTION, DT_PART_GEAR_TEETH},
                  (const int[]){0, -1, 0, -1, 0, 1},
                  (const double[]){1, 0.6, 0.15, 0.15, 0.115, 0.04}, 6);
    f->f[5].proposed = FALSE;
    f->f[0].known = FALSE;
    f->f[7].axis = -1;
    assert_causes(f, (const DtPart[]){DT_PART_HOLDER, DT_PART_FRICTION, DT_PART_GEAR_TEETH},
                  (const int[]){-1, 0, 1}, (const double[]){0.15, 0.115, 0.04}, 3);
}

/* Positions that are rounded to whole steps look like friction and like the teeth of a gear: no part is replaced for
 * an error that is smaller than a step. A cord's swing is no such rounding. */
static void test_no_repair_for_less_than_a_step(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    const double step = 1 / p->steps_per_mm[1];
    for (int larger = 0; larger < 2; larger++) {
        g_autoptr(DtFigures) f = g_new0(DtFigures, 1);
        const double ink = (larger ? 1.1 : 0.9) * step;
        add(f, DT_ERROR_OF_GEAR, 1, NAN, ink / 0.8, 1e-4, 0);
        add(f, DT_ERROR_OF_SCATTER, 1, NAN, ink / 1.15, 1e-4, 0);
        add(f, DT_ERROR_OF_RINGING, 1, NAN, 0.003 / 0.8, 1e-4, 0);
        size_t n;
        g_autofree DtSuspect *s = dt_truing_diagnose(p, f, &n);
        g_assert_cmpuint(n, ==, larger ? 3 : 1);
        g_assert_cmpint(s[n - 1].part, ==, DT_PART_SOFT_CORD);
    }
}

/* Slack that changes along the axis is of the rails, which are not parallel; slack that is the same all
 * along of the gear or the cord. The largest gain of the curve counts. */
static void test_slack_by_its_shape(void)
{
    static const struct {
        double values[4], sd;
        DtPart part;
    } cases[] = {{{0.5, 0.5, 0.5, 0.5}, 0.01, DT_PART_GEAR_OR_TENSION},
                 {{0.50, 0.51, 0.52, 0.53}, 0.01, DT_PART_GEAR_OR_TENSION},
                 {{0.1, 0.3, 0.5, 0.7}, 0.01, DT_PART_RAILS_APART},
                 {{0.7, 0.5, 0.3, 0.1}, 0.01, DT_PART_RAILS_APART},
                 {{0.1, 0.3, 0.5, 0.7}, 0.21, DT_PART_GEAR_OR_TENSION}}; /* cannot be told */
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtFigures) f = g_new0(DtFigures, 1);
        for (int k = 0; k < 4; k++)
            add(f, DT_ERROR_OF_BACKLASH, 1, 50 * k, cases[i].values[k], cases[i].sd,
                0.5 + 0.1 * (k % 3));
        assert_causes(f, &cases[i].part, (const int[]){1}, (const double[]){0.7}, 1);
    }
}

/* Lettering --------------------------------------------------------------------------------------- */

static void assert_mark(const DtTestSheet *s, size_t i, double x0, double y0, double x1, double y1)
{
    g_assert_cmpuint(s->n, >, i);
    const DtMark *m = &s->marks[i];
    g_assert_cmpfloat_with_epsilon(m->from.x, x0, 1e-9);
    g_assert_cmpfloat_with_epsilon(m->from.y, y0, 1e-9);
    g_assert_cmpfloat_with_epsilon(m->to.x, x1, 1e-9);
    g_assert_cmpfloat_with_epsilon(m->to.y, y1, 1e-9);
}

static void test_paths_dots_and_arrows(void)
{
    g_autoptr(DtTestSheet) s = g_new0(DtTestSheet, 1);
    const DtPoint p[] = {{1, 2}, {3, 4}, {5, 4}};
    dt_sheet_add_path(s, DT_SHEET_SLACK, p, 3);
    dt_sheet_add_path(s, DT_SHEET_SLACK, p, 1);
    dt_sheet_add_path(s, DT_SHEET_SLACK, p, 0);
    g_assert_cmpuint(s->n, ==, 3);
    assert_mark(s, 0, 1, 2, 3, 4);
    assert_mark(s, 1, 3, 4, 5, 4);
    assert_mark(s, 2, 1, 2, 1, 2);
    dt_sheet_add_arrow(s, DT_SHEET_SLACK, dt_point(10, 10), dt_point(10, 15));
    g_assert_cmpuint(s->n, ==, 8);
    assert_mark(s, 3, 10, 10, 10, 14);
    assert_mark(s, 4, 10, 14, 9.5, 14);
    assert_mark(s, 5, 9.5, 14, 10, 15);
    assert_mark(s, 6, 10, 15, 10.5, 14);
    assert_mark(s, 7, 10.5, 14, 10, 14);
}

static DtBox box_of(const DtTestSheet *s)
{
    DtBox b = DT_BOX_EMPTY;
    for (size_t i = 0; i < s->n; i++)
        b = dt_box_add_point(dt_box_add_point(b, s->marks[i].from), s->marks[i].to);
    return b;
}

static void test_text_is_aligned(void)
{
    DtBox box[3];
    for (int i = 0; i < 3; i++) {
        g_autoptr(DtTestSheet) s = g_new0(DtTestSheet, 1);
        g_autoptr(GError) error = NULL;
        g_assert_true(
            dt_sheet_add_text(s, DT_SHEET_SLACK, "H 12", dt_point(50, 20), 4, i / 2.0, &error));
        g_assert_no_error(error);
        box[i] = box_of(s);
        g_assert_cmpfloat_with_epsilon(box[i].y0, 20, 0.05);
        g_assert_cmpfloat_with_epsilon(box[i].y1, 24, 0.05);
    }
    g_assert_cmpfloat(box[0].x0, >=, 50);
    g_assert_cmpfloat(box[2].x1, <=, 50);
    g_assert_cmpfloat_with_epsilon(box[0].x0 - box[1].x0, box[1].x0 - box[2].x0, 1e-9);
    g_assert_cmpfloat_with_epsilon(dt_box_width(box[0]), dt_box_width(box[2]), 1e-9);
}

/* Ticks where they belong, to and fro, and each tenth number, or each fifth of a short comb, in the middle of its tick. */
static void test_verniers_are_worked_by_hand(void)
{
    for (int axis = 0; axis < 2; axis++)
        for (int wide = 0; wide < 2; wide++) {
            g_autoptr(DtTestSheet) s = g_new0(DtTestSheet, 1);
            g_autoptr(GError) error = NULL;
            const int last = wide ? 10 : 9, every = wide ? 10 : 5;
            const DtVernier v = {.part = DT_SHEET_SLACK,
                                 .axis = axis,
                                 .row = 3,
                                 .at = {50, 60},
                                 .pitch = 2,
                                 .least = 0.1,
                                 .shift = 0.5,
                                 .first = -last,
                                 .last = last,
                                 .main_from = 1,
                                 .vernier_from = -1,
                                 .name = "X1"};
            dt_vernier_add_main(s, &v);
            dt_vernier_add_vernier(s, &v);
            const size_t ticks = (size_t)(2 * last + 1);
            g_assert_cmpuint(s->n, ==, 2 * ticks);
            for (size_t i = 0; i < s->n; i++) {
                const DtMark *m = &s->marks[i];
                const gboolean main = i < ticks;
                const int k = main ? (int)i - last : last - (int)(i - ticks);
                const double along = axis ? m->from.y - 60 : m->from.x - 50;
                const double from = axis ? m->from.x - 50 : m->from.y - 60;
                const double to = axis ? m->to.x - 50 : m->to.y - 60;
                const double length = k % 5 ? 1.5 : 2.5;
                g_assert_cmpint(m->kind, ==, main ? DT_MARK_COMB : DT_MARK_VERNIER);
                g_assert_cmpint(m->place, ==, k);
                g_assert_cmpint(m->row, ==, 3);
                g_assert_cmpint(m->approach[axis], ==, main ? 1 : -1);
                g_assert_cmpint(m->approach[1 - axis], ==, 0);
                g_assert_true(m->needs_no_reversal == (i % ticks != 0));
                g_assert_cmpfloat_with_epsilon(along, main ? 2 * k : 0.5 + 1.9 * k, 1e-9);
                g_assert_cmpfloat_with_epsilon(MIN(from, to), main ? -length : -0.4, 1e-9);
                g_assert_cmpfloat_with_epsilon(MAX(from, to), main ? 0 : length, 1e-9);
                g_assert_true((from < to) == (k % 2 != 0));
            }
            const size_t before = s->n;
            g_assert_true(dt_vernier_add_letters(s, &v, &error));
            for (int k = -every; k <= every; k += every) {
                DtBox b = DT_BOX_EMPTY;
                for (size_t i = before; i < s->n; i++) {
                    const DtMark *m = &s->marks[i];
                    if (fabs((axis ? m->from.y - 60 : m->from.x - 50) - (0.5 + 1.9 * k)) <
                        1.9 * every / 2)
                        b = dt_box_add_point(dt_box_add_point(b, m->from), m->to);
                }
                g_assert_false(dt_box_is_empty(b));
                const double middle = axis ? (b.y0 + b.y1) / 2 - 60 : (b.x0 + b.x1) / 2 - 50;
                g_assert_cmpfloat_with_epsilon(middle, 0.5 + 1.9 * k, 0.25);
                g_assert_cmpfloat(axis ? b.x0 - 50 : b.y0 - 60, >, 2.5 + 0.7);
            }
        }
}

static DtFigure figure(DtErrorKind kind, double at, double value)
{
    return (DtFigure){.kind = kind, .axis = 0, .pen = -1, .at = at, .known = TRUE, .value = value};
}

/* Places of slack and of position, each once and rising; between them the values lie on lines, and beyond the last
 * place they stay. */
static void test_places_of_an_axis(void)
{
    size_t n = 99;
    DtFigure none[] = {figure(DT_ERROR_OF_SCALE, NAN, 1)};
    DtFigures f = {.f = none, .n = 1};
    g_assert_null(dt_truing_places(&f, 0, &n));
    g_assert_cmpuint(n, ==, 0);
    DtFigure one[] = {figure(DT_ERROR_OF_BACKLASH, NAN, 0.3)};
    f = (DtFigures){.f = one, .n = 1};
    g_autofree DtAxisPlace *single = dt_truing_places(&f, 0, &n);
    g_assert_cmpuint(n, ==, 1);
    g_assert_cmpfloat(single[0].at, ==, 0);
    g_assert_cmpfloat(single[0].up, ==, 0);
    g_assert_cmpfloat(single[0].down, ==, 0.3);
    g_assert_cmpfloat(single[0].s_up, ==, 0);
    g_assert_null(dt_truing_places(&f, 1, &n)); /* of the other axis */
    one[0].known = FALSE;
    g_assert_null(dt_truing_places(&f, 0, &n));
    DtFigure all[] = {
        figure(DT_ERROR_OF_POSITION, 200, 0.4), figure(DT_ERROR_OF_BACKLASH, 50, 0.1),
        figure(DT_ERROR_OF_POSITION, 0, 0),     figure(DT_ERROR_OF_BACKLASH, 200, 0.4),
        figure(DT_ERROR_OF_SCATTER, NAN, 0.02), figure(DT_ERROR_OF_POSITION, 100, 0.2),
        figure(DT_ERROR_OF_POSITION, 150, 9),   figure(DT_ERROR_OF_POSITION, 170, 9)};
    all[6].known = FALSE;
    all[7].axis = 1;
    f = (DtFigures){.f = all, .n = G_N_ELEMENTS(all)};
    static const double want[][3] = {{0, 0, 0.1}, {50, 0.1, 0.2}, {100, 0.2, 0.4}, {200, 0.4, 0.8}};
    g_autofree DtAxisPlace *p = dt_truing_places(&f, 0, &n);
    g_assert_cmpuint(n, ==, 4);
    for (size_t i = 0; i < n; i++) {
        g_assert_cmpfloat(p[i].at, ==, want[i][0]);
        g_assert_cmpfloat_with_epsilon(p[i].up, want[i][1], 1e-12);
        g_assert_cmpfloat_with_epsilon(p[i].down, want[i][2], 1e-12);
        g_assert_cmpfloat_with_epsilon(p[i].s_up, 0.02 / sqrt(2), 1e-12);
        g_assert_cmpfloat_with_epsilon(p[i].s_down, 0.02 / sqrt(2), 1e-12);
    }
    g_assert_cmpfloat_with_epsilon(dt_figures_value_at(&f, DT_ERROR_OF_BACKLASH, 0, 125), 0.25,
                                   1e-12);
    g_assert_cmpfloat(dt_figures_value_at(&f, DT_ERROR_OF_BACKLASH, 0, 300), ==, 0.4);
    g_assert_cmpfloat(dt_figures_value_at(&f, DT_ERROR_OF_BACKLASH, 0, -5), ==, 0.1);
    g_assert_cmpfloat(dt_figures_value_at(&f, DT_ERROR_OF_TWIST, 0, 0), ==, 0);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/truing/figures/journal", test_figures_come_back);
    g_test_add_func("/truing/figures/older", test_figures_of_an_older_journal_may_share_all);
    g_test_add_func("/truing/figures/damaged", test_damaged_figures_are_refused);
    g_test_add_func("/truing/figures/words", test_words_and_units);
    g_test_add_func("/truing/causes/each", test_figures_point_at_causes);
    g_test_add_func("/truing/causes/less-than-a-step", test_no_repair_for_less_than_a_step);
    g_test_add_func("/truing/causes/slack", test_slack_by_its_shape);
    g_test_add_func("/truing/lettering/paths", test_paths_dots_and_arrows);
    g_test_add_func("/truing/lettering/text", test_text_is_aligned);
    g_test_add_func("/truing/vernier", test_verniers_are_worked_by_hand);
    g_test_add_func("/truing/places", test_places_of_an_axis);
    return g_test_run();
}
