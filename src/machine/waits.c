/* waits: an axis that turns round stops a little before its extreme position, waits there while
 * the other axis moves on, and takes up its slack meanwhile. */
#include "machine/tidy.h"

#include <math.h>
#include <string.h>

static int sign(double v)
{
    return (v > 0) - (v < 0);
}

/* The axis turns round from direction d between points `first` and `last`, which are at its
 * extreme position. */
typedef struct {
    guint first, last;
    int d;
} Turn;

typedef struct {
    const DtProfile *p;
    const GArray *given;
    const DtWayRule *rule;
    const DtCarriagePoint *c;
    guint n;
    int axis;
    GArray *turns, *places, *out;
    guint done; /* points before this one are copied */
} Waiting;

static void find_turns(Waiting *w)
{
    int d = 0;
    guint first = 0;
    for (guint i = 1; i < w->n; i++) {
        const int way = sign(w->c[i].at[w->axis] - w->c[i - 1].at[w->axis]);
        if (way == 0)
            continue;
        if (d != 0 && way != d) {
            const Turn t = {first, i - 1, d};
            g_array_append_val(w->turns, t);
        }
        d = way;
        first = i;
    }
}

/* The point of the line from a to b where the axis is at `level`. */
static DtCarriagePoint crossing(DtCarriagePoint a, DtCarriagePoint b, int axis, double level)
{
    const double f = (level - a.at[axis]) / (b.at[axis] - a.at[axis]);
    DtCarriagePoint at = dt_tidy_between(&a, &b, f);
    at.at[axis] = level;
    at.turn[axis] = 0;
    at.taken[axis] = 0;
    return at;
}

static double place_of(const Waiting *w, guint i)
{
    return w->c[i].at[w->axis];
}

/* The greatest depth of the wait that the legs before and after it allow; less than half of each
 * leg to the next turn, so that some motion remains between. */
static double depth_of(const Waiting *w, guint k)
{
    const Turn *t = &g_array_index(w->turns, Turn, k);
    const double place = place_of(w, t->first);
    const gboolean starts = k == 0, ends = k + 1 == w->turns->len;
    const double before =
        starts ? 0.9 * fabs(place - place_of(w, 0))
               : 0.45 * fabs(place - place_of(w, g_array_index(w->turns, Turn, k - 1).first));
    const double after =
        ends ? 0.9 * fabs(place - place_of(w, w->n - 1))
             : 0.45 * fabs(place - place_of(w, g_array_index(w->turns, Turn, k + 1).first));
    return MIN(w->rule->depth, MIN(before, after));
}

/* If the other axis has not moved since the previous point, that point is used. */
static void add_place(Waiting *w, DtCarriagePoint at, double hold)
{
    const double least_mm = 1e-9;
    const int other = 1 - w->axis;
    if (w->places->len > 0) {
        const DtCarriagePoint *before =
            &g_array_index(w->places, DtCarriagePoint, w->places->len - 1);
        if (fabs(before->at[other] - at.at[other]) < least_mm && before->turn[other] == 0 &&
            at.turn[other] == 0)
            return;
    }
    at.at[w->axis] = hold;
    g_array_append_val(w->places, at);
}

/* The points of a wait at `hold`, and the points of the run before and after it. */
static void gather_places(Waiting *w, const Turn *t, double hold, guint *before, guint *after)
{
    const DtCarriagePoint *c = w->c;
    *before = t->first;
    *after = t->last;
    while (t->d * (place_of(w, *before) - hold) >= 0 && *before > 0 && *before >= w->done)
        --*before;
    while (t->d * (place_of(w, *after) - hold) >= 0 && *after + 1 < w->n)
        ++*after;
    g_array_set_size(w->places, 0);
    add_place(w, crossing(c[*before], c[*before + 1], w->axis, hold), hold);
    for (guint i = *before + 1; i < *after; i++)
        add_place(w, c[i], hold);
    add_place(w, crossing(c[*after], c[*after - 1], w->axis, hold), hold);
}

/* Whether the ink stays close enough to the given line. */
static gboolean keeps_near(const Waiting *w)
{
    const double most2 = w->rule->most * w->rule->most * (1 + 1e-9);
    for (guint i = 0; i < w->places->len; i++)
        if (dt_tidy_off2(w->given, &g_array_index(w->places, DtCarriagePoint, i)) > most2)
            return FALSE;
    return TRUE;
}

/* Travel of the other axis during the wait. */
static double way_of_other(const Waiting *w)
{
    double sum = 0;
    const DtCarriagePoint *c = (const DtCarriagePoint *)(const void *)w->places->data;
    for (guint i = 1; i < w->places->len; i++)
        sum += fabs(c[i].at[1 - w->axis] - c[i - 1].at[1 - w->axis]);
    return sum;
}

/* Share of the other axis' travel during a wait after which the slack begins to be taken up: the
 * axis first comes to rest, and changes its speed in two jumps instead of one. */
static const double lead = 0.1;

/* Writes the points; after the lead the slack is taken up evenly with the travel of the other
 * axis. */
static void put_wait(Waiting *w, const Turn *t, double whole)
{
    const int axis = w->axis;
    DtCarriagePoint before = g_array_index(w->places, DtCarriagePoint, 0);
    double gone = 0;
    for (guint i = 0; i < w->places->len; i++) {
        DtCarriagePoint at = g_array_index(w->places, DtCarriagePoint, i);
        const double way = fabs(at.at[1 - axis] - before.at[1 - axis]) / whole;
        if (gone < lead && gone + way > lead && lead > 0) {
            DtCarriagePoint begin = dt_tidy_between(&before, &at, (lead - gone) / way);
            begin.at[axis] = at.at[axis];
            begin.turn[axis] = (int8_t)-t->d;
            begin.taken[axis] = 0;
            g_array_append_val(w->out, begin);
        }
        gone = i + 1 < w->places->len ? gone + way : 1;
        at.turn[axis] = (int8_t)-t->d;
        at.taken[axis] = MAX(0, (gone - lead) / (1 - lead));
        before = g_array_index(w->places, DtCarriagePoint, i);
        g_array_append_val(w->out, at);
    }
}

static gboolean other_turns(const Waiting *w, const Turn *t)
{
    if (t->first != t->last)
        return FALSE;
    const int other = 1 - w->axis;
    const double in = w->c[t->first].at[other] - w->c[t->first - 1].at[other];
    const double out = w->c[t->first + 1].at[other] - w->c[t->first].at[other];
    return in * out < 0;
}

static void copy_until(Waiting *w, guint end)
{
    if (end > w->done)
        g_array_append_vals(w->out, w->c + w->done, end - w->done);
    w->done = MAX(w->done, end);
}

static void wait_at(Waiting *w, guint k)
{
    enum { TRIES = 3, LEAST_STEPS = 2 };
    const Turn *t = &g_array_index(w->turns, Turn, k);
    double depth = depth_of(w, k);
    if (t->first < w->done || (other_turns(w, t) && depth > 0))
        return;
    for (int i = 0; i < TRIES; i++, depth /= 2) {
        guint before, after;
        gather_places(w, t, place_of(w, t->first) - t->d * depth, &before, &after);
        const double whole = way_of_other(w);
        const double lost = dt_correct_lost(w->p, w->axis, place_of(w, t->first));
        if (whole < MAX(LEAST_STEPS / w->p->steps_per_mm[1 - w->axis], w->rule->least_way * lost))
            return;
        if (!keeps_near(w))
            continue;
        copy_until(w, before + 1);
        put_wait(w, t, whole);
        w->done = after;
        return;
    }
}

void dt_waits_put(const DtProfile *p, const GArray *given, const DtWayRule *rule, int axis,
                  const GArray *points, GArray *out)
{
    Waiting w = {.p = p,
                 .given = given,
                 .rule = rule,
                 .c = (const DtCarriagePoint *)(const void *)points->data,
                 .n = points->len,
                 .axis = axis,
                 .turns = g_array_new(FALSE, FALSE, sizeof(Turn)),
                 .places = g_array_new(FALSE, FALSE, sizeof(DtCarriagePoint)),
                 .out = out};
    g_array_set_size(out, 0);
    find_turns(&w);
    for (guint k = 0; k < w.turns->len; k++)
        wait_at(&w, k);
    copy_until(&w, w.n);
    g_array_unref(w.turns);
    g_array_unref(w.places);
}
