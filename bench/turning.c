/* turning: what the turns of each axis cost beyond the ink's own time; see lower-bound.h. */
#include "turning.h"

#include <math.h>

/* Time for `way` mm of one axis between two speeds that are not above its fastest: trapezoid, or
 * triangle (Biagiotti and Melchiorri 2008, 3.2.3). A speed that the way is too short for is lowered
 * first. */
static double axis_s(double way, double v, double a, double from, double to)
{
    from = MIN(from, sqrt(to * to + 2 * a * way));
    to = MIN(to, sqrt(from * from + 2 * a * way));
    double top2 = a * way + (from * from + to * to) / 2;
    if (top2 <= v * v)
        return (2 * sqrt(top2) - from - to) / a;
    return (2 * v - from - to) / a + (way - (v * v - (from * from + to * to) / 2) / a) / v;
}

/* A turn of an axis at a point of the way. The ink is within the tolerance of its outermost place
 * between two moments of the ink's own time. */
typedef struct {
    size_t at;
    double place, from_s, to_s;
} Turn;

static void add_turn(GArray *turns, const TurningWay *w, int axis, size_t at)
{
    Turn t = {at, w->at[at].v[axis], w->ink_s[at], w->ink_s[at]};
    g_array_append_val(turns, t);
}

/* The turns of the axis along the way, by more than `least`; the ends of the way are the first and
 * the last. */
static GArray *find_turns(const TurningWay *w, int axis, double least)
{
    GArray *turns = g_array_new(FALSE, FALSE, sizeof(Turn));
    double low = w->at[0].v[axis], high = low;
    size_t outermost = 0;
    int d = 0;
    add_turn(turns, w, axis, 0);
    for (size_t i = 1; i < w->n; i++) {
        double v = w->at[i].v[axis], back = (w->at[outermost].v[axis] - v) * d;
        low = MIN(low, v);
        high = MAX(high, v);
        if (d == 0) {
            d = v - low > least ? 1 : high - v > least ? -1 : 0;
            outermost = i;
        } else if (back <= 0) {
            outermost = i;
        } else if (back > least) {
            add_turn(turns, w, axis, outermost);
            d = -d;
            outermost = i;
        }
    }
    add_turn(turns, w, axis, w->n - 1);
    return turns;
}

/* When the ink from point `in`, within the tolerance of the place, to point `out`, beyond it,
 * passes from one to the other. */
static double passing_s(const TurningWay *w, int axis, size_t in, size_t out, double place,
                        double tolerance)
{
    double a = fabs(w->at[in].v[axis] - place), b = fabs(w->at[out].v[axis] - place);
    double f = CLAMP((tolerance - a) / (b - a), 0, 1);
    return w->ink_s[in] + f * (w->ink_s[out] - w->ink_s[in]);
}

/* Finds how long the ink stays within the tolerance of each inner turn. */
static void widen(const TurningWay *w, int axis, double tolerance, GArray *turns)
{
    for (guint k = 1; k + 1 < turns->len; k++) {
        Turn *t = &g_array_index(turns, Turn, k);
        size_t from = t->at, to = t->at;
        while (from > 0 && fabs(w->at[from - 1].v[axis] - t->place) <= tolerance)
            from--;
        while (to + 1 < w->n && fabs(w->at[to + 1].v[axis] - t->place) <= tolerance)
            to++;
        t->from_s =
            from > 0 ? passing_s(w, axis, from, from - 1, t->place, tolerance) : w->ink_s[0];
        t->to_s = to + 1 < w->n ? passing_s(w, axis, to, to + 1, t->place, tolerance)
                                : w->ink_s[w->n - 1];
    }
}

/* What the axis alone needs from one turn to the next. */
static double leg_s(const TurningWay *w, const TurningAxis *x, const GArray *turns, guint k)
{
    const Turn *a = &g_array_index(turns, Turn, k), *b = &g_array_index(turns, Turn, k + 1);
    gboolean from_turn = k > 0, to_turn = k + 2 < turns->len;
    double slow = MIN(x->pull_in, x->speed), way = fabs(a->place - b->place) - 2 * x->tolerance;
    if (from_turn)
        way += dt_table_at(x->lost, MIN(a->place, b->place) * x->scale) / x->scale;
    if (way <= 0)
        return 0;
    return axis_s(way, x->speed, x->acceleration, from_turn || w->from_rest ? slow : x->speed,
                  to_turn || w->to_rest ? slow : x->speed);
}

/* How much longer than its ink the axis needs, leg by leg. What a leg lacks it may take from the
 * time of the turns at its ends; each turn's time is given away once, from the first leg on. */
static double find_lacks(const TurningWay *w, int axis, GArray *lacks)
{
    const TurningAxis *x = &w->axis[axis];
    g_autoptr(GArray) turns = find_turns(w, axis, 4 * x->tolerance);
    widen(w, axis, x->tolerance, turns);
    double sum = 0, spare = 0;
    for (guint k = 0; k + 1 < turns->len; k++) {
        const Turn *a = &g_array_index(turns, Turn, k), *b = &g_array_index(turns, Turn, k + 1);
        double lack = leg_s(w, x, turns, k) - MAX(b->from_s - a->to_s, 0) - spare;
        double next_spare = b->to_s - b->from_s;
        double taken = CLAMP(lack, 0, next_spare);
        lack = MAX(lack - taken, 0);
        spare = next_spare - taken;
        sum += lack;
        g_array_append_val(lacks, lack);
    }
    return sum;
}

void turning_lacks(const TurningWay *w, GArray *lacks)
{
    if (w->n < 2)
        return;
    GArray *of[2];
    double sum[2];
    for (int axis = 0; axis < 2; axis++) {
        of[axis] = g_array_new(FALSE, FALSE, sizeof(double));
        sum[axis] = find_lacks(w, axis, of[axis]);
    }
    const GArray *more = of[sum[1] > sum[0]];
    g_array_append_vals(lacks, more->data, more->len);
    g_array_unref(of[0]);
    g_array_unref(of[1]);
}
