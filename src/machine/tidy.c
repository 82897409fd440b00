/* tidy: makes the way of the carriage through one run fit for motors with slack. */
#include "machine/tidy.h"

#include <math.h>

static int sign(double v)
{
    return (v > 0) - (v < 0);
}

/* Keeps one axis where it is through reversals that turn back within `least`, which no drive could
 * follow but which would each take up the whole slack twice. Real reversals are kept exactly. */
static void still_jitter(DtCarriagePoint *c, size_t n, int axis, double least)
{
    double edge = c[0].at[axis]; /* the farthest point that was reached in the direction */
    int direction = 0;
    size_t held = 1; /* points from here on are held at the edge for now */
    for (size_t i = 1; i < n; i++) {
        double v = c[i].at[axis], way = v - edge;
        if (direction && way * direction >= 0) {
            for (; held < i; held++)
                c[held].at[axis] = edge;
            edge = v;
            held = i + 1;
        } else if (fabs(way) > least) { /* a real reversal: release what was held, monotone */
            direction = sign(way);
            for (size_t k = held; k < i; k++) {
                if ((c[k].at[axis] - edge) * direction > 0)
                    edge = c[k].at[axis];
                c[k].at[axis] = edge;
            }
            edge = v;
            held = i + 1;
        }
    }
    for (size_t k = held; k < n; k++)
        c[k].at[axis] = edge;
}

static double off_line(DtCarriagePoint p, DtCarriagePoint a, DtCarriagePoint b)
{
    return dt_point_segment_distance(dt_point(p.at[0], p.at[1]), dt_point(a.at[0], a.at[1]),
                                     dt_point(b.at[0], b.at[1]));
}

static gboolean is_straight(const DtCarriagePoint *c, size_t from, size_t to, double within)
{
    for (size_t i = from + 1; i < to; i++)
        if (off_line(c[i], c[from], c[to]) > within)
            return FALSE;
    return TRUE;
}

/* Leaves out points that lie within `within` of the line between those that stay; no motor could
 * follow them, but each would be a line for the controller to read. Returns how many stay. */
static size_t straighten(DtCarriagePoint *c, size_t n, double within)
{
    enum { LONGEST = 40 }; /* points looked back over, so that the work stays linear */
    size_t kept = 1, anchor = 0;
    for (size_t i = 1; i < n; i++) {
        gboolean last = i + 1 == n;
        if (!last && i + 1 - anchor < LONGEST && is_straight(c, anchor, i + 1, within))
            continue;
        c[kept++] = c[i];
        anchor = i;
    }
    return kept;
}

/* Gentle turns --------------------------------------------------------------------------------- */

/* Where the run turns round on an axis: from direction `d` to the other, between points[before] and
 * points[after], within a step of its outermost position. */
typedef struct {
    size_t before, after; /* the last point before the wait begins, the first after it ends */
    double hold;          /* where the axis waits */
    int d;
} Turn;

/* The point of the way from a to b where the axis is at `level`. */
static DtCarriagePoint crossing(DtCarriagePoint a, DtCarriagePoint b, int axis, double level)
{
    double f = (level - a.at[axis]) / (b.at[axis] - a.at[axis]);
    DtCarriagePoint at = {.at = {a.at[0] + f * (b.at[0] - a.at[0]), a.at[1] + f * (b.at[1] - a.at[1])}};
    at.at[axis] = level;
    return at;
}

/* The wait around the outermost point c[k], reached in direction d; FALSE where the run does not
 * both come from and go to the level of the wait, or strays beyond the outermost point on the way.
 */
static gboolean find_wait(const DtCarriagePoint *c, size_t low, size_t n, size_t k, int axis,
                          double depth, Turn *t)
{
    enum { FARTHEST = 1000 }; /* points looked over each way, so that the work stays linear */
    double outermost = c[k].at[axis];
    size_t first = k - MIN(k - low, FARTHEST), last = k + MIN(n - 1 - k, FARTHEST);
    t->hold = outermost - t->d * depth;
    for (t->before = k; t->d * (c[t->before].at[axis] - t->hold) > 0; t->before--)
        if (t->before == first || t->d * (c[t->before].at[axis] - outermost) > 0)
            return FALSE;
    for (t->after = k; t->d * (c[t->after].at[axis] - t->hold) > 0; t->after++)
        if (t->after == last || t->d * (c[t->after].at[axis] - outermost) > 0)
            return FALSE;
    return TRUE;
}

/* The longest part of the wait on which the other axis goes on in one direction, as indices into
 * the places of the wait: 0 is where it begins, `n - 1` where it ends, the points of the run
 * between. */
static void find_steady(const GArray *places, int other, guint *first, guint *last)
{
    double longest = -1;
    guint from = 0;
    for (guint i = 1; i < places->len; i++) {
        const DtCarriagePoint *c = (const DtCarriagePoint *)(const void *)places->data;
        double way = c[i].at[other] - c[i - 1].at[other],
               so_far = c[i - 1].at[other] - c[from].at[other];
        if (way * so_far < 0)
            from = i - 1;
        double extent = fabs(c[i].at[other] - c[from].at[other]);
        if (extent > longest) {
            longest = extent;
            *first = from;
            *last = i;
        }
    }
}

/* The places of the wait: from where the run comes to the level of the wait, over its points, to
 * where it leaves it. FALSE where another wait stands there already. */
static gboolean gather_places(const DtCarriagePoint *c, const Turn *t, int axis, GArray *places)
{
    DtCarriagePoint from = crossing(c[t->before], c[t->before + 1], axis, t->hold);
    DtCarriagePoint to = crossing(c[t->after - 1], c[t->after], axis, t->hold);
    g_array_set_size(places, 0);
    g_array_append_val(places, from);
    for (size_t i = t->before + 1; i < t->after; i++) {
        if (c[i].turn[0] || c[i].turn[1])
            return FALSE;
        g_array_append_val(places, c[i]);
    }
    g_array_append_val(places, to);
    return !c[t->after].turn[0] && !c[t->after].turn[1];
}

/* Puts the wait in the place of what lies between the run's points `before` and `after`: the axis
 * stands still where it is cut off, and its slack is taken up on the longest steady stretch of the
 * other. FALSE where that is too short to be worth it. */
static gboolean put_wait(const Turn *t, int axis, double least, const GArray *places, GArray *out)
{
    guint first = 0, last = 0;
    find_steady(places, 1 - axis, &first, &last);
    const DtCarriagePoint *c = (const DtCarriagePoint *)(const void *)places->data;
    if (fabs(c[last].at[1 - axis] - c[first].at[1 - axis]) < least)
        return FALSE;
    for (guint i = 0; i < places->len; i++) {
        if (i > first && i < last)
            continue;
        DtCarriagePoint at = c[i];
        at.at[axis] = t->hold;
        if (i == last)
            at.turn[axis] = (int8_t)-t->d;
        g_array_append_val(out, at);
    }
    return TRUE;
}

/* Copies the run to `out` with each gentle turn of the axis replaced by a wait: two points at the
 * same place of this axis, the other axis going on between them. */
static void wait_at_turns(const DtProfile *p, const GArray *points, int axis, double depth,
                          GArray *out)
{
    const DtCarriagePoint *c = (const DtCarriagePoint *)(const void *)points->data;
    size_t n = points->len, done = 0; /* points before this one are copied */
    int d = 0;
    g_autoptr(GArray) places = g_array_new(FALSE, FALSE, sizeof(DtCarriagePoint));
    g_array_set_size(out, 0);
    for (size_t i = 1; i < n; i++) {
        int way = sign(c[i].at[axis] - c[i - 1].at[axis]);
        Turn t = {.d = d};
        if (way == 0)
            continue;
        d = way;
        if (t.d == 0 || t.d == way || i - 1 < done ||
            !find_wait(c, done, n, i - 1, axis, depth, &t))
            continue;
        double lost = dt_correct_lost(p, axis, t.hold);
        if (lost < depth || !gather_places(c, &t, axis, places))
            continue;
        g_array_append_vals(out, c + done, (guint)(t.before + 1 - done));
        done = t.before + 1;
        if (put_wait(&t, axis, 0.5 * lost, places, out))
            done = t.after;
    }
    g_array_append_vals(out, c + done, (guint)(n - done));
}

void dt_tidy_run(const DtProfile *p, GArray *points, GArray *spare)
{
    DtCarriagePoint *c = (DtCarriagePoint *)(void *)points->data;
    double finest = 1 / MAX(p->steps_per_mm[0], p->steps_per_mm[1]);
    for (int i = 0; i < 2; i++)
        if (p->backlash[i].n)
            still_jitter(c, points->len, i, 0.5 / p->steps_per_mm[i]);
    g_array_set_size(points, (guint)straighten(c, points->len, 0.25 * finest));
    for (int i = 0; i < 2; i++) {
        if (p->backlash[i].n == 0)
            continue;
        wait_at_turns(p, points, i, 1 / p->steps_per_mm[i], spare);
        g_array_set_size(points, 0);
        g_array_append_vals(points, spare->data, spare->len);
    }
}
