/* base: files whole or not at all, and word distance. */
#include "drawtrue/base.h"
#include "drawtrue/json.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <string.h>
#include <unistd.h>

static void test_written_file_reads_back(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "job.nc", NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_base_write_file(path, "G0 X1\n", 6, &error));
    g_assert_no_error(error);
    gsize len = 0;
    g_autofree char *text = dt_base_read_file(path, 100, &len, &error);
    g_assert_cmpmem(text, len, "G0 X1\n", 6);
    g_unlink(path);
    g_assert_cmpint(g_rmdir(folder), ==, 0); /* no temporary file is left */
}

/* Through links, so that a fault here harms no device. */
static void test_what_is_no_plain_file_is_not_replaced(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *file = g_build_filename(folder, "my.ini", NULL);
    g_autofree char *link = g_build_filename(folder, "link.ini", NULL);
    g_autofree char *full = g_build_filename(folder, "full", NULL);
    g_autoptr(GError) error = NULL;
    GStatBuf st;
    g_assert_true(dt_base_write_file(file, "a", 1, NULL));
    g_assert_cmpint(g_chmod(file, 0640), ==, 0);
    g_assert_cmpint(symlink("my.ini", link), ==, 0);
    g_assert_true(dt_base_write_file(link, "bc", 2, &error));
    g_autofree char *text = dt_base_read_file(file, 10, NULL, NULL);
    g_assert_cmpstr(text, ==, "bc");
    g_assert_true(g_file_test(link, G_FILE_TEST_IS_SYMLINK));
    g_assert_cmpint(g_stat(file, &st), ==, 0);
    g_assert_cmpint(st.st_mode & 0777, ==, 0640);
    g_assert_cmpint(symlink("/dev/full", full), ==, 0);
    g_assert_false(dt_base_write_file(full, "a", 1, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_assert_nonnull(strstr(error->message, g_strerror(ENOSPC)));
    g_assert_true(g_file_test(full, G_FILE_TEST_IS_SYMLINK));
    g_clear_error(&error);
    g_assert_false(dt_base_write_file(folder, "a", 1, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_unlink(file);
    g_unlink(link);
    g_unlink(full);
    g_assert_cmpint(g_rmdir(folder), ==, 0);
}

static void test_missing_folder_and_large_files_are_refused(void)
{
    g_autoptr(GError) error = NULL;
    g_assert_false(dt_base_write_file("/no/such/folder/x", "a", 1, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_IO);
    g_clear_error(&error);
    g_assert_null(dt_base_read_file("/no/such/file", 10, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    g_assert_null(dt_base_read_file("/", 10, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_clear_error(&error);
    g_assert_null(dt_base_read_file("/proc/self/exe", 10, NULL, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
}

static void test_edit_distance_of_the_textbook(void)
{
    /* Wagner and Fischer 1974; the customary examples. */
    g_assert_cmpuint(dt_base_edit_distance("kitten", "sitting"), ==, 3);
    g_assert_cmpuint(dt_base_edit_distance("Saturday", "Sunday"), ==, 3);
    g_assert_cmpuint(dt_base_edit_distance("", "abc"), ==, 3);
    g_assert_cmpuint(dt_base_edit_distance("abc", "abc"), ==, 0);
}

static void test_json_is_valid_whatever_the_text(void)
{
    g_autoptr(JsonBuilder) b = json_builder_new();
    json_builder_begin_object(b);
    dt_json_text(b, "name", "caf\xe9 \"x\"");
    dt_json_text(b, "none", NULL);
    dt_json_count(b, "count", 3);
    dt_json_number(b, "mm", 0.5);
    dt_json_flag(b, "good", TRUE);
    json_builder_end_object(b);
    g_autofree char *text = dt_json_write(b, FALSE);
    g_assert_cmpstr(text, ==,
                    "{\"name\":\"caf\xef\xbf\xbd \\\"x\\\"\",\"none\":null,\"count\":3,"
                    "\"mm\":0.5,\"good\":true}");
}

static void test_duration(void)
{
    static const struct {
        double seconds;
        const char *text;
    } cases[] = {{0, "0.0 s"},          {59.94, "59.9 s"},       {59.96, "1 min 00 s"},
                 {200.4, "3 min 20 s"}, {3599.4, "59 min 59 s"}, {3599.6, "1 h 00 min"},
                 {3725, "1 h 02 min"},  {360000, "100 h 00 min"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = dt_base_duration(cases[i].seconds);
        g_assert_cmpstr(text, ==, cases[i].text);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/base/written-file-reads-back", test_written_file_reads_back);
    g_test_add_func("/base/no-plain-file", test_what_is_no_plain_file_is_not_replaced);
    g_test_add_func("/base/refusals", test_missing_folder_and_large_files_are_refused);
    g_test_add_func("/base/edit-distance", test_edit_distance_of_the_textbook);
    g_test_add_func("/base/json", test_json_is_valid_whatever_the_text);
    g_test_add_func("/base/duration", test_duration);
    return g_test_run();
}
