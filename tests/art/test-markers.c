/* art: where markers stand and which way they point (SVG 2, 13.2; SVG 1.1, F.5), worked out by hand. */
#include "art-test.h"

/* Pairs of a place and degrees, of the first edge of each marker that is drawn. */
static char *markers_on(const char *path, const char *orient)
{
    g_autofree char *content = g_strdup_printf(
        "<marker id='m' markerWidth='9' markerHeight='9' markerUnits='userSpaceOnUse' "
        "overflow='visible' orient='%s'><path d='M0 0L4 0L4 1z' fill='red'/></marker>"
        "<path d='%s' fill='none' marker-start='url(#m)' marker-mid='url(#m)' "
        "marker-end='url(#m)'/>",
        orient, path);
    g_autoptr(DtDrawing) d = read_page(content);
    GString *s = g_string_new(NULL);
    for (gsize i = 0; i < d->n_shapes; i++) {
        const DtPoint *p = dt_lines_at(&d->shapes[i].outline, 0);
        const double angle = atan2(p[1].y - p[0].y, p[1].x - p[0].x) * 180 / G_PI;
        g_string_append_printf(s, "%s%.0f,%.0f %.1f", i ? "; " : "", p[0].x, p[0].y,
                               fabs(angle) < 1e-6 ? 0 : angle);
    }
    return g_string_free(s, FALSE);
}

/* A segment of no length points as the one before it, or else as the one after it, in its own subpath: F.5. */
static void test_directions(void)
{
    static const char *const cases[][2] = {
        {"M10 10H30V50", "10,10 0.0; 30,10 45.0; 30,50 90.0"},
        {"M10 10H30L50 0", "10,10 0.0; 30,10 -13.3; 50,0 -26.6"},
        {"M10 10C10 10 10 30 30 30", "10,10 90.0; 30,30 0.0"},
        {"M10 10C10 30 30 30 30 30", "10,10 90.0; 30,30 0.0"},
        {"M10 10C10 10 30 20 30 20", "10,10 26.6; 30,20 26.6"},
        {"M10 10Q30 10 30 30", "10,10 0.0; 30,30 90.0"},
        /* no length */
        {"M10 10V30V30", "10,10 90.0; 10,30 90.0; 10,30 90.0"},
        {"M10 10V30V30V30", "10,10 90.0; 10,30 90.0; 10,30 90.0; 10,30 90.0"},
        {"M10 10H10V30", "10,10 90.0; 10,10 90.0; 10,30 90.0"},
        {"M10 10H10H10V30", "10,10 90.0; 10,10 90.0; 10,10 90.0; 10,30 90.0"},
        {"M10 10H30H30V50", "10,10 0.0; 30,10 0.0; 30,10 45.0; 30,50 90.0"},
        {"M10 10H10", "10,10 0.0; 10,10 0.0"},
        /* subpaths */
        {"M10 10H20M30 30V50", "10,10 0.0; 20,10 0.0; 30,30 90.0; 30,50 90.0"},
        {"M10 10V20M30 30H30", "10,10 90.0; 10,20 90.0; 30,30 0.0; 30,30 0.0"},
        {"M10 10H10M30 30V50", "10,10 0.0; 10,10 0.0; 30,30 90.0; 30,50 90.0"},
        /* closed: where it begins and ends, between the last segment and the first */
        {"M10 10H30V30z", "10,10 -67.5; 30,10 45.0; 30,30 157.5; 10,10 -67.5"},
        {"M10 10H30V30L10 10z", "10,10 -67.5; 30,10 45.0; 30,30 157.5; 10,10 -135.0; 10,10 -67.5"},
    };
    guint failed = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *have = markers_on(cases[i][0], "auto");
        if (strcmp(have, cases[i][1]) != 0)
            g_test_message("%s: %s and not %s", cases[i][0], have, cases[i][1]), failed++;
    }
    g_assert_cmpuint(failed, ==, 0);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/markers/directions", test_directions);
    return g_test_run();
}
