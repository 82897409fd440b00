/* bench-chip: the controller's image on a simulated chip, measured at its pins.
 *
 * Its arguments: see `usage`. */
#include "bench-chip.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *bench_image = "build/board/drawtrue-atmega328p.elf";

gboolean bench_row(const char *what, const char *bar, gboolean good, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    g_autofree char *measured = g_strdup_vprintf(format, list);
    va_end(list);
    printf("= %-46s %-34s %-24s %s\n", what, measured, bar, good ? "" : "NO");
    return good;
}

static const char usage[] =
    "usage: bench-chip [N] [--longest S]  three examples and N drawings, of at most S seconds\n"
    "       bench-chip --bytes N          random bytes\n"
    "       bench-chip --power N          the power cut at N moments\n"
    "       bench-chip --switches HOURS   drawing with switches that bounce and coil noise\n"
    "       bench-chip --steps            step times against the closed form\n"
    "each with [--image IMAGE.elf] [--seed S]\n";

typedef struct {
    const char *name;
    int (*run)(double amount, guint32 seed);
} Part;

static int power(double amount, guint32 seed)
{
    return bench_power((unsigned)amount, seed);
}

static int bytes(double amount, guint32 seed)
{
    return bench_bytes((unsigned)amount, seed);
}

static int steps(double amount, guint32 seed)
{
    (void)amount;
    (void)seed;
    return bench_steps();
}

static const Part parts[] = {
    {"--power", power}, {"--switches", bench_switches}, {"--bytes", bytes}, {"--steps", steps}};

static const Part *part_named(const char *name)
{
    for (gsize i = 0; i < G_N_ELEMENTS(parts); i++)
        if (strcmp(name, parts[i].name) == 0)
            return &parts[i];
    return NULL;
}

/* What is no argument of it; asked for, its usage is no mistake. */
static int refuse(const char *argument)
{
    if (strcmp(argument, "--help") == 0) {
        fputs(usage, stdout);
        return 0;
    }
    fprintf(stderr, "bench: there is no '%s'\n%s", argument, usage);
    return 2;
}

int main(int argc, char **argv)
{
    double amount = 0, longest_s = 1e9;
    guint32 seed = 1;
    const Part *part = NULL;
    for (int i = 1; i < argc; i++) {
        const char *next = i + 1 < argc ? argv[i + 1] : "0";
        const Part *named = part_named(argv[i]);
        if (named)
            part = named;
        else if (strcmp(argv[i], "--image") == 0)
            bench_image = next, i++;
        else if (strcmp(argv[i], "--longest") == 0)
            longest_s = atof(next), i++;
        else if (strcmp(argv[i], "--seed") == 0)
            seed = (guint32)atoi(next), i++;
        else if (g_ascii_isdigit(*argv[i]))
            amount = atof(argv[i]);
        else
            return refuse(argv[i]);
    }
    setvbuf(stdout, NULL, _IOLBF, 0);
    return part ? part->run(amount, seed) : bench_drawings((unsigned)amount, longest_s);
}
