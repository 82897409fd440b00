/* rig: the machine's truth behind the controller. */
#include "drawtrue/base.h"
#include "drawtrue/rig.h"

#include <math.h>
#include <string.h>

static const char square_program[] = "G21\nG90\nG28\n(pen red)\nG0 X10 Y10\nM3 S40\nG4 P0.2\n"
                                     "G1 X60 F600\nG1 Y60\nG1 X10\nG1 Y10\nM5\nG4 P0.2\n"
                                     "G0 X0 Y0\nM2\n";

static void test_program_runs(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) r = dt_rig_new(NULL, &error);
    g_assert_no_error(error);
    dt_rig_run_text(r, square_program, strlen(square_program));
    DtRigFigures f;
    dt_rig_figures(r, &f);
    g_autofree char *json = dt_rig_figures_json(r);
    g_test_message("%s", json);
    g_assert_cmpuint(f.lines_refused, ==, 0);
    g_assert_cmpuint(dt_rig_stroke_count(r), ==, 1);
    for (size_t i = 0; i < dt_rig_stroke(r, 0).n; i++)
        g_test_message("%g %g", dt_rig_stroke(r, 0).xy[2 * i], dt_rig_stroke(r, 0).xy[2 * i + 1]);
    g_assert_true(dt_rig_write(r, "/tmp/rigout", &error));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/rig/program-runs", test_program_runs);
    return g_test_run();
}
