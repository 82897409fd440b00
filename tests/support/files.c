/* files: finds the drawings of a corpus. */
#include "support/files.h"
#include "drawtrue/base.h"
#include <stdlib.h>
#include <string.h>

static gboolean is_drawing(const char *path)
{
    return g_str_has_suffix(path, ".svg") || g_str_has_suffix(path, ".svgz");
}

static void add_folder(GPtrArray *files, const char *folder, int depth)
{
    g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
    const char *name;
    while (dir && (name = g_dir_read_name(dir))) {
        g_autofree char *path = g_build_filename(folder, name, NULL);
        if (g_file_test(path, G_FILE_TEST_IS_DIR)) {
            if (depth > 0 && !g_file_test(path, G_FILE_TEST_IS_SYMLINK))
                add_folder(files, path, depth - 1);
        } else if (is_drawing(name)) {
            g_ptr_array_add(files, g_steal_pointer(&path));
        }
    }
}

static gboolean add_package(GPtrArray *files, GError **error)
{
    const char *const argv[] = {"dpkg", "-L", "openclipart-svg", NULL};
    g_autofree char *out = NULL;
    int status = 0;
    if (!g_spawn_sync(NULL, (char **)(void *)argv, NULL,
                      G_SPAWN_SEARCH_PATH | G_SPAWN_STDERR_TO_DEV_NULL, NULL, NULL, &out, NULL,
                      &status, NULL) ||
        status != 0) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                            "the Debian package openclipart-svg is not installed");
        return FALSE;
    }
    g_auto(GStrv) lines = g_strsplit(out, "\n", -1);
    for (char **line = lines; *line; line++)
        if (is_drawing(*line) && g_file_test(*line, G_FILE_TEST_IS_REGULAR))
            g_ptr_array_add(files, g_strdup(*line));
    return TRUE;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* TRUE where the text is a whole number above zero. */
static gboolean read_count(const char *text, long *n)
{
    char *end = NULL;
    const long value = strtol(text, &end, 10);
    if (end == text || *end || value <= 0)
        return FALSE;
    *n = value;
    return TRUE;
}

GPtrArray *files_for_corpus(int argc, char **argv, long n, GError **error)
{
    const gboolean counted = argc > 1 && read_count(argv[1], &n);
    const int at = counted ? 2 : 1;
    if (argc > at + 1) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "it takes a count and a folder");
        return NULL;
    }
    g_autoptr(GPtrArray) all = g_ptr_array_new_with_free_func(g_free);
    if (argc > at)
        add_folder(all, argv[at], 16);
    else if (!add_package(all, error))
        return NULL;
    if (all->len == 0) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: there is no drawing in it",
                    argc > at ? argv[at] : "openclipart-svg");
        return NULL;
    }
    g_ptr_array_sort(all, by_name);
    const size_t take = MIN((size_t)n, all->len);
    GPtrArray *chosen = g_ptr_array_new_with_free_func(g_free);
    for (size_t i = 0; i < take; i++)
        g_ptr_array_add(chosen, g_strdup(all->pdata[i * all->len / take]));
    return chosen;
}
