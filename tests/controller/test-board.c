/* controller: what makes a board safe: settings that outlive the power, switches, faults on the line, a
 * hold that no noise ends, motors that are let go, waits that wrap. */
#include "support/board.h"

#include <math.h>

static void test_motors_are_off_until_homing(void)
{
    Board b;
    board_init(&b, NULL);
    g_assert_true(b.loose[0] && b.loose[1]);
    board_line(&b, "M3 S40");
    g_assert_true(b.loose[0] && b.loose[1]);
    board_home(&b);
    g_assert_false(b.loose[0] || b.loose[1]);
    board_clear(&b);
}

static void test_motors_are_let_go_after_the_rest_and_held_again(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "#452=3");
    for (int second = 0; second < 2; second++)
        dt_controller_second(&b.core);
    g_assert_false(b.loose[0] || b.loose[1]);
    dt_controller_second(&b.core);
    g_assert_true(b.loose[0] && b.loose[1]);
    g_assert_true(b.core.homed); /* the gears hold it */
    board_line(&b, "G0 X5");
    g_assert_false(b.loose[0] || b.loose[1]);
    g_assert_cmpint(b.at[0], ==, 500);
    board_feed(&b, "G0 X20\n"); /* seconds of motion are none of rest */
    board_pass(&b, 200000);
    for (int second = 0; second < 5; second++)
        dt_controller_second(&b.core);
    g_assert_true(board_run(&b, 100000));
    for (int second = 0; second < 3; second++) {
        g_assert_false(b.loose[0] || b.loose[1]);
        dt_controller_second(&b.core);
    }
    g_assert_true(b.loose[0] && b.loose[1]);
    g_assert_cmpuint(b.bad_patterns, ==, 0);
    board_clear(&b);
}

static void test_greeting_tells_why_it_started(void)
{
    static const struct {
        uint8_t cause;
        const char *greeting;
    } cases[] = {
        {0, "drawtrue controller 1 ready\n"},
        {DT_CAUSE_POWER | DT_CAUSE_BROWN_OUT, "drawtrue controller 1 ready after power-on\n"},
        {DT_CAUSE_PIN, "drawtrue controller 1 ready after reset\n"},
        {DT_CAUSE_BROWN_OUT, "drawtrue controller 1 ready after brown-out\n"},
        {DT_CAUSE_WATCHDOG | DT_CAUSE_PIN, "drawtrue controller 1 ready after watchdog\n"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Board b;
        board_init(&b, NULL);
        b.cause = cases[i].cause;
        board_restart(&b);
        g_assert_cmpstr(b.said->str, ==, cases[i].greeting);
        g_assert_cmpint(dt_controller_state(&b.core), ==, DT_STATE_UNHOMED);
        g_assert_cmpuint(b.pulse, ==, 1000);
        g_assert_true(b.loose[0] && b.loose[1]);
        board_clear(&b);
    }
}

/* Parameters ------------------------------------------------------------------------------- */

static void test_parameters_are_set_and_read_back(void)
{
    static const struct {
        const char *line, *answer;
    } cases[] = {
        {"#411=98.5", "parameter 411 98.5000\ntaken 2\n"},
        {"# 4 1 1 = 9 8 . 5", "parameter 411 98.5000\ntaken 2\n"},
        {"N7 #411=98.5 #421=99.25 (both)",
         "parameter 411 98.5000\nparameter 421 99.2500\ntaken 7\n"},
        {"#412=#412", "parameter 412 15.0000\ntaken 2\n"},
        {"#412=#422", "parameter 412 12.0000\ntaken 2\n"},
        {"#416=1", "parameter 416 1.0000\ntaken 2\n"},
        {"#451=0.0025", "parameter 451 0.0025\ntaken 2\n"},
        {"#100=1", "refused 2 parameter 100 not known\n"},
        {"#99999=1", "refused 2 parameter 99999 not known\n"},
        {"#411", "refused 2 parameter needs = and a number\n"},
        {"#411=", "refused 2 parameter needs = and a number\n"},
        {"#=3", "refused 2 parameter needs = and a number\n"},
        {"#411.5=3", "refused 2 parameter needs = and a number\n"},
        {"#411=#7", "refused 2 parameter 7 not known\n"},
        {"#411=50 G0 X1", "refused 2 two parameters at most, and no words\n"},
        {"#411=50 #421=50 #412=9", "refused 2 two parameters at most, and no words\n"},
        {"#411=0", "refused 2 parameter 411 out of range\n"},
        {"#411=-5", "refused 2 parameter 411 out of range\n"},
        {"#416=2", "refused 2 parameter 416 out of range\n"},
        {"#443=1000 #442=100", "refused 2 parameter 443 out of range\n"},
        {"#411=3000 #415=9000", "refused 2 travel has too many steps\n"},
        {"#411=2000 #412=1000", "refused 2 needs 2001200 steps a second, most is 200000\n"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        const DtSettings before = b.core.settings;
        g_assert_cmpstr(board_line(&b, cases[i].line), ==, cases[i].answer);
        if (strstr(cases[i].answer, "refused"))
            g_assert_cmpmem(&before, sizeof before, &b.core.settings, sizeof before);
        board_clear(&b);
    }
}

/* The place means nothing any more, and after the next homing the new steps hold. */
static void test_steps_take_effect(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "G0 X7 Y7");
    board_line(&b, "#411=50 #421=200");
    g_assert_cmpint(dt_controller_state(&b.core), ==, DT_STATE_UNHOMED);
    g_assert_nonnull(strstr(board_line(&b, "G0 X1"), "refused 4 unhomed"));
    board_line(&b, "G28");
    const int from[2] = {b.at[0], b.at[1]};
    board_line(&b, "G0 X10 Y10");
    g_assert_cmpint(b.at[0] - from[0], ==, 500);
    g_assert_cmpint(b.at[1] - from[1], ==, 2000);
    board_clear(&b);
}

static void test_settings_outlive_the_power(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "#413=77");
    g_assert_true(b.core.homed);
    board_line(&b, "#411=80#421=90");
    g_assert_false(b.core.homed); /* the place means nothing any more */
    g_assert_true(g_str_has_suffix(board_line(&b, "G0 X1"), "unhomed\n"));
    board_restart(&b);
    g_assert_cmpfloat(b.core.set->steps_per_mm[0], ==, 80);
    g_assert_cmpfloat(b.core.set->steps_per_mm[1], ==, 90);
    g_assert_cmpfloat(b.core.set->acceleration[0], ==, 77);
    board_line(&b, "G28");
    int from = b.at[0];
    board_line(&b, "G0 X10");
    g_assert_cmpint(b.at[0] - from, ==, 800);
    const unsigned writes = b.writes;
    board_line(&b, "#411=80"); /* no change: nothing is worn */
    g_assert_cmpuint(b.writes, ==, writes);
    board_clear(&b);
}

/* Whenever the power goes while they are written: the old ones or the new ones, whole. */
static void test_power_cut_while_settings_are_written(void)
{
    for (unsigned cut = 0;; cut++) {
        Board b;
        board_init(&b, NULL);
        board_line(&b, "#412=5#422=6");
        b.writes_left = cut;
        b.writes = 0;
        board_line(&b, "#412=7#422=8");
        const gboolean ended = b.writes < cut;
        board_restart(&b);
        const float x = b.core.set->speed[0], y = b.core.set->speed[1];
        g_assert_true((x == 5 && y == 6) || (x == 7 && y == 8));
        g_assert_cmpstr(b.said->str, ==, "drawtrue controller 1 ready\n");
        board_run(&b, 1000); /* both copies are made the same again */
        board_restart(&b);
        g_assert_cmpfloat(b.core.set->speed[0], ==, x);
        board_clear(&b);
        if (ended) {
            g_assert_cmpfloat(x, ==, 7);
            g_assert_cmpuint(cut, >, 10);
            return;
        }
    }
}

static void test_spoilt_settings_are_told(void)
{
    for (unsigned at = 0; at < 74; at++) {
        Board b;
        board_init(&b, NULL);
        board_line(&b, "#412=5");
        b.memory[at] ^= 0x10; /* one copy: the other one serves */
        board_restart(&b);
        g_assert_cmpstr(b.said->str, ==, "drawtrue controller 1 ready\n");
        g_assert_cmpfloat(b.core.set->speed[0], ==, 5);
        board_run(&b, 1000);
        b.memory[at] ^= 0x10;
        b.memory[74 + at] ^= 0x10; /* both */
        board_restart(&b);
        g_assert_cmpstr(b.said->str, ==, "drawtrue controller 1 ready, settings lost\n");
        g_assert_cmpfloat(b.core.set->speed[0], ==, 15);
        board_clear(&b);
    }
}

/* Switches --------------------------------------------------------------------------------- */

static void test_switches_that_open(void)
{
    DtSettings set = dt_settings_default;
    set.opens = 3;
    Board b;
    board_init(&b, &set);
    b.inverted = 3;
    board_home(&b);
    g_assert_cmpstr(board_line(&b, "G0 X20 Y20"), ==, "taken 2\n");
    board_feed(&b, "G0 X1\n");
    board_pass(&b, 300000);
    b.inverted = 2; /* the wire of X breaks: its contact is open for good, as if it were pressed */
    b.closed_at[0] = -1000000;
    b.broken = 1;
    g_assert_true(board_run(&b, 10000));
    g_assert_nonnull(strstr(b.said->str, "state unhomed"));
    g_assert_nonnull(strstr(b.said->str, "switch x-"));
    board_clear(&b);
}

/* A contact that closes for less than the settings' time is noise; one that stays closed stops the motors
 * within two steps, or the time where that is longer. */
static void test_switch_is_debounced_by_time(void)
{
    for (int speed = 2; speed <= 60; speed += 2) {
        for (int held_us = 50; held_us < 2000; held_us += 150) {
            DtSettings set = dt_settings_default;
            set.speed[0] = set.pull_in[0] = (float)speed;
            set.debounce_us = 500;
            Board b;
            board_init(&b, &set);
            board_home(&b);
            board_line(&b, "G0 X30");
            board_feed(&b, "G0 X10\n");
            board_pass(&b, 100000);
            const int from = b.at[0];
            const gint64 start = b.now;
            b.forced = 1;
            board_pass(&b, held_us);
            const gboolean tripped = !b.core.homed;
            if (tripped)
                g_assert_cmpint(held_us, >=, 500);
            if (!tripped) {
                b.forced = 0;
                g_assert_true(board_run(&b, 100000));
                g_assert_cmpint(b.at[0], ==, 1000);
            }
            const double steps = speed * 100 * (double)(b.now - start) * 1e-6;
            if (tripped)
                g_assert_cmpint(from - b.at[0], <=, (int)MAX(2, speed * 100 * 500e-6 + 2));
            else if (held_us > 1000)
                g_assert_cmpfloat(steps, >, 1);
            board_clear(&b);
        }
    }
}

static void test_homing_ends_within_its_distance(void)
{
    Board b;
    board_init(&b, NULL);
    b.closed_at[0] = -10000000;
    const int from = b.at[0];
    g_assert_nonnull(strstr(board_line(&b, "G28"), "switch X not found"));
    g_assert_cmpint(from - b.at[0], <=, (300 + 20) * 100 + 1);
    board_clear(&b);
}

/* The line ----------------------------------------------------------------------------------- */

static void test_one_byte_of_noise_never_ends_a_stop(void)
{
    for (int byte = 0; byte < 256; byte++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        board_feed(&b, "M0\nG0 X5\n");
        board_run(&b, 100);
        dt_controller_receive(&b.core, (uint8_t)byte);
        g_assert_true(board_run(&b, 10000));
        g_assert_cmpint(dt_controller_state(&b.core), ==, DT_STATE_STOPPED);
        g_assert_cmpint(b.at[0], ==, 0);
        dt_controller_receive(&b.core, ' '); /* not twice in a row */
        dt_controller_receive(&b.core, DT_BYTE_GO_ON);
        dt_controller_receive(&b.core, ' ');
        dt_controller_receive(&b.core, DT_BYTE_GO_ON);
        board_run(&b, 10000);
        g_assert_cmpint(dt_controller_state(&b.core), ==, DT_STATE_STOPPED);
        dt_controller_second(&b.core); /* nor too far apart */
        dt_controller_second(&b.core);
        dt_controller_receive(&b.core, DT_BYTE_GO_ON);
        board_run(&b, 10000);
        g_assert_cmpint(dt_controller_state(&b.core), ==, DT_STATE_STOPPED);
        dt_controller_receive(&b.core, DT_BYTE_GO_ON);
        board_run(&b, 10000);
        if (byte != DT_BYTE_HOLD)
            g_assert_cmpint(dt_controller_state(&b.core), !=, DT_STATE_STOPPED);
        board_clear(&b);
    }
}

/* Whatever order they come in before the main loop looks, the last one of the two counts. */
static void test_a_fresh_hold_wins(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_feed(&b, "G1 X50 F600\n");
    board_pass(&b, 500000);
    dt_controller_receive(&b.core, DT_BYTE_HOLD);
    board_pass(&b, 500000);
    dt_controller_receive(&b.core, DT_BYTE_GO_ON);
    dt_controller_receive(&b.core, DT_BYTE_GO_ON);
    dt_controller_receive(&b.core, DT_BYTE_HOLD);
    board_run(&b, 100000);
    g_assert_cmpint(dt_controller_state(&b.core), ==, DT_STATE_HELD);
    board_go_on(&b);
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpint(b.at[0], ==, 5000);
    board_clear(&b);
}

static void test_faults_on_the_line_refuse_it(void)
{
    for (int fault = DT_FAULT_FRAMING; fault <= DT_FAULT_OVERRUN; fault++) {
        for (int at = 0; at <= 6; at++) {
            const char line[] = "G0 X12\n";
            Board b;
            board_init(&b, NULL);
            board_home(&b);
            for (int i = 0; line[i]; i++) {
                if (i == at)
                    dt_controller_receive_fault(&b.core, (uint8_t)fault);
                if (i != at || fault == DT_FAULT_OVERRUN) /* a spoilt byte is lost */
                    dt_controller_receive(&b.core, (uint8_t)line[i]);
            }
            if (at == 6 && fault == DT_FAULT_FRAMING)
                board_feed(&b, "\n"); /* it was the line end */
            g_assert_true(board_run(&b, 100000));
            g_assert_true(g_str_has_prefix(board_heard(&b), "refused 2 "));
            g_assert_cmpint(b.at[0], ==, 0);
            board_feed(&b, "\x05");
            g_assert_nonnull(strstr(board_heard(&b), fault == DT_FAULT_FRAMING
                                                         ? "switch -- framing 1\n"
                                                         : "switch -- overrun 1\n"));
            board_clear(&b);
        }
    }
}

/* What the receiver lost within a comment may have been its end, and words behind it. */
static void test_faults_in_a_comment_refuse_the_line(void)
{
    static const char line[] = "(slow) G0 X12 (fast)\n";
    const unsigned from = (unsigned)strlen("(sl"), to = (unsigned)strlen("(slow) G0 X12 (f");
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    for (unsigned i = 0; line[i]; i++) {
        if (i >= from && i < to)
            dt_controller_receive_fault(&b.core, DT_FAULT_FRAMING);
        else
            dt_controller_receive(&b.core, (uint8_t)line[i]);
    }
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpstr(board_heard(&b), ==, "refused 2 character ?\n");
    board_clear(&b);
}

/* Bytes for which there was no room leave a line that is refused, not one that is shorter. */
static void test_lost_bytes_refuse_their_line(void)
{
    Board b;
    DtSettings set = dt_settings_default;
    set.rx_bytes = 32;
    board_init(&b, &set);
    board_home(&b);
    const char text[] = "G4 P1\nG0 X1\nG0 X2\nG0 X3\nG0 X123456\n";
    for (const char *c = text; *c; c++)
        dt_controller_receive(&b.core, (uint8_t)*c);
    board_run(&b, 10000);
    for (const char *c = "\nG0 X4\n"; *c; c++)
        dt_controller_receive(&b.core, (uint8_t)*c);
    g_assert_true(board_run(&b, 100000));
    const char *heard = board_heard(&b);
    g_assert_nonnull(strstr(heard, "refused 6 character ?\n"));
    g_assert_cmpint(b.at[0], ==, 400);
    board_clear(&b);
}

static void test_abandon_before_a_line_end(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_feed(&b, "G0 X1");
    board_abandon(&b);
    dt_controller_receive(&b.core, '\n'); /* before the main loop has looked */
    board_run(&b, 1000);
    g_assert_cmpint(b.at[0], ==, 0);
    g_assert_cmpuint(b.core.lines_in, ==, b.core.lines_out);
    g_assert_cmpint(dt_controller_state(&b.core), ==, DT_STATE_STILL);
    g_assert_true(g_str_has_suffix(board_line(&b, "G0 X2"), "taken 3\n"));
    g_assert_cmpint(b.at[0], ==, 200);
    board_clear(&b);
}

/* Replies wait for room, however little there is; none is lost and nothing else waits. */
static void test_replies_wait_for_room(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    b.room = 0;
    b.slow = TRUE;
    board_feed(&b, "G0 X1\nG0 Q2\n\x05G0 X3\n#411=#411#421=#421\n");
    board_run(&b, 100000);
    g_assert_cmpstr(b.said->str, ==, "");
    g_assert_cmpint(b.at[0], ==, 0);
    for (int i = 0; i < 100; i++) {
        b.room = (uint8_t)MIN(b.room + 7, 64);
        board_run(&b, 100000);
    }
    g_assert_cmpstr(board_heard(&b), ==,
                    "state still x 0.000 y 0.000 pen up line 1 switch --\ntaken 2\n"
                    "refused 3 word Q not known\ntaken 4\n"
                    "parameter 411 100.0000\nparameter 421 100.0000\ntaken 5\n");
    g_assert_cmpint(b.at[0], ==, 300);
    board_clear(&b);
}

/* Noise before homing: nothing moves, nothing hangs, and each line that CAN has not taken away is answered
 * once. DT_NOISE_BYTES makes a longer run of it. */
static void test_noise(void)
{
    const char *asked = g_getenv("DT_NOISE_BYTES");
    const guint64 bytes = asked ? g_ascii_strtoull(asked, NULL, 10) : 200000;
    for (int can = 0; can < 2; can++) {
        g_autoptr(GRand) rand = g_rand_new_with_seed(17);
        guint64 lines = 0, answers = 0;
        Board b;
        board_init(&b, NULL);
        board_heard(&b);
        for (guint64 i = 0; i < bytes; i++) {
            uint8_t byte = (uint8_t)(g_rand_int(rand) >> 13);
            if (byte == DT_BYTE_ABANDON && !can)
                byte = '\n';
            if (byte == DT_BYTE_ABANDON && g_rand_boolean(rand))
                dt_controller_receive(&b.core, byte); /* alone it does nothing */
            lines += dt_controller_receive(&b.core, byte) && byte == '\n';
            g_assert_true(board_run(&b, 1000));
            if (i % 1000 == 999) {
                for (const char *c = b.said->str; *c; c = strchr(c, '\n') + 1)
                    answers += g_str_has_prefix(c, "taken ") || g_str_has_prefix(c, "refused ");
                board_heard(&b);
            }
        }
        g_assert_cmpuint(b.steps->len, ==, 0);
        g_assert_true(b.loose[0] && b.loose[1]);
        board_go_on(&b); /* a stop or a hold that the noise has made */
        board_feed(&b, "\n\x05");
        g_assert_true(board_run(&b, 1000));
        g_assert_nonnull(strstr(b.said->str, "state unhomed"));
        if (!can)
            g_assert_cmpuint(answers, ==, lines);
        board_clear(&b);
    }
}

/* Time ------------------------------------------------------------------------------------- */

/* Counts that run freely come round; whatever they begin at, nothing changes. */
static void test_free_running_counts_wrap(void)
{
    g_autofree char *first = NULL;
    g_autoptr(GRand) rand = g_rand_new_with_seed(3);
    for (int round = 0; round < 40; round++) {
        Board b;
        board_init(&b, NULL);
        const uint8_t at = (uint8_t)(round == 0 ? 0 : g_rand_int(rand));
        b.core.plan.head = b.core.plan.tail = at;
        b.core.step.head = b.core.step.tail = (uint8_t)(at * 7 + round);
        b.core.step.clock = (uint16_t)g_rand_int(rand);
        b.core.step.handed_us = b.core.step.begun_us = (uint16_t)(round ? 65535 - round * 900 : 0);
        b.core.rx_head = b.core.rx_tail = (DtRxCount)(round ? g_rand_int(rand) : 0);
        b.core.lines_in = b.core.lines_out = (DtRxCount)(round ? 65530 + round : 0);
        board_feed(&b, "G28\n");
        g_assert_true(board_run(&b, 1000000));
        g_array_set_size(b.steps, 0);
        b.closed_at[0] = b.closed_at[1] = -100000;
        const gint64 start = b.now;
        GString *text = g_string_new("G1 F900\n");
        for (int i = 1; i < 60; i++)
            g_string_append_printf(text, "G1 X%.2f Y%.2f F900\n", i * 0.3, 10 + 8 * sin(i * 0.3));
        board_feed(&b, text->str);
        g_string_free(text, TRUE);
        g_assert_true(board_run(&b, 1000000));
        GString *steps = g_string_new(NULL);
        for (guint i = 0; i < b.steps->len; i++) {
            const BoardStep s = g_array_index(b.steps, BoardStep, i);
            g_string_append_printf(steps, "%d%d:%d ", s.axis, s.turn, (int)(s.at_us - start));
        }
        if (first == NULL)
            first = g_strdup(steps->str);
        g_assert_cmpstr(steps->str, ==, first);
        g_string_free(steps, TRUE);
        board_clear(&b);
    }
}

static void test_soft_drop(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "#446=200");
    const gint64 start = b.now;
    board_feed(&b, "M3 S40\n");
    uint16_t last = b.pulse;
    int moves = 0;
    while (b.deadline >= 0) {
        board_pass(&b, b.deadline - b.now);
        g_assert_cmpuint(b.pulse, >=, last);
        g_assert_cmpuint(b.pulse - last, <=, 41); /* 400 us in ten pieces */
        moves += b.pulse != last;
        last = b.pulse;
    }
    g_assert_cmpint(moves, ==, 10);
    g_assert_cmpuint(b.pulse, ==, 1400);
    g_assert_cmpint(b.now - start, ==, 200000);
    board_feed(&b, "M5\n");
    g_assert_cmpuint(b.pulse, ==, 1000); /* up it goes at once */
    board_clear(&b);
}

static void test_ten_metres(void)
{
    Board b;
    DtSettings set = dt_settings_default;
    set.travel[0] = 10000;
    set.steps_per_mm[0] = 20;
    set.speed[0] = 500;
    set.acceleration[0] = 2000;
    board_init(&b, &set);
    board_home(&b);
    g_assert_cmpstr(board_line(&b, "G0 X10000"), ==, "taken 2\n");
    g_assert_cmpint(b.at[0], ==, 200000);
    g_assert_cmpint(b.core.plan.nm[0], ==, (gint64)10000 * 1000000);
    g_assert_cmpstr(board_line(&b, "G0 X10000.001"), ==, "refused 3 X beyond travel\n");
    g_assert_cmpstr(board_line(&b, "G91 G0 X-9999.95"), ==, "taken 4\n");
    g_assert_cmpint(b.at[0], ==, 1);
    g_assert_cmpint(b.core.plan.nm[0], ==, 50000);
    g_assert_cmpuint(b.core.step.late, ==, 0);
    board_clear(&b);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
#define ADD(name, function) g_test_add_func("/controller/" name, function)
    ADD("motors-are-off-until-homing", test_motors_are_off_until_homing);
    ADD("motors-are-let-go", test_motors_are_let_go_after_the_rest_and_held_again);
    ADD("greeting-tells-why", test_greeting_tells_why_it_started);
    ADD("parameters", test_parameters_are_set_and_read_back);
    ADD("steps-take-effect", test_steps_take_effect);
    ADD("settings-outlive-the-power", test_settings_outlive_the_power);
    ADD("power-cut-while-settings-are-written", test_power_cut_while_settings_are_written);
    ADD("spoilt-settings", test_spoilt_settings_are_told);
    ADD("switches-that-open", test_switches_that_open);
    ADD("switch-is-debounced", test_switch_is_debounced_by_time);
    ADD("homing-ends", test_homing_ends_within_its_distance);
    ADD("noise-never-ends-a-stop", test_one_byte_of_noise_never_ends_a_stop);
    ADD("a-fresh-hold-wins", test_a_fresh_hold_wins);
    ADD("faults-on-the-line", test_faults_on_the_line_refuse_it);
    ADD("faults-in-a-comment", test_faults_in_a_comment_refuse_the_line);
    ADD("lost-bytes", test_lost_bytes_refuse_their_line);
    ADD("abandon-before-a-line-end", test_abandon_before_a_line_end);
    ADD("replies-wait-for-room", test_replies_wait_for_room);
    ADD("noise", test_noise);
    ADD("counts-wrap", test_free_running_counts_wrap);
    ADD("soft-drop", test_soft_drop);
    ADD("ten-metres", test_ten_metres);
    return g_test_run();
}
