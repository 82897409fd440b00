/* protocol: boards that cannot be asked, that stand at a stop, and that refuse in words of their own:
 * no run waits for ever, and none ends as done with a line that was not taken. */
#include "stage.h"

#include <string.h>

/* Such a board is given the time that the machine is predicted to take: a fast one. */
static void forget_asking(Stage *s)
{
    for (int i = 0; i < 2; i++) {
        s->profile->speed[i] = 200;
        s->profile->acceleration[i] = 5000;
    }
    g_free(s->profile->dialect.ask_state);
    s->profile->dialect.ask_state = g_strdup("");
}

/* It answers the stop only once it is let go on, and nobody can ask whether it stands at it. */
static void test_a_stop_of_a_board_that_cannot_be_asked(void)
{
    for (int check = 0; check < 2; check++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        stage_set(&s,
                  &(FakeFaults){.greeting = GREETING,
                                .check = check,
                                .deaf_to_ask = TRUE,
                                .stops = TRUE,
                                .home_ms = 700},
                  4, 5);
        forget_asking(&s);
        s.options.pens_ready = FALSE;
        gboolean good = stage_draw(&s, &error);
        g_assert_no_error(error);
        g_assert_true(good);
        g_assert_cmpuint(s.changes, ==, 1);
        g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
        g_assert_cmpstr(strokes, ==, "10 11 12 13 ");
        stage_clear(&s);
    }
}

static void test_a_stop_of_a_board_that_can_be_asked(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .stops = TRUE}, 4, 5);
    s.options.pens_ready = FALSE;
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    stage_assert_executed_once(&s);
    stage_clear(&s);
}

/* The limit of a homing is no prediction: waiting it out at the pen change and at the end took over
 * a minute each. */
static void test_a_board_that_cannot_be_asked_is_not_waited_out(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(
        &s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .deaf_to_ask = TRUE, .home_ms = 700},
        4, 5);
    forget_asking(&s);
    const gint64 start_us = g_get_monotonic_time();
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_assert_cmpint((g_get_monotonic_time() - start_us) / G_USEC_PER_SEC, <, 40);
    g_autofree char *strokes = stage_strokes_of(fake_executed(s.fake));
    g_assert_cmpstr(strokes, ==, "10 11 12 13 ");
    stage_clear(&s);
}

/* The 20th line is one of many in a stroke: later ones hide that it is missing. */
static void test_a_refusal_in_other_words_never_ends_as_done(void)
{
    for (int check = 0; check < 2; check++)
        for (int blind = 0; blind < 2; blind++) {
            Stage s;
            g_autoptr(GError) error = NULL;
            stage_set(&s,
                      &(FakeFaults){.greeting = GREETING,
                                    .check = check,
                                    .deaf_to_ask = blind,
                                    .home_ms = 700,
                                    .refuse_at = 20,
                                    .own_refusal = "sorry:23"},
                      4, 20);
            if (blind)
                forget_asking(&s);
            g_assert_false(stage_draw(&s, &error));
            g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
            g_test_message("check %d, blind %d: %s", check, blind, error->message);
            if (strstr(error->message, "sorry:23") == NULL)
                g_error("check %d, blind %d: %s", check, blind, error->message);
            GPtrArray *got = fake_executed(s.fake);
            g_assert_cmpstr(got->pdata[got->len - 1], ==, "M2"); /* lets the motors go */
            stage_clear(&s);
        }
}

/* A doubled answer stands for the next line's; with one too many nobody can tell that the last line
 * was taken. */
static void test_an_answer_too_many_is_no_success(void)
{
    for (int checked = 0; checked < 2; checked++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        stage_set(&s,
                  &(FakeFaults){.greeting = GREETING,
                                .check = checked,
                                .deaf_to_ask = TRUE,
                                .home_ms = 700,
                                .double_reply = 14},
                  4, 5);
        forget_asking(&s);
        const gboolean good = stage_draw(&s, &error);
        g_assert_cmpint(good, ==, checked); /* its answers carry numbers */
        if (!checked)
            g_assert_nonnull(strstr(error->message, "answered more lines than it was sent"));
        stage_clear(&s);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/protocol/one-answer-too-many", test_an_answer_too_many_is_no_success);
    g_test_add_func("/link/protocol/stop-blind", test_a_stop_of_a_board_that_cannot_be_asked);
    g_test_add_func("/link/protocol/stop", test_a_stop_of_a_board_that_can_be_asked);
    g_test_add_func("/link/protocol/not-waited-out",
                    test_a_board_that_cannot_be_asked_is_not_waited_out);
    g_test_add_func("/link/protocol/other-words", test_a_refusal_in_other_words_never_ends_as_done);
    return g_test_run();
}
