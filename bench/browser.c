/* browser: asks a web browser for pictures of drawings, one process for each sheet of them. */
#include "browser.h"

#include "support/folder.h"

#include <glib.h>
#include <glib/gstdio.h>

#define TINY_PAGE 20 /* CSS px */

static void ask(const char *program, const char *folder, const char *page, const char *picture,
                int w, int h)
{
    g_autofree char *home = g_strdup_printf("--user-data-dir=%s/home", folder);
    g_autofree char *size = g_strdup_printf("--window-size=%d,%d", w, h);
    g_autofree char *shot = g_strdup_printf("--screenshot=%s", picture);
    g_autofree char *uri = g_filename_to_uri(page, NULL, NULL);
    const char *args[] = {"timeout",
                          "40", /* s: a browser now and then never ends */
                          program,
                          "--headless",
                          "--no-sandbox",
                          "--disable-gpu",
                          "--hide-scrollbars",
                          "--allow-file-access-from-files",
                          "--font-render-hinting=none",
                          "--virtual-time-budget=2000",
                          "--default-background-color=00000000",
                          home,
                          size,
                          shot,
                          uri,
                          NULL};
    g_spawn_sync(NULL, (char **)args, NULL,
                 G_SPAWN_SEARCH_PATH | G_SPAWN_STDOUT_TO_DEV_NULL | G_SPAWN_STDERR_TO_DEV_NULL,
                 NULL, NULL, NULL, NULL, NULL, NULL);
}

#define PAGE_HEAD                                                                                  \
    "<!doctype html><style>body{margin:0;background:transparent}"                                  \
    "img{display:block;position:absolute}</style>"

/* What the browser shows of a page, w by h px. */
static cairo_surface_t *shown(const char *program, const char *folder, const char *html, int w,
                              int h)
{
    g_autofree char *page = g_build_filename(folder, "page.html", NULL);
    g_autofree char *picture = g_build_filename(folder, "picture.png", NULL);
    cairo_surface_t *s = NULL;
    gboolean asked = g_file_set_contents(page, html, -1, NULL);
    for (int i = 0; asked && i < 2 && !g_file_test(picture, G_FILE_TEST_EXISTS); i++)
        ask(program, folder, page, picture, w, h);
    if (g_file_test(picture, G_FILE_TEST_EXISTS))
        s = cairo_image_surface_create_from_png(picture);
    if (s && cairo_surface_status(s) == CAIRO_STATUS_SUCCESS &&
        cairo_image_surface_get_format(s) == CAIRO_FORMAT_ARGB32 &&
        cairo_image_surface_get_width(s) == w && cairo_image_surface_get_height(s) == h)
        return s;
    if (s)
        cairo_surface_destroy(s);
    return NULL;
}

cairo_surface_t *browser_paint(const char *program, const char *drawing, int w, int h)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    if (!folder)
        return NULL;
    g_autofree char *full = g_canonicalize_filename(drawing, NULL);
    g_autofree char *uri = g_filename_to_uri(full, NULL, NULL);
    g_autofree char *html =
        g_strdup_printf(PAGE_HEAD "<img src=\"%s\" width=%d height=%d>", uri, w, h);
    cairo_surface_t *s = shown(program, folder, html, w, h);
    folder_remove(folder);
    return s;
}

/* Cuts the pictures out of the sheet that they stand on. */
static void cut(cairo_surface_t *sheet, BrowserPicture *pictures, gsize n, int columns, int side)
{
    for (gsize i = 0; i < n; i++) {
        BrowserPicture *p = &pictures[i];
        p->picture = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, p->w, p->h);
        cairo_t *cr = cairo_create(p->picture);
        cairo_set_source_surface(cr, sheet, -(double)((int)i % columns * side),
                                 -(double)((int)i / columns * side));
        cairo_paint(cr);
        cairo_destroy(cr);
        cairo_surface_flush(p->picture);
    }
}

void browser_paint_many(const char *program, BrowserPicture *pictures, gsize n, int side)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    if (!folder || n == 0)
        return;
    int columns = 1;
    while ((gsize)columns * (gsize)columns < n)
        columns++;
    GString *html = g_string_new(PAGE_HEAD);
    for (gsize i = 0; i < n; i++) {
        g_autofree char *name = g_strdup_printf("%zu.svg", i);
        g_autofree char *path = g_build_filename(folder, name, NULL);
        g_file_set_contents(path, pictures[i].data, (gssize)pictures[i].len, NULL);
        const BrowserPicture *p = &pictures[i];
        /* The box of an image is rounded to whole px before it is scaled. */
        gboolean tiny = MIN(p->page_w, p->page_h) < TINY_PAGE;
        double w = tiny ? p->w : p->page_w, h = tiny ? p->h : p->page_h;
        g_string_append_printf(html,
                               "<img src=\"%s\" width=%g height=%g style=\"left:%dpx;top:%dpx;"
                               "transform-origin:0 0;transform:scale(%.9g,%.9g)\">",
                               name, w, h, (int)i % columns * side, (int)i / columns * side,
                               p->w / w, p->h / h);
    }
    cairo_surface_t *sheet = shown(program, folder, html->str, columns * side, columns * side);
    if (sheet) {
        cut(sheet, pictures, n, columns, side);
        cairo_surface_destroy(sheet);
    }
    g_string_free(html, TRUE);
    folder_remove(folder);
}
