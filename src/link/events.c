/* events: immutable values, delivered to each listener's main context. */
#include "link/session.h"

typedef struct {
    DtEvent event; /* must be the first member */
    gatomicrefcount refs;
} Counted;

typedef struct {
    gatomicrefcount refs;
    guint number;
    GMainContext *context;
    DtEventFunc func;
    void *user;
    GMutex lock; /* of the rest */
    GQueue pending;
    gboolean scheduled, gone;
} Listener;

DtEvent *dt_event_new(DtEventKind kind, const DtSnapshot *at, const char *text, size_t line,
                      const GError *error)
{
    Counted *c = g_new0(Counted, 1);
    g_atomic_ref_count_init(&c->refs);
    c->event = (DtEvent){kind, *at, line, g_strdup(text), error ? g_error_copy(error) : NULL};
    return &c->event;
}

DtEvent *dt_event_ref(const DtEvent *e)
{
    Counted *c = (Counted *)e;
    g_atomic_ref_count_inc(&c->refs);
    return &c->event;
}

void dt_event_unref(DtEvent *e)
{
    Counted *c = (Counted *)e;
    if (e == NULL || !g_atomic_ref_count_dec(&c->refs))
        return;
    g_free(e->text);
    g_clear_error(&e->error);
    g_free(c);
}

static void unref_listener(gpointer data)
{
    Listener *l = data;
    if (!g_atomic_ref_count_dec(&l->refs))
        return;
    g_queue_clear_full(&l->pending, (GDestroyNotify)dt_event_unref);
    g_mutex_clear(&l->lock);
    g_main_context_unref(l->context);
    g_free(l);
}

static DtEvent *next_pending(Listener *l)
{
    g_mutex_lock(&l->lock);
    DtEvent *e = g_queue_pop_head(&l->pending);
    l->scheduled = e != NULL;
    g_mutex_unlock(&l->lock);
    return e;
}

static gboolean deliver(gpointer data)
{
    Listener *l = data;
    for (DtEvent *e; (e = next_pending(l)) != NULL; dt_event_unref(e))
        l->func(e, l->user); /* which may unlisten: then nothing is pending any more */
    return G_SOURCE_REMOVE;
}

static void schedule(Listener *l)
{
    l->scheduled = TRUE;
    g_atomic_ref_count_inc(&l->refs);
    GSource *source = g_idle_source_new();
    g_source_set_priority(source, G_PRIORITY_DEFAULT);
    g_source_set_callback(source, deliver, l, unref_listener);
    g_source_attach(source, l->context);
    g_source_unref(source);
}

/* Progress that has not been delivered yet is replaced by the latest. */
static void queue(Listener *l, const DtEvent *e)
{
    g_mutex_lock(&l->lock);
    const DtEvent *last = g_queue_peek_tail(&l->pending);
    if (e->kind == DT_EVENT_PROGRESS && last != NULL && last->kind == DT_EVENT_PROGRESS)
        dt_event_unref(g_queue_pop_tail(&l->pending));
    if (!l->gone)
        g_queue_push_tail(&l->pending, dt_event_ref(e));
    if (!l->gone && !l->scheduled)
        schedule(l);
    g_mutex_unlock(&l->lock);
}

void dt_session_post(DtSession *s, DtEvent *e)
{
    for (guint i = 0; i < s->listeners->len; i++)
        queue(s->listeners->pdata[i], e);
    dt_event_unref(e);
}

guint dt_session_listen(DtSession *s, DtEventFunc func, void *user)
{
    Listener *l = g_new0(Listener, 1);
    g_atomic_ref_count_init(&l->refs);
    l->func = func;
    l->user = user;
    l->context = g_main_context_ref_thread_default();
    g_queue_init(&l->pending);
    g_mutex_init(&l->lock);
    g_mutex_lock(&s->lock);
    const guint number = l->number = ++s->last_listener;
    g_ptr_array_add(s->listeners, l);
    g_mutex_unlock(&s->lock);
    return number;
}

/* Of a listener that is taken off the list. */
static void dismiss(gpointer data)
{
    Listener *l = data;
    g_mutex_lock(&l->lock);
    l->gone = TRUE;
    g_queue_clear_full(&l->pending, (GDestroyNotify)dt_event_unref);
    g_mutex_unlock(&l->lock);
    unref_listener(l);
}

GPtrArray *dt_session_new_listeners(void)
{
    return g_ptr_array_new_with_free_func(dismiss);
}

void dt_session_unlisten(DtSession *s, guint listener)
{
    g_mutex_lock(&s->lock);
    for (guint i = 0; i < s->listeners->len; i++)
        if (((Listener *)s->listeners->pdata[i])->number == listener)
            g_ptr_array_remove_index(s->listeners, i);
    g_mutex_unlock(&s->lock);
}
