/* job: what counts as a correction, and that one-way drawing is weighed with the twist of a carriage. */
#include "drawtrue/job.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static DtProfile *profile(const char *corrections)
{
    g_autofree char *text = g_strconcat(
        "[motion]\ntravel_x = 300 mm\ntravel_y = 220 mm\n[corrections]\n", corrections, NULL);
    g_autoptr(GError) error = NULL;
    DtProfile *p = dt_profile_read_data(text, strlen(text), "test.ini", &error);
    g_assert_no_error(error);
    return p;
}

static void test_each_correction_counts(void)
{
    static const char *const one[] = {
        "scale_x = 1.01\n",           "square = 0.1 deg\n",          "backlash_y = 0.1 mm\n",
        "position_x = 0:0 100:0.1\n", "straight_y = 0:0 100:0.1\n",  "pulley_error_x = 0.1 mm\n",
        "twist_x = 0.08 mm\n",        "twist_y = 0:0.02 150:0.05\n",
    };
    g_autoptr(DtProfile) none = profile("");
    g_assert_false(dt_job_has_corrections(none));
    for (gsize i = 0; i < G_N_ELEMENTS(one); i++) {
        g_autoptr(DtProfile) p = profile(one[i]);
        g_assert_true(dt_job_has_corrections(p));
    }
}

static const char square[] =
    "<svg xmlns='http://www.w3.org/2000/svg' width='40mm' height='40mm' viewBox='0 0 40 40'>"
    "<rect x='5' y='5' width='30' height='30' fill='#1c1c1c'/></svg>";

/* The mean error of fills that lost motion alone makes, drawn both ways. */
static double error_of(const char *corrections)
{
    g_autoptr(DtProfile) p = profile(corrections);
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "square.svg", NULL);
    g_assert_true(g_file_set_contents(path, square, -1, NULL));
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.route.one_way = TRUE;
    g_auto(DtJob) job = {0};
    dt_job_plan(p, path, &o, &job, NULL, &error);
    g_assert_no_error(error);
    g_unlink(path);
    g_rmdir(folder);
    return job.one_way.error_mm[0];
}

/* A twist is corrected whichever way fills are drawn, so that it adds nothing to what one way would gain. */
static void test_twist_is_no_error_of_both_ways(void)
{
    const double plain = error_of("backlash_y = 0.2 mm\n");
    const double twisted = error_of("backlash_y = 0.2 mm\ntwist_y = 0.3 mm\n");
    g_assert_cmpfloat(plain, >, 0.01);
    g_assert_cmpfloat_with_epsilon(twisted, plain, 0.02);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/corrected/each", test_each_correction_counts);
    g_test_add_func("/corrected/one-way", test_twist_is_no_error_of_both_ways);
    return g_test_run();
}
