/* bench-code: how fast programs are read and judged, side by side with counting words.
 *     ./dev bench --code [MEGABYTES]                                                            */
#include "drawtrue/code.h"

#include <glib/gstdio.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

static double now_s(void)
{
    return (double)g_get_monotonic_time() / 1e6;
}

static long peak_kb(void)
{
    struct rusage u;
    getrusage(RUSAGE_SELF, &u);
    return u.ru_maxrss;
}

/* A drawing program of about `bytes`: strokes of short segments, as the writer makes them. */
static void write_program(const char *path, double bytes)
{
    FILE *f = fopen(path, "w");
    if (f == NULL) {
        perror(path);
        exit(3);
    }
    GRand *r = g_rand_new_with_seed(6);
    double written = (double)fprintf(f, "G21G90\nM5\nG4P0.1\nG28\n");
    for (unsigned stroke = 1; written < bytes; stroke++) {
        double cx = g_rand_double_range(r, 30, 180), cy = g_rand_double_range(r, 30, 120);
        double radius = g_rand_double_range(r, 1, 25);
        written += fprintf(f, "(stroke %u pen black)\nG0X%.3fY%.3f\nM3 S40\nG4P0.15\n", stroke,
                           cx + radius, cy);
        for (int i = 1; i <= 60; i++)
            written += fprintf(f, i == 1 ? "G1X%.3fY%.3fF600\n" : "X%.3fY%.3f\n",
                               cx + radius * cos(i * 0.1047), cy + radius * sin(i * 0.1047));
        written += fprintf(f, "M5\nG4P0.1\n");
    }
    fputs("G0X0Y0\nM2\n", f);
    fclose(f);
    g_rand_free(r);
}

/* Wall clock and processor time of one piece of work, s. */
typedef struct {
    double wall, cpu;
} Cost;

static double cpu_s(int who)
{
    struct rusage u;
    getrusage(who, &u);
    return (double)(u.ru_utime.tv_sec + u.ru_stime.tv_sec) +
           (double)(u.ru_utime.tv_usec + u.ru_stime.tv_usec) / 1e6;
}

static Cost count_words(const char *path)
{
    g_autofree char *command = g_strdup_printf("wc -w '%s' >/dev/null", path);
    double start = now_s(), cpu = cpu_s(RUSAGE_CHILDREN);
    if (system(command) != 0)
        exit(3);
    return (Cost){now_s() - start, cpu_s(RUSAGE_CHILDREN) - cpu};
}

static Cost judge(const DtProfile *p, const char *path, DtInspection *out)
{
    g_autoptr(GError) error = NULL;
    double start = now_s(), cpu = cpu_s(RUSAGE_SELF);
    if (!dt_code_judge(p, path, NULL, out, &error)) {
        fprintf(stderr, "bench-code: %s\n", error->message);
        exit(3);
    }
    return (Cost){now_s() - start, cpu_s(RUSAGE_SELF) - cpu};
}

static Cost least(Cost a, Cost b)
{
    return (Cost){MIN(a.wall, b.wall), MIN(a.cpu, b.cpu)};
}

static void print_cost(const char *what, double megabytes, Cost c)
{
    printf("%-28s %10.3f %10.1f %10.3f %10.1f\n", what, c.wall, megabytes / c.wall, c.cpu,
           megabytes / c.cpu);
}

int main(int argc, char **argv)
{
    double megabytes = argc > 1 ? atof(argv[1]) : 200;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-bench-XXXXXX", NULL);
    g_autofree char *path = g_build_filename(folder, "job.nc", NULL);
    g_autoptr(DtProfile) p = dt_profile_new();
    write_program(path, megabytes * 1e6);
    Cost words = {G_MAXDOUBLE, G_MAXDOUBLE}, judged = words;
    long before = peak_kb();
    DtInspection out;
    for (int turn = 0; turn < 3; turn++) { /* alternating, the best of each */
        words = least(words, count_words(path));
        judged = least(judged, judge(p, path, &out));
        if (turn < 2)
            dt_inspection_clear(&out);
    }
    printf("%-28s %10s %10s %10s %10s\n", "reading a program", "wall s", "MB/s", "cpu s", "MB/s");
    print_cost("wc -w", megabytes, words);
    print_cost("read and judged", megabytes, judged);
    printf("%-28s %10.2f %21.2f\n", "ratio judged / wc -w", judged.wall / words.wall,
           judged.cpu / words.cpu);
    printf("lines %zu, findings %zu, ink %.0f mm, time %.0f s\n", out.lines, out.n_findings,
           out.ink_mm, out.time_s);
    printf("memory grew by %ld kB while judging %.0f MB\n", peak_kb() - before, megabytes);
    dt_inspection_clear(&out);
    g_unlink(path);
    g_rmdir(folder);
    return 0;
}
