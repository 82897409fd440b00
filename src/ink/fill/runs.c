/* runs: goes on from line to line where runs end side by side. */
#include "ink/fill/runs.h"

#include <math.h>

typedef struct {
    int64_t line;
    double u[2]; /* of both ends */
    gboolean used;
} Run;

typedef struct {
    const DtLines *lines;
    Run *run;
    size_t n;
    double reach;
} Runs;

static int64_t line_of(double v, DtHatchGrid grid, DtHatchBand band)
{
    if (band.n < 2)
        return (int64_t)llround((v - grid.shift) / grid.pitch);
    const double of = floor((v - grid.shift + band.apart / 2) / grid.pitch);
    return (int64_t)of * band.n + llround((v - grid.shift - of * grid.pitch) / band.apart);
}

static Run read_run(const DtPoint *p, DtHatchGrid grid, DtHatchBand band)
{
    const DtPoint way = {cos(grid.angle), sin(grid.angle)};
    const double v = dt_point_cross(way, p[0]);
    return (Run){.line = line_of(v, grid, band),
                 .u = {dt_point_dot(way, p[0]), dt_point_dot(way, p[1])}};
}

/* The first run that ends at u or later on a line, or lies on one above. */
static size_t first_run(const Runs *r, int64_t line, double u)
{
    size_t low = 0, high = r->n;
    while (low < high) {
        const size_t middle = (low + high) / 2;
        const Run *run = &r->run[middle];
        if (run->line < line || (run->line == line && run->u[1] < u))
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* The nearest end of an unused run on a line: end 0 or 1 of run *next. */
static gboolean find_end(const Runs *r, int64_t line, double u, size_t *next, int *end)
{
    double least = r->reach;
    gboolean found = FALSE;
    for (size_t i = first_run(r, line, u - r->reach);
         i < r->n && r->run[i].line == line && r->run[i].u[0] <= u + r->reach; i++)
        for (int k = 0; k < 2; k++) {
            const double away = fabs(r->run[i].u[k] - u);
            if (r->run[i].used || away > least)
                continue;
            least = away;
            *next = i;
            *end = k;
            found = TRUE;
        }
    return found;
}

static void follow(const Runs *r, size_t i, DtLines *out)
{
    int from = 0;
    gboolean more;
    dt_lines_begin(out);
    do {
        Run *run = &r->run[i];
        run->used = TRUE;
        dt_lines_point(out, dt_lines_at(r->lines, i)[from]);
        dt_lines_point(out, dt_lines_at(r->lines, i)[1 - from]);
        const double u = run->u[1 - from];
        const int64_t line = run->line;
        more = find_end(r, line + 1, u, &i, &from) || find_end(r, line - 1, u, &i, &from);
    } while (more);
}

void dt_fill_join_runs(const DtLines *runs, DtHatchGrid grid, DtHatchBand band, double reach,
                       DtLines *out)
{
    Runs r = {runs, g_new(Run, runs->n + 1), runs->n, reach};
    for (size_t i = 0; i < runs->n; i++)
        r.run[i] = read_run(dt_lines_at(runs, i), grid, band);
    for (size_t i = 0; i < runs->n; i++)
        if (!r.run[i].used)
            follow(&r, i, out);
    g_free(r.run);
}
