/* legs: removes from one axis of a run the reversals that are too small to follow.
 *
 * Reversals are found with a hysteresis, as in rainflow counting (ASTM E1049): a turn counts
 * once the axis has moved back from it by more than the threshold. Between two turns that count,
 * the axis is made monotone by the mean of the running maximum and of the minimum still to come,
 * which of all monotone sequences has the smallest largest deviation (Ubhaya 1974, "Isotone
 * optimization"): half of the largest step back. */
#include "machine/tidy.h"

#include <math.h>

/* Makes at[from] to at[to] monotone in direction d. */
static void make_monotone(DtCarriagePoint *c, size_t from, size_t to, int axis, int d,
                          double *ahead)
{
    double low = G_MAXDOUBLE;
    for (size_t i = to + 1; i-- > from;) {
        low = MIN(low, d * c[i].at[axis]);
        ahead[i] = low;
    }
    double high = -G_MAXDOUBLE;
    for (size_t i = from; i <= to; i++) {
        high = MAX(high, d * c[i].at[axis]);
        if (high > ahead[i])
            c[i].at[axis] = d * (high + ahead[i]) / 2;
    }
}

void dt_legs_straighten(DtCarriagePoint *c, size_t n, int axis, double least)
{
    const double threshold = 2 * least;
    size_t from = 0, lowest = 0, highest = 0;
    int d = 0;
    if (n < 3)
        return;
    g_autofree double *ahead = g_new(double, n);
    for (size_t i = 1; i < n; i++) {
        const double v = c[i].at[axis];
        if (d >= 0 && v >= c[highest].at[axis])
            highest = i;
        if (d <= 0 && v <= c[lowest].at[axis])
            lowest = i;
        const gboolean fell = d >= 0 && c[highest].at[axis] - v > threshold;
        const gboolean rose = d <= 0 && v - c[lowest].at[axis] > threshold;
        if (!fell && !rose)
            continue;
        if (d != 0) { /* what precedes the first leg that counts belongs to it */
            const size_t turn = fell ? highest : lowest;
            make_monotone(c, from, turn, axis, d, ahead);
            from = turn;
        }
        d = fell ? -1 : 1;
        lowest = highest = i;
    }
    if (d == 0)
        d = c[n - 1].at[axis] >= c[0].at[axis] ? 1 : -1;
    make_monotone(c, from, n - 1, axis, d, ahead);
}
