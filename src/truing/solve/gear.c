/* gear: see gear.h. */
#include "truing/solve/gear.h"

#include "truing/solve/least-squares.h"

#include <math.h>

static const double shortest_mm = 0.8, longest_mm = 6;
static const double chance = 0.01;
enum { LEAST = 24, OVERSAMPLE = 5 };

typedef struct {
    double *at, *left;
    gsize n;
    double range;
} Leavings;

static void gather(const DtModel *m, int axis, Leavings *l)
{
    double low = G_MAXDOUBLE, high = -G_MAXDOUBLE, mean = 0;
    l->n = 0;
    for (size_t i = 0; i < m->n_items; i++) {
        const DtItem *item = &m->items[i];
        double sum = 0, seen = 0;
        if (item->axis != axis || item->line >= 0 || item->weight < 1)
            continue;
        for (int k = 0; k < m->n_scans; k++)
            if (item->seen[k]) {
                sum += dt_model_residual(m, item, k, NULL, NULL);
                seen++;
            }
        const double at = axis == 0 ? item->middle.x : item->middle.y;
        l->at[l->n] = at * (1 + m->b[m->scale[axis]]);
        low = MIN(low, l->at[l->n]);
        high = MAX(high, l->at[l->n]);
        l->left[l->n] = sum / seen;
        mean += sum / seen;
        l->n++;
    }
    for (gsize i = 0; i < l->n; i++)
        l->left[i] -= mean / (double)l->n;
    l->range = high - low;
}

/* The sum of squares that a sine of this period explains. */
static double explained(const Leavings *l, double period, double sine_cosine[2])
{
    double ss = 0, cc = 0, sc = 0, sy = 0, cy = 0;
    for (gsize i = 0; i < l->n; i++) {
        const double t = 2 * G_PI * l->at[i] / period, s = sin(t), c = cos(t);
        ss += s * s;
        cc += c * c;
        sc += s * c;
        sy += s * l->left[i];
        cy += c * l->left[i];
    }
    const double det = ss * cc - sc * sc;
    if (det < 1e-9 * ss * cc)
        return 0;
    sine_cosine[0] = (sy * cc - cy * sc) / det;
    sine_cosine[1] = (cy * ss - sy * sc) / det;
    return sine_cosine[0] * sy + sine_cosine[1] * cy;
}

static void search(const Leavings *l, DtGearError *out)
{
    const double step = 1 / (OVERSAMPLE * l->range);
    double total = 0, best = 0, amplitude = 0;
    int tried = 0;
    for (gsize i = 0; i < l->n; i++)
        total += l->left[i] * l->left[i];
    for (double f = 1 / longest_mm; f <= 1 / shortest_mm; f += step, tried++) {
        double b[2] = {0, 0};
        const double by = explained(l, 1 / f, b);
        if (by > best) {
            best = by;
            amplitude = hypot(b[0], b[1]);
            out->period = 1 / f;
        }
    }
    const double left = MAX((total - best) / (double)(l->n - 3), 1e-12);
    const double by_chance = 1 - pow(1 - exp(-best / (2 * left)), (double)tried / OVERSAMPLE);
    out->sd = sqrt(2 * left / (double)l->n);
    out->amplitude = by_chance < chance ? amplitude : 0;
}

void dt_find_gear(const DtModel *m, int axis, DtGearError *out)
{
    g_autofree double *at = g_new(double, m->n_items + 1), *left = g_new(double, m->n_items + 1);
    Leavings l = {at, left, 0, 0};
    *out = (DtGearError){0};
    gather(m, axis, &l);
    if (l.n >= LEAST && l.range > 5 * longest_mm)
        search(&l, out);
}
