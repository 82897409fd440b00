/* Outside checks of art: the SVG specification's own examples with areas worked by hand, CSS
 * units, areas by GEOS, and librsvg's rendering of the W3C suite. */
#include "art-pair.h"

#include <geos_c.h>

#define SUITE "/usr/libexec/installed-tests/RSVG/fixtures/reftests/svg1.1"

/* The drawing of one element on a sheet of 1200 by 400 px, as in the specification's examples. */
static DtDrawing *example(const char *element)
{
    g_autofree char *svg =
        g_strconcat("<svg xmlns='http://www.w3.org/2000/svg' width='1200px' height='400px' "
                    "viewBox='0 0 1200 400'>",
                    element, "</svg>", NULL);
    DtArtOptions o = DT_ART_OPTIONS_DEFAULT;
    o.tolerance = 0.001;
    g_autoptr(GError) error = NULL;
    DtDrawing *d = dt_art_read_data(svg, strlen(svg), "example.svg", &o, &error);
    g_assert_no_error(error);
    return d;
}

static double area_px(const DtDrawing *d)
{
    double sum = 0;
    for (gsize i = 0; i < d->shapes[0].outline.n; i++)
        sum += dt_lines_area(&d->shapes[0].outline, i);
    return fabs(sum) / (UNIT_MM * UNIT_MM);
}

static void test_areas_of_the_specification_examples(void)
{
    static const struct {
        const char *element;
        double area;
    } all[] = {
        /* 8.3.2, example triangle01: base 200, height 200 */
        {"<path d='M 100 100 L 300 100 L 200 300 z'/>", 20000},
        /* 8.3.8, example arcs01: three quarters of a disc of radius 150, then one quarter */
        {"<path d='M300,200 h-150 a150,150 0 1,0 150,-150 z'/>", 0.75 * G_PI * 150 * 150},
        {"<path d='M275,175 v-150 a150,150 0 0,0 -150,150 z'/>", 0.25 * G_PI * 150 * 150},
        /* 9.2, examples rect01 and rect02: corners of radius 50 */
        {"<rect x='400' y='100' width='400' height='200'/>", 80000},
        {"<rect x='100' y='100' width='400' height='200' rx='50'/>", 80000 - (4 - G_PI) * 50 * 50},
        /* 9.3 circle01 and 9.4 ellipse01 */
        {"<circle cx='600' cy='200' r='100'/>", G_PI * 100 * 100},
        {"<ellipse transform='translate(900 200) rotate(-30)' rx='250' ry='100'/>",
         G_PI * 250 * 100},
        /* 9.7 polygon01, the hexagon: the shoelace sum of its six points */
        {"<polygon points='850,75 958,137.5 958,262.5 850,325 742,262.6 742,137.5'/>", 40494.6},
        /* 8.3.7, a quadratic from quad01 closed by its chord: 2/3 of its triangle (Archimedes) */
        {"<path d='M200,300 Q400,50 600,300 z'/>", 2.0 / 3 * (400 * 250 / 2)},
        /* 8.3.6, the first curve of cubic01 closed: 3/5 of its control rectangle 150 by 100 */
        {"<path d='M100,200 C100,100 250,100 250,200 z'/>", 0.6 * 150 * 100},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(all); i++) {
        g_autoptr(DtDrawing) d = example(all[i].element);
        g_assert_cmpfloat(fabs(area_px(d) / all[i].area - 1), <, 3e-4);
    }
}

static void test_css_absolute_units(void)
{
    /* CSS Values and Units 3, 6.2. */
    static const struct {
        const char *length;
        double mm;
    } all[] = {{"1in", 25.4},  {"2.54cm", 25.4}, {"25.4mm", 25.4}, {"101.6Q", 25.4},
               {"72pt", 25.4}, {"6pc", 25.4},    {"96px", 25.4},   {"96", 25.4}};
    for (gsize i = 0; i < G_N_ELEMENTS(all); i++) {
        g_autofree char *svg = g_strdup_printf(
            "<svg xmlns='http://www.w3.org/2000/svg' width='%s' height='50mm'/>", all[i].length);
        g_autoptr(DtDrawing) d = dt_art_read_data(svg, strlen(svg), "unit.svg", NULL, NULL);
        g_assert_nonnull(d);
        g_assert_cmpfloat(fabs(d->width - all[i].mm), <, 1e-9);
    }
}

/* The area of one polyline as GEOS works it out. */
static double geos_area(GEOSContextHandle_t g, const DtLines *l, gsize i)
{
    gsize n = dt_lines_count(l, i);
    const DtPoint *p = dt_lines_at(l, i);
    GEOSCoordSequence *s = GEOSCoordSeq_create_r(g, (unsigned)n + 1, 2);
    for (unsigned k = 0; k <= n; k++)
        GEOSCoordSeq_setXY_r(g, s, k, p[k % n].x, p[k % n].y);
    GEOSGeometry *polygon = GEOSGeom_createPolygon_r(g, GEOSGeom_createLinearRing_r(g, s), NULL, 0);
    double area = 0;
    g_assert_cmpint(GEOSArea_r(g, polygon, &area), ==, 1);
    GEOSGeom_destroy_r(g, polygon);
    return area;
}

static void test_areas_agree_with_geos(void)
{
    GEOSContextHandle_t g = GEOS_init_r();
    g_autoptr(DtDrawing) d = example(
        "<path d='M600,350 l 50,-25 a25,25 -30 0,1 50,-25 l 50,-25 a25,50 -30 0,1 50,-25 l 50,-25 "
        "a25,75 -30 0,1 50,-25 l 50,-25 a25,100 -30 0,1 50,-25 l 50,-25 V390z'/>"
        "<circle cx='200' cy='200' r='90' transform='skewX(20)'/>"
        "<path d='M10 10C400 10 10 400 300 300S100 20 90 200z'/>");
    g_assert_cmpuint(d->n_shapes, ==, 3);
    for (gsize i = 0; i < d->n_shapes; i++) {
        const DtLines *l = &d->shapes[i].outline;
        g_assert_cmpuint(l->n, >, 0);
        for (gsize k = 0; k < l->n; k++)
            g_assert_cmpfloat(fabs(fabs(dt_lines_area(l, k)) - geos_area(g, l, k)), <, 1e-9);
    }
    GEOS_finish_r(g);
}

/* The W3C suite ----------------------------------------------------------------------------- */

static double agreement(const char *path)
{
    g_autofree char *data = NULL;
    gsize len;
    g_assert_true(g_file_get_contents(path, &data, &len, NULL));
    Pair p = pair_paint(data, len, path);
    double iou = pair_agreement(&p);
    pair_clear(&p);
    return iou;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static void test_w3c_suite_as_librsvg_paints_it(void)
{
    GDir *dir = g_dir_open(SUITE, 0, NULL);
    if (!dir) {
        g_test_skip("librsvg2-tests is not installed");
        return;
    }
    g_autofree char *list = g_test_build_filename(G_TEST_DIST, "art-misses.md", NULL);
    g_autofree char *known = NULL;
    g_assert_true(g_file_get_contents(list, &known, NULL, NULL));
    g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
    const char *name;
    while ((name = g_dir_read_name(dir)))
        if (g_str_has_suffix(name, ".svg") && !g_str_has_prefix(name, "filters-"))
            g_ptr_array_add(names, g_strdup(name));
    g_dir_close(dir);
    g_ptr_array_sort(names, by_name);
    guint seen = 0;
    for (guint i = 0; i < names->len; i += 6) { /* all of them: ./dev corpus --art */
        g_autofree char *path = g_build_filename(SUITE, names->pdata[i], NULL);
        g_autofree char *text = NULL;
        g_assert_true(g_file_get_contents(path, &text, NULL, NULL));
        if (strstr(text, "<filter") || strstr(text, "<animate") || strstr(text, "<set ") ||
            strstr(text, "<script") || strstr(known, names->pdata[i]))
            continue;
        double iou = agreement(path);
        g_test_message("%s %.4f", (char *)names->pdata[i], iou);
        g_assert_cmpfloat(iou, >=, 0.98);
        seen++;
    }
    g_assert_cmpuint(seen, >=, 10);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/outside/art/specification-areas", test_areas_of_the_specification_examples);
    g_test_add_func("/outside/art/css-units", test_css_absolute_units);
    g_test_add_func("/outside/art/geos-areas", test_areas_agree_with_geos);
    g_test_add_func("/outside/art/w3c-suite", test_w3c_suite_as_librsvg_paints_it);
    return g_test_run();
}
