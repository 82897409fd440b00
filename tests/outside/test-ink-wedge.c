/* outside: a tone wedge through the whole chain, drawing to ink on the virtual machine's paper, its
 * coverage counted on a picture that cairo draws of what landed; Murray 1936 (after Davies). */
#include "drawtrue/base.h"
#include "drawtrue/job.h"
#include "drawtrue/rig.h"

#include "coverage.h"

#include <glib/gstdio.h>
#include <math.h>
#include <unistd.h>

#define STEPS 11  /* 0 to 100 % */
#define SIDE 18.0 /* of a step, mm */

/* The level of grey, of 255, that a share of ink of #1c1c1c makes on white paper. IEC 61966-2-1. */
static int grey_of(double coverage)
{
    return (int)lround(255 * coverage_grey(coverage, coverage_linear(0x1c / 255.0)));
}

/* The step's lower left corner on the page, y down. */
static DtPoint corner(int step)
{
    return dt_point(4 + 22 * (step % 6), 4 + 22 * (step / 6));
}

static char *write_wedge(void)
{
    g_autoptr(GError) error = NULL;
    GString *s = g_string_new("<svg xmlns='http://www.w3.org/2000/svg' width='140mm' height='50mm' "
                              "viewBox='0 0 140 50'>");
    for (int i = 0; i < STEPS; i++) {
        int v = grey_of(i / 10.0);
        g_string_append_printf(
            s, "<rect x='%g' y='%g' width='%g' height='%g' fill='#%02x%02x%02x'/>", corner(i).x,
            corner(i).y, SIDE, SIDE, (unsigned)v, (unsigned)v, (unsigned)v);
    }
    g_string_append(s, "</svg>");
    char *path = NULL;
    int file = g_file_open_tmp("wedge-XXXXXX.svg", &path, &error);
    g_assert_no_error(error);
    close(file);
    g_assert_true(g_file_set_contents(path, s->str, (gssize)s->len, &error));
    g_string_free(s, TRUE);
    return path;
}

static DtRig *draw(DtProfile *p, const DtJob *job)
{
    g_autoptr(GError) error = NULL;
    gsize len = 0;
    g_autofree char *program = dt_code_write(p, &job->moves, &len, &error);
    g_assert_no_error(error);
    DtRig *rig = dt_rig_new(EXAMPLES "/rig.ini", &error);
    g_assert_no_error(error);
    dt_rig_run_text(rig, program, len);
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    g_assert_cmpuint(f.lines_refused, ==, 0);
    return rig;
}

/* The share of a box on the bed that ink covers. */
static double measure(const DtRig *rig, double tip, DtBox b)
{
    Paper p = paper_new(b);
    for (size_t i = 0; i < dt_rig_stroke_count(rig); i++) {
        const DtRigStroke s = dt_rig_stroke(rig, i);
        paper_draw(&p, s.xy, s.n, FALSE, tip);
    }
    return paper_share(&p);
}

static void run_wedge(DtHatch hatch)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *svg = write_wedge();
    g_autoptr(DtProfile) p = dt_profile_load(EXAMPLES "/workshop.ini", &error);
    g_assert_no_error(error);
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.ink.tone = TRUE;
    o.ink.hatch = hatch;
    o.route.iterations = 0;
    o.placement.fit = DT_FIT_TRUE_SIZE;
    g_auto(DtJob) job = {0};
    dt_job_plan(p, svg, &o, &job, NULL, &error);
    g_assert_no_error(error);
    g_autoptr(DtRig) rig = draw(p, &job);
    for (int i = 0; i < STEPS; i++) {
        DtPoint c = corner(i);
        DtBox on_page = {c.x, c.y, c.x + SIDE, c.y + SIDE};
        double got = measure(rig, p->rack.pens[0].tip, dt_affine_apply_box(job.placed, on_page));
        g_test_message("asked %d %%, covered %.2f %%", 10 * i, 100 * got);
        g_assert_cmpfloat(fabs(got - i / 10.0), <=, 0.02);
    }
    g_unlink(svg);
}

static void test_joined(void)
{
    run_wedge(DT_HATCH_SERPENTINE);
}

static void test_crossed(void)
{
    run_wedge(DT_HATCH_CROSSED);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/ink-wedge/joined", test_joined);
    g_test_add_func("/outside/ink-wedge/crossed", test_crossed);
    return g_test_run();
}
