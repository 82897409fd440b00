/* board: what a session makes of what its board says, by a table for each kind of message; the first
 * trouble is the one that is told. Without a port: the messages are handed over. */
#include "link/run.h"

#include <string.h>

#define SAYS dt_session_traffic_events

typedef struct {
    DtProfile *profile;
    DtSession *session;
} Bench;

static Bench bench_new(void)
{
    Bench b = {.profile = dt_profile_new()};
    b.session = dt_session_new(b.profile, "port");
    return b;
}

static void bench_clear(Bench *b)
{
    b->session->run = NULL;
    dt_session_unref(b->session);
    dt_profile_free(b->profile);
}

static void check_trouble(const DtSession *s, Trouble trouble, const char *text)
{
    g_assert_cmpint(s->trouble, ==, trouble);
    if (trouble != TROUBLE_NONE)
        g_assert_cmpstr(s->trouble_text, ==, text);
}

/* What waits to be sent. */
static void check_sends(const DtSession *s, const char *wanted)
{
    gsize n;
    const char *bytes = dt_traffic_output(s->traffic, &n);
    g_autofree char *text = g_strndup(bytes, n);
    g_assert_cmpstr(text, ==, wanted);
}

static void test_a_greeting_is_a_restart(void)
{
    for (int expected = 0; expected < 2; expected++) {
        Bench b = bench_new();
        b.session->expects_greeting = expected;
        SAYS.greeting("drawtrue controller 1 ready after brown-out", b.session);
        g_assert_true(b.session->greeted);
        check_trouble(b.session, expected ? TROUBLE_NONE : TROUBLE_RESET,
                      "the board restarted (drawtrue controller 1 ready after brown-out)");
        SAYS.refused(NULL, "later", b.session); /* the first one is the cause */
        check_trouble(b.session, expected ? TROUBLE_REFUSED : TROUBLE_RESET,
                      expected ? "the controller refuses: later"
                               : "the board restarted (drawtrue controller 1 ready after "
                                 "brown-out)");
        bench_clear(&b);
    }
}

static void test_a_refusal_names_its_line(void)
{
    static const struct {
        gboolean expected, in_a_run;
        const char *line; /* NULL: it is not known */
        size_t number;    /* in the program; 0: one of our own */
        const char *text; /* NULL: no trouble */
    } cases[] = {
        {FALSE, FALSE, "M5\n", 0, "the controller refuses 'M5': unknown word"},
        {FALSE, TRUE, "M5\n", 0, "the controller refuses 'M5': unknown word"},
        {FALSE, FALSE, "X1\n", 12, "the controller refuses 'X1': unknown word"},
        {FALSE, TRUE, "X1\n", 12, "/job.nc:12: the controller refuses 'X1': unknown word"},
        {FALSE, TRUE, NULL, 0, "the controller refuses: unknown word"},
        {TRUE, TRUE, "X1\n", 12, NULL},
        {TRUE, FALSE, NULL, 0, NULL},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Bench b = bench_new();
        DtRun run = {.session = b.session, .program_path = (char *)"/job.nc"};
        DtSent line = {.number = cases[i].number};
        b.session->run = cases[i].in_a_run ? &run : NULL;
        b.session->expects_refusals = cases[i].expected;
        if (cases[i].line) {
            g_strlcpy(line.text, cases[i].line, sizeof line.text);
            line.len = strlen(line.text);
        }
        SAYS.refused(cases[i].line ? &line : NULL, "unknown word", b.session);
        check_trouble(b.session, cases[i].text ? TROUBLE_REFUSED : TROUBLE_NONE, cases[i].text);
        bench_clear(&b);
    }
}

/* As it comes over the wire, from a board that checks no lines: the reason without its blanks, and
 * without the number of a line. */
static void test_the_reason_of_a_refusal(void)
{
    static const struct {
        const char *said, *reason;
    } cases[] = {
        {"refused unknown word\n", "unknown word"},
        {"refused   unknown word\r\n", "unknown word"},
        {"refused 4 unknown word\n", "unknown word"},
        {"refused 4  unknown word\n", "unknown word"},
        {"refused\n", ""},
        {"refused 4\n", ""},
        {"refused 2 words\n", "words"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Bench b = bench_new();
        const DtSent line = {.kind = DT_LINE_OTHER, .text = "M7"};
        g_autofree char *wanted =
            g_strdup_printf("the controller refuses 'M7': %s", cases[i].reason);
        b.profile->dialect.line_check = FALSE;
        dt_traffic_push(b.session->traffic, &line, 1000);
        dt_traffic_feed(b.session->traffic, cases[i].said, strlen(cases[i].said), 2000);
        check_trouble(b.session, TROUBLE_REFUSED, wanted);
        bench_clear(&b);
    }
}

static void test_states_that_are_trouble(void)
{
    static const struct {
        gboolean homed, check, expects_greeting;
        DtBoardState state;
        Trouble trouble;
        const char *text;
    } cases[] = {
        {TRUE,
         TRUE,
         FALSE,
         {.word = DT_BOARD_STILL, .has_line = TRUE, .line = 4},
         TROUBLE_NONE,
         ""},
        {FALSE, TRUE, FALSE, {.word = DT_BOARD_UNHOMED, .has_line = TRUE}, TROUBLE_NONE, ""},
        {TRUE,
         TRUE,
         FALSE,
         {.word = DT_BOARD_UNHOMED, .has_line = TRUE},
         TROUBLE_RESET,
         "the board restarted"},
        {TRUE,
         TRUE,
         FALSE,
         {.word = DT_BOARD_UNHOMED, .has_line = TRUE, .line = 4, .at_switch = {TRUE, FALSE}},
         TROUBLE_SWITCH,
         "the X axis ran into its end switch"},
        {TRUE,
         TRUE,
         FALSE,
         {.word = DT_BOARD_UNHOMED, .has_line = TRUE, .line = 4, .at_switch = {FALSE, TRUE}},
         TROUBLE_SWITCH,
         "the Y axis ran into its end switch"},
        {TRUE,
         TRUE,
         FALSE,
         {.word = DT_BOARD_UNHOMED, .has_line = TRUE, .line = 4, .at_switch = {TRUE, TRUE}},
         TROUBLE_SWITCH,
         "the X axis ran into its end switch"},
        {TRUE,
         TRUE,
         FALSE,
         {.word = DT_BOARD_UNHOMED, .has_line = TRUE, .line = 4},
         TROUBLE_SWITCH,
         "the machine ran into its end switch"},
        {TRUE, TRUE, TRUE, {.word = DT_BOARD_UNHOMED, .has_line = TRUE}, TROUBLE_NONE, ""},
        {TRUE,
         TRUE,
         FALSE,
         {.word = DT_BOARD_STILL, .has_line = TRUE, .x = 1, .y = 2.5, .pen_down = TRUE},
         TROUBLE_ABANDONED,
         "the board has dropped its lines: it stands at X 1.000 Y 2.500 mm, the pen down"},
        {TRUE,
         TRUE,
         FALSE,
         {.word = DT_BOARD_MOVING, .has_line = TRUE, .x = 1, .y = 2.5},
         TROUBLE_ABANDONED,
         "the board has dropped its lines: it stands at X 1.000 Y 2.500 mm, the pen up"},
        {TRUE, TRUE, TRUE, {.word = DT_BOARD_STILL, .has_line = TRUE}, TROUBLE_NONE, ""},
        {TRUE, FALSE, FALSE, {.word = DT_BOARD_STILL, .has_line = TRUE}, TROUBLE_NONE, ""},
        {FALSE, TRUE, FALSE, {.word = DT_BOARD_STILL, .has_line = TRUE}, TROUBLE_NONE, ""},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Bench b = bench_new();
        b.session->homed = cases[i].homed;
        b.session->expects_greeting = cases[i].expects_greeting;
        b.profile->dialect.line_check = cases[i].check;
        SAYS.state(&cases[i].state, b.session);
        g_assert_true(b.session->heard_state);
        g_assert_cmpint(b.session->state.word, ==, cases[i].state.word);
        check_trouble(b.session, cases[i].trouble, cases[i].text);
        check_sends(b.session, "");
        bench_clear(&b);
    }
}

/* Noise may look like the byte that holds: a hold or a stop that nobody asked for is let go on, a dozen
 * times, and then it is no noise. At last, while the pen is lifted, that comes before anything else. */
static void test_a_hold_that_nobody_asked_for_is_let_go_on(void)
{
    enum { TRIES = 12 };
    static const struct {
        DtBoardWord word;
        gboolean expects_hold, expects_stop, at_last, goes_on;
    } cases[] = {
        {DT_BOARD_HELD, FALSE, FALSE, FALSE, TRUE},
        {DT_BOARD_HELD, TRUE, FALSE, FALSE, FALSE},
        {DT_BOARD_HELD, FALSE, TRUE, FALSE, TRUE},
        {DT_BOARD_STOPPED, FALSE, FALSE, FALSE, TRUE},
        {DT_BOARD_STOPPED, FALSE, TRUE, FALSE, FALSE},
        {DT_BOARD_STOPPED, TRUE, FALSE, FALSE, TRUE},
        {DT_BOARD_STILL, FALSE, FALSE, FALSE, FALSE},
        {DT_BOARD_MOVING, FALSE, FALSE, FALSE, FALSE},
        {DT_BOARD_HELD, FALSE, FALSE, TRUE, TRUE},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Bench b = bench_new();
        const DtBoardState state = {.word = cases[i].word, .has_line = TRUE, .line = 3};
        const DtBoardState moves = {.word = DT_BOARD_MOVING, .has_line = TRUE, .line = 3};
        b.session->expects_hold = cases[i].expects_hold;
        b.session->expects_stop = cases[i].expects_stop;
        b.session->lifts_at_last = b.session->expects_greeting = cases[i].at_last;
        g_autoptr(GString) wanted = g_string_new(NULL);
        for (int k = 0; k < TRIES; k++) {
            SAYS.state(&state, b.session);
            g_string_append(wanted, cases[i].goes_on ? b.profile->dialect.go_on : "");
        }
        check_trouble(b.session, TROUBLE_NONE, "");
        check_sends(b.session, wanted->str);
        if (cases[i].goes_on && i % 2 == 0) { /* once it goes on they are counted anew */
            SAYS.state(&moves, b.session);
            g_assert_cmpuint(b.session->stays, ==, 0);
        } else {
            SAYS.state(&state, b.session);
            check_trouble(b.session, cases[i].goes_on ? TROUBLE_REFUSED : TROUBLE_NONE,
                          "the board stays stopped when the profile's 'go_on' is sent; 'drawtrue "
                          "learn' finds out how this controller goes on");
        }
        bench_clear(&b);
    }
}

static void test_a_board_that_disagrees(void)
{
    static const struct {
        unsigned wanted;
        const char *text;
    } cases[] = {{0, "the board has stopped, but not where the lines sent to it end"},
                 {17, "the board asks again for line 17, which it had accepted"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Bench b = bench_new();
        SAYS.disagreed(cases[i].wanted, b.session);
        g_assert_cmpuint(b.session->wanted, ==, cases[i].wanted);
        check_trouble(b.session, TROUBLE_ABANDONED, cases[i].text);
        bench_clear(&b);
    }
}

/* Homing is known from its line, and the state after each line is that of the machine. */
static void test_lines_that_are_taken(void)
{
    Bench b = bench_new();
    DtSession *s = b.session;
    const gint64 before = g_get_monotonic_time();
    s->answered_us = before;
    DtSent line = {.kind = DT_LINE_MOVE, .seconds = 2, .after = {.at = {5, 6}, .pen_down = TRUE}};
    SAYS.taken(&line, s);
    g_assert_false(s->homed);
    g_assert_cmpfloat(s->taken.at.x, ==, 5);
    g_assert_true(s->taken.pen_down);
    g_assert_cmpint(s->answered_us, >=, before);
    g_assert_cmpint(s->still_us, >=, before + 2 * G_USEC_PER_SEC); /* then it will have moved */
    SAYS.taken(&line, s);                                          /* one after the other */
    g_assert_cmpint(s->still_us, >=, before + 4 * G_USEC_PER_SEC);
    g_assert_cmpint(s->still_us, <, before + 5 * G_USEC_PER_SEC);
    line = (DtSent){.kind = DT_LINE_HOME};
    SAYS.taken(&line, s);
    g_assert_true(s->homed);
    bench_clear(&b);
}

static void test_a_place_is_within_a_step(void)
{
    Bench b = bench_new();
    DtSession *s = b.session;
    b.profile->steps_per_mm[0] = 100;
    b.profile->steps_per_mm[1] = 20;
    s->state.x = 10;
    s->state.y = 20;
    g_assert_true(dt_session_stands_at(s, dt_point(10, 20)));
    for (int sign = -1; sign <= 1; sign += 2) {
        g_assert_true(dt_session_stands_at(s, dt_point(10 + sign * 0.0199, 20)));
        g_assert_false(dt_session_stands_at(s, dt_point(10 + sign * 0.0201, 20)));
        g_assert_true(dt_session_stands_at(s, dt_point(10, 20 + sign * 0.0599)));
        g_assert_false(dt_session_stands_at(s, dt_point(10, 20 + sign * 0.0601)));
    }
    g_assert_true(dt_session_can_ask(s));
    s->reports_no_position = TRUE;
    g_assert_false(dt_session_can_ask(s));
    bench_clear(&b);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/board-says/greeting", test_a_greeting_is_a_restart);
    g_test_add_func("/link/board-says/refusal", test_a_refusal_names_its_line);
    g_test_add_func("/link/board-says/reason", test_the_reason_of_a_refusal);
    g_test_add_func("/link/board-says/trouble", test_states_that_are_trouble);
    g_test_add_func("/link/board-says/hold", test_a_hold_that_nobody_asked_for_is_let_go_on);
    g_test_add_func("/link/board-says/disagreed", test_a_board_that_disagrees);
    g_test_add_func("/link/board-says/taken", test_lines_that_are_taken);
    g_test_add_func("/link/board-says/place", test_a_place_is_within_a_step);
    return g_test_run();
}
