/* stipple: Lloyd's method on the cells of a grid. The density of points with minimum energy is
 * the square root of the weight (Gersho 1979, in two dimensions), so the squared density is used
 * as the weight: with the density itself dark places would lose points to light ones. */
#include "ink/picture/stipple.h"

#include "drawtrue/work.h"

#include <math.h>
#include <string.h>

/* Dots placed in this way begin to overlap where they cover half: ratio of the area of all dots
 * to that of the paper, by the share that they cover. Measured on even tones
 * (test-ink-stipple.c); on a hexagonal grid everything would be covered at 2 pi / sqrt 27 =
 * 1.21. */
static const double covered[] = {0,     0.5,   0.548, 0.597, 0.645, 0.69,  0.735,
                                 0.78,  0.816, 0.846, 0.879, 0.905, 0.935, 0.952,
                                 0.966, 0.981, 0.992, 0.997, 1};
static const double laid[] = {0,    0.503, 0.55, 0.6,  0.65, 0.7, 0.75, 0.8, 0.85, 0.9,
                              0.95, 1,     1.1,  1.15, 1.22, 1.3, 1.4,  1.5, 1.6};

/* Points per mm^2 for a share. */
static double density_for(double share, double tip, DtPointsUse use)
{
    if (use == DT_POINTS_TOUR) {
        double lines = MIN(share, 0.9) / tip; /* length per area */
        return lines * lines;
    }
    size_t i = 1;
    while (i + 1 < G_N_ELEMENTS(covered) && covered[i] < share)
        i++;
    double t = (share - covered[i - 1]) / (covered[i] - covered[i - 1]);
    return (laid[i - 1] + t * (laid[i] - laid[i - 1])) / (G_PI / 4 * tip * tip);
}

size_t dt_stipple_count(const DtShareGrid *g, double tip, DtPointsUse use)
{
    double sum = 0;
    for (size_t i = 0; i < (size_t)g->w * (size_t)g->h; i++)
        sum += density_for((double)g->share[i], tip, use);
    return (size_t)lround(sum * g->step * g->step);
}

/* Sites in buckets, each a list. */
typedef struct {
    const DtShareGrid *g;
    float *weight; /* of each place */
    size_t n;
    DtPoint *site;   /* in places */
    int bw, bh;      /* buckets */
    double bucket;   /* places */
    uint32_t *first; /* bw*bh+1 */
    uint32_t *list;
    double *sum_w, *sum_x, *sum_y;
} Cells;

static size_t bucket_of(const Cells *c, DtPoint p)
{
    int x = CLAMP((int)(p.x / c->bucket), 0, c->bw - 1),
        y = CLAMP((int)(p.y / c->bucket), 0, c->bh - 1);
    return (size_t)y * (size_t)c->bw + (size_t)x;
}

static void fill_buckets(Cells *c)
{
    size_t m = (size_t)c->bw * (size_t)c->bh;
    memset(c->first, 0, (m + 1) * sizeof *c->first);
    for (size_t i = 0; i < c->n; i++)
        c->first[bucket_of(c, c->site[i]) + 1]++;
    for (size_t i = 0; i < m; i++)
        c->first[i + 1] += c->first[i];
    g_autofree uint32_t *at = g_memdup2(c->first, (m + 1) * sizeof *at);
    for (size_t i = 0; i < c->n; i++)
        c->list[at[bucket_of(c, c->site[i])]++] = (uint32_t)i;
}

static void look_in(const Cells *c, int bx, int by, double x, double y, uint32_t *best,
                    double *least)
{
    if (bx < 0 || by < 0 || bx >= c->bw || by >= c->bh)
        return;
    size_t b = (size_t)by * (size_t)c->bw + (size_t)bx;
    for (uint32_t k = c->first[b]; k < c->first[b + 1]; k++) {
        const DtPoint *s = &c->site[c->list[k]];
        double dx = s->x - x, dy = s->y - y, d = dx * dx + dy * dy;
        if (d < *least || (d == *least && c->list[k] < *best)) {
            *least = d;
            *best = c->list[k];
        }
    }
}

/* The nearest site, exactly: rings of buckets around the place until none nearer is possible. */
static uint32_t nearest(const Cells *c, double x, double y, uint32_t guess, double *least)
{
    uint32_t best = guess;
    *least = G_MAXDOUBLE;
    if (guess != UINT32_MAX) {
        double dx = c->site[guess].x - x, dy = c->site[guess].y - y;
        *least = dx * dx + dy * dy;
    }
    int bx = CLAMP((int)(x / c->bucket), 0, c->bw - 1),
        by = CLAMP((int)(y / c->bucket), 0, c->bh - 1);
    for (int r = 0; r <= MAX(c->bw, c->bh); r++) {
        double reach = (r - 1) * c->bucket; /* all nearer sites were looked at */
        if (r > 0 && *least <= reach * reach)
            break;
        for (int k = -r; k <= r; k++) {
            look_in(c, bx + k, by - r, x, y, &best, least);
            if (r == 0)
                continue;
            look_in(c, bx + k, by + r, x, y, &best, least);
            if (k > -r && k < r) {
                look_in(c, bx - r, by + k, x, y, &best, least);
                look_in(c, bx + r, by + k, x, y, &best, least);
            }
        }
    }
    return best;
}

/* One round of Lloyd's method; the energy before it. */
static double settle(Cells *c)
{
    fill_buckets(c);
    memset(c->sum_w, 0, c->n * sizeof *c->sum_w);
    memset(c->sum_x, 0, c->n * sizeof *c->sum_x);
    memset(c->sum_y, 0, c->n * sizeof *c->sum_y);
    double energy = 0;
    for (int y = 0; y < c->g->h && !dt_work_stopped(); y++) {
        uint32_t last = UINT32_MAX;
        for (int x = 0; x < c->g->w; x++) {
            double w = (double)c->weight[(size_t)y * (size_t)c->g->w + (size_t)x], d;
            if (w <= 0)
                continue;
            last = nearest(c, x, y, last, &d);
            energy += w * d;
            c->sum_w[last] += w;
            c->sum_x[last] += w * x;
            c->sum_y[last] += w * y;
        }
    }
    for (size_t i = 0; i < c->n; i++)
        if (c->sum_w[i] > 0)
            c->site[i] = dt_point(c->sum_x[i] / c->sum_w[i], c->sum_y[i] / c->sum_w[i]);
    return energy * c->g->step * c->g->step;
}

/* Along the rows, back and forth, one point for each share of the total weight, shifted at
 * random within its place: near the density from the start. */
static void scatter(Cells *c, double total)
{
    g_autoptr(GRand) rand = g_rand_new_with_seed(20021);
    double each = total / (double)c->n, owed = each * g_rand_double(rand);
    size_t k = 0;
    for (int y = 0; y < c->g->h; y++)
        for (int i = 0; i < c->g->w; i++) {
            int x = y % 2 ? c->g->w - 1 - i : i;
            owed += (double)c->weight[(size_t)y * (size_t)c->g->w + (size_t)x];
            for (; owed >= each && k < c->n; owed -= each)
                c->site[k++] = dt_point(x + g_rand_double_range(rand, -0.5, 0.5),
                                        y + g_rand_double_range(rand, -0.5, 0.5));
        }
    for (; k < c->n; k++)
        c->site[k] = c->site[k > 0 ? k - 1 : 0];
    for (size_t i = c->n; i > 1; i--) { /* sites in random order, so that places of ties do not
                                         * line up */
        size_t j = (size_t)g_rand_int_range(rand, 0, (gint32)i);
        DtPoint t = c->site[i - 1];
        c->site[i - 1] = c->site[j];
        c->site[j] = t;
    }
}

DtPoint *dt_stipple_points(const DtShareGrid *g, size_t n, double tip, DtPointsUse use, int rounds,
                           double *energy)
{
    size_t m = (size_t)g->w * (size_t)g->h;
    Cells c = {.g = g, .n = n, .weight = g_new(float, m + 1), .site = g_new0(DtPoint, n + 1)};
    double total = 0;
    for (size_t i = 0; i < m; i++) {
        c.weight[i] = (float)density_for((double)g->share[i], tip, use);
        total += (double)c.weight[i];
    }
    c.bucket = MAX(1, sqrt((double)m / (double)MAX(n, (size_t)1)));
    c.bw = (int)(g->w / c.bucket) + 1;
    c.bh = (int)(g->h / c.bucket) + 1;
    c.first = g_new(uint32_t, (size_t)c.bw * (size_t)c.bh + 1);
    c.list = g_new(uint32_t, n + 1);
    c.sum_w = g_new(double, 3 * n + 1);
    c.sum_x = c.sum_w + n;
    c.sum_y = c.sum_x + n;
    if (total > 0 && n > 0) {
        scatter(&c, total);
        for (size_t i = 0; i < m; i++) /* so that the cells remain as small as the density
                                        * requires */
            c.weight[i] *= c.weight[i];
        for (int i = 0; i < rounds && !dt_work_stopped(); i++) {
            double e = settle(&c);
            if (energy)
                energy[i] = e;
        }
    }
    for (size_t i = 0; i < n; i++)
        c.site[i] = dt_share_grid_point(g, c.site[i].x, c.site[i].y);
    g_free(c.weight);
    g_free(c.first);
    g_free(c.list);
    g_free(c.sum_w);
    return c.site;
}
