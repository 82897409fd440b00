/* pen-bound: sums over discs, row by row. */
#include "support/pen-bound.h"

#include "support/pen-mask.h"

#include <glib.h>
#include <math.h>

/* A middle is found to a pixel: the disc about it counts as so much smaller. */
#define SMALLER 0.5
/* Costs are told apart in steps of 1/COST_STEPS, up to MOST_COST. */
#define COST_STEPS 500
#define MOST_COST 8

/* A picture of numbers, as sums from the left: h rows of w + 1. */
typedef struct {
    int w, h;
    double *sum;
} Rows;

static void rows_add_up(Rows *r, const float *v)
{
    for (int y = 0; y < r->h; y++) {
        double *row = r->sum + (size_t)y * (size_t)(r->w + 1);
        row[0] = 0;
        for (int x = 0; x < r->w; x++)
            row[x + 1] = row[x] + (double)v[(size_t)y * (size_t)r->w + (size_t)x];
    }
}

static double disc_sum(const Rows *r, int x, int y, double radius)
{
    double total = 0;
    int far = (int)radius;
    for (int k = MAX(-far, -y); k <= MIN(far, r->h - 1 - y); k++) {
        int half = (int)sqrt(radius * radius - (double)k * k);
        const double *row = r->sum + (size_t)(y + k) * (size_t)(r->w + 1);
        total += row[MIN(x + half, r->w - 1) + 1] - row[MAX(x - half, 0)];
    }
    return total;
}

/* Pixels that the pen cannot ink without leaving the mask; `d` holds how far inside each is,
 * squared. */
static uint8_t *find_narrow(const uint8_t *mask, int w, int h, double radius, const float *d)
{
    size_t all = (size_t)w * (size_t)h;
    double in = radius - PEN_MASK_RASTER, out = radius + PEN_MASK_RASTER;
    uint8_t *narrow = g_malloc(all);
    g_autofree float *far = g_new(float, all);
    for (size_t i = 0; i < all; i++)
        narrow[i] = mask[i] && (double)d[i] >= in * in; /* the pen's middle may be here */
    pen_mask_squared_distance(narrow, 1, w, h, far);
    for (size_t i = 0; i < all; i++)
        narrow[i] = mask[i] && (double)far[i] > out * out;
    return narrow;
}

/* The place within the pen's reach, and within the mask, that is farthest from the edge: the
 * nearest of those. */
static size_t middle_of(const float *d, int w, int h, int x, int y, double radius)
{
    int reach = (int)radius;
    size_t best = (size_t)y * (size_t)w + (size_t)x;
    int best_far = 0;
    for (int k = -reach; k <= reach; k++)
        for (int i = -reach; i <= reach; i++) {
            int far = i * i + k * k;
            if (far > reach * reach || x + i < 0 || x + i >= w || y + k < 0 || y + k >= h)
                continue;
            size_t at = (size_t)(y + k) * (size_t)w + (size_t)(x + i);
            if (d[at] > d[best] || (d[at] >= d[best] && far < best_far)) {
                best = at;
                best_far = far;
            }
        }
    return best;
}

/* How many narrow pixels have their middle at each place. */
static float *count_middles(const uint8_t *narrow, const float *d, int w, int h, double radius,
                            size_t *middle)
{
    float *n = g_new0(float, (size_t)w *(size_t)h);
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            size_t i = (size_t)y * (size_t)w + (size_t)x;
            if (narrow[i])
                n[middle[i] = middle_of(d, w, h, x, y, radius)] += 1;
        }
    return n;
}

/* The best of taking all pixels up to some cost; n[i] of them cost i / COST_STEPS or more. */
static double best_share(const size_t *n)
{
    double all = 0, taken = 0, cost = 0, best = 0;
    for (int i = 0; i <= MOST_COST * COST_STEPS; i++)
        all += (double)n[i];
    for (int i = 0; i <= MOST_COST * COST_STEPS; i++) {
        taken += (double)n[i];
        cost += (double)n[i] * i / COST_STEPS;
        best = MAX(best, taken / (all + cost));
    }
    return all > 0 ? best : 1;
}

/* Replaces the counts of middles by what each place outside the mask charges, 1/N. */
static void find_shares(Rows *r, const uint8_t *mask, double radius, float *v)
{
    rows_add_up(r, v);
    for (int y = 0; y < r->h; y++)
        for (int x = 0; x < r->w; x++) {
            size_t i = (size_t)y * (size_t)r->w + (size_t)x;
            double n = mask[i] ? 0 : disc_sum(r, x, y, radius);
            v[i] = n > 0.5 ? (float)(1 / n) : 0;
        }
    rows_add_up(r, v);
}

double pen_bound_iou(const uint8_t *mask, int w, int h, double radius)
{
    Rows r;
    int x0, y0;
    g_autofree uint8_t *m = pen_mask_crop(mask, w, h, (int)ceil(radius + 2), &x0, &y0, &r.w, &r.h);
    size_t all = (size_t)r.w * (size_t)r.h;
    g_autofree float *d = g_new(float, all);
    g_autofree size_t *middle = g_new(size_t, all);
    pen_mask_squared_distance(m, 0, r.w, r.h, d);
    g_autofree uint8_t *narrow = find_narrow(m, r.w, r.h, radius, d);
    g_autofree float *v = count_middles(narrow, d, r.w, r.h, radius, middle);
    r.sum = g_new(double, all + (size_t)r.h);
    find_shares(&r, m, radius - SMALLER, v);
    g_autofree size_t *n = g_new0(size_t, MOST_COST * COST_STEPS + 1);
    for (size_t i = 0; i < all; i++) {
        double cost = 0;
        if (narrow[i])
            cost = disc_sum(&r, (int)(middle[i] % (size_t)r.w), (int)(middle[i] / (size_t)r.w),
                            radius - SMALLER);
        if (m[i])
            n[(int)(MIN(cost, MOST_COST) * COST_STEPS)]++;
    }
    g_free(r.sum);
    return best_share(n);
}
