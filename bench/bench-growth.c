/* bench growth: how a plan's processor time and memory grow with the size of the drawing, from 1,000 parts
 * on: ./dev bench --growth [MOST [CASE...]]. Each plan is a process of its own; the drawing is read, too. */
#include "drawtrue/job.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#define PROFILE "examples/workshop.ini"
#define HEAD                                                                                       \
    "<svg xmlns='http://www.w3.org/2000/svg' width='190mm' height='130mm' viewBox='0 0 190 "       \
    "130'>\n"
#define LIMIT_S 300

/* Short lines at random, as a hatch by hand has them; a thousand to an element. */
static void write_strokes(FILE *f, size_t n, GRand *r)
{
    for (size_t i = 0; i < n; i++) {
        if (i % 1000 == 0)
            fprintf(f, "%s<path fill='none' stroke='#1c1c1c' stroke-width='.3' d='",
                    i > 0 ? "'/>\n" : "");
        fprintf(f, "M%.3f %.3fl%.3f %.3f", g_rand_double_range(r, 2, 187),
                g_rand_double_range(r, 2, 127), g_rand_double_range(r, -1, 1),
                g_rand_double_range(r, -1, 1));
    }
    fputs("'/>\n", f);
}

/* The same, each a hairline of its own. */
static void write_apart(FILE *f, size_t n, GRand *r)
{
    fputs("<g fill='none' stroke='#1c1c1c' stroke-width='.08'>\n", f);
    for (size_t i = 0; i < n; i++)
        fprintf(f, "<path d='M%.3f %.3fl%.3f %.3f'/>\n", g_rand_double_range(r, 2, 187),
                g_rand_double_range(r, 2, 127), g_rand_double_range(r, -0.5, 0.5),
                g_rand_double_range(r, -0.5, 0.5));
    fputs("</g>\n", f);
}

/* Each in a colour of its own. */
static void write_colours(FILE *f, size_t n, GRand *r)
{
    for (size_t i = 0; i < n; i++)
        fprintf(f,
                "<path fill='none' stroke='#%06x' stroke-width='.3' d='M%.3f %.3fl%.3f %.3f'/>\n",
                (unsigned)g_rand_int_range(r, 0, 0x1000000), g_rand_double_range(r, 2, 187),
                g_rand_double_range(r, 2, 127), g_rand_double_range(r, -0.5, 0.5),
                g_rand_double_range(r, -0.5, 0.5));
}

/* Small filled rectangles. */
static void write_rects(FILE *f, size_t n, GRand *r)
{
    for (size_t i = 0; i < n; i++)
        fprintf(f, "<rect x='%.3f' y='%.3f' width='%.3f' height='%.3f' fill='#1c1c1c'/>\n",
                g_rand_double_range(r, 2, 187), g_rand_double_range(r, 2, 127),
                g_rand_double_range(r, 0.2, 1), g_rand_double_range(r, 0.2, 1));
}

/* Filled discs of 0.4 to 0.9 mm, which overlap where they are many. */
static void write_dots(FILE *f, size_t n, GRand *r)
{
    for (size_t i = 0; i < n; i++)
        fprintf(f, "<circle cx='%.3f' cy='%.3f' r='%.3f' fill='#1c1c1c'/>\n",
                g_rand_double_range(r, 1, 189), g_rand_double_range(r, 1, 129),
                g_rand_double_range(r, 0.2, 0.45));
}

/* Circles of a line thinner than the pen. */
static void write_rings(FILE *f, size_t n, GRand *r)
{
    for (size_t i = 0; i < n; i++)
        fprintf(f,
                "<circle cx='%.3f' cy='%.3f' r='%.3f' fill='none' stroke='#1c1c1c' "
                "stroke-width='.1'/>\n",
                g_rand_double_range(r, 4, 186), g_rand_double_range(r, 4, 126),
                g_rand_double_range(r, 0.5, 3));
}

/* One line that wanders over the sheet. */
static void write_line(FILE *f, size_t n, double width, GRand *r)
{
    double x = 95, y = 65, way = 0;
    fprintf(f, "<path fill='none' stroke='#1c1c1c' stroke-width='%g' d='M95 65L", width);
    for (size_t i = 1; i < n; i++) {
        way += g_rand_double_range(r, -0.3, 0.3);
        x += 0.1 * cos(way);
        y += 0.1 * sin(way);
        if (x < 2 || x > 188 || y < 2 || y > 128) {
            x = CLAMP(x, 2, 188);
            y = CLAMP(y, 2, 128);
            way += G_PI / 2;
        }
        fprintf(f, "%.3f %.3f\n", x, y);
    }
    fputs("'/>\n", f);
}

static void write_points(FILE *f, size_t n, GRand *r)
{
    write_line(f, n, 0.3, r);
}

/* One that is wider than the pen, and so an area. */
static void write_wide(FILE *f, size_t n, GRand *r)
{
    write_line(f, n, 0.8, r);
}

/* Circles of dashes and gaps of three micrometres. */
static void write_dashes(FILE *f, size_t n, GRand *r)
{
    for (size_t i = 0; i < n; i++)
        fprintf(f,
                "<circle cx='%.3f' cy='%.3f' r='%.3f' fill='none' stroke='#1c1c1c' "
                "stroke-width='.2' stroke-dasharray='.003'/>\n",
                g_rand_double_range(r, 4, 186), g_rand_double_range(r, 4, 126),
                g_rand_double_range(r, 0.5, 3));
}

/* Filled rings about one middle, 0.1 mm apart, a tenth of a millimetre or less each. */
static void write_fine(FILE *f, size_t n, GRand *r)
{
    (void)r;
    for (size_t i = 0; i < n; i++)
        fprintf(f,
                "<circle cx='%.3f' cy='%.3f' r='%.3f' fill='none' stroke='#1c1c1c' "
                "stroke-width='.05'/>\n",
                i % 2 ? 48.0 : 142.0, 65.0, 0.1 + 0.1 * (double)(i / 2 % 460));
}

/* One scribble of chords, filled by the even-odd rule. */
static void write_scribble(FILE *f, size_t n, GRand *r)
{
    fputs("<path fill='#1c1c1c' fill-rule='evenodd' d='M95 65", f);
    for (size_t i = 1; i < n; i++)
        fprintf(f, "L%.3f %.3f\n", g_rand_double_range(r, 2, 188), g_rand_double_range(r, 2, 128));
    fputs("z'/>\n", f);
}

/* Large filled circles of many paints, one over the other. */
static void write_stacked(FILE *f, size_t n, GRand *r)
{
    for (size_t i = 0; i < n; i++)
        fprintf(f, "<circle cx='%.3f' cy='%.3f' r='%.3f' fill='#%06x'/>\n",
                g_rand_double_range(r, 45, 145), g_rand_double_range(r, 45, 85),
                g_rand_double_range(r, 5, 40), (unsigned)g_rand_int_range(r, 0, 0x1000000));
}

/* Lines side by side, a hatch by hand. */
static void write_hatch(FILE *f, size_t n, GRand *r)
{
    for (size_t i = 0; i < n; i++) {
        if (i % 1000 == 0)
            fprintf(f, "%s<path fill='none' stroke='#1c1c1c' stroke-width='.3' d='",
                    i > 0 ? "'/>\n" : "");
        fprintf(f, "M%.3f %.3fl%.3f 2", g_rand_double_range(r, 2, 187),
                2.0 + 2.1 * (double)(i % 59), g_rand_double_range(r, -0.1, 0.1));
    }
    fputs("'/>\n", f);
}

typedef struct {
    const char *name;
    void (*write)(FILE *f, size_t n, GRand *r);
    size_t most;
} Case;

static const Case cases[] = {
    {"strokes", write_strokes, 1000000}, {"apart", write_apart, 1000000},
    {"colours", write_colours, 100000},  {"rects", write_rects, 100000},
    {"dots", write_dots, 100000},        {"rings", write_rings, 20000},
    {"points", write_points, 5000000},   {"dashes", write_dashes, 10000},
    {"fine", write_fine, 5000},          {"scribble", write_scribble, 3000},
    {"stacked", write_stacked, 3400},    {"hatch", write_hatch, 1000000},
    {"wide", write_wide, 1000000},
};

static int plan(const char *svg)
{
    g_autoptr(GError) error = NULL;
    g_autoptr(DtProfile) p = dt_profile_load(PROFILE, &error);
    g_auto(DtJob) job = {0};
    DtJobOptions o = DT_JOB_OPTIONS_DEFAULT;
    o.program_only = TRUE; /* as the command does */
    if (p != NULL && dt_job_plan(p, svg, &o, &job, NULL, &error))
        return 0;
    fprintf(stderr, "bench-growth: %s\n", error->message);
    return 1;
}

/* Processor seconds and megabytes of a plan; FALSE where there is none. */
static gboolean measure(const char *svg, double *seconds, double *mb)
{
    const pid_t pid = fork();
    int status = 0;
    struct rusage use;
    if (pid == 0) {
        const struct rlimit limit = {LIMIT_S, LIMIT_S};
        setrlimit(RLIMIT_CPU, &limit);
        _exit(plan(svg));
    }
    if (pid < 0 || wait4(pid, &status, 0, &use) != pid)
        return FALSE;
    *seconds = (double)(use.ru_utime.tv_sec + use.ru_stime.tv_sec) +
               1e-6 * (double)(use.ru_utime.tv_usec + use.ru_stime.tv_usec);
    *mb = (double)use.ru_maxrss / 1024;
    return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

static void grow(const Case *c, size_t most, const char *svg)
{
    for (size_t n = 1000; n <= most && n <= c->most;
         n = n * 10 > c->most && n < c->most ? c->most : n * 10) {
        g_autoptr(GRand) r = g_rand_new_with_seed(20);
        double seconds = 0, mb = 0;
        FILE *f = fopen(svg, "w");
        if (!f)
            return;
        fputs(HEAD, f);
        c->write(f, n, r);
        fputs("</svg>\n", f);
        fclose(f);
        const gboolean good = measure(svg, &seconds, &mb);
        printf("%-8s %8zu  %8.2f s  %7.0f MB  %7.1f us each%s\n", c->name, n, seconds, mb,
               1e6 * seconds / (double)n, good ? "" : "  FAILED");
        fflush(stdout);
    }
}

int main(int argc, char **argv)
{
    g_autoptr(GError) error = NULL;
    g_autofree char *folder = g_dir_make_tmp("drawtrue-XXXXXX", &error);
    if (!folder) {
        fprintf(stderr, "bench-growth: %s\n", error->message);
        return 3;
    }
    g_autofree char *svg = g_build_filename(folder, "growth.svg", NULL);
    const size_t most = argc > 1 ? (size_t)strtoull(argv[1], NULL, 10) : G_MAXSIZE;
    printf("case        parts  processor     memory  of a whole plan, the drawing read\n");
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        gboolean wanted = argc < 3;
        for (int k = 2; k < argc; k++)
            wanted |= strcmp(argv[k], cases[i].name) == 0;
        if (wanted)
            grow(&cases[i], most, svg);
    }
    unlink(svg);
    rmdir(folder);
    return 0;
}
