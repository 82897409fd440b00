/* requests: what may be asked of a session in each state, what becomes of it, what is told, and how far
 * a run is; without a board, by the tables of drawtrue/session.h. */
#include "link/run.h"

#include <string.h>

/* Requests by their letters, in the order of DtRequest. */
static const char letters[] = "GLNCPS";

static char *letters_of(guint bits)
{
    GString *text = g_string_new(NULL);
    for (guint i = 0; i < DT_N_REQUESTS; i++)
        if (bits & 1u << i)
            g_string_append_c(text, letters[i]);
    return g_string_free(text, FALSE);
}

/* Those made and not yet processed. */
static char *made(DtSession *s)
{
    guint bits = 0;
    for (guint i = 0; i < DT_N_REQUESTS; i++)
        bits |= dt_session_wants(s, 1u << i) ? 1u << i : 0;
    return letters_of(bits);
}

static char *may(DtSession *s)
{
    DtSnapshot now;
    dt_session_snapshot(s, &now);
    return letters_of(now.may);
}

static const struct {
    DtState state;
    const char *may, *may_in_a_run;
    DtWaits waits;
    DtEventKind tells;
} wanted[] = {
    {DT_STATE_CLOSED, "", "", DT_WAITS_FOR_NOTHING, DT_EVENT_STATE},
    {DT_STATE_OPENING, "S", "LNCPS", DT_WAITS_FOR_BOARD, DT_EVENT_WAITING},
    {DT_STATE_READY, "", "", DT_WAITS_FOR_NOTHING, DT_EVENT_STATE},
    {DT_STATE_HOMING, "S", "LNCPS", DT_WAITS_FOR_NOTHING, DT_EVENT_STATE},
    {DT_STATE_JOGGING, "S", "LNCPS", DT_WAITS_FOR_NOTHING, DT_EVENT_STATE},
    {DT_STATE_LEARNING, "S", "LNCPS", DT_WAITS_FOR_NOTHING, DT_EVENT_STATE},
    {DT_STATE_DRAWING, "S", "LNCPS", DT_WAITS_FOR_NOTHING, DT_EVENT_STATE},
    {DT_STATE_PEN_CHANGE, "GS", "GLCS", DT_WAITS_FOR_PERSON, DT_EVENT_PEN_CHANGE},
    {DT_STATE_PAUSED, "GPS", "GLCPS", DT_WAITS_FOR_PERSON, DT_EVENT_PAUSED},
    {DT_STATE_HELD, "GPS", "GLCPS", DT_WAITS_FOR_PERSON, DT_EVENT_PAUSED},
    {DT_STATE_PARKED, "GS", "GLCS", DT_WAITS_FOR_PERSON, DT_EVENT_PAUSED},
    {DT_STATE_UNPLUGGED, "S", "LNCPS", DT_WAITS_FOR_PORT, DT_EVENT_WAITING},
    {DT_STATE_RECOVERING, "S", "LNCPS", DT_WAITS_FOR_BOARD, DT_EVENT_WAITING},
    {DT_STATE_ENDING, "", "", DT_WAITS_FOR_BOARD, DT_EVENT_STATE},
};

static void note_kind(const DtEvent *e, void *user)
{
    g_array_append_val((GArray *)user, *e);
}

static void deliver(void)
{
    while (g_main_context_iteration(NULL, FALSE))
        ;
}

/* Each state has its requests, its waiting and its event; each change of state is counted. */
static void test_each_state_permits_its_requests(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    for (int in_a_run = 0; in_a_run < 2; in_a_run++) {
        g_autoptr(DtSession) s = dt_session_new(p, "port");
        g_autoptr(GArray) told = g_array_new(FALSE, FALSE, sizeof(DtEvent));
        DtRun run = {.session = s, .pace = 1};
        const guint listener = dt_session_listen(s, note_kind, told);
        s->run = in_a_run ? &run : NULL;
        for (gsize i = 0; i < G_N_ELEMENTS(wanted); i++) {
            DtSnapshot before, now;
            dt_session_snapshot(s, &before);
            dt_session_enter(s, wanted[i].state, NULL);
            dt_session_snapshot(s, &now);
            g_autofree char *have = may(s);
            g_assert_cmpstr(have, ==, in_a_run ? wanted[i].may_in_a_run : wanted[i].may);
            g_assert_cmpint(now.state, ==, wanted[i].state);
            g_assert_cmpint(now.waits, ==, wanted[i].waits);
            g_assert_cmpuint(now.serial, ==, before.serial + 1);
            for (int k = 0; k < DT_N_REQUESTS; k++) { /* and no other is taken */
                const gboolean may_k = (now.may & 1u << k) != 0;
                g_assert_cmpint(dt_session_request(s, (DtRequest)k, 0), ==, may_k);
                dt_session_take(s, ~0u);
            }
        }
        deliver();
        g_assert_cmpuint(told->len, ==, G_N_ELEMENTS(wanted));
        for (gsize i = 0; i < G_N_ELEMENTS(wanted); i++)
            g_assert_cmpint(g_array_index(told, DtEvent, i).kind, ==, wanted[i].tells);
        dt_session_unlisten(s, listener);
        s->run = NULL;
    }
}

/* Words: the requests in their order; "-x": this one is refused. */
static void test_requests_follow_each_other(void)
{
    static const struct {
        DtState state;
        gboolean cannot_hold;
        const char *asked, *made, *may;
    } cases[] = {
        {DT_STATE_DRAWING, FALSE, "L", "L", "GLNCPS"},
        {DT_STATE_DRAWING, FALSE, "N", "N", "GLNCPS"},
        {DT_STATE_DRAWING, TRUE, "N", "L", "GLNCPS"}, /* at the next lift, then */
        {DT_STATE_DRAWING, FALSE, "C", "C", "LNCPS"},
        {DT_STATE_DRAWING, FALSE, "P", "LP", "GLNCPS"},
        {DT_STATE_DRAWING, FALSE, "S", "S", "LNCPS"},
        {DT_STATE_DRAWING, FALSE, "-G", "", "LNCPS"},
        {DT_STATE_DRAWING, FALSE, "LG", "", "LNCPS"}, /* takes the pause back */
        {DT_STATE_DRAWING, FALSE, "NG", "", "LNCPS"},
        {DT_STATE_DRAWING, FALSE, "PG", "", "LNCPS"},
        {DT_STATE_DRAWING, FALSE, "LCG", "C", "LNCPS"},
        {DT_STATE_DRAWING, FALSE, "LSG", "S", "LNCPS"},
        {DT_STATE_DRAWING, FALSE, "C-G", "C", "LNCPS"},
        {DT_STATE_DRAWING, FALSE, "LN", "LN", "GLNCPS"},
        {DT_STATE_RECOVERING, FALSE, "LG", "", "LNCPS"},
        {DT_STATE_PAUSED, FALSE, "G", "G", "GLCPS"},
        {DT_STATE_PAUSED, FALSE, "GL", "L", "GLCPS"},
        {DT_STATE_PAUSED, FALSE, "GP", "LP", "GLCPS"},
        {DT_STATE_PAUSED, FALSE, "PG", "G", "GLCPS"},
        {DT_STATE_PAUSED, FALSE, "LG", "G", "GLCPS"},
        {DT_STATE_PAUSED, FALSE, "-N", "", "GLCPS"},
        {DT_STATE_PAUSED, FALSE, "GC", "GC", "GLCPS"},
        {DT_STATE_PAUSED, FALSE, "GS", "GS", "GLCPS"},
        {DT_STATE_PARKED, FALSE, "-P", "", "GLCS"},
        {DT_STATE_PEN_CHANGE, FALSE, "-PG", "G", "GLCS"},
        {DT_STATE_ENDING, FALSE, "-S-G-L-N-C-P", "", ""},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(DtProfile) p = dt_profile_new();
        if (cases[i].cannot_hold) {
            g_free(p->dialect.hold);
            p->dialect.hold = g_strdup("");
        }
        g_autoptr(DtSession) s = dt_session_new(p, "port");
        DtRun run = {.session = s, .pace = 1};
        s->run = &run;
        dt_session_enter(s, cases[i].state, NULL);
        gboolean refused = FALSE;
        for (const char *c = cases[i].asked; *c != '\0'; c++) {
            if (*c == '-') {
                refused = TRUE;
                continue;
            }
            const DtRequest request = (DtRequest)(strchr(letters, *c) - letters);
            g_assert_cmpint(dt_session_request(s, request, 0), ==, !refused);
            refused = FALSE;
        }
        g_autofree char *have = made(s), *have_may = may(s);
        g_test_message("%s", cases[i].asked);
        g_assert_cmpstr(have, ==, cases[i].made);
        g_assert_cmpstr(have_may, ==, cases[i].may);
        s->run = NULL;
    }
}

/* What was asked in another state moves nothing any more, but stops and pauses. */
static void test_a_stale_request_moves_nothing(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtSession) s = dt_session_new(p, "port");
    DtRun run = {.session = s, .pace = 1};
    DtSnapshot now;
    s->run = &run;
    dt_session_enter(s, DT_STATE_PAUSED, NULL);
    dt_session_snapshot(s, &now);
    for (int k = 0; k < DT_N_REQUESTS; k++) {
        const gboolean moves = k == DT_REQUEST_GO_ON || k == DT_REQUEST_PARK;
        const gboolean may_k = (now.may & 1u << k) != 0;
        g_assert_cmpint(dt_session_request(s, (DtRequest)k, now.serial + 1), ==, may_k && !moves);
        g_assert_cmpint(dt_session_request(s, (DtRequest)k, now.serial - 1), ==, may_k && !moves);
        g_assert_cmpint(dt_session_request(s, (DtRequest)k, now.serial), ==, may_k);
        dt_session_take(s, ~0u);
    }
    g_assert_false(dt_session_request(s, DT_N_REQUESTS, 0));
    g_assert_false(dt_session_request(s, (DtRequest)-1, 0));
    s->run = NULL;
}

static void test_requests_are_taken_once(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtSession) s = dt_session_new(p, "port");
    DtRun run = {.session = s, .pace = 1};
    s->run = &run;
    dt_session_enter(s, DT_STATE_DRAWING, NULL);
    g_assert_false(dt_session_take(s, ~0u));
    g_assert_true(dt_session_request(s, DT_REQUEST_PARK, 0));
    g_assert_true(dt_session_request(s, DT_REQUEST_PAUSE_AT_CHANGE, 0));
    g_assert_false(dt_session_take(s, WANTS(STOP) | WANTS(PAUSE_NOW)));
    g_assert_true(dt_session_take(s, WANTS(PAUSE_AT_LIFT) | WANTS(PARK)));
    g_assert_false(dt_session_take(s, WANTS(PAUSE_AT_LIFT) | WANTS(PARK)));
    g_autofree char *left = made(s), *may_still = may(s);
    g_assert_cmpstr(left, ==, "C");
    g_assert_cmpstr(may_still, ==, "LNCPS"); /* there is no pause any more to take back */
    dt_session_enter(s, DT_STATE_PAUSED, NULL);
    g_assert_true(dt_session_request(s, DT_REQUEST_GO_ON, 0));
    dt_session_enter(s, DT_STATE_PEN_CHANGE, NULL); /* it was not meant for this */
    g_autofree char *kept = made(s);
    g_assert_cmpstr(kept, ==, "C");
    s->run = NULL;
}

/* Events ---------------------------------------------------------------------------------------- */

static void append_event(const DtEvent *e, void *user)
{
    g_string_append_printf(user, "%s%d", e->kind == DT_EVENT_PROGRESS ? "p" : "e", (int)e->line);
}

/* All but progress, of which a slow listener gets the latest; each listener by itself. */
static void test_listeners_get_all_but_old_progress(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(DtSession) s = dt_session_new(p, "port");
    g_autoptr(GString) one = g_string_new(NULL), two = g_string_new(NULL);
    const guint first = dt_session_listen(s, append_event, one);
    const guint second = dt_session_listen(s, append_event, two);
    g_assert_cmpuint(first, !=, second);
    dt_session_tell(s, DT_EVENT_PROGRESS, NULL);
    dt_session_tell(s, DT_EVENT_PROGRESS, NULL);
    dt_session_tell_repeated(s, 3);
    dt_session_tell(s, DT_EVENT_PROGRESS, NULL);
    dt_session_tell_repeated(s, 4);
    dt_session_tell_repeated(s, 5);
    g_assert_cmpstr(one->str, ==, ""); /* in its own context only */
    deliver();
    g_assert_cmpstr(one->str, ==, "p0e3p0e4e5");
    g_assert_cmpstr(two->str, ==, one->str);
    dt_session_tell_repeated(s, 6);
    dt_session_unlisten(s, first); /* what it has not got yet it does not get */
    deliver();
    g_assert_cmpstr(one->str, ==, "p0e3p0e4e5");
    g_assert_cmpstr(two->str, ==, "p0e3p0e4e5e6");
    dt_session_unlisten(s, first);
    dt_session_unlisten(s, second);
}

/* How far it is --------------------------------------------------------------------------------- */

static void test_a_run_is_described(void)
{
    static const struct {
        double seconds; /* of the program's 200, taken so far */
        gboolean homed;
        DtState state;
        double done, left_s;
    } cases[] = {
        {0, FALSE, DT_STATE_OPENING, 0, 320},    {0, TRUE, DT_STATE_DRAWING, 0, 300},
        {50, TRUE, DT_STATE_DRAWING, 0.25, 225}, {50, FALSE, DT_STATE_RECOVERING, 0.25, 245},
        {200, TRUE, DT_STATE_ENDING, 1, 0},      {230, TRUE, DT_STATE_ENDING, 1, 0},
        {50, TRUE, DT_STATE_DONE, 1, 0}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtRun run = {.pace = 1.5, .home_s = 20, .acked_line = 17, .drawn = 4};
        DtSnapshot out = {.state = cases[i].state};
        run.totals.seconds = 200;
        run.totals.strokes = 9;
        run.acked.seconds = cases[i].seconds;
        run.acked.homed = cases[i].homed;
        run.acked.ink_mm = 12;
        run.acked.travel_mm = 34;
        g_strlcpy(run.acked.pen, "red", sizeof run.acked.pen);
        dt_run_describe(&run, &out);
        g_assert_cmpfloat_with_epsilon(out.done, cases[i].done, 1e-12);
        g_assert_cmpfloat_with_epsilon(out.left_s, cases[i].left_s, 1e-9);
        g_assert_cmpfloat(out.ink_mm, ==, 12);
        g_assert_cmpfloat(out.travel_mm, ==, 34);
        g_assert_cmpuint(out.line, ==, 17);
        g_assert_cmpuint(out.stroke, ==, 4);
        g_assert_cmpuint(out.strokes, ==, 9);
        g_assert_cmpstr(out.pen_name, ==, "red");
    }
    DtSnapshot nothing = {.state = DT_STATE_DRAWING};
    DtRun empty = {.pace = 1, .next_pen = "blue"}; /* which is to be put in next */
    dt_run_describe(&empty, &nothing);
    g_assert_cmpfloat(nothing.done, ==, 0);
    g_assert_cmpstr(nothing.pen_name, ==, "blue");
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/requests/states", test_each_state_permits_its_requests);
    g_test_add_func("/link/requests/in-order", test_requests_follow_each_other);
    g_test_add_func("/link/requests/stale", test_a_stale_request_moves_nothing);
    g_test_add_func("/link/requests/taken", test_requests_are_taken_once);
    g_test_add_func("/link/requests/listeners", test_listeners_get_all_but_old_progress);
    g_test_add_func("/link/requests/described", test_a_run_is_described);
    return g_test_run();
}
