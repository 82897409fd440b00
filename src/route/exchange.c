/* exchange: puts segments of the tour into another order, and back. */
#include "route/cuts.h"
#include "route/links.h"
#include "route/search.h"

#include <string.h>

/* Most nodes that an exchange may move. Where points are clustered, the steps between clusters
 * are improved by long moves only. */
#define LONGEST_MOVE 50000

/* Rewriting the places ----------------------------------------------------------------------- */

/* Saves the n places from `from` on, which wrap around, and returns them. */
static const DtPlace *keep(DtSearch *s, uint32_t from, uint32_t n)
{
    if (s->n_kept + n > s->cap_kept) {
        s->cap_kept = MAX(2 * s->cap_kept, s->n_kept + n);
        s->kept = g_renew(DtPlace, s->kept, s->cap_kept);
    }
    if (s->n_rewrites == s->cap_rewrites) {
        s->cap_rewrites = MAX(2 * s->cap_rewrites, 64);
        s->rewrites = g_renew(DtRewrite, s->rewrites, s->cap_rewrites);
    }
    s->rewrites[s->n_rewrites++] = (DtRewrite){from, n};
    DtPlace *to = s->kept + s->n_kept;
    uint32_t first = MIN(n, s->n - from);
    memcpy(to, s->place + from, first * sizeof *to);
    memcpy(to + first, s->place, (n - first) * sizeof *to);
    s->n_kept += n;
    return to;
}

static inline uint32_t next_place(const DtSearch *s, uint32_t at)
{
    return at + 1 == s->n ? 0 : at + 1;
}

/* Puts n places, all but the step of the last one, from `at` on, which wraps around. Returns the place
 * after them. */
static inline uint32_t put(DtSearch *s, uint32_t at, const DtPlace *old, uint32_t n)
{
    while (n > 0) {
        const uint32_t m = MIN(n, s->n - at);
        DtPlace *place = s->place + at;
        for (uint32_t i = 0; i < m; i++) {
            place[i] = old[i];
            s->pos[old[i].node] = (int32_t)(at + i);
        }
        old += m;
        n -= m;
        at = at + m == s->n ? 0 : at + m;
    }
    return at;
}

/* The same backwards, from the last of n places to the first. */
static inline uint32_t put_reversed(DtSearch *s, uint32_t at, const DtPlace *old, uint32_t n)
{
    while (n > 0) {
        const uint32_t m = MIN(n, s->n - at);
        DtPlace *place = s->place + at;
        const DtPlace *from = old + n - 1;
        for (uint32_t i = 0; i < m; i++, from--) {
            place[i] = (DtPlace){from[0].node, from[-1].step};
            s->pos[from[0].node] = (int32_t)(at + i);
        }
        n -= m;
        at = at + m == s->n ? 0 : at + m;
    }
    return at;
}

static inline void repeat_ends(DtSearch *s)
{
    s->place[-1] = s->place[s->n - 1];
    s->place[s->n] = s->place[0];
}

void dt_search_undo(DtSearch *s)
{
    while (s->n_rewrites > 0) {
        DtRewrite r = s->rewrites[--s->n_rewrites];
        s->n_kept -= r.n;
        put(s, r.from, s->kept + s->n_kept, r.n);
    }
    repeat_ends(s);
}

void dt_search_forget(DtSearch *s)
{
    s->n_kept = 0;
    s->n_rewrites = 0;
}

static inline int32_t segment_length(const DtSearch *s, const DtCuts *c, int k, int j)
{
    return j > 0 ? c->gap[j] - c->gap[j - 1] : c->gap[0] + (int32_t)s->n - c->gap[k - 1];
}

/* Exchanges ---------------------------------------------------------------------------------- */

/* The longest segment stays, the others are rewritten after it. */
gboolean dt_search_exchange(DtSearch *s, int k)
{
    DtCuts cuts = {0};
    const DtCuts *c = &cuts;
    for (int i = 0; i < k; i++)
        dt_cuts_add(&cuts, i, s->gap[i], s->first_before[i]);
    int longest = 0;
    int32_t most = 0;
    for (int j = 0; j < k; j++) {
        const int32_t n = segment_length(s, c, k, j);
        if (n > most) {
            most = n;
            longest = j;
        }
    }
    const uint32_t n_moved = s->n - (uint32_t)most;
    if (n_moved > LONGEST_MOVE)
        return FALSE;
    uint32_t last = (uint32_t)c->gap[longest];
    const DtPlace *old = keep(s, last, n_moved + 1);
    int end = c->left[longest];
    for (int passed = 1; passed < k; passed++) {
        const int entered = dt_cuts_joined(end, k);
        s->place[last].step = dt_tour_step(s->t, s->end[end], s->end[entered]);
        const DtCutsPassage p = dt_cuts_pass(c, k, entered);
        const int32_t n = segment_length(s, c, k, p.segment);
        int32_t from = c->gap[p.segment] - (n - 1) - c->gap[longest];
        if (from < 0)
            from += (int32_t)s->n;
        const uint32_t to = next_place(s, last);
        last = (p.forward ? put : put_reversed)(s, to, old + from, (uint32_t)n);
        last = last > 0 ? last - 1 : s->n - 1;
        end = p.end;
    }
    s->place[last].step = dt_tour_step(s->t, s->end[end], s->end[dt_cuts_joined(end, k)]);
    repeat_ends(s);
    return TRUE;
}

int64_t dt_search_bridge(DtSearch *s, const uint32_t gap[4])
{
    int32_t left[4], right[4];
    int64_t cost = 0;
    for (int i = 0; i < 4; i++) {
        const DtPlace *p = s->place + (gap[i] >= s->n ? gap[i] - s->n : gap[i]);
        left[i] = p[0].node;
        right[i] = p[1].node;
        cost -= p->step;
    }
    const DtPlace *old = keep(s, gap[0], gap[3] - gap[0] + 1);
    int32_t step = dt_tour_step(s->t, left[0], right[2]);
    cost += step;
    s->place[gap[0]].step = step;
    uint32_t to = next_place(s, gap[0]);
    for (int i = 2; i >= 0; i--) {
        step = dt_tour_step(s->t, left[i + 1], i > 0 ? right[i - 1] : right[3]);
        cost += step;
        to = put(s, to, old + gap[i] + 1 - gap[0], gap[i + 1] - gap[i]);
        s->place[to > 0 ? to - 1 : s->n - 1].step = step;
    }
    repeat_ends(s);
    for (int i = 0; i < 4; i++) {
        dt_search_look_at(s, left[i]);
        dt_search_look_at(s, right[i]);
    }
    return cost;
}

/* The tour in hand --------------------------------------------------------------------------- */

/* A retrace takes no time for the gaps that it jumps within the join: how much less than the
 * distance between its ends. */
static float retraces_cost_less(const DtLinks *l, double kx, double ky)
{
    double less = 0;
    for (size_t i = 0; i < l->n; i++)
        for (unsigned k = 0; k < l->n_retrace[i]; k++) {
            const DtRetrace *r = &l->retrace[i * DT_LINKS_MOST + k];
            const DtPoint d = dt_point_sub(l->end[i].at, l->end[r->to].at);
            less = MAX(less, MAX(fabs(d.x) * kx, fabs(d.y) * ky) - r->cost);
        }
    return (float)less + DT_SEARCH_INEXACT;
}

/* A lower bound for the cost of a step, for a quick test. */
static void know_bounds(DtSearch *s)
{
    const DtTour *t = s->t;
    const gboolean is_time = t->metric.kind == DT_METRIC_MOVE_TIME;
    const double kx = is_time ? t->metric.per_speed[0] * 1e6 : 1,
                 ky = is_time ? t->metric.per_speed[1] * 1e6 : 1;
    s->lift_from = INFINITY;
    if (is_time) {
        s->lift = (float)(t->metric.lift_s * 1e6);
        s->lift_from = t->metric.join2 < 0 ? 0 : (float)(sqrt(t->metric.join2) * MAX(kx, ky));
        s->lift_from += DT_SEARCH_INEXACT;
    }
    if (t->links) {
        s->lift += (float)(DT_LINKS_LIFT_MORE_S * 1e6);
        s->retrace_less = retraces_cost_less(t->links, kx, ky);
    }
    s->at = g_malloc(sizeof *s->at * t->n);
    for (uint32_t i = 0; i < t->n; i++) {
        const gboolean known = t->side[i] == DT_SIDE_FREE || t->side[i] == DT_SIDE_LINKED;
        s->at[i].x = known ? (float)(t->at[i].x * kx) : NAN;
        s->at[i].y = known ? (float)(t->at[i].y * ky) : NAN;
    }
}

void dt_search_init(DtSearch *s, DtTour *t)
{
    *s = (DtSearch){.t = t, .n = t->n, .pos = t->pos, .closings = dt_cuts_closings()};
    s->queue = g_new(int32_t, t->n);
    s->queued = g_new0(uint8_t, t->n);
    s->vain = g_malloc(sizeof *s->vain * t->n);
    memset(s->vain, 0xff, sizeof *s->vain * t->n);
    s->place = g_new(DtPlace, t->n + 2) + 1;
    know_bounds(s);
    for (uint32_t i = 0; i < s->n; i++) {
        const int32_t a = t->order[i], b = t->order[next_place(s, i)];
        s->place[i] = (DtPlace){a, t->tied[a] == b ? DT_SEARCH_FIXED : dt_tour_step(t, a, b)};
        s->pos[a] = (int32_t)i;
    }
    repeat_ends(s);
}

void dt_search_finish(DtSearch *s)
{
    for (uint32_t i = 0; i < s->n; i++) {
        s->t->order[i] = s->place[i].node;
        s->pos[s->place[i].node] = (int32_t)i;
    }
    g_free(s->place - 1);
    g_free(s->at);
    g_free(s->queue);
    g_free(s->queued);
    g_free(s->vain);
    g_free(s->kept);
    g_free(s->rewrites);
}
