/* figures: they come back from the journal as they were measured, and each points at its cause. */
#include "truing/sheet/sheet-parts.h"
#include "truing/solve/solve.h"

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
        g_assert_cmpfloat(a->gain_mm, ==, b->gain_mm);
    }
    g_autofree char *again = dt_figures_to_json(back);
    g_assert_cmpstr(again, ==, text);
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
    g_assert_cmpuint(s->n, ==, 6);
    assert_mark(s, 3, 10, 10, 10, 15);
    assert_mark(s, 4, 9.5, 14, 10, 15);
    assert_mark(s, 5, 10, 15, 10.5, 14);
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

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/truing/figures/journal", test_figures_come_back);
    g_test_add_func("/truing/figures/damaged", test_damaged_figures_are_refused);
    g_test_add_func("/truing/figures/words", test_words_and_units);
    g_test_add_func("/truing/causes/each", test_figures_point_at_causes);
    g_test_add_func("/truing/causes/slack", test_slack_by_its_shape);
    g_test_add_func("/truing/lettering/paths", test_paths_dots_and_arrows);
    g_test_add_func("/truing/lettering/text", test_text_is_aligned);
    return g_test_run();
}
