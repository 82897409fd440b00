/* code: learning the words, forms and sizes of controllers of different vocabularies, on the
 * virtual machine, without a motion that was not agreed to. */
#include "drawtrue/code.h"
#include "drawtrue/rig.h"
#include "link/learn/learn.h"

#include <fcntl.h>
#include <poll.h>
#include <glib/gstdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

enum { FASTER = 4 }; /* the rig needs no time of its own, so learning goes by a quicker clock */

typedef struct {
    DtRig *rig;
    volatile int stop;
    int fd;
} Bench;

static gpointer serve(gpointer user)
{
    Bench *b = user;
    g_autoptr(GError) error = NULL;
    dt_rig_serve(b->rig, FALSE, FALSE, &b->stop, &error);
    g_assert_no_error(error);
    return NULL;
}

static gboolean wire_write(void *user, const char *bytes, gsize n, GError **error)
{
    Bench *b = user;
    (void)error;
    while (n > 0) {
        gssize done = write(b->fd, bytes, n);
        if (done < 0)
            return FALSE;
        bytes += done;
        n -= (gsize)done;
    }
    return TRUE;
}

static gssize wire_read(void *user, char *to, gsize room, double wait_s, GError **error)
{
    Bench *b = user;
    (void)error;
    struct pollfd p = {b->fd, POLLIN, 0};
    return poll(&p, 1, (int)(wait_s * 1000 / FASTER) + 1) > 0 ? read(b->fd, to, room) : 0;
}

static gint64 wire_now_us(void *user)
{
    (void)user;
    return FASTER * g_get_monotonic_time();
}

typedef struct {
    const char *name, *rig;
    gboolean may_move;
    const char *words, *accept, *refuse, *greeting;
    int window, longest;
    gboolean check, asks, holds;
} Case;

#define CORE "G0 G1 G2 G3 G4 G17 G20 G21 G28 G90 G91 G94"

static const Case cases[] = {
    {"as-built", "", TRUE, CORE " M2 M3 M5 M30 F I J N P R S0..100 X Y", "taken", "refused",
     "drawtrue controller", 128, 127, TRUE, TRUE, TRUE},
    {"no-motion-agreed", "", FALSE, "G0 G1 G4 G17 G20 G21 G90 G91 G94 M2 M5 M30 F N P S0..100 X Y",
     "taken", "refused", "drawtrue controller", 128, 127, TRUE, TRUE, TRUE},
    {"no-arcs", "words = G0 G1 G4 G20 G21 G28 G90 G91 M0 M2 M3 M5 N X Y F S P\nrx_bytes = 64", TRUE,
     "G0 G1 G4 G20 G21 G28 G90 G91 M2 M3 M5 F N P S0..100 X Y", "taken", "refused",
     "drawtrue controller", 64, 63, TRUE, TRUE, TRUE},
    {"no-dwell", "words = G0 G1 G2 G3 G21 G28 G90 M0 M2 M3 M5 X Y F S I J\nrx_bytes = 255", TRUE,
     "G0 G1 G2 G3 G21 G28 G90 M2 M3 M5 F I J S0..100 X Y", "taken", "refused",
     "drawtrue controller", 0, 254, FALSE, TRUE, TRUE},
    {"needs-spaces", "spaces = yes\ncheck = no", TRUE,
     CORE " M2 M3 M5 M30 F I J N P R S0..100 X Y gap:needed", "taken", "refused",
     "drawtrue controller", 128, 127, FALSE, TRUE, TRUE},
    {"no-comments", "comments = no\nask = no", TRUE,
     CORE " M2 M3 M5 M30 F I J N P R S0..100 X Y comment:none", "taken", "refused",
     "drawtrue controller", 128, 127, FALSE, FALSE, TRUE},
    {"forty-characters", "longest_line = 40", TRUE, CORE " M2 M3 M5 M30 F I J N P R S0..100 X Y",
     "taken", "refused", "drawtrue controller", 128, 40, TRUE, TRUE, TRUE},
    {"narrow-lines-unchecked", "longest_line = 80\ncheck = no\nrx_bytes = 200", TRUE,
     CORE " M2 M3 M5 M30 F I J N P R S0..100 X Y", "taken", "refused", "drawtrue controller", 200,
     80, FALSE, TRUE, TRUE},
    {"other-replies",
     "accept = very well\nrefuse = very sorry\nnumbers = no\ngreeting = seed plotter\nhold = no",
     TRUE, CORE " M2 M3 M5 M30 F I J N P R S0..100 X Y", "very well", "very sorry", "seed plotter",
     128, 127, FALSE, TRUE, FALSE},
    {"silent-and-slow", "accept = +\nrefuse = -\nnumbers = no\ngreeting =\nboot_s = 0.5", TRUE,
     CORE " M2 M3 M5 M30 F I J N P R S0..100 X Y", "+", "-", "", 128, 127, FALSE, TRUE, TRUE},
};

/* The keys of a case by their sections. */
static char *rig_text(const Case *c)
{
    g_autoptr(GString) board = g_string_new("[board]\n"), words = g_string_new("[vocabulary]\n");
    g_auto(GStrv) lines = g_strsplit(c->rig, "\n", -1);
    for (char **l = lines; *l; l++) {
        gboolean of_board = g_str_has_prefix(*l, "rx_bytes") || g_str_has_prefix(*l, "boot_s");
        g_string_append_printf(of_board ? board : words, "%s\n", *l);
    }
    return g_strdup_printf("[truth]\nstart_x = 3\nstart_y = 3\n%s%s", board->str, words->str);
}

static void open_bench(Bench *b, const Case *c)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *text = rig_text(c);
    memset(b, 0, sizeof *b);
    b->rig = dt_rig_new_from_text(text, "rig", &error);
    g_assert_no_error(error);
    const char *port = dt_rig_open_port(b->rig, &error);
    g_assert_no_error(error);
    b->fd = open(port, O_RDWR | O_NOCTTY);
    g_assert_cmpint(b->fd, >=, 0);
    struct termios raw;
    tcgetattr(b->fd, &raw);
    cfmakeraw(&raw);
    tcsetattr(b->fd, TCSANOW, &raw);
}

static void tell(const char *text, void *user)
{
    (void)user;
    g_test_message("%s", text);
}

static gpointer learn_one(gpointer data)
{
    const Case *c = data;
    Bench b;
    open_bench(&b, c);
    GThread *thread = g_thread_new("rig", serve, &b);
    g_autoptr(DtProfile) p = dt_profile_new();
    g_free(p->dialect.words); /* what is kept of words that may not be tried, now or earlier */
    p->dialect.words = g_strdup("G0 G1 G4 G28 untried:M3 M5 X Y");
    g_autoptr(GError) error = NULL;
    DtLearnJob o = {.wire = {wire_write, wire_read, NULL, wire_now_us, &b},
                    .boot_s = 1.5,
                    .may_move = c->may_move,
                    .tell = tell};
    DtLearnt l;
    dt_learn_controller(p, &o, &l, &error);
    g_assert_no_error(error);
    b.stop = 1;
    close(b.fd);
    g_thread_join(thread);
    g_assert_cmpstr(l.words, ==, c->words);
    g_assert_cmpstr(l.untried, ==, c->may_move ? "" : "G2 G3 G28 M3 I J R");
    g_assert_cmpstr(l.accept, ==, c->accept);
    g_assert_cmpstr(l.refuse, ==, c->refuse);
    g_assert_cmpstr(l.greeting, ==, c->greeting);
    g_assert_cmpint(l.longest_line, ==, c->longest);
    g_assert_cmpint(l.window, ==, c->window);
    g_assert_cmpint(l.line_check, ==, c->check);
    g_assert_cmpint(l.asks, ==, c->asks);
    g_assert_cmpint(l.holds, ==, c->holds);
    DtRigFigures f;
    dt_rig_figures(b.rig, &f);
    if (!c->may_move) {
        g_assert_cmpuint(f.steps[0] + f.steps[1], ==, 0);
        g_assert_cmpuint(f.lifts, ==, 0);
    }
    if (c->longest + 1 == c->window && c->check)
        g_assert_cmpuint(f.bytes_lost, ==, 0);
    g_assert_cmpuint(f.endstop_hits, ==, 0);
    dt_learnt_clear(&l);
    dt_rig_free(b.rig);
    return NULL;
}

/* Most of the time is waiting, so they are all learnt side by side. */
static GThread *learning[G_N_ELEMENTS(cases)];

static void wait_for_one(gconstpointer data)
{
    g_thread_join(learning[(const Case *)data - cases]);
}

static const DtLearnt found = {.greeting = (char *)"seed plotter",
                               .accept = (char *)"very well",
                               .refuse = (char *)"very sorry",
                               .notices = (char *)"busy, heat",
                               .words = (char *)"G0 G1 X Y F",
                               .untried = (char *)"G2 M3",
                               .program_end = (char *)"M30",
                               .window = 64,
                               .longest_line = 63,
                               .decimals = 2,
                               .latency_s = 2};

static char *note_into(const char *text, const DtLearnt *l, const char *date, DtProfile **after)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "my.ini", NULL);
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_base_write_file(path, text, strlen(text), &error));
    g_autoptr(DtProfile) p = dt_profile_load(path, &error);
    g_assert_no_error(error);
    dt_link_note_learnt(p, path, path, l, date, &error);
    g_assert_no_error(error);
    *after = dt_profile_load(path, &error); /* what is written can be read */
    g_assert_no_error(error);
    char *out = dt_base_read_file(path, 10000, NULL, &error);
    g_unlink(path);
    g_rmdir(folder);
    return out;
}

static void test_profile_keeps_its_layout(void)
{
    const char *text =
        "# my plotter\n[machine]\nname = plywood\n\n[controller]\n# bought in May\n"
        "words=G0\n  # odd one\nwindow   =  128 bytes\n\n[lift]\ndrop_time = 0.2 s\n";
    g_autoptr(DtProfile) p = NULL;
    g_autofree char *out = note_into(text, &found, "2026-05-03", &p);
    g_assert_cmpstr(out, ==,
                    "# my plotter\n[machine]\nname = plywood\n\n[controller]\n# bought in May\n"
                    "# learnt on 2026-05-03; it answers in 2 s\n"
                    "words = G0 G1 X Y F untried:G2 untried:M3\n  # odd one\nwindow = 64 bytes\n"
                    "greeting = seed plotter\naccept = very well\nrefuse = very sorry\n"
                    "notices = busy, heat\nprogram_end = M30\n"
                    "longest_line = 63 bytes\ndecimals = 2\nreply_timeout = 10 s\nline_check = "
                    "no\nask_state = \nhold = \ngo_on = \n"
                    "abandon = \n\n[lift]\ndrop_time = 0.2 s\n");
    g_assert_true(dt_code_takes(p, "G1"));
    g_assert_false(dt_code_takes(p, "G2"));
    g_autoptr(GError) error = NULL; /* the default pen-down line needs a word that was not tried */
    g_assert_false(dt_code_check_profile(p, &error));
    g_assert_nonnull(strstr(error->message, "learn --may-move"));
    g_assert_cmpstr(p->dialect.accept, ==, "very well");
    g_assert_cmpint(p->dialect.window, ==, 64);
    DtLearnt acts = found;
    acts.asks = acts.holds = acts.abandons = TRUE;
    g_autoptr(DtProfile) whole = NULL; /* as the standard profile has them */
    g_autofree char *acting = note_into(text, &acts, "2026-05-03", &whole);
    g_assert_nonnull(strstr(acting, "\nask_state = \\x05\nhold = \\x13\ngo_on = \\x11\\x11\n"
                                    "abandon = \\x18\\x18\n"));
    g_assert_cmpstr(whole->dialect.abandon, ==, "\x18\x18");
    g_autoptr(DtProfile) later = NULL;
    g_autofree char *again = note_into(out, &found, "2026-05-04", &later);
    g_assert_null(strstr(again, "2026-05-03")); /* the date is replaced */
}

/* Limits are written where they are narrower than the profile's, and a time to wait where the board is
 * slower. */
static void test_what_is_noted_of_limits(void)
{
    static const char text[] =
        "[controller]\nwords = G0 G1 X Y F\ndecimals = 3\nreply_timeout = 4 s\n"
        "longest_line = 80 bytes\nwindow = 100 bytes\n";
    static const struct {
        int decimals, window, longest;
        double latency_s;
        int noted_decimals, noted_window, noted_longest;
        double noted_timeout_s;
    } limits[] = {
        {-1, 100, 80, 0, 3, 100, 80, 4}, /* not tried */
        {0, 100, 80, 0, 0, 100, 80, 4},
        {2, 100, 80, 0, 2, 100, 80, 4},
        {3, 100, 80, 0, 3, 100, 80, 4},
        {4, 100, 80, 0, 3, 100, 80, 4},
        {3, 0, 0, 0, 3, 0, 80, 4},   /* neither found */
        {3, 90, 0, 0, 3, 90, 80, 4}, /* the profile's line fits in it still */
        {3, 80, 0, 0, 3, 80, 79, 4},
        {3, 64, 0, 0, 3, 64, 63, 4},
        {3, 64, 40, 0, 3, 64, 40, 4},
        {3, 100, 80, 1, 3, 100, 80, 4}, /* a quarter of what is waited */
        {3, 100, 80, 1.01, 3, 100, 80, 6},
        {3, 100, 80, 2.5, 3, 100, 80, 13},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(limits); i++) {
        DtLearnt l = found;
        l.decimals = limits[i].decimals;
        l.window = limits[i].window;
        l.longest_line = limits[i].longest;
        l.latency_s = limits[i].latency_s;
        g_autoptr(DtProfile) p = NULL;
        g_autofree char *out = note_into(text, &l, "2026-05-03", &p);
        g_assert_cmpint(p->dialect.decimals, ==, limits[i].noted_decimals);
        g_assert_cmpint(p->dialect.window, ==, limits[i].noted_window);
        g_assert_cmpint(p->dialect.longest_line, ==, limits[i].noted_longest);
        g_assert_cmpfloat(p->dialect.reply_timeout_s, ==, limits[i].noted_timeout_s);
        g_assert_cmpint(strstr(out, "; it answers in ") != NULL, ==, limits[i].latency_s > 0);
    }
}

/* Quotes, backslashes and blanks in what the board says, a section written with blanks, and a window
 * smaller than the profile's longest line. */
static void test_a_learnt_profile_always_loads(void)
{
    const DtLearnt odd = {.greeting = (char *)"say \"hello\" \\ \xc3\xa9",
                          .accept = (char *)"\"yes\"",
                          .refuse = (char *)"no: ",
                          .words = (char *)"G0 G1 X Y F",
                          .decimals = -1,
                          .window = 64};
    g_autoptr(DtProfile) p = NULL;
    g_autofree char *out =
        note_into("[ controller ]\nwords = G0\nlongest_line = 80 bytes\n", &odd, "2026-05-03", &p);
    g_assert_cmpstr(p->dialect.greeting, ==, odd.greeting);
    g_assert_cmpstr(p->dialect.accept, ==, odd.accept);
    g_assert_cmpstr(p->dialect.refuse, ==, odd.refuse);
    g_assert_cmpint(p->dialect.longest_line, <, 64);
    g_assert_null(strstr(out, "[controller]")); /* there is one section still */
}

static gssize read_nothing(void *user, char *to, gsize room, double wait_s, GError **error)
{
    (void)user, (void)to, (void)room, (void)error;
    g_usleep((gulong)(wait_s * 1e6 / FASTER));
    return 0;
}

static gboolean write_anywhere(void *user, const char *bytes, gsize n, GError **error)
{
    (void)user, (void)bytes, (void)n, (void)error;
    return TRUE;
}

static void test_a_silent_controller_is_told(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    DtLearnJob o = {.wire = {write_anywhere, read_nothing, NULL, wire_now_us, NULL}, .boot_s = 0.1};
    DtLearnt l;
    g_assert_false(dt_learn_controller(p, &o, &l, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_nonnull(strstr(error->message, "answers no line"));
}

/* Each answer takes 20 s of its clock. */
typedef struct {
    gint64 now_us;
    GString *replies;
} Sluggish;

static gboolean write_sluggish(void *user, const char *bytes, gsize n, GError **error)
{
    (void)error;
    const gboolean taken = g_strstr_len(bytes, (gssize)n, "G90") != NULL;
    for (gsize i = 0; i < n; i++)
        if (bytes[i] == '\n')
            g_string_append(((Sluggish *)user)->replies, taken ? "done\n" : "wrong\n");
    return TRUE;
}

static gssize read_sluggish(void *user, char *to, gsize room, double wait_s, GError **error)
{
    Sluggish *b = user;
    (void)wait_s, (void)error;
    b->now_us += 20 * G_USEC_PER_SEC;
    const gsize n = MIN(room, b->replies->len);
    memcpy(to, b->replies->str, n);
    g_string_erase(b->replies, 0, (gssize)n);
    return (gssize)n;
}

static gint64 sluggish_now_us(void *user)
{
    return ((Sluggish *)user)->now_us;
}

static void test_learning_ends_after_a_quarter_of_an_hour(void)
{
    g_autoptr(DtProfile) p = dt_profile_new();
    g_autoptr(GError) error = NULL;
    Sluggish b = {0, g_string_new(NULL)};
    DtLearnJob o = {.wire = {write_sluggish, read_sluggish, NULL, sluggish_now_us, &b}};
    DtLearnt l;
    g_assert_false(dt_learn_controller(p, &o, &l, &error));
    g_assert_error(error, DT_ERROR, DT_ERROR_INPUT);
    g_assert_true(g_str_has_prefix(error->message,
                                   "learning took too long: the board answers too slowly, or "
                                   "talks without end; the last line was G"));
    g_assert_cmpint(b.now_us, >, 900 * G_USEC_PER_SEC);
    g_assert_cmpint(b.now_us, <=, 920 * G_USEC_PER_SEC);
    g_string_free(b.replies, TRUE);
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *name = g_strdup_printf("/link/learn/%s", cases[i].name);
        learning[i] = g_thread_new(cases[i].name, learn_one, (gpointer)&cases[i]);
        g_test_add_data_func(name, &cases[i], wait_for_one);
    }
    g_test_add_func("/link/learn/profile-layout", test_profile_keeps_its_layout);
    g_test_add_func("/link/learn/limits", test_what_is_noted_of_limits);
    g_test_add_func("/link/learn/loads", test_a_learnt_profile_always_loads);
    g_test_add_func("/link/learn/too-long", test_learning_ends_after_a_quarter_of_an_hour);
    g_test_add_func("/link/learn/silent", test_a_silent_controller_is_told);
    return g_test_run();
}
