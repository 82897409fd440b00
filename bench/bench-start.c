/* bench-start: what the program needs before it does anything: time and memory of `drawtrue --help`, set
 * beside those of a program that does nothing. Usage: bench-start DRAWTRUE. */
#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>

extern char **environ;

enum { RUNS = 60 };

typedef struct {
    double wall_ms[RUNS], cpu_ms[RUNS]; /* sorted */
    long most_kib;
} Cost;

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec * 1e-6;
}

static double to_ms(struct timeval t)
{
    return (double)t.tv_sec * 1e3 + (double)t.tv_usec * 1e-3;
}

static int compare(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* One run with its output thrown away; ends the benchmark where the program fails. */
static void run(char **argv, Cost *c, int i)
{
    posix_spawn_file_actions_t silent;
    posix_spawn_file_actions_init(&silent);
    posix_spawn_file_actions_addopen(&silent, 1, "/dev/null", O_WRONLY, 0);
    pid_t child;
    int status = 1;
    struct rusage use = {0};
    const double start = now_ms();
    if (posix_spawn(&child, argv[0], &silent, NULL, argv, environ) != 0 ||
        wait4(child, &status, 0, &use) != child || status != 0) {
        fprintf(stderr, "bench-start: %s: %s\n", argv[0], errno ? strerror(errno) : "it failed");
        exit(3);
    }
    c->wall_ms[i] = now_ms() - start;
    c->cpu_ms[i] = to_ms(use.ru_utime) + to_ms(use.ru_stime);
    c->most_kib = use.ru_maxrss > c->most_kib ? use.ru_maxrss : c->most_kib;
    posix_spawn_file_actions_destroy(&silent);
}

static Cost measure(char **argv)
{
    Cost c = {.most_kib = 0};
    for (int i = 0; i < RUNS; i++)
        run(argv, &c, i);
    qsort(c.wall_ms, RUNS, sizeof *c.wall_ms, compare);
    qsort(c.cpu_ms, RUNS, sizeof *c.cpu_ms, compare);
    return c;
}

static void print_cost(const char *name, const Cost *c)
{
    printf("%-16s %6.1f ms at best, %6.1f ms median; processor %5.1f ms; %5.1f MB\n", name,
           c->wall_ms[0], c->wall_ms[RUNS / 2], c->cpu_ms[RUNS / 2], (double)c->most_kib / 1024);
}

int main(int argc, char **argv)
{
    char *program = argc == 2 ? argv[1] : (char[]){DT_DRAWTRUE};
    const Cost help = measure((char *[]){program, (char[]){"--help"}, NULL});
    const Cost nothing = measure((char *[]){(char[]){"/bin/true"}, NULL});
    print_cost("drawtrue --help", &help);
    print_cost("nothing", &nothing);
    printf("ratio            %6.1f of the time, %.1f of the memory\n",
           help.wall_ms[0] / nothing.wall_ms[0], (double)help.most_kib / (double)nothing.most_kib);
    return 0;
}
