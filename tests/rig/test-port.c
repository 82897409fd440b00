/* rig: the pseudo-terminal, the two clocks and the faults on the way. */
#include "drawtrue/base.h"
#include "host.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

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
        host_start(&h, "", FALSE, TRUE);
        host_plug_in(&h);
        host_expect(&h, "drawtrue controller 1 ready");
        host_stream(&h, program, windows[i]);
        host_finish(&h);
        DtRigFigures f;
        dt_rig_figures(h.rig, &f);
        assert_same_ink(direct, h.rig);
        g_assert_cmpuint(f.lines_taken, ==, d.lines_taken);
        g_assert_cmpuint(f.bytes_lost, ==, 0);
        g_assert_cmpuint(f.starved, ==, 0);
        /* The same to the time that a few bytes take on the wire. */
        g_assert_cmpfloat(fabs(f.time_s - d.time_s), <, 0.05);
        host_clear(&h);
    }
}

static void test_sending_ahead_of_the_window_loses_bytes(void)
{
    Host h;
    host_start(&h, "", FALSE, TRUE);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready");
    g_autoptr(GString) flood = g_string_new("G28\nG4 P5\n");
    for (int i = 0; i < 60; i++)
        g_string_append(flood, "G0 X1 Y1\n");
    host_say(&h, flood->str);
    g_usleep(300000);
    host_finish(&h);
    DtRigFigures f;
    dt_rig_figures(h.rig, &f);
    g_assert_cmpuint(f.bytes_lost, >, 300);
    g_assert_cmpuint(f.lines_taken, <, 40);
    host_clear(&h);
}

static void test_late_sender_starves_the_machine(void)
{
    Host h;
    host_start(&h, "", FALSE, TRUE);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready");
    host_say(&h, "G28\nM3 S40\nG4 P0.2\n");
    host_say(&h, "G1 X5 F600\n");
    g_usleep(900000); /* the rig waits 0.3 s for a sender */
    host_say(&h, "X10\nX15\nM5\n");
    for (int i = 1; i <= 7; i++) {
        g_autofree char *line = g_strdup_printf("taken %d", i);
        host_expect(&h, line);
    }
    host_finish(&h);
    DtRigFigures f;
    dt_rig_figures(h.rig, &f);
    g_assert_cmpuint(f.starved, ==, 1);
    host_clear(&h);
}

static void test_opening_the_port_resets_the_board(void)
{
    Host h;
    host_start(&h, "", FALSE, FALSE);
    for (int i = 0; i < 3; i++) {
        host_plug_in(&h);
        host_expect(&h, "drawtrue controller 1 ready");
        host_say(&h, "G28\n");
        host_expect(&h, "taken 1");
        host_hang_up(&h);
        g_usleep(60000);
    }
    host_finish(&h);
    host_clear(&h);
}

static void test_bytes_that_act_at_once(void)
{
    Host h;
    host_start(&h, "", TRUE, FALSE);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready");
    host_say(&h, "\x05");
    host_expect(&h, "state unhomed x 0.000 y 0.000 pen up line 0 switch --");
    host_say(&h, "G4 P0.3\n\x05");
    host_expect(&h, "state moving x 0.000 y 0.000 pen up line 0 switch --");
    gint64 before = g_get_monotonic_time();
    host_expect(&h, "taken 1");
    gint64 took = g_get_monotonic_time() - before;
    g_assert_cmpint(took, >, 200000); /* real time is real */
    host_say(&h, "\x13");
    host_say(&h, "\x05");
    g_autofree char *held = host_hear(&h, 5000);
    g_assert_true(g_str_has_prefix(held, "state held "));
    host_say(&h, "M3 S40\n");
    g_assert_null(host_hear(&h, 100)); /* waits for DC1 */
    host_say(&h, "\x11\x11");
    host_expect(&h, "taken 2");
    host_say(&h, "G4 P100\n");
    g_usleep(20000);
    host_say(&h, "\x18\x18");
    host_expect(&h, "refused 3 abandoned");
    host_expect(&h, "state unhomed x 0.000 y 0.000 pen up line 0 switch --");
    host_finish(&h);
    host_clear(&h);
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
        host_start(&h, text, FALSE, TRUE);
        host_plug_in(&h);
        host_expect(&h, "drawtrue controller 1 ready");
        host_say(&h, "M5\nM5\nM5\nM5\n");
        for (int k = 0; k < 5 && cases[i].heard[k]; k++)
            host_expect(&h, cases[i].heard[k]);
        g_assert_null(host_hear(&h, 150));
        host_finish(&h);
        host_clear(&h);
    }
}

static void test_late_reply_is_late(void)
{
    Host h;
    host_start(&h, "[faults]\nlist=late-reply 0.3 at line 2\n", FALSE, TRUE);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready");
    host_say(&h, "M5\n");
    host_expect(&h, "taken 1");
    host_say(&h, "M5\n");
    g_assert_null(host_hear(&h, 150));
    host_expect(&h, "taken 2");
    host_finish(&h);
    host_clear(&h);
}

static void test_board_resets_in_mid_job(void)
{
    Host h;
    host_start(&h, "[faults]\nlist=reset at line 3\n", FALSE, TRUE);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready");
    host_say(&h, "G28\nG0 X5\nM3 S40\n");
    host_expect(&h, "taken 1");
    host_expect(&h, "taken 2");
    host_expect(&h, "taken 3");
    host_expect(&h, "drawtrue controller 1 ready");
    host_say(&h, "G0 X5\n");
    host_expect(&h, "refused 1 unhomed");
    host_finish(&h);
    DtRigFigures f;
    dt_rig_figures(h.rig, &f);
    g_assert_true(f.pen_up_at_end);
    host_clear(&h);
}

static void test_switch_hit_in_mid_job(void)
{
    Host h;
    host_start(&h, "[faults]\nlist=switch x at line 3\n", FALSE, TRUE);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready");
    host_say(&h, "G28\nG0 X50 Y50\nM3 S40\nG1 X20 F600\nM5\n");
    for (int i = 1; i <= 4; i++) {
        g_autofree char *line = g_strdup_printf("taken %d", i);
        host_expect(&h, line);
    }
    host_expect(&h, "refused 5 switch hit");
    g_autofree char *state = host_hear(&h, 5000);
    g_assert_true(g_str_has_prefix(state, "state unhomed x "));
    g_assert_true(g_str_has_suffix(state, " pen up line 4 switch x-"));
    host_say(&h, "G28\nG0 X5\n");
    host_expect(&h, "taken 6");
    host_expect(&h, "taken 7");
    host_finish(&h);
    DtRigFigures f;
    dt_rig_figures(h.rig, &f);
    g_assert_true(f.stopped_on_switch);
    g_assert_cmpuint(f.homings, ==, 2);
    host_clear(&h);
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
        host_start_at(&h, link, text, FALSE);
        host_plug_in(&h);
        host_expect(&h, "drawtrue controller 1 ready");
        host_say(&h, "G28\nM3 S40\n");
        host_expect(&h, "taken 1");
        host_expect(&h, "taken 2");
        host_say(&h, "F100\n");
        g_autofree char *last = host_hear(&h, 1000); /* the answer may be lost with the cable */
        g_autofree char *nothing = host_hear(&h, 1000);
        g_assert_null(nothing);
        close(h.fd);
        g_assert_cmpint(open(link, O_RDWR | O_NOCTTY), ==, -1);
        g_usleep(400000);
        host_plug_in(&h);
        if (kind == 0)
            host_expect(&h, "drawtrue controller 1 ready");
        host_say(&h, "\x05");
        g_autofree char *state = host_hear(&h, 5000);
        g_assert_nonnull(state);
        g_assert_true(g_str_has_prefix(state, kind == 0 ? "state unhomed " : "state still "));
        g_assert_nonnull(strstr(state, kind == 0 ? "pen up" : "pen down"));
        host_finish(&h);
        host_clear(&h);
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
    host_start_at(&h, link, "[faults]\nlist=unplug 0.1 at line 1\n", TRUE);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready");
    host_say(&h, "M5\n");
    for (char *line = NULL; (line = host_hear(&h, 5000)) != NULL;) /* until it is gone */
        g_free(line);
    host_hang_up(&h);
    g_usleep(300000);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready"); /* opening it resets the board */
    host_say(&h, "M5\n");
    host_expect(&h, "taken 1");
    host_finish(&h);
    host_clear(&h);
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
    host_start(&h, "[faults]\nlist=silence at line 2\n", FALSE, FALSE);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready");
    host_say(&h, "M5\nM5\nM5\n");
    host_expect(&h, "taken 1");
    g_autofree char *second = host_hear(&h, 200);
    g_autofree char *third = host_hear(&h, 200);
    g_assert_null(third);
    host_say(&h, "\x05");
    g_assert_null(host_hear(&h, 200));
    host_finish(&h);
    host_clear(&h);
}

/* The board draws on what it has, and lifts the pen from the paper by itself. */
static void test_silent_board_lifts_its_pen(void)
{
    Host h;
    host_start(&h, "[faults]\nlist=silence at line 3\n", FALSE, FALSE);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready");
    host_say_checked(&h, "N1 G28 ");
    host_expect(&h, "taken 1");
    host_say_checked(&h, "N2 M3 S40 ");
    host_expect(&h, "taken 2");
    host_say_checked(&h, "N3 G1 X5 F600 ");
    g_usleep(300000);
    host_finish(&h);
    DtRigFigures f;
    dt_rig_figures(h.rig, &f);
    g_assert_false(f.pen_up_at_end);
    h.stop = 0;
    h.thread = g_thread_new("rig", host_serve, &h);
    g_usleep(4200000); /* three to four of its seconds */
    h.stop = 1;
    g_thread_join(h.thread);
    dt_rig_figures(h.rig, &f);
    g_assert_true(f.pen_up_at_end);
    g_assert_cmpfloat(f.ink_mm, >, 3); /* less what it moves while the pen falls */
    host_clear(&h);
}

/* The window that a sender may fill is the one of the rig file, to the byte. */
static void test_window_of_any_size(void)
{
    static const unsigned sizes[] = {64, 128, 255};
    for (gsize i = 0; i < G_N_ELEMENTS(sizes); i++) {
        for (unsigned more = 0; more < 2; more++) {
            g_autofree char *text = g_strdup_printf("[board]\nrx_bytes=%u\n", sizes[i]);
            Host h;
            host_start(&h, text, FALSE, TRUE);
            host_plug_in(&h);
            host_expect(&h, "drawtrue controller 1 ready");
            g_autoptr(GString) s = g_string_new("G4 P1\n"); /* stays in the buffer until done */
            while (s->len < sizes[i] + more - 4)
                g_string_append(s, "M5\n");
            while (s->len < sizes[i] + more - 1)
                g_string_append_c(s, ' ');
            g_string_append_c(s, '\n');
            host_say(&h, s->str);
            g_usleep(50000);
            host_finish(&h);
            DtRigFigures f;
            dt_rig_figures(h.rig, &f);
            g_assert_cmpuint(f.bytes_lost, ==, more);
            host_clear(&h);
        }
    }
}

/* A sender that has nothing more to send and asks, more often than the rig's grace, whether the
 * machine stands: the virtual clock must run on under its questions. */
static void test_questions_do_not_stop_the_clock(void)
{
    Host h;
    host_start(&h, "", FALSE, TRUE);
    host_plug_in(&h);
    host_expect(&h, "drawtrue controller 1 ready");
    host_stream(&h, "G28\nG0 X100 Y80\n", 128);
    gboolean still = FALSE;
    for (int i = 0; i < 50 && !still; i++) {
        host_say(&h, "\x05");
        g_autofree char *state = host_hear(&h, 5000);
        g_assert_nonnull(state);
        still = g_str_has_prefix(state, "state still x 100.0");
        g_usleep(100000);
    }
    g_assert_true(still);
    host_finish(&h);
    host_clear(&h);
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
        host_start(&h, "[board]\nbaud=9600\nboot_s=0\n", TRUE, TRUE);
        host_plug_in(&h);
        host_expect(&h, "drawtrue controller 1 ready");
        host_say(&h, text->str);
        host_finish(&h);
        dt_rig_figures(h.rig, &f);
        g_assert_cmpuint(f.lines_taken, ==, k == 0 ? LINES : 3);
        g_assert_true(f.pen_up_at_end);
        host_clear(&h);
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
