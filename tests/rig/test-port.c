/* rig: the pseudo-terminal, the two clocks and the faults on the way. */
#include "controller.h"
#include "drawtrue/base.h"
#include "drawtrue/rig.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <math.h>
#include <poll.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

typedef struct {
    DtRig *rig;
    gboolean real_time, once;
    volatile int stop;
    GThread *thread;
    char *port;
    int fd;
    GString *heard;
} Host;

static gpointer serve(gpointer user)
{
    Host *h = user;
    g_autoptr(GError) error = NULL;
    g_assert_true(dt_rig_serve(h->rig, h->real_time, h->once, &h->stop, &error));
    g_assert_no_error(error);
    return NULL;
}

static void start(Host *h, const char *rig_text, gboolean real_time, gboolean once)
{
    g_autoptr(GError) error = NULL;
    *h = (Host){.real_time = real_time, .once = once, .fd = -1};
    h->rig = dt_rig_new_from_text(rig_text, "test", &error);
    g_assert_no_error(error);
    h->port = g_strdup(dt_rig_open_port(h->rig, &error));
    g_assert_no_error(error);
    h->heard = g_string_new(NULL);
    h->thread = g_thread_new("rig", serve, h);
}

static void plug_in(Host *h)
{
    h->fd = open(h->port, O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
    g_assert_cmpint(h->fd, >=, 0);
}

static void hang_up(Host *h)
{
    close(h->fd);
    h->fd = -1;
}

/* Ends the rig; figures and ink can be read afterwards. */
static void finish(Host *h)
{
    if (h->fd >= 0)
        hang_up(h);
    if (!h->once)
        h->stop = 1;
    g_thread_join(h->thread);
}

static void clear(Host *h)
{
    dt_rig_free(h->rig);
    g_free(h->port);
    g_string_free(h->heard, TRUE);
}

/* The next line from the rig, freed by the caller; NULL after `ms` without one, or where the port
 * is gone. */
static char *hear(Host *h, int ms)
{
    for (;;) {
        char *end = strchr(h->heard->str, '\n');
        if (end) {
            char *line = g_strndup(h->heard->str, (gsize)(end - h->heard->str));
            g_string_erase(h->heard, 0, end - h->heard->str + 1);
            return line;
        }
        struct pollfd p = {h->fd, POLLIN, 0};
        if (poll(&p, 1, ms) == 0)
            return NULL;
        char bytes[512];
        ssize_t n = read(h->fd, bytes, sizeof bytes);
        if (n == 0 || (n < 0 && errno != EAGAIN && errno != EINTR))
            return NULL;
        if (n > 0)
            g_string_append_len(h->heard, bytes, n);
    }
}

static void say(Host *h, const char *text)
{
    gsize n = strlen(text);
    while (n > 0) {
        ssize_t now = write(h->fd, text, n);
        g_assert_true(now > 0 || errno == EAGAIN);
        if (now > 0) {
            text += now;
            n -= (gsize)now;
        }
    }
}

static void expect(Host *h, const char *line)
{
    g_autofree char *heard = hear(h, 10000);
    g_assert_cmpstr(heard, ==, line);
}

/* Streams a program as many bytes ahead as the window allows; every line must be taken. */
static void stream(Host *h, const char *program, unsigned window)
{
    g_auto(GStrv) lines = g_strsplit(program, "\n", -1);
    unsigned n = g_strv_length(lines) - 1, sent = 0, done = 0, waiting = 0;
    while (done < n) {
        while (sent < n && waiting + strlen(lines[sent]) + 1 < window) {
            g_autofree char *line = g_strconcat(lines[sent], "\n", NULL);
            say(h, line);
            waiting += (unsigned)strlen(line);
            sent++;
        }
        g_autofree char *reply = hear(h, 20000);
        g_assert_nonnull(reply);
        if (g_str_has_prefix(reply, "state stopped"))
            say(h, "\x11\x11");
        if (!g_str_has_prefix(reply, "taken "))
            continue;
        waiting -= (unsigned)strlen(lines[done]) + 1;
        done++;
    }
}

static char *wavy_program(void)
{
    GString *s = g_string_new("G28\n(pen red)\nG0 X50 Y50\nM3 S40\nG4 P0.2\nG1 X50.1 F900\n");
    for (int i = 0; i < 400; i++)
        g_string_append_printf(s, "X%.3f Y%.3f\n", 50 + 0.3 * i, 50 + 8 * sin(i * 0.11));
    g_string_append(s, "M5\nG4 P0.1\n(pen blue)\nM0\nG0 X20 Y20\nM3 S40\nG4 P0.2\nG1 X60\nM5\n"
                       "G4 P0.1\nG0 X0 Y0\nM2\n");
    return g_string_free(s, FALSE);
}

static double distance_to_piece(const double p[2], const double from[2], const double to[2])
{
    const double d[2] = {to[0] - from[0], to[1] - from[1]};
    const double length2 = d[0] * d[0] + d[1] * d[1];
    double part = 0;
    if (length2 > 0)
        part = CLAMP(((p[0] - from[0]) * d[0] + (p[1] - from[1]) * d[1]) / length2, 0, 1);
    return hypot(p[0] - from[0] - part * d[0], p[1] - from[1] - part * d[1]);
}

/* Every point of one stroke lies on the other, within `most`. */
static void assert_lies_on(const DtRigStroke *p, const DtRigStroke *q, double most)
{
    for (size_t i = 0; i < p->n; i++) {
        double least = G_MAXDOUBLE;
        for (size_t k = 0; k + 1 < q->n && least > most; k++)
            least = MIN(least, distance_to_piece(p->xy + 2 * i, q->xy + 2 * k, q->xy + 2 * k + 2));
        g_assert_cmpfloat(least, <=, most);
    }
}

/* Steps of both axes that fall together within microseconds are done in either order, as the speed
 * has it: the ink is the same within half a step, and the merging of points on a line. */
static void assert_same_ink(const DtRig *a, const DtRig *b)
{
    static const double half_step = 0.005 * 1.01, merge = 0.001;
    g_assert_cmpuint(dt_rig_stroke_count(a), ==, dt_rig_stroke_count(b));
    for (size_t i = 0; i < dt_rig_stroke_count(a); i++) {
        DtRigStroke p = dt_rig_stroke(a, i), q = dt_rig_stroke(b, i);
        g_assert_cmpstr(p.pen, ==, q.pen);
        assert_lies_on(&p, &q, half_step + merge);
        assert_lies_on(&q, &p, half_step + merge);
    }
}

static void test_every_run_is_the_same(void)
{
    g_autofree char *program = wavy_program();
    g_autoptr(DtRig) direct = dt_rig_new(NULL, NULL);
    dt_rig_run_text(direct, program, strlen(program));
    DtRigFigures d;
    dt_rig_figures(direct, &d);
    g_assert_cmpuint(d.lines_refused, ==, 0);
    static const unsigned windows[] = {128, 128, 64};
    for (gsize i = 0; i < G_N_ELEMENTS(windows); i++) {
        Host h;
        start(&h, "", FALSE, TRUE);
        plug_in(&h);
        expect(&h, "drawtrue controller 1 ready");
        stream(&h, program, windows[i]);
        finish(&h);
        DtRigFigures f;
        dt_rig_figures(h.rig, &f);
        assert_same_ink(direct, h.rig);
        g_assert_cmpuint(f.lines_taken, ==, d.lines_taken);
        g_assert_cmpuint(f.bytes_lost, ==, 0);
        g_assert_cmpuint(f.starved, ==, 0);
        /* The same to the time that a few bytes take on the wire. */
        g_assert_cmpfloat(fabs(f.time_s - d.time_s), <, 0.05);
        clear(&h);
    }
}

static void test_sending_ahead_of_the_window_loses_bytes(void)
{
    Host h;
    start(&h, "", FALSE, TRUE);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready");
    g_autoptr(GString) flood = g_string_new("G28\nG4 P5\n");
    for (int i = 0; i < 60; i++)
        g_string_append(flood, "G0 X1 Y1\n");
    say(&h, flood->str);
    g_usleep(300000);
    finish(&h);
    DtRigFigures f;
    dt_rig_figures(h.rig, &f);
    g_assert_cmpuint(f.bytes_lost, >, 300);
    g_assert_cmpuint(f.lines_taken, <, 40);
    clear(&h);
}

static void test_late_sender_starves_the_machine(void)
{
    Host h;
    start(&h, "", FALSE, TRUE);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready");
    say(&h, "G28\nM3 S40\nG4 P0.2\n");
    say(&h, "G1 X5 F600\n");
    g_usleep(900000); /* the rig waits 0.3 s for a sender */
    say(&h, "X10\nX15\nM5\n");
    for (int i = 1; i <= 7; i++) {
        g_autofree char *line = g_strdup_printf("taken %d", i);
        expect(&h, line);
    }
    finish(&h);
    DtRigFigures f;
    dt_rig_figures(h.rig, &f);
    g_assert_cmpuint(f.starved, ==, 1);
    clear(&h);
}

static void test_opening_the_port_resets_the_board(void)
{
    Host h;
    start(&h, "", FALSE, FALSE);
    for (int i = 0; i < 3; i++) {
        plug_in(&h);
        expect(&h, "drawtrue controller 1 ready");
        say(&h, "G28\n");
        expect(&h, "taken 1");
        hang_up(&h);
        g_usleep(60000);
    }
    finish(&h);
    clear(&h);
}

static void test_bytes_that_act_at_once(void)
{
    Host h;
    start(&h, "", TRUE, FALSE);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready");
    say(&h, "\x05");
    expect(&h, "state unhomed x 0.000 y 0.000 pen up line 0 switch --");
    say(&h, "G4 P0.3\n\x05");
    expect(&h, "state moving x 0.000 y 0.000 pen up line 0 switch --");
    gint64 before = g_get_monotonic_time();
    expect(&h, "taken 1");
    gint64 took = g_get_monotonic_time() - before;
    g_assert_cmpint(took, >, 200000); /* real time is real */
    say(&h, "\x13");
    say(&h, "\x05");
    g_autofree char *held = hear(&h, 5000);
    g_assert_true(g_str_has_prefix(held, "state held "));
    say(&h, "M3 S40\n");
    g_assert_null(hear(&h, 100)); /* waits for DC1 */
    say(&h, "\x11\x11");
    expect(&h, "taken 2");
    say(&h, "G4 P100\n");
    g_usleep(20000);
    say(&h, "\x18\x18");
    expect(&h, "refused 3 abandoned");
    expect(&h, "state unhomed x 0.000 y 0.000 pen up line 0 switch --");
    finish(&h);
    clear(&h);
}

static void test_replies_go_wrong_as_asked(void)
{
    static const struct {
        const char *fault;
        const char *heard[5];
    } cases[] = {
        {"lose-reply at line 2", {"taken 1", "taken 3", "taken 4"}},
        {"double-reply at line 2", {"taken 1", "taken 2", "taken 2", "taken 3", "taken 4"}},
        {"lose 3 at byte 4", {"taken 1", "taken 2", "taken 3"}},
        {"double 1 at byte 3", {"taken 1", "taken 2", "taken 3", "taken 4", "taken 5"}},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        Host h;
        g_autofree char *text = g_strdup_printf("[faults]\nlist=%s\n", cases[i].fault);
        start(&h, text, FALSE, TRUE);
        plug_in(&h);
        expect(&h, "drawtrue controller 1 ready");
        say(&h, "M5\nM5\nM5\nM5\n");
        for (int k = 0; k < 5 && cases[i].heard[k]; k++)
            expect(&h, cases[i].heard[k]);
        g_assert_null(hear(&h, 150));
        finish(&h);
        clear(&h);
    }
}

static void test_late_reply_is_late(void)
{
    Host h;
    start(&h, "[faults]\nlist=late-reply 0.3 at line 2\n", FALSE, TRUE);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready");
    say(&h, "M5\n");
    expect(&h, "taken 1");
    say(&h, "M5\n");
    g_assert_null(hear(&h, 150));
    expect(&h, "taken 2");
    finish(&h);
    clear(&h);
}

static void test_board_resets_in_mid_job(void)
{
    Host h;
    start(&h, "[faults]\nlist=reset at line 3\n", FALSE, TRUE);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready");
    say(&h, "G28\nG0 X5\nM3 S40\n");
    expect(&h, "taken 1");
    expect(&h, "taken 2");
    expect(&h, "taken 3");
    expect(&h, "drawtrue controller 1 ready");
    say(&h, "G0 X5\n");
    expect(&h, "refused 1 unhomed");
    finish(&h);
    DtRigFigures f;
    dt_rig_figures(h.rig, &f);
    g_assert_true(f.pen_up_at_end);
    clear(&h);
}

static void test_switch_hit_in_mid_job(void)
{
    Host h;
    start(&h, "[faults]\nlist=switch x at line 3\n", FALSE, TRUE);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready");
    say(&h, "G28\nG0 X50 Y50\nM3 S40\nG1 X20 F600\nM5\n");
    for (int i = 1; i <= 4; i++) {
        g_autofree char *line = g_strdup_printf("taken %d", i);
        expect(&h, line);
    }
    expect(&h, "refused 5 switch hit");
    g_autofree char *state = hear(&h, 5000);
    g_assert_true(g_str_has_prefix(state, "state unhomed x "));
    g_assert_true(g_str_has_suffix(state, " pen up line 4 switch x-"));
    say(&h, "G28\nG0 X5\n");
    expect(&h, "taken 6");
    expect(&h, "taken 7");
    finish(&h);
    DtRigFigures f;
    dt_rig_figures(h.rig, &f);
    g_assert_true(f.stopped_on_switch);
    g_assert_cmpuint(f.homings, ==, 2);
    clear(&h);
}

/* The same at a link, which leads to the port wherever it comes back. */
static void start_at(Host *h, const char *link, const char *rig_text, gboolean once)
{
    g_autoptr(GError) error = NULL;
    *h = (Host){.once = once, .fd = -1};
    h->rig = dt_rig_new_from_text(rig_text, "test", &error);
    g_assert_nonnull(dt_rig_open_port(h->rig, &error));
    g_assert_true(dt_rig_link_port(h->rig, link, &error));
    h->port = g_strdup(link);
    h->heard = g_string_new(NULL);
    h->thread = g_thread_new("rig", serve, h);
}

static void test_unplugged_and_plugged_in_again(void)
{
    static const char *const kinds[] = {"unplug", "cut"};
    for (int kind = 0; kind < 2; kind++) {
        g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
        g_autofree char *link = g_build_filename(folder, "port", NULL);
        g_autofree char *text = g_strdup_printf("[board]\nreset_on_open=no\n[faults]\n"
                                                "list=%s 0.2 at line 3\n",
                                                kinds[kind]);
        Host h;
        start_at(&h, link, text, FALSE);
        plug_in(&h);
        expect(&h, "drawtrue controller 1 ready");
        say(&h, "G28\nM3 S40\n");
        expect(&h, "taken 1");
        expect(&h, "taken 2");
        say(&h, "F100\n");
        g_autofree char *last = hear(&h, 1000); /* the answer may be lost with the cable */
        g_autofree char *nothing = hear(&h, 1000);
        g_assert_null(nothing);
        close(h.fd);
        g_assert_cmpint(open(link, O_RDWR | O_NOCTTY), ==, -1);
        g_usleep(400000);
        plug_in(&h);
        if (kind == 0)
            expect(&h, "drawtrue controller 1 ready");
        say(&h, "\x05");
        g_autofree char *state = hear(&h, 5000);
        g_assert_nonnull(state);
        g_assert_true(g_str_has_prefix(state, kind == 0 ? "state unhomed " : "state still "));
        g_assert_nonnull(strstr(state, kind == 0 ? "pen up" : "pen down"));
        finish(&h);
        clear(&h);
        g_assert_cmpint(g_access(link, F_OK), ==, -1);
        g_rmdir(folder);
    }
}

/* A rig that serves one host alone does not take its being unplugged for its end. */
static void test_one_host_may_come_back(void)
{
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", NULL);
    g_autofree char *link = g_build_filename(folder, "port", NULL);
    Host h;
    start_at(&h, link, "[faults]\nlist=unplug 0.1 at line 1\n", TRUE);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready");
    say(&h, "M5\n");
    for (char *line = NULL; (line = hear(&h, 5000)) != NULL;) /* until it is gone */
        g_free(line);
    hang_up(&h);
    g_usleep(300000);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready"); /* opening it resets the board */
    say(&h, "M5\n");
    expect(&h, "taken 1");
    finish(&h);
    clear(&h);
    g_rmdir(folder);
}

/* POSIX.1-2017, 11: bytes pass as they are. */
static void test_the_port_is_raw(void)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) r = dt_rig_new(NULL, &error);
    const char *path = dt_rig_open_port(r, &error);
    g_assert_no_error(error);
    const int fd = open(path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    struct termios t;
    g_assert_cmpint(tcgetattr(fd, &t), ==, 0);
    g_assert_cmpuint(t.c_lflag & (ICANON | ECHO | ECHONL | ISIG | IEXTEN), ==, 0);
    g_assert_cmpuint(t.c_iflag & (ICRNL | INLCR | IGNCR | IXON | ISTRIP | BRKINT | PARMRK), ==, 0);
    g_assert_cmpuint(t.c_oflag & OPOST, ==, 0);
    g_assert_cmpuint(t.c_cflag & (CSIZE | PARENB), ==, CS8);
    close(fd);
}

static void test_silent_board_says_nothing(void)
{
    Host h;
    start(&h, "[faults]\nlist=silence at line 2\n", FALSE, FALSE);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready");
    say(&h, "M5\nM5\nM5\n");
    expect(&h, "taken 1");
    g_autofree char *second = hear(&h, 200);
    g_autofree char *third = hear(&h, 200);
    g_assert_null(third);
    say(&h, "\x05");
    g_assert_null(hear(&h, 200));
    finish(&h);
    clear(&h);
}

static void say_checked(Host *h, const char *body)
{
    uint16_t crc = 0;
    for (const char *p = body; *p; p++)
        crc = dt_controller_crc(crc, (uint8_t)*p);
    g_autofree char *line = g_strdup_printf("%s(*%04X)\n", body, crc);
    say(h, line);
}

/* The board draws on what it has, and lifts the pen from the paper by itself. */
static void test_silent_board_lifts_its_pen(void)
{
    Host h;
    start(&h, "[faults]\nlist=silence at line 3\n", FALSE, FALSE);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready");
    say_checked(&h, "N1 G28 ");
    expect(&h, "taken 1");
    say_checked(&h, "N2 M3 S40 ");
    expect(&h, "taken 2");
    say_checked(&h, "N3 G1 X5 F600 ");
    g_usleep(300000);
    finish(&h);
    DtRigFigures f;
    dt_rig_figures(h.rig, &f);
    g_assert_false(f.pen_up_at_end);
    h.stop = 0;
    h.thread = g_thread_new("rig", serve, &h);
    g_usleep(4200000); /* three to four of its seconds */
    h.stop = 1;
    g_thread_join(h.thread);
    dt_rig_figures(h.rig, &f);
    g_assert_true(f.pen_up_at_end);
    g_assert_cmpfloat(f.ink_mm, >, 3); /* less what it moves while the pen falls */
    clear(&h);
}

/* The window that a sender may fill is the one of the rig file, to the byte. */
static void test_window_of_any_size(void)
{
    static const unsigned sizes[] = {64, 128, 255};
    for (gsize i = 0; i < G_N_ELEMENTS(sizes); i++) {
        for (unsigned more = 0; more < 2; more++) {
            g_autofree char *text = g_strdup_printf("[board]\nrx_bytes=%u\n", sizes[i]);
            Host h;
            start(&h, text, FALSE, TRUE);
            plug_in(&h);
            expect(&h, "drawtrue controller 1 ready");
            g_autoptr(GString) s = g_string_new("G4 P1\n"); /* stays in the buffer until done */
            while (s->len < sizes[i] + more - 4)
                g_string_append(s, "M5\n");
            while (s->len < sizes[i] + more - 1)
                g_string_append_c(s, ' ');
            g_string_append_c(s, '\n');
            say(&h, s->str);
            g_usleep(50000);
            finish(&h);
            DtRigFigures f;
            dt_rig_figures(h.rig, &f);
            g_assert_cmpuint(f.bytes_lost, ==, more);
            clear(&h);
        }
    }
}

/* A sender that has nothing more to send and asks, more often than the rig's grace, whether the
 * machine stands: the virtual clock must run on under its questions. */
static void test_questions_do_not_stop_the_clock(void)
{
    Host h;
    start(&h, "", FALSE, TRUE);
    plug_in(&h);
    expect(&h, "drawtrue controller 1 ready");
    stream(&h, "G28\nG0 X100 Y80\n", 128);
    gboolean still = FALSE;
    for (int i = 0; i < 50 && !still; i++) {
        say(&h, "\x05");
        g_autofree char *state = hear(&h, 5000);
        g_assert_nonnull(state);
        still = g_str_has_prefix(state, "state still x 100.0");
        g_usleep(100000);
    }
    g_assert_true(still);
    finish(&h);
    clear(&h);
}

/* Lines that are still on the wire when the port is hung up are read, and what waits for a dwell comes after it. */
static void test_what_was_sent_is_done_after_a_hang_up(void)
{
    enum { LINES = 40 };
    static const char *const programs[] = {"", "M3 S40\nG4 P0.3\nM5\n"};
    for (int k = 0; k < 2; k++) {
        Host h;
        DtRigFigures f;
        g_autoptr(GString) text = g_string_new(programs[k]);
        for (int i = 0; k == 0 && i < LINES; i++)
            g_string_append(text, "M5\n");
        start(&h, "[board]\nbaud=9600\nboot_s=0\n", TRUE, TRUE);
        plug_in(&h);
        expect(&h, "drawtrue controller 1 ready");
        say(&h, text->str);
        finish(&h);
        dt_rig_figures(h.rig, &f);
        g_assert_cmpuint(f.lines_taken, ==, k == 0 ? LINES : 3);
        g_assert_true(f.pen_up_at_end);
        clear(&h);
    }
}

int main(int argc, char **argv)
{
    g_test_init(&argc, &argv, NULL);
    g_test_add_func("/rig-port/every-run-is-the-same", test_every_run_is_the_same);
    g_test_add_func("/rig-port/sending-ahead-of-the-window",
                    test_sending_ahead_of_the_window_loses_bytes);
    g_test_add_func("/rig-port/late-sender-starves", test_late_sender_starves_the_machine);
    g_test_add_func("/rig-port/opening-resets", test_opening_the_port_resets_the_board);
    g_test_add_func("/rig-port/bytes-that-act-at-once", test_bytes_that_act_at_once);
    g_test_add_func("/rig-port/replies-go-wrong-as-asked", test_replies_go_wrong_as_asked);
    g_test_add_func("/rig-port/late-reply", test_late_reply_is_late);
    g_test_add_func("/rig-port/board-resets-in-mid-job", test_board_resets_in_mid_job);
    g_test_add_func("/rig-port/switch-hit-in-mid-job", test_switch_hit_in_mid_job);
    g_test_add_func("/rig-port/unplugged-and-plugged-in-again",
                    test_unplugged_and_plugged_in_again);
    g_test_add_func("/rig-port/silent-board", test_silent_board_says_nothing);
    g_test_add_func("/rig-port/silent-board-lifts-its-pen", test_silent_board_lifts_its_pen);
    g_test_add_func("/rig-port/questions-do-not-stop-the-clock",
                    test_questions_do_not_stop_the_clock);
    g_test_add_func("/rig-port/window-of-any-size", test_window_of_any_size);
    g_test_add_func("/rig-port/one-host", test_one_host_may_come_back);
    g_test_add_func("/rig-port/raw", test_the_port_is_raw);
    g_test_add_func("/rig-port/hang-up", test_what_was_sent_is_done_after_a_hang_up);
    return g_test_run();
}
