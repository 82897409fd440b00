/* Outside check of the one-way option through the whole chain: filled shapes, planned without any
 * correction of lost motion, drawn on the virtual machine, whose table has a reversal value
 * (ISO 230-2:2014, 3.14, from memory) of 0.45 mm and whose carriage one of 0.1 to 0.4 mm. */
#include "support/verdict.h"
#include "drawtrue/base.h"
#include "drawtrue/code.h"

#include <glib/gstdio.h>

/* A disc with a hole, a star and a block, filled and without outlines. */
static const char art[] =
    "<svg xmlns='http://www.w3.org/2000/svg' width='140mm' height='90mm' viewBox='0 0 140 90'>"
    "<path fill-rule='evenodd' d='M10 45a30 30 0 1 1 60 0a30 30 0 1 1 -60 0zM30 45a10 10 0 1 1 20 0"
    "a10 10 0 1 1 -20 0z'/>"
    "<path d='M100 5l7 15 17 2-12 12 3 17-15-8-15 8 3-17-12-12 17-2z'/>"
    "<path d='M85 60h45v25h-30z'/></svg>";

static char *write_art(void)
{
    g_autoptr(GError) error = NULL;
    char *path = NULL;
    g_close(g_file_open_tmp("one-way-XXXXXX.svg", &path, &error), NULL);
    g_assert_no_error(error);
    g_assert_true(g_file_set_contents(path, art, -1, &error));
    return path;
}

/* The workshop's machine: scale and squareness corrected, lost motion not. */
static DtProfile *workshop(void)
{
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_load(EXAMPLES "/workshop.ini", &error);
    g_assert_no_error(error);
    p->backlash[0].n = p->backlash[1].n = 0;
    p->paper_w = 110; /* enough ink to judge by */
    p->paper_h = 80;
    return p;
}

static void take_ink(const DtRig *rig, WitnessInk *ink)
{
    witness_ink_init(ink);
    for (size_t i = 0; i < dt_rig_stroke_count(rig); i++) {
        const DtRigStroke s = dt_rig_stroke(rig, i);
        g_autofree DtPoint *p = g_new(DtPoint, s.n);
        for (size_t k = 0; k < s.n; k++)
            p[k] = dt_point(s.xy[2 * k], s.xy[2 * k + 1]);
        witness_ink_add(ink, p, s.n, FALSE, 0);
    }
}

static WitnessError draw(const char *svg, const char *truth, gboolean one_way)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = workshop();
    g_auto(DtJob) job = {0};
    g_auto(WitnessInk) landed = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.iterations = 500;
    o.route.one_way = one_way;
    dt_job_plan(p, svg, &o, &job, NULL, &error);
    g_assert_no_error(error);
    gsize len = 0;
    g_autofree char *program = dt_code_write(p, &job.moves, &len, &error);
    g_assert_no_error(error);
    g_autoptr(DtRig) rig = dt_rig_new_from_text(truth, "rig.ini", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, program, len);
    take_ink(rig, &landed);
    DtRigFigures figures;
    Verdict v;
    dt_rig_figures(rig, &figures);
    verdict_of(&job, &landed, &figures, &v);
    g_assert_cmpuint(figures.lines_refused + figures.endstop_hits, ==, 0);
    g_test_message("one way %d: mean %.3f p95 %.3f max %.3f mm, missing %.2f mm, %.0f s", one_way,
                   v.error.mean, v.error.p95, v.error.max, v.error.missing, figures.time_s);
    return v.error;
}

static void compare(const char *truth)
{
    g_autofree char *svg = write_art();
    const WitnessError both = draw(svg, truth, FALSE), one = draw(svg, truth, TRUE);
    g_assert_cmpfloat(both.mean, >, 0.02);
    g_assert_cmpfloat(one.mean, <, both.mean / 4);
    g_assert_cmpfloat(one.p95, <, both.p95 / 4);
    g_unlink(svg);
}

static void test_one_way_fills_on_a_loose_axis_without_correction(void)
{
    compare("[truth]\nbacklash_x = 0:0\n");
}

/* What is told before, from the profile, against what the machine then does. */
static void test_the_gain_is_told_before(void)
{
    g_autofree char *svg = write_art();
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_load(EXAMPLES "/workshop.ini", &error);
    g_assert_no_error(error);
    p->backlash[0].n = 0;
    p->paper_w = 110;
    p->paper_h = 80;
    g_auto(DtJob) job = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.iterations = 500;
    o.route.one_way = TRUE;
    dt_job_plan(p, svg, &o, &job, NULL, &error);
    g_assert_no_error(error);
    const DtOneWay *w = &job.one_way;
    g_test_message("told: %.3f mm in place of %.3f mm, %.0f s in place of %.0f s", w->error_mm[1],
                   w->error_mm[0], w->time_s[1], w->time_s[0]);
    g_assert_cmpint(w->axis, ==, 1);
    g_assert_cmpfloat_with_epsilon(w->lost, 0.45, 1e-9);
    g_assert_cmpfloat(w->error_mm[1], <, w->error_mm[0] / 4);
    const WitnessError both = draw(svg, "[truth]\nbacklash_x = 0:0\n", FALSE);
    g_assert_cmpfloat(w->error_mm[0], >, both.mean / 2);
    g_assert_cmpfloat(w->error_mm[0], <, both.mean * 2);
    g_assert_cmpfloat_with_epsilon(w->time_s[1], job.times.total_s, 1e-6);
    g_unlink(svg);
}

static void test_one_way_fills_on_a_machine_loose_on_both_axes(void)
{
    compare("[truth]\n");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/route/one-way/loose-axis",
                    test_one_way_fills_on_a_loose_axis_without_correction);
    g_test_add_func("/outside/route/one-way/both-axes",
                    test_one_way_fills_on_a_machine_loose_on_both_axes);
    g_test_add_func("/outside/route/one-way/told-before", test_the_gain_is_told_before);
    return g_test_run();
}
