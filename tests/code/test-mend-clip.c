/* code: what mending leaves of lines that leave the travel. */
#include "drawtrue/code.h"

#include <math.h>
#include <string.h>

#define TRAVEL 150

/* What a line cut into a thousand pieces has within the travel. */
static DtBox within_travel(DtPoint a, DtPoint b, int pieces)
{
    const DtBox bed = {0, 0, TRAVEL, TRAVEL};
    DtBox box = DT_BOX_EMPTY;
    for (int k = 0; k <= pieces; k++) {
        const DtPoint q = dt_point_lerp(a, b, (double)k / pieces);
        if (dt_box_contains(bed, q))
            box = dt_box_add_point(box, q);
    }
    return box;
}

static void assert_drawn(const DtProfile *p, DtPoint a, DtPoint b, DtBox wanted, double within)
{
    g_autofree char *text =
        g_strdup_printf("G21 G90\nM5\nG4P0.1\nG28\nG0X%gY%g\nM3 S40\nG4P0.15\nG1X%gY%gF600\n"
                        "M5\nG4P0.1\nG0X0Y0\nM2\n",
                        a.x, a.y, b.x, b.y);
    g_autoptr(GError) error = NULL;
    DtMending m;
    gsize len;
    g_autofree char *out =
        dt_code_mend_text(p, text, strlen(text), "a.nc",
                          &(DtMendOptions){.clip = TRUE, .units = "mm"}, &len, &m, &error);
    g_assert_no_error(error);
    dt_mending_clear(&m);
    DtInspection i;
    g_assert_true(dt_code_judge_text(p, out, len, NULL, &i, NULL));
    g_test_message("%g,%g %g,%g", a.x, a.y, b.x, b.y);
    g_assert_cmpfloat_with_epsilon(i.ink_box.x0, wanted.x0, within);
    g_assert_cmpfloat_with_epsilon(i.ink_box.y0, wanted.y0, within);
    g_assert_cmpfloat_with_epsilon(i.ink_box.x1, wanted.x1, within);
    g_assert_cmpfloat_with_epsilon(i.ink_box.y1, wanted.y1, within);
    g_assert_cmpfloat_with_epsilon(i.ink_mm, hypot(dt_box_width(wanted), dt_box_height(wanted)),
                                   2 * within);
    dt_inspection_clear(&i);
}

/* Lines from and to places of a lattice within, on and beyond the edges of the travel. */
static void test_lines_are_cut_at_the_edges(void)
{
    enum { PIECES = 1000, PLACES = 7 };
    static const double at[PLACES] = {-3, 0, 1, 2, TRAVEL - 2, TRAVEL, TRAVEL + 1};
    g_autoptr(DtProfile) p = dt_profile_new();
    p->travel[0] = p->travel[1] = TRAVEL;
    size_t drawn = 0;
    for (int from = 0; from < PLACES * PLACES; from++)
        for (int to = 0; to < PLACES * PLACES; to++) {
            const DtPoint a = {at[from / PLACES], at[from % PLACES]},
                          b = {at[to / PLACES], at[to % PLACES]};
            const DtBox wanted = within_travel(a, b, PIECES);
            const double step = dt_point_distance(a, b) / PIECES;
            if (dt_box_is_empty(wanted) || dt_box_width(wanted) + dt_box_height(wanted) < 1)
                continue; /* over a corner */
            assert_drawn(p, a, b, wanted, step + 0.01);
            drawn++;
        }
    g_assert_cmpuint(drawn, >, 1000);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/mend/clipped-lines", test_lines_are_cut_at_the_edges);
    return g_test_run();
}
