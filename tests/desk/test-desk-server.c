/* The desk's server, asked in its own process: what each address answers, with which status and type, how many
 * may ask, and what an open page is sent. */
#include "place.h"

#include "desk/guard.h"

#include <math.h>
#include <string.h>

typedef struct {
    Place p;
    SoupSession *session;
    char *origin, *cookie;
} Served;

static void served_init(Served *s)
{
    place_init(&s->p);
    g_autofree char *name = dt_guard_cookie_name(s->p.d->port);
    s->cookie = g_strdup_printf("%s=%s", name, s->p.d->secret);
    s->origin = g_strdup_printf("http://127.0.0.1:%u", s->p.d->port);
    s->session = soup_session_new();
}

static void served_clear(Served *s)
{
    soup_session_abort(s->session);
    g_object_unref(s->session);
    g_free(s->origin);
    g_free(s->cookie);
    place_clear(&s->p);
}

/* One request and its whole answer. */
typedef struct {
    guint status;
    char *type, *body;
    SoupMessageHeaders *headers; /* of `m` */
    SoupMessage *m;
} Answer;

static void answer_clear(Answer *a)
{
    g_free(a->type);
    g_free(a->body);
    g_object_unref(a->m);
}
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Answer, answer_clear)

static void on_answer(GObject *session, GAsyncResult *result, gpointer data)
{
    g_autoptr(GError) error = NULL;
    Answer *a = data;
    g_autoptr(GBytes) bytes =
        soup_session_send_and_read_finish(SOUP_SESSION(session), result, &error);
    g_assert_no_error(error);
    gsize n;
    const char *text = g_bytes_get_data(bytes, &n);
    a->body = g_strndup(text ? text : "", n);
}

static SoupMessage *message(const Served *s, const char *method, const char *path, gboolean known)
{
    g_autofree char *uri = g_strconcat(s->origin, path, NULL);
    SoupMessage *m = soup_message_new(method, uri);
    SoupMessageHeaders *h = soup_message_get_request_headers(m);
    soup_message_add_flags(m, SOUP_MESSAGE_NO_REDIRECT);
    soup_message_headers_replace(h, "Origin", s->origin);
    if (known)
        soup_message_headers_replace(h, "Cookie", s->cookie);
    return m;
}

/* Takes the message. */
static Answer answer_to(const Served *s, SoupMessage *m)
{
    Answer a = {.m = m};
    soup_session_send_and_read_async(s->session, m, G_PRIORITY_DEFAULT, NULL, on_answer, &a);
    while (a.body == NULL)
        g_main_context_iteration(NULL, TRUE);
    a.status = soup_message_get_status(m);
    a.headers = soup_message_get_response_headers(m);
    a.type = g_strdup(soup_message_headers_get_one(a.headers, "Content-Type"));
    return a;
}

static Answer get(const Served *s, const char *path)
{
    return answer_to(s, message(s, "GET", path, TRUE));
}

static Answer post(const Served *s, const char *path, const char *type, const char *body)
{
    SoupMessage *m = message(s, "POST", path, TRUE);
    g_autoptr(GBytes) bytes = g_bytes_new(body, strlen(body));
    soup_message_set_request_body_from_bytes(m, type, bytes);
    return answer_to(s, m);
}

/* Every answer has these, refused or not. Content-Security-Policy: W3C CSP 3; the others: Fetch and HTML. */
static void check_headers(const char *asked, const Answer *a)
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
        {"Connection", "close"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(fields); i++)
        if (g_strcmp0(soup_message_headers_get_list(a->headers, fields[i][0]), fields[i][1]) != 0)
            g_error("%s: %u without its %s", asked, a->status, fields[i][0]);
}

/* A refusal is an object with the reason, for people. */
static void check_answer(const char *asked, const Answer *a, guint status, const char *type,
                         const char *has)
{
    check_headers(asked, a);
    if (a->status != status || g_strcmp0(a->type, type) != 0 || strstr(a->body, has) == NULL)
        g_error("%s: %u %s and not %u %s, '%s' in %.300s", asked, a->status, a->type, status, type,
                has, a->body);
    if (status >= 400) {
        JsonObject *o = read_json(g_strdup(a->body));
        g_assert_cmpuint(json_object_get_size(o), ==, 1);
        g_assert_nonnull(text_of(o, "error"));
        json_object_unref(o);
    }
}

#define JSON "application/json; charset=utf-8"
#define HTML "text/html; charset=utf-8"

static void test_what_each_address_answers(void)
{
    static const struct {
        const char *path;
        guint status;
        const char *type, *has;
    } cases[] = {
        {"/", 200, HTML, "<!doctype html>"},
        {"/index.html", 200, HTML, "<!doctype html>"},
        {"/desk.css", 200, "text/css; charset=utf-8", "{"},
        {"/icon.svg", 200, "image/svg+xml", "<svg"},
        {"/js/desk.js", 200, "text/javascript; charset=utf-8", "import"},
        {"/page.gresource.xml", 404, JSON, "there is nothing at this address"},
        {"/nothing", 404, JSON, "there is nothing at this address"},
        {"/desk", 404, JSON, "there is nothing at this address"},
        {"/options", 200, JSON, "\"name\" : \"paper_at\""},
        {"/keys", 200, JSON, "\"travel_x\""},
        {"/log", 200, JSON, "\"runs\" : []"},
        {"/files", 200, JSON, "\"label.svg\""},
        {"/files?folder=", 200, JSON, "\"label.svg\""},
        {"/files?folder=no", 409, JSON, "no"},
        {"/files?folder=..", 409, JSON, ".."},
        {"/measure", 200, JSON, "\"undo\" : 0"},
        {"/comb", 409, JSON, "no test sheet of"},
        {"/comb?ask=X1", 409, JSON, "no test sheet of"},
        {"/sheets", 200, JSON, "\"sheets\" : []"},
        {"/compare", 400, JSON, "must be numbers of sheets"},
        {"/compare?first=1", 400, JSON, "must be numbers of sheets"},
        {"/compare?second=1", 400, JSON, "must be numbers of sheets"},
        {"/compare?first=0&second=1", 400, JSON, "must be numbers of sheets"},
        {"/compare?first=1&second=x", 400, JSON, "must be numbers of sheets"},
        {"/compare?first=1&second=2", 409, JSON, "there is no sheet 1"},
        {"/compare.png?first=1&second=2", 409, JSON, "there is no sheet 1"},
        {"/compare.png?first=1", 400, JSON, "must be numbers of sheets"},
        {"/ink", 404, JSON, "there is none yet"},
        {"/art.png", 404, JSON, "there is none yet"},
        {"/program", 404, JSON, "there is no program yet"},
    };
    Served s;
    served_init(&s);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(Answer) a = get(&s, cases[i].path);
        check_answer(cases[i].path, &a, cases[i].status, cases[i].type, cases[i].has);
    }
    served_clear(&s);
}

static void test_what_a_request_to_act_answers(void)
{
    static const char json[] = "application/json", bytes[] = "application/octet-stream";
    static const struct {
        const char *path, *type, *body;
        guint status;
        const char *has;
    } cases[] = {
        {"/clear", json, "{}", 200, "{}\n"},
        {"/open", json, "{\"path\": \"no.svg\"}", 409, "there is no such file"},
        {"/open", json, "{}", 400, "'path' must be a text"},
        {"/open", json, "[]", 400, ""},
        {"/open", json, "{", 400, ""},
        {"/open", json, "", 400, ""},
        {"/dance", json, "{}", 400, "there is no such action"},
        {"/", json, "{}", 400, "there is no such action"},
        {"/options", json, "{}", 400, "there is no such action"},
        {"/file", bytes, "seeds", 400, "the file needs a name"},
        {"/file?name=a.docx", bytes, "seeds", 409, "neither a drawing"},
        {"/file?name=%ff.svg", bytes, "seeds", 400, "the file needs a name"},
        {"/scan?name=a.png", bytes, "seeds", 400, "'sheet' must be the number of a sheet"},
        {"/scan?name=a.png&sheet=0", bytes, "seeds", 400, "'sheet' must be the number of a sheet"},
        {"/scan?name=a.png&sheet=1", bytes, "seeds", 409, "no test sheet of"},
        {"/scan?sheet=1", bytes, "seeds", 400, "the file needs a name"},
    };
    Served s;
    served_init(&s);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(Answer) a = post(&s, cases[i].path, cases[i].type, cases[i].body);
        check_answer(cases[i].path, &a, cases[i].status, JSON, cases[i].has);
    }
    for (gsize n = 300; n <= 301; n++) {
        g_autofree char *stem = g_strnfill(n - 4, 'n'),
                        *path = g_strdup_printf("/file?name=%s.svg", stem);
        g_auto(Answer) a = post(&s, path, bytes, drawing);
        check_answer("a long name", &a, n <= 300 ? 200 : 400, JSON, n <= 300 ? "{}" : "a name");
        settle(&s.p);
    }
    g_autofree char *long_text = g_strnfill(65536, ' ');
    g_auto(Answer) long_one = post(&s, "/clear", json, long_text);
    g_assert_cmpuint(long_one.status, ==, 400); /* read, and no object */
    served_clear(&s);
}

/* What a drawing on the bed can be asked for. */
static void test_a_drawing_s_parts(void)
{
    Served s;
    served_init(&s);
    g_auto(Answer) opened = post(&s, "/open", "application/json", "{\"path\": \"label.svg\"}");
    check_answer("open", &opened, 200, JSON, "{}\n");
    settle(&s.p);
    g_auto(Answer) ink = get(&s, "/ink"), art = get(&s, "/art.png"), program = get(&s, "/program");
    g_assert_cmpuint(ink.status, ==, 200);
    g_assert_cmpstr(ink.type, ==, "application/octet-stream");
    g_assert_cmpuint(soup_message_headers_get_content_length(ink.headers), ==,
                     g_bytes_get_size(s.p.d->drawing.ink));
    check_answer("/art.png", &art, 200, "image/png", "PNG");
    check_answer("/program", &program, 200, "text/plain; charset=utf-8", "\nM2\n");
    g_autofree char *written = NULL;
    g_assert_true(g_file_get_contents(s.p.d->drawing.program, &written, NULL, NULL));
    g_assert_cmpstr(program.body, ==, written);
    g_assert_cmpstr(soup_message_headers_get_one(program.headers, "Content-Disposition"), ==,
                    "attachment");
    served_clear(&s);
}

/* The printed address gives a browser its cookie and sends it to the page; without either nothing is told. */
static void test_the_printed_address_lets_a_browser_in(void)
{
    Served s;
    served_init(&s);
    const char *with_token = strstr(s.p.d->address, "/?token=");
    g_assert_true(g_str_has_prefix(s.p.d->address, s.origin));
    g_assert_nonnull(with_token);
    g_auto(Answer) in = answer_to(&s, message(&s, "GET", with_token, FALSE));
    g_autofree char *cookie = g_strconcat(s.cookie, "; Path=/; HttpOnly; SameSite=Strict", NULL);
    check_headers("the printed address", &in);
    g_assert_cmpuint(in.status, ==, 303);
    g_assert_cmpstr(soup_message_headers_get_one(in.headers, "Set-Cookie"), ==, cookie);
    g_autofree char *page = g_strconcat(s.origin, "/", NULL);
    g_assert_cmpstr(soup_message_headers_get_one(in.headers, "Location"), ==, page);
    g_auto(Answer) out = answer_to(&s, message(&s, "GET", "/options", FALSE));
    check_answer("a stranger", &out, 403, JSON, "error");
    g_assert_null(soup_message_headers_get_one(out.headers, "Set-Cookie"));
    served_clear(&s);
}

/* Four hundred at once and then two hundred a second. The clock is turned back rather than waited for. */
static void test_the_rate_of_requests_is_bounded(void)
{
    Served s;
    served_init(&s);
    s.p.d->allowance = -100000;
    g_auto(Answer) none = get(&s, "/options");
    check_answer("too many", &none, 429, JSON, "too many requests");
    s.p.d->allowance = -150;
    s.p.d->allowance_us = g_get_monotonic_time() - G_USEC_PER_SEC;
    g_auto(Answer) later = get(&s, "/options");
    check_answer("a second later", &later, 200, JSON, "options");
    s.p.d->allowance = -100000;
    s.p.d->allowance_us = g_get_monotonic_time() - 400 * (gint64)G_USEC_PER_SEC;
    g_auto(Answer) still = get(&s, "/options"); /* 80,000 of them are back */
    check_answer("400 s later", &still, 429, JSON, "too many requests");
    s.p.d->allowance_us = 0;
    g_auto(Answer) full = get(&s, "/options");
    check_answer("long after", &full, 200, JSON, "options");
    g_assert_cmpfloat(s.p.d->allowance, <=, 399);
    served_clear(&s);
}

/* Open pages ------------------------------------------------------------------------------------ */

typedef struct {
    SoupWebsocketConnection *socket;
    gboolean failed, closed;
    GPtrArray *texts; /* of the messages so far */
} Page;

static void on_message(SoupWebsocketConnection *c, int type, GBytes *bytes, gpointer data)
{
    Page *page = data;
    gsize n;
    const char *text = g_bytes_get_data(bytes, &n);
    (void)c;
    g_assert_cmpint(type, ==, SOUP_WEBSOCKET_DATA_TEXT);
    g_ptr_array_add(page->texts, g_strndup(text, n));
}

static void on_closed(SoupWebsocketConnection *c, gpointer data)
{
    (void)c;
    ((Page *)data)->closed = TRUE;
}

static void on_connected(GObject *session, GAsyncResult *result, gpointer data)
{
    Page *page = data;
    page->socket = soup_session_websocket_connect_finish(SOUP_SESSION(session), result, NULL);
    page->failed = page->socket == NULL;
    if (page->failed)
        return;
    soup_websocket_connection_set_max_incoming_payload_size(page->socket, 0);
    g_signal_connect(page->socket, "message", G_CALLBACK(on_message), page);
    g_signal_connect(page->socket, "closed", G_CALLBACK(on_closed), page);
}

/* Open with its first message, or refused. */
static void page_open(const Served *s, Page *page)
{
    g_autoptr(SoupMessage) m = message(s, "GET", "/events", TRUE);
    *page = (Page){.texts = g_ptr_array_new_with_free_func(g_free)};
    soup_session_websocket_connect_async(s->session, m, s->origin, NULL, G_PRIORITY_DEFAULT, NULL,
                                         on_connected, page);
    while (!page->failed && page->texts->len == 0)
        g_main_context_iteration(NULL, TRUE);
}

static void page_clear(Page *page)
{
    if (page->socket != NULL) {
        g_signal_handlers_disconnect_by_data(page->socket, page);
        g_object_unref(page->socket);
    }
    g_ptr_array_unref(page->texts);
}

static void page_says(Page *page, const char *text)
{
    soup_websocket_connection_send_text(page->socket, text);
}

/* A message's number, whether it has these parts (separated by spaces), and whether that of the test
 * sheets, of which nothing has changed since. */
static void check_message(const Page *page, guint number, const char *parts, gboolean measured)
{
    JsonObject *o = read_json(g_strdup(g_ptr_array_index(page->texts, number - 1)));
    g_auto(GStrv) names = g_strsplit(parts, " ", -1);
    g_assert_cmpint(json_object_get_int_member(o, "n"), ==, number);
    for (char **name = names; *name; name++)
        g_assert_true(json_object_has_member(o, *name));
    g_assert_cmpint(json_object_has_member(o, "measure"), ==, measured);
    json_object_unref(o);
}

static void wait_for(const Page *page, guint n)
{
    while (page->texts->len < n && !page->closed)
        g_main_context_iteration(NULL, TRUE);
    g_assert_cmpuint(page->texts->len, >=, n);
}

static void flush(Served *s, guint parts)
{
    dt_desk_changed(s->p.d, parts);
    while (s->p.d->flush != 0)
        g_main_context_iteration(NULL, TRUE);
}

static void wait_until_closed(const Page *page)
{
    while (!page->closed)
        g_main_context_iteration(NULL, TRUE);
}

/* All parts at first, then those that change. Of six messages unseen the page gets no more until it says that
 * it has seen some, and then what it missed, once. */
static void test_a_page_is_sent_what_changes(void)
{
    enum { UNSEEN = 6 };
    Served s;
    Page page;
    served_init(&s);
    page_open(&s, &page);
    check_message(&page, 1, "machine session drawing run learn log measure", TRUE);
    while (page.texts->len < UNSEEN) { /* the session may tell something by itself */
        const guint next = page.texts->len + 1;
        dt_desk_changed(s.p.d, DT_PART_LOG);
        wait_for(&page, next);
        check_message(&page, next, "", FALSE);
    }
    flush(&s, DT_PART_LOG);
    flush(&s, DT_PART_LEARN);
    g_assert_cmpuint(page.texts->len, ==, UNSEEN);
    page_says(&page, "2");
    wait_for(&page, UNSEEN + 1);
    check_message(&page, UNSEEN + 1, "log learn", FALSE);
    g_assert_false(page.closed);
    page_clear(&page);
    served_clear(&s);
}

/* A page that talks of messages it was not sent, or of anything else, or goes back, is closed. */
static void test_a_page_that_is_not_understood_is_closed(void)
{
    /* 99: the session may tell something by itself meanwhile, but not that often */
    static const char *const said[] = {"99", "-1", "", "one", "1 ", "4294967297"};
    Served s;
    served_init(&s);
    for (gsize i = 0; i < G_N_ELEMENTS(said); i++) {
        Page page;
        page_open(&s, &page);
        page_says(&page, "1"); /* as it should */
        page_says(&page, said[i]);
        wait_until_closed(&page);
        g_assert_cmpint(soup_websocket_connection_get_close_code(page.socket), ==,
                        SOUP_WEBSOCKET_CLOSE_POLICY_VIOLATION);
        page_clear(&page);
    }
    Page back;
    page_open(&s, &back);
    page_says(&back, "1");
    page_says(&back, "0");
    wait_until_closed(&back);
    page_clear(&back);
    served_clear(&s);
}

static void test_so_many_pages_and_no_more(void)
{
    enum { MOST_PAGES = 24 };
    Served s;
    Page pages[MOST_PAGES], more;
    served_init(&s);
    s.session = (g_object_unref(s.session),
                 soup_session_new_with_options("max-conns", 100, "max-conns-per-host", 100, NULL));
    for (int i = 0; i < MOST_PAGES; i++) {
        page_open(&s, &pages[i]);
        g_assert_false(pages[i].failed);
    }
    g_assert_cmpuint(s.p.d->pages->len, ==, MOST_PAGES);
    page_open(&s, &more);
    g_assert_true(more.failed);
    soup_websocket_connection_close(pages[3].socket, SOUP_WEBSOCKET_CLOSE_NORMAL, NULL);
    wait_until_closed(&pages[3]);
    while (s.p.d->pages->len == MOST_PAGES)
        g_main_context_iteration(NULL, TRUE);
    page_clear(&more);
    page_open(&s, &more);
    g_assert_false(more.failed);
    for (int i = 0; i < MOST_PAGES; i++)
        page_clear(&pages[i]);
    page_clear(&more);
    served_clear(&s);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/desk-server/addresses", test_what_each_address_answers);
    g_test_add_func("/desk-server/actions", test_what_a_request_to_act_answers);
    g_test_add_func("/desk-server/parts", test_a_drawing_s_parts);
    g_test_add_func("/desk-server/browser", test_the_printed_address_lets_a_browser_in);
    g_test_add_func("/desk-server/rate", test_the_rate_of_requests_is_bounded);
    g_test_add_func("/desk-server/pages", test_a_page_is_sent_what_changes);
    g_test_add_func("/desk-server/closed", test_a_page_that_is_not_understood_is_closed);
    g_test_add_func("/desk-server/many", test_so_many_pages_and_no_more);
    return g_test_run();
}
