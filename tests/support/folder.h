/* folder: a folder of temporary files, removed with all that it holds. */
#pragma once

#include <glib/gstdio.h>

/* Removes what a folder holds; links are not followed. */
static inline void folder_clear(const char *folder)
{
    g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
    const char *name;
    while (dir && (name = g_dir_read_name(dir))) {
        g_autofree char *path = g_build_filename(folder, name, NULL);
        if (g_file_test(path, G_FILE_TEST_IS_DIR) && !g_file_test(path, G_FILE_TEST_IS_SYMLINK))
            folder_clear(path);
        g_remove(path);
    }
}

/* FALSE where something is still there. */
static inline gboolean folder_remove(const char *folder)
{
    folder_clear(folder);
    return g_rmdir(folder) == 0;
}
