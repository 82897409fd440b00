/* controller: lines in and answers out: words, numbers, comments, the buffer, the check and the
 * order. */
#include "support/board.h"

/* One line on a fresh, homed controller, and its answer without the number. */
typedef struct {
    const char *line, *answer;
} Case;

static void check_cases(const Case *cases, gsize n, const DtSettings *set)
{
    for (gsize i = 0; i < n; i++) {
        Board b;
        board_init(&b, set);
        board_home(&b);
        g_autofree char *answer = g_strdup(board_line(&b, cases[i].line));
        g_autofree char *expected =
            g_strdup_printf(strcmp(cases[i].answer, "taken") == 0 ? "taken 2\n" : "refused 2 %s\n",
                            cases[i].answer);
        if (strcmp(answer, expected) != 0)
            g_test_message("line: %s", cases[i].line);
        g_assert_cmpstr(answer, ==, expected);
        g_assert_cmpint(b.bad_patterns, ==, 0);
        g_assert_cmpint(b.locked, ==, 0);
        board_clear(&b);
    }
}

static void test_lines_that_are_taken(void)
{
    static const Case cases[] = {
        {"", "taken"},
        {"   \t ", "taken"},
        {"\r", "taken"},
        {"(a comment)", "taken"},
        {"g0x1y2", "taken"},
        {"G 0 X 1 . 5 Y + 2", "taken"},
        {"G00 X1", "taken"},
        {"G01 X1 F100", "taken"},
        {"G1 X.5 F100.", "taken"},
        {"X1 G0", "taken"},
        {"G0 X1 (one) Y1 (two)", "taken"},
        {"/G0 X1000 Q3", "taken"},
        {"G21 G90 G94 G17", "taken"},
        {"G20", "taken"},
        {"M3 S40", "taken"},
        {"M5", "taken"},
        {"S30", "taken"},
        {"F500", "taken"},
        {"G4 P0.1", "taken"},
        {"G4 P0", "taken"},
        {"G91 G0 X0 Y0", "taken"},
        {"G28", "taken"},
        {"G28 X5 Y5", "taken"},
        {"M2", "taken"},
        {"M30", "taken"},
        {"G0 X300 Y220", "taken"},
        {"G2 X10 Y0 I5 F100", "taken"},
        {"G20 G2 X0.4 I0.20005 F4", "taken"},
        {"G3 X10 Y10 R10 F100", "taken"},
        {"G0 X1.000000001", "taken"},
        {"G0 X1.00000000000000000000000000000000001", "taken"},
        {"G0 X000000000000000000000000001", "taken"},
    };
    check_cases(cases, G_N_ELEMENTS(cases), NULL);
}

static void test_lines_that_are_refused(void)
{
    static const Case cases[] = {
        {"G0 X1 X2", "second X"},
        {"G0 G1 X1", "two words of one group at G1"},
        {"G20 G21", "two words of one group at G21"},
        {"G90 G91", "two words of one group at G91"},
        {"M3 M5 S1", "two words of one group at M5"},
        {"M0 M2", "two words of one group at M2"},
        {"G4 G28 P1", "two words of one group at G28"},
        {"G92 X0", "word G92 not known"},
        {"G18", "word G18 not known"},
        {"G1.5 X1", "word G1 not known"},
        {"G-1 X1", "word G1 not known"},
        {"M4 S10", "word M4 not known"},
        {"G0 Z5", "word Z not known"},
        {"T1", "word T not known"},
        {"G0 X", "number missing after X"},
        {"G0 X-", "number missing after X"},
        {"G0 X.", "number missing after X"},
        {"G0 X--3", "number missing after X"},
        {"G0 X1e3", "word E not known"},
        {"G0 X1.2.3", "character ."},
        {"#1=3", "parameter 1 not known"},
        {"G0 X[1+2]", "number missing after X"},
        {"%", "character %"},
        {"; words", "character ;"},
        {"G0 X9999", "X beyond travel"},
        {"G0 X99999999999", "number too large at X"},
        {"X1", "no motion word in force"},
        {"G0", "axis word missing"},
        {"G1 F100", "axis word missing"},
        {"G1 X1", "feed missing"},
        {"G1 X1 F0", "feed missing"},
        {"G1 X1 F-5", "wrong number at F"},
        {"G4", "P missing"},
        {"G4 P-1", "wrong number at P"},
        {"P1", "P without its G word"},
        {"G0 X1 I2", "I without its G word"},
        {"G1 X1 R2 F1", "R without its G word"},
        {"M3", "S missing"},
        {"M3 S101", "S out of range"},
        {"S-1", "S out of range"},
        {"G0 X-0.001", "X beyond travel"},
        {"G0 Y220.001", "Y beyond travel"},
        {"G0 X1 G28", "axis words claimed twice"},
        {"G2 X10 F100", "arc needs I J or R"},
        {"G2 X10 I5 R5 F100", "arc needs I J or R"},
        {"G2 X10 I5.01 F100", "arc ends do not meet its radius"},
        {"G20 G2 X0.4 I0.2002 F4", "arc ends do not meet its radius"},
        {"G2 X10 R4 F100", "arc radius"},
        {"G2 X0 Y0 R4 F100", "arc radius"},
        {"G3 X10 I5 F100", "Y beyond travel"},
        {"G0 X1 N5", "N not first"},
        {"G0 X1 )", "character )"},
        {"(never closed", "comment not closed"},
        {"(one (two) )", "comment not closed"},
        {"M3 S100.001", "S out of range"},
        {"G0 X20000", "X beyond travel"},
        {"G0 X20001", "number too large at X"},
    };
    check_cases(cases, G_N_ELEMENTS(cases), NULL);
}

static void test_refused_line_changes_nothing(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "G1 X5 F300");
    board_line(&b, "G91 G20 F999 M3 S50 X9999");
    g_assert_cmpuint(b.pulse, ==, b.set.pen_up_us);
    g_assert_cmpstr(board_line(&b, "X6"), ==, "taken 4\n"); /* still absolute and in mm */
    g_assert_cmpint(b.at[0], ==, 600);
    g_assert_cmpfloat(b.core.feed, ==, 5);
    board_clear(&b);
}

/* Coordinates go through to the nanometre, halves away from zero. */
static void test_numbers_are_exact(void)
{
    static const struct {
        const char *line;
        int32_t nm;
    } cases[] = {
        {"G0 X0.000001", 1},           {"G0 X0.0000005", 1},
        {"G0 X0.00000049", 0},         {"G0 X123.456789", 123456789},
        {"G0 X299.999999", 299999999}, {"G20 G0 X1", 25400000},
        {"G20 G0 X0.0000001", 3},      {"G20 G0 X3.1415926535", 79796453},
        {"G0 X0.1", 100000},           {"G0 X10.3", 10300000},
        {"G0 X16.7772161", 16777216},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        board_line(&b, cases[i].line);
        int64_t at = b.targets->len ? g_array_index(b.targets, int64_t, 0) : 0;
        g_assert_cmpint(at, ==, cases[i].nm);
        g_assert_cmpint(b.at[0], ==, (cases[i].nm + 5000) / 10000);
        board_clear(&b);
    }
}

static void test_incremental_moves_add_up_without_loss(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_feed(&b, "G91\nG1 F900 X0.0033337\n");
    for (int i = 1; i < 3000; i++)
        board_feed(&b, "X0.0033337\n");
    g_assert_true(board_run(&b, 1000000));
    /* Each line is rounded to a nanometre by itself: 3334 nm. */
    g_assert_cmpint(b.core.plan.nm[0], ==, (gint64)3000 * 3334);
    g_assert_cmpint(b.at[0], ==, 1000);
    board_clear(&b);
}

static void test_nothing_moves_unhomed(void)
{
    Board b;
    board_init(&b, NULL);
    g_assert_cmpstr(board_heard(&b), ==, "drawtrue controller 1 ready\n");
    g_assert_cmpstr(board_line(&b, "G0 X1"), ==, "refused 1 unhomed\n");
    g_assert_cmpstr(board_line(&b, "G0 X0"), ==, "taken 2\n"); /* no way to go */
    g_assert_cmpstr(board_line(&b, "M3 S40"), ==, "taken 3\n");
    g_assert_cmpuint(b.pulse, ==, 1400);
    g_assert_cmpuint(b.steps->len, ==, 0);
    g_assert_cmpstr(board_line(&b, "\x05"), ==,
                    "state unhomed x 0.000 y 0.000 pen down line 3 switch --\n"
                    "taken 4\n");
    board_clear(&b);
}

static void test_full_buffer_loses_bytes_and_counts_them(void)
{
    Board b;
    DtSettings set = dt_settings_default;
    set.rx_bytes = 128;
    board_init(&b, &set);
    board_home(&b);
    /* The dwell keeps the rest waiting. Its own line stays in the buffer until it is done. */
    const char dwell[] = "G4 P1\n";
    for (const char *p = dwell; *p; p++)
        dt_controller_receive(&b.core, (uint8_t)*p);
    dt_controller_poll(&b.core);
    dt_controller_poll(&b.core);
    int kept = 0;
    for (int i = 0; i < 200; i++)
        kept += dt_controller_receive(&b.core, i % 20 == 19 ? '\n' : ' ');
    g_assert_cmpint(kept, ==, 128 - (int)strlen(dwell));
    g_assert_cmpuint(b.core.lost, ==, 200 - kept);
    board_clear(&b);
}

static void test_overlong_line_is_refused_once(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    g_autofree char *spaces = g_strnfill(5000, ' ');
    board_feed(&b, spaces);
    board_feed(&b, "X1\nM5\n");
    board_run(&b, 1000);
    g_assert_cmpstr(board_heard(&b), ==, "refused 2 line too long\ntaken 3\n");
    board_clear(&b);
}

/* All of it comes by the interrupt before the main loop has looked: the buffer is full as the line ends. */
static void test_overlong_line_ends_unseen(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    for (int i = 0; i < 5000; i++)
        dt_controller_receive(&b.core, ' ');
    for (const char *p = "X1\nM5\n"; *p; p++)
        dt_controller_receive(&b.core, (uint8_t)*p);
    board_run(&b, 1000);
    g_assert_cmpstr(board_heard(&b), ==, "refused 2 line too long\ntaken 3\n");
    board_clear(&b);
}

/* The end of an overlong line frees the buffer beyond the place where CAN came, which is dealt with later. */
static void test_overlong_line_behind_abandoning(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "M5");
    board_abandon(&b);
    for (int i = 0; i < 5000; i++)
        dt_controller_receive(&b.core, ' ');
    for (const char *p = "X1\nM5\n"; *p; p++)
        dt_controller_receive(&b.core, (uint8_t)*p);
    g_assert_true(board_run(&b, 1000));
    const char *heard = board_heard(&b);
    g_assert_true(g_str_has_prefix(heard, "state still"));
    g_assert_true(g_str_has_suffix(heard, "refused 3 line too long\ntaken 4\n"));
    g_assert_cmpstr(board_line(&b, "M5"), ==, "taken 5\n");
    board_clear(&b);
}

/* What is left of an overlong line that CAN has ended is no line. */
static void test_abandoning_ends_an_overlong_line(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    g_autofree char *spaces = g_strnfill(5000, ' ');
    board_feed(&b, spaces);
    board_abandon(&b);
    board_run(&b, 1000);
    board_heard(&b);
    g_assert_cmpstr(board_line(&b, "M5"), ==, "taken 2\n");
    board_clear(&b);
}

static char *checked(const char *body)
{
    uint16_t crc = 0;
    for (const char *p = body; *p; p++)
        crc = dt_controller_crc(crc, (uint8_t)*p);
    return g_strdup_printf("%s(*%04X)", body, crc);
}

static const char *send_checked(Board *b, const char *body)
{
    g_autofree char *line = checked(body);
    return board_line(b, line);
}

static void test_check_and_order(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    g_assert_cmpstr(board_line(&b, "N1 M5 (*0000)"), ==, "refused 1 check\n");
    g_assert_cmpstr(send_checked(&b, "N1 G91 "), ==, "taken 1\n");
    g_assert_cmpstr(send_checked(&b, "N2 G0 X1 "), ==, "taken 2\n");
    g_assert_cmpint(b.at[0], ==, 100);
    g_assert_cmpstr(send_checked(&b, "N2 G0 X1 "), ==, "taken 2\n");
    g_assert_cmpint(b.at[0], ==, 100); /* answered again, not done again */
    g_assert_cmpstr(send_checked(&b, "N4 G0 X1 "), ==, "refused 4 order 3\n");
    g_assert_cmpstr(send_checked(&b, "N1 G0 X1 "), ==, "refused 1 order 3\n");
    g_assert_cmpstr(board_line(&b, "N3 G0 X1 (*12"), ==, "refused 3 check\n");
    g_assert_cmpstr(board_line(&b, "N3 G0 X"), ==, "refused 3 check\n");
    g_assert_cmpstr(board_line(&b, "N8 G0 X1"), ==, "refused 3 check\n"); /* the one that is due */
    g_assert_cmpstr(send_checked(&b, "N3 G0 X1 "), ==, "taken 3\n");
    g_assert_cmpint(b.at[0], ==, 200);
    g_assert_cmpstr(send_checked(&b, "N4 G0 Q1 "), ==, "refused 4 word Q not known\n");
    g_assert_cmpstr(send_checked(&b, "N4 G0 X1 "), ==, "taken 4\n");
    board_clear(&b);
}

static void let_seconds_pass(Board *b, unsigned n)
{
    while (n-- > 0)
        dt_controller_second(&b->core);
}

/* A program whose sender has fallen silent leaves no pen on the paper, and goes on where it was. */
static void test_pen_is_lifted_in_silence(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    send_checked(&b, "N1 M3 S40 ");
    send_checked(&b, "N2 G1 X5 F600 ");
    const uint16_t up = b.set.pen_up_us, down = b.pulse;
    g_assert_cmpuint(down, !=, up);
    let_seconds_pass(&b, 2);
    dt_controller_receive(&b.core, DT_BYTE_ASK); /* it lives */
    board_run(&b, 100);
    let_seconds_pass(&b, 2);
    g_assert_cmpuint(b.pulse, ==, down);
    let_seconds_pass(&b, 1);
    g_assert_cmpuint(b.pulse, ==, up);
    board_heard(&b);
    dt_controller_receive(&b.core, DT_BYTE_ASK);
    board_run(&b, 100);
    g_assert_nonnull(strstr(board_heard(&b), "pen up"));
    send_checked(&b, "N3 F500 "); /* no reason to lower it */
    g_assert_cmpuint(b.pulse, ==, up);
    g_autofree char *move = checked("N4 G1 X6 ");
    board_feed(&b, move);
    board_feed(&b, "\n");
    board_pass(&b, 1000LL * b.set.settle_ms - 1000);
    g_assert_cmpuint(b.pulse, ==, down);
    g_assert_cmpint(b.at[0], ==, 500); /* not before the pen has settled */
    board_run(&b, 100000);
    g_assert_cmpint(b.at[0], ==, 600);
    g_assert_cmpuint(b.pulse, ==, down);
    let_seconds_pass(&b, 3);
    g_assert_cmpuint(b.pulse, ==, up);
    send_checked(&b, "N5 M5 ");
    send_checked(&b, "N6 G0 X7 ");
    g_assert_cmpuint(b.pulse, ==, up);
    board_clear(&b);
}

/* Who types lines may look at a pen that is down. */
static void test_pen_stays_down_by_hand(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "M3 S40");
    board_line(&b, "G1 X5 F600");
    const uint16_t down = b.pulse;
    let_seconds_pass(&b, 100);
    g_assert_cmpuint(b.pulse, ==, down);
    g_assert_cmpuint(down, !=, b.set.pen_up_us);
    board_clear(&b);
}

/* What was sent before the sender knew would draw from a wrong place. */
static void test_lines_on_the_way_are_refused_after_abandoning(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    g_assert_cmpstr(send_checked(&b, "N1 G0 X1"), ==, "taken 1\n");
    board_abandon(&b);
    board_run(&b, 10000);
    board_heard(&b);
    g_assert_cmpstr(send_checked(&b, "N2 G0 X9"), ==, "refused 2 order 1\n");
    g_assert_cmpint(b.at[0], ==, 100);
    g_assert_cmpstr(send_checked(&b, "N1 G0 X3"), ==, "taken 1\n");
    g_assert_cmpint(b.at[0], ==, 300);
    board_clear(&b);
}

/* All sixteen bits count. */
static void test_every_bit_of_the_check_counts(void)
{
    const char *body = "N1 M5 ";
    uint16_t crc = 0;
    for (const char *p = body; *p; p++)
        crc = dt_controller_crc(crc, (uint8_t)*p);
    for (int bit = 0; bit < 16; bit++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        g_autofree char *line = g_strdup_printf("%s(*%04X)", body, crc ^ 1u << bit);
        g_assert_cmpstr(board_line(&b, line), ==, "refused 1 check\n");
        board_clear(&b);
    }
}

static void test_order_wraps_and_restarts_after_the_program(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    b.core.last_n = 99998;
    b.core.in_order = 1;
    g_assert_cmpstr(send_checked(&b, "N99999 M5"), ==, "taken 99999\n");
    g_assert_cmpstr(send_checked(&b, "N1 M5"), ==, "taken 1\n");
    g_assert_cmpstr(send_checked(&b, "N2 M5"), ==, "taken 2\n");
    g_assert_cmpstr(send_checked(&b, "N1 M5"), ==, "refused 1 order 3\n");
    g_assert_cmpstr(send_checked(&b, "N3 M2"), ==, "taken 3\n");
    g_assert_cmpstr(send_checked(&b, "N1 M5"), ==, "taken 1\n");
    board_clear(&b);
}

/* Whatever single byte of a checked line is changed, dropped or doubled, nothing wrong is done. */
static void test_no_single_fault_passes_the_check(void)
{
    g_autofree char *line = checked("N2 G1 X12.5 Y3.25 F600 ");
    gsize n = strlen(line);
    for (gsize at = 0; at < n; at++) {
        for (int fault = 0; fault < 10; fault++) {
            g_autoptr(GString) bad = g_string_new(line);
            if (fault < 8)
                bad->str[at] = (char)(bad->str[at] ^ 1 << fault);
            else if (fault == 8)
                g_string_erase(bad, (gssize)at, 1);
            else
                g_string_insert_c(bad, (gssize)at, line[at]);
            Board b;
            board_init(&b, NULL);
            board_home(&b);
            send_checked(&b, "N1 G90");
            board_feed_bytes(&b, bad->str, bad->len);
            board_feed(&b, "\n");
            g_assert_true(board_run(&b, 1000000));
            gboolean untouched = b.at[0] == 0 && b.at[1] == 0;
            gboolean right = b.at[0] == 1250 && b.at[1] == 325;
            g_assert_true(untouched || right);
            board_clear(&b);
        }
    }
}

static void test_quirks(void)
{
    static const Case spaced[] = {
        {"G0 X1 Y2", "taken"},
        {"G0X1", "space missing before X"},
        {"G0 X1Y2", "space missing before Y"},
    };
    static const Case mute[] = {
        {"G0 X1 (there)", "no comments here"},
        {"G0 X1", "taken"},
    };
    static const Case few[] = {
        {"G2 X10 I5 F100", "word G2 not known"},
        {"G4 P1", "word G4 not known"},
        {"G0 X1", "taken"},
        {"N5 G0 X1", "word N not known"},
    };
    static const Case brief[] = {
        {"G0 X1.0000000000000000000000000000000000", "taken"},
        {"G0 X1.00000000000000000000000000000000000", "line too long"},
    };
    DtSettings set = dt_settings_default;
    set.quirks = DT_QUIRK_SPACES;
    check_cases(spaced, G_N_ELEMENTS(spaced), &set);
    set.quirks = DT_QUIRK_NO_COMMENTS;
    check_cases(mute, G_N_ELEMENTS(mute), &set);
    set.quirks = DT_QUIRK_NO_CHECK | DT_QUIRK_NO_ASK;
    set.words = 0;
    static const struct {
        char letter;
        uint16_t tenths;
    } taken[] = {{'G', 0},  {'G', 10}, {'G', 280}, {'M', 30},
                 {'M', 50}, {'X', 0},  {'Y', 0},   {'F', 0}};
    for (gsize i = 0; i < G_N_ELEMENTS(taken); i++)
        set.words |= 1u << dt_controller_word_row(taken[i].letter, taken[i].tenths);
    check_cases(few, G_N_ELEMENTS(few), &set);
    set = dt_settings_default;
    set.longest_line = 40;
    check_cases(brief, G_N_ELEMENTS(brief), &set);
}

/* Each arc goes its whole way, also behind another one. */
static void test_arcs_one_after_the_other(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "G0 X10 Y10");
    board_line(&b, "G2 X20 I5 F600");
    g_array_set_size(b.targets, 0);
    int highest = 0;
    board_feed(&b, "G2 X30 I5\n");
    for (int i = 0; i < 400; i++) {
        board_pass(&b, 10000);
        highest = MAX(highest, b.at[1]);
    }
    g_assert_cmpuint(b.targets->len, >, 20);
    g_assert_cmpint(highest, ==, 1500);
    board_clear(&b);
}

/* The end of a program stops the spindle: an S behind it moves no pen. */
static void test_end_of_a_program_lifts_for_good(void)
{
    Board b;
    board_init(&b, NULL);
    board_home(&b);
    board_line(&b, "M3 S40");
    board_line(&b, "M2");
    board_line(&b, "S50");
    g_assert_cmpuint(b.pulse, ==, b.set.pen_up_us);
    board_clear(&b);
}

/* What only looks like a check is a comment. */
static void test_comments_like_checks(void)
{
    static const char *const lines[] = {"G0 X1 (*wxyz)", "G0 X1 (*12g4)", "G0 X1 (*1A2:)",
                                        "G0 X1 (*1A2B )"};
    for (gsize i = 0; i < G_N_ELEMENTS(lines); i++) {
        Board b;
        board_init(&b, NULL);
        board_home(&b);
        g_assert_cmpstr(board_line(&b, lines[i]), ==, "taken 2\n");
        board_clear(&b);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/controller/lines-that-are-taken", test_lines_that_are_taken);
    g_test_add_func("/controller/lines-that-are-refused", test_lines_that_are_refused);
    g_test_add_func("/controller/refused-line-changes-nothing", test_refused_line_changes_nothing);
    g_test_add_func("/controller/numbers-are-exact", test_numbers_are_exact);
    g_test_add_func("/controller/incremental-moves-add-up",
                    test_incremental_moves_add_up_without_loss);
    g_test_add_func("/controller/nothing-moves-unhomed", test_nothing_moves_unhomed);
    g_test_add_func("/controller/full-buffer-loses-bytes",
                    test_full_buffer_loses_bytes_and_counts_them);
    g_test_add_func("/controller/overlong-line-is-refused-once",
                    test_overlong_line_is_refused_once);
    g_test_add_func("/controller/overlong-line-ends-unseen", test_overlong_line_ends_unseen);
    g_test_add_func("/controller/overlong-line-behind-abandoning",
                    test_overlong_line_behind_abandoning);
    g_test_add_func("/controller/abandoning-ends-an-overlong-line",
                    test_abandoning_ends_an_overlong_line);
    g_test_add_func("/controller/check-and-order", test_check_and_order);
    g_test_add_func("/controller/pen-is-lifted-in-silence", test_pen_is_lifted_in_silence);
    g_test_add_func("/controller/pen-stays-down-by-hand", test_pen_stays_down_by_hand);
    g_test_add_func("/controller/abandon-and-order",
                    test_lines_on_the_way_are_refused_after_abandoning);
    g_test_add_func("/controller/every-bit-of-the-check", test_every_bit_of_the_check_counts);
    g_test_add_func("/controller/order-wraps-and-restarts",
                    test_order_wraps_and_restarts_after_the_program);
    g_test_add_func("/controller/no-single-fault-passes-the-check",
                    test_no_single_fault_passes_the_check);
    g_test_add_func("/controller/quirks", test_quirks);
    g_test_add_func("/controller/arcs-one-after-the-other", test_arcs_one_after_the_other);
    g_test_add_func("/controller/end-of-a-program", test_end_of_a_program_lifts_for_good);
    g_test_add_func("/controller/comments-like-checks", test_comments_like_checks);
    return g_test_run();
}
