/* suppose: which ways of meaning a pen are tried for the words that a program has, and what each is worth before it
 * is tried. */
#include "code/mend/trial.h"

#include <string.h>

/* A level of Z or S, and the mm along which the carriage moves in it. Not both are zero. */
typedef struct {
    double at, moved;
} Level;

typedef struct {
    const char *supposed; /* with what each is worth */
    DtCensus has;
    Level z[8], s[8];
} Case;

static void set_levels(const Level *from, DtLevels *out)
{
    for (int i = 0; i < 8 && (from[i].at != 0 || from[i].moved != 0); i++) {
        out->at[i] = from[i].at;
        out->moved[i] = from[i].moved;
        out->n = i + 1;
    }
}

static void check(const Case *c)
{
    g_autofree DtTrial *t = g_new0(DtTrial, 1);
    DtCensus has = c->has;
    set_levels(c->z, &has.height[2]);
    set_levels(c->s, &has.speed);
    t->census = &has;
    dt_trial_suppose(t);
    g_autoptr(GString) said = g_string_new(NULL);
    for (int i = 0; i < t->n; i++) {
        g_autofree char *option = dt_reading_option(&t->h[i].reading);
        g_string_append_printf(said, "%s%s %g", i > 0 ? ", " : "", option, t->h[i].prior);
        g_assert_cmpint((t->rapids >> i & 1) != 0, ==, t->h[i].reading.rapids_draw);
        g_assert_cmpint((t->words_down >> i & 1) != 0, ==, t->h[i].reading.kind == READ_MOVES);
    }
    g_assert_cmpstr(said->str, ==, c->supposed);
}

static void check_all(const Case *cases, gsize n)
{
    for (gsize i = 0; i < n; i++)
        check(&cases[i]);
}

/* M3 and M4 turn a spindle; where there are both, each may be the pen's. */
static void test_spindles(void)
{
    static const Case cases[] = {
        {"", .has = {.moves = 9}},
        {"spindle:on 2, spindle:off 1", .has = {.turned = {FALSE, TRUE, TRUE}}},
        {"spindle:on 2, spindle:off 1", .has = {.turned = {TRUE, FALSE, FALSE}}},
        {"spindle:on 2, spindle:off 1, spindle:m3 1.5, spindle:m4 1.5",
         .has = {.turned = {TRUE, TRUE, TRUE}}},
        {"", .has = {.turned = {FALSE, TRUE, FALSE}}},
        {"spindle:on 2, spindle:on+rapids 2, spindle:off 1, spindle:off+rapids 1",
         .has = {.turned = {FALSE, FALSE, TRUE}, .rapid_mm = 1}}};
    check_all(cases, G_N_ELEMENTS(cases));
}

/* This machine's own words count for more where both are there and nothing else is said with them. */
static void test_own_words_and_moves(void)
{
    static const Case cases[] = {
        {"machine 6", .has = {.machine_down = TRUE, .machine_up = TRUE}},
        {"machine 2", .has = {.machine_down = TRUE}},
        {"machine 2", .has = {.machine_down = TRUE, .machine_up = TRUE, .other_speeds = TRUE}},
        {"", .has = {.machine_up = TRUE}},
        {"moves 0.5", .has = {.rapid_mm = 5, .feed_mm = 5}},
        {"", .has = {.feed_mm = 5}},
        {"", .has = {.rapid_mm = 5}}};
    check_all(cases, G_N_ELEMENTS(cases));
}

/* The gap above zero first, which is likely to be between off and on; then the widest, none of them twice. */
static void test_speeds(void)
{
    static const Case cases[] = {
        {"", .s = {{80, 9}}},
        {"s-above:40 3, s-below:40 0.5", .s = {{80, 9}, {0, 9}}},
        {"s-above:145 2, s-below:145 2, s-above:65 2, s-below:65 2",
         .s = {{40, 9}, {90, 9}, {200, 9}}},
        {"s-above:50 3, s-below:50 0.5, s-above:120 2, s-below:120 2, s-above:105 2, s-below:105 2",
         .s = {{100, 9}, {110, 9}, {0, 9}, {130, 9}}},
        {"s-above:5 3, s-below:5 0.5, s-above:180 2, s-below:180 2, s-above:125 2, s-below:125 2, "
         "s-above:80 2, s-below:80 2",
         .s = {{0, 9}, {10, 9}, {30, 9}, {60, 9}, {100, 9}, {150, 9}, {210, 9}}}};
    check_all(cases, G_N_ELEMENTS(cases));
}

/* Heights in which the carriage moves; and where it only dips beyond them, dots. */
static void test_heights(void)
{
    static const Case cases[] = {
        {"z-below:2 2.5, z-above:2 0.5", .z = {{5, 9}, {-1, 9}}},
        {"z-below:3.5 2, z-above:3.5 0.5", .z = {{5, 9}, {2, 9}}},
        {"z-above:4 0.5, z-below:0 2.5, z-above:0 0.5, z-below:2 2, z-above:2 0.5",
         .z = {{5, 0}, {3, 9}, {1, 9}, {-1, 9}}},
        {"z-below:-2 2, z-below:2 2.5, z-above:2 0.5", .z = {{5, 9}, {-1, 9}, {-3, 0}}},
        {"z-below:1 2.5, z-above:1 0.5", .z = {{3, 9}, {-1, 0}}}};
    check_all(cases, G_N_ELEMENTS(cases));
}

#define EVEN(n)                                                                                    \
    {                                                                                              \
        n, 0.03, 0.05                                                                              \
    }
#define UNEVEN(n)                                                                                  \
    {                                                                                              \
        n, 0.01, 0.05                                                                              \
    }

/* What is fed goes with the length of the moves, as it is stated or by what it rises; four of them show it. Three of
 * each leave it open, and two say nothing. */
static void test_letters(void)
{
    static const struct {
        const char *supposed;
        DtLetterUse e; /* moves with it, rapids, what it states, what it rises by */
    } cases[] = {{"letter:E 3", {8, 0, EVEN(8), UNEVEN(2)}},
                 {"positive:E 3", {8, 0, EVEN(6), UNEVEN(4)}},
                 {"letter:E 3", {8, 0, UNEVEN(8), EVEN(8)}},
                 {"rising:E 3", {8, 0, UNEVEN(8), EVEN(5)}},
                 {"positive:E 3", {8, 0, EVEN(4), EVEN(4)}},
                 {"rising:E 3, positive:E 3", {8, 0, UNEVEN(3), UNEVEN(3)}},
                 {"rising:E 3, positive:E 3", {8, 0, EVEN(3), UNEVEN(3)}},
                 {"", {8, 0, UNEVEN(3), UNEVEN(2)}},
                 {"", {8, 0, UNEVEN(2), UNEVEN(3)}},
                 {"letter:E 3", {2, 0, EVEN(2), EVEN(2)}},
                 {"", {1, 0, EVEN(1), EVEN(1)}},
                 {"", {12, 0, EVEN(12), UNEVEN(12)}},
                 {"positive:E+rapids 3", {8, 1, EVEN(6), UNEVEN(4)}}};
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Case c = {cases[i].supposed, .has = {.moves = 12}};
        c.has.letter['E' - 'A'] = cases[i].e;
        check(&c);
    }
}

/* Two lines of which neither is much rarer, the most frequent first. */
static void test_lines(void)
{
    static const Case cases[] = {
        {"", .has = {.key = {"M8"}, .key_count = {5}, .n_keys = 1, .feed_mm = 1}},
        {"line:M9=down,M8=up 1.5, line:M8=down,M9=up 1.5",
         .has = {.key = {"M8", "M9"}, .key_count = {4, 5}, .n_keys = 2, .feed_mm = 1}},
        {"line:M8=down,M9=up 1.5, line:M9=down,M8=up 1.5",
         .has = {.key = {"M8", "M9"}, .key_count = {4, 1}, .n_keys = 2, .feed_mm = 1}},
        {"", .has = {.key = {"M8", "M9"}, .key_count = {5, 1}, .n_keys = 2, .feed_mm = 1}},
        {"line:M8=down,M9=up 1.5, line:M8=down,M9=up+rapids 1.5, line:M9=down,M8=up 1.5, "
         "line:M9=down,M8=up+rapids 1.5",
         .has = {.key = {"M8", "M9"}, .key_count = {2, 2}, .n_keys = 2}}};
    check_all(cases, G_N_ELEMENTS(cases));
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/code/suppose/spindles", test_spindles);
    g_test_add_func("/code/suppose/own-words", test_own_words_and_moves);
    g_test_add_func("/code/suppose/speeds", test_speeds);
    g_test_add_func("/code/suppose/heights", test_heights);
    g_test_add_func("/code/suppose/letters", test_letters);
    g_test_add_func("/code/suppose/lines", test_lines);
    return g_test_run();
}
