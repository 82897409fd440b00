/* outside: hatch, hiding and insets against GEOS, whose algorithms and code are not ours. */
#include "support/shapes.h"
#include "support/geos-region.h"
#include "ink/fill/fit.h"
#include "ink/plane/region.h"
#include "ink/paint/stack.h"

static GEOSContextHandle_t g;

static void clean_outline(GRand *rand, int round, int most, DtLines *out)
{
    g_auto(DtLines) l;
    dt_lines_init(&l);
    if (round % 3 == 0)
        wavy_disc(dt_point(g_rand_double_range(rand, 10, 30), g_rand_double_range(rand, 10, 30)),
                  g_rand_double_range(rand, 3, 15), 2 + round % 9, 240, &l);
    else
        random_outline(rand, most, &l);
    g_assert_true(dt_region_clean(&l, round % 2 ? DT_PLANE_EVENODD : DT_PLANE_NONZERO, out, NULL));
}

static int by_value(const void *a, const void *b)
{
    double p = *(const double *)a, q = *(const double *)b;
    return (p > q) - (p < q);
}

/* The ends along the line, in rising order, of what GEOS leaves of it. */
static GArray *ends_by_geos(const GEOSGeometry *area, DtPoint from, DtPoint way, double length)
{
    GArray *ends = g_array_new(FALSE, FALSE, sizeof(double));
    GEOSCoordSequence *s = GEOSCoordSeq_create_r(g, 2, 2);
    GEOSCoordSeq_setXY_r(g, s, 0, from.x, from.y);
    GEOSCoordSeq_setXY_r(g, s, 1, from.x + way.x * length, from.y + way.y * length);
    GEOSGeometry *line = GEOSGeom_createLineString_r(g, s);
    GEOSGeometry *cut = GEOSIntersection_r(g, line, area);
    for (int i = 0; i < GEOSGetNumGeometries_r(g, cut); i++) {
        const GEOSGeometry *part = GEOSGetGeometryN_r(g, cut, i);
        if (GEOSGeomTypeId_r(g, part) != GEOS_LINESTRING || GEOSisEmpty_r(g, part))
            continue;
        const GEOSCoordSequence *c = GEOSGeom_getCoordSeq_r(g, part);
        unsigned n = 0;
        GEOSCoordSeq_getSize_r(g, c, &n);
        for (unsigned k = 0; k < n; k += n - 1) {
            DtPoint p;
            GEOSCoordSeq_getXY_r(g, c, k, &p.x, &p.y);
            double u = dt_point_dot(dt_point_sub(p, from), way);
            g_array_append_val(ends, u);
        }
    }
    GEOSGeom_destroy_r(g, line);
    GEOSGeom_destroy_r(g, cut);
    g_array_sort(ends, by_value);
    return ends;
}

static void test_hatch_is_geos_intersection(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(21);
    double worst = 0;
    size_t lines = 0;
    for (int round = 0; round < 60; round++) {
        g_auto(DtLines) l;
        dt_lines_init(&l);
        clean_outline(rand, round, 12, &l);
        GEOSGeometry *area = geos_from_rings(g, &l);
        double angle = g_rand_double_range(rand, -4, 4), pitch = 0.4;
        g_auto(DtHatching) h = {0};
        g_assert_true(
            dt_hatch_lines(&l, DT_FILL_NONZERO, (DtHatchGrid){angle, pitch, 0}, &h, NULL));
        DtPoint way = {cos(angle), sin(angle)};
        size_t at = 0;
        for (int32_t k = -300; k < 300; k++) {
            DtPoint from = {-way.y * k * pitch - 200 * way.x, way.x * k * pitch - 200 * way.y};
            g_autoptr(GArray) ends = ends_by_geos(area, from, way, 400);
            size_t n = 0;
            while (at + n < h.n && h.c[2 * (at + n)].line == k)
                n++;
            if (ends->len != 2 * n) { /* only where a line grazes a corner by less than 1e-6 mm */
                double all = 0;
                for (guint i = 0; i + 1 < ends->len; i += 2)
                    all += g_array_index(ends, double, i + 1) - g_array_index(ends, double, i);
                for (size_t i = at; i < at + n; i++)
                    all -= h.c[2 * i + 1].u - h.c[2 * i].u;
                g_assert_cmpfloat(fabs(all), <, 1e-6);
            }
            for (size_t i = 0; ends->len == 2 * n && i < 2 * n; i++)
                worst = MAX(worst, fabs(h.c[2 * at + i].u + 200 - g_array_index(ends, double, i)));
            lines += n;
            at += n;
        }
        g_assert_cmpuint(at, ==, h.n);
        GEOSGeom_destroy_r(g, area);
    }
    g_test_message("%zu intervals, farthest end %.2g mm from GEOS's", lines, worst);
    g_assert_cmpfloat(worst, <, 1e-6);
}

static void add_inked(const DtHatching *h, const DtLines *piece, void *user)
{
    (void)piece;
    double *inked = user;
    *inked += dt_hatch_length(h) * h->grid.pitch;
}

static void test_length_times_pitch_is_geos_area(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(25);
    int tried = 0;
    for (int round = 0; round < 60; round++) {
        g_auto(DtLines) l, inset;
        dt_lines_init(&l);
        dt_lines_init(&inset);
        clean_outline(rand, round, 9, &l);
        dt_lines_transform(&l, dt_affine_scale(0.3, 0.3));
        GEOSGeometry *area = geos_from_rings(g, &l), *theirs = GEOSBuffer_r(g, area, -0.2, 64);
        double inked = 0, wanted = geos_area(g, theirs);
        DtHatchGrid sheet = {g_rand_double_range(rand, -4, 4), 0.4, 0};
        g_assert_true(dt_region_inset(&l, 0.2, &inset, NULL));
        g_assert_true(
            dt_hatch_pieces(&inset, sheet, DT_HATCH_SINGLE, DT_FIT_PITCH, add_inked, &inked, NULL));
        if (wanted > 0.126) { /* more than a dot of this pen */
            g_assert_cmpfloat_with_epsilon(inked / wanted, 1, 0.005);
            tried++;
        }
        GEOSGeom_destroy_r(g, area);
        GEOSGeom_destroy_r(g, theirs);
    }
    g_assert_cmpint(tried, >, 20);
}

static void test_inset_is_geos_buffer(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(22);
    for (int round = 0; round < 60; round++) {
        g_auto(DtLines) l, ours;
        dt_lines_init(&l);
        dt_lines_init(&ours);
        clean_outline(rand, round, 12, &l);
        double by = g_rand_double_range(rand, 0.1, 2) * (round % 2 ? 1 : -1);
        g_assert_true(dt_region_inset(&l, by, &ours, NULL));
        GEOSGeometry *area = geos_from_rings(g, &l), *mine = geos_from_rings(g, &ours);
        GEOSGeometry *theirs = GEOSBuffer_r(g, area, -by, 64);
        g_assert_true(geos_same_within(g, mine, theirs, 0.01));
        GEOSGeom_destroy_r(g, area);
        GEOSGeom_destroy_r(g, mine);
        GEOSGeom_destroy_r(g, theirs);
    }
}

static void test_hiding_is_geos_difference(void)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(23);
    enum { LAYERS = 12 };
    for (int round = 0; round < 25; round++) {
        g_autoptr(DtStack) stack = dt_stack_new(NULL);
        GEOSGeometry *layer[LAYERS];
        for (int i = 0; i < LAYERS; i++) {
            g_auto(DtLines) l;
            dt_lines_init(&l);
            clean_outline(rand, round + i, 12, &l);
            layer[i] = geos_from_rings(g, &l);
            g_assert_true(dt_stack_add_area(stack, DT_STACK_FIRST + i, &l, DT_PLANE_NONZERO, NULL));
        }
        g_assert_true(dt_stack_finish(stack, NULL));
        GEOSGeometry *above = GEOSGeom_createEmptyPolygon_r(g);
        for (int i = LAYERS - 1; i >= 0; i--) {
            GEOSGeometry *seen = GEOSDifference_r(g, layer[i], above);
            const DtLines *rings = dt_stack_region(stack, DT_STACK_FIRST + i);
            GEOSGeometry *ours =
                rings ? geos_from_rings(g, rings) : GEOSGeom_createEmptyPolygon_r(g);
            g_assert_true(geos_same_within(g, ours, seen, 0.01));
            g_assert_cmpfloat(geos_mean_gap(g, ours, seen), <, 0.001);
            GEOSGeometry *next = GEOSUnion_r(g, above, layer[i]);
            GEOSGeom_destroy_r(g, above);
            GEOSGeom_destroy_r(g, seen);
            GEOSGeom_destroy_r(g, ours);
            GEOSGeom_destroy_r(g, layer[i]);
            above = next;
        }
        GEOSGeom_destroy_r(g, above);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g = GEOS_init_r();
    g_test_add_func("/outside/ink-geos/hatch", test_hatch_is_geos_intersection);
    g_test_add_func("/outside/ink-geos/length-times-pitch", test_length_times_pitch_is_geos_area);
    g_test_add_func("/outside/ink-geos/inset", test_inset_is_geos_buffer);
    g_test_add_func("/outside/ink-geos/hiding", test_hiding_is_geos_difference);
    int result = g_test_run();
    GEOS_finish_r(g);
    return result;
}
