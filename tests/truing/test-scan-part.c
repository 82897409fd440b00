/* truing: the marks for a scan on papers and beds of several sizes, and the causes of a machine's errors. */
#include "drawtrue/truing.h"

#include <math.h>
#include <string.h>

static DtProfile *profile(double w, double h)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text = g_strdup_printf("[motion]\ntravel_x = %g mm\ntravel_y = %g mm\n"
                                            "[paper]\nsize = %gx%g\nat = 5, 5 mm\n",
                                            w + 10, h + 10, w, h);
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test", &error);
    g_assert_no_error(error);
    return p;
}

static double gap(const DtMark *a, const DtMark *b)
{
    double nearest = G_MAXDOUBLE;
    for (int i = 0; i <= 8; i++) {
        nearest = MIN(nearest, dt_point_segment_distance(dt_point_lerp(a->from, a->to, i / 8.0),
                                                         b->from, b->to));
        nearest = MIN(nearest, dt_point_segment_distance(dt_point_lerp(b->from, b->to, i / 8.0),
                                                         a->from, a->to));
    }
    return nearest;
}

static void check_sheet(double w, double h, double most_s)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = profile(w, h);
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, DT_SHEET_SCAN, "2026-01-01", 5);
    g_auto(DtMoves) m = {0};
    DtTimes t;
    unsigned pairs[2] = {0};
    g_assert_true(dt_sheet_add_scan_part(s, p, &error));
    g_assert_no_error(error);
    for (size_t i = 0; i < s->n; i++) {
        const DtMark *a = &s->marks[i];
        g_assert_cmpfloat(MIN(a->from.x, a->to.x), >, 5 + 3.9);
        g_assert_cmpfloat(MAX(a->from.x, a->to.x), <, 5 + w - 3.9);
        for (size_t k = i + 1; k < s->n; k++)
            if (a->kind == DT_MARK_POSITION || s->marks[k].kind == DT_MARK_POSITION)
                g_assert_cmpfloat(gap(a, &s->marks[k]), >, 0.69);
        if (a->kind == DT_MARK_POSITION) { /* both of a pair, from either side */
            g_assert_cmpint(abs(a->approach[0]), ==, 1);
            g_assert_cmpint(abs(a->approach[1]), ==, 1);
            pairs[a->axis] += a->approach[a->axis] > 0;
        }
    }
    g_assert_cmpuint(pairs[0], >, 40);
    g_assert_cmpuint(pairs[1], >, 20);
    g_assert_true(dt_sheet_moves(s, p, &m, &error));
    g_assert_no_error(error);
    dt_machine_time(p, &m, FALSE, &t);
    g_assert_cmpfloat(t.total_s, <, most_s);
}

static void test_papers(void)
{
    check_sheet(297, 210, 700);
    check_sheet(210, 148, 700);
    check_sheet(210, 297, 700);
    check_sheet(420, 297, 1000);
}

static void test_a_bed_that_is_too_small_is_refused(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = profile(148, 80);
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, DT_SHEET_SCAN, "2026-01-01", 5);
    g_assert_false(dt_sheet_add_scan_part(s, p, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

/* So that no controller rounds it. */
static void test_marks_stand_on_whole_steps(void)
{
    static const guint kinds[] = {DT_SHEET_SCAN, DT_SHEET_SLACK, DT_SHEET_SQUARE};
    g_autoptr(DtProfile) p = profile(297, 210);
    p->steps_per_mm[0] = 99.37;
    p->steps_per_mm[1] = 80;
    for (gsize k = 0; k < G_N_ELEMENTS(kinds); k++) {
        g_autoptr(DtTestSheet) s = dt_sheet_new(p, kinds[k], "2026-01-01", 5, NULL);
        for (size_t i = 0; i < s->n; i++) {
            const double x = s->marks[i].from.x * p->steps_per_mm[0],
                         y = s->marks[i].to.y * p->steps_per_mm[1];
            g_assert_cmpfloat(fabs(x - round(x)), <, 1e-6);
            g_assert_cmpfloat(fabs(y - round(y)), <, 1e-6);
        }
    }
}

/* A curve of four knots, and a few figures that explain less ink error. */
static DtPart blame(DtErrorKind kind, const double value[4])
{
    DtFigure f[6] = {
        {.kind = DT_ERROR_OF_PULLEY,
         .at = NAN,
         .known = TRUE,
         .value = 0.03,
         .sd = 0.002,
         .gain_mm = 0.02},
        {.kind = DT_ERROR_OF_SQUARE, .axis = -1, .at = NAN, .known = FALSE, .gain_mm = 9}};
    for (int i = 0; i < 4; i++)
        f[2 + i] = (DtFigure){.kind = kind,
                              .axis = 1,
                              .at = 60 * i,
                              .known = TRUE,
                              .value = value[i],
                              .sd = 0.004,
                              .gain_mm = 0.2};
    const DtFigures all = {.f = f, .n = 6};
    g_autoptr(DtProfile) p = profile(297, 210);
    size_t n;
    g_autofree DtSuspect *s = dt_truing_diagnose(p, &all, &n);
    g_assert_cmpuint(n, ==, 2); /* what is unknown is no suspect */
    g_assert_cmpint(s[0].axis, ==, 1);
    g_assert_cmpfloat(s[0].ink_mm, >=, s[1].ink_mm);
    return s[0].part;
}

static void test_causes(void)
{
    static const double even[4] = {0.3, 0.31, 0.29, 0.3}, rising[4] = {0.05, 0.15, 0.25, 0.35};
    g_assert_cmpint(blame(DT_ERROR_OF_BACKLASH, even), ==, DT_PART_GEAR_OR_TENSION);
    g_assert_cmpint(blame(DT_ERROR_OF_BACKLASH, rising), ==, DT_PART_RAILS_APART);
    g_assert_cmpint(blame(DT_ERROR_OF_TWIST, even), ==, DT_PART_CARRIAGE);
    g_assert_cmpint(blame(DT_ERROR_OF_STRAIGHT, rising), ==, DT_PART_RAIL_BENT);
    for (int i = 0; i < DT_PARTS; i++) {
        g_assert_cmpuint(strlen(dt_part_word((DtPart)i)), >, 3);
        g_assert_cmpuint(strlen(dt_part_repair((DtPart)i)), >, 10);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/scan-part/papers", test_papers);
    g_test_add_func("/scan-part/too-small", test_a_bed_that_is_too_small_is_refused);
    g_test_add_func("/scan-part/marks stand on whole steps", test_marks_stand_on_whole_steps);
    g_test_add_func("/diagnosis/causes", test_causes);
    return g_test_run();
}
