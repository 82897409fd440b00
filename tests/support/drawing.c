/* drawing: see drawing.h. */
#include "support/drawing.h"

typedef struct {
    DtEventFunc hear;
    void *user;
    gboolean ended;
    char *text;
} Hearing;

static void hear_run(const DtEvent *e, void *user)
{
    Hearing *h = user;
    if (h->hear != NULL)
        h->hear(e, h->user);
    h->ended = h->ended || e->kind == DT_EVENT_ENDED;
}

gboolean drawing_run(DtRun *r, DtEventFunc hear, void *user, GError **error)
{
    Hearing h = {hear, user, FALSE, NULL};
    GMainContext *context = g_main_context_new();
    g_main_context_push_thread_default(context);
    const guint listener = dt_session_listen(dt_run_session(r), hear_run, &h);
    gboolean good = dt_run_start(r, ~0u, error);
    while (good && !h.ended)
        g_main_context_iteration(context, TRUE);
    dt_session_unlisten(dt_run_session(r), listener);
    good = good && dt_run_wait(r, error);
    g_main_context_pop_thread_default(context);
    g_main_context_unref(context);
    return good;
}

gboolean drawing_program(const DtProfile *p, const char *port, const char *program,
                         const DtRunOptions *o, DtEventFunc hear, void *user, GError **error)
{
    g_autoptr(DtSession) s = dt_session_new(p, port);
    g_autoptr(DtRun) r = dt_run_new(s, program, o, error);
    return r != NULL && drawing_run(r, hear, user, error);
}

gboolean drawing_resume(const DtProfile *p, const char *port, const DtResume *from,
                        const DtRunOptions *o, DtEventFunc hear, void *user, GError **error)
{
    g_autoptr(DtSession) s = dt_session_new(p, port);
    g_autoptr(DtRun) r = dt_run_resume(s, from, o, error);
    return r != NULL && drawing_run(r, hear, user, error);
}

static void hear_jog(const DtEvent *e, void *user)
{
    Hearing *h = user;
    if (e->at.state != DT_STATE_READY && e->at.state != DT_STATE_CLOSED)
        return;
    h->ended = TRUE;
    h->text = g_strdup(e->text);
}

gboolean drawing_jog(DtSession *s, const DtJog *jog, GError **error)
{
    Hearing h = {0};
    GMainContext *context = g_main_context_new();
    g_main_context_push_thread_default(context);
    const guint listener = dt_session_listen(s, hear_jog, &h);
    gboolean good = dt_session_jog(s, jog, error);
    while (good && !h.ended)
        g_main_context_iteration(context, TRUE);
    dt_session_unlisten(s, listener);
    g_main_context_pop_thread_default(context);
    g_main_context_unref(context);
    if (h.text != NULL)
        g_set_error_literal(error, DT_ERROR, DT_ERROR_INPUT, h.text);
    g_free(h.text);
    return good && h.text == NULL;
}
