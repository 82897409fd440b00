/* server: HTTP on the loopback address. Every request passes the guard before its body is read;
 * connections, bodies and the rate of requests are bounded. */
#include "desk/private.h"

#include "desk/guard.h"
#include "desk/language.h"
#include "desk/request.h"
#include "drawtrue/json.h"
#include "drawtrue/report.h"

#include <string.h>

enum {
    MOST_CONNECTIONS = 96,
    MOST_PAGES = 24,
    IDLE_S = 20,     /* without a request, or with one whose head is not whole */
    REQUEST_S = 120, /* from the head of a request to the end of its answer */
    REFUSED_S = 3,
    REQUESTS_PER_S = 200,
    MOST_REQUESTS = 400, /* in a burst */
    UNREAD = 1 << 20,    /* bytes of a refused body that are read and dropped */
};

#define RESOURCES "/drawtrue/desk"

/* Connections ------------------------------------------------------------------------------- */

/* One that we accepted ourselves: with its own listener libsoup 3.2 loses the memory of each
 * socket, and GLib's short queue makes clients wait a second when many connect at once.
 * Identified by the TCP port of its other end, which is all that a message says about it. */
typedef struct {
    DtDesk *desk;
    guint16 from;
    GSocketConnection *stream; /* not a reference */
    gint64 deadline_us;
} Connection;

static void forget_connection(gpointer data, GObject *stream)
{
    Connection *c = data;
    (void)stream;
    g_hash_table_remove(c->desk->connections, GUINT_TO_POINTER(c->from)); /* frees it */
}

static void shut(const Connection *c)
{
    g_socket_shutdown(g_socket_connection_get_socket(c->stream), TRUE, TRUE, NULL);
}

static Connection *connection_of(DtDesk *d, SoupServerMessage *m)
{
    GSocketAddress *remote = soup_server_message_get_remote_address(m);
    return G_IS_INET_SOCKET_ADDRESS(remote)
               ? g_hash_table_lookup(d->connections,
                                     GUINT_TO_POINTER(g_inet_socket_address_get_port(
                                         G_INET_SOCKET_ADDRESS(remote))))
               : NULL;
}

/* `after_s` 0: none. */
static void set_deadline(DtDesk *d, SoupServerMessage *m, gint64 after_s)
{
    Connection *c = connection_of(d, m);
    if (c != NULL)
        c->deadline_us =
            after_s == 0 ? G_MAXINT64 : g_get_monotonic_time() + after_s * G_USEC_PER_SEC;
}

/* What is not accepted here is closed with its last reference. */
static gboolean on_incoming(GSocketService *service, GSocketConnection *stream, GObject *source,
                            gpointer data)
{
    DtDesk *d = data;
    g_autoptr(GSocketAddress) local = g_socket_connection_get_local_address(stream, NULL);
    g_autoptr(GSocketAddress) remote = g_socket_connection_get_remote_address(stream, NULL);
    (void)service;
    (void)source;
    if (local == NULL || !G_IS_INET_SOCKET_ADDRESS(remote) ||
        g_hash_table_size(d->connections) >= MOST_CONNECTIONS)
        return TRUE;
    Connection *c = g_new0(Connection, 1);
    *c = (Connection){d, g_inet_socket_address_get_port(G_INET_SOCKET_ADDRESS(remote)), stream,
                      g_get_monotonic_time() + (gint64)IDLE_S * G_USEC_PER_SEC};
    g_hash_table_insert(d->connections, GUINT_TO_POINTER(c->from), c);
    g_object_weak_ref(G_OBJECT(stream), forget_connection, c);
    soup_server_accept_iostream(d->server, G_IO_STREAM(stream), local, remote, NULL);
    return TRUE;
}

static void on_finished(SoupServer *server, SoupServerMessage *m, gpointer data)
{
    (void)server;
    if (soup_server_message_get_status(m) != SOUP_STATUS_SWITCHING_PROTOCOLS)
        set_deadline(data, m, IDLE_S);
}

static gboolean sweep(gpointer data)
{
    DtDesk *d = data;
    GHashTableIter i;
    gpointer c;
    g_hash_table_iter_init(&i, d->connections);
    while (g_hash_table_iter_next(&i, NULL, &c))
        if (((Connection *)c)->deadline_us < g_get_monotonic_time())
            shut(c);
    dt_desk_sweep_pages(d);
    dt_desk_look_at_log(d);
    return G_SOURCE_CONTINUE;
}

static gboolean may_ask(DtDesk *d)
{
    const gint64 now = g_get_monotonic_time();
    d->allowance =
        MIN(MOST_REQUESTS, d->allowance + (double)(now - d->allowance_us) / 1e6 * REQUESTS_PER_S);
    d->allowance_us = now;
    if (d->allowance < 1)
        return FALSE;
    d->allowance -= 1;
    return TRUE;
}

/* Answers ----------------------------------------------------------------------------------- */

static gboolean is_upgrade(SoupMessageHeaders *h)
{
    return soup_message_headers_get_list(h, "Upgrade") != NULL ||
           soup_message_headers_get_list(h, "Sec-WebSocket-Key") != NULL;
}

static void set_headers(SoupServerMessage *m)
{
    static const char *const fields[][2] = {
        {"Content-Security-Policy",
         "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'none'; "
         "frame-ancestors 'none'"},
        {"X-Content-Type-Options", "nosniff"},
        {"Referrer-Policy", "no-referrer"},
        {"Cache-Control", "no-store"},
        {"Cross-Origin-Opener-Policy", "same-origin"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
        {"X-Frame-Options", "DENY"},
    };
    SoupMessageHeaders *h = soup_server_message_get_response_headers(m);
    for (gsize i = 0; i < G_N_ELEMENTS(fields); i++)
        soup_message_headers_replace(h, fields[i][0], fields[i][1]);
    /* One request each: libsoup 3.2 does not release a connection that its client closes between
     * two. On the loopback address a new connection costs next to nothing. */
    if (!is_upgrade(soup_server_message_get_request_headers(m)))
        soup_message_headers_replace(h, "Connection", "close");
}

static void answer(SoupServerMessage *m, guint status, const char *type, const char *text)
{
    soup_server_message_set_status(m, status, NULL);
    soup_server_message_set_response(m, type, SOUP_MEMORY_COPY, text, strlen(text));
}

static void answer_bytes(SoupServerMessage *m, const char *type, GBytes *bytes)
{
    soup_server_message_set_status(m, 200, NULL);
    soup_message_headers_replace(soup_server_message_get_response_headers(m), "Content-Type", type);
    soup_message_body_append_bytes(soup_server_message_get_response_body(m), bytes);
}

static void answer_json(SoupServerMessage *m, char *json)
{
    answer(m, 200, "application/json; charset=utf-8", json);
    g_free(json);
}

static void answer_error(SoupServerMessage *m, guint status, const char *why)
{
    g_autofree char *text = NULL;
    JsonBuilder *b = dt_json_begin();
    dt_json_text(b, "error", why);
    text = dt_json_end(b);
    answer(m, status, "application/json; charset=utf-8", text);
}

static void answer_failure(SoupServerMessage *m, const GError *e)
{
    const guint status = e->domain != DT_ERROR       ? 500
                         : e->code == DT_ERROR_USAGE ? 400
                         : e->code == DT_ERROR_INPUT ? 409
                                                     : 500;
    answer_error(m, status, e->message);
}

/* Before the body --------------------------------------------------------------------------- */

static void refuse(SoupServerMessage *m, guint status, const char *why)
{
    soup_message_body_set_accumulate(soup_server_message_get_request_body(m), FALSE);
    soup_message_headers_replace(soup_server_message_get_response_headers(m), "Connection",
                                 "close");
    answer_error(m, status, why);
}

typedef struct {
    DtDesk *desk;
    gsize left;
} Bound;

/* A body without a length, or after a refusal, ends where it becomes too long. */
static void on_chunk(SoupServerMessage *m, GBytes *chunk, gpointer data)
{
    Bound *b = data;
    const gsize n = g_bytes_get_size(chunk);
    if (n <= b->left) {
        b->left -= n;
        return;
    }
    b->left = 0;
    const Connection *c = connection_of(b->desk, m);
    soup_message_body_set_accumulate(soup_server_message_get_request_body(m), FALSE);
    if (c != NULL)
        shut(c);
}

static void free_bound(gpointer data, GClosure *closure)
{
    (void)closure;
    g_free(data);
}

static void bound_body(DtDesk *d, SoupServerMessage *m, gsize most)
{
    Bound *b = g_new(Bound, 1);
    *b = (Bound){d, most};
    g_signal_connect_data(m, "got-chunk", G_CALLBACK(on_chunk), b, free_bound, 0);
}

static DtGuardVerdict judge(DtDesk *d, SoupServerMessage *m, guint *status, const char **why)
{
    SoupMessageHeaders *h = soup_server_message_get_request_headers(m);
    GUri *uri = soup_server_message_get_uri(m);
    const DtGuard guard = {d->port, d->token, d->secret};
    const DtGuardRequest r = {
        .method = soup_server_message_get_method(m),
        .path = g_uri_get_path(uri),
        .query = g_uri_get_query(uri),
        .host = soup_message_headers_get_list(h, "Host"),
        .origin = soup_message_headers_get_list(h, "Origin"),
        .fetch_site = soup_message_headers_get_list(h, "Sec-Fetch-Site"),
        .cookie = soup_message_headers_get_list(h, "Cookie"),
        .type = soup_message_headers_get_list(h, "Content-Type"),
        .length = soup_message_headers_get_list(h, "Content-Length"),
        .is_websocket = is_upgrade(h),
    };
    return dt_guard_judge(&guard, &r, status, why);
}

static void let_in(DtDesk *d, SoupServerMessage *m)
{
    g_autofree char *name = dt_guard_cookie_name(d->port);
    g_autofree char *cookie =
        g_strdup_printf("%s=%s; Path=/; HttpOnly; SameSite=Strict", name, d->secret);
    soup_message_headers_replace(soup_server_message_get_response_headers(m), "Set-Cookie", cookie);
    soup_server_message_set_redirect(m, SOUP_STATUS_SEE_OTHER, "/");
}

/* The program uses the language of the page that made the last request: it serves one person. */
static void take_language(SoupServerMessage *m)
{
    SoupMessageHeaders *h = soup_server_message_get_request_headers(m);
    g_autofree char *languages =
        dt_desk_asked_languages(soup_message_headers_get_list(h, "Cookie"),
                                soup_message_headers_get_list(h, "Accept-Language"));
    if (languages != NULL)
        dt_messages_choose(languages);
}

static void on_head(SoupServer *server, SoupServerMessage *m, const char *path, GHashTable *query,
                    gpointer data)
{
    DtDesk *d = data;
    guint status = 500;
    const char *why = "";
    (void)server;
    (void)query;
    set_headers(m);
    set_deadline(d, m, REQUEST_S);
    const DtGuardVerdict verdict = judge(d, m, &status, &why);
    bound_body(d, m, verdict == DT_GUARD_PASS ? dt_guard_most_body(path) : UNREAD);
    if (verdict != DT_GUARD_PASS)
        set_deadline(d, m, REFUSED_S);
    if (verdict != DT_GUARD_REFUSE)
        take_language(m);
    if (verdict == DT_GUARD_REFUSE)
        refuse(m, status, why);
    else if (verdict == DT_GUARD_LET_IN)
        let_in(d, m);
    else if (!may_ask(d))
        refuse(m, 429, _("too many requests; the run is not affected"));
    else if (strcmp(path, "/events") == 0 && d->pages->len >= MOST_PAGES)
        refuse(m, 503, _("too many pages are open"));
}

/* Requests ---------------------------------------------------------------------------------- */

static void get_resource(SoupServerMessage *m, const char *path)
{
    static const struct {
        const char *ending, *type;
    } types[] = {{".html", "text/html; charset=utf-8"},
                 {".css", "text/css; charset=utf-8"},
                 {".js", "text/javascript; charset=utf-8"},
                 {".svg", "image/svg+xml"}};
    g_autofree char *name =
        g_strconcat(RESOURCES, strcmp(path, "/") == 0 ? "/index.html" : path, NULL);
    g_autoptr(GBytes) bytes =
        strstr(path, "..") == NULL
            ? g_resources_lookup_data(name, G_RESOURCE_LOOKUP_FLAGS_NONE, NULL)
            : NULL;
    for (gsize i = 0; bytes != NULL && i < G_N_ELEMENTS(types); i++)
        if (g_str_has_suffix(name, types[i].ending)) {
            answer_bytes(m, types[i].type, bytes);
            return;
        }
    answer_error(m, 404, _("there is nothing at this address"));
}

static char *options_json(DtDesk *d)
{
    JsonBuilder *b = dt_json_begin();
    (void)d;
    dt_options_add_table(b, "options");
    return dt_json_end(b);
}

static void get_log(DtDesk *d, SoupServerMessage *m)
{
    g_auto(DtLog) log = {0};
    g_autoptr(GError) error = NULL;
    if (dt_log_read(d->journal, &log, &error))
        answer_json(m, dt_report_log(&log, TRUE));
    else
        answer_failure(m, error);
}

static void answer_made(SoupServerMessage *m, char *json, const GError *error)
{
    if (json != NULL)
        answer_json(m, json);
    else
        answer_failure(m, error);
}

static void get_files(DtDesk *d, SoupServerMessage *m, GHashTable *query)
{
    const char *folder = query ? g_hash_table_lookup(query, "folder") : NULL;
    g_autoptr(GError) error = NULL;
    char *json = dt_desk_files_json(d, folder ? folder : "", &error);
    answer_made(m, json, error);
}

static void get_measure(DtDesk *d, SoupServerMessage *m)
{
    g_autoptr(GError) error = NULL;
    char *json = dt_desk_measure_json(d, &error);
    answer_made(m, json, error);
}

static void get_comb(DtDesk *d, SoupServerMessage *m, GHashTable *query)
{
    const char *ask = query ? g_hash_table_lookup(query, "ask") : NULL;
    g_autoptr(GError) error = NULL;
    char *json = dt_desk_comb_json(d, ask ? ask : "", &error);
    answer_made(m, json, error);
}

static void get_sheets(DtDesk *d, SoupServerMessage *m)
{
    g_autoptr(GError) error = NULL;
    char *json = dt_desk_sheets_json(d, &error);
    answer_made(m, json, error);
}

static gboolean take_number(GHashTable *query, const char *name, gint64 *out)
{
    const char *text = query ? g_hash_table_lookup(query, name) : NULL;
    guint64 n = 0;
    const gboolean good =
        text != NULL && g_ascii_string_to_unsigned(text, 10, 1, G_MAXINT32, &n, NULL);
    *out = (gint64)n;
    return good;
}

static void get_comparison(DtDesk *d, SoupServerMessage *m, GHashTable *query, gboolean picture)
{
    g_autoptr(GError) error = NULL;
    gint64 first, second;
    if (!take_number(query, "first", &first) || !take_number(query, "second", &second)) {
        answer_error(m, 400, _("'first' and 'second' must be numbers of sheets"));
        return;
    }
    if (!picture) {
        char *json = dt_desk_compare_json(d, first, second, &error);
        answer_made(m, json, error);
        return;
    }
    g_autoptr(GBytes) bytes = dt_desk_compare_picture(d, first, second, &error);
    if (bytes != NULL)
        answer_bytes(m, "image/png", bytes);
    else
        answer_failure(m, error);
}

static void get_program(DtDesk *d, SoupServerMessage *m)
{
    gsize n;
    g_autofree char *text = NULL;
    if (d->drawing.program == NULL || !g_file_get_contents(d->drawing.program, &text, &n, NULL)) {
        answer_error(m, 404, _("there is no program yet"));
        return;
    }
    g_autoptr(GBytes) bytes = g_bytes_new_take(g_steal_pointer(&text), n);
    answer_bytes(m, "text/plain; charset=utf-8", bytes);
    soup_message_headers_set_content_disposition(soup_server_message_get_response_headers(m),
                                                 "attachment", NULL);
}

static void get_part(SoupServerMessage *m, const char *type, GBytes *bytes)
{
    if (bytes != NULL)
        answer_bytes(m, type, bytes);
    else
        answer_error(m, 404, _("there is none yet"));
}

static void get(DtDesk *d, SoupServerMessage *m, const char *path, GHashTable *query)
{
    if (strcmp(path, "/ink") == 0)
        get_part(m, "application/octet-stream", d->drawing.ink);
    else if (strcmp(path, "/art.png") == 0)
        get_part(m, "image/png", d->drawing.picture);
    else if (strcmp(path, "/program") == 0)
        get_program(d, m);
    else if (strcmp(path, "/options") == 0)
        answer_json(m, options_json(d));
    else if (strcmp(path, "/keys") == 0)
        answer_json(m, dt_desk_keys_json(d));
    else if (strcmp(path, "/log") == 0)
        get_log(d, m);
    else if (strcmp(path, "/files") == 0)
        get_files(d, m, query);
    else if (strcmp(path, "/measure") == 0)
        get_measure(d, m);
    else if (strcmp(path, "/comb") == 0)
        get_comb(d, m, query);
    else if (strcmp(path, "/sheets") == 0)
        get_sheets(d, m);
    else if (strcmp(path, "/compare") == 0 || strcmp(path, "/compare.png") == 0)
        get_comparison(d, m, query, strcmp(path, "/compare.png") == 0);
    else
        get_resource(m, path);
}

static gboolean take_upload(DtDesk *d, const char *path, GBytes *body, GHashTable *query,
                            GError **error)
{
    gint64 sheet;
    const char *name = query ? g_hash_table_lookup(query, "name") : NULL;
    const char *card = query ? g_hash_table_lookup(query, "card") : NULL;
    if (name == NULL || !g_utf8_validate(name, -1, NULL) || strlen(name) > 300) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "the file needs a name");
        return FALSE;
    }
    if (strcmp(path, "/file") == 0)
        return dt_desk_take_upload(d, name, body, error);
    if (take_number(query, "sheet", &sheet))
        return dt_desk_take_scan(d, name, sheet, g_strcmp0(card, "1") == 0, body, error);
    g_set_error_literal(error, DT_ERROR, DT_ERROR_USAGE, "'sheet' must be the number of a sheet");
    return FALSE;
}

static gboolean act(DtDesk *d, const char *path, GBytes *body, GError **error)
{
    gsize n = 0;
    const char *text = g_bytes_get_data(body, &n);
    JsonObject *in = dt_request_read(text ? text : "", n, error);
    if (in == NULL)
        return FALSE;
    const gboolean good = dt_desk_act(d, path + 1, in, error);
    json_object_unref(in);
    return good;
}

static void post(DtDesk *d, SoupServerMessage *m, const char *path, GHashTable *query)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(GBytes) body = soup_message_body_flatten(soup_server_message_get_request_body(m));
    const gboolean good = strcmp(path, "/file") == 0 || strcmp(path, "/scan") == 0
                              ? take_upload(d, path, body, query, &error)
                              : act(d, path, body, &error);
    if (good)
        answer(m, 200, "application/json; charset=utf-8", "{}\n");
    else
        answer_failure(m, error);
}

static void on_request(SoupServer *server, SoupServerMessage *m, const char *path,
                       GHashTable *query, gpointer data)
{
    (void)server;
    if (soup_server_message_get_status(m) != 0)
        return;
    if (!soup_message_body_get_accumulate(soup_server_message_get_request_body(m)))
        answer_error(m, 413, _("the body is too large")); /* and was truncated */
    else if (strcmp(soup_server_message_get_method(m), "POST") == 0)
        post(data, m, path, query);
    else
        get(data, m, path, query);
}

static void on_websocket(SoupServer *server, SoupServerMessage *m, const char *path,
                         SoupWebsocketConnection *c, gpointer data)
{
    (void)server;
    (void)path;
    set_deadline(data, m, 0);
    dt_desk_add_page(data, c);
}

/* ---------------------------------------------------------------------------------------------- */

static gboolean listen_local(DtDesk *d, guint16 port, GError **error)
{
    enum { WAITING_CONNECTIONS = 128 };
    g_autoptr(GInetAddress) loopback = g_inet_address_new_loopback(G_SOCKET_FAMILY_IPV4);
    g_autoptr(GSocketAddress) address = g_inet_socket_address_new(loopback, port);
    g_autoptr(GSocketAddress) own = NULL;
    d->service = g_socket_service_new();
    g_socket_listener_set_backlog(G_SOCKET_LISTENER(d->service), WAITING_CONNECTIONS);
    if (!g_socket_listener_add_address(G_SOCKET_LISTENER(d->service), address, G_SOCKET_TYPE_STREAM,
                                       G_SOCKET_PROTOCOL_TCP, NULL, &own, error)) {
        g_prefix_error(error, "the desk cannot listen on port %u of this computer: ", port);
        return FALSE;
    }
    d->port = g_inet_socket_address_get_port(G_INET_SOCKET_ADDRESS(own));
    g_signal_connect(d->service, "incoming", G_CALLBACK(on_incoming), d);
    return TRUE;
}

gboolean dt_desk_serve(DtDesk *d, guint16 port, GError **error)
{
    d->connections = g_hash_table_new_full(NULL, NULL, NULL, g_free);
    d->allowance = MOST_REQUESTS;
    d->allowance_us = g_get_monotonic_time();
    d->server = soup_server_new("server-header", NULL, NULL);
    if (!dt_guard_random(d->token) || !dt_guard_random(d->secret)) {
        g_set_error_literal(error, DT_ERROR, DT_ERROR_IO, "the system gives no random numbers");
        return FALSE;
    }
    g_signal_connect(d->server, "request-finished", G_CALLBACK(on_finished), d);
    soup_server_add_early_handler(d->server, NULL, on_head, d, NULL);
    soup_server_add_handler(d->server, NULL, on_request, d, NULL);
    soup_server_add_early_handler(d->server, "/events", on_head, d, NULL);
    soup_server_add_websocket_handler(d->server, "/events", NULL, NULL, on_websocket, d, NULL);
    if (!listen_local(d, port, error))
        return FALSE;
    d->address = g_strdup_printf("http://127.0.0.1:%u/?token=%s", d->port, d->token);
    d->sweep = g_timeout_add_seconds(1, sweep, d);
    return TRUE;
}

static void unwatch(gpointer from, gpointer c, gpointer data)
{
    (void)from;
    (void)data;
    g_object_weak_unref(G_OBJECT(((Connection *)c)->stream), forget_connection, c);
}

void dt_desk_stop_serving(DtDesk *d)
{
    g_clear_handle_id(&d->sweep, g_source_remove);
    if (d->service != NULL) {
        g_socket_service_stop(d->service);
        g_socket_listener_close(G_SOCKET_LISTENER(d->service));
    }
    if (d->connections != NULL)
        g_hash_table_foreach(d->connections, unwatch, NULL);
    if (d->server != NULL)
        soup_server_disconnect(d->server);
    g_clear_object(&d->service);
    g_clear_object(&d->server);
    g_clear_pointer(&d->connections, g_hash_table_unref);
}
