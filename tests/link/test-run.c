/* run: a program drawn on a small controller of our own that plays every kind of odd reply. What is
 * pinned here: each line is executed once and in order, or the run ends with the right words. */
#include "stage.h"

#include "link/journal.h"

#include <gio/gio.h>
#include <string.h>

static void run_clean(const FakeFaults *faults)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, faults, 4, 20);
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    stage_assert_executed_once(&s);
    g_assert_cmpuint(s.changes, ==, 1);
    g_assert_cmpuint(fake_most_unanswered(s.fake), <, (guint)s.profile->dialect.window + 4);
    stage_clear(&s);
}

static void test_every_line_is_executed_once_in_order(void)
{
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = FALSE});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 2});
}

static void set_text(char **text, const char *to)
{
    g_free(*text);
    *text = g_strdup(to);
}

/* A board that wants blanks between words gets them, in the program's lines and in our own, with line
 * numbers and without. */
static void test_words_stand_apart_where_the_board_needs_it(void)
{
    for (int check = 0; check < 2; check++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = check, .gaps = TRUE}, 4, 5);
        g_autofree char *text = NULL, *words = NULL;
        g_assert_true(g_file_get_contents(s.program, &text, NULL, NULL));
        g_autoptr(GString) spaced = g_string_new(NULL);
        for (const char *c = text; *c; c++) {
            const gboolean word = c > text && g_ascii_isupper(*c) && g_ascii_isdigit(c[-1]);
            g_string_append_printf(spaced, word ? " %c" : "%c", *c);
        }
        g_assert_true(g_file_set_contents(s.program, spaced->str, -1, NULL));
        words = g_strconcat(s.profile->dialect.words, " gap:needed", NULL);
        set_text(&s.profile->dialect.words, words);
        gboolean good = stage_draw(&s, &error);
        g_assert_no_error(error);
        g_assert_true(good);
        stage_assert_executed_once(&s);
        stage_clear(&s);
    }
}

/* A refusal in words that the profile does not know moves nothing; the run must not end as done,
 * though the board stands where its lines end. */
static void test_a_refusal_that_cannot_be_told_is_no_success(void)
{
    static const struct {
        const char *reply, *refuse;
    } cases[] = {{"nak:33", "nak:"}, {"nak 33", "refused"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        stage_set(
            &s, &(FakeFaults){.greeting = GREETING, .refuse_at = 30, .own_refusal = cases[i].reply},
            3, 10);
        set_text(&s.profile->dialect.refuse, cases[i].refuse);
        g_assert_false(stage_draw(&s, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_nonnull(strstr(error->message, i == 0 ? "refuses 'X" : "nak 33"));
        g_assert_null(strchr(s.events->str, 'd'));
        stage_clear(&s);
    }
}

static void test_a_board_that_is_up_already_is_asked(void)
{
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .resumes_silently = TRUE});
}

/* Of a board that cannot be asked only its greeting tells that it is there. The program is long
 * enough for homing to be no part of what it may still have to do at the end. */
static void test_a_board_that_only_greets_is_known_by_it(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .deaf_to_ask = TRUE}, 2, 40);
    g_free(s.profile->dialect.ask_state);
    s.profile->dialect.ask_state = g_strdup("");
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    stage_assert_executed_once(&s);
    stage_clear(&s);
}

static void test_lost_doubled_garbled_and_late_replies(void)
{
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .drop_reply = 14});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .double_reply = 14});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .garble_reply = 14});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .late_reply = 14});
}

static void test_a_garbled_line_is_sent_again(void)
{
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .garble_line = 20});
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .lose_line_end = 20});
}

static void test_an_unasked_hold_is_released(void)
{
    run_clean(&(FakeFaults){.greeting = GREETING, .check = TRUE, .hold_at = 20});
}

static void test_send_and_wait_where_the_window_is_unknown(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 3, 10);
    s.profile->dialect.window = 0;
    g_assert_true(stage_draw(&s, &error));
    stage_assert_executed_once(&s);
    g_assert_cmpuint(fake_most_unanswered(s.fake), <=, 40); /* one line and a question */
    stage_clear(&s);
}

static void fail_with(const FakeFaults *faults, const char *words, int code)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, faults, 4, 20);
    g_assert_false(stage_draw(&s, &error));
    g_assert_error(error, DT_ERROR, code);
    if (strstr(error->message, words) == NULL)
        g_error("'%s' does not say '%s'", error->message, words);
    stage_clear(&s);
}

static void test_what_cannot_be_mended_stops_with_the_right_words(void)
{
    fail_with(&(FakeFaults){.check = TRUE, .deaf_to_ask = TRUE}, "has not answered for 1.5 s",
              DT_ERROR_INPUT);
    fail_with(&(FakeFaults){.check = TRUE, .noise_only = TRUE, .deaf_to_ask = TRUE}, "baud",
              DT_ERROR_INPUT);
    fail_with(&(FakeFaults){.greeting = GREETING, .check = TRUE, .silent_from = 30},
              "has not answered", DT_ERROR_INPUT);
    fail_with(&(FakeFaults){.greeting = GREETING, .refuse_at = 12}, "refuses", DT_ERROR_INPUT);
}

static void test_an_end_switch_is_named(void)
{
    static const struct {
        const char *trips, *says;
    } cases[] = {{"x-", "the X axis ran into its end switch"},
                 {"-y", "the Y axis ran into its end switch"},
                 {"--", "the machine ran into its end switch"}};
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++)
        fail_with(
            &(FakeFaults){
                .greeting = GREETING, .check = TRUE, .trip_at = 25, .trips = cases[i].trips},
            cases[i].says, DT_ERROR_INPUT);
}

/* A board that is held and does not know the profile's byte for going on. */
static void test_a_board_that_stays_held_is_told(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .hold_at = 20}, 4, 20);
    g_free(s.profile->dialect.go_on);
    s.profile->dialect.go_on = g_strdup("\x12");
    g_assert_false(stage_draw(&s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    if (strstr(error->message, "the board stays stopped when the profile's 'go_on' is sent") ==
        NULL)
        g_error("%s", error->message);
    stage_clear(&s);
}

static void test_a_refused_line_is_named_and_the_pen_lifted(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .refuse_at = 13}, 4, 20);
    g_assert_false(stage_draw(&s, &error));
    g_assert_nonnull(strstr(error->message, "job.nc:13: "));
    g_assert_nonnull(strstr(error->message, "0 of 4 strokes are drawn"));
    GPtrArray *got = fake_executed(s.fake);
    g_assert_cmpstr(got->pdata[got->len - 2], ==, "M5");
    g_assert_cmpstr(got->pdata[got->len - 1], ==, "M2"); /* lets the motors go */
    g_assert_nonnull(strchr(s.events->str, 'x'));
    stage_clear(&s);
}

/* With checks a refusal may be noise: the line is sent again, and named when it is refused each
 * time. The board is not thought to have lost its lines. */
static void test_a_line_refused_again_and_again_is_named(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 4, 5);
    g_autofree char *text = NULL;
    g_assert_true(g_file_get_contents(s.program, &text, NULL, NULL));
    char *line = strstr(text, "X11Y5.3\n"); /* in the second stroke */
    g_assert_nonnull(line);
    memcpy(line, "G61Y5.3\n", 8);
    g_assert_true(g_file_set_contents(s.program, text, -1, NULL));
    g_free(s.profile->dialect.words);
    s.profile->dialect.words = g_strdup("G0 G1 G4 G21 G28 G61 G90 M2 M3 M5 F N P S X Y");
    g_assert_false(stage_draw(&s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "refuses 'N"));
    g_assert_nonnull(strstr(error->message, "G61Y5.3"));
    g_assert_nonnull(strstr(error->message, "1 of 4 strokes are drawn"));
    g_assert_null(strchr(s.events->str, 'R'));
    stage_clear(&s);
}

static void pause_at_first(const DtEvent *e, void *user)
{
    Stage *s = user;
    stage_hear(e, user);
    if (e->at.line > 15 && s->pause_after++ == 0)
        dt_run_request(s->run, DT_REQUEST_PAUSE_AT_LIFT, 0);
}

static void test_a_pause_comes_at_the_next_lift(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 5}, 4, 20);
    s.hear = pause_at_first;
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_assert_nonnull(strchr(s.events->str, 'P'));
    stage_assert_executed_once(&s);
    stage_clear(&s);
}

static void hear_turns(const DtEvent *e, void *user)
{
    Stage *s = user;
    if (e->at.state == DT_STATE_PEN_CHANGE && e->text != NULL)
        g_string_append_printf(s->events, "<%s>", e->text);
    stage_hear(e, user);
}

/* Pens may be in the holder beforehand; the paper cannot have been turned. */
static void test_it_waits_until_the_paper_is_turned(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    g_autofree char *text = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 4, 5);
    g_assert_true(s.options.pens_ready);
    g_assert_true(g_file_get_contents(s.program, &text, NULL, NULL));
    g_autoptr(GString) turns = g_string_new(text);
    g_assert_cmpuint(g_string_replace(turns, "(pen red)\nM0\n",
                                      "(turn the paper a quarter turn counter-clockwise)\nM0\n", 0),
                     ==, 1);
    g_assert_true(g_file_set_contents(s.program, turns->str, -1, NULL));
    s.hear = hear_turns;
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    g_assert_nonnull(strstr(s.events->str,
                            "<turn it a quarter turn counter-clockwise, and lay its lower left "
                            "corner where that was before>"));
    stage_assert_executed_once(&s);
    stage_clear(&s);
}

static void park_once(const DtEvent *e, void *user)
{
    Stage *s = user;
    stage_hear(e, user);
    if (e->at.line > 15 && s->pause_after++ == 0)
        dt_run_request(s->run, DT_REQUEST_PARK, 0);
}

/* Away to the park place and back to where the program stood; then nothing is left out or done
 * twice. */
static void test_parked_it_returns_to_the_same_point(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE, .slow_ms = 5}, 4, 20);
    s.hear = park_once;
    s.profile->park = dt_point(3, 4);
    gboolean good = stage_draw(&s, &error);
    g_assert_no_error(error);
    g_assert_true(good);
    GPtrArray *got = fake_executed(s.fake);
    g_autoptr(GPtrArray) want = stage_expected_lines(s.program);
    guint next = 0, parked = 0;
    for (guint i = 0; i < got->len; i++) {
        parked += g_str_has_prefix(got->pdata[i], "G0X3.000Y4.000");
        if (next < want->len && g_str_has_prefix(got->pdata[i], want->pdata[next]))
            next++; /* the first motion after the return says its feed anew */
    }
    g_assert_cmpuint(parked, ==, 1);
    g_assert_cmpuint(next, ==, want->len);
    stage_clear(&s);
}

static void stop_at_change(const DtEvent *e, void *user)
{
    Stage *s = user;
    if (e->kind == DT_EVENT_PEN_CHANGE)
        dt_run_request(s->run, DT_REQUEST_STOP, 0);
}

static void test_a_stop_at_a_pen_change_is_reported_right(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 4, 5);
    s.options.pens_ready = FALSE;
    s.hear = stop_at_change;
    g_assert_false(stage_draw(&s, &error));
    g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
    g_assert_nonnull(strstr(error->message, "2 of 4 strokes are drawn"));
    g_assert_null(strstr(error->message, "no longer answers"));
    stage_clear(&s);
}

/* The lines after the last lift, one behind the other. */
static char *after_last_lift(Stage *s)
{
    GPtrArray *got = fake_executed(s->fake);
    GString *lines = g_string_new(NULL);
    for (guint i = 0; i < got->len; i++) {
        g_string_append_printf(lines, "%s|", (char *)got->pdata[i]);
        if (strcmp(got->pdata[i], "M5") == 0)
            g_string_truncate(lines, 0);
    }
    return g_string_free(lines, FALSE);
}

/* As a place of the bed, whatever mode of distances the program was in. */
static void test_stopped_it_parks(void)
{
    static const struct {
        const char *before_change, *wanted;
    } cases[] = {{"", "G4P0.100|G0X3.000Y4.000|M2|"},
                 {"G91\n", "G4P0.100|G21|S40|G90|G0X3.000Y4.000|M2|"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Stage s;
        g_autoptr(GError) error = NULL;
        stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 4, 5);
        g_autofree char *text = NULL;
        g_assert_true(g_file_get_contents(s.program, &text, NULL, NULL));
        g_auto(GStrv) parts = g_strsplit(text, "M0\n", 2);
        g_autofree char *changed =
            g_strconcat(parts[0], cases[i].before_change, "M0\n", parts[1], NULL);
        g_assert_true(g_file_set_contents(s.program, changed, -1, NULL));
        s.options.pens_ready = FALSE;
        s.hear = stop_at_change;
        s.profile->park = dt_point(3, 4);
        g_assert_false(stage_draw(&s, &error));
        g_assert_error(error, G_IO_ERROR, G_IO_ERROR_CANCELLED);
        g_autofree char *end = after_last_lift(&s);
        g_assert_cmpstr(end, ==, cases[i].wanted);
        stage_clear(&s);
    }
}

static void wait_at_change(const DtEvent *e, void *user)
{
    Stage *s = user;
    if (e->at.state == DT_STATE_OPENING)
        g_assert_true(dt_run_request(s->run, DT_REQUEST_PAUSE_AT_CHANGE, 0));
    if (e->kind == DT_EVENT_PEN_CHANGE && e->at.state == DT_STATE_PEN_CHANGE) {
        g_string_append_c(s->events, 'w');
        dt_run_request(s->run, DT_REQUEST_GO_ON, 0);
    }
}

static void test_it_waits_at_a_pen_change_when_asked(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 4, 5);
    s.hear = wait_at_change;
    g_assert_true(stage_draw(&s, &error));
    g_assert_cmpstr(s.events->str, ==, "w");
    stage_assert_executed_once(&s);
    stage_clear(&s);
}

static void test_ports_that_cannot_be_opened(void)
{
    Stage s;
    g_autoptr(GError) error = NULL;
    stage_set(&s, &(FakeFaults){.greeting = GREETING, .check = TRUE}, 1, 2);
    s.port = "/dev/no-such-port";
    g_assert_false(stage_draw(&s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "no such port"));
    g_clear_error(&error);
    s.port = s.program;
    g_assert_false(stage_draw(&s, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "not a serial port"));
    size_t n; /* of this computer, whatever it has */
    DtLinkPort *ports = dt_link_ports(&n);
    for (size_t i = 0; i < n; i++)
        g_assert_cmpstr(ports[i].path, !=, "");
    dt_link_ports_free(ports, n);
    stage_clear(&s);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/run/gaps", test_words_stand_apart_where_the_board_needs_it);
    g_test_add_func("/link/run/unknown-refusal", test_a_refusal_that_cannot_be_told_is_no_success);
    g_test_add_func("/link/run/once-in-order", test_every_line_is_executed_once_in_order);
    g_test_add_func("/link/run/asked", test_a_board_that_is_up_already_is_asked);
    g_test_add_func("/link/run/only-greets", test_a_board_that_only_greets_is_known_by_it);
    g_test_add_func("/link/run/odd-replies", test_lost_doubled_garbled_and_late_replies);
    g_test_add_func("/link/run/garbled-line", test_a_garbled_line_is_sent_again);
    g_test_add_func("/link/run/hold", test_an_unasked_hold_is_released);
    g_test_add_func("/link/run/send-and-wait", test_send_and_wait_where_the_window_is_unknown);
    g_test_add_func("/link/run/right-words", test_what_cannot_be_mended_stops_with_the_right_words);
    g_test_add_func("/link/run/end-switch", test_an_end_switch_is_named);
    g_test_add_func("/link/run/stays-held", test_a_board_that_stays_held_is_told);
    g_test_add_func("/link/run/refused", test_a_refused_line_is_named_and_the_pen_lifted);
    g_test_add_func("/link/run/refused-again", test_a_line_refused_again_and_again_is_named);
    g_test_add_func("/link/run/pause", test_a_pause_comes_at_the_next_lift);
    g_test_add_func("/link/run/stopped-parks", test_stopped_it_parks);
    g_test_add_func("/link/run/parked", test_parked_it_returns_to_the_same_point);
    g_test_add_func("/link/run/turn", test_it_waits_until_the_paper_is_turned);
    g_test_add_func("/link/run/stop-at-change", test_a_stop_at_a_pen_change_is_reported_right);
    g_test_add_func("/link/run/wait-at-change", test_it_waits_at_a_pen_change_when_asked);
    g_test_add_func("/link/run/ports", test_ports_that_cannot_be_opened);
    return g_test_run();
}
