/* operate: the session, the run and learning, as controlled from the pages. */
#include "desk/private.h"

#include "drawtrue/report.h"

#include <glib/gstdio.h>

#include <string.h>

enum { MOST_HAPPENED = 200, ALONE_S = 10 };

/* What happened ----------------------------------------------------------------------------- */

static void free_happened(gpointer data)
{
    DtHappened *h = data;
    g_free(h->text);
    g_free(h);
}

static void add_happened(DtDesk *d, DtEventKind kind, double done, const char *text)
{
    if (d->happened->len >= MOST_HAPPENED)
        g_ptr_array_remove_index(d->happened, 0);
    g_ptr_array_set_free_func(d->happened, free_happened);
    const DtHappened h = {kind, done, g_get_real_time() / G_USEC_PER_SEC, g_strdup(text)};
    g_ptr_array_add(d->happened, g_memdup2(&h, sizeof h));
    dt_desk_changed(d, DT_PART_RUN);
}

void dt_desk_note_watched(DtDesk *d)
{
    const gint64 now = g_get_real_time();
    if (d->pages->len == 0) {
        if (dt_desk_is_drawing(d) && d->alone_us == 0)
            d->alone_us = now;
        return;
    }
    if (d->alone_us != 0 && now - d->alone_us > (gint64)ALONE_S * G_USEC_PER_SEC) {
        DtSnapshot s;
        dt_session_snapshot(d->session, &s);
        g_autoptr(GDateTime) from = g_date_time_new_from_unix_local(d->alone_us / G_USEC_PER_SEC);
        g_autoptr(GDateTime) to = g_date_time_new_now_local();
        g_autofree char *since = g_date_time_format(from, "%H:%M:%S");
        g_autofree char *until = g_date_time_format(to, "%H:%M:%S");
        g_autofree char *text = g_strdup_printf(
            _("no page was open from %s to %s while the machine was drawing"), since, until);
        add_happened(d, DT_EVENT_STATE, s.done, text);
    }
    d->alone_us = 0;
}

void dt_desk_look_at_log(DtDesk *d)
{
    g_autofree char *log =
        d->journal ? g_strdup(d->journal)
                   : g_build_filename(g_get_user_state_dir(), "drawtrue", "journal.db", NULL);
    g_autofree char *ahead = g_strconcat(log, "-wal", NULL); /* written by SQLite, with the
                                                              * latest content */
    const char *const files[] = {log, ahead};
    gint64 changed = 0;
    for (gsize i = 0; i < G_N_ELEMENTS(files); i++) {
        GStatBuf st;
        if (g_stat(files[i], &st) == 0)
            changed = MAX(changed, (gint64)st.st_mtim.tv_sec * 1000 + st.st_mtim.tv_nsec / 1000000);
    }
    if (changed == d->log_changed)
        return;
    const gboolean known = d->log_changed >= 0;
    d->log_changed = changed;
    if (!known || dt_desk_is_drawing(d) || d->pages->len == 0)
        return;
    d->log_number++;
    dt_desk_changed(d, DT_PART_LOG);
}

static gboolean is_notable(const DtEvent *e)
{
    switch (e->kind) {
    case DT_EVENT_WAITING:
    case DT_EVENT_PEN_CHANGE:
    case DT_EVENT_REPEATED:
    case DT_EVENT_REFUSED:
    case DT_EVENT_PAUSED:
    case DT_EVENT_RECOVERED:
    case DT_EVENT_FOUND:
        return TRUE;
    default:
        return FALSE;
    }
}

static char *event_text(const DtDesk *d, const DtEvent *e)
{
    if (e->kind == DT_EVENT_REPEATED)
        return g_strdup_printf(_("lines were sent again from line %zu on"), e->line);
    if (e->kind == DT_EVENT_REFUSED)
        return g_strdup(e->text);
    char *text = dt_report_event_text(e, d->profile);
    const char *rest = text ? strstr(text, "  ") : NULL;
    if (rest == NULL || rest - text > 12)
        return text;
    char *own =
        g_strdup(rest + strspn(rest, " ")); /* without the word for a column of a terminal */
    g_free(text);
    return own;
}

/* Profile and session ----------------------------------------------------------------------- */

static gboolean open_again(gpointer data);

static void end_run(DtDesk *d, const DtEvent *e)
{
    d->phase = DT_DESK_RUN_ENDED;
    d->ended_state = e->at.state;
    g_free(d->ended_text);
    d->ended_text = e->error ? g_strdup(e->error->message) : event_text(d, e);
    g_free(d->ended_cause);
    d->ended_cause = g_strdup(e->text);
    d->ended_silent = e->at.silent;
    if (e->error != NULL)
        add_happened(d, DT_EVENT_ENDED, e->at.done, e->error->message);
    d->alone_us = 0;
    d->log_number++;
    dt_desk_changed(d, DT_PART_RUN | DT_PART_LOG | DT_PART_DRAWING);
}

static void end_learning(DtDesk *d)
{
    g_autoptr(GError) error = NULL;
    DtLearnt learnt = {0};
    g_autoptr(GDateTime) now = g_date_time_new_now_local();
    g_autofree char *date = g_date_time_format(now, "%Y-%m-%d");
    d->learning = FALSE;
    g_clear_pointer(&d->learn_text, g_free);
    if (dt_session_learnt(d->session, &learnt, &error) &&
        dt_link_note_learnt(d->profile, d->profile->path, NULL, &learnt, date, &error)) {
        d->learn_text = g_strdup_printf(_("what was learnt is in %s"), d->profile->path);
        dt_desk_reload_profile(d, d->profile->path);
    } else if (error != NULL) {
        d->learn_text = g_strdup(error->message);
    }
    dt_learnt_clear(&learnt);
    dt_desk_changed(d, DT_PART_LEARN | DT_PART_MACHINE);
}

static void on_event(const DtEvent *e, void *user)
{
    DtDesk *d = user;
    d->event_us = g_get_real_time();
    dt_desk_changed(d, DT_PART_SESSION);
    if (d->learning && e->kind == DT_EVENT_FOUND) {
        g_ptr_array_add(d->found, g_strdup(e->text));
        dt_desk_changed(d, DT_PART_LEARN);
    } else if (d->learning && e->kind == DT_EVENT_ENDED) {
        end_learning(d);
    } else if (d->phase == DT_DESK_RUN_ACTIVE && e->kind == DT_EVENT_ENDED) {
        end_run(d, e);
    } else if (d->phase == DT_DESK_RUN_ACTIVE && is_notable(e)) {
        g_autofree char *text = event_text(d, e);
        add_happened(d, e->kind, e->at.done, text);
    } else if (!dt_desk_is_drawing(d) && !d->learning && e->at.state == DT_STATE_CLOSED &&
               e->text != NULL) {
        add_happened(d, DT_EVENT_STATE, 0, e->text);
    }
    if (e->at.state == DT_STATE_CLOSED && d->reopen)
        g_idle_add(open_again, d);
}

void dt_desk_open_session(DtDesk *d)
{
    d->session = dt_session_new(d->profile, d->port_path);
    d->listener = dt_session_listen(d->session, on_event, d);
}

void dt_desk_close_session(DtDesk *d)
{
    if (d->session == NULL)
        return;
    dt_session_unlisten(d->session, d->listener);
    g_clear_pointer(&d->session, dt_session_unref);
}

static void load_next_profile(DtDesk *d)
{
    g_autoptr(GError) error = NULL;
    DtProfile *p =
        d->next_is_built_in ? dt_profile_new() : dt_profile_load(d->next_profile, &error);
    if (p != NULL && !d->next_is_built_in && !dt_code_check_profile(p, &error))
        g_clear_pointer(&p, dt_profile_free);
    if (p == NULL) {
        add_happened(d, DT_EVENT_STATE, 0,
                     error ? error->message : _("the profile cannot be read"));
        return;
    }
    dt_profile_free(d->profile);
    d->profile = p;
    d->measure_number++;
}

static gboolean open_again(gpointer data)
{
    DtDesk *d = data;
    DtSnapshot s;
    dt_session_snapshot(d->session, &s);
    if (!d->reopen || s.state != DT_STATE_CLOSED)
        return G_SOURCE_REMOVE;
    d->reopen = FALSE;
    const gboolean resumes = d->drawing.resumes != 0;
    dt_desk_stop_draft(d);
    dt_desk_drop_run(d);
    if (resumes)
        dt_desk_set_source(d, NULL, NULL, 0);
    dt_desk_close_session(d);
    load_next_profile(d);
    dt_desk_open_session(d);
    dt_desk_draft(d);
    dt_desk_changed(d, DT_PARTS_ALL);
    return G_SOURCE_REMOVE;
}

void dt_desk_reload_profile(DtDesk *d, const char *path)
{
    DtSnapshot s;
    char *own = g_strdup(path);
    g_free(d->next_profile);
    d->next_profile = own;
    d->next_is_built_in = path == NULL;
    d->reopen = TRUE;
    dt_session_snapshot(d->session, &s);
    if (s.state == DT_STATE_CLOSED)
        g_idle_add(open_again, d);
    else
        dt_session_jog(d->session, &(DtJog){.kind = DT_JOG_END}, NULL);
}

/* Runs -------------------------------------------------------------------------------------- */

void dt_desk_drop_run(DtDesk *d)
{
    if (d->phase == DT_DESK_RUN_ACTIVE)
        return;
    g_clear_pointer(&d->run, dt_run_unref);
    d->phase = DT_DESK_NO_RUN;
    g_clear_pointer(&d->ended_text, g_free);
    g_clear_pointer(&d->ended_cause, g_free);
    d->ended_silent = FALSE;
    dt_desk_changed(d, DT_PART_RUN);
}

void dt_desk_set_run(DtDesk *d, DtRun *r)
{
    dt_desk_drop_run(d);
    d->run = r;
    d->phase = DT_DESK_RUN_READY;
}

gboolean dt_desk_start_run(DtDesk *d, guint accepted, GError **error)
{
    if (d->phase != DT_DESK_RUN_READY) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, "nothing is ready to be drawn");
        return FALSE;
    }
    if (d->port_path == NULL && d->drawing.resumes == 0) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, "choose a port first");
        return FALSE;
    }
    g_ptr_array_set_size(d->happened, 0);
    if (!dt_run_start(d->run, accepted, error))
        return FALSE;
    d->drawing.is_draft = FALSE;
    d->phase = DT_DESK_RUN_ACTIVE;
    dt_desk_note_watched(d);
    dt_desk_changed(d, DT_PART_RUN | DT_PART_SESSION | DT_PART_LOG);
    return TRUE;
}

gboolean dt_desk_resume(DtDesk *d, const DtResume *from, GError **error)
{
    const DtRunOptions o = {
        .journal = d->journal, .pens_ready = d->pens_ready, .names_pens = d->is_rig};
    DtRun *r = dt_run_resume(d->session, from, &o, error);
    if (r == NULL)
        return FALSE;
    g_autofree char *path = g_strdup(dt_run_program(r)), *name = g_path_get_basename(path);
    const gint64 id = dt_run_id(r);
    dt_desk_stop_draft(d);
    dt_desk_set_source(d, path, name, id != 0 ? id : from->run);
    dt_desk_set_run(d, r);
    dt_desk_changed(d, DT_PARTS_ALL);
    return TRUE;
}

gboolean dt_desk_learn(DtDesk *d, gboolean may_move, GError **error)
{
    const DtLearnOptions o = {.boot_s = 8, .may_move = may_move};
    if (d->profile->path == NULL) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT,
                            "what is learnt goes into a profile of your own; make one first");
        return FALSE;
    }
    if (!dt_session_learn(d->session, &o, error))
        return FALSE;
    d->learning = TRUE;
    g_ptr_array_set_size(d->found, 0);
    g_clear_pointer(&d->learn_text, g_free);
    dt_desk_changed(d, DT_PART_LEARN | DT_PART_SESSION);
    return TRUE;
}
