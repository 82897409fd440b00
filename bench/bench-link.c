/* bench-link: how well the line to the board is used, and what the journal and the program cost.
 *
 *   throughput  bytes a second against what the baud rate carries and what the window permits
 *   feeding     a dense program in real time on the virtual machine against the same in virtual
 *               time, where the planner cannot run dry: the difference is starvation
 *   journal     time and size of 36,000 strokes, one each second of a ten-hour job
 *   long        a program of 1,000,000 lines: memory, time to check it, greeting to first motion
 *   dense [N] [DIR]   the densest programs of N drawings in real time */
#define _GNU_SOURCE /* ppoll */
#include "bench-link.h"

#include "support/drawing.h"
#include "support/folder.h"
#include "drawtrue/rig.h"

#include <fcntl.h>
#include <glib/gstdio.h>
#include <math.h>
#include <poll.h>
#include <pty.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

enum { BITS_A_BYTE = 10 /* start, 8 data, stop */, BAUD = 115200 };

/* An ideal board: takes every line as soon as its last byte has come at the line's rate, and
 * answers `latency_s` later. */
typedef struct {
    int master, slave;
    char port[64];
    unsigned baud; /* 0: no limit */
    double latency_s;
    GString *in;        /* bytes that have not arrived yet, in real time */
    double line_free_s; /* when the wire has carried all of them */
    GString *line;
    GQueue answers; /* of Answer */
    double x, y, first_s, last_s, greeted_s, homed_s;
    gsize bytes;
    unsigned n;
    gboolean down;
    int stop;
    GThread *thread;
} Board;

typedef struct {
    double at_s;
    char text[80];
} Answer;

static double now_s(void)
{
    return (double)g_get_monotonic_time() / 1e6;
}

static void answer(Board *b, double at_s, const char *format, ...) G_GNUC_PRINTF(3, 4);

static void answer(Board *b, double at_s, const char *format, ...)
{
    Answer *a = g_new(Answer, 1);
    a->at_s = at_s + b->latency_s;
    va_list list;
    va_start(list, format);
    g_vsnprintf(a->text, sizeof a->text, format, list);
    va_end(list);
    g_queue_push_tail(&b->answers, a);
}

static void take_line(Board *b, double at_s)
{
    const char *l = b->line->str;
    const char *x = strchr(l, 'X'), *y = strchr(l, 'Y');
    if (*l == 'N')
        b->n = (unsigned)strtoul(l + 1, NULL, 10);
    if (x != NULL)
        b->x = g_ascii_strtod(x + 1, NULL);
    if (y != NULL)
        b->y = g_ascii_strtod(y + 1, NULL);
    if (strstr(l, "M3") != NULL || strstr(l, "M5") != NULL)
        b->down = strstr(l, "M3") != NULL;
    if (strstr(l, "G28") != NULL) {
        b->x = b->y = 0;
        b->homed_s = at_s;
    }
    answer(b, at_s, "taken %u\n", b->n);
    g_string_truncate(b->line, 0);
}

static void take_byte(Board *b, char c, double at_s)
{
    b->first_s = b->bytes == 0 ? at_s : b->first_s;
    b->last_s = at_s;
    b->bytes++;
    if (c == 0x05)
        answer(b, at_s, "state still x %.3f y %.3f pen %s line %u switch --\n", b->x, b->y,
               b->down ? "down" : "up", b->n);
    else if (c == '\n')
        take_line(b, at_s);
    else
        g_string_append_c(b->line, c);
}

static void send_due(Board *b)
{
    for (Answer *a; (a = g_queue_peek_head(&b->answers)) != NULL && a->at_s <= now_s();) {
        if (write(b->master, a->text, strlen(a->text)) < 0)
            return;
        g_free(g_queue_pop_head(&b->answers));
    }
}

static void receive(Board *b)
{
    char bytes[4096];
    ssize_t n = read(b->master, bytes, sizeof bytes);
    const double now = now_s();
    for (ssize_t i = 0; i < n; i++) {
        const double byte_s = b->baud ? (double)BITS_A_BYTE / b->baud : 0;
        b->line_free_s = MAX(b->line_free_s, now) + byte_s;
        take_byte(b, bytes[i], b->line_free_s);
    }
}

static gpointer serve_board(gpointer data)
{
    Board *b = data;
    while (!g_atomic_int_get(&b->stop)) {
        struct pollfd p = {b->master, POLLIN, 0};
        const Answer *next = g_queue_peek_head(&b->answers);
        double wait = next ? CLAMP(next->at_s - now_s(), 0, 0.02) : 0.02;
        struct timespec t = {0, (long)(wait * 1e9)};
        if (ppoll(&p, 1, &t, NULL) > 0)
            receive(b);
        send_due(b);
    }
    return NULL;
}

static void start_board(Board *b, unsigned baud, double latency_s)
{
    *b = (Board){.baud = baud, .latency_s = latency_s};
    struct termios raw = {0};
    cfmakeraw(&raw);
    if (openpty(&b->master, &b->slave, b->port, &raw, NULL) != 0)
        g_error("no pseudo-terminal");
    b->in = g_string_new(NULL);
    b->line = g_string_new(NULL);
    g_queue_init(&b->answers);
    b->greeted_s = now_s();
    answer(b, b->greeted_s, "drawtrue controller 1 ready\n");
    b->thread = g_thread_new("board", serve_board, b);
}

static void stop_board(Board *b)
{
    g_atomic_int_set(&b->stop, TRUE);
    g_thread_join(b->thread);
    g_queue_clear_full(&b->answers, g_free);
    g_string_free(b->in, TRUE);
    g_string_free(b->line, TRUE);
    close(b->master);
    close(b->slave);
}

/* Programs ---------------------------------------------------------------------------------- */

static char *folder;

static char *write_program(unsigned lines, double segment, unsigned a_stroke)
{
    char *path = g_build_filename(folder, "job.nc", NULL);
    FILE *f = g_fopen(path, "w");
    if (f == NULL)
        g_error("%s", path);
    fputs("G21\nG90\nM5\nG4P0.1\nG28\n", f);
    double angle = 0, x = 150, y = 100;
    for (unsigned n = 0, k = 0; n < lines; n++, k++) {
        if (k % a_stroke == 0)
            fprintf(f, "%s(stroke %u pen black)\nG0X%.3fY%.3f\nM3S40\nG4P0.25\n",
                    k ? "M5\nG4P0.15\n" : "", k / a_stroke + 1, x, y);
        angle += 0.02;
        x += segment * cos(angle);
        y += segment * sin(angle);
        fprintf(f, k % a_stroke == 0 ? "G1X%.3fY%.3fF700\n" : "X%.3fY%.3f\n", x, y);
    }
    fputs("M5\nG4P0.15\nG0X0Y0\nM2\n", f);
    fclose(f);
    return path;
}

static double opened_s; /* when the last run opened its port */

/* Of a machine that the programs below do not ask too much of. */
static DtProfile *fast_profile(void)
{
    DtProfile *p = dt_profile_new();
    p->speed[0] = p->speed[1] = 30;
    return p;
}

static void note_opening(const DtEvent *e, void *user)
{
    (void)user;
    if (e->kind == DT_EVENT_WAITING)
        opened_s = now_s();
}

static gboolean draw(const DtProfile *p, const char *program, const char *port)
{
    g_autofree char *journal = g_build_filename(folder, "journal.db", NULL);
    g_autoptr(GError) error = NULL;
    const DtRunOptions o = {.journal = journal, .pens_ready = TRUE, .doubts = TRUE};
    gboolean good = drawing_program(p, port, program, &o, note_opening, NULL, &error);
    if (!good)
        printf("  failed: %s\n", error->message);
    return good;
}

/* The parts --------------------------------------------------------------------------------- */

static void bench_throughput(void)
{
    puts("throughput at 115200 baud, 8N1 (11,520 bytes/s)\n"
         "  window  latency   bytes/s   of the line   window permits");
    g_autofree char *program = write_program(1500, 0.1, 1500);
    static const int windows[] = {128, 256, 512, 1024};
    static const double latencies[] = {0, 0.005, 0.020};
    for (gsize w = 0; w < G_N_ELEMENTS(windows); w++)
        for (gsize l = 0; l < G_N_ELEMENTS(latencies); l++) {
            g_autoptr(DtProfile) p = fast_profile();
            p->dialect.window = windows[w];
            Board b;
            start_board(&b, BAUD, latencies[l]);
            draw(p, program, b.port);
            stop_board(&b);
            const double rate = (double)b.bytes / (b.last_s - b.first_s);
            const double carries = (double)BAUD / BITS_A_BYTE;
            /* As many whole lines as fit, each round trip: its last byte's way and the answer's. */
            const double line = (double)b.bytes / b.n, fit = floor((windows[w] - 1) / line);
            const double permits = MIN(carries, fit * line / (latencies[l] + line / carries));
            printf("  %6d  %4.0f ms  %8.0f      %5.1f %%        %5.1f %%\n", windows[w],
                   latencies[l] * 1000, rate, 100 * rate / carries, 100 * permits / carries);
            fflush(stdout);
        }
}

static volatile int rig_stop;

typedef struct {
    DtRig *rig;
    gboolean real_time;
} Serving;

static gpointer serve_rig(gpointer data)
{
    Serving *s = data;
    dt_rig_serve(s->rig, s->real_time, FALSE, &rig_stop, NULL);
    return NULL;
}

/* Time that the strokes take on the paper, s, and how often the planner was empty in one. */
static double time_on_rig(const char *program, gboolean real_time, double latency_s,
                          unsigned *stops)
{
    g_autofree char *text =
        g_strdup_printf("[board]\nreply_delay_s = %.3f\n", real_time ? latency_s : 0);
    g_autoptr(GError) error = NULL;
    g_autoptr(DtRig) rig = dt_rig_new_from_text(text, "bench", &error);
    const char *port = rig ? dt_rig_open_port(rig, &error) : NULL;
    if (port == NULL)
        g_error("%s", error->message);
    rig_stop = 0;
    Serving s = {rig, real_time};
    GThread *t = g_thread_new("rig", serve_rig, &s);
    g_autoptr(DtProfile) p = fast_profile();
    draw(p, program, port);
    rig_stop = 1;
    g_thread_join(t);
    DtRigFigures f;
    dt_rig_figures(rig, &f);
    if (f.bytes_lost > 0 || f.lines_refused > 0)
        printf("  %u bytes lost, %u lines refused\n", f.bytes_lost, f.lines_refused);
    *stops = f.starved;
    double on_paper = 0;
    for (size_t i = 0; i < dt_rig_stroke_count(rig); i++)
        on_paper += dt_rig_stroke(rig, i).to_s - dt_rig_stroke(rig, i).from_s;
    return on_paper;
}

static void bench_feeding(void)
{
    puts("\nfeeding: 0.1 mm segments at 15 mm/s, window 128\n"
         "  latency    on paper   never dry   longer   stops in mid-stroke");
    g_autofree char *program = write_program(2500, 0.1, 2500);
    unsigned stops;
    const double full = time_on_rig(program, FALSE, 0, &stops);
    static const double latencies[] = {0, 0.005, 0.020};
    for (gsize l = 0; l < G_N_ELEMENTS(latencies); l++) {
        const double real = time_on_rig(program, TRUE, latencies[l], &stops);
        printf("  %4.0f ms  %8.2f s  %8.2f s  %5.2f %%   %u\n", latencies[l] * 1000, real, full,
               100 * (real - full) / full, stops);
        fflush(stdout);
    }
}

static goffset size_of(const char *name)
{
    g_autofree char *path = g_build_filename(folder, name, NULL);
    GStatBuf st;
    return g_stat(path, &st) == 0 ? st.st_size : 0;
}

static void bench_journal(void)
{
    folder_clear(folder);
    const unsigned strokes = 2000; /* a sample; time and size are linear */
    g_autofree char *program = write_program(strokes, 0.5, 1);
    g_autoptr(DtProfile) p = fast_profile();
    g_autofree char *journal = g_build_filename(folder, "journal.db", NULL);
    g_autoptr(GError) error = NULL;
    Board b;
    start_board(&b, 0, 0);
    const DtRunOptions o = {.journal = journal, .pens_ready = TRUE, .doubts = TRUE};
    g_autoptr(DtSession) session = dt_session_new(p, b.port);
    g_autoptr(DtRun) r = dt_run_new(session, program, &o, &error);
    if (r == NULL || !drawing_run(r, NULL, NULL, &error))
        g_error("%s", error->message);
    stop_board(&b);
    const double each_ms = 1000 * dt_run_journal_s(r) / strokes;
    g_clear_pointer(&r, dt_run_unref);
    printf(
        "\njournal: %.2f ms a stroke, %.2f %% of a job with a stroke each second; 36,000 strokes "
        "take %.1f MB\n",
        each_ms, each_ms / 10, (double)size_of("journal.db") / strokes * 36000 / 1e6);
}

static long peak_kb(void)
{
    g_autofree char *text = NULL;
    const char *peak = NULL;
    if (g_file_get_contents("/proc/self/status", &text, NULL, NULL))
        peak = strstr(text, "VmHWM:");
    return peak ? atol(peak + 6) : 0;
}

static void bench_long(void)
{
    folder_clear(folder);
    g_autofree char *program = write_program(1000000, 0.05, 20000);
    fflush(stdout);
    const pid_t child = fork();
    if (child == 0) {
        g_autoptr(DtProfile) p = fast_profile();
        p->dialect.window = 4096;
        Board b;
        const double start = now_s();
        start_board(&b, 0, 0);
        const long before = peak_kb();
        const gboolean good = draw(p, program, b.port);
        stop_board(&b);
        printf(
            "\nlong: 1,000,000 lines %s in %.1f s; peak memory %.1f MB (%.1f MB of it the program's"
            " start); to first motion %.2f s\n",
            good ? "sent" : "failed", now_s() - start, (double)peak_kb() / 1024,
            (double)before / 1024, b.homed_s - opened_s);
        fflush(stdout);
        _exit(0);
    }
    waitpid(child, NULL, 0);
}

int main(int argc, char **argv)
{
    static const struct {
        const char *name;
        void (*run)(void);
    } parts[] = {
        {"throughput", bench_throughput},
        {"feeding", bench_feeding},
        {"journal", bench_journal},
        {"long", bench_long},
    };
    folder = g_dir_make_tmp("drawtrue-bench-XXXXXX", NULL);
    for (gsize i = 0; i < G_N_ELEMENTS(parts); i++)
        if (argc < 2 || strcmp(argv[1], parts[i].name) == 0)
            parts[i].run();
    if (argc < 2 || strcmp(argv[1], "dense") == 0)
        bench_link_dense(MAX(argc - 1, 1), argc < 2 ? argv : argv + 1, folder);
    folder_remove(folder);
    g_free(folder);
    return 0;
}
