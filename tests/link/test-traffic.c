/* traffic: lines and replies over a bad line, in a time of our own. A small board executes what
 * arrives; whatever the noise does, each line is executed once and in order, and the board's
 * receive buffer never overflows. Fixed seeds. */
#include "link/traffic.h"

#include "drawtrue/code.h"

#include <string.h>

enum { LINES = 120, WINDOW = 128, LATENCY_US = 3000 };

typedef struct {
    GRand *rand;
    double noise; /* probability per byte, either way */
    DtTraffic *traffic;
    DtProfile *profile;
    GString *line;  /* what the board has received of a line */
    GQueue replies; /* of Reply */
    unsigned last_n;
    GArray *executed; /* unsigned: the number in each line's X word */
    unsigned taken;   /* lines that the traffic has reported as taken */
    unsigned disagreed, refused;
    gint64 now;
} World;

typedef struct {
    gint64 at;
    char *text;
} Reply;

static gboolean spoil(World *w)
{
    return w->noise > 0 && g_rand_double(w->rand) < w->noise;
}

static void board_says(World *w, const char *format, ...) G_GNUC_PRINTF(2, 3);

static void board_says(World *w, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    char *text = g_strdup_vprintf(format, list);
    va_end(list);
    for (char *c = text; *c; c++)
        if (spoil(w))
            *c ^= 1 << g_rand_int_range(w->rand, 0, 7);
    Reply *r = g_new(Reply, 1);
    *r = (Reply){w->now + LATENCY_US, text};
    g_queue_push_tail(&w->replies, r);
}

static void board_takes(World *w)
{
    const char *l = w->line->str, *check = strstr(l, "(*");
    const unsigned next = w->last_n % 99999 + 1;
    if (check == NULL || dt_code_crc16(l, check - l) != strtoul(check + 2, NULL, 16) || *l != 'N') {
        board_says(w, "refused %u check\n", next);
        return;
    }
    char *body;
    const unsigned n = strtoul(l + 1, &body, 10);
    if (n != next && n != w->last_n) {
        board_says(w, "refused %u order %u\n", n, next);
        return;
    }
    if (n == next) {
        const unsigned x = strtoul(strchr(body, 'X') + 1, NULL, 10);
        g_array_append_val(w->executed, x);
        w->last_n = n;
    }
    board_says(w, "taken %u\n", n);
}

static void board_receives(World *w, char c)
{
    if (w->noise > 0 && g_rand_double(w->rand) < w->noise / 4)
        return; /* lost */
    if (spoil(w))
        c ^= 1 << g_rand_int_range(w->rand, 0, 8);
    if (c == 0x05) {
        board_says(w, "state still x 0.000 y 0.000 pen up line %u switch --\n", w->last_n);
    } else if (c == '\n') {
        board_takes(w);
        g_string_truncate(w->line, 0);
    } else {
        g_string_append_c(w->line, c);
    }
}

static void on_taken(const DtSent *s, void *user)
{
    World *w = user;
    g_assert_cmpuint(s->number, ==, ++w->taken);
}

static void on_refused(const DtSent *s, const char *reason, void *user)
{
    (void)s;
    (void)reason;
    ((World *)user)->refused++;
}

static void on_greeting(const char *text, void *user)
{
    (void)text;
    (void)user;
}

static void on_disagreed(unsigned wanted, void *user)
{
    (void)wanted;
    ((World *)user)->disagreed++;
}

static void open_world(World *w, guint32 seed, double noise)
{
    static const DtTrafficEvents events = {.taken = on_taken,
                                           .refused = on_refused,
                                           .greeting = on_greeting,
                                           .disagreed = on_disagreed};
    *w = (World){.rand = g_rand_new_with_seed(seed), .noise = noise, .now = 1000000};
    w->profile = dt_profile_new();
    w->profile->dialect.window = WINDOW;
    w->traffic = dt_traffic_new(&w->profile->dialect, &events, w);
    w->line = g_string_new(NULL);
    w->executed = g_array_new(FALSE, FALSE, sizeof(unsigned));
    g_queue_init(&w->replies);
}

static void free_reply(gpointer r)
{
    g_free(((Reply *)r)->text);
    g_free(r);
}

static void close_world(World *w)
{
    g_rand_free(w->rand);
    dt_traffic_free(w->traffic);
    dt_profile_free(w->profile);
    g_string_free(w->line, TRUE);
    g_array_unref(w->executed);
    g_queue_clear_full(&w->replies, free_reply);
}

static void send_what_fits(World *w, unsigned *sent)
{
    char text[40];
    for (; *sent < LINES; ++*sent) {
        g_snprintf(text, sizeof text, "G1X%uY%u", *sent + 1, *sent % 7);
        if (!dt_traffic_has_room(w->traffic, text))
            return;
        DtSent s = {.number = *sent + 1, .kind = DT_LINE_MOVE};
        g_strlcpy(s.text, text, sizeof s.text);
        dt_traffic_push(w->traffic, &s, w->now);
        g_assert_cmpuint(dt_traffic_bytes_in_flight(w->traffic), <, WINDOW);
    }
}

static void carry(World *w)
{
    gsize n;
    const char *out = dt_traffic_output(w->traffic, &n);
    g_autofree char *bytes = g_strndup(out, n);
    dt_traffic_written(w->traffic, n);
    for (gsize i = 0; i < n; i++)
        board_receives(w, bytes[i]);
    for (Reply *r; (r = g_queue_peek_head(&w->replies)) != NULL && r->at <= w->now;) {
        dt_traffic_feed(w->traffic, r->text, strlen(r->text), w->now);
        free_reply(g_queue_pop_head(&w->replies));
    }
}

/* TRUE when all lines were taken; a minute of the world's time is enough for any noise here. */
static gboolean talk(World *w)
{
    unsigned sent = 0;
    const gint64 end = w->now + 60 * G_USEC_PER_SEC;
    while (w->taken < LINES && w->now < end && w->disagreed + w->refused == 0) {
        send_what_fits(w, &sent);
        carry(w);
        g_assert_cmpint(dt_traffic_tick(w->traffic, w->now), >, w->now); /* never at once again */
        w->now += 1000;
    }
    return w->taken == LINES;
}

static void assert_executed_in_order(const World *w)
{
    for (guint i = 0; i < w->executed->len; i++)
        g_assert_cmpuint(g_array_index(w->executed, unsigned, i), ==, i + 1);
}

static void test_a_clean_line_is_never_repeated(void)
{
    World w;
    open_world(&w, 1, 0);
    g_assert_true(talk(&w));
    g_assert_cmpuint(w.executed->len, ==, LINES);
    assert_executed_in_order(&w);
    close_world(&w);
}

static void test_noise_never_changes_what_is_executed(void)
{
    unsigned whole = 0;
    for (guint32 seed = 1; seed <= 120; seed++) {
        World w;
        open_world(&w, seed, seed % 2 ? 0.0005 : 0.003);
        whole += talk(&w);
        assert_executed_in_order(&w);
        close_world(&w);
    }
    g_assert_cmpuint(whole, >=, 114); /* the others say that they cannot go on */
}

static void test_numbers_wrap(void)
{
    World w;
    open_world(&w, 1, 0.001);
    dt_traffic_reset(w.traffic, 99960);
    w.last_n = 99959;
    g_assert_true(talk(&w));
    assert_executed_in_order(&w);
    g_assert_cmpuint(w.last_n, ==, 99959 + LINES - 99999);
    close_world(&w);
}

static void test_any_bytes_at_all_are_survived(void)
{
    for (guint32 seed = 1; seed <= 50; seed++) {
        World w;
        open_world(&w, seed, 0);
        unsigned sent = 0;
        for (int i = 0; i < 300; i++) {
            char bytes[64];
            static const char *const words[] = {"taken ", "refused ", "state ", "still ", "line "};
            gsize n = g_rand_int_range(w.rand, 1, sizeof bytes);
            for (gsize k = 0; k < n; k++)
                bytes[k] = (char)(g_rand_boolean(w.rand)
                                      ? g_rand_int_range(w.rand, 0, 256)
                                      : "0123456789 \n"[g_rand_int_range(w.rand, 0, 12)]);
            const char *word = words[g_rand_int_range(w.rand, 0, 5)];
            send_what_fits(&w, &sent);
            dt_traffic_feed(w.traffic, word, strlen(word), w.now);
            dt_traffic_feed(w.traffic, bytes, n, w.now);
            g_assert_cmpint(dt_traffic_tick(w.traffic, w.now), >=, 0);
            w.now += 20000;
        }
        close_world(&w);
    }
}

/* A board without line check whose last answer was lost, and which tells its position in words of
 * its own: where the lines end, they are taken as answered; elsewhere lines are missing. */
static void test_a_position_stands_for_a_lost_answer(void)
{
    static const struct {
        const char *said;
        unsigned taken, disagreed;
    } cases[] = {
        {"at X:5.00 Y:7.00 ready\r\n", 2, 0},
        {"x=5.00,y=7.00\n", 2, 0},
        {"X5.001 Y6.999\n", 2, 0},
        {"at X:4.00 Y:7.00\n", 1, 1},
        {"at Xylophone 5 Y:7.00\n", 1, 0}, /* tells no position */
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        World w;
        open_world(&w, 1, 0);
        w.profile->dialect.line_check = FALSE;
        DtSent line = {.number = 1, .after.at = {5, 0}, .text = "G1X5"};
        dt_traffic_push(w.traffic, &line, 0);
        line.number = 2;
        line.after.at.y = 7;
        dt_traffic_push(w.traffic, &line, 0);
        dt_traffic_feed(w.traffic, "taken\n", 6, 1000);
        g_assert_cmpuint(w.taken, ==, 1);
        const gsize n = strlen(cases[i].said);
        dt_traffic_feed(w.traffic, cases[i].said, n, 3000000);
        g_assert_cmpuint(w.taken, ==, 1); /* it may be on its way still */
        dt_traffic_feed(w.traffic, cases[i].said, n, 3250000);
        g_assert_cmpuint(w.taken, ==, cases[i].taken);
        g_assert_cmpuint(w.disagreed, ==, cases[i].disagreed);
        close_world(&w);
    }
}

/* A board that keeps to a line count that cannot be would be asked for ever; noise that tells one
 * now and then does no harm. */
static void test_an_impossible_count_ends_the_enquiry(void)
{
    World w;
    open_world(&w, 1, 0);
    const DtSent line = {.number = 1, .text = "G1X5"};
    dt_traffic_push(w.traffic, &line, 0);
    for (int i = 0; i < 100; i++) {
        g_autofree char *said =
            g_strdup_printf("state still x 5 y 0 pen up line %d switch --\n", i % 3 ? 40 : 50 + i);
        dt_traffic_feed(w.traffic, said, strlen(said), 1000 + i * 250000);
    }
    g_assert_cmpuint(w.disagreed, ==, 0);
    static const char kept[] = "state still x 5 y 0 pen up line 40 switch --\n";
    for (int i = 0; i < 20 && w.disagreed == 0; i++)
        dt_traffic_feed(w.traffic, kept, strlen(kept), 30000000 + i * 250000);
    g_assert_cmpuint(w.disagreed, ==, 1);
    close_world(&w);
}

/* A board that abandoned its lines begins to count anew; one whose first line was lost has not. */
static void test_a_lost_count_is_noticed(void)
{
    DtBoardState none, one;
    g_assert_true(dt_board_state("state unhomed x 0 y -0.17 pen up line 0 switch --", &none));
    g_assert_true(dt_board_state("state unhomed x 0 y -0.17 pen up line 1 switch --", &one));
    World w;
    open_world(&w, 1, 0);
    const DtSent line = {.number = 1, .text = "G1X5"};
    dt_traffic_push(w.traffic, &line, 0);
    g_assert_false(dt_traffic_count_is_lost(w.traffic, &none));
    dt_traffic_feed(w.traffic, "taken 1\n", 8, 1000);
    g_assert_cmpuint(w.taken, ==, 1);
    g_assert_true(dt_traffic_count_is_lost(w.traffic, &none));
    g_assert_false(dt_traffic_count_is_lost(w.traffic, &one));
    w.profile->dialect.line_check = FALSE; /* such a board counts nothing */
    g_assert_false(dt_traffic_count_is_lost(w.traffic, &none));
    close_world(&w);
}

/* A refusal comes when each line is answered, by answers that somebody forged or of a line sent twice:
 * the enquiry ends, with the board where it should be or not. */
static void test_an_enquiry_with_nothing_in_flight_ends(void)
{
    static const char *const states[] = {"state still x 5 y 0 pen up line 1 switch --\n",
                                         "state still x 0 y 0 pen up line 40 switch --\n"};
    for (int lost = 0; lost < 2; lost++) {
        World w;
        open_world(&w, 1, 0);
        const DtSent line = {.number = 1, .text = "G1X5"};
        dt_traffic_push(w.traffic, &line, 0);
        dt_traffic_feed(w.traffic, "taken 1\n", 8, 1000);
        dt_traffic_feed(w.traffic, "refused 2 order 1\n", 18, 2000);
        g_assert_cmpuint(dt_traffic_in_flight(w.traffic), ==, 0);
        g_assert_true(dt_traffic_waits(w.traffic));
        gint64 now = 2000;
        for (int i = 0; i < 40 && dt_traffic_waits(w.traffic) && w.disagreed == 0; i++) {
            now += 300000;
            dt_traffic_tick(w.traffic, now);
            dt_traffic_feed(w.traffic, states[lost], strlen(states[lost]), now);
        }
        g_assert_cmpint(dt_traffic_waits(w.traffic), ==, lost);
        g_assert_cmpint(dt_traffic_has_room(w.traffic, "G1X6"), ==, !lost);
        g_assert_cmpuint(w.disagreed, ==, lost);
        close_world(&w);
    }
}

/* What the board wants again is asked for as soon as the line is quiet, long before a silence would
 * tell: both ways of saying it, and nothing is sent meanwhile. */
static void test_a_refused_check_is_gone_after_at_once(void)
{
    static const char *const said[] = {"refused 2 check\n", "refused 3 order 2\n"};
    for (gsize i = 0; i < G_N_ELEMENTS(said); i++) {
        World w;
        gsize n;
        open_world(&w, 1, 0);
        for (unsigned k = 1; k <= 3; k++) {
            const DtSent line = {.number = k, .text = "G1X5"};
            dt_traffic_push(w.traffic, &line, 0);
        }
        dt_traffic_output(w.traffic, &n);
        dt_traffic_written(w.traffic, n);
        dt_traffic_feed(w.traffic, "taken 1\n", 8, 1000);
        dt_traffic_feed(w.traffic, said[i], strlen(said[i]), 2000);
        g_assert_false(dt_traffic_has_room(w.traffic, "G1X6"));
        g_assert_cmpint(dt_traffic_tick(w.traffic, 3000), <, 100000);
        dt_traffic_tick(w.traffic, 100000);
        g_assert_cmpstr(dt_traffic_output(w.traffic, &n), ==, "\x05");
        dt_traffic_written(w.traffic, n);
        for (int k = 0; k < 2; k++) {
            static const char state[] = "state still x 0 y 0 pen up line 1 switch --\n";
            dt_traffic_feed(w.traffic, state, strlen(state), 101000 + k);
            dt_traffic_tick(w.traffic, 102000 + k);
        }
        g_assert_nonnull(strstr(dt_traffic_output(w.traffic, &n), "N2G1X5(*"));
        g_assert_cmpuint(w.refused + w.disagreed, ==, 0);
        close_world(&w);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/traffic/nothing-in-flight", test_an_enquiry_with_nothing_in_flight_ends);
    g_test_add_func("/link/traffic/impossible-count", test_an_impossible_count_ends_the_enquiry);
    g_test_add_func("/link/traffic/clean", test_a_clean_line_is_never_repeated);
    g_test_add_func("/link/traffic/noise", test_noise_never_changes_what_is_executed);
    g_test_add_func("/link/traffic/wrap", test_numbers_wrap);
    g_test_add_func("/link/traffic/position", test_a_position_stands_for_a_lost_answer);
    g_test_add_func("/link/traffic/lost-count", test_a_lost_count_is_noticed);
    g_test_add_func("/link/traffic/refused-check", test_a_refused_check_is_gone_after_at_once);
    g_test_add_func("/link/traffic/any-bytes", test_any_bytes_at_all_are_survived);
    return g_test_run();
}
