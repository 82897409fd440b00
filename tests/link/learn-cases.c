/* learn-cases: see learn-cases.h. */
#include "learn-cases.h"

#include <string.h>

#define LETTERS "F I J P R S X Y"
#define CODES "G0 G1 G2 G3 G4 G17 G20 G21 G28 G90 G91 G94"
#define WORDS .words = CODES " M2 M3 M5 M30 " LETTERS, .comments = "round"
#define PLAIN WORDS, .longest = 40, .rx = 64

enum { NO_WINDOW = -1 };
#define W CODES " M2 M3 M5 M30 F I J N P R S X Y"

const Case learn_cases[] = {
    {"plain", {PLAIN}, {0}},
    /* Replies. */
    {"one-sign", {PLAIN, .accept = "+", .refuse = "-"}, {.accept = "+", .refuse = "-"}},
    {"sign-and-number",
     {PLAIN, .accept = "+", .refuse = "-", .counts = TRUE},
     {.accept = "+", .refuse = "-"}},
    {"counts-its-lines", {PLAIN, .counts = TRUE}, {0}},
    {"same-beginning",
     {PLAIN, .accept = "line good", .refuse = "line bad"},
     {.accept = "line good", .refuse = "line bad"}},
    {"one-in-the-other", {PLAIN, .accept = "done", .refuse = "done not"}, {.refuse = "done not"}},
    {"says-why", {PLAIN, .says_why = TRUE}, {0}},
    {"refuses-in-other-words-each-time", {PLAIN, .own_refusals = TRUE}, {.refuse = ""}},
    {"refuses-silently", {PLAIN, .refuses_silently = TRUE}, {.refuse = ""}},
    {"takes-everything", {PLAIN, .takes_all = TRUE}, {.error = "do not distinguish"}},
    {"answers-twice", {PLAIN, .answers_twice = TRUE}, {.error = "more than once"}},
    {"answers-again-later", {PLAIN, .again_ms = 100}, {.error = "more than once"}},
    {"answers-slowly-and-again", /* as late as twice the time of its answer */
     {PLAIN, .delay_ms = 300, .again_ms = 450},
     {.error = "more than once"}},
    {"mute", {PLAIN, .is_mute = TRUE}, {.error = "answers no line"}},
    {"numbers-alone", {PLAIN, .accept = "0", .refuse = "17"}, {.error = "do not distinguish"}},
    {"return-ends-a-line", {PLAIN, .line_end = "\r"}, {0}},
    {"return-and-feed", {PLAIN, .line_end = "\r\n"}, {0}},
    {"feed-and-return", {PLAIN, .line_end = "\n\r"}, {0}},
    {"echo", {PLAIN, .echo = ECHO_LINE}, {0}},
    {"echo-before-the-reply", {PLAIN, .echo = ECHO_BEFORE_REPLY}, {0}},
    {"echo-with-a-prompt", {PLAIN, .echo = ECHO_WITH_PROMPT, .line_end = "\r\n"}, {0}},
    {"reports-before-it-accepts", {PLAIN, .report = "queue 5 of 16"}, {.notices = "queue"}},
    {"explains-behind-a-refusal",
     {PLAIN, .help = "help: see the leaflet"},
     {.refuse = "help: see the leaflet", .notices = "wrong"}},
    {"busy", {PLAIN, .busy = "busy 1"}, {.notices = "busy"}},
    {"talks", {PLAIN, .chat = "heat 21.5 of 60", .chat_ms = 300}, {.notices = "heat"}},
    {"talks-much", {PLAIN, .chat = "heat 21.5 of 60", .chat_ms = 15}, {.notices = "heat"}},
    {"talks-without-line-ends",
     {PLAIN, .chat = ".", .chat_end = "", .chat_ms = 70},
     {.less = TRUE, .run_may_stop = TRUE}},
    {"says-done-unasked", {PLAIN, .chat = "done", .chat_ms = 130}, {.error = ""}},
    {"slow", {PLAIN, .delay_ms = 700}, {.window = NO_WINDOW}},
    {"garbles-replies", {PLAIN, .garbles = 17}, {.less = TRUE, .run_may_stop = TRUE}},
    {"loses-replies", {PLAIN, .drops = 13}, {.less = TRUE, .run_may_stop = TRUE}},
    /* The start, and restarts. */
    {"greets", {PLAIN, .greeting = "seed plotter 3 ready"}, {.greeting = "seed plotter"}},
    {"greets-late",
     {PLAIN, .greeting = "seed plotter", .boot_ms = 3000},
     {.greeting = "seed plotter"}},
    {"greets-in-three-lines",
     {PLAIN, .greeting = "seed plotter\nby the library\ncheck your pens"},
     {.greeting = "seed plotter"}},
    {"greets-and-talks",
     {PLAIN, .greeting = "seed plotter", .chat = "heat 20", .chat_ms = 90},
     {.greeting = "seed plotter", .notices = "heat"}},
    {"restarts-once", {PLAIN, .greeting = "hello", .restart_once = 30}, {.greeting = "hello"}},
    {"restarts-at-a-word",
     {PLAIN, .greeting = "hello", .restarts_at = "G93"},
     {.greeting = "hello"}},
    {"restarts-over-and-over",
     {PLAIN, .greeting = "hello", .restart_every = 25},
     {.error = "over and over"}},
    {"hangs-at-a-word", {PLAIN, .greeting = "hello", .hangs_at = "G64"}, {.greeting = "hello"}},
    {"hangs-without-a-greeting", {PLAIN, .hangs_at = "G19"}, {0}},
    /* What it takes. */
    {"needs-gaps", {PLAIN, .gaps = TRUE}, {.words = W " gap:needed"}},
    {"semicolons",
     {.words = CODES " M2 M3 M5 M30 " LETTERS, .comments = "semicolon", .longest = 40, .rx = 64},
     {.words = W " comment:semicolon"}},
    {"both-comments",
     {.words = CODES " M2 M3 M5 M30 " LETTERS, .comments = "both", .longest = 40, .rx = 64},
     {.words = W " comment:both"}},
    {"no-comments",
     {.words = CODES " M2 M3 M5 M30 " LETTERS, .longest = 40, .rx = 64},
     {.words = W " comment:none"}},
    {"no-line-numbers",
     {PLAIN, .no_numbers = TRUE},
     {.words = CODES " M2 M3 M5 M30 F I J P R S X Y"}},
    {"no-slash", {PLAIN, .no_slash = TRUE}, {.words = W " delete:refused"}},
    {"expressions", {PLAIN, .expressions = TRUE}, {.words = W " expressions:taken"}},
    {"two-decimals", {PLAIN, .decimals = 2}, {.decimals = 2}},
    {"speeds-to-255",
     {PLAIN, .most_s = 255},
     {.words = CODES " M2 M3 M5 M30 F I J N P R S0..255 X Y"}},
    {"no-arcs",
     {.words = "G0 G1 G4 G21 G28 G90 G91 M2 M3 M5 F P S X Y",
      .comments = "round",
      .longest = 40,
      .rx = 64},
     {.words = "G0 G1 G4 G21 G28 G90 G91 M2 M3 M5 F N P S X Y"}},
    {"no-distances",
     {.words = "G0 G1 G4 G21 G28 G90 M3 M5 F P S X Y",
      .comments = "round",
      .longest = 40,
      .rx = 64},
     {.words = "G0 G1 G4 G21 G28 G90 M3 M5 F N P S X Y", .end = ""}},
    {"inches-only", /* what it would move by could be 25 times as far as was agreed */
     {.words = "G0 G1 G2 G3 G4 G17 G20 G28 G90 G91 G94 M2 M3 M5 M30 " LETTERS,
      .comments = "round",
      .longest = 40,
      .rx = 64},
     {.words = "G0 G1 G4 G17 G20 G28 G90 G91 G94 M2 M3 M5 M30 F N P S X Y",
      .untried = "G2 G3 I J R",
      .run_may_stop = TRUE}},
    {"no-dwell",
     {.words = "G0 G1 G21 G28 G90 G91 M2 M3 M5 F S X Y",
      .comments = "round",
      .longest = 40,
      .rx = 64},
     {.words = "G0 G1 G21 G28 G90 G91 M2 M3 M5 F N S X Y", .window = NO_WINDOW}},
    {"refuses-the-pen", /* lines of the profile that it does not take are named */
     {.words = CODES " M2 M30 " LETTERS, .comments = "round", .longest = 40, .rx = 64},
     {.words = CODES " M2 M30 F I J N P R S X Y",
      .refused = "pen_up = M5; pen_down = M3 S40",
      .told = "it refuses the profile's pen_down = M3 S40",
      .window = NO_WINDOW,
      .run_may_stop = TRUE}},
    {"does-not-home",
     {PLAIN, .hangs_at = "G28"},
     {.words = "G0 G1 G4 G17 G20 G21 G90 G91 G94 M2 M3 M5 M30 F N P S X Y",
      .untried = "G2 G3 G28 I J R",
      .refused = "home = G28",
      .told = "it does not answer the profile's home = G28",
      .run_may_stop = TRUE}},
    {"milliseconds", {PLAIN, .ms = TRUE}, {.words = W " dwell:ms"}},
    {"repeats-its-greeting", /* which is none, then */
     {PLAIN, .greeting = "hello", .chat = "hello", .chat_ms = 5000},
     {.notices = "hello"}},
    {"plans-ahead",
     {PLAIN, .plans = TRUE},
     {.told = "the unit of a dwell's P could not be found out; it stays seconds",
      .window = NO_WINDOW}},
    {"plans-ahead-in-milliseconds",
     {PLAIN, .plans = TRUE, .ms = TRUE},
     {.words = W " dwell:ms",
      .told = "the unit of a dwell's P could not be found out; it stays milliseconds",
      .window = NO_WINDOW}},
    {"checks-without-numbers", {PLAIN, .checks = TRUE}, {0}},
    /* Its buffer and its lines. */
    {"keeps-128", {WORDS, .longest = 80, .rx = 128}, {.longest = 80, .window = 128}},
    {"keeps-201", {WORDS, .longest = 40, .rx = 201}, {.window = 201}},
    {"keeps-nothing", {WORDS, .longest = 40}, {.window = NO_WINDOW}},
    {"keeps-less-than-a-line",
     {WORDS, .longest = 63, .rx = 30},
     {.longest = 63, .window = NO_WINDOW}},
    {"leaves-out-the-end-of-lines", {PLAIN, .overlong = LONG_CUT}, {0}},
    {"splits-lines", {PLAIN, .overlong = LONG_SPLIT}, {0}},
    {"does-not-answer-long-lines", {PLAIN, .overlong = LONG_UNANSWERED}, {0}},
    /* Bytes that act at once. */
    {"acts-at-once",
     {PLAIN, .ask = BYTE_ACTS, .hold = BYTE_ACTS, .abandon = BYTE_ACTS},
     {.asks = TRUE, .holds = TRUE, .abandons = TRUE}},
    {"tells-its-place", {PLAIN, .ask = BYTE_PLACE}, {.asks = TRUE}},
    {"tells-its-place-and-replies", {PLAIN, .ask = BYTE_AND_REPLY}, {0}},
    {"ignores-bytes",
     {PLAIN, .ask = BYTE_IGNORED, .hold = BYTE_IGNORED, .abandon = BYTE_IGNORED},
     {0}},
    {"falls-silent-when-asked", {PLAIN, .ask = BYTE_STICKS}, {0}},
    {"holds-for-good", {PLAIN, .hold = BYTE_STICKS}, {0}},
    {"holds-only", {PLAIN, .hold = BYTE_ACTS}, {.holds = TRUE}},
    /* The end of a program. */
    {"ends-by-M30",
     {PLAIN, .m2 = END_REFUSED},
     {.words = CODES " M3 M5 M30 F I J N P R S X Y", .end = "M30"}},
    {"ends-by-nothing",
     {PLAIN, .m2 = END_REFUSED, .m30 = END_REFUSED},
     {.words = CODES " M3 M5 F I J N P R S X Y", .end = ""}},
    {"restarts-at-its-end",
     {PLAIN, .greeting = "hello", .m2 = END_RESTARTS},
     {.greeting = "hello", .words = CODES " M3 M5 M30 F I J N P R S X Y", .end = "M30"}},
    {"takes-nothing-after-its-end",
     {PLAIN, .m2 = END_LOCKS, .m30 = END_LOCKS},
     {.words = CODES " M3 M5 F I J N P R S X Y", .end = ""}},
    {"silent-at-its-end",
     {PLAIN, .m2 = END_UNANSWERED},
     {.words = CODES " M3 M5 M30 F I J N P R S X Y", .end = "M30"}},
};

const size_t n_learn_cases = G_N_ELEMENTS(learn_cases);

char *learn_case_profile(const Case *c)
{
    return g_strdup_printf(
        "[motion]\nspeed_x = 60 mm/s\nspeed_y = 60 mm/s\n"
        "[lift]\ndrop_time = 0.02 s\nlift_time = 0.02 s\n[controller]\nreply_timeout = 1.5 s\n"
        "words = %s%s\n",
        CODES " M2 M3 M5 M30 F I J N P R S0..100 X Y", c->kind.ms ? " dwell:ms" : "");
}

static const char * or (const char *text, const char *otherwise)
{
    return text ? text : otherwise;
}

/* Each word that is found is one that the board takes, and it keeps as much as is said. */
static void judge_less(const DtLearnt *l)
{
    g_autofree char *all = g_strdup_printf(" %s ", W);
    g_auto(GStrv) words = g_strsplit(l->words, " ", -1);
    for (char **w = words; *w != NULL; w++) {
        g_autofree char *spaced = g_strdup_printf(" %s ", *w);
        g_assert_true(strchr(*w, ':') != NULL || strstr(all, spaced) != NULL);
    }
    g_assert_cmpint(l->window, <=, 64);
    g_assert_cmpint(l->longest_line, <=, 40);
    g_assert_false(l->asks || l->holds || l->abandons || l->line_check);
}

void learn_case_judge(const Case *c, const DtLearnt *l, const GError *error, const char *told)
{
    const Want *w = &c->want;
    if (w->error != NULL) {
        g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_nonnull(strstr(error->message, w->error));
        return;
    }
    if (w->less) {
        if (error == NULL)
            judge_less(l);
        return;
    }
    g_assert_no_error(error);
    g_assert_cmpfloat(l->latency_s, >, 0.9e-3 * c->kind.delay_ms); /* it is slower at most */
    g_assert_cmpstr(l->words, ==, or (w->words, W));
    g_assert_cmpstr(l->untried, ==, or (w->untried, ""));
    g_assert_cmpstr(l->accept, ==, or (w->accept, "done"));
    g_assert_cmpstr(l->refuse, ==, or (w->refuse, "wrong"));
    g_assert_cmpstr(l->greeting, ==, or (w->greeting, ""));
    g_assert_cmpstr(l->notices, ==, or (w->notices, ""));
    g_assert_cmpstr(l->program_end, ==, or (w->end, "M2"));
    g_assert_cmpint(l->longest_line, ==, w->longest ? w->longest : 40);
    g_assert_cmpint(l->window, ==, w->window == NO_WINDOW ? 0 : w->window ? w->window : 64);
    g_assert_cmpint(l->decimals, ==, w->decimals ? w->decimals : 4);
    g_assert_cmpint(l->line_check, ==, w->check);
    g_assert_cmpint(l->asks, ==, w->asks);
    g_assert_cmpint(l->holds, ==, w->holds);
    g_assert_cmpint(l->abandons, ==, w->abandons);
    g_assert_cmpstr(l->refused, ==, or (w->refused, ""));
    g_assert_nonnull(strstr(told, or (w->told, "")));
}
