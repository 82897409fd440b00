/* pages: the open WebSockets (RFC 6455). A page is sent what has changed for it, and nothing
 * more before it has acknowledged that: a slow page gets the latest state and costs no memory. */
#include "desk/private.h"

#include <string.h>

enum {
    MOST_UNSEEN = 6,  /* messages on their way to a page */
    PATIENCE_S = 90,  /* a page that acknowledges nothing for this long is closed */
    MOST_BYTES = 64,  /* of a message from a page */
    MOST_PER_S = 400, /* messages from a page */
    FLUSH_MS = 16,
};

typedef struct {
    DtDesk *desk;
    SoupWebsocketConnection *socket;
    guint sent, seen; /* numbers of messages */
    guint missing;    /* parts that have changed for it */
    gint64 seen_us, counted_us;
    guint counted;
} Page;

static void send_missing(Page *p)
{
    if (p->missing == 0 || p->sent - p->seen >= MOST_UNSEEN ||
        soup_websocket_connection_get_state(p->socket) != SOUP_WEBSOCKET_STATE_OPEN)
        return;
    if (p->sent == p->seen)
        p->seen_us = g_get_monotonic_time();
    g_autofree char *text = dt_desk_tell(p->desk, p->missing, ++p->sent);
    p->missing = 0;
    soup_websocket_connection_send_text(p->socket, text);
}

static void close_page(Page *p, const char *why)
{
    if (soup_websocket_connection_get_state(p->socket) == SOUP_WEBSOCKET_STATE_OPEN)
        soup_websocket_connection_close(p->socket, SOUP_WEBSOCKET_CLOSE_POLICY_VIOLATION, why);
}

static gboolean floods(Page *p)
{
    const gint64 now = g_get_monotonic_time();
    if (now - p->counted_us > G_USEC_PER_SEC) {
        p->counted_us = now;
        p->counted = 0;
    }
    return ++p->counted > MOST_PER_S;
}

/* The number of the last message that the page has acknowledged. */
static void on_message(SoupWebsocketConnection *c, int type, GBytes *bytes, gpointer data)
{
    Page *p = data;
    gsize n;
    const char *text = g_bytes_get_data(bytes, &n);
    g_autofree char *number = g_strndup(text ? text : "", n);
    guint64 seen;
    (void)c;
    if (type != SOUP_WEBSOCKET_DATA_TEXT || floods(p) ||
        !g_ascii_string_to_unsigned(number, 10, p->seen, p->sent, &seen, NULL)) {
        close_page(p, _("not understood"));
        return;
    }
    p->seen = (guint)seen;
    p->seen_us = g_get_monotonic_time();
    send_missing(p);
}

static void on_closed(SoupWebsocketConnection *c, gpointer data)
{
    Page *p = data;
    DtDesk *d = p->desk;
    (void)c;
    g_ptr_array_remove_fast(d->pages, p); /* frees it */
    dt_desk_note_watched(d);
}

static void free_page(gpointer data)
{
    Page *p = data;
    g_signal_handlers_disconnect_by_data(p->socket, p);
    g_object_unref(p->socket);
    g_free(p);
}

void dt_desk_add_page(DtDesk *d, SoupWebsocketConnection *c)
{
    if (d->pages == NULL)
        return;
    g_ptr_array_set_free_func(d->pages, free_page);
    Page *p = g_new0(Page, 1);
    *p = (Page){.desk = d,
                .socket = g_object_ref(c),
                .missing = DT_PARTS_ALL,
                .seen_us = g_get_monotonic_time()};
    soup_websocket_connection_set_max_incoming_payload_size(c, MOST_BYTES);
    soup_websocket_connection_set_keepalive_interval(c, 30);
    g_signal_connect(c, "message", G_CALLBACK(on_message), p);
    g_signal_connect(c, "closed", G_CALLBACK(on_closed), p);
    g_ptr_array_add(d->pages, p);
    send_missing(p);
    dt_desk_note_watched(d);
}

void dt_desk_flush_pages(DtDesk *d)
{
    const guint parts = d->dirty;
    d->dirty = 0;
    for (guint i = 0; i < d->pages->len; i++) {
        Page *p = d->pages->pdata[i];
        p->missing |= parts;
        send_missing(p);
    }
}

static gboolean on_flush(gpointer data)
{
    DtDesk *d = data;
    d->flush = 0;
    dt_desk_flush_pages(d);
    return G_SOURCE_REMOVE;
}

void dt_desk_changed(DtDesk *d, guint parts)
{
    d->dirty |= parts;
    if (d->flush == 0)
        d->flush = g_timeout_add(FLUSH_MS, on_flush, d);
}

/* What was sent is lost with the connection, so a page that is closed here gets everything again
 * when it returns. */
void dt_desk_sweep_pages(DtDesk *d)
{
    const gint64 limit = g_get_monotonic_time() - (gint64)PATIENCE_S * G_USEC_PER_SEC;
    for (guint i = d->pages->len; i > 0; i--) {
        Page *p = d->pages->pdata[i - 1];
        if (p->sent == p->seen || p->seen_us > limit)
            continue;
        GIOStream *stream = soup_websocket_connection_get_io_stream(p->socket);
        if (G_IS_SOCKET_CONNECTION(stream))
            g_socket_shutdown(g_socket_connection_get_socket(G_SOCKET_CONNECTION(stream)), TRUE,
                              TRUE, NULL);
        else
            close_page(p, _("no answer"));
    }
}
