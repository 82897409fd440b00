/* code: judging where a program's ink lies: its box, arcs, and what is beside the paper. */
#include "drawtrue/code.h"
#include "machines.h"

#include <math.h>
#include <string.h>

static void test_the_ink_s_box_holds_the_ink_alone(void)
{
    static const char text[] = "G21G90\nM5\nG4P0.1\nG28\nG0X20Y30\nM3 S40\nG4P0.15\n"
                               "G1X25Y41F600\nM5\nG4P0.1\nG0X0Y0\nM2\n";
    g_autoptr(DtProfile) p = dt_profile_new();
    DtInspection i;
    g_assert_true(dt_code_inspect_text(p, text, strlen(text), &i, NULL));
    g_assert_cmpfloat_with_epsilon(i.ink_box.x0, 20, 0.01);
    g_assert_cmpfloat_with_epsilon(i.ink_box.y0, 30, 0.01);
    g_assert_cmpfloat_with_epsilon(i.ink_box.x1, 25, 0.01);
    g_assert_cmpfloat_with_epsilon(i.ink_box.y1, 41, 0.01);
    dt_inspection_clear(&i);
}

/* A machine that is homed by hand stands at the origin when the program begins. */
static void test_the_first_stroke_begins_at_the_origin(void)
{
    static const char text[] = "G21G90\nM3 S40\nG4P0.15\nG1X10Y0F600\nM5\nG4P0.1\nM2\n";
    g_autoptr(DtProfile) p = dt_profile_new();
    DtInspection i;
    g_free(p->dialect.home);
    p->dialect.home = g_strdup("");
    g_assert_true(dt_code_inspect_text(p, text, strlen(text), &i, NULL));
    g_assert_cmpfloat_with_epsilon(i.ink_mm, 10, 1e-9);
    g_assert_cmpfloat_with_epsilon(i.ink_box.x0, 0, 1e-9);
    g_assert_cmpfloat_with_epsilon(i.ink_box.x1, 10, 1e-9);
    dt_inspection_clear(&i);
}

/* Beside the paper on each of its sides, and on all of them at once. */
static void test_ink_beside_the_paper_is_measured(void)
{
    static const struct {
        const char *way;
        double off;
    } cases[] = {{"G0X60Y60\nM3 S40\nG4P0.15\nG1X90F600\n", 0},
                 {"G0X40Y60\nM3 S40\nG4P0.15\nG1X90F600\n", 10},
                 {"G0X120Y60\nM3 S40\nG4P0.15\nG1X90F600\n", 20},
                 {"G0X60Y40\nM3 S40\nG4P0.15\nG1Y80F600\n", 10},
                 {"G0X60Y125\nM3 S40\nG4P0.15\nG1Y80F600\n", 25},
                 {"G0X40Y60\nM3 S40\nG4P0.15\nG1X120F600\n", 30},
                 {"G0X40Y20\nM3 S40\nG4P0.15\nG1X120F600\n", 80}};
    g_autoptr(DtProfile) p = dt_profile_new();
    p->paper_at = dt_point(50, 50);
    p->paper_w = p->paper_h = 50;
    for (size_t k = 0; k < G_N_ELEMENTS(cases); k++) {
        g_autofree char *text =
            g_strconcat("G21G90\nM5\nG4P0.1\nG28\n", cases[k].way, "M5\nG4P0.1\nM2\n", NULL);
        DtInspection i;
        g_assert_true(dt_code_inspect_text(p, text, strlen(text), &i, NULL));
        g_assert_cmpfloat_with_epsilon(i.off_paper_mm, cases[k].off, 0.01);
        dt_inspection_clear(&i);
    }
}

/* That of a program of ours, which was planned for another sheet than the profile's. */
static void test_a_program_s_own_paper_is_what_counts(void)
{
    static const struct {
        const char *comment, *name;
        double off;
    } cases[] = {
        {"(drawtrue 0.1.0 for plotter, profile x)\n(paper 50 x 50 mm at 50,50: scrap)\n", "scrap",
         0},
        {"(drawtrue 0.1.0 for plotter, profile x)\n(paper 30 x 50 mm at 50,50: strip)\n", "strip",
         10},
        {"(drawtrue 0.1.0 for plotter, profile x)\n(paper 40 x 40 mm at 75,45 turned 45: on "
         "edge)\n",
         "on edge", 0},
        {"(drawtrue 0.1.0 for plotter, profile x)\n(paper 50 x 0 mm at 50,50: none)\n", NULL, 30},
        {"(drawtrue 0.1.0 for plotter, profile x)\n(paper 50 x nan mm at 50,50: none)\n", NULL, 30},
        {"(drawtrue 0.1.0 for plotter, profile x)\n(paper of 50 x 50 mm)\n", NULL, 30},
        {"(paper 50 x 50 mm at 50,50: scrap)\n", NULL, 30}, /* from elsewhere: any comment */
    };
    g_autoptr(DtProfile) p = dt_profile_new();
    p->paper_at = dt_point(150, 150);
    p->paper_w = p->paper_h = 50;
    for (size_t k = 0; k < G_N_ELEMENTS(cases); k++) {
        g_autofree char *text = g_strconcat(
            cases[k].comment,
            "G21G90\nM5\nG4P0.1\nG28\nG0X60Y60\nM3 S40\nG4P0.15\nG1X90F600\nM5\nG4P0.1\nM2\n",
            NULL);
        DtInspection i;
        g_assert_true(dt_code_inspect_text(p, text, strlen(text), &i, NULL));
        g_assert_cmpfloat_with_epsilon(i.off_paper_mm, cases[k].off, 0.01);
        g_assert_cmpint(i.paper.stated, ==, cases[k].name != NULL);
        g_assert_cmpstr(i.paper.name, ==, cases[k].name ? cases[k].name : "");
        g_autoptr(DtProfile) own = dt_profile_copy(p);
        dt_code_take_paper(&i.paper, own);
        g_assert_cmpfloat(own->paper_at.x, ==, cases[k].name ? i.paper.at.x : 150);
        dt_inspection_clear(&i);
    }
}

/* The box of arcs of every sweep from every side, against points all along them. */
static void test_the_box_of_arcs(void)
{
    enum { POINTS = 20000 };
    static const double sweeps[] = {20, 75, 100, 185, 275, 355, -20, -75, -100, -185, -275, -355};
    g_autoptr(DtProfile) p = dt_profile_new();
    for (int from = 5; from < 360; from += 35)
        for (gsize k = 0; k < G_N_ELEMENTS(sweeps); k++) {
            const double radius = 40, start = from * G_PI / 180, sweep = sweeps[k] * G_PI / 180;
            const DtPoint c = {120, 110},
                          at = {c.x + radius * cos(start), c.y + radius * sin(start)};
            const DtPoint to = {c.x + radius * cos(start + sweep),
                                c.y + radius * sin(start + sweep)};
            g_autofree char *text =
                g_strdup_printf("G21 G90\nM5\nG28\nG0 X%.6f Y%.6f\nM3 S40\nG4 P0.2\nG%d X%.6f "
                                "Y%.6f I%.6f J%.6f F600\n"
                                "M5\nG4 P0.2\nG0 X0 Y0\nM2\n",
                                at.x, at.y, sweep < 0 ? 2 : 3, to.x, to.y, c.x - at.x, c.y - at.y);
            DtInspection i;
            g_assert_true(dt_code_judge_text(p, text, strlen(text), NULL, &i, NULL));
            DtBox wanted = DT_BOX_EMPTY;
            for (int n = 0; n <= POINTS; n++) {
                const double a = start + sweep * n / POINTS;
                const double x = c.x + radius * cos(a), y = c.y + radius * sin(a);
                wanted = (DtBox){MIN(wanted.x0, x), MIN(wanted.y0, y), MAX(wanted.x1, x),
                                 MAX(wanted.y1, y)};
            }
            g_assert_cmpuint(i.refused_lines, ==, 0);
            g_assert_cmpfloat_with_epsilon(i.ink_box.x0, wanted.x0, 1e-4);
            g_assert_cmpfloat_with_epsilon(i.ink_box.y0, wanted.y0, 1e-4);
            g_assert_cmpfloat_with_epsilon(i.ink_box.x1, wanted.x1, 1e-4);
            g_assert_cmpfloat_with_epsilon(i.ink_box.y1, wanted.y1, 1e-4);
            g_assert_cmpfloat_with_epsilon(i.ink_mm, radius * fabs(sweep), 1e-3);
            dt_inspection_clear(&i);
        }
}

/* Seen from above, an arc that stands upright goes forth and back over the sheet: how far it goes, and over how long a
 * way, follows from its circle. */
static void test_upright_arcs_are_followed_all_the_way(void)
{
    static const struct {
        const char *arc;
        double x0, x1, y0, y1, way; /* from X 30, Y 40, Z 0 */
    } cases[] = {
        {"G18 G2 X30 Z0 I10 K0", 30, 50, 40, 40, 40},  /* a full circle about X 40 */
        {"G18 G3 X30 Z0 I-10 K0", 10, 30, 40, 40, 40}, /* about X 20 */
        {"G19 G2 Y40 Z0 J15 K0", 30, 30, 40, 70, 60},
        {"G18 G2 X50 Z0 I10 K0", 30, 50, 40, 40, 20}, /* halves of either */
        {"G18 G3 X50 Z0 I10 K0", 30, 50, 40, 40, 20},
        {"G18 G2 X40 Z-10 I10 K0", 30, 40, 40, 40,
         10}, /* a quarter, and what is left of the circle */
        {"G18 G3 X40 Z-10 I10 K0", 30, 50, 40, 40, 30},
    };
    g_autoptr(DtProfile) p = machine_by_name("full");
    for (gsize k = 0; k < G_N_ELEMENTS(cases); k++) {
        g_autofree char *text = g_strdup_printf("G21 G90\nM5\nG4P0.1\nG28\nG0 X30 Y40 Z0\nM3 "
                                                "S40\nG4P0.15\n%s F600\nM5\nG4P0.1\nG17\nM2\n",
                                                cases[k].arc);
        DtInspection i;
        g_assert_true(dt_code_judge_text(p, text, strlen(text), NULL, &i, NULL));
        g_assert_cmpfloat_with_epsilon(i.ink_box.x0, cases[k].x0, 0.05);
        g_assert_cmpfloat_with_epsilon(i.ink_box.x1, cases[k].x1, 0.05);
        g_assert_cmpfloat_with_epsilon(i.ink_box.y0, cases[k].y0, 0.05);
        g_assert_cmpfloat_with_epsilon(i.ink_box.y1, cases[k].y1, 0.05);
        g_assert_cmpfloat_with_epsilon(i.ink_mm, cases[k].way, 0.1);
        dt_inspection_clear(&i);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/judge/ink-box", test_the_ink_s_box_holds_the_ink_alone);
    g_test_add_func("/code/judge/origin", test_the_first_stroke_begins_at_the_origin);
    g_test_add_func("/code/judge/beside-the-paper", test_ink_beside_the_paper_is_measured);
    g_test_add_func("/code/judge/beside-the-paper-of-the-program",
                    test_a_program_s_own_paper_is_what_counts);
    g_test_add_func("/code/judge/arc-box", test_the_box_of_arcs);
    g_test_add_func("/code/judge/upright-arcs", test_upright_arcs_are_followed_all_the_way);
    return g_test_run();
}
