/* ink/fill: lines that cover what the pen leaves bare along the edge, and runs that are joined. */
#include "ink/fill/fill.h"
#include "ink/fill/runs.h"
#include "ink/fill/sweep.h"
#include "support/shapes.h"

#include <math.h>

#define TIP 0.4
#define REACH (8 * TIP)
/* Rounding to the grid of regions, and arcs of insets, mm. */
#define ROUND 0.002

static double off_lines(const DtLines *l, DtPoint at)
{
    double least = G_MAXDOUBLE;
    for (size_t i = 0; i < l->n; i++)
        for (size_t k = l->first[i] + 1; k < l->first[i + 1]; k++)
            least = MIN(least, dt_point_segment_distance(at, l->pts[k - 1], l->pts[k]));
    return least;
}

/* Whether all of the lines is at most half a pitch from the region. */
static void assert_near(const DtLines *lines, const DtLines *region)
{
    for (size_t i = 0; i < lines->n; i++)
        for (size_t k = lines->first[i] + 1; k < lines->first[i + 1]; k++)
            for (int part = 0; part <= 8; part++) {
                const DtPoint p = dt_point_lerp(lines->pts[k - 1], lines->pts[k], part / 8.0);
                if (!dt_lines_inside(region, DT_FILL_NONZERO, p))
                    g_assert_cmpfloat(distance_to_edges(region, p), <, TIP / 2 + ROUND);
            }
}

static void assert_covered(const DtLines *lines, const DtLines *region)
{
    const DtBox b = dt_lines_box(region);
    for (int i = 0; i < 60; i++)
        for (int k = 0; k < 60; k++) {
            const DtPoint p = {b.x0 + (i + 0.5) / 60 * dt_box_width(b),
                               b.y0 + (k + 0.5) / 60 * dt_box_height(b)};
            if (dt_lines_inside(region, DT_FILL_NONZERO, p))
                g_assert_cmpfloat(off_lines(lines, p), <, TIP / 2 + ROUND);
        }
}

/* Whatever the region, with holes or of several pieces, in any direction: every point of it is within half
 * a pitch of a line, and no line, nor join, is farther from it than that. */
static void test_all_is_covered(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(5);
    size_t lines = 0, strips = 0;
    for (int round = 0; round < 60; round++) {
        g_auto(DtLines) raw, region, out;
        gboolean done;
        dt_lines_init(&raw);
        dt_lines_init(&region);
        dt_lines_init(&out);
        if (round % 3)
            wavy_disc(dt_point(20, 20), g_rand_double_range(rand, 0.3, 5), 2 + round % 9, 120,
                      &raw);
        else
            random_outline(rand, 10, &raw);
        g_assert_true(dt_region_clean(&raw, DT_PLANE_EVENODD, &region, NULL));
        const double angle = g_rand_double_range(rand, 0, 3);
        g_assert_true(dt_fill_sweep(&region, angle, TIP, REACH, &out, &done, NULL));
        g_assert_true(done);
        assert_covered(&out, &region);
        assert_near(&out, &region);
        lines += out.n;
        strips += out.n_pts;
    }
    g_assert_cmpuint(10 * lines, <, strips); /* most strips are joined to another one */
}

static void add_box(DtLines *l, double x, double y, double w, double h)
{
    const DtPoint box[4] = {{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}};
    dt_lines_append(l, box, 4, TRUE);
}

/* A box has one line: as many strips as fit, no longer than the box, and joins straight across. */
static void test_box_is_one_line(void)
{
    g_auto(DtLines) box, out;
    gboolean done;
    dt_lines_init(&box);
    dt_lines_init(&out);
    add_box(&box, 5, 5, 20, 4 - 1e-5);
    g_assert_true(dt_fill_sweep(&box, 0, TIP, REACH, &out, &done, NULL));
    g_assert_true(done);
    g_assert_cmpuint(out.n, ==, 1);
    g_assert_cmpuint(out.n_pts, ==, 20);
    g_assert_cmpfloat_with_epsilon(dt_lines_length(&out, 0), 10 * 20 + 9 * 0.4, 1e-3);
}

/* A place that is covered from the edge needs no line, not even a dot. */
static void test_nothing_bare(void)
{
    g_auto(DtLines) none, out;
    gboolean done;
    dt_lines_init(&none);
    dt_lines_init(&out);
    g_assert_true(dt_fill_sweep(&none, 1, TIP, REACH, &out, &done, NULL));
    g_assert_true(done);
    g_assert_cmpuint(out.n, ==, 0);
}

/* Fields ------------------------------------------------------------------------------------- */

/* As if the pen were never slow at corners: the shortest ink is the fastest. */
static double by_length(const DtLines *lines, unsigned pen, void *user)
{
    (void)pen, (void)user;
    return dt_lines_total_length(lines) + 4 * (double)lines->n;
}

static double fill(const DtLines *region, DtHatch hatch, size_t *lines)
{
    const DtFillStyle f = {.hatch = hatch,
                           .angle = 0.7,
                           .pitch = TIP,
                           .tip = TIP,
                           .edge = TRUE,
                           .coverage = 1,
                           .seconds = by_length};
    g_auto(DtStrokes) s;
    double sum = 0;
    dt_strokes_init(&s);
    g_assert_true(dt_fill_area(region, &f, &s, NULL));
    for (size_t i = 0; i < s.n; i++)
        sum += dt_strokes_length(&s, i);
    *lines = s.n;
    return sum;
}

/* A field takes hardly more ink than its area is worth: hatch lines that end at the middle of the line
 * along the edge would ink the inner half of that twice. */
static void test_edge_is_inked_once(void)
{
    g_auto(DtLines) box;
    size_t n, n_before;
    dt_lines_init(&box);
    add_box(&box, 0, 0, 12, 3);
    const double least = 12 * 3 / TIP, before = fill(&box, DT_HATCH_SERPENTINE, &n_before);
    const double now = fill(&box, DT_HATCH_FASTEST, &n);
    g_assert_cmpfloat(now, <, 1.1 * least);
    g_assert_cmpfloat(before, >, 1.2 * least);
    g_assert_cmpuint(n, ==, 1);
}

/* Runs --------------------------------------------------------------------------------------- */

static void add_run(DtLines *l, double line, double u0, double u1)
{
    const DtPoint run[2] = {{u0, TIP * line}, {u1, TIP * line}};
    dt_lines_append(l, run, 2, FALSE);
}

/* Runs are joined where neighbours end side by side, not over a line that is left out nor where one ends
 * earlier. */
static void test_runs_are_joined(void)
{
    g_auto(DtLines) runs, out;
    dt_lines_init(&runs);
    dt_lines_init(&out);
    add_run(&runs, 0, 0, 5);
    add_run(&runs, 1, 0, 2);
    add_run(&runs, 1, 3, 5.2);
    add_run(&runs, 3, 3, 5.2);
    add_run(&runs, 4, 0, 4);
    dt_fill_join_runs(&runs, (DtHatchGrid){0, TIP, 0}, DT_HATCH_SINGLE, 0.5, &out);
    g_assert_cmpuint(out.n, ==, 4);
    g_assert_cmpuint(dt_lines_count(&out, 0), ==, 4);
    g_assert_cmpfloat(dt_lines_at(&out, 0)[2].x, ==, 5.2);
    g_assert_cmpfloat(dt_lines_at(&out, 0)[3].x, ==, 3);
}

/* In bands of two lines a tip apart with a gap beside them: the next line is that of the band, or across the gap. */
static void test_runs_in_bands_are_joined(void)
{
    g_auto(DtLines) runs, out;
    dt_lines_init(&runs);
    dt_lines_init(&out);
    for (int line = -4; line < 4; line++) {
        const double v = floor(line / 2.0) * 2.5 + (line & 1);
        add_run(&runs, v, 0, 5);
    }
    dt_fill_join_runs(&runs, (DtHatchGrid){0, 2.5 * TIP, 0}, (DtHatchBand){2, TIP}, 0.5, &out);
    g_assert_cmpuint(out.n, ==, 1);
    g_assert_cmpuint(dt_lines_count(&out, 0), ==, 16);
    for (size_t i = 1; i < 16; i++)
        g_assert_cmpfloat(dt_lines_at(&out, 0)[i].y, >=, dt_lines_at(&out, 0)[i - 1].y);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/ink/sweep/covered", test_all_is_covered);
    g_test_add_func("/ink/sweep/box", test_box_is_one_line);
    g_test_add_func("/ink/sweep/nothing", test_nothing_bare);
    g_test_add_func("/ink/sweep/edge-once", test_edge_is_inked_once);
    g_test_add_func("/ink/sweep/runs", test_runs_are_joined);
    g_test_add_func("/ink/sweep/bands", test_runs_in_bands_are_joined);
    return g_test_run();
}
