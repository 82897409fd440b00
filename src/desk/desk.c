/* desk: one machine, one drawing and one run, and the pages that watch and steer them. */
#include "desk/private.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <stdlib.h>
#include <string.h>

gboolean dt_desk_is_drawing(const DtDesk *d)
{
    return d->phase == DT_DESK_RUN_ACTIVE;
}

const char *dt_desk_address(const DtDesk *d)
{
    return d->address;
}

static gboolean make_folders(DtDesk *d, const DtDeskOptions *o, GError **error)
{
    char *resolved = realpath(o->folder ? o->folder : ".", NULL);
    if (resolved == NULL) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s", o->folder ? o->folder : ".",
                    g_strerror(errno));
        return FALSE;
    }
    d->folder = g_strdup(resolved);
    free(resolved);
    d->work = o->work ? g_canonicalize_filename(o->work, NULL)
                      : g_build_filename(g_get_user_state_dir(), "drawtrue", "desk", NULL);
    if (g_mkdir_with_parents(d->work, 0700) == 0)
        return TRUE;
    g_set_error(error, DT_ERROR, DT_ERROR_IO, "%s: %s", d->work, g_strerror(errno));
    return FALSE;
}

static gboolean load_profile(DtDesk *d, const char *path, GError **error)
{
    d->profile = path != NULL ? dt_profile_load(path, error) : dt_profile_new();
    return d->profile != NULL && (path == NULL || dt_code_check_profile(d->profile, error));
}

DtDesk *dt_desk_new(const DtDeskOptions *o, GError **error)
{
    g_autoptr(DtDesk) d = g_new0(DtDesk, 1);
    d->context = g_main_context_ref_thread_default();
    d->pages = g_ptr_array_new();
    d->happened = g_ptr_array_new();
    d->found = g_ptr_array_new_with_free_func(g_free);
    d->drawing.options = dt_options_new();
    d->journal = g_strdup(o->journal);
    d->given_port = g_strdup(o->port);
    d->port_path = g_strdup(o->port);
    d->pens_ready = o->pens_ready;
    d->is_rig = o->is_rig;
    d->log_changed = -1; /* not looked at yet */
    if (!make_folders(d, o, error) || !load_profile(d, o->machine, error) ||
        !dt_desk_serve(d, o->listen, error))
        return NULL;
    dt_desk_tidy_work(d);
    dt_desk_open_session(d);
    dt_desk_draft(d);
    return g_steal_pointer(&d);
}

static void clear_drawing(DtDeskDrawing *w)
{
    if (w->program != NULL && w->is_draft)
        g_unlink(w->program);
    g_free(w->source);
    g_free(w->name);
    g_free(w->problem);
    g_free(w->report);
    g_free(w->program);
    g_free(w->paper_name);
    g_clear_pointer(&w->ink, g_bytes_unref);
    g_clear_pointer(&w->picture, g_bytes_unref);
    dt_options_free(w->options);
}

void dt_desk_free(DtDesk *d)
{
    if (d == NULL)
        return;
    dt_desk_stop_draft(d);
    dt_desk_stop_scanning(d);
    dt_desk_stop_serving(d);
    g_clear_handle_id(&d->flush, g_source_remove);
    while (g_source_remove_by_user_data(d)) /* a profile that was to be loaded */
        ;
    g_ptr_array_free(d->pages, TRUE);
    g_clear_pointer(&d->run, dt_run_unref);
    dt_desk_close_session(d);
    clear_drawing(&d->drawing);
    g_clear_pointer(&d->profile, dt_profile_free);
    g_ptr_array_free(d->happened, TRUE);
    g_ptr_array_free(d->found, TRUE);
    g_free(d->folder);
    g_free(d->work);
    g_free(d->journal);
    g_free(d->address);
    g_free(d->given_port);
    g_free(d->port_path);
    g_free(d->next_profile);
    g_free(d->ended_text);
    g_free(d->ended_cause);
    g_free(d->learn_text);
    g_clear_pointer(&d->scans, g_ptr_array_unref);
    g_free(d->scan_problem);
    g_main_context_unref(d->context);
    g_free(d);
}

gboolean dt_desk_open(DtDesk *d, const char *path, GError **error)
{
    enum { MOST_BYTES = 256 << 20 };
    gsize n;
    char *text = dt_base_read_file(path, MOST_BYTES, &n, error);
    if (text == NULL)
        return FALSE;
    g_autoptr(GBytes) bytes = g_bytes_new_take(text, n);
    return dt_desk_take_upload(d, path, bytes, error);
}
