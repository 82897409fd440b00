/* learn: the same odd boards as in test-learn-boards.c, by a clock of their own, so that a run is the
 * same each time. What is found is right, what is said meanwhile is held word by word in
 * learn-told.txt, without leave nothing moves, and a broken port ends it. */
#include "learn-cases.h"
#include "link/learn/learn.h"

#include <string.h>

typedef struct {
    Board *board;
    GString *told;
    guint lines;         /* that were sent */
    guint calls, breaks; /* of the port; at which it breaks, 0: never */
    guint calls_after;
} Desk;

/* FALSE where the port is broken. */
static gboolean works(Desk *d, GError **error)
{
    d->calls++;
    if (d->breaks == 0 || d->calls < d->breaks)
        return TRUE;
    d->calls_after += d->calls > d->breaks;
    g_set_error(error, DT_ERROR, DT_ERROR_IO, "the cable came off at call %u", d->calls);
    return FALSE;
}

static gboolean desk_write(void *user, const char *bytes, gsize n, GError **error)
{
    Desk *d = user;
    if (!works(d, error))
        return FALSE;
    for (gsize i = 0; i < n; i++)
        d->lines += bytes[i] == '\n';
    invented_send(d->board, bytes, n);
    return TRUE;
}

static gssize desk_read(void *user, char *to, gsize room, double wait_s, GError **error)
{
    Desk *d = user;
    return works(d, error) ? (gssize)invented_hear(d->board, to, room, wait_s) : -1;
}

static gboolean desk_reopen(void *user, GError **error)
{
    Desk *d = user;
    g_string_append(d->told, "(the port is opened anew)\n");
    invented_reset(d->board);
    return works(d, error);
}

static gint64 desk_now_us(void *user)
{
    return invented_now_us(((Desk *)user)->board);
}

static void tell(const char *text, void *user)
{
    g_string_append_printf(((Desk *)user)->told, "%s\n", text);
}

typedef struct {
    DtLearnt learnt;
    GError *error;
    double seconds; /* of the board's clock */
    guint lines, calls, calls_after;
    gboolean has_moved, pen_is_down;
} Result;

static void result_clear(Result *r)
{
    dt_learnt_clear(&r->learnt);
    g_clear_error(&r->error);
}

typedef struct {
    gboolean may_move, may_reopen;
    guint breaks; /* as in Desk */
} How;

/* Learns it; what it says is appended to `told`. */
static Result learn(const Case *c, How how, GString *told)
{
    Desk d = {.board = invented_new_on_desk(&c->kind), .told = told, .breaks = how.breaks};
    g_autofree char *text = learn_case_profile(c);
    g_autoptr(DtProfile) p = dt_profile_read_data(text, strlen(text), "my.ini", NULL);
    const DtLearnJob job = {
        .wire = {desk_write, desk_read, how.may_reopen ? desk_reopen : NULL, desk_now_us, &d},
        .boot_s = 12,
        .may_move = how.may_move,
        .tell = tell,
        .user = &d};
    Result r = {0};
    const gboolean good = dt_learn_controller(p, &job, &r.learnt, &r.error);
    g_assert_cmpint(good, ==, r.error == NULL);
    r.seconds = (double)invented_now_us(d.board) / 1e6;
    r.lines = d.lines;
    r.calls = d.calls;
    r.calls_after = d.calls_after;
    r.has_moved = invented_has_moved(d.board);
    r.pen_is_down = invented_pen_is_down(d.board);
    if (r.error != NULL)
        g_string_append_printf(told, "error: %s\n", r.error->message);
    invented_free(d.board);
    return r;
}

static GString *whole; /* as learn-told.txt should be */

static void test_one(gconstpointer data)
{
    const Case *c = data;
    g_autoptr(GString) told = g_string_new(NULL), told_open = g_string_new(NULL);
    Result r = learn(c, (How){.may_move = TRUE, .may_reopen = TRUE}, told);
    learn_case_judge(c, &r.learnt, r.error, told->str);
    g_assert_false(r.pen_is_down);
    g_assert_cmpfloat(r.seconds, <, 400);
    g_string_append_printf(whole, "== %s: %u lines in %.1f s\n%s", c->name, r.lines, r.seconds,
                           told->str);
    Result open = learn(c, (How){.may_move = TRUE}, told_open);
    if (!g_string_equal(told, told_open))
        g_string_append_printf(whole,
                               "== the same, where the port stays open: %u lines in %.1f s\n%s",
                               open.lines, open.seconds, told_open->str);
    result_clear(&r);
    result_clear(&open);
}

/* Without leave nothing moves, and all the rest is found all the same. */
static void test_one_without_leave_to_move(gconstpointer data)
{
    const Case *c = data;
    g_autoptr(GString) told = g_string_new(NULL), told_moving = g_string_new(NULL);
    Result r = learn(c, (How){.may_reopen = TRUE}, told);
    Result moving = learn(c, (How){.may_move = TRUE, .may_reopen = TRUE}, told_moving);
    const DtLearnt *l = &r.learnt;
    g_assert_false(r.has_moved);
    g_assert_null(strstr(told->str, "now it moves"));
    if (r.error == NULL && moving.error == NULL && !c->want.less) {
        g_assert_cmpstr(l->accept, ==, moving.learnt.accept);
        g_assert_cmpstr(l->refuse, ==, moving.learnt.refuse);
        g_assert_cmpstr(l->greeting, ==, moving.learnt.greeting);
        g_assert_cmpint(l->window, ==, moving.learnt.window);
        g_assert_cmpint(l->longest_line, ==, moving.learnt.longest_line);
        g_assert_cmpint(l->decimals, ==, moving.learnt.decimals);
        g_assert_nonnull(strstr(l->untried, "G28"));
        g_assert_null(strstr(l->words, "G28"));
        g_assert_null(strstr(l->words, "M3 "));
        g_assert_cmpstr(l->refused, ==, "");
    }
    result_clear(&r);
    result_clear(&moving);
}

/* Whenever the cable comes off, learning ends with that, and tries the port no more. */
static void test_a_broken_port_ends_it(gconstpointer data)
{
    const Case *c = data;
    g_autoptr(GString) told = g_string_new(NULL);
    Result whole_way = learn(c, (How){.may_move = TRUE, .may_reopen = TRUE}, told);
    const guint step = MAX(1, whole_way.calls / 20);
    for (guint at = 1; at < whole_way.calls; at += step) {
        g_autofree char *words = g_strdup_printf("the cable came off at call %u", at);
        Result r = learn(c, (How){.may_move = TRUE, .may_reopen = TRUE, .breaks = at}, told);
        g_assert_error(r.error, DT_ERROR, DT_ERROR_IO);
        g_assert_cmpstr(r.error->message, ==, words);
        g_assert_cmpuint(r.calls_after, ==, 0);
        g_assert_null(r.learnt.words);
        result_clear(&r);
    }
    result_clear(&whole_way);
}

static void test_what_is_said_is_as_written(void)
{
    g_autofree char *path = g_test_build_filename(G_TEST_DIST, "learn-told.txt", NULL);
    g_autofree char *wanted = NULL,
                    *made = g_build_filename(g_get_tmp_dir(), "learn-told.txt", NULL);
    g_autoptr(GError) error = NULL;
    g_file_get_contents(path, &wanted, NULL, &error);
    g_assert_no_error(error);
    if (strcmp(wanted, whole->str) == 0)
        return;
    g_file_set_contents(made, whole->str, -1, NULL);
    g_error("compare %s with %s", path, made);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    whole = g_string_new(NULL);
    for (size_t i = 0; i < n_learn_cases; i++) {
        g_autofree char *name = g_strdup_printf("/link/learn-told/%s", learn_cases[i].name);
        g_autofree char *still = g_strdup_printf("/link/learn-still/%s", learn_cases[i].name);
        g_autofree char *broken = g_strdup_printf("/link/learn-broken/%s", learn_cases[i].name);
        g_test_add_data_func(name, &learn_cases[i], test_one);
        g_test_add_data_func(still, &learn_cases[i], test_one_without_leave_to_move);
        g_test_add_data_func(broken, &learn_cases[i], test_a_broken_port_ends_it);
    }
    g_test_add_func("/link/learn-told/said", test_what_is_said_is_as_written);
    const int status = g_test_run();
    g_string_free(whole, TRUE);
    return status;
}
