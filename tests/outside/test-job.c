/* The main job from end to end, a drawing to ink on the virtual machine, held to the figures that
 * the program promises; librsvg paints the same drawing as the outside witness of what belongs on
 * paper. */
#include "support/verdict.h"
#include "drawtrue/base.h"
#include "drawtrue/code.h"
#include <math.h>

#define EXAMPLE(name) EXAMPLES "/" name

static DtProfile *workshop(void)
{
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_load(EXAMPLE("workshop.ini"), &error);
    g_assert_no_error(error);
    return p;
}

static void plan(DtProfile *p, const char *svg, DtFit fit, gboolean corrected, DtJob *job)
{
    g_autoptr(GError) error = NULL;
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.iterations = 0; /* the order is not what is judged here */
    o.placement.fit = fit;
    o.no_corrections = !corrected;
    dt_job_plan(p, svg, &o, job, NULL, &error);
    g_assert_no_error(error);
}

/* Strokes as they landed; pens by turns, as the rig's file names them first, second ... */
static void take_ink(const DtRig *rig, const DtJob *job, WitnessInk *ink)
{
    witness_ink_init(ink);
    size_t run = 0;
    const char *pen = NULL;
    for (size_t i = 0; i < dt_rig_stroke_count(rig); i++) {
        const DtRigStroke s = dt_rig_stroke(rig, i);
        if (pen && !g_str_equal(pen, s.pen)) {
            const unsigned before = job->sequence.polylines[run].pen;
            while (run + 1 < job->sequence.n && job->sequence.polylines[run].pen == before)
                run++;
        }
        pen = s.pen;
        g_autofree DtPoint *p = g_new(DtPoint, s.n);
        for (size_t k = 0; k < s.n; k++)
            p[k] = dt_point(s.xy[2 * k], s.xy[2 * k + 1]);
        witness_ink_add(ink, p, s.n, FALSE, job->sequence.polylines[run].pen);
    }
}

static void draw(const char *truth, const DtProfile *p, const DtJob *job, WitnessInk *landed,
                 Verdict *v)
{
    g_autoptr(GError) error = NULL;
    gsize len = 0;
    g_autofree char *program = dt_code_write(p, &job->moves, &len, &error);
    g_assert_no_error(error);
    g_autofree char *text =
        g_strconcat("[pen]\norder = first second third\n\n[truth]\n", truth, NULL);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(text, "rig.ini", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, program, len);
    DtRigFigures figures;
    dt_rig_figures(rig, &figures);
    take_ink(rig, job, landed);
    verdict_of(job, landed, &figures, v);
}

static void assert_true_ink(const Verdict *v)
{
    g_assert_cmpfloat(v->error.p95, <=, 0.08);
    g_assert_cmpfloat(v->error.max, <=, 0.25);
    g_assert_cmpfloat(v->error.missing, ==, 0);
    g_assert_cmpfloat(v->error.stray, ==, 0);
    g_assert_cmpuint(v->rig.lines_refused, ==, 0);
    g_assert_cmpuint(v->rig.endstop_hits, ==, 0);
    g_assert_cmpuint(v->rig.bytes_lost, ==, 0);
    g_assert_true(v->ends_at_origin_pen_up);
}

static void test_the_garden_map_lands_where_it_was_planned(void)
{
    g_autoptr(DtProfile) p = workshop();
    g_auto(DtJob) job = {0};
    g_auto(WitnessInk) landed = {0};
    g_autoptr(GError) error = NULL;
    Verdict v;
    plan(p, EXAMPLE("garden-bed.svg"), DT_FIT_TRUE_SIZE, TRUE, &job);
    draw("", p, &job, &landed, &v);
    assert_true_ink(&v);
    g_assert_cmpfloat_with_epsilon(v.time_estimated_s / v.rig.time_s, 1, 0.05);
    verdict_cover(p, &job, EXAMPLE("garden-bed.svg"), &landed, 20, NULL, &v, &error);
    g_assert_no_error(error);
    g_assert_cmpfloat(v.coverage.iou, >=, 0.93);
}

static void test_without_corrections_the_same_ink_is_far_off(void)
{
    g_autoptr(DtProfile) p = workshop();
    g_auto(DtJob) job = {0};
    g_auto(WitnessInk) landed = {0};
    Verdict v;
    plan(p, EXAMPLE("packet-label.svg"), DT_FIT_TRUE_SIZE, FALSE, &job);
    draw("", p, &job, &landed, &v);
    g_assert_cmpfloat(v.error.p95, >=, 0.3);
    g_assert_cmpuint(v.rig.lines_refused, ==, 0);
    g_assert_cmpuint(v.rig.endstop_hits, ==, 0);
}

static void set_table(DtTable *t, const double *at, const double *value, size_t n)
{
    g_free(t->at);
    g_free(t->value);
    *t = (DtTable){g_memdup2(at, n * sizeof *at), g_memdup2(value, n * sizeof *value), n};
}

static double to_nearest(double v, double step)
{
    return round(v / step) * step;
}

/* Another machine of the same kind, and what its maker would have measured on it: lengths to 0.05
 * mm over 200 mm, the angle to 0.1 degree. Angles are whole tenths here, since the rest that
 * rounding leaves (up to 0.05 degrees, 0.13 mm over 150 mm) is no fault of the plan. */
static char *another_machine(GRand *random, DtProfile *p)
{
    const double at[3] = {0, 150, 300};
    GString *truth = g_string_new(NULL);
    for (int axis = 0; axis < 2; axis++) {
        const double scale = g_rand_double_range(random, 0.985, 1.015);
        p->scale[axis] = to_nearest(200 * scale, 0.05) / 200;
        double lost[3], measured[3];
        for (int i = 0; i < 3; i++) {
            lost[i] = g_rand_double_range(random, 0.05, 0.6);
            measured[i] = to_nearest(lost[i], 0.05);
        }
        set_table(&p->backlash[axis], at, measured, 3);
        g_string_append_printf(truth, "scale_%c = %.5f\nbacklash_%c = 0:%.4f 150:%.4f 300:%.4f\n",
                               "xy"[axis], scale, "xy"[axis], lost[0], lost[1], lost[2]);
    }
    const int tenths = g_rand_int_range(random, -8, 9);
    p->square = tenths * 0.1 * G_PI / 180;
    g_string_append_printf(truth, "square = %.1f\nwave = 0.05\nwave_length = %.0f\n", tenths * 0.1,
                           g_rand_double_range(random, 90, 300));
    return g_string_free(truth, FALSE);
}

static void test_other_machines_are_trued_as_well(void)
{
    g_autoptr(GRand) random = g_rand_new_with_seed(2026);
    for (int i = 0; i < 2; i++) {
        g_autoptr(DtProfile) p = workshop();
        g_autofree char *truth = another_machine(random, p);
        g_test_message("%s", truth);
        g_auto(DtJob) job = {0};
        g_auto(WitnessInk) landed = {0};
        g_autoptr(GError) error = NULL;
        Verdict v;
        plan(p, EXAMPLE("garden-bed.svg"), DT_FIT_TRUE_SIZE, TRUE, &job);
        draw(truth, p, &job, &landed, &v);
        assert_true_ink(&v);
        verdict_cover(p, &job, EXAMPLE("garden-bed.svg"), &landed, 20, NULL, &v, &error);
        g_assert_no_error(error);
        g_assert_cmpfloat(v.coverage.iou, >=, 0.93);
    }
}

/* What changes along a rail is corrected too: uneven scale, bowed rails, pulleys bored off centre. The
 * rig knows it by its own words and sums. */
#define UNEVEN_RAILS                                                                               \
    "scale_x = 1\nscale_y = 1\nsquare = 0\nbacklash_x = 0.2\nbacklash_y = 0.3\nwave = 0\n"         \
    "position_x = 0:0 80:0.4 200:-0.2 300:0.1\nposition_y = 0:0 110:-0.3 220:0.2\n"                \
    "straight_x = 0:0 150:0.5 300:0\nstraight_y = 0:0 100:-0.3 220:0.2\n"                          \
    "pulley_x = 0.2\npulley_phase_x = 60\npulley_y = 0.15\n"

static void test_uneven_rails_are_trued(void)
{
    for (int corrected = 0; corrected < 2; corrected++) {
        g_autoptr(GError) error = NULL;
        g_autofree char *text = NULL;
        g_assert_true(g_file_get_contents(EXAMPLE("workshop.ini"), &text, NULL, NULL));
        const char *at = strstr(text, "[corrections]");
        const char *next = strstr(at + 1, "\n[");
        g_autofree char *profile = g_strdup_printf(
            "%.*s[corrections]\nbacklash_x = 0.2 mm\nbacklash_y = 0.3 mm\n%s%s", (int)(at - text),
            text,
            corrected
                ? "position_x = 0:0 80:0.4 200:-0.2 300:0.1\nposition_y = 0:0 110:-0.3 220:0.2\n"
                  "straight_x = 0:0 150:0.5 300:0\nstraight_y = 0:0 100:-0.3 220:0.2\n"
                  "pulley_error_x = 0.2 mm\npulley_phase_x = 60 deg\npulley_error_y = 0.15 mm\n"
                : "",
            next ? next : "\n");
        g_autoptr(DtProfile) p =
            dt_profile_read_data(profile, strlen(profile), "uneven.ini", &error);
        g_assert_no_error(error);
        g_auto(DtJob) job = {0};
        g_auto(WitnessInk) landed = {0};
        Verdict v;
        plan(p, EXAMPLE("packet-label.svg"), DT_FIT_TRUE_SIZE, TRUE, &job);
        draw(UNEVEN_RAILS, p, &job, &landed, &v);
        if (corrected)
            assert_true_ink(&v);
        else
            g_assert_cmpfloat(v.error.p95, >=, 0.2);
        g_test_message("p95 %.3f largest %.3f", v.error.p95, v.error.max);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/job/garden-map", test_the_garden_map_lands_where_it_was_planned);
    g_test_add_func("/job/uncorrected", test_without_corrections_the_same_ink_is_far_off);
    g_test_add_func("/job/other-machines", test_other_machines_are_trued_as_well);
    g_test_add_func("/job/uneven-rails", test_uneven_rails_are_trued);
    return g_test_run();
}
