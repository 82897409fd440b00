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
        "twist_x = 0.08 mm\n",        "twist_y = 0:0.02 150:0.05\n", "scale_y = 0.99\n",
        "backlash_x = 0.1 mm\n",      "position_y = 0:0 100:0.1\n",  "straight_x = 0:0 100:0.1\n",
        "pulley_error_y = 0.1 mm\n",  "backlash_x = 0:0 50:0.1\n",   "square = -0.1 deg\n",
        "twist_x = 0:0 150:0.05\n",
    };
    static const char zeros[] = "scale_x = 1\nscale_y = 1\nsquare = 0 deg\nbacklash_x = 0:0 9:0\n"
                                "backlash_y = 0 mm\nposition_x = 0:0 9:0\nstraight_y = 0:0 9:0\n"
                                "twist_x = 0:0 9:0\npulley_error_x = 0 mm\n";
    g_autoptr(DtProfile) without = profile(zeros);
    g_assert_false(dt_job_has_corrections(without));
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

/* Strokes of the program that draw: where their ink lands, x,y by x,y; a new stroke begins with '/'. */
static char *ink_of(const DtProfile *p, const char *text, gboolean lands)
{
    g_autoptr(GString) out = g_string_new(NULL);
    g_autoptr(GError) error = NULL;
    DtInspection i;
    g_assert_true(dt_code_inspect_text(p, text, strlen(text), &i, &error));
    DtPoint last = {-1, -1};
    for (size_t k = 0; k < i.moves.n; k++) {
        const DtMove *m = &i.moves.m[k];
        const DtPoint at = lands ? dt_machine_ink_at(p, m->to) : m->to;
        if (m->kind == DT_MOVE_PEN_DOWN)
            g_string_append_printf(out, "/%.1f,%.1f", at.x, at.y);
        else if (m->kind == DT_MOVE_DRAW && dt_point_distance(at, last) > 0.05)
            g_string_append_printf(out, " %.1f,%.1f", at.x, at.y);
        last = at;
    }
    dt_inspection_clear(&i);
    return g_string_free(g_steal_pointer(&out), FALSE);
}

/* A line, a dot, another line, and a way with the pen up. The machine's own places are others. */
static void test_ink_lands_where_the_program_says(void)
{
    static const char text[] =
        "(made elsewhere)\nG21 G90\nG28\nM5\nG4 P0.2\nG1 X4 Y5 F900\nX5 Y7\nG0 X10 Y10\nM3 S40\nG4 "
        "P0.25\n"
        "G1 X60.3 F600\nM5\nG4 P0.15\nG1 X80.2 Y20.1 F900\nM3 S40\nG4 P0.25\nM5\nG4 P0.15\n"
        "G0 X100 Y30\nM3 S40\nG4 P0.25\nG1 X120 Y60 F600\nM5\nG4 P0.15\n"
        "G0 X0 Y0\nM2\n";
    static const char ink[] = "/10.0,10.0 60.3,10.0/80.2,20.1/100.0,30.0 120.0,60.0";
    static const char *const corrections[] = {"", "scale_x = 1.01\nscale_y = 0.99\n",
                                              "square = 0.5 deg\n"};
    for (gsize k = 0; k < G_N_ELEMENTS(corrections); k++) {
        g_autoptr(DtProfile) p = profile(corrections[k]);
        g_autoptr(GError) error = NULL;
        gsize len;
        g_autofree char *plain = ink_of(p, text, FALSE);
        g_assert_cmpstr(plain, ==, ink);
        g_autofree char *corrected = dt_job_correct_program(p, text, strlen(text), &len, &error);
        g_assert_no_error(error);
        g_autofree char *lands = ink_of(p, corrected, TRUE);
        g_assert_cmpstr(lands, ==, ink);
        g_autofree char *commanded = ink_of(p, corrected, FALSE);
        g_assert_true((strcmp(commanded, ink) == 0) == (k == 0));
        g_assert_cmpint(dt_code_head(corrected), ==, DT_HEAD_CORRECTED);
        g_assert_null(dt_job_correct_program(p, corrected, len, &len, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    }
}

static void test_our_own_programs_are_refused(void)
{
    static const char *const cases[][2] = {
        {"(drawtrue 1 for plotter, profile x)\nG21 G90\nG28\nM2\n", "applied twice"},
        {"\n(a note)\n(drawtrue 1 for plotter, profile x)\nG21 G90\nG28\nM2\n", "applied twice"},
        {"(drawtrue 1 uncorrected for plotter, profile x)\nG21 G90\nG28\nM2\n",
         "--no-corrections"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtProfile) p = profile("scale_x = 1.01\n");
        g_autoptr(GError) error = NULL;
        gsize len;
        g_assert_null(dt_job_correct_program(p, cases[i][0], strlen(cases[i][0]), &len, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_nonnull(strstr(error->message, cases[i][1]));
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/corrected/our-own", test_our_own_programs_are_refused);
    g_test_add_func("/corrected/each", test_each_correction_counts);
    g_test_add_func("/corrected/program", test_ink_lands_where_the_program_says);
    g_test_add_func("/corrected/one-way", test_twist_is_no_error_of_both_ways);
    return g_test_run();
}
