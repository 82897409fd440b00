/* test-features: the table of drawings of one feature each. None may be farther from the browser's picture
 * than it was when the references were written, and all that is told about each stays the same.
 * `./dev corpus --features --write-references` asks the browser again. */
#include "art-test.h"
#include "support/feature-table.h"

#include <cairo.h>

#define COLUMNS 32
#define FARTHER 0.1 /* of 255, for another version of cairo or FreeType */

static char *in_folder(const char *name)
{
    return g_test_build_filename(G_TEST_DIST, "features", name, NULL);
}

/* `kept`: the feature's line of verdicts.tsv. */
static void judge(const Feature *f, const char *kept, const guint32 *reference, int stride)
{
    g_auto(GStrv) column = g_strsplit(kept, "\t", 4);
    g_assert_cmpstr(column[0], ==, f->name);
    g_assert_cmpstr(column[1], !=, "silent");
    g_autoptr(GError) error = NULL;
    g_autoptr(DtDrawing) d = dt_art_read_data(f->svg, f->len, f->name, NULL, &error);
    const double was = g_ascii_strtod(column[2], NULL);
    const double is = d ? features_distance(d, reference, stride) : 0;
    if (is > was + FARTHER)
        g_error("%s: its picture is %.2f from the browser's, not %.2f", f->name, is, was);
    g_autofree char *now = features_verdict(f, column[1], d, was, error ? error->message : NULL);
    g_assert_cmpstr(now, ==, kept);
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
        int x = (int)i % COLUMNS * FEATURE_TILE, y = (int)i / COLUMNS * FEATURE_TILE;
        judge(features->pdata[i], verdicts[i], pixels + y * stride + x, stride);
    }
    cairo_surface_destroy(s);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/art/features/every", test_every_feature);
    return g_test_run();
}
