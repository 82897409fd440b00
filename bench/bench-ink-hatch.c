/* bench-ink: how fast is the hatch? */
#include "bench-ink.h"

#include "support/geos-region.h"
#include "ink/fill/hatch.h"

#include <math.h>
#include <stdio.h>
#include <time.h>

double bench_cpu_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* A star of `edges` edges that fills 190 mm. */
static void wavy(size_t edges, DtLines *out)
{
    dt_lines_begin(out);
    for (size_t i = 0; i < edges; i++) {
        double a = 2 * G_PI * (double)i / (double)edges;
        double r = 70 + 25 * sin(37 * a) + 0.02 * sin(6400 * a);
        dt_lines_point(out, dt_point(105 + r * cos(a), 105 + r * sin(a)));
    }
    dt_lines_close(out);
}

static double time_ours(const DtLines *l, double pitch, size_t *intervals, double *length)
{
    double begin = bench_cpu_s();
    int rounds = 0;
    do {
        g_auto(DtHatching) h = {0};
        if (!dt_hatch_lines(l, DT_FILL_NONZERO, (DtHatchGrid){G_PI / 4, pitch, 0}, &h, NULL))
            return 0;
        *intervals = h.n;
        *length = dt_hatch_length(&h);
        rounds++;
    } while (bench_cpu_s() - begin < 0.2);
    return (bench_cpu_s() - begin) / rounds;
}

/* GEOS, line by line, the polygon prepared once, and all lines at once: the faster of the two. */
static double time_geos(GEOSContextHandle_t g, const DtLines *l, double pitch, double *length)
{
    GEOSGeometry *area = geos_from_rings(g, l);
    GEOSGeometry *line[2000];
    unsigned n = 0;
    for (int k = -1000; k < 1000; k++) {
        double c = k * pitch, w = sqrt(0.5);
        GEOSCoordSequence *s = GEOSCoordSeq_create_r(g, 2, 2);
        GEOSCoordSeq_setXY_r(g, s, 0, -w * c - 400 * w, w * c - 400 * w);
        GEOSCoordSeq_setXY_r(g, s, 1, -w * c + 400 * w, w * c + 400 * w);
        GEOSGeometry *one = GEOSGeom_createLineString_r(g, s);
        if (GEOSIntersects_r(g, one, area))
            line[n++] = one;
        else
            GEOSGeom_destroy_r(g, one);
    }
    double begin = bench_cpu_s(), each = 0;
    for (unsigned i = 0; i < n; i++) {
        GEOSGeometry *cut = GEOSIntersection_r(g, line[i], area);
        GEOSLength_r(g, cut, &each);
        *length += each;
        GEOSGeom_destroy_r(g, cut);
    }
    double one_by_one = bench_cpu_s() - begin;
    GEOSGeometry *all = GEOSGeom_createCollection_r(g, GEOS_MULTILINESTRING, line, n);
    begin = bench_cpu_s();
    GEOSGeometry *cut = GEOSIntersection_r(g, all, area);
    double at_once = bench_cpu_s() - begin;
    GEOSGeom_destroy_r(g, cut);
    GEOSGeom_destroy_r(g, all);
    GEOSGeom_destroy_r(g, area);
    return MIN(one_by_one, at_once);
}

void bench_hatch_against_geos(void)
{
    GEOSContextHandle_t g = GEOS_init_r();
    printf("%9s %9s %12s %12s %8s %16s\n", "edges", "intervals", "ours s", "GEOS s", "ratio",
           "length apart mm");
    static const size_t sizes[] = {100, 1000, 10000, 100000};
    for (int i = 0; i < 4; i++) {
        g_auto(DtLines) l;
        dt_lines_init(&l);
        wavy(sizes[i], &l);
        size_t n = 0;
        double length = 0, theirs = 0;
        double a = time_ours(&l, 0.4, &n, &length), b = time_geos(g, &l, 0.4, &theirs);
        printf("%9zu %9zu %12.6f %12.6f %8.0f %16.2g\n", sizes[i], n, a, b, b / a,
               fabs(length - theirs));
    }
    GEOS_finish_r(g);
}

void bench_hatch_growth(void)
{
    printf("%9s %9s %12s %22s\n", "edges", "intervals", "s", "ns per edge + crossing");
    static const size_t sizes[] = {1000, 10000, 100000, 1000000};
    for (int i = 0; i < 4; i++) {
        g_auto(DtLines) l;
        dt_lines_init(&l);
        wavy(sizes[i], &l);
        size_t n = 0;
        double length;
        double t = time_ours(&l, 0.019, &n, &length);
        printf("%9zu %9zu %12.6f %22.0f\n", sizes[i], n, t,
               1e9 * t / (double)(sizes[i] + 2 * n + 10000));
    }
}
