/* code: each kind of move in each form that a controller may take it, down to the byte; and the line that lowers the pen
 * with another S. */
#include "drawtrue/code.h"

#include <string.h>

static char black[] = "black", red[] = "red";

static void fill_profile(DtProfile *p, DtPen *pens, const char *words)
{
    memset(p, 0, sizeof *p);
    p->name = black;
    for (int axis = 0; axis < 2; axis++) {
        p->steps_per_mm[axis] = 64;
        p->travel[axis] = 300;
        p->speed[axis] = 20;
        p->acceleration[axis] = p->pull_in[axis] = 100;
        p->scale[axis] = 1;
    }
    p->lift_s = 0.08;
    p->drop_s = 0.12;
    p->dialect = (DtDialect){.words = (char *)words,
                             .pen_down = (char *)"M3 S40",
                             .pen_up = (char *)"M5",
                             .home = (char *)"G28",
                             .program_end = (char *)"M2",
                             .decimals = 3};
    pens[0] = (DtPen){.name = black, .tip = 0.5};
    pens[1] = (DtPen){.name = red, .tip = 0.3};
    p->rack = (DtRack){pens, 2};
}

static char *write_moves(const DtProfile *p, const DtMove *m, size_t n, const DtWriteOptions *o,
                         GError **error)
{
    const DtMoves moves = {.m = (DtMove *)m, .n = n};
    gsize len = 0;
    char *text = dt_code_write_as(p, &moves, o, &len, error);
    if (text != NULL)
        g_assert_cmpuint(len, ==, strlen(text));
    return text;
}

#define WORDS "G0 G1 G4 G21 G28 G90 M0 M2 M3 M5 X Y F S P"
#define HOME                                                                                       \
    {                                                                                              \
        .kind = DT_MOVE_HOME, .polyline = G_MAXSIZE                                                \
    }
#define TRAVEL(x, y)                                                                               \
    {                                                                                              \
        .kind = DT_MOVE_TRAVEL, .to = { x, y }                                                     \
    }
#define DOWN                                                                                       \
    {                                                                                              \
        .kind = DT_MOVE_PEN_DOWN                                                                   \
    }
#define UP                                                                                         \
    {                                                                                              \
        .kind = DT_MOVE_PEN_UP                                                                     \
    }
#define DRAW(x, y, feed)                                                                           \
    {                                                                                              \
        .kind = DT_MOVE_DRAW, .to = {x, y}, .feed_mm_s = feed                                      \
    }
#define END                                                                                        \
    {                                                                                              \
        .kind = DT_MOVE_END, .polyline = G_MAXSIZE                                                 \
    }

/* What stands after the head and the modes. */
static void check(const char *words, const DtMove *m, size_t n, const DtWriteOptions *o,
                  const char *wanted)
{
    DtProfile p;
    DtPen pens[2];
    g_autoptr(GError) error = NULL;
    fill_profile(&p, pens, words);
    g_autofree char *text = write_moves(&p, m, n, o, &error);
    g_assert_no_error(error);
    const char *body = strstr(text, "\nG21G90\n");
    g_assert_nonnull(body);
    g_assert_cmpstr(body + strlen("\nG21G90\n"), ==, wanted);
}

#define CHECK(wanted, ...)                                                                         \
    do {                                                                                           \
        const DtMove list[] = {__VA_ARGS__};                                                       \
        check(WORDS, list, G_N_ELEMENTS(list), NULL, wanted);                                      \
    } while (0)

static void test_each_move_has_its_words(void)
{
    CHECK("M5\nG4P0.08\nG28\nM2\n", HOME, END);
    /* home is a place, and stays where it is */
    CHECK("M5\nG4P0.08\nG28\n(stroke 1 pen black)\nG0X0Y0\nM2\n", HOME, TRAVEL(0, 0), END);
    /* what does not move is not written, and pens move once */
    CHECK("M5\nG4P0.08\nG28\n(stroke 1 pen black)\nG0X1Y2\nM3 S40\nG4P0.12\nG1X3F600\nM5\nG4P0."
          "08\nG0X0Y0\nM2\n",
          HOME, TRAVEL(1, 2), TRAVEL(1, 2), DOWN, DOWN, DRAW(3, 2, 10), DRAW(3, 2, 10),
          DRAW(3.0001, 2, 10), UP, UP, END);
    /* a travel with a feed is a slow one; a stroke goes on at the same feed without saying so */
    CHECK(
        "M5\nG4P0.08\nG28\n(stroke 1 pen black)\nG1X1Y0F120\nX2\nM3 S40\nG4P0.12\nY5F600\nX7\nM5\n"
        "G4P0.08\nG0X0Y0\nM2\n",
        HOME, {.kind = DT_MOVE_TRAVEL, .to = {1, 0}, .feed_mm_s = 2},
        {.kind = DT_MOVE_TRAVEL, .to = {2, 0}, .feed_mm_s = 2}, DOWN, DRAW(2, 5, 10),
        DRAW(7, 5, 10), UP, END);
    /* slack is taken up as the pen is: in the air as fast as can be, on paper at its feed */
    CHECK("M5\nG4P0.08\nG28\n(stroke 1 pen black)\nG0X1Y0\nM3 S40\nG4P0.12\nG1X2F300\nM5\nG4P0.08\n"
          "G0X0\nM2\n",
          HOME, {.kind = DT_MOVE_SLACK, .to = {1, 0}, .feed_mm_s = 5}, DOWN,
          {.kind = DT_MOVE_SLACK, .to = {2, 0}, .feed_mm_s = 5}, END);
    /* waits of a move's own: longer, or none */
    CHECK("M5\nG4P0.08\nG28\n(stroke 1 pen black)\nM3 S40\nG4P0.5\nG1X2Y0F300\nM5\nM3 S25.5\n"
          "G4P0.12\nX4\nM5\nG4P0.08\nG0X0\nM2\n",
          HOME, {.kind = DT_MOVE_PEN_DOWN, .wait_s = 0.5F}, DRAW(2, 0, 5),
          {.kind = DT_MOVE_PEN_UP, .wait_s = -1}, {.kind = DT_MOVE_PEN_DOWN, .drop_word = 25.5},
          DRAW(4, 0, 5), END);
    /* pens, paper, and strokes that are counted from 1 */
    CHECK("M5\nG4P0.08\nG28\n(stroke 3 pen red)\nG0X1Y1\n(pen black)\nM0\n(turn the paper a "
          "quarter turn counter-clockwise)\nM0\n"
          "(stroke 4 pen black)\nG0X2Y1\nM3 S40\nG4P0.12\nM5\nG4P0.08\nX0Y0\nM2\n",
          HOME, {.kind = DT_MOVE_TRAVEL, .to = {1, 1}, .polyline = 2, .pen = 1},
          {.kind = DT_MOVE_PEN_CHANGE, .pen = 0, .polyline = G_MAXSIZE},
          {.kind = DT_MOVE_TURN_PAPER, .polyline = G_MAXSIZE},
          {.kind = DT_MOVE_TRAVEL, .to = {2, 1}, .polyline = 3},
          {.kind = DT_MOVE_PEN_DOWN, .polyline = 3}, {.kind = DT_MOVE_PEN_UP, .polyline = 3}, END);
    /* a pen beyond the rack has no name */
    CHECK("M5\nG4P0.08\nG28\n(stroke 1 pen ?)\nG0X1Y1\n(pen ?)\nM0\nG0X0Y0\nM2\n", HOME,
          {.kind = DT_MOVE_TRAVEL, .to = {1, 1}, .pen = 2},
          {.kind = DT_MOVE_PEN_CHANGE, .pen = 2, .polyline = G_MAXSIZE},
          {.kind = DT_MOVE_TRAVEL, .to = {0, 0}, .polyline = G_MAXSIZE}, END);
}

/* Feeds are whole mm/min from 100 on and thousandths below, rounded down; one that is 2 % slower stays, where limits are
 * tried one that is 0.4 % slower. */
static void test_feeds(void)
{
    static const struct {
        double first, second; /* mm/min */
        gboolean tries;
        const char *told[2]; /* NULL: not told again */
    } cases[] = {{600, 600, FALSE, {"F600", NULL}},        {600.9, 500, FALSE, {"F600", "F500"}},
                 {99.9999, 50, FALSE, {"F99.999", "F50"}}, {0.0001, 50, FALSE, {"F0.001", "F50"}},
                 {491, 500, FALSE, {"F491", NULL}},        {489, 500, FALSE, {"F489", "F500"}},
                 {501, 500, FALSE, {"F501", "F500"}},      {499, 500, TRUE, {"F499", NULL}},
                 {497, 500, TRUE, {"F497", "F500"}}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        const DtMove m[] = {HOME, DOWN, DRAW(10, 0, cases[i].first / 60),
                            DRAW(20, 0, cases[i].second / 60), END};
        const DtWriteOptions o = {.tries_limits = cases[i].tries};
        g_autofree char *second =
            g_strdup_printf("X20%s\n", cases[i].told[1] ? cases[i].told[1] : "");
        g_autofree char *wanted = g_strdup_printf(
            "%sM5\nG4P0.08\nG28\n(stroke 1 pen black)\nM3 S40\nG4P0.12\nG1X10Y0%s\n%sM5\nG4P0.08\n"
            "G0X0\nM2\n",
            cases[i].tries ? "(feeds and waits beyond the profile are meant)\n" : "",
            cases[i].told[0], second);
        check(WORDS, m, G_N_ELEMENTS(m), &o, wanted);
    }
}

/* No feed is faster than both axes are in its direction, but where limits are tried: 20 mm/s along X and 10 along Y make
 * 11.18 along (1, 2). */
static void test_feeds_stay_within_the_limits_of_the_direction(void)
{
    static const struct {
        double x, y;
        const char *feed;
    } cases[] = {{10, 0, "F1200"}, {0, 10, "F600"}, {10, 10, "F848"}, {10, 20, "F670"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++)
        for (int tries = 0; tries < 2; tries++) {
            DtProfile p;
            DtPen pens[2];
            g_autoptr(GError) error = NULL;
            fill_profile(&p, pens, WORDS);
            p.speed[1] = 10;
            const DtMove m[] = {HOME, DOWN, DRAW(cases[i].x, cases[i].y, 50), END};
            const DtWriteOptions o = {.tries_limits = tries};
            g_autofree char *text = write_moves(&p, m, G_N_ELEMENTS(m), &o, &error);
            g_assert_no_error(error);
            const char *feed = strchr(text, 'F');
            g_assert_nonnull(feed);
            g_autofree char *line = g_strdup_printf("%s\n", tries ? "F3000" : cases[i].feed);
            g_assert_true(g_str_has_prefix(feed, line));
        }
}

/* Dwells are never shorter than what is asked, in the controller's own unit; without G4 there are none. */
static void test_dwells(void)
{
    static const struct {
        const char *words;
        float wait_s;
        const char *told;
    } cases[] = {{WORDS, 0.25F, "G4P0.25\n"},
                 {WORDS, 0.1231F, "G4P0.124\n"},
                 {WORDS, 0.0004F, ""},
                 {WORDS " dwell:ms", 0.25F, "G4P250\n"},
                 {WORDS " dwell:ms", 0.0007F, "G4P0.7\n"},
                 {"G0 G1 G21 G28 G90 M0 M2 M3 M5 X Y F S P", 0.25F, ""}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        const DtMove m[] = {HOME,
                            {.kind = DT_MOVE_PEN_DOWN, .wait_s = cases[i].wait_s},
                            {.kind = DT_MOVE_PEN_UP, .wait_s = -1},
                            END};
        DtProfile p;
        DtPen pens[2];
        g_autoptr(GError) error = NULL;
        fill_profile(&p, pens, cases[i].words);
        p.lift_s = 0;
        g_autofree char *text = write_moves(&p, m, G_N_ELEMENTS(m), NULL, &error);
        g_autofree char *wanted = g_strdup_printf(
            "\nG21G90\nM5\nG28\n(stroke 1 pen black)\nM3 S40\n%sM5\nM2\n", cases[i].told);
        g_assert_no_error(error);
        g_assert_true(g_str_has_suffix(text, wanted));
    }
}

/* Modes that the controller has another one of are stated, and lengths in any case, where it has a word for it. */
static void test_modes(void)
{
    static const struct {
        const char *words, *line;
    } cases[] = {{"G0 G1 G28 X Y F S M3 M5 M2", ""},
                 {"G0 G1 G21 G28 X Y F S M3 M5 M2", "G21\n"},
                 {"G0 G1 G20 G21 G90 G91 G28 X Y F S M3 M5 M2", "G21G90\n"},
                 {"G0 G1 G17 G28 X Y F S M3 M5 M2", ""},
                 {"G0 G1 G17 G18 G28 X Y F S M3 M5 M2", "G17\n"},
                 {"G0 G1 G17 G19 G28 X Y F S M3 M5 M2", "G17\n"},
                 {"G0 G1 G94 G28 X Y F S M3 M5 M2", ""},
                 {"G0 G1 G93 G94 G28 X Y F S M3 M5 M2", "G94\n"},
                 {"G0 G1 G17 G18 G19 G20 G21 G90 G91 G93 G94 G28 X Y F S M3 M5 M2 gap:needed",
                  "G21 G90 G17 G94\n"}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        const DtMove m[] = {HOME, DOWN, DRAW(1, 1, 10), END};
        DtProfile p;
        DtPen pens[2];
        g_autoptr(GError) error = NULL;
        fill_profile(&p, pens, cases[i].words);
        g_autofree char *text = write_moves(&p, m, G_N_ELEMENTS(m), NULL, &error);
        g_assert_no_error(error);
        const char *second = strchr(text, '\n') + 1;
        g_autofree char *wanted = g_strconcat(cases[i].line, "M5\n", NULL);
        g_assert_true(g_str_has_prefix(second, wanted));
    }
}

static void test_what_is_asked_for_and_not_there_is_named(void)
{
    static const struct {
        const char *home, *down, *up, *end;
        int longest;
        const char *says;
    } cases[] = {
        {"", "M3", "M5", "M2", 0, "the controller has no line that homes it"},
        {"G28", "", "M5", "M2", 0, "the controller has no line that drops the pen"},
        {"G28", "M3", "", "M2", 0, "the controller has no line that lifts the pen"},
        {"G28 (home both of the axes)", "M3", "M5", "M2", 24,
         "the line that homes is 27 bytes long, and a line may have 24"},
        {"G28", "M3 (and down comes the pen)", "M5", "M2", 26,
         "the line that drops the pen is 27 bytes long, and a line may have 26"},
        {"G28", "M3", "M5 (and up it goes, whoa)", "M2", 24,
         "the line that lifts the pen is 25 bytes long"},
        {"G28", "M3", "M5", "M2 (and that was the end)", 24,
         "the program's last line is 25 bytes long"},
        {"G28", "M3", "M5", "M2", 23, "lines of 23 bytes are too short for a move; at least 24"}};
    const DtMove m[] = {HOME, DOWN, DRAW(1, 1, 10), UP, END};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtProfile p;
        DtPen pens[2];
        g_autoptr(GError) error = NULL;
        fill_profile(&p, pens, WORDS);
        p.dialect.home = (char *)cases[i].home;
        p.dialect.pen_down = (char *)cases[i].down;
        p.dialect.pen_up = (char *)cases[i].up;
        p.dialect.program_end = (char *)cases[i].end;
        p.dialect.longest_line = cases[i].longest;
        g_assert_null(write_moves(&p, m, G_N_ELEMENTS(m), NULL, &error));
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        if (strstr(error->message, cases[i].says) == NULL)
            g_error("'%s' does not say '%s'", error->message, cases[i].says);
    }
}

/* The number of the first S outside comments, and nothing else; tenths. */
static void test_a_pen_is_lowered_by_another_word(void)
{
    static const struct {
        const char *line;
        double s;
        const char *other;
    } cases[] = {{"M3 S40", 55, "M3 S55"},
                 {"M3S40", 25.54, "M3S25.5"},
                 {"m3 s40", 55, "m3 s55"},
                 {"M3 S 40", 55, "M3 S 55"},
                 {"S40 M3", 55, "S55 M3"},
                 {"M3 S+40.0 (S20)", 55, "M3 S55 (S20)"},
                 {"(S20) M3 S40", 55, "(S20) M3 S55"},
                 {"(a) (S20) M3 S40 S41", 55, "(a) (S20) M3 S55 S41"},
                 {"M3 ;S40", 55, "M3 ;S40"},
                 {"M3", 55, "M3"},
                 {"M3 S", 55, "M3 S"},
                 {"(S40)", 55, "(S40)"},
                 {"M3\nS40", 55, "M3\nS40"},
                 {"", 55, ""}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *other = dt_code_drop_line(cases[i].line, cases[i].s);
        g_assert_cmpstr(other, ==, cases[i].other);
    }
}

/* From half of the profile's own to what the controller takes, where the spindle's words move a servo. */
static void test_how_far_that_word_may_go(void)
{
    static const struct {
        const char *words, *down, *up;
        gboolean varies;
        double s, least, most;
    } cases[] = {{"G0 G1 M3 M5 X Y F S0..100", "M3 S40", "M5", TRUE, 40, 20, 100},
                 {"G0 G1 M3 M5 X Y F S30..100", "M3 S40", "M5", TRUE, 40, 30, 100},
                 {"G0 G1 M3 M4 M5 X Y F S0..100", "M4 S60", "M5", TRUE, 60, 30, 100},
                 {"G0 G1 M3 M5 X Y F S", "M3 S40", "M5", TRUE, 40, 20, G_MAXDOUBLE},
                 {"G0 G1 M3 M5 X Y F", "M3", "M5", FALSE, 0, 0, 0},
                 {"G0 G1 M3 M5 X Y F S0..100", "M3", "M5", FALSE, 0, 0, 0},
                 {"G0 G1 M3 M5 X Y F S0..100", "M3 S0", "M5", FALSE, 0, 0, 0},
                 {"G0 G1 M3 M5 X Y F S0..100", "M3 S40", "M3 S10", FALSE, 0, 0, 0},
                 {"G0 G1 M3 M5 X Y Z F S0..100", "G1 Z0", "G1 Z5", FALSE, 0, 0, 0}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        DtProfile p;
        DtPen pens[2];
        double s = 0, least = 0, most = 0;
        fill_profile(&p, pens, cases[i].words);
        p.dialect.pen_down = (char *)cases[i].down;
        p.dialect.pen_up = (char *)cases[i].up;
        g_assert_cmpint(dt_code_drop_word(&p, &s, &least, &most), ==, cases[i].varies);
        if (!cases[i].varies)
            continue;
        g_assert_cmpfloat(s, ==, cases[i].s);
        g_assert_cmpfloat(least, ==, cases[i].least);
        g_assert_cmpfloat(most, ==, cases[i].most);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/write-moves/moves", test_each_move_has_its_words);
    g_test_add_func("/write-moves/feeds", test_feeds);
    g_test_add_func("/write-moves/directions", test_feeds_stay_within_the_limits_of_the_direction);
    g_test_add_func("/write-moves/dwells", test_dwells);
    g_test_add_func("/write-moves/modes", test_modes);
    g_test_add_func("/write-moves/lacking", test_what_is_asked_for_and_not_there_is_named);
    g_test_add_func("/write-moves/drop-line", test_a_pen_is_lowered_by_another_word);
    g_test_add_func("/write-moves/drop-word", test_how_far_that_word_may_go);
    return g_test_run();
}
