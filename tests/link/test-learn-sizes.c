/* code: the receive window of controllers that take lines shorter than their buffer: by bursts where
 * they check no line, by the reasons of their refusals where they do. */
#include "drawtrue/code.h"
#include "link/learn/learn.h"

#include <string.h>

/* A board that holds `room` bytes and does a dwell when its reply is waited for. */
typedef struct {
    int room, longest;
    gboolean takes_out; /* a line leaves the buffer before it is done */
    gboolean dwells;
    gboolean checks; /* says why it refuses, with a running number */
    int refused;
    GString *held, *replies;
    int lost;
} Board;

static void refuse(Board *b, const char *why)
{
    b->refused++;
    g_string_append_printf(b->replies, b->checks ? "no %d %s\n" : "no\n", b->refused, why);
}

/* Whether a check at the line's end is its own. */
static gboolean is_checked_wrongly(const char *line)
{
    const char *check = strstr(line, "(*");
    if (check == NULL)
        return FALSE;
    g_autofree char *right = dt_code_add_check(line, (gsize)(check - line));
    return strcmp(right, line) != 0;
}

static void answer(Board *b, const char *line)
{
    if (b->checks && is_checked_wrongly(line)) {
        refuse(b, "check");
        return;
    }
    gboolean fits = (int)strlen(line) <= b->longest;
    line += strspn(line, " ");
    gboolean sound = g_str_has_prefix(line, "G4") || g_str_has_prefix(line, "M5") ||
                     g_str_has_prefix(line, "G90") || *line == '\0';
    sound = sound && !g_str_has_suffix(line, " G");
    if (fits && sound)
        g_string_append(b->replies, "yes\n");
    else
        refuse(b, "not so");
}

/* Does the lines that are held, up to a dwell unless it may be done too. */
static void go_on(Board *b, gboolean dwell_too)
{
    for (char *end; !b->dwells && (end = strchr(b->held->str, '\n'));) {
        gsize n = (gsize)(end - b->held->str) + 1;
        if (g_str_has_prefix(b->held->str, "G4") && !dwell_too) {
            b->dwells = TRUE;
            if (b->takes_out)
                g_string_erase(b->held, 0, (gssize)n);
            return;
        }
        g_autofree char *line = g_strndup(b->held->str, n - 1);
        answer(b, line);
        g_string_erase(b->held, 0, (gssize)n);
    }
}

static gboolean board_write(void *user, const char *bytes, gsize n, GError **error)
{
    Board *b = user;
    (void)error;
    for (gsize i = 0; i < n; i++) {
        gboolean full = (int)b->held->len == b->room;
        if (!full)
            g_string_append_c(b->held, bytes[i]);
        else if (strchr(b->held->str, '\n'))
            b->lost++;
        else if (bytes[i] == '\n') { /* one line fills it all */
            g_string_truncate(b->held, 0);
            refuse(b, "longer than all that is kept");
        }
        go_on(b, FALSE);
    }
    return TRUE;
}

static gssize board_read(void *user, char *to, gsize room, double wait_s, GError **error)
{
    Board *b = user;
    (void)wait_s;
    (void)error;
    gboolean dwelt = b->dwells;
    b->dwells = FALSE;
    if (dwelt && b->takes_out)
        g_string_append(b->replies, "yes\n");
    go_on(b, TRUE);
    gsize n = MIN(room, b->replies->len);
    memcpy(to, b->replies->str, n);
    g_string_erase(b->replies, 0, (gssize)n);
    return (gssize)n;
}

static gint64 now_us(void *user)
{
    (void)user;
    return g_get_monotonic_time();
}

static int measure(Board *b)
{
    DtLearnt out = {.accept = "yes", .refuse = "no", .line_check = b->checks};
    const DtLearnJob job = {.wire = {board_write, board_read, NULL, now_us, b}};
    g_autoptr(DtProfile) p = dt_profile_new();
    DtLearner l;
    dt_learner_init(&l, p, &job, &out);
    g_string_assign(l.words, b->checks ? "G90" : "G4 G90 M5"); /* by checks alone */
    l.wait_s = 0.005;
    l.base = "G90";
    l.other = "G90";
    b->held = g_string_new(NULL);
    b->replies = g_string_new(NULL);
    dt_learn_sizes(&l);
    g_assert_no_error(l.error);
    g_assert_cmpint(out.longest_line, ==, b->longest);
    dt_learner_clear(&l);
    g_string_free(b->held, TRUE);
    g_string_free(b->replies, TRUE);
    return out.window;
}

static void test_window_of_any_size(void)
{
    for (int room = 64; room <= 600; room += room % 7 + 9) {
        Board b = {.room = room, .longest = 40};
        g_assert_cmpint(measure(&b), ==, room);
        g_assert_cmpint(b.lost, <=, room / 4 + 8);
    }
}

static void test_line_that_leaves_the_buffer(void)
{
    static const int sizes[] = {64, 100, 127, 128, 200, 255, 256, 300, 512};
    for (size_t i = 0; i < G_N_ELEMENTS(sizes); i++) {
        Board b = {.room = sizes[i], .longest = 40, .takes_out = TRUE};
        g_assert_cmpint(measure(&b), ==, sizes[i]);
    }
}

/* A long reason before a short one, and numbers that count on, make no difference. */
static void test_window_by_the_reasons_of_refusals(void)
{
    for (int room = 64; room <= 600; room += room % 7 + 9) {
        Board b = {.room = room, .longest = 40, .checks = TRUE};
        g_assert_cmpint(measure(&b), ==, room);
        g_assert_cmpint(b.lost, ==, 0);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/learn-sizes/any-window", test_window_of_any_size);
    g_test_add_func("/code/learn-sizes/line-taken-out", test_line_that_leaves_the_buffer);
    g_test_add_func("/code/learn-sizes/by-reasons", test_window_by_the_reasons_of_refusals);
    return g_test_run();
}
