/* artwork: files that the page uploads or opens. Uploads go to a folder under a name of our own,
 * and of the file system the page sees only what lies below one folder, links resolved. */
#include "desk/private.h"

#include "desk/guard.h"
#include "drawtrue/art.h"
#include "drawtrue/json.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { MOST_ENTRIES = 500, LONGEST_NAME = 120, KEPT_DAYS = 30 };

static const char *const readable[] = {".svg",  ".svgz", ".pdf",   ".png", ".jpg", ".jpeg",
                                       ".webp", ".tif",  ".tiff",  ".gif", ".bmp", ".nc",
                                       ".ngc",  ".tap",  ".gcode", ".txt"};

const char *dt_desk_ending_of(const char *name, const char *const *endings, gsize n)
{
    const char *dot = strrchr(name, '.');
    for (gsize i = 0; dot != NULL && i < n; i++)
        if (g_ascii_strcasecmp(dot, endings[i]) == 0)
            return endings[i];
    return NULL;
}

void dt_desk_set_source(DtDesk *d, const char *path, const char *name, gint64 resumes)
{
    DtDeskDrawing *w = &d->drawing;
    char *own = g_strdup(path), *own_name = g_strdup(name);
    g_free(w->source);
    g_free(w->name);
    w->source = own;
    w->name = own_name;
    w->is_program = own != NULL && !dt_art_is_artwork(own);
    w->resumes = resumes;
    w->sheet = w->skip = 0;
    w->has_left = w->has_right = FALSE;
    w->summary = (DtInkSummary){0};
    g_clear_pointer(&w->ink, g_bytes_unref);
    g_clear_pointer(&w->picture, g_bytes_unref);
    g_clear_pointer(&w->report, g_free);
    w->ink_number++;
    w->picture_number++;
    dt_desk_draft(d);
}

static gboolean is_free(DtDesk *d, GError **error)
{
    if (!dt_desk_is_drawing(d))
        return TRUE;
    g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                        "the machine is drawing; wait or stop it first");
    return FALSE;
}

/* Its owner has the file too, so it need not survive a power cut; ensuring that may take half a
 * second on a busy disk. */
static gboolean write_copy(const char *path, const char *data, gsize n, GError **error)
{
    g_autoptr(GError) problem = NULL;
    if (g_file_set_contents_full(path, data, (gssize)n, G_FILE_SET_CONTENTS_NONE, 0600, &problem))
        return TRUE;
    g_unlink(path);
    g_set_error_literal(error, DT_ERROR, DT_ERROR_IO, problem->message);
    return FALSE;
}

gboolean dt_desk_take_upload(DtDesk *d, const char *name, GBytes *bytes, GError **error)
{
    gsize n;
    const char *data = g_bytes_get_data(bytes, &n);
    g_autofree char *base = g_path_get_basename(name);
    const char *ending = dt_desk_ending_of(base, readable, G_N_ELEMENTS(readable));
    if (!is_free(d, error))
        return FALSE;
    if (n == 0 || ending == NULL) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s", base,
                    n == 0
                        ? _("the file is empty")
                        : _("neither a drawing (SVG, PDF, photograph) nor a program by its name"));
        return FALSE;
    }
    char random[65];
    if (!dt_guard_random(random))
        return FALSE;
    random[16] = '\0';
    g_autofree char *file = g_strdup_printf("art-%s%s", random, ending);
    g_autofree char *path = g_build_filename(d->work, file, NULL);
    if (!write_copy(path, data, n, error))
        return FALSE;
    if (strlen(base) > LONGEST_NAME)
        base[LONGEST_NAME] = '\0';
    g_autofree char *valid = g_utf8_make_valid(base, -1);
    dt_desk_set_source(d, path, valid, 0);
    return TRUE;
}

/* Below the start folder -------------------------------------------------------------------- */

static gboolean is_below(const DtDesk *d, const char *resolved)
{
    const gsize n = strlen(d->folder);
    return strncmp(resolved, d->folder, n) == 0 &&
           (resolved[n] == '\0' || resolved[n] == '/' || d->folder[n - 1] == '/');
}

/* The resolved path; NULL if it leads outside, or nowhere. Freed with free(). */
static char *resolve(const DtDesk *d, const char *relative)
{
    char *resolved = NULL;
    if (!g_path_is_absolute(relative) && strlen(relative) < PATH_MAX / 2) {
        g_autofree char *whole = g_build_filename(d->folder, relative, NULL);
        resolved = realpath(whole, NULL);
    }
    if (resolved != NULL && !is_below(d, resolved))
        g_clear_pointer(&resolved, free);
    return resolved;
}

static void set_not_here(const char *relative, GError **error)
{
    g_autofree char *shown = dt_base_show_text(relative, -1);
    g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                "%s: there is no such file in the folder that the desk was started in", shown);
}

/* The file that is open must be the one that was checked: the descriptor's own path is checked
 * again. */
static int open_below(const DtDesk *d, const char *relative)
{
    char *resolved = resolve(d, relative), path[PATH_MAX];
    const int fd = resolved ? open(resolved, O_RDONLY | O_NOFOLLOW | O_CLOEXEC | O_NONBLOCK) : -1;
    free(resolved);
    if (fd < 0)
        return -1;
    g_autofree char *link = g_strdup_printf("/proc/self/fd/%d", fd);
    const ssize_t n = readlink(link, path, sizeof path - 1);
    path[MAX(n, 0)] = '\0';
    struct stat st;
    if (n > 0 && is_below(d, path) && fstat(fd, &st) == 0 && S_ISREG(st.st_mode) &&
        st.st_size <= DT_GUARD_MOST_UPLOAD)
        return fd;
    close(fd);
    return -1;
}

gboolean dt_desk_take_file(DtDesk *d, const char *relative, GError **error)
{
    const int fd = open_below(d, relative);
    if (fd < 0) {
        set_not_here(relative, error);
        return FALSE;
    }
    g_autoptr(GMappedFile) map = g_mapped_file_new_from_fd(fd, FALSE, error);
    close(fd);
    if (map == NULL)
        return FALSE;
    g_autoptr(GBytes) bytes =
        g_bytes_new(g_mapped_file_get_contents(map), g_mapped_file_get_length(map));
    return dt_desk_take_upload(d, relative, bytes, error);
}

static int by_name(gconstpointer a, gconstpointer b)
{
    return g_utf8_collate(*(const char *const *)a, *(const char *const *)b);
}

static void add_entry(JsonBuilder *b, const DtDesk *d, const char *folder, const char *name)
{
    g_autofree char *relative = *folder ? g_build_filename(folder, name, NULL) : g_strdup(name);
    char *resolved = resolve(d, relative);
    GStatBuf st;
    if (resolved != NULL && g_stat(resolved, &st) == 0 &&
        (S_ISDIR(st.st_mode) ||
         (S_ISREG(st.st_mode) &&
          dt_desk_ending_of(name, readable, G_N_ELEMENTS(readable)) != NULL))) {
        json_builder_begin_object(b);
        dt_json_text(b, "name", name);
        dt_json_flag(b, "folder", S_ISDIR(st.st_mode));
        dt_json_count(b, "bytes", S_ISDIR(st.st_mode) ? 0 : (size_t)st.st_size);
        json_builder_end_object(b);
    }
    free(resolved);
}

char *dt_desk_files_json(DtDesk *d, const char *relative, GError **error)
{
    char *resolved = resolve(d, relative);
    g_autoptr(GDir) dir = resolved ? g_dir_open(resolved, 0, NULL) : NULL;
    free(resolved);
    if (dir == NULL) {
        set_not_here(relative, error);
        return NULL;
    }
    g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
    for (const char *name; (name = g_dir_read_name(dir)) != NULL && names->len < MOST_ENTRIES;)
        if (*name != '.' && g_utf8_validate(name, -1, NULL))
            g_ptr_array_add(names, g_strdup(name));
    g_ptr_array_sort(names, by_name);
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "folder", relative);
    dt_json_begin_array(b, "entries");
    for (guint i = 0; i < names->len; i++)
        add_entry(b, d, relative, names->pdata[i]);
    json_builder_end_array(b);
    return dt_json_end(b);
}

/* Programs that the log may still resume are kept. */
static gboolean is_needed(const DtLog *log, const char *path)
{
    for (size_t i = 0; i < log->n_runs; i++)
        if (g_strcmp0(log->runs[i].program, path) == 0 && strcmp(log->runs[i].status, "done") != 0)
            return TRUE;
    return FALSE;
}

void dt_desk_tidy_work(DtDesk *d)
{
    g_auto(DtLog) log = {0};
    g_autoptr(GDir) dir = g_dir_open(d->work, 0, NULL);
    if (dir == NULL || !dt_log_read(d->journal, &log, NULL))
        return;
    const gint64 limit = g_get_real_time() / G_USEC_PER_SEC - (gint64)KEPT_DAYS * 24 * 3600;
    for (const char *name; (name = g_dir_read_name(dir)) != NULL;) {
        g_autofree char *path = g_build_filename(d->work, name, NULL);
        GStatBuf st;
        if (g_lstat(path, &st) == 0 && S_ISREG(st.st_mode) && st.st_mtime < limit &&
            (g_str_has_prefix(name, "art-") || g_str_has_prefix(name, "scan-") ||
             g_str_has_suffix(name, ".nc")) &&
            !is_needed(&log, path))
            g_unlink(path);
    }
}
