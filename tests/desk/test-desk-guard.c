/* Who may use the desk, and what a request may hold: whole tables of what passes and what does not. */
#include "desk/guard.h"
#include "desk/request.h"
#include "drawtrue/base.h"

#include <math.h>
#include <string.h>

static const DtGuard guard = {8080, "token", "secret"};

/* A request that passes, but for one field or two. */
#define GET .method = "GET", .path = "/state"
#define POST .method = "POST", .path = "/jog", .type = "application/json", .length = "12"
#define HERE .host = "127.0.0.1:8080"
#define OURS .origin = "http://127.0.0.1:8080"
#define KNOWN .cookie = "drawtrue-desk-8080=secret"
#define SENDS(to) .method = "POST", .path = to, HERE, OURS, KNOWN
#define SENDS_JSON SENDS("/jog"), .type = "application/json"
#define SENDS_BYTES SENDS("/file"), .type = "application/octet-stream"

/* RFC 9110 7.2 (Host), RFC 6454 (Origin), Fetch Metadata (Sec-Fetch-Site), RFC 6265 4.2.1 (cookie pairs). */
static void test_who_is_let_in(void)
{
    static const struct {
        DtGuardRequest r;
        guint status; /* 0: passes; 1: let in */
    } cases[] = {
        {{GET, HERE, KNOWN}, 0},
        {{GET, HERE, OURS, KNOWN}, 0},
        {{POST, HERE, OURS, KNOWN}, 0},
        {{.method = "HEAD", .path = "/", HERE, KNOWN}, 0},
        /* methods */
        {{.method = "PUT", .path = "/", HERE, OURS, KNOWN}, 405},
        {{.method = "DELETE", .path = "/", HERE, OURS, KNOWN}, 405},
        {{.method = "get", .path = "/", HERE, OURS, KNOWN}, 405},
        /* hosts: a name is not case sensitive */
        {{GET, .host = "localhost:8080", KNOWN}, 0},
        {{GET, .host = "LocalHost:8080", KNOWN}, 0},
        {{GET, .host = "localhost:8080", .origin = "http://LOCALHOST:8080", KNOWN}, 0},
        {{GET, .host = NULL, KNOWN}, 421},
        {{GET, .host = "", KNOWN}, 421},
        {{GET, .host = "127.0.0.1", KNOWN}, 421},
        {{GET, .host = "127.0.0.1:8081", KNOWN}, 421},
        {{GET, .host = "127.0.0.1:80800", KNOWN}, 421},
        {{GET, .host = "127.0.0.2:8080", KNOWN}, 421},
        {{GET, .host = "example.org:8080", KNOWN}, 421},
        {{GET, .host = "localhost.example.org:8080", KNOWN}, 421},
        /* origins: the very host by which the page was loaded */
        {{GET, HERE, .origin = "http://localhost:8080", KNOWN}, 403},
        {{GET, HERE, .origin = "https://127.0.0.1:8080", KNOWN}, 403},
        {{GET, HERE, .origin = "null", KNOWN}, 403},
        {{GET, HERE, .origin = "", KNOWN}, 403},
        {{GET, HERE, .origin = "http://127.0.0.1:8080.example.org", KNOWN}, 403},
        {{POST, HERE, KNOWN}, 403},
        {{GET, HERE, KNOWN, .is_websocket = TRUE}, 403},
        {{GET, HERE, OURS, KNOWN, .is_websocket = TRUE}, 0},
        /* what a browser says of the page that asks */
        {{GET, HERE, KNOWN, .fetch_site = "same-origin"}, 0},
        {{GET, HERE, KNOWN, .fetch_site = "none"}, 0},
        {{GET, HERE, KNOWN, .fetch_site = "same-site"}, 403},
        {{GET, HERE, KNOWN, .fetch_site = "cross-site"}, 403},
        {{GET, HERE, KNOWN, .fetch_site = ""}, 403},
        /* cookies */
        {{GET, HERE}, 403},
        {{GET, HERE, .cookie = ""}, 403},
        {{GET, HERE, .cookie = "drawtrue-desk-8080"}, 403},
        {{GET, HERE, .cookie = "drawtrue-desk-8080="}, 403},
        {{GET, HERE, .cookie = "drawtrue-desk-8080=secre"}, 403},
        {{GET, HERE, .cookie = "drawtrue-desk-8080=secrets"}, 403},
        {{GET, HERE, .cookie = "drawtrue-desk-8080=secreT"}, 403},
        {{GET, HERE, .cookie = "drawtrue-desk-8080=xecret"}, 403},
        {{GET, HERE, .cookie = "drawtrue-desk-8081=secret"}, 403},
        {{GET, HERE, .cookie = "drawtrue-desk-80800=secret"}, 403},
        {{GET, HERE, .cookie = "xdrawtrue-desk-8080=secret"}, 403},
        {{GET, HERE, .cookie = "a=b; drawtrue-desk-8080=secret"}, 0},
        {{GET, HERE, .cookie = "a=b;\tdrawtrue-desk-8080=secret"}, 0},
        {{GET, HERE, .cookie = "drawtrue-desk-8080=secret; a=b"}, 0},
        {{GET, HERE, .cookie = "a; drawtrue-desk-8080=secret;;"}, 0},
        {{GET, HERE, .cookie = "drawtrue-desk-8080=secret; drawtrue-desk-8080=secret"}, 403},
        {{GET, HERE, .cookie = "a=drawtrue-desk-8080=secret"}, 403},
        /* types */
        {{SENDS("/jog")}, 415},
        {{SENDS("/jog"), .type = ""}, 415},
        {{SENDS("/jog"), .type = "text/plain"}, 415},
        {{SENDS("/jog"), .type = "application/json5"}, 415},
        {{SENDS("/jog"), .type = "Application/JSON"}, 0},
        {{SENDS("/jog"), .type = "application/json;charset=utf-8"}, 0},
        {{SENDS("/jog"), .type = "application/json ;a"}, 0},
        {{SENDS("/jog"), .type = "application/octet-stream"}, 415},
        {{SENDS_BYTES}, 0},
        {{SENDS("/scan"), .type = "application/octet-stream"}, 0},
        {{SENDS("/file"), .type = "application/json"}, 415},
        {{SENDS("/scan"), .type = "application/json"}, 415},
        {{GET, HERE, KNOWN, .type = "text/plain"}, 0},
        /* lengths: 64 KiB of JSON, 64 MiB of a file */
        {{SENDS_JSON, .length = "65536"}, 0},
        {{SENDS_JSON, .length = "65537"}, 413},
        {{SENDS_BYTES, .length = "67108864"}, 0},
        {{SENDS_BYTES, .length = "67108865"}, 413},
        {{GET, HERE, KNOWN, .length = "-1"}, 413},
        {{GET, HERE, KNOWN, .length = "1x"}, 413},
        {{GET, HERE, KNOWN, .length = ""}, 413},
        {{GET, HERE, KNOWN, .length = "0"}, 0},
        /* the printed address lets a browser in, and nothing else does */
        {{.method = "GET", .path = "/", .query = "token=token", HERE}, 1},
        {{.method = "HEAD", .path = "/", .query = "token=token", HERE}, 1},
        {{.method = "GET",
          .path = "/",
          .query = "token=token",
          HERE,
          .origin = "http://example.org"},
         1},
        {{.method = "POST", .path = "/", .query = "token=token", HERE}, 403},
        {{.method = "GET", .path = "/", .query = "token=token", HERE, .is_websocket = TRUE}, 403},
        {{.method = "GET", .path = "/state", .query = "token=token", HERE}, 403},
        {{.method = "GET", .path = "/", .query = "token=toke", HERE}, 403},
        {{.method = "GET", .path = "/", .query = "token=tokens", HERE}, 403},
        {{.method = "GET", .path = "/", .query = "token=", HERE}, 403},
        {{.method = "GET", .path = "/", .query = "x&token=token", HERE}, 403},
        {{.method = "GET", .path = "/", .query = "token=token", .host = "example.org:8080"}, 421},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        guint status = 0;
        const char *why = NULL;
        const DtGuardVerdict verdict = dt_guard_judge(&guard, &cases[i].r, &status, &why);
        const guint found = verdict == DT_GUARD_PASS ? 0 : verdict == DT_GUARD_LET_IN ? 1 : status;
        if (found != cases[i].status)
            g_error("request %zu gets %u and should get %u", i, found, cases[i].status);
        g_assert_true((why != NULL) == (cases[i].status > 1));
    }
}

static void test_bodies_and_secrets(void)
{
    g_assert_cmpuint(dt_guard_most_body("/file"), ==, 64u << 20);
    g_assert_cmpuint(dt_guard_most_body("/scan"), ==, 64u << 20);
    g_assert_cmpuint(dt_guard_most_body("/"), ==, 64u << 10);
    g_assert_cmpuint(dt_guard_most_body("/files"), ==, 64u << 10);
    g_autofree char *name = dt_guard_cookie_name(65535);
    g_assert_cmpstr(name, ==, "drawtrue-desk-65535");
    char a[65], b[65];
    g_assert_true(dt_guard_random(a) && dt_guard_random(b));
    g_assert_cmpuint(strlen(a), ==, 64);
    g_assert_cmpuint(strspn(a, "0123456789abcdef"), ==, 64);
    g_assert_cmpstr(a, !=, b);
    /* sixty-four digits of chance hold at least eight of the sixteen */
    int different = 0;
    for (const char *c = "0123456789abcdef"; *c; c++)
        different += strchr(a, *c) != NULL;
    g_assert_cmpint(different, >=, 8);
}

/* RFC 8259, but for depth, bytes of zero and texts that are no object. */
static void test_what_is_an_object(void)
{
    static const struct {
        const char *text;
        gboolean good;
    } cases[] = {{"{}", TRUE},
                 {" {\"a\": 1} ", TRUE},
                 {"", FALSE},
                 {"[]", FALSE},
                 {"3", FALSE},
                 {"null", FALSE},
                 {"{", FALSE},
                 {"{\"a\": }", FALSE},
                 {"{\"a\": \"\xff\"}", FALSE},
                 {"{\"a\": \"\\u0000\"}", FALSE},
                 {"{\"a\": \"\\\\u0000\"}", TRUE}, /* a backslash, and no zero */
                 {"{\"a\": \"\\u0001\"}", TRUE},
                 {"{\"a\": \"\\\"[[[[[[[[[[\"}", TRUE}, /* what is quoted is not nested */
                 {"{\"a\": [[[[[[[1]]]]]]]}", TRUE},
                 {"{\"a\": [[[[[[[[1]]]]]]]]}", FALSE},
                 {"{\"a\": {\"b\":{\"c\":{\"d\":{\"e\":{\"f\":{\"g\":{}}}}}}}}", TRUE},
                 {"{\"a\": {\"b\":{\"c\":{\"d\":{\"e\":{\"f\":{\"g\":{\"h\":{}}}}}}}}}", FALSE},
                 {"{\"a\": [[],[],[],[],[],[],[],[],[]]}", TRUE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        JsonObject *o = dt_request_read(cases[i].text, strlen(cases[i].text), &error);
        if ((o != NULL) != cases[i].good)
            g_error("'%s' is taken wrongly", cases[i].text);
        if (o == NULL)
            g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
        else
            json_object_unref(o);
    }
    g_assert_null(dt_request_read("{\"a\":1}\0x", 9, NULL));
    g_assert_null(dt_request_read("{\0}", 3, NULL));
}

/* Each member taken as each type: which are right, and that nothing else is written. */
static void test_members_by_type(void)
{
    static const char text[] = "{\"whole\": 5, \"real\": 1.5, \"flag\": false, \"text\": \"abc\", "
                               "\"none\": null, \"list\": [1, 2], \"object\": {\"x\": 1}}";
    static const struct {
        const char *name, *types; /* n number, w whole, f flag, t text, o object, l list */
    } cases[] = {{"whole", "nw"}, {"real", "n"}, {"flag", "f"},   {"text", "t"},
                 {"none", ""},    {"list", "l"}, {"object", "o"}, {"missing", ""}};
    g_autoptr(GError) error = NULL;
    JsonObject *o = dt_request_read(text, strlen(text), &error);
    g_assert_no_error(error);
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        for (const char *type = "nwftol"; *type; type++) {
            g_autoptr(GError) problem = NULL;
            double number = -7;
            gint64 whole = -7;
            gboolean flag = -7, good = FALSE;
            const char *string = NULL;
            JsonObject *object = NULL;
            JsonArray *list = NULL;
            const char *name = cases[i].name;
            switch (*type) {
            case 'n':
                good = dt_request_number(o, name, &number, &problem);
                g_assert_cmpfloat(number, ==, !good ? -7 : *name == 'w' ? 5 : 1.5);
                break;
            case 'w':
                good = dt_request_whole(o, name, 5, 5, &whole, &problem);
                g_assert_cmpint(whole, ==, good ? 5 : -7);
                break;
            case 'f':
                good = dt_request_flag(o, name, &flag, &problem);
                g_assert_cmpint(flag, ==, good ? FALSE : -7);
                break;
            case 't':
                good = dt_request_text(o, name, 3, &string, &problem);
                g_assert_cmpstr(string, ==, good ? "abc" : NULL);
                break;
            case 'o':
                good = dt_request_object(o, name, &object, &problem);
                g_assert_true(!good || json_object_has_member(object, "x"));
                break;
            default:
                good = dt_request_array(o, name, 2, &list, &problem);
                g_assert_true(!good || json_array_get_length(list) == 2);
            }
            g_assert_cmpint(good, ==, strchr(cases[i].types, *type) != NULL);
            if (good)
                continue;
            g_assert_error(problem, DT_ERROR, DT_ERROR_USAGE);
            g_autofree char *quoted = g_strdup_printf("'%s' must be ", name);
            g_assert_true(g_str_has_prefix(problem->message, quoted));
        }
    gint64 n;
    const char *s;
    JsonArray *l;
    g_assert_false(dt_request_whole(o, "whole", 6, 9, &n, NULL));
    g_assert_false(dt_request_whole(o, "whole", 0, 4, &n, NULL));
    g_assert_false(dt_request_text(o, "text", 2, &s, NULL));
    g_assert_false(dt_request_array(o, "list", 1, &l, NULL));
    json_object_unref(o);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/guard/who", test_who_is_let_in);
    g_test_add_func("/guard/bodies", test_bodies_and_secrets);
    g_test_add_func("/request/object", test_what_is_an_object);
    g_test_add_func("/request/members", test_members_by_type);
    return g_test_run();
}
