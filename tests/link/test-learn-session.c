/* learn: as a task of a session, over a port: it is stopped by hand, ends where the port is gone, opens the
 * port anew for a board that hangs, and is one thing at a time. */
#include "fake.h"
#include "invented.h"

#include "drawtrue/learn.h"
#include "drawtrue/link.h"

#include <gio/gio.h>
#include <string.h>

typedef struct {
    DtSession *session;
    GMainLoop *loop;
    GString *found;
    const char *stops_at; /* a beginning of what it finds, and how often until it is stopped */
    unsigned times;
    Board *board; /* which is reset when the port is opened anew; NULL: none */
    DtState end;
} Watch;

static void hear(const DtEvent *e, void *user)
{
    Watch *w = user;
    if (e->kind == DT_EVENT_FOUND) {
        g_string_append_printf(w->found, "%s\n", e->text);
        if (w->board && g_str_has_prefix(e->text, "it has not answered since"))
            invented_reset(w->board); /* as most boards do when their port is opened */
        if (w->stops_at && g_str_has_prefix(e->text, w->stops_at) && --w->times == 0)
            g_assert_true(dt_session_request(w->session, DT_REQUEST_STOP, 0));
    } else if (e->kind == DT_EVENT_ENDED) {
        w->end = e->at.state;
        g_main_loop_quit(w->loop);
    }
}

/* Learns to its end. */
static void learn(Watch *w, DtProfile *p, const char *port, double boot_s, GError **error)
{
    DtLearnt out = {0};
    w->session = dt_session_new(p, port);
    w->loop = g_main_loop_new(NULL, FALSE);
    w->found = g_string_new(NULL);
    const guint listener = dt_session_listen(w->session, hear, w);
    g_assert_true(dt_session_learn(w->session, &(DtLearnOptions){.boot_s = boot_s}, error));
    g_autoptr(GError) busy = NULL; /* one thing at a time */
    g_assert_false(dt_session_learn(w->session, &(DtLearnOptions){.boot_s = boot_s}, &busy));
    g_assert_error(busy, DT_ERROR, DT_ERROR_INPUT);
    g_main_loop_run(w->loop);
    dt_session_learnt(w->session, &out, error);
    DtSnapshot now;
    dt_session_snapshot(w->session, &now);
    g_assert_cmpint(now.state, ==, DT_STATE_CLOSED); /* a board that is learnt greets anew */
    dt_learnt_clear(&out);
    dt_session_unlisten(w->session, listener);
    dt_session_unref(w->session);
    g_main_loop_unref(w->loop);
}

static void test_it_is_stopped_by_hand(void)
{
    Fake *f = fake_new(&(FakeFaults){.greeting = "drawtrue controller 1 ready"});
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    Watch w = {.stops_at = "waiting up to", .times = 1};
    learn(&w, p, fake_port(f), 2, &error);
    g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
    g_assert_cmpstr(error->message, ==, "learning was stopped by hand");
    g_assert_cmpint(w.end, ==, DT_STATE_STOPPED);
    g_string_free(w.found, TRUE);
    fake_free(f);
}

static void test_it_ends_where_the_port_is_gone(void)
{
    Fake *f = fake_new(&(FakeFaults){.greeting = "drawtrue controller 1 ready", .hang_up_at = 3});
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL, none = NULL;
    Watch w = {0};
    learn(&w, p, fake_port(f), 0.2, &error);
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, ": the port is gone ("));
    g_assert_cmpint(w.end, ==, DT_STATE_FAILED);
    g_string_free(w.found, TRUE);
    fake_free(f);
    Watch never = {0};
    learn(&never, p, "/no/such/port", 0.2, &none);
    g_assert_error(none, DT_ERROR, DT_ERROR_INPUT);
    g_assert_cmpint(never.end, ==, DT_STATE_FAILED);
    g_assert_cmpstr(never.found->str, ==, "");
    g_string_free(never.found, TRUE);
}

static void test_the_port_is_opened_anew_for_a_board_that_hangs(void)
{
    const Invented kind = {.words = "G17 G21 G90 G91 M5",
                           .greeting = "hello",
                           .hangs_at = "G17",
                           .longest = 40,
                           .rx = 64};
    Board *b = invented_new(&kind);
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    Watch w = {.stops_at = "it accepts a line with", .times = 2, .board = b};
    learn(&w, p, invented_port(b), 2, &error);
    g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED); /* found enough */
    g_assert_nonnull(strstr(w.found->str, "it greets with 'hello'\n"));
    g_assert_nonnull(strstr(w.found->str, "it has not answered since 'G17'\n"
                                          "the board restarted: from the beginning\n"));
    g_string_free(w.found, TRUE);
    invented_free(b);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/learn-session/stopped", test_it_is_stopped_by_hand);
    g_test_add_func("/link/learn-session/port-gone", test_it_ends_where_the_port_is_gone);
    g_test_add_func("/link/learn-session/opened-anew",
                    test_the_port_is_opened_anew_for_a_board_that_hangs);
    return g_test_run();
}
