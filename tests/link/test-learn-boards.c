/* learn: boards with one odd behaviour each are learnt over a real pseudo-terminal, and then a program
 * made for what was learnt is drawn on a fresh board of the same kind. What is learnt is right, or the
 * learning ends with what is wrong; what is drawn is right, or the run stops and says why. */
#include "invented.h"

#include "drawtrue/code.h"
#include "link/learn/learn.h"
#include "support/drawing.h"
#include "support/folder.h"

#include <fcntl.h>
#include <poll.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#define LETTERS "F I J P R S X Y"
#define CODES "G0 G1 G2 G3 G4 G17 G20 G21 G28 G90 G91 G94"
#define WORDS .words = CODES " M2 M3 M5 M30 " LETTERS, .comments = "round"
#define PLAIN WORDS, .longest = 40, .rx = 64

/* What is NULL or 0 is as with the plain board. */
typedef struct {
    const char *error; /* in the message that learning ends with; NULL: it learns */
    const char *words, *accept, *refuse, *greeting, *notices, *untried, *end, *refused,
        *told; /* among what it says */
    int window, longest;
    int decimals; /* 0: as many as were tried */
    gboolean check, asks, holds, abandons;
    gboolean run_may_stop; /* a run on it cannot be right each time */
    gboolean less;         /* it cannot all be found: what is found is right */
} Want;

enum { NO_WINDOW = -1 };
#define W CODES " M2 M3 M5 M30 F I J N P R S X Y"

typedef struct {
    const char *name;
    Invented kind;
    Want want;
} Case;

static const Case cases[] = {
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

/* Learning ---------------------------------------------------------------------------------- */

typedef struct {
    Board *board;
    int fd;
} Wire;

static gboolean wire_write(void *user, const char *bytes, gsize n, GError **error)
{
    (void)error;
    return write(((Wire *)user)->fd, bytes, n) == (gssize)n;
}

static gssize wire_read(void *user, char *to, gsize room, double wait_s, GError **error)
{
    struct pollfd p = {((Wire *)user)->fd, POLLIN, 0};
    (void)error;
    return poll(&p, 1, (int)(wait_s * 1000 / INVENTED_FASTER) + 1) > 0 ? read(p.fd, to, room) : 0;
}

static gboolean wire_reopen(void *user, GError **error)
{
    (void)error;
    invented_reset(((Wire *)user)->board);
    return TRUE;
}

static gint64 wire_now_us(void *user)
{
    (void)user;
    return INVENTED_FASTER * g_get_monotonic_time();
}

static int open_port(const char *path)
{
    const int fd = open(path, O_RDWR | O_NOCTTY);
    g_assert_cmpint(fd, >=, 0);
    return fd;
}

typedef struct {
    const Case *of;
    GString *told; /* what it says while it learns */
    DtLearnt learnt;
    GError *error;   /* of the learning */
    double seconds;  /* of the board's clock */
    unsigned starts; /* of the board */
    gboolean pen_down;
    GPtrArray *want, *got; /* ink */
    gboolean drawn;
    char *said; /* by the run that stopped */
} Play;

static void tell(const char *text, void *user)
{
    g_string_append_printf(((Play *)user)->told, "# %s: %s\n", ((Play *)user)->of->name, text);
}

static char *profile_text(const Case *c)
{
    return g_strdup_printf(
        "[motion]\nspeed_x = 60 mm/s\nspeed_y = 60 mm/s\n"
        "[lift]\ndrop_time = 0.02 s\nlift_time = 0.02 s\n[controller]\nreply_timeout = 1.5 s\n"
        "words = %s%s\n",
        CODES " M2 M3 M5 M30 F I J N P R S0..100 X Y", c->kind.ms ? " dwell:ms" : "");
}

static void learn(Play *t)
{
    Wire wire = {.board = invented_new(&t->of->kind)};
    wire.fd = open_port(invented_port(wire.board));
    g_autofree char *text = profile_text(t->of);
    g_autoptr(DtProfile) p = dt_profile_read_data(text, strlen(text), "my.ini", NULL);
    const DtLearnJob job = {.wire = {wire_write, wire_read, wire_reopen, wire_now_us, &wire},
                            .boot_s = 12,
                            .may_move = TRUE,
                            .tell = tell,
                            .user = t};
    const gint64 start = wire_now_us(NULL);
    dt_learn_controller(p, &job, &t->learnt, &t->error);
    t->seconds = (double)(wire_now_us(NULL) - start) / 1e6;
    invented_stop(wire.board);
    t->starts = invented_resets(wire.board);
    t->pen_down = invented_pen_is_down(wire.board);
    close(wire.fd);
    invented_free(wire.board);
}

/* Drawing ----------------------------------------------------------------------------------- */

static char *make_program(const DtProfile *p, const char *path, GError **error)
{
    static const DtPoint points[][3] = {{{10, 10}, {12, 10}, {12, 12}},
                                        {{14, 10}, {15.5, 11.25}, {15.5, 12}},
                                        {{10, 14}, {11, 15}, {12.125, 14}}};
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) moves = {0};
    dt_sequence_init(&s);
    dt_moves_init(&moves);
    for (size_t i = 0; i < G_N_ELEMENTS(points); i++) {
        dt_sequence_begin(&s, 0, i);
        for (size_t k = 0; k < G_N_ELEMENTS(points[i]); k++)
            dt_sequence_point(&s, points[i][k]);
    }
    gsize len;
    char *text =
        dt_machine_moves(p, &s, &moves, error) ? dt_code_write(p, &moves, &len, error) : NULL;
    if (text != NULL)
        g_assert_true(g_file_set_contents(path, text, (gssize)len, NULL));
    return text;
}

/* A fresh board draws a program that was made with what is learnt. */
static gboolean draw(Play *t, const char *folder, GError **error)
{
    g_autofree char *path = g_build_filename(folder, "my.ini", NULL);
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    g_autofree char *journal = g_build_filename(folder, "journal.db", NULL);
    g_autofree char *before = profile_text(t->of);
    g_assert_true(g_file_set_contents(path, before, -1, NULL));
    g_autoptr(DtProfile) old = dt_profile_load(path, error);
    if (!dt_link_note_learnt(old, path, path, &t->learnt, "2026-05-03", error))
        return FALSE;
    g_autoptr(DtProfile) p = dt_profile_load(path, error);
    if (p == NULL || !dt_code_check_profile(p, error))
        return FALSE;
    g_autofree char *text = make_program(p, program, error);
    if (text == NULL)
        return FALSE;
    t->want = invented_ink_of(&t->of->kind, text);
    Board *b = invented_new(&t->of->kind);
    const DtRunOptions o = {.journal = journal, .pens_ready = TRUE, .doubts = TRUE, .replug_s = 1};
    const gboolean good = drawing_program(p, invented_port(b), program, &o, NULL, NULL, error);
    g_usleep(100000); /* what it was told it does still */
    invented_stop(b);
    t->got = g_ptr_array_ref(invented_ink(b));
    invented_free(b);
    return good;
}

static gpointer play(gpointer data)
{
    Play *t = data;
    learn(t);
    if (t->error != NULL)
        return NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-learnt-XXXXXX", NULL);
    g_autoptr(GMainContext) context = g_main_context_new();
    g_main_context_push_thread_default(context);
    g_autoptr(GError) error = NULL;
    t->drawn = draw(t, folder, &error);
    t->said = error ? g_strdup(error->message) : NULL;
    g_main_context_pop_thread_default(context);
    g_assert_true(folder_remove(folder));
    return NULL;
}

/* Judging ----------------------------------------------------------------------------------- */

static gboolean holds_line(const GPtrArray *ink, const char *line)
{
    return g_ptr_array_find_with_equal_func((GPtrArray *)ink, line, g_str_equal, NULL);
}

static guint lines_missing(const GPtrArray *of, const GPtrArray *in)
{
    guint n = 0;
    for (guint i = 0; i < of->len; i++)
        n += !holds_line(in, of->pdata[i]);
    return n;
}

static void judge_drawing(const Play *t)
{
    const Want *w = &t->of->want;
    if (t->drawn)
        g_assert_cmpuint(t->got->len, >=, 6);
    if (t->got != NULL)
        g_assert_cmpuint(lines_missing(t->got, t->want), ==,
                         0); /* nothing where none was planned */
    if (t->drawn)
        g_assert_cmpuint(lines_missing(t->want, t->got), ==, 0);
    else
        g_assert_nonnull(t->said);
    if (!t->drawn && !w->run_may_stop)
        g_error("%s: the run stopped: %s", t->of->name, t->said);
}

static const char * or (const char *text, const char *otherwise)
{
    return text ? text : otherwise;
}

/* Each word that is found is one that the board takes, and it keeps as much as is said. */
static void judge_less(const Play *t)
{
    const DtLearnt *l = &t->learnt;
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

static void judge_learning(const Play *t)
{
    const Want *w = &t->of->want;
    const DtLearnt *l = &t->learnt;
    g_assert_cmpfloat(t->seconds, <, 400);
    g_assert_false(t->pen_down);
    if (w->error != NULL) {
        g_assert_error(t->error, DT_ERROR, DT_ERROR_INPUT);
        g_assert_nonnull(strstr(t->error->message, w->error));
        return;
    }
    if (w->less) {
        if (t->error == NULL)
            judge_less(t);
        return;
    }
    g_assert_no_error(t->error);
    g_assert_cmpfloat(l->latency_s, >, 0.9e-3 * t->of->kind.delay_ms); /* it is slower at most */
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
    g_assert_nonnull(strstr(t->told->str, or (w->told, "")));
}

enum { CASES = G_N_ELEMENTS(cases) };
static Play plays[CASES];
static GThread *threads[CASES];

static void judge(gconstpointer data)
{
    Play *t = (Play *)data;
    const size_t i = (size_t)(t - plays);
    if (threads[i] == NULL) {
        t->told = g_string_new(NULL);
        threads[i] = g_thread_new(t->of->name, play, t);
    }
    g_thread_join(threads[i]);
    if (g_test_verbose())
        g_print("%s# %s: learnt in %.1f s of its clock, %u starts%s%s; %s %s\n", t->told->str,
                t->of->name, t->seconds, t->starts, t->error ? ": " : "",
                t->error ? t->error->message : "",
                t->drawn ? "drawn" : "stopped:", or (t->said, ""));
    judge_learning(t);
    if (t->error == NULL)
        judge_drawing(t);
    dt_learnt_clear(&t->learnt);
    g_clear_error(&t->error);
    g_string_free(t->told, TRUE);
    g_clear_pointer(&t->want, g_ptr_array_unref);
    g_clear_pointer(&t->got, g_ptr_array_unref);
    g_free(t->said);
}

int main(int argc, char **argv)
{
    const gboolean all = argc == 1 || (argc == 2 && strcmp(argv[1], "--tap") == 0);
    g_test_init(&argc, &argv, NULL);
    for (size_t i = 0; i < CASES; i++) {
        g_autofree char *name = g_strdup_printf("/link/learn-boards/%s", cases[i].name);
        plays[i] = (Play){.of = &cases[i]};
        g_test_add_data_func(name, &plays[i], judge);
    }
    for (size_t i = 0; i < CASES && all; i++) { /* most of the time is waiting */
        plays[i].told = g_string_new(NULL);
        threads[i] = g_thread_new(cases[i].name, play, &plays[i]);
    }
    return g_test_run();
}
