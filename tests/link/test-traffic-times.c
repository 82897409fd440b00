/* traffic: when it asks, sends again, gives up and believes, moment by moment; in a time of our own. */
#include "link/traffic.h"

#include <string.h>

#define START 1000000
#define STATE(line) "state still x 0 y 0 pen up line " line " switch --\n"

typedef struct {
    DtProfile *profile;
    DtTraffic *t;
    unsigned taken, refused, disagreed, repeated, states, greetings;
    unsigned wanted;
    GString *reasons, *others;
} Talk;

static void on_taken(const DtSent *s, void *user)
{
    Talk *k = user;
    g_assert_cmpuint(s->number, ==, ++k->taken);
}

static void on_refused(const DtSent *s, const char *reason, void *user)
{
    Talk *k = user;
    k->refused++;
    g_string_append_printf(k->reasons, "%zu %s;", s ? s->number : 0, reason);
}

static void on_greeting(const char *text, void *user)
{
    (void)text;
    ((Talk *)user)->greetings++;
}

static void on_state(const DtBoardState *s, void *user)
{
    (void)s;
    ((Talk *)user)->states++;
}

static void on_disagreed(unsigned wanted, void *user)
{
    ((Talk *)user)->disagreed++;
    ((Talk *)user)->wanted = wanted;
}

static void on_repeated(const DtSent *from, void *user)
{
    (void)from;
    ((Talk *)user)->repeated++;
}

static void on_other(const char *text, void *user)
{
    g_string_append_printf(((Talk *)user)->others, "%s;", text);
}

static void set_text(char **field, const char *text)
{
    g_free(*field);
    *field = g_strdup(text);
}

static void begin(Talk *k, gboolean check, const char *ask)
{
    static const DtTrafficEvents events = {.taken = on_taken,
                                           .refused = on_refused,
                                           .greeting = on_greeting,
                                           .state = on_state,
                                           .disagreed = on_disagreed,
                                           .repeated = on_repeated,
                                           .other = on_other};
    *k = (Talk){
        .profile = dt_profile_new(), .reasons = g_string_new(NULL), .others = g_string_new(NULL)};
    k->profile->dialect.line_check = check;
    set_text(&k->profile->dialect.ask_state, ask);
    k->t = dt_traffic_new(&k->profile->dialect, &events, k);
}

static void end(Talk *k)
{
    dt_traffic_free(k->t);
    dt_profile_free(k->profile);
    g_string_free(k->reasons, TRUE);
    g_string_free(k->others, TRUE);
}

static void push(Talk *k, size_t number, double dwell_s, double seconds, gint64 now)
{
    DtSent s = {.number = number, .dwell_s = dwell_s, .seconds = seconds, .text = "G1X5"};
    dt_traffic_push(k->t, &s, now);
}

static void hear(Talk *k, const char *text, gint64 now)
{
    dt_traffic_feed(k->t, text, strlen(text), now);
}

/* What is to be written, all of which then is. */
static char *written(Talk *k)
{
    gsize n;
    const char *out = dt_traffic_output(k->t, &n);
    char *text = g_strndup(out, n);
    dt_traffic_written(k->t, n);
    return text;
}

static void assert_written(Talk *k, const char *wanted)
{
    g_autofree char *text = written(k);
    g_assert_cmpstr(text, ==, wanted);
}

/* 0.3 s after the last answer it asks, and each quarter of a second from then on; once at a time. */
static void test_silence_is_asked_into(void)
{
    Talk k;
    begin(&k, TRUE, "\x05");
    g_assert_cmpint(dt_traffic_tick(k.t, START), ==, G_MAXINT64); /* nothing is waited for */
    g_assert_false(dt_traffic_waits(k.t));
    push(&k, 1, 0, 0, START);
    push(&k, 2, 0, 0, START + 200000); /* does not begin the silence anew */
    g_assert_true(dt_traffic_waits(k.t));
    g_free(written(&k));
    g_assert_cmpint(dt_traffic_tick(k.t, START + 299999), ==, START + 300000);
    assert_written(&k, "");
    g_assert_cmpint(dt_traffic_tick(k.t, START + 300000), ==, START + 550000);
    g_assert_cmpint(dt_traffic_tick(k.t, START + 549999), ==, START + 550000);
    g_assert_cmpint(dt_traffic_tick(k.t, START + 550000), ==, START + 800000);
    assert_written(&k, "\x05"); /* the first was not written yet */
    g_assert_cmpint(dt_traffic_tick(k.t, START + 800000), ==, START + 1050000);
    assert_written(&k, "\x05");
    hear(&k, "taken 1\n", START + 900000);
    g_assert_cmpint(dt_traffic_tick(k.t, START + 1050000), ==, START + 1200000);
    assert_written(&k, "");
    g_assert_cmpint(dt_traffic_alive_us(k.t), ==, START + 900000);
    hear(&k, "what\n", START + 1100000); /* does not add up: it asks at once */
    g_assert_cmpint(dt_traffic_tick(k.t, START + 1100000), ==, START + 1350000);
    assert_written(&k, "\x05");
    end(&k);
}

/* Whatever does not add up is asked into at once, until two answers agree; then after the silence again. */
static void test_what_does_not_add_up_is_asked_into(void)
{
    static const struct {
        const char *said;
        gboolean at_once;
    } cases[] = {{"taken 1\n", FALSE},          {"taken 2\n", TRUE},  {"what\n", TRUE},
                 {"state neither nor\n", TRUE}, {"taken 9\n", FALSE}, {"taken\n", FALSE}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Talk k;
        begin(&k, TRUE, "\x05");
        for (size_t line = 1; line <= 3; line++)
            push(&k, line, 0, 5, START);
        g_free(written(&k));
        gint64 now = START + 1000;
        hear(&k, cases[i].said, now);
        const gint64 next = dt_traffic_tick(k.t, now);
        assert_written(&k, cases[i].at_once ? "\x05" : "");
        if (cases[i].at_once) {
            g_assert_cmpint(next, ==, now + 250000);
            for (int k2 = 0; k2 < 2; k2++) {
                now += 1000;
                hear(&k, "state moving x 0 y 0 pen up line 1 switch --\n", now);
                dt_traffic_tick(k.t, now);
                assert_written(&k, k2 ? "" : "\x05");
            }
            g_assert_cmpuint(k.states, ==, 2);
            dt_traffic_tick(k.t, now + 260000);
            assert_written(&k, "");
        }
        end(&k);
    }
}

/* A board that cannot be asked is given the time of its work and two seconds; then all is sent again, eight
 * times at most. */
static void test_a_board_that_cannot_be_asked(void)
{
    static const char *const hints[] = {"", "no such word\n"};
    for (gsize h = 0; h < G_N_ELEMENTS(hints); h++) {
        Talk k;
        begin(&k, TRUE, "");
        push(&k, 1, 0, 1.5, START);
        push(&k, 2, 0, 0.5, START);
        g_assert_cmpfloat(dt_traffic_work_s(k.t), ==, 2);
        g_autofree char *both = written(&k);
        hear(&k, hints[h], START);
        gint64 now = START + 4000000;
        g_assert_cmpint(dt_traffic_tick(k.t, START + 1), ==, now);
        for (unsigned i = 1; i <= 8; i++) {
            g_assert_cmpint(dt_traffic_tick(k.t, now - 1), ==, now);
            g_assert_cmpint(dt_traffic_tick(k.t, now), ==, now + 60000);
            assert_written(&k, "");
            g_assert_false(dt_traffic_has_room(k.t, "G1"));
            g_assert_cmpint(dt_traffic_tick(k.t, now + 60000), ==, now + 360000);
            assert_written(&k, both);
            g_assert_cmpuint(k.repeated, ==, i);
            g_assert_true(dt_traffic_has_room(k.t, "G1"));
            now += 4000000;
        }
        g_assert_cmpuint(k.refused, ==, 0);
        dt_traffic_tick(k.t, now);
        dt_traffic_tick(k.t, now + 60000);
        g_assert_cmpstr(k.reasons->str, ==, h ? "1 no such word;" : "1 it is never taken;");
        assert_written(&k, "");
        end(&k);
    }
    Talk k;
    begin(&k, FALSE, ""); /* without numbers nothing can be sent again */
    push(&k, 1, 0, 0, START);
    g_assert_cmpint(dt_traffic_tick(k.t, START + 100000000), ==, G_MAXINT64);
    end(&k);
}

/* From a refusal to the lines that are sent again: quiet, a question, two answers that agree. */
static void refuse_once(Talk *k, const char *refusal, gint64 *now)
{
    hear(k, refusal, *now);
    g_assert_cmpint(dt_traffic_tick(k->t, *now + 59999), ==, *now + 60000);
    g_assert_cmpint(dt_traffic_tick(k->t, *now + 60000), ==, *now + 310000);
    assert_written(k, "\x05");
    hear(k, STATE("0"), *now + 70000);
    dt_traffic_tick(k->t, *now + 70000); /* asks for the second at once */
    assert_written(k, "\x05");
    hear(k, STATE("0"), *now + 80000);
    *now += 100000;
}

/* Noise may have made a refusal: it is believed the fourth time. One that says itself that noise made it
 * never is. */
static void test_a_refusal_is_believed_the_fourth_time(void)
{
    Talk k;
    begin(&k, TRUE, "\x05");
    push(&k, 1, 0, 0, START);
    g_autofree char *line = written(&k);
    gint64 now = START;
    for (unsigned i = 1; i <= 3; i++) {
        refuse_once(&k, "refused 1 speed\n", &now);
        assert_written(&k, line);
        g_assert_cmpuint(k.repeated, ==, i);
    }
    for (unsigned i = 4; i <= 8; i++) {
        refuse_once(&k, i % 2 ? "refused 1 check\n" : "refused 5 order 1\n", &now);
        g_assert_cmpuint(dt_traffic_wanted(k.t), ==, 1);
        assert_written(&k, line);
    }
    g_assert_cmpuint(k.refused, ==, 0);
    hear(&k, "refused 1 speed\n", now);
    g_assert_cmpstr(k.reasons->str, ==, "1 speed;");
    end(&k);
}

/* A board that wants a line which it answered long ago counts otherwise: after the third time. */
static void test_a_line_that_is_wanted_in_vain(void)
{
    Talk k;
    begin(&k, TRUE, "\x05");
    push(&k, 1, 0, 0, START);
    gint64 now = START;
    g_free(written(&k));
    for (unsigned i = 1; i <= 3; i++) {
        g_assert_cmpuint(k.disagreed, ==, 0);
        refuse_once(&k, "refused 1 order 77\n", &now);
        g_free(written(&k));
    }
    g_assert_cmpuint(k.disagreed, ==, 1);
    g_assert_cmpuint(k.wanted, ==, 77);
    end(&k);
}

/* Answers that overtake one another count when those before them have come. */
static void test_answers_out_of_order(void)
{
    Talk k;
    begin(&k, TRUE, "\x05");
    for (size_t i = 1; i <= 4; i++)
        push(&k, i, 0, 0, START);
    const gsize all = dt_traffic_bytes_in_flight(k.t);
    hear(&k, "taken 3\ntaken 2\n", START);
    g_assert_cmpuint(k.taken, ==, 0);
    hear(&k, "taken 9\ntaken 1x\ntaken\n", START); /* none of those in flight */
    g_assert_cmpuint(k.taken, ==, 0);
    hear(&k, "taken 1\n", START);
    g_assert_cmpuint(k.taken, ==, 3);
    g_assert_cmpuint(dt_traffic_in_flight(k.t), ==, 1);
    g_assert_cmpuint(dt_traffic_bytes_in_flight(k.t), ==, all / 4);
    g_assert_cmpuint(dt_traffic_oldest(k.t)->number, ==, 4);
    g_assert_cmpuint(dt_traffic_unasked(k.t), ==, 0);
    hear(&k, "taken 4\n", START);
    g_assert_null(dt_traffic_oldest(k.t));
    hear(&k, "taken 4\n", START);
    g_assert_cmpuint(dt_traffic_unasked(k.t), ==, 1);
    dt_traffic_reset(k.t, 50);
    g_assert_cmpuint(dt_traffic_unasked(k.t), ==, 0);
    push(&k, 5, 0, 0, START);
    g_assert_cmpuint(dt_traffic_oldest(k.t)->n, ==, 50);
    end(&k);
}

/* The window holds one byte less than the buffer; without one each line waits for its answer. */
static void test_room(void)
{
    Talk k;
    begin(&k, FALSE, "\x05");
    k.profile->dialect.window = 16;
    g_assert_true(dt_traffic_has_room(k.t, "12345678901234")); /* and its end */
    g_assert_false(dt_traffic_has_room(k.t, "123456789012345"));
    push(&k, 1, 0, 0, START); /* 5 bytes */
    g_assert_true(dt_traffic_has_room(k.t, "123456789"));
    g_assert_false(dt_traffic_has_room(k.t, "1234567890"));
    k.profile->dialect.window = 0;
    g_assert_false(dt_traffic_has_room(k.t, ""));
    hear(&k, "taken\n", START);
    g_assert_true(dt_traffic_has_room(k.t, "G1X1"));
    k.profile->dialect.window = 1000000;
    for (size_t i = 0; i < 1024; i++) {
        g_assert_true(dt_traffic_has_room(k.t, "G1X5"));
        push(&k, 2 + i, 0, 0, START);
    }
    g_assert_false(dt_traffic_has_room(k.t, "G1X5"));
    end(&k);
}

/* What acts at once overtakes lines, in the order in which it was said. */
static void test_urgent_bytes_overtake(void)
{
    Talk k;
    begin(&k, FALSE, "\x05");
    push(&k, 1, 0, 0, START);
    dt_traffic_urgent(k.t, "!");
    dt_traffic_urgent(k.t, "?");
    dt_traffic_written(k.t, 1);
    dt_traffic_urgent(k.t, "~");
    assert_written(&k, "?~G1X5\n");
    dt_traffic_urgent(k.t, "a");
    push(&k, 2, 0, 0, START);
    dt_traffic_urgent(k.t, "b");
    assert_written(&k, "abG1X5\n");
    end(&k);
    begin(&k, TRUE, "\x05");
    set_text(&k.profile->dialect.words, "G1 X gap:needed");
    DtTraffic *gaps =
        dt_traffic_new(&k.profile->dialect, &(DtTrafficEvents){.taken = on_taken}, &k);
    const DtSent line = {.number = 1, .text = "G1 X5"};
    dt_traffic_push(gaps, &line, START);
    gsize n;
    g_assert_true(g_str_has_prefix(dt_traffic_output(gaps, &n), "N1 G1 X5(*"));
    dt_traffic_free(gaps);
    end(&k);
}

/* A board that says of its own accord that it lives is waited for, but not for ever. */
static void test_notices_keep_it_alive_for_a_time(void)
{
    Talk k;
    begin(&k, FALSE, "\x05");
    set_text(&k.profile->dialect.notices, "busy");
    push(&k, 1, 0, 0, START);
    hear(&k, "busy 7\n", START + 5000000);
    g_assert_cmpint(dt_traffic_alive_us(k.t), ==, START + 5000000);
    hear(&k, "busy\n", START + 599999999);
    g_assert_cmpint(dt_traffic_alive_us(k.t), ==, START + 599999999);
    hear(&k, "busy\n", START + 600000000);
    g_assert_cmpint(dt_traffic_alive_us(k.t), ==, START + 599999999);
    g_assert_cmpuint(k.taken + k.refused, ==, 0);
    g_assert_cmpstr(k.others->str, ==, "");
    end(&k);
}

/* Replies of up to 200 bytes are read; a longer one is noise, and what follows it is read again. */
static void test_long_replies_and_noise(void)
{
    Talk k;
    size_t noise, all;
    begin(&k, FALSE, "\x05");
    push(&k, 1, 0, 0, START);
    g_autofree char *most = g_strnfill(200, 'x');
    g_autofree char *reply = g_strconcat(most, "\ny", most, "\n", NULL);
    g_autofree char *wanted = g_strconcat(most, ";", NULL);
    hear(&k, reply, START);
    g_assert_cmpstr(k.others->str, ==, wanted);
    g_assert_cmpstr(dt_traffic_unknown_reply(k.t), ==, most);
    hear(&k, "other\rtaken\r\n", START);
    g_assert_cmpstr(dt_traffic_unknown_reply(k.t), ==, ""); /* all is answered */
    g_assert_cmpuint(k.taken, ==, 1);
    hear(&k, "\x01\x7f\x80\t~ \n", START);
    dt_traffic_noise(k.t, &noise, &all);
    g_assert_cmpuint(noise, ==, 3);
    g_assert_cmpuint(all, ==, 403 + 13 + 7);
    end(&k);
}

/* A board that counts no lines stands: where they end they are done, if the pen is as it should be. Its
 * dwells, a silence and two seconds are waited for. */
static void test_a_board_without_numbers_is_reconciled(void)
{
    static const struct {
        const char *said;
        unsigned taken, disagreed;
    } cases[] = {{"state still x 5 y 7 pen down line 0 switch --\n", 2, 0},
                 {"state unhomed x 5.049 y 6.951 pen down line 0 switch --\n", 2, 0},
                 {"state still x 5.051 y 7 pen down line 0 switch --\n", 0, 1},
                 {"state still x 5 y 6.949 pen down line 0 switch --\n", 0, 1},
                 {"state still x 5 y 7 pen up line 0 switch --\n", 0, 1},
                 {"state moving x 5 y 7 pen down line 0 switch --\n", 0, 0},
                 {"state held x 5 y 7 pen down line 0 switch --\n", 0, 0}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Talk k;
        begin(&k, FALSE, "\x05");
        DtSent line = {
            .number = 1, .dwell_s = 1.5, .after = {.at = {5, 7}, .pen_down = TRUE}, .text = "G1"};
        dt_traffic_push(k.t, &line, START);
        line.number = 2;
        dt_traffic_push(k.t, &line, START);
        hear(&k, cases[i].said, START + 5300000);
        g_assert_cmpuint(k.taken + k.disagreed, ==, 0);
        g_assert_cmpuint(k.states, ==, 1);
        hear(&k, cases[i].said, START + 5300001);
        g_assert_cmpuint(k.taken, ==, cases[i].taken);
        g_assert_cmpuint(k.disagreed, ==, cases[i].disagreed);
        g_assert_cmpuint(k.wanted, ==, 0);
        end(&k);
    }
    Talk k;
    begin(&k, FALSE, "\x05"); /* it may have refused a line in words of its own */
    push(&k, 1, 0, 0, START);
    hear(&k, "never heard of\n", START);
    hear(&k, STATE("0"), START + 2300001);
    g_assert_cmpuint(k.taken, ==, 0); /* at 0, 0 the line ends, too */
    g_assert_cmpstr(k.reasons->str, ==, "0 never heard of;");
    end(&k);
}

/* Answers that noise ate are learnt from its state: two that agree. */
static void test_lost_answers_are_learnt_from_the_state(void)
{
    Talk k;
    begin(&k, TRUE, "\x05");
    for (size_t i = 1; i <= 3; i++)
        push(&k, i, 0, 0, START);
    g_free(written(&k));
    hear(&k, STATE("1"), START + 1000);
    g_assert_cmpuint(k.taken, ==, 0);
    dt_traffic_tick(k.t, START + 1000); /* the second question goes out at once */
    assert_written(&k, "\x05");
    hear(&k, STATE("2"), START + 2000); /* another one: it is asked again */
    g_assert_cmpuint(k.taken, ==, 0);
    hear(&k, "state moving x 0 y 0 pen up line 2 switch --\n", START + 3000);
    g_assert_cmpuint(k.taken, ==, 0); /* in another state */
    hear(&k, "state moving x 0 y 0 pen up line 2 switch --\n", START + 4000);
    g_assert_cmpuint(k.taken, ==, 2);
    g_assert_cmpuint(dt_traffic_in_flight(k.t), ==, 1);
    /* it stands and waits for the third, long after: that was lost on the way */
    for (int i = 0; i < 2; i++) {
        g_assert_true(dt_traffic_has_room(k.t, "G1"));
        hear(&k, STATE("2"), START + 1000000 + i);
    }
    g_assert_false(dt_traffic_has_room(k.t, "G1"));
    end(&k);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/link/traffic-times/adds-up", test_what_does_not_add_up_is_asked_into);
    g_test_add_func("/link/traffic-times/silence", test_silence_is_asked_into);
    g_test_add_func("/link/traffic-times/blind", test_a_board_that_cannot_be_asked);
    g_test_add_func("/link/traffic-times/fourth-time", test_a_refusal_is_believed_the_fourth_time);
    g_test_add_func("/link/traffic-times/in-vain", test_a_line_that_is_wanted_in_vain);
    g_test_add_func("/link/traffic-times/out-of-order", test_answers_out_of_order);
    g_test_add_func("/link/traffic-times/room", test_room);
    g_test_add_func("/link/traffic-times/urgent", test_urgent_bytes_overtake);
    g_test_add_func("/link/traffic-times/notices", test_notices_keep_it_alive_for_a_time);
    g_test_add_func("/link/traffic-times/long-replies", test_long_replies_and_noise);
    g_test_add_func("/link/traffic-times/uncounted", test_a_board_without_numbers_is_reconciled);
    g_test_add_func("/link/traffic-times/lost-answers",
                    test_lost_answers_are_learnt_from_the_state);
    return g_test_run();
}
