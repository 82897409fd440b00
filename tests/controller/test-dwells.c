/* test-dwells: what waits behind a dwell is planned while it lasts, and everything is answered in its order
 * when it has ended. */
#include "support/board.h"

static void init(Board *b)
{
    board_init(b, NULL);
    board_home(b);
    g_array_set_size(b->steps, 0);
    board_heard(b);
}

static gint64 first_step_us(const Board *b)
{
    g_assert_cmpuint(b->steps->len, >, 0);
    return g_array_index(b->steps, BoardStep, 0).at_us;
}

static unsigned planned(const Board *b)
{
    return (uint8_t)(b->core.plan.head - b->core.plan.tail);
}

static void test_moves_are_planned_while_it_lasts(void)
{
    Board b;
    init(&b);
    const gint64 start = b.now;
    board_feed(&b, "G4 P0.5\nG1 F600 X1\nX2\nG2 X4 I1\nG1 X5\nX6\nM5\n");
    board_pass(&b, 400000);
    g_assert_cmpstr(board_heard(&b), ==, "");
    g_assert_cmpuint(planned(&b), >=, 4);
    g_assert_cmpuint(b.steps->len, ==, 0);
    g_assert_cmpint(dt_controller_state(&b.core), ==, DT_STATE_MOVING);
    g_assert_false(dt_controller_ready(&b.core));
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpstr(board_heard(&b), ==,
                    "taken 2\ntaken 3\ntaken 4\ntaken 5\ntaken 6\ntaken 7\ntaken 8\n");
    g_assert_cmpint(first_step_us(&b) - start, >=, 500000);
    g_assert_cmpint(first_step_us(&b) - start, <, 510000);
    g_assert_cmpint(b.at[0], ==, 600);
    board_clear(&b);
}

/* Each line's answer, whatever comes behind the dwell. */
static void test_answers_keep_their_order(void)
{
    static const struct {
        const char *lines, *answers;
        int at;
    } cases[] = {
        {"G4 P0.1\nM5\n", "taken 2\ntaken 3\n", 0},
        {"G4 P0.1\nG4 P0.1\nG0 X1\n", "taken 2\ntaken 3\ntaken 4\n", 100},
        {"G4 P0.1\nQ1\nG0 X1\n", "taken 2\nrefused 3 word Q not known\ntaken 4\n", 100},
        {"G4 P0.1\nG0 X1\nX999\nX2\n", "taken 2\ntaken 3\nrefused 4 X beyond travel\ntaken 5\n",
         200},
        {"G4 P0.1\n\n(none)\nF300\n\n\nG0 X1\n",
         "taken 2\ntaken 3\ntaken 4\ntaken 5\ntaken 6\ntaken 7\ntaken 8\n", 100},
        {"G4 P0.1\n#446=20\nG0 X1\n", "taken 2\nparameter 446 20.0000\ntaken 3\ntaken 4\n", 100},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Board b;
        init(&b);
        board_feed(&b, cases[i].lines);
        board_pass(&b, 90000);
        g_assert_cmpstr(board_heard(&b), ==, "");
        g_assert_true(board_run(&b, 100000));
        g_assert_cmpstr(board_heard(&b), ==, cases[i].answers);
        g_assert_cmpint(b.at[0], ==, cases[i].at);
        board_clear(&b);
    }
}

/* A question is answered at once, also where a refusal waits for its turn. */
static void test_the_state_is_told_meanwhile(void)
{
    Board b;
    init(&b);
    board_feed(&b, "G4 P0.5\nG0 X1\nQ1\nX2\n");
    board_pass(&b, 100000);
    board_feed(&b, "\x05");
    board_pass(&b, 1000);
    g_assert_cmpstr(board_heard(&b), ==, "state moving x 0.000 y 0.000 pen up line 1 switch --\n");
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpstr(board_heard(&b), ==, "taken 2\ntaken 3\nrefused 4 word Q not known\ntaken 5\n");
    board_clear(&b);
}

/* CAN ends the dwell: it is what is refused, and all behind it is forgotten. */
static void test_abandoned(void)
{
    static const char *const behind[] = {"", "G0 X1\n", "G0 X1\nX2\nX3\nX4\nX5\nX6\n",
                                         "G0 X1\nQ1\n", "G0 X1\nM3 S40\n"};
    for (gsize i = 0; i < G_N_ELEMENTS(behind); i++) {
        Board b;
        init(&b);
        board_feed(&b, "G4 P0.5\n");
        board_feed(&b, behind[i]);
        board_pass(&b, 100000);
        board_feed(&b, "\x18\x18");
        g_assert_true(board_run(&b, 100000));
        g_assert_cmpstr(board_heard(&b), ==,
                        "refused 2 abandoned\n"
                        "state still x 0.000 y 0.000 pen up line 0 switch --\n");
        g_assert_cmpuint(b.steps->len, ==, 0);
        g_assert_cmpuint(planned(&b), ==, 0);
        g_assert_cmpuint(b.core.rx_owed, ==, 0);
        g_assert_nonnull(strstr(board_line(&b, "G0 X3"), "taken"));
        g_assert_cmpint(b.at[0], ==, 300);
        board_clear(&b);
    }
}

static void test_held(void)
{
    Board b;
    init(&b);
    board_feed(&b, "M3 S40\nG4 P0.3\nG1 F600 X1\nX2\n");
    board_pass(&b, 100000);
    board_heard(&b);
    board_feed(&b, "\x13");
    board_pass(&b, 2000000);
    g_assert_cmpuint(b.steps->len, ==, 0);
    g_assert_cmpuint(b.pulse, ==, b.set.pen_up_us);
    board_go_on(&b);
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpint(b.at[0], ==, 200);
    g_assert_cmpuint(b.pulse, ==, 1400);
    g_assert_cmpstr(board_heard(&b), ==, "taken 3\ntaken 4\ntaken 5\n");
    board_clear(&b);
}

/* Lines in order, repeated as a sender does who has heard nothing: none is done twice. */
static void test_repeated_lines(void)
{
    static const char *const lines[] = {"N1G91G21", "N2G4P0.2", "N3G1F600X1", "N4X1"};
    g_autoptr(GString) s = g_string_new(NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
        uint16_t crc = 0;
        for (const char *c = lines[i]; *c; c++)
            crc = dt_controller_crc(crc, (uint8_t)*c);
        g_string_append_printf(s, "%s(*%04X)\n", lines[i], crc);
        if (i == 3)
            g_string_append_printf(s, "%s(*%04X)\n", lines[i], crc);
    }
    Board b;
    init(&b);
    board_feed(&b, s->str);
    g_assert_true(board_run(&b, 100000));
    g_assert_cmpstr(board_heard(&b), ==, "taken 1\ntaken 2\ntaken 3\ntaken 4\ntaken 4\n");
    g_assert_cmpint(b.at[0], ==, 200);
    board_clear(&b);
}

/* A sender that reads slowly gets every answer all the same. */
static void test_no_room_for_answers(void)
{
    Board b;
    init(&b);
    b.slow = TRUE;
    b.room = 0;
    board_feed(&b, "G4 P0.1\nG0 X1\nX2\nX3\nX4\nX5\n");
    board_pass(&b, 200000);
    for (int i = 0; i < 60; i++) {
        b.room = (uint8_t)MIN(b.room + 7, 64);
        board_run(&b, 100000);
    }
    g_assert_cmpstr(board_heard(&b), ==, "taken 2\ntaken 3\ntaken 4\ntaken 5\ntaken 6\ntaken 7\n");
    g_assert_cmpint(b.at[0], ==, 500);
    board_clear(&b);
}

/* What is planned ahead still counts against the buffer: a sender that measures it with a dwell finds its true
 * size, and one that keeps to it never loses a byte. */
static void test_the_buffer_stays_as_large(void)
{
    static const char *const lines[] = {"G0 X1\n", "M5\n", "\n", "G1 X2 F300\n", "Q1\n"};
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
        DtSettings set = dt_settings_default;
        set.rx_bytes = 128;
        Board b;
        board_init(&b, &set);
        board_home(&b);
        board_feed(&b, "G4 P0.5\n");
        unsigned kept = strlen("G4 P0.5\n");
        for (gboolean room = TRUE; room && kept < 300;)
            for (const char *c = lines[i]; *c && room; c++) {
                room = dt_controller_receive(&b.core, (uint8_t)*c);
                kept += (unsigned)room;
                board_pass(&b, 10);
            }
        g_assert_cmpuint(b.core.lost, ==, 1);
        g_assert_cmpuint(kept, ==, 128);
        g_assert_true(board_run(&b, 100000));
        g_assert_cmpuint(b.core.rx_owed, ==, 0);
        board_clear(&b);
    }
}

/* A board that takes half a millisecond for each turn of its main loop. */
static void init_slow(Board *b, const DtSettings *set)
{
    board_init(b, set);
    board_home(b);
    board_line(b, "G0 X1");
    g_assert_nonnull(strstr(board_line(b, "F600"), "taken"));
    board_heard(b);
    g_array_set_size(b->steps, 0);
    b->poll_us = 500;
}

/* Between two steps. */
static gint64 longest_stand_us(const Board *b)
{
    gint64 longest = 0;
    for (guint i = 1; i < b->steps->len; i++)
        longest = MAX(longest, g_array_index(b->steps, BoardStep, i).at_us -
                                   g_array_index(b->steps, BoardStep, i - 1).at_us);
    return longest;
}

/* However long the lines of a stop take to be read, and the answers that it keeps to be sent, the motors stand
 * as long as the dwell of a pen that goes down. */
static void test_a_slow_board_stands_no_longer(void)
{
    static const char *const stops[] = {
        "M3 S40\nG4 P0.1\nG1 X4\nX5\n",
        "M3 S40\n(a comment)\n\nG4 P0.1\nG1 X4\n(none)\nX5\n",
        "M3 S40 G4 P0.1\nG1 X4\n\n\nX5\n",
        "G4 P0.1\nG1 X4\nX5\nX6\n",
    };
    for (gsize i = 0; i < G_N_ELEMENTS(stops); i++) {
        gint64 stand_us[2];
        for (int slow = 0; slow < 2; slow++) {
            Board b;
            init_slow(&b, NULL);
            b.poll_us = slow ? 500 : 0;
            board_feed(&b, "G0 X3\n");
            board_feed(&b, stops[i]);
            g_assert_true(board_run(&b, 100000));
            stand_us[slow] = longest_stand_us(&b);
            board_clear(&b);
        }
        g_assert_cmpint(stand_us[0], >, 30000);
        g_assert_cmpint(stand_us[1], >=, stand_us[0] - 100);
        g_assert_cmpint(stand_us[1], <=, stand_us[0] + 600); /* a turn for the first answer */
    }
}

/* A dwell whose line comes later has not begun before. */
static void test_a_late_dwell_is_whole(void)
{
    for (int late_us = 1000; late_us < 80000; late_us += 7000) {
        Board b;
        init_slow(&b, NULL);
        board_feed(&b, "M3 S40\n");
        board_pass(&b, late_us);
        const gint64 start = b.now;
        board_feed(&b, "G4 P0.02\nG1 X2\n");
        g_assert_true(board_run(&b, 100000));
        g_assert_cmpint(first_step_us(&b) - start, >=, 20000);
        g_assert_cmpint(first_step_us(&b) - start, <, 30000);
        board_clear(&b);
    }
}

/* All at once: its lines are in the buffer before the first is taken. */
static void put(Board *b, const char *text)
{
    for (const char *c = text; *c; c++)
        g_assert_true(dt_controller_receive(&b->core, (uint8_t)*c));
    g_assert_true(board_run(b, 100000));
}

/* From the lines' coming to the first step. */
static gint64 until_first_step_us(const char *text, const DtSettings *set, unsigned poll_us)
{
    Board b;
    init_slow(&b, set);
    b.poll_us = poll_us;
    const gint64 start = b.now;
    put(&b, text);
    const gint64 us = first_step_us(&b) - start;
    board_clear(&b);
    return us;
}

/* Behind anything else than the pen alone it counts from its own turn: behind a move that turns no motor, and
 * behind the time that the pen is given by itself, or takes to come down. */
static void test_what_it_does_not_count_from(void)
{
    static const struct {
        uint16_t pen_wait_ms, drop_ms;
        unsigned poll_us, turns;
        const char *lines;
    } cases[] = {
        {0, 0, 500, 5, "M3 S40\nG1 X1.001\nG4 P0.1\nG1 X3\n"},
        {0, 0, 500, 4, "M5\nG4 P0.1\nG1 X3\n"}, /* a pen that goes up has its whole time */
        {0, 0, 500, 2, "M3 S40\nG4 P0.05\nG4 P0.05\nG1 X3\n"}, /* but for the first */
        {1, 0, 2000, 1, "M3 S40\nG4 P0.1\nG1 X3\n"},
        {0, 1, 2000, 1, "M3 S40\nG4 P0.1\nG1 X3\n"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtSettings set = dt_settings_default;
        set.pen_wait_ms = cases[i].pen_wait_ms;
        set.drop_ms = cases[i].drop_ms;
        const gint64 quick_us = until_first_step_us(cases[i].lines, &set, 0);
        const gint64 slow_us = until_first_step_us(cases[i].lines, &set, cases[i].poll_us);
        g_assert_cmpint(slow_us, >=, quick_us + cases[i].turns * cases[i].poll_us);
    }
}

/* Shorter than the reading of its line: it is over at once, and the next one is whole. */
static void test_shorter_than_its_reading(void)
{
    Board b;
    init_slow(&b, NULL);
    const gint64 start = b.now;
    put(&b, "M3 S40\nG4 P0.001\nG4 P0.05\nG1 X3\n");
    g_assert_cmpstr(board_heard(&b), ==, "taken 4\ntaken 5\ntaken 6\ntaken 7\n");
    g_assert_cmpint(first_step_us(&b) - start, >=, 51000);
    g_assert_cmpint(first_step_us(&b) - start, <, 58000);
    board_clear(&b);
}

/* The motors never start before the next moments are cut. */
static void test_starts_with_enough(void)
{
    static const char *const lines[] = {"G1 X4\n", "G0 X2\nX3\nX4\n", "G4 P0.1\nG1 X4\n"};
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
        Board b;
        init_slow(&b, NULL);
        for (const char *c = lines[i]; *c; c++)
            dt_controller_receive(&b.core, (uint8_t)*c);
        while (!b.core.step.running)
            if (!dt_controller_poll(&b.core))
                b.deadline = dt_controller_timer(&b.core);
        g_assert_cmpint((int16_t)(b.core.step.handed_us - b.core.step.begun_us), >=, 12000);
        board_clear(&b);
    }
}

/* A hold and CAN that come while a dwell's last moments pass: nothing moves, whatever was cut ahead. */
static void test_stopped_as_it_ends(void)
{
    for (int i = 0; i < 2; i++) {
        const uint8_t byte = i ? DT_BYTE_ABANDON : DT_BYTE_HOLD;
        for (int before_us = 0; before_us < 3000; before_us += 300) {
            Board b;
            init_slow(&b, NULL);
            const gint64 end = b.now + 100000; /* a turn of the main loop later, in truth */
            board_feed(&b, "G4 P0.1\nG1 X4\nX5\n");
            board_pass(&b, end - before_us - b.now);
            g_assert_cmpuint(b.steps->len, ==, 0);
            dt_controller_receive(&b.core, byte);
            dt_controller_receive(&b.core, byte);
            board_pass(&b, 3000000);
            g_assert_cmpuint(b.steps->len, ==, 0);
            board_go_on(&b);
            g_assert_true(board_run(&b, 100000));
            g_assert_cmpint(b.at[0], ==, i ? 100 : 500);
            board_clear(&b);
        }
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
#define ADD(name, function) g_test_add_func("/controller/dwells/" name, function)
    ADD("moves-are-planned", test_moves_are_planned_while_it_lasts);
    ADD("answers-in-order", test_answers_keep_their_order);
    ADD("state", test_the_state_is_told_meanwhile);
    ADD("abandoned", test_abandoned);
    ADD("held", test_held);
    ADD("repeated-lines", test_repeated_lines);
    ADD("no-room", test_no_room_for_answers);
    ADD("buffer", test_the_buffer_stays_as_large);
    ADD("slow-board", test_a_slow_board_stands_no_longer);
    ADD("late", test_a_late_dwell_is_whole);
    ADD("behind-others", test_what_it_does_not_count_from);
    ADD("short", test_shorter_than_its_reading);
    ADD("enough", test_starts_with_enough);
    ADD("stopped-as-it-ends", test_stopped_as_it_ends);
    return g_test_run();
}
