/* browser: asks a web browser for a picture of a drawing, one process for each. */
#include "browser.h"

#include <glib.h>
#include <glib/gstdio.h>

static char *write_page(const char *folder, const char *drawing, int w, int h)
{
    g_autofree char *full = g_canonicalize_filename(drawing, NULL);
    g_autofree char *uri = g_filename_to_uri(full, NULL, NULL);
    g_autofree char *text =
        g_strdup_printf("<!doctype html><style>body{margin:0;background:transparent}"
                        "img{display:block}</style><img src=\"%s\" width=%d height=%d>",
                        uri, w, h);
    char *page = g_build_filename(folder, "page.html", NULL);
    g_file_set_contents(page, text, -1, NULL);
    return page;
}

static gboolean ask(const char *program, const char *folder, const char *page, const char *picture,
                    int w, int h)
{
    g_autofree char *home = g_strdup_printf("--user-data-dir=%s/home", folder);
    g_autofree char *size = g_strdup_printf("--window-size=%d,%d", w, h);
    g_autofree char *shot = g_strdup_printf("--screenshot=%s", picture);
    g_autofree char *uri = g_filename_to_uri(page, NULL, NULL);
    const char *args[] = {program,
                          "--headless",
                          "--no-sandbox",
                          "--disable-gpu",
                          "--hide-scrollbars",
                          "--allow-file-access-from-files",
                          "--default-background-color=00000000",
                          home,
                          size,
                          shot,
                          uri,
                          NULL};
    return g_spawn_sync(NULL, (char **)args, NULL,
                        G_SPAWN_SEARCH_PATH | G_SPAWN_STDOUT_TO_DEV_NULL |
                            G_SPAWN_STDERR_TO_DEV_NULL,
                        NULL, NULL, NULL, NULL, NULL, NULL);
}

static void remove_folder(const char *folder)
{
    GDir *dir = g_dir_open(folder, 0, NULL);
    const char *name;
    while (dir && (name = g_dir_read_name(dir))) {
        g_autofree char *inner = g_build_filename(folder, name, NULL);
        if (g_file_test(inner, G_FILE_TEST_IS_DIR) && !g_file_test(inner, G_FILE_TEST_IS_SYMLINK))
            remove_folder(inner);
        else
            g_unlink(inner);
    }
    if (dir)
        g_dir_close(dir);
    g_rmdir(folder);
}

cairo_surface_t *browser_paint(const char *program, const char *drawing, int w, int h)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    if (!folder)
        return NULL;
    g_autofree char *page = write_page(folder, drawing, w, h);
    g_autofree char *picture = g_build_filename(folder, "picture.png", NULL);
    cairo_surface_t *s = NULL;
    if (ask(program, folder, page, picture, w, h))
        s = cairo_image_surface_create_from_png(picture);
    remove_folder(folder);
    if (s && cairo_surface_status(s) == CAIRO_STATUS_SUCCESS &&
        cairo_image_surface_get_format(s) == CAIRO_FORMAT_ARGB32 &&
        cairo_image_surface_get_width(s) == w && cairo_image_surface_get_height(s) == h)
        return s;
    if (s)
        cairo_surface_destroy(s);
    return NULL;
}
