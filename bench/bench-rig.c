/* bench-rig: how much faster than the machine its virtual twin runs, and how much of a serial line
 * it carries in real time. */
#include "drawtrue/rig.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* A job of about ten hours at full feed: pens, lifts, curves of short segments. */
static char *long_job(void)
{
    GString *s = g_string_new("G28\n(pen black)\nG0 X150 Y110\n");
    for (int stroke = 0; stroke < 700; stroke++) {
        double phase = stroke * 2.399963;
        for (int i = 0; i <= 500; i++) {
            double turn = phase + i * 0.02, r = 20 + 70 * fabs(sin(turn * 1.3 + stroke));
            double x = 150 + r * cos(turn), y = 110 + r * sin(turn);
            if (i == 0)
                g_string_append_printf(s, "G0 X%.3f Y%.3f\nM3 S40\nG4 P0.15\nF900\n", x, y);
            else
                g_string_append_printf(s, "G1 X%.3f Y%.3f\n", x, y);
        }
        g_string_append(s, "M5\nG4 P0.1\n");
    }
    g_string_append(s, "G0 X0 Y0\nM2\n");
    return g_string_free(s, FALSE);
}

static void bench_virtual(void)
{
    g_autofree char *job = long_job();
    g_autoptr(DtRig) r = dt_rig_new(NULL, NULL);
    gint64 start = g_get_monotonic_time();
    dt_rig_run_text(r, job, strlen(job));
    double took = (double)(g_get_monotonic_time() - start) * 1e-6;
    DtRigFigures f;
    dt_rig_figures(r, &f);
    size_t points = 0;
    for (size_t i = 0; i < dt_rig_stroke_count(r); i++)
        points += dt_rig_stroke(r, i).n;
    printf("virtual time: %.1f h of machine time, %.0f m of ink, %u lines\n", f.time_s / 3600,
           f.ink_mm / 1000, f.lines_taken);
    printf("  took %.1f s: %.0f times as fast, %.0f ns a step; %zu points of ink (%.2f a mm)\n",
           took, f.time_s / took, took * 1e9 / (double)(f.steps[0] + f.steps[1]), points,
           (double)points / f.ink_mm);
    if (f.lines_refused || f.bytes_lost)
        printf("  %u lines refused, %u bytes lost: WRONG\n", f.lines_refused, f.bytes_lost);
}

typedef struct {
    DtRig *rig;
    volatile int stop;
} Serving;

static gpointer serve(gpointer user)
{
    Serving *s = user;
    dt_rig_serve(s->rig, TRUE, FALSE, &s->stop, NULL);
    return NULL;
}

/* Lines of comments as fast as the window lets them go, for `seconds`; bytes a second. */
static double stream(int fd, unsigned window, double seconds)
{
    static const char line[] = "(a line that keeps the wire busy)\n";
    const unsigned n = sizeof line - 1;
    unsigned waiting = 0, answered = 0;
    gint64 start = g_get_monotonic_time(), now = start;
    while ((double)(now - start) * 1e-6 < seconds) {
        while (waiting + n < window && write(fd, line, n) == n)
            waiting += n;
        struct pollfd p = {fd, POLLIN, 0};
        poll(&p, 1, 100);
        char bytes[512];
        ssize_t got = read(fd, bytes, sizeof bytes);
        for (ssize_t i = 0; i < got; i++)
            if (bytes[i] == '\n' && waiting >= n) {
                waiting -= n;
                answered++;
            }
        now = g_get_monotonic_time();
    }
    return answered * n / ((double)(now - start) * 1e-6);
}

static void bench_wire(void)
{
    static const unsigned windows[] = {64, 128, 255};
    static const double delays[] = {0, 0.005, 0.02};
    printf("\nreal time: share of what 115200 baud carries (11520 bytes a second), by receive "
           "buffer and "
           "reply latency\n  buffer      0 ms      5 ms     20 ms\n");
    for (gsize w = 0; w < G_N_ELEMENTS(windows); w++) {
        printf("  %6u", windows[w]);
        for (gsize d = 0; d < G_N_ELEMENTS(delays); d++) {
            g_autofree char *text =
                g_strdup_printf("[board]\nrx_bytes=%u\nreply_delay_s=%g\n", windows[w], delays[d]);
            Serving s = {dt_rig_new_from_text(text, "bench", NULL), 0};
            const char *port = dt_rig_open_port(s.rig, NULL);
            GThread *thread = g_thread_new("rig", serve, &s);
            int fd = open(port, O_RDWR | O_NOCTTY | O_NONBLOCK);
            g_usleep(100000);
            char greeting[256];
            while (read(fd, greeting, sizeof greeting) > 0) {
            }
            printf("  %6.1f %%", 100 * stream(fd, windows[w], 1.5) / 11520);
            fflush(stdout);
            s.stop = 1;
            g_thread_join(thread);
            close(fd);
            dt_rig_free(s.rig);
        }
        printf("\n");
    }
}

int main(void)
{
    bench_virtual();
    bench_wire();
    return 0;
}
