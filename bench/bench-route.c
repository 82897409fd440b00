/* bench route: how short are the tours, and how soon? `bench-route FILE.tsp...` measures tours of
 * TSPLIB files beside their published optima; without a file it measures strokes: quality against
 * time and growth up to a million. One core; times are processor times. */
#include "route/tour.h"

#include "drawtrue/route.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

static double processor_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* Tours -------------------------------------------------------------------------------------- */

typedef struct {
    char name[64];
    DtMetricKind metric;
    uint32_t n;
    DtPoint *at;
} Instance;

/* Optima published with TSPLIB95 (Reinelt 1991 and the library's list of best known solutions, all
 * proven since), from memory; an optimal.txt beside the file goes first. */
static const struct {
    const char *name;
    double length;
} published[] = {
    {"a280", 2579},        {"berlin52", 7542},      {"bier127", 118282}, {"brd14051", 469385},
    {"ch130", 6110},       {"ch150", 6528},         {"d1291", 50801},    {"d15112", 1573084},
    {"d1655", 62128},      {"d18512", 645238},      {"d198", 15780},     {"d2103", 80450},
    {"d493", 35002},       {"d657", 48912},         {"eil101", 629},     {"eil51", 426},
    {"eil76", 538},        {"fl1400", 20127},       {"fl1577", 22249},   {"fl3795", 28772},
    {"fl417", 11861},      {"fnl4461", 182566},     {"gil262", 2378},    {"kroA100", 21282},
    {"kroA150", 26524},    {"kroA200", 29368},      {"kroB100", 22141},  {"kroB150", 26130},
    {"kroB200", 29437},    {"kroC100", 20749},      {"kroD100", 21294},  {"kroE100", 22068},
    {"lin105", 14379},     {"lin318", 42029},       {"nrw1379", 56638},  {"p654", 34643},
    {"pcb1173", 56892},    {"pcb3038", 137694},     {"pcb442", 50778},   {"pla33810", 66048945},
    {"pla7397", 23260728}, {"pla85900", 142382641}, {"pr1002", 259045},  {"pr107", 44303},
    {"pr124", 59030},      {"pr136", 96772},        {"pr144", 58537},    {"pr152", 73682},
    {"pr226", 80369},      {"pr2392", 378032},      {"pr264", 49135},    {"pr299", 48191},
    {"pr439", 107217},     {"pr76", 108159},        {"rat195", 2323},    {"rat575", 6773},
    {"rat783", 8806},      {"rat99", 1211},         {"rd100", 7910},     {"rd400", 15281},
    {"rl11849", 923288},   {"rl1304", 252948},      {"rl1323", 270199},  {"rl1889", 316536},
    {"rl5915", 565530},    {"rl5934", 556045},      {"st70", 675},       {"ts225", 126643},
    {"tsp225", 3916},      {"u1060", 224094},       {"u1432", 152970},   {"u159", 42080},
    {"u1817", 57201},      {"u2152", 64253},        {"u2319", 234256},   {"u574", 36905},
    {"u724", 41910},       {"usa13509", 19982859},  {"vm1084", 239297},  {"vm1748", 336556},
};

static double optimum_of(const char *path, const char *name)
{
    g_autofree char *folder = g_path_get_dirname(path);
    g_autofree char *list = g_build_filename(folder, "optimal.txt", NULL);
    g_autofree char *text = NULL;
    if (g_file_get_contents(list, &text, NULL, NULL)) {
        g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
        for (char **l = lines; *l; l++) {
            char of[64];
            double length;
            if (sscanf(*l, "%63s %lf", of, &length) == 2 && strcmp(of, name) == 0)
                return length;
        }
    }
    for (size_t i = 0; i < G_N_ELEMENTS(published); i++)
        if (strcmp(published[i].name, name) == 0)
            return published[i].length;
    return 0;
}

static gboolean read_points(FILE *f, const char *path, Instance *t)
{
    t->at = g_new(DtPoint, MAX(t->n, 1));
    for (uint32_t i = 0; i < t->n; i++) {
        char number[32];
        if (fscanf(f, "%31s %lf %lf", number, &t->at[i].x, &t->at[i].y) != 3 ||
            !isfinite(t->at[i].x) || !isfinite(t->at[i].y)) {
            fprintf(stderr, "%s: point %u of %u cannot be read\n", path, i + 1, t->n);
            return FALSE;
        }
    }
    return TRUE;
}

static gboolean read_instance(const char *path, Instance *t)
{
    memset(t, 0, sizeof *t);
    t->metric = DT_METRIC_ROUNDED;
    g_autofree char *base = g_path_get_basename(path);
    sscanf(base, "%63[^.]", t->name);
    FILE *f = fopen(path, "r");
    char line[512], type[32] = "EUC_2D";
    if (!f) {
        fprintf(stderr, "%s: cannot be opened\n", path);
        return FALSE;
    }
    while (fgets(line, sizeof line, f) && !g_str_has_prefix(line, "NODE_COORD_SECTION")) {
        sscanf(line, "DIMENSION%*[ :]%u", &t->n);
        sscanf(line, "EDGE_WEIGHT_TYPE%*[ :]%31s", type);
    }
    gboolean good = TRUE;
    if (strcmp(type, "CEIL_2D") == 0)
        t->metric = DT_METRIC_CEILED;
    else if (strcmp(type, "EUC_2D") != 0) {
        fprintf(stderr, "%s: distances of type %s are not measured here\n", path, type);
        good = FALSE;
    }
    if (t->n == 0 || t->n > 10000000) {
        fprintf(stderr, "%s: %u points\n", path, t->n);
        good = FALSE;
    }
    good = good && read_points(f, path, t);
    fclose(f);
    return good;
}

static void print_gap(const DtTour *t, double optimum)
{
    if (optimum > 0)
        printf(" %8.3f %%", 100 * ((double)t->length / optimum - 1));
    else
        printf(" %10.0f", (double)t->length);
    fflush(stdout);
}

static gboolean measure_tour(const char *path)
{
    Instance in;
    if (!read_instance(path, &in)) {
        g_free(in.at);
        return FALSE;
    }
    double optimum = optimum_of(path, in.name);
    printf("%-10s %7u %11.0f", in.name, in.n, optimum);
    double begun = processor_s();
    DtMetric m = {.kind = in.metric};
    g_autoptr(DtTour) t = dt_tour_new(&m, in.n, in.at, NULL, NULL);
    dt_tour_find_near(t);
    dt_tour_start(t);
    print_gap(t, optimum);
    DtTourBudget b = {.seed = 1};
    dt_tour_improve(t, &b);
    print_gap(t, optimum);
    printf(" %6.2f s", processor_s() - begun);
    const double until[] = {1, 10};
    for (int i = 0; i < 2; i++) {
        b = (DtTourBudget){.until_s = begun + until[i], .kicks = UINT64_MAX, .seed = 2};
        dt_tour_improve(t, &b);
        print_gap(t, optimum);
    }
    printf(" %6.2f s\n", processor_s() - begun);
    g_free(in.at);
    return TRUE;
}

static gboolean measure_tours(char **paths)
{
    printf("Closed tours, rounded distances; above the published optimum (length where none is "
           "known)\n");
    printf("%-10s %7s %11s %10s %10s %8s %10s %10s %8s\n", "tour", "points", "optimum", "start",
           "local", "", "1 s", "10 s", "");
    gboolean good = TRUE;
    for (; *paths; paths++)
        good &= measure_tour(*paths);
    return good;
}

/* Strokes ------------------------------------------------------------------------------------ */

/* The slow machine of the trade: 10 to 15 mm/s (common practice, no source). */
static const DtCost machine = {{15, 10}, {150, 80}, {3, 2}, 0.15, 0.2, 60, {0, 0}};

/* Strokes of 1 to 8 mm anywhere on A4, in any direction. */
static void random_strokes(DtStrokes *s, size_t n)
{
    g_autoptr(GRand) r = g_rand_new_with_seed(2024);
    memset(s, 0, sizeof *s);
    s->pts = g_new(DtPoint, 2 * n);
    s->strokes = g_new(DtStroke, n);
    for (size_t i = 0; i < n; i++) {
        DtPoint a = dt_point(g_rand_double_range(r, 10, 200), g_rand_double_range(r, 10, 287));
        double angle = g_rand_double_range(r, 0, 2 * G_PI), length = g_rand_double_range(r, 1, 8);
        s->pts[2 * i] = a;
        s->pts[2 * i + 1] = dt_point_add(a, dt_point(length * cos(angle), length * sin(angle)));
        s->strokes[i] = (DtStroke){2 * i, 2, 0, DT_INK_OUTLINE, 0, -1};
    }
    s->n = s->cap = n;
    s->n_pts = s->cap_pts = 2 * n;
}

/* Travel alone, s; lifts are the same for every order of strokes that do not touch. */
static double travel_s(const DtSequence *q)
{
    double sum = 0;
    DtPoint at = {0, 0};
    for (size_t i = 0; i < q->n; i++) {
        sum += dt_route_move_s(&machine, at, q->pts[q->polylines[i].first]);
        at = q->pts[q->polylines[i].first + q->polylines[i].n - 1];
    }
    return sum + dt_route_move_s(&machine, at, dt_point(0, 0));
}

static double order(const DtStrokes *s, const DtRouteOptions *o, double *took)
{
    g_auto(DtSequence) q = {0};
    GError *error = NULL;
    double begun = processor_s();
    if (!dt_route_order(s, &machine, NULL, o, &q, &error)) {
        fprintf(stderr, "bench: %s\n", error->message);
        exit(1);
    }
    *took = processor_s() - begun;
    return travel_s(&q);
}

static void measure_growth(void)
{
    printf("\nRandom strokes of 1 to 8 mm on A4, default budget of kicks\n");
    printf("%9s %12s %12s %8s %9s %9s\n", "strokes", "as given", "ordered", "ratio", "took",
           "memory");
    for (size_t n = 1000; n <= 1000000; n *= 10) {
        DtStrokes s;
        random_strokes(&s, n);
        DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
        o.join = 0;
        double took;
        double ordered = order(&s, &o, &took);
        double took_given;
        o.keep_order = TRUE;
        double given = order(&s, &o, &took_given);
        struct rusage use;
        getrusage(RUSAGE_SELF, &use);
        printf("%9zu %10.2f h %10.2f h %8.4f %7.2f s %6.0f MB\n", n, given / 3600, ordered / 3600,
               ordered / given, took, (double)use.ru_maxrss / 1024);
        fflush(stdout);
        g_free(s.pts);
        g_free(s.strokes);
    }
}

static void measure_patience(void)
{
    printf("\n100,000 random strokes: travel against time\n%9s %12s %16s\n", "budget", "travel",
           "above 100 s");
    DtStrokes s;
    random_strokes(&s, 100000);
    const double budget[] = {100, 20, 5, 3};
    double best = 0;
    for (size_t i = 0; i < G_N_ELEMENTS(budget); i++) {
        DtRouteOptions o = DT_ROUTE_OPTIONS_DEFAULT;
        o.join = 0;
        o.budget_s = budget[i];
        o.iterations = UINT64_MAX;
        double took, travel = order(&s, &o, &took);
        best = i == 0 ? travel : best;
        printf("%7.2f s %10.3f h %14.2f %%\n", took, travel / 3600, 100 * (travel / best - 1));
        fflush(stdout);
    }
    g_free(s.pts);
    g_free(s.strokes);
}

int main(int argc, char **argv)
{
    if (argc > 1)
        return measure_tours(argv + 1) ? 0 : 1;
    measure_growth();
    measure_patience();
    return 0;
}
