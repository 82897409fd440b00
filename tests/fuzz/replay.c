/* Runs a fuzz target over its kept seeds, those that once failed among them, without a fuzzer. */
#include <glib.h>
#include <stdint.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void replay(gconstpointer path)
{
    g_autofree char *bytes = NULL;
    gsize n;
    g_autoptr(GError) error = NULL;
    g_file_get_contents(path, &bytes, &n, &error);
    g_assert_no_error(error);
    g_assert_cmpint(LLVMFuzzerTestOneInput((const uint8_t *)bytes, n), ==, 0);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_assert_cmpint(argc, ==, 3);
    g_autoptr(GError) error = NULL;
    g_autoptr(GDir) dir = g_dir_open(argv[2], 0, &error);
    g_assert_no_error(error);
    size_t n = 0;
    for (const char *name; (name = g_dir_read_name(dir)); n++) {
        g_autofree char *test = g_strdup_printf("/fuzz/%s/%s", argv[1], name);
        g_test_add_data_func_full(test, g_build_filename(argv[2], name, NULL), replay, g_free);
    }
    g_assert_cmpuint(n, >, 0);
    return g_test_run();
}
