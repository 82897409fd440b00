/* The desk's parts that need no server: ink as arrays, the drawing's own order, the guard, requests. */
#include "desk/guard.h"
#include "desk/ink-data.h"
#include "desk/language.h"
#include "desk/request.h"
#include "desk/telling.h"
#include "drawtrue/base.h"
#include "drawtrue/json.h"

#include <math.h>
#include <string.h>

static void add(DtMoves *m, DtMoveKind kind, double x, double y, unsigned pen)
{
    m->m = g_renew(DtMove, m->m, m->n + 1);
    m->m[m->n++] =
        (DtMove){.kind = kind, .to = {x, y}, .ink = {x, y}, .feed_mm_s = 10, .pen = (uint16_t)pen};
}

/* Two strokes of two pens and a dot, one second a move, homing two. */
static void make_moves(DtMoves *m, DtTimes *t)
{
    *m = (DtMoves){0};
    add(m, DT_MOVE_PEN_UP, 0, 0, 0);
    add(m, DT_MOVE_HOME, 0, 0, 0);
    add(m, DT_MOVE_TRAVEL, 10, 20, 0);
    add(m, DT_MOVE_PEN_DOWN, 10, 20, 0);
    add(m, DT_MOVE_DRAW, 30, 20, 0);
    add(m, DT_MOVE_DRAW, 30, 40, 0);
    add(m, DT_MOVE_PEN_UP, 30, 40, 0);
    add(m, DT_MOVE_PEN_CHANGE, 0, 0, 1);
    add(m, DT_MOVE_TRAVEL, 5, 5, 1);
    add(m, DT_MOVE_PEN_DOWN, 5, 5, 1);
    add(m, DT_MOVE_PEN_UP, 5, 5, 1);
    add(m, DT_MOVE_TRAVEL, 7, 7, 1);
    add(m, DT_MOVE_PEN_DOWN, 7, 7, 1);
    add(m, DT_MOVE_DRAW, 8, 7, 1);
    add(m, DT_MOVE_PEN_UP, 8, 7, 1);
    *t = (DtTimes){.home_s = 2, .at_s = g_new(double, m->n)};
    double now = 0;
    for (size_t i = 0; i < m->n; i++)
        t->at_s[i] = now += m->m[i].kind == DT_MOVE_HOME         ? 2
                            : m->m[i].kind == DT_MOVE_PEN_CHANGE ? 0
                                                                 : 1;
    t->total_s = now;
}

static void test_ink_is_the_strokes_in_order_with_their_times(void)
{
    DtMoves m;
    DtTimes t;
    DtInkSummary sum;
    make_moves(&m, &t);
    g_autoptr(GBytes) bytes = dt_desk_ink_bytes(&m, &t, &sum);
    gsize len;
    const guint8 *data = g_bytes_get_data(bytes, &len);
    g_assert_cmpuint(sum.strokes, ==, 3);
    g_assert_cmpuint(sum.points, ==, 3 + 1 + 2);
    g_assert_cmpfloat(sum.total_s, ==, t.total_s - 2);
    const gsize points = 6, n = 3;
    g_assert_cmpuint(len, ==, 64 + points * 8 + (n + 1) * 4 + n * 9);
    const float *xy = (const float *)(const void *)(data + 64);
    const guint32 *first = (const guint32 *)(const void *)(xy + 2 * points);
    const float *begin = (const float *)(const void *)(first + n + 1), *end = begin + n;
    const guint8 *pen = (const guint8 *)(const void *)(end + n);
    g_assert_cmpfloat(xy[0], ==, 10);
    g_assert_cmpfloat(xy[5], ==, 40);
    g_assert_cmpuint(first[1], ==, 3);
    g_assert_cmpuint(first[3], ==, 6);
    g_assert_cmpfloat(begin[0], ==, 3); /* the pen is down at 5 s, of which homing took 2 */
    g_assert_cmpfloat(end[0], ==, 5);
    g_assert_cmpfloat(end[1], ==, begin[1]); /* a dot */
    g_assert_cmpuint(pen[0], ==, 0);
    g_assert_cmpuint(pen[2], ==, 1);
    dt_moves_clear(&m);
    dt_times_clear(&t);
}

static void test_the_own_order_tells_which_pen_draws_when(void)
{
    DtMoves m;
    DtTimes t;
    DtOwnOrder own = {0};
    make_moves(&m, &t);
    t.changes = 1;
    dt_desk_own_order(&m, &t, &own);
    g_assert_true(own.known);
    g_assert_cmpuint(own.changes, ==, 1);
    const double part = DT_OWN_PARTS / own.total_s;
    g_assert_cmpuint(own.pen[(int)(3.5 * part)], ==, 0);
    g_assert_cmpuint(own.pen[(int)(0.5 * part)], ==, 255);
    g_assert_cmpuint(own.pen[(int)((own.total_s - 1.5) * part)], ==, 1);
    dt_moves_clear(&m);
    dt_times_clear(&t);
}

static const DtGuard guard = {8080, "token", "secret"};

static DtGuardVerdict judge(DtGuardRequest r, guint *status)
{
    const char *why = NULL;
    *status = 0;
    return dt_guard_judge(&guard, &r, status, &why);
}

static void test_the_guard_lets_its_own_page_pass_and_nobody_else(void)
{
    const DtGuardRequest good = {.method = "POST",
                                 .path = "/jog",
                                 .host = "127.0.0.1:8080",
                                 .origin = "http://127.0.0.1:8080",
                                 .fetch_site = "same-origin",
                                 .cookie = "a=b; drawtrue-desk-8080=secret",
                                 .type = "application/json",
                                 .length = "12"};
    guint status;
    g_assert_cmpint(judge(good, &status), ==, DT_GUARD_PASS);
    DtGuardRequest r = good;
    r.origin = "http://127.0.0.1:8081";
    g_assert_cmpint(judge(r, &status), ==, DT_GUARD_REFUSE);
    g_assert_cmpuint(status, ==, 403);
    r = good;
    r.host = "evil.example:8080";
    g_assert_cmpint(judge(r, &status), ==, DT_GUARD_REFUSE);
    g_assert_cmpuint(status, ==, 421);
    r = good;
    r.cookie = "drawtrue-desk-8080=secretx";
    g_assert_cmpint(judge(r, &status), ==, DT_GUARD_REFUSE);
    r = good;
    r.length = "70000";
    g_assert_cmpint(judge(r, &status), ==, DT_GUARD_REFUSE);
    g_assert_cmpuint(status, ==, 413);
    r = (DtGuardRequest){
        .method = "GET", .path = "/", .query = "token=token", .host = "localhost:8080"};
    g_assert_cmpint(judge(r, &status), ==, DT_GUARD_LET_IN);
    r.query = "token=tokem";
    g_assert_cmpint(judge(r, &status), ==, DT_GUARD_REFUSE);
}

static void test_a_request_is_checked_member_by_member(void)
{
    g_autoptr(GError) error = NULL;
    const char text[] =
        "{\"a\": 1, \"b\": 1.5, \"c\": true, \"d\": \"x\", \"e\": [1], \"f\": {\"g\": [[]]}}";
    JsonObject *o = dt_request_read(text, strlen(text), &error);
    g_assert_no_error(error);
    double v;
    gint64 n;
    gboolean flag;
    const char *s;
    g_assert_true(dt_request_number(o, "a", &v, NULL) && v == 1);
    g_assert_false(dt_request_whole(o, "b", 0, 9, &n, NULL));
    g_assert_false(dt_request_whole(o, "a", 2, 9, &n, NULL));
    g_assert_true(dt_request_flag(o, "c", &flag, NULL) && flag);
    g_assert_false(dt_request_flag(o, "a", &flag, NULL));
    g_assert_false(dt_request_text(o, "d", 0, &s, NULL));
    g_assert_false(dt_request_text(o, "z", 9, &s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_USAGE);
    json_object_unref(o);
    const char deep[] = "{\"a\":[[[[[[[[1]]]]]]]]}";
    g_assert_null(dt_request_read(deep, strlen(deep), NULL));
}

/* As many decimals as two digits of the interval, which contains the value in 95 of 100 cases (1.96 standard
 * uncertainties); what is not known is null. */
static void test_a_value_is_told_with_its_interval(void)
{
    static const struct {
        double value, sd;
        const char *told;
    } cases[] = {
        {0.3, 0.01, "\"value\" : \"0.300\", \"interval\" : \"0.020\""},
        {0.34567, 0.1, "\"value\" : \"0.35\", \"interval\" : \"0.20\""},
        {12.345, 5, "\"value\" : \"12.3\", \"interval\" : \"9.8\""},
        {123.4, 50, "\"value\" : \"123\", \"interval\" : \"98\""},
        {0.3, 1e-9, "\"value\" : \"0.300000\", \"interval\" : \"0.000000\""},
        {0.3, 0, "\"value\" : \"0.300\", \"interval\" : null"},
        {0.3, NAN, "\"value\" : \"0.300\", \"interval\" : null"},
        {NAN, 0.01, "\"value\" : null, \"interval\" : null"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        JsonBuilder *b = dt_json_begin();
        dt_desk_add_value(b, "it", DT_ERROR_OF_BACKLASH, cases[i].value, cases[i].sd);
        g_autofree char *json = dt_json_end(b);
        g_auto(GStrv) lines = g_strsplit(json, "\n", -1);
        for (char **l = lines; *l != NULL; l++)
            g_strstrip(*l);
        g_autofree char *flat = g_strjoinv(" ", lines);
        if (strstr(flat, cases[i].told) == NULL)
            g_test_fail_printf("%g, %g: %s", cases[i].value, cases[i].sd, flat);
    }
}

static void test_a_page_asks_for_languages(void)
{
    const struct {
        const char *cookie, *accepted, *languages;
    } asked[] = {
        {NULL, NULL, NULL},
        {NULL, "", NULL},
        {NULL, "*", NULL},
        {NULL, "de", "de"},
        {NULL, "de-AT,de;q=0.9,en;q=0.8,fr;q=0.7", "de:de:en"}, /* RFC 9110 12.5.4 */
        {NULL, "en-GB, de", "en"},
        {NULL, "fr , DE;q=0.5", "fr:de"},
        {"language=de", "en", "de"},
        {"drawtrue-desk-1=abc; language=en; x=y", "de", "en"},
        {"language=../../x", "de", "de"}, /* never a path */
        {"language=", "de", "de"},
        {"mylanguage=fr", "de", "de"},
        {NULL, "de/..,e,abcdefghi,d e", NULL},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(asked); i++) {
        g_autofree char *found = dt_desk_asked_languages(asked[i].cookie, asked[i].accepted);
        g_assert_cmpstr(found, ==, asked[i].languages);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/desk/ink", test_ink_is_the_strokes_in_order_with_their_times);
    g_test_add_func("/desk/own-order", test_the_own_order_tells_which_pen_draws_when);
    g_test_add_func("/desk/guard", test_the_guard_lets_its_own_page_pass_and_nobody_else);
    g_test_add_func("/desk/languages", test_a_page_asks_for_languages);
    g_test_add_func("/desk/value", test_a_value_is_told_with_its_interval);
    g_test_add_func("/desk/request", test_a_request_is_checked_member_by_member);
    return g_test_run();
}
