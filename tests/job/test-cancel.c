/* cancel: a plan that is cancelled in any stage fails as cancelled, leaves nothing behind, and gives
 * the same program when it is planned again; without corrections the caller's profile is not
 * touched. */
#include "drawtrue/job.h"

#include <gio/gio.h>
#include <glib/gstdio.h>

static const char art[] =
    "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='80mm' viewBox='0 0 100 80'>"
    "<rect x='5' y='5' width='60' height='50' fill='#1c1c1c'/>"
    "<circle cx='60' cy='45' r='25' fill='#2e7d32' opacity='.6'/>"
    "<path d='M5 70H95M5 72H95M5 74H95' fill='none' stroke='#000'/></svg>";

typedef struct {
    DtWork *work;
    DtStage stage; /* in which to cancel */
    double from;
    DtStage last;
} Stopper;

static void stop_there(const DtWorkState *state, void *user)
{
    Stopper *s = user;
    g_assert_cmpint(state->stage, >=, s->last); /* progress never goes back */
    s->last = state->stage;
    if (state->stage == s->stage)
        dt_work_cancel(s->work);
}

static gboolean plan_and_write(const DtProfile *p, const char *folder, DtStage stage, char **text,
                               GError **error)
{
    g_autofree char *svg = g_build_filename(folder, "art.svg", NULL);
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    Stopper s = {.stage = stage};
    g_auto(DtJob) job = {0};
    s.work = dt_work_new(stop_there, &s);
    g_assert_true(g_file_set_contents(svg, art, -1, NULL));
    gboolean good = dt_job_plan(p, svg, &DT_JOB_OPTIONS_DEFAULT, &job, s.work, error) &&
                    dt_job_write_program(p, NULL, &job.moves, program, s.work, error);
    dt_work_unref(s.work);
    g_assert_cmpint(good, ==, g_file_test(program, G_FILE_TEST_EXISTS));
    if (good)
        g_assert_true(g_file_get_contents(program, text, NULL, NULL));
    g_unlink(program);
    g_unlink(svg);
    return good;
}

static void test_every_stage_can_be_cancelled(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autofree char *whole = NULL, *again = NULL;
    g_assert_true(plan_and_write(p, folder, DT_STAGE_COUNT, &whole, NULL));
    for (DtStage stage = DT_STAGE_READ; stage <= DT_STAGE_WRITE; stage++) {
        g_autoptr(GError) error = NULL;
        g_assert_false(plan_and_write(p, folder, stage, NULL, &error));
        g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
    }
    g_assert_true(plan_and_write(p, folder, DT_STAGE_COUNT, &again, NULL));
    g_assert_cmpstr(whole, ==, again);
    g_assert_cmpint(g_rmdir(folder), ==, 0);
}

static void test_work_is_of_its_thread_and_nests(void)
{
    g_autoptr(DtWork) outer = dt_work_new(NULL, NULL), inner = dt_work_new(NULL, NULL);
    g_assert_false(dt_work_stopped());
    DtWork *none = dt_work_enter(outer);
    dt_work_begin(DT_STAGE_INK);
    dt_work_set_range(0.5, 1);
    dt_work_report(0.5);
    g_assert_cmpfloat_with_epsilon(dt_work_state(outer).done, 0.75, 1e-5);
    DtWork *before = dt_work_enter(inner);
    dt_work_cancel(inner);
    g_assert_true(dt_work_stopped());
    dt_work_leave(before);
    g_assert_false(dt_work_stopped());
    g_assert_true(dt_work_enter(NULL) == outer); /* keeps the one that is */
    dt_work_cancel(outer);
    g_assert_true(dt_work_stopped());
    dt_work_leave(none);
    g_assert_false(dt_work_stopped());
}

static void test_planning_without_corrections_leaves_the_profile(void)
{
    static const char text[] = "[corrections]\nscale_x = 1.02\nbacklash_y = 0:0.12 150:0.20\n";
    g_autoptr(DtProfile) p = dt_profile_read_data(text, sizeof text - 1, "p.ini", NULL);
    g_autoptr(DtProfile) copy = dt_profile_copy(p);
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    g_auto(DtJob) job = {0};
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *svg = g_build_filename(folder, "art.svg", NULL);
    o.no_corrections = TRUE;
    g_assert_true(g_file_set_contents(svg, art, -1, NULL));
    g_assert_true(dt_job_plan(p, svg, &o, &job, NULL, NULL));
    g_assert_cmpfloat(p->scale[0], ==, copy->scale[0]);
    g_assert_cmpfloat(p->scale[0], >, 1.01);
    g_assert_cmpuint(p->backlash[1].n, ==, 2);
    g_assert_cmpfloat(p->backlash[1].value[1], ==, copy->backlash[1].value[1]);
    g_assert_true(p->backlash[1].value != copy->backlash[1].value);
    g_unlink(svg);
    g_assert_cmpint(g_rmdir(folder), ==, 0);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/cancel/every-stage", test_every_stage_can_be_cancelled);
    g_test_add_func("/cancel/threads-and-nesting", test_work_is_of_its_thread_and_nests);
    g_test_add_func("/cancel/profile", test_planning_without_corrections_leaves_the_profile);
    return g_test_run();
}
