/* bench wire: is the predicted time that of the virtual machine, whatever the axes and the wire?
 * Usage: bench-wire [N] [SEED]: N random machines (60 by default), each with its own speeds, bit rate,
 * receive buffer and delay of replies, draw a sheet of curves that are as dense as drawings are. */
#include "drive.h"

#include "drawtrue/code.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

typedef struct {
    double predicted_s, motors_s, rig_s;
    size_t starved, rig_starved, lines;
} Figures;

static double between(GRand *r, double low, double high)
{
    return exp(g_rand_double_range(r, log(low), log(high)));
}

static DtProfile *random_profile(GRand *r)
{
    static const int bauds[] = {9600, 14400, 19200, 28800, 38400, 57600, 115200};
    static const int windows[] = {64, 128, 128, 256, 512, 1024, 4096};
    DtProfile *p = dt_profile_new();
    for (int i = 0; i < 2; i++) {
        p->steps_per_mm[i] = between(r, 40, 150);
        p->speed[i] = between(r, 8, 60);
        p->acceleration[i] = between(r, 60, 1000);
        p->pull_in[i] = between(r, 1, 5);
    }
    p->dialect.baud = bauds[g_rand_int_range(r, 0, G_N_ELEMENTS(bauds))];
    p->dialect.window = windows[g_rand_int_range(r, 0, G_N_ELEMENTS(windows))];
    p->dialect.longest_line = MIN(p->dialect.longest_line, p->dialect.window - 2);
    p->dialect.reply_delay_s = g_rand_boolean(r) ? 0 : g_rand_double_range(r, 0, 0.02);
    return p;
}

/* The profile's machine as a rig file. */
static gboolean write_rig(const DtProfile *p, const char *path, GError **error)
{
    g_autoptr(GString) s = g_string_new("[controller]\n");
    for (int i = 0; i < 2; i++) {
        const char axis = i ? 'y' : 'x';
        g_string_append_printf(
            s,
            "steps_per_mm_%c = %.17g\nspeed_%c = %.17g\nacceleration_%c = %.17g\n"
            "pull_in_%c = %.17g\n",
            axis, p->steps_per_mm[i], axis, p->speed[i], axis, p->acceleration[i], axis,
            p->pull_in[i]);
    }
    g_string_append_printf(s, "[board]\nbaud = %d\nrx_bytes = %d\nreply_delay_s = %.6f\n",
                           p->dialect.baud, p->dialect.window, p->dialect.reply_delay_s);
    g_string_append(s, "[pen]\norder = first second third\n");
    return dt_base_write_file(path, s->str, s->len, error);
}

/* Curves of all sizes, flattened as closely as drawings are, and some long lines. */
static void add_curve(GRand *r, DtSequence *s)
{
    const double radius = between(r, 0.3, 20), x = g_rand_double_range(r, 45, 250);
    const double y = g_rand_double_range(r, 45, 170), wobble = g_rand_double_range(r, 0, 0.3);
    const double mm = between(r, 0.04, 1), waves = floor(g_rand_double_range(r, 2, 9));
    const int n = (int)MAX(3, 2 * G_PI * radius / mm);
    dt_sequence_begin(s, 0, s->n);
    for (int i = 0; i <= n; i++) {
        const double a = 2 * G_PI * i / n, k = radius * (1 + wobble * sin(waves * a));
        dt_sequence_point(s, dt_point(x + k * cos(a), y + k * sin(a)));
    }
}

static gboolean measure(GRand *r, const char *folder, const DtProfile *p, const char *rig,
                        double homing_s, gboolean with_curves, Figures *f, GError **error)
{
    g_auto(DtSequence) s = {0};
    g_auto(DtMoves) moves = {0};
    g_autofree char *program = g_build_filename(folder, "job.nc", NULL);
    for (int i = 0; with_curves && i < 30; i++)
        add_curve(r, &s);
    dt_sequence_begin(&s, 0, s.n);
    dt_sequence_point(&s, dt_point(20, 20));
    dt_sequence_point(&s, dt_point(30, 20));
    gsize len;
    DtInspection i;
    DtRigFigures figures = {0};
    if (!dt_machine_moves(p, &s, &moves, error))
        return FALSE;
    g_autofree char *text = dt_code_write(p, &moves, &len, error);
    if (text == NULL || !dt_base_write_file(program, text, len, error) ||
        !dt_code_judge(p, program, NULL, &i, error) ||
        !drive_rig(p, program, rig, folder, &figures, error))
        return FALSE;
    *f = (Figures){.predicted_s = i.time_s - i.home_s,
                   .motors_s = i.time_s - i.home_s - i.held_up_s,
                   .rig_s = figures.time_s - homing_s,
                   .starved = i.starved,
                   .rig_starved = figures.starved,
                   .lines = figures.lines_taken};
    dt_inspection_clear(&i);
    return TRUE;
}

/* What homing takes: a program with one short line, less that line. */
static gboolean run_machine(GRand *r, const char *folder, DtProfile *p, Figures *f, GError **error)
{
    g_autofree char *rig = g_build_filename(folder, "rig.ini", NULL);
    Figures line;
    return write_rig(p, rig, error) && measure(r, folder, p, rig, 0, FALSE, &line, error) &&
           measure(r, folder, p, rig, line.rig_s - line.predicted_s, TRUE, f, error);
}

int main(int argc, char **argv)
{
    const int n = argc > 1 ? atoi(argv[1]) : 60;
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-wire-XXXXXX", &error);
    GRand *r = g_rand_new_with_seed(argc > 2 ? (guint32)atoi(argv[2]) : 1);
    int within = 0, done = 0;
    double worst = 0;
    printf("%6s %6s %5s %8s | %6s %8s %8s %8s %7s | %s\n", "bit/s", "window", "delay", "speeds",
           "lines", "motors", "told s", "rig s", "off %", "stops in mid-stroke: told, rig");
    for (int k = 0; k < n && folder != NULL; k++) {
        g_autoptr(DtProfile) p = random_profile(r);
        g_autoptr(GError) failed = NULL;
        Figures f;
        printf("%6d %6d %5.1f %3.0f %3.0f  | ", p->dialect.baud, p->dialect.window,
               1000 * p->dialect.reply_delay_s, p->speed[0], p->speed[1]);
        if (!run_machine(r, folder, p, &f, &failed)) {
            printf("%s\n", failed->message);
            continue;
        }
        const double off = f.predicted_s / f.rig_s - 1;
        printf("%6zu %8.1f %8.1f %8.1f %+7.2f | %zu %zu\n", f.lines, f.motors_s, f.predicted_s,
               f.rig_s, 100 * off, f.starved, f.rig_starved);
        fflush(stdout);
        done++;
        within += fabs(off) <= 0.01;
        worst = MAX(worst, fabs(off));
    }
    printf("within 1 %%: %d of %d; worst %.2f %%\n", within, done, 100 * worst);
    g_rand_free(r);
    return 0;
}
