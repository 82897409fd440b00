/* art: contours of pictures. */
#include "art/paint/levels.h"

#include <math.h>

enum { WIDE = 90, HIGH = 80 };

/* How far a place is within a shape, negative outside; pixels. */
typedef double (*Depth)(double x, double y);

static double disc(double x, double y)
{
    return 30 - hypot(x - 44.3, y - 39.8);
}

static double ring(double x, double y)
{
    return MIN(disc(x, y), hypot(x - 44.3, y - 39.8) - 12);
}

static double box(double x, double y)
{
    return MIN(MIN(x - 10.25, 70.5 - x), MIN(y - 20, 60.75 - y));
}

static double two_boxes(double x, double y)
{
    return MAX(MIN(MIN(x - 5, 30.5 - x), MIN(y - 5, 50 - y)),
               MIN(MIN(x - 40.5, 80 - x), MIN(y - 30, 70 - y)));
}

/* Contours lie on the edge. Between their points they are at most half a pixel beside it, a quarter by
 * thinning and as much at corners, and so need few points. */
static void test_contours_lie_on_edges(void)
{
    static const struct {
        Depth depth;
        gsize contours, most_points;
        double area;
    } cases[] = {{disc, 1, 60, G_PI * 30 * 30},
                 {ring, 2, 100, G_PI * (30 * 30 - 12 * 12)},
                 {box, 1, 16, 60.25 * 40.75},
                 {two_boxes, 2, 32, 25.5 * 45 + 39.5 * 40}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        guint8 level[WIDE * HIGH];
        for (int y = 0; y < HIGH; y++)
            for (int x = 0; x < WIDE; x++)
                level[y * WIDE + x] =
                    (guint8)lround(255 * CLAMP(0.5 + cases[i].depth(x, y), 0.0, 1.0));
        const ArtLevels l = {WIDE, HIGH, level};
        g_auto(DtLines) out;
        dt_lines_init(&out);
        dt_art_levels_trace(&l, &out);
        g_assert_cmpuint(out.n, ==, cases[i].contours);
        g_assert_cmpuint(out.n_pts, <, cases[i].most_points);
        double area = 0;
        for (gsize k = 0; k < out.n; k++) {
            const DtPoint *p = dt_lines_at(&out, k);
            const gsize n = dt_lines_count(&out, k);
            g_assert_true(out.closed[k]);
            area += dt_lines_area(&out, k);
            for (gsize j = 0; j < n; j++) {
                const DtPoint half = dt_point_lerp(p[j], p[(j + 1) % n], 0.5);
                g_assert_cmpfloat(fabs(cases[i].depth(p[j].x, p[j].y)), <, 0.3);
                g_assert_cmpfloat(fabs(cases[i].depth(half.x, half.y)), <, 0.5);
            }
        }
        g_assert_cmpfloat_with_epsilon(fabs(area), cases[i].area, 0.015 * cases[i].area);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/contour/edges", test_contours_lie_on_edges);
    return g_test_run();
}
