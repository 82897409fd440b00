/* test-features: the table of drawings of one feature each. What the browser's pictures agreed with when
 * the references were written must still look like them, and what did not must still say so.
 * `./dev corpus --features --write-references` asks the browser again. */
#include "art-test.h"
#include "support/feature-table.h"

#include <cairo.h>

#define COLUMNS 32
#define SIDE (6 * FEATURE_TILE) /* px: enough for means */
#define MOST_DIFFERENT 0.05     /* of a tile's pixels: fonts are fitted to pixels in many ways */

static char *in_folder(const char *name)
{
    return g_test_build_filename(G_TEST_DIST, "features", name, NULL);
}

static void judge(const Feature *f, gboolean drawn, const guint32 *reference, int stride)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d = dt_art_read_data(f->svg, f->len, f->name, NULL, &error);
    guint32 tile[FEATURE_TILE * FEATURE_TILE];
    if (!drawn) {
        if (d && d->n_notes == 0)
            g_error("%s: not drawn as a browser draws it, and nothing says so", f->name);
        return;
    }
    g_assert_no_error(error);
    cairo_surface_t *picture = features_paint(d, SIDE, CAIRO_ANTIALIAS_DEFAULT);
    features_tile(picture, SIDE, tile, FEATURE_TILE);
    cairo_surface_destroy(picture);
    double different = features_tile_difference(tile, FEATURE_TILE, reference, stride);
    if (different > MOST_DIFFERENT && d->n_notes == 0)
        g_error("%s: %.1f %% of its picture differ from the browser's", f->name, 100 * different);
}

static void test_every_feature(void)
{
    g_autofree char *folder = in_folder(""), *table = in_folder("verdicts.tsv");
    g_autofree char *picture = in_folder("browser.png"), *text = NULL;
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) features = features_read(folder, &error);
    g_assert_no_error(error);
    g_file_get_contents(table, &text, NULL, &error);
    g_assert_no_error(error);
    g_auto(GStrv) verdicts = g_strsplit(g_strchomp(text), "\n", -1);
    g_assert_cmpuint(features->len, >=, 500);
    g_assert_cmpuint(g_strv_length(verdicts), ==, features->len);
    cairo_surface_t *s = cairo_image_surface_create_from_png(picture);
    g_assert_cmpint(cairo_surface_status(s), ==, CAIRO_STATUS_SUCCESS);
    int stride = cairo_image_surface_get_stride(s) / 4;
    const guint32 *pixels = (const guint32 *)(void *)cairo_image_surface_get_data(s);
    for (guint i = 0; i < features->len; i++) {
        const Feature *f = features->pdata[i];
        g_auto(GStrv) row = g_strsplit(verdicts[i], "\t", 2);
        g_assert_cmpstr(row[0], ==, f->name);
        g_assert_cmpstr(row[1], !=, "silent");
        int x = (int)i % COLUMNS * FEATURE_TILE, y = (int)i / COLUMNS * FEATURE_TILE;
        judge(f, strcmp(row[1], "drawn") == 0, pixels + y * stride + x, stride);
    }
    cairo_surface_destroy(s);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/features/every", test_every_feature);
    return g_test_run();
}
