/* improve: local search by sequential k-opt moves. */
#include "route/search.h"

#include "drawtrue/work.h"

#define DEPTH DT_TOUR_DEPTH

/* How many continuations are followed after each step of an exchange, at first and after kicks.
 * All of them are tested for closing with a gain. */
#define BROADEST 5
static const int broad[DEPTH - 1] = {5, 3, 1, 1, 0};
static const int narrow[DEPTH - 1] = {3, 2, 1, 1, 0};

/* A continuation: the step (c,d) is removed after `last` has been joined to c. */
typedef struct {
    int32_t c, d, gap;
    gboolean d_after;
    int64_t open; /* gain so far, before d is joined to anything */
} Way;

typedef struct {
    Way way[BROADEST]; /* best first */
    int n;
    Way closing;  /* with the largest gain of those that leave one tour */
    int64_t gain; /* 0: none */
} Ways;

/* Among the `most` best ways. */
static inline gboolean leads_on(const Ways *w, int64_t open, int most)
{
    return w->n < most || (most > 0 && open > w->way[most - 1].open);
}

/* Requires leads_on(). */
static inline void add_way(Ways *w, const Way *way, int most)
{
    int i = w->n < most ? w->n++ : MAX(most - 1, 0);
    for (; i > 0 && w->way[i - 1].open < way->open; i--)
        w->way[i] = w->way[i - 1];
    w->way[i] = *way;
}

/* Whether the step from d to first may cost less than `most`, without computing it. */
static inline gboolean may_close(const DtSearch *s, int32_t d, int32_t first, int64_t most)
{
    const float dx = fabsf(s->at[d][0] - s->at[first][0]),
                dy = fabsf(s->at[d][1] - s->at[first][1]), least = MAX(dx, dy) - 1;
    return !(least >= (float)most || (least > s->lift_from && least + s->lift >= (float)most));
}

/* All continuations from k removed steps. Specialised for each k by the compiler. */
static inline void find_ways(DtSearch *s, const DtCuts *cuts, const int k, int64_t gain, Ways *w)
{
    const DtTour *t = s->t;
    const int32_t last = s->end[2 * k - 1], first = s->end[0];
    const DtNearNode *near = dt_tour_near(t, last);
    const DtPlace *at_last = s->place + s->pos[last];
    const int32_t next = at_last[1].node, previous = at_last[-1].node;
    const uint32_t closings = s->closings[cuts->arrangement];
    const int most = k + 1 < DEPTH ? s->breadth[k - 1] : 0;
    w->n = 0;
    w->gain = 0;
    for (unsigned j = 0; j < t->width; j++) {
        const int32_t c = near[j].node;
        const int64_t added = gain - near[j].cost;
        if (c < 0 || added <= 0)
            break;
        if (c == next || c == previous)
            continue;
        const int32_t at = s->pos[c];
        for (int d_after = 0; d_after < 2; d_after++) {
            const DtPlace *p = s->place + at - !d_after;
            const int32_t d = p[d_after].node;
            if (p->step == DT_SEARCH_FIXED || d == first)
                continue;
            const int64_t open = added + p->step;
            const gboolean goes_on = leads_on(w, open, most);
            const gboolean closes = may_close(s, d, first, open - w->gain);
            if (!goes_on && !closes)
                continue;
            const int32_t gap = d_after ? at : at > 0 ? at - 1 : (int32_t)s->n - 1;
            int segment = 0, is_removed = 0;
            for (int i = 0; i < k; i++) {
                is_removed |= cuts->gap[i] == gap;
                segment += cuts->gap[i] < gap;
            }
            if (is_removed)
                continue;
            const Way way = {c, d, gap, d_after, open};
            if (goes_on)
                add_way(w, &way, most);
            if (!closes || !(closings >> (2 * (segment < k ? segment : 0) + d_after) & 1))
                continue;
            const int64_t closed = way.open - dt_tour_step(t, d, first);
            if (closed > w->gain) {
                w->gain = closed;
                w->closing = way;
            }
        }
    }
}

static inline DtCuts follow(DtSearch *s, const DtCuts *cuts, int k, const Way *w)
{
    s->end[2 * k] = w->c;
    s->end[2 * k + 1] = w->d;
    return dt_cuts_add(cuts, k, w->gap, w->d_after);
}

/* Instantiates find_ways() for each k. */
static void find_ways_on(DtSearch *s, const DtCuts *cuts, int k, int64_t gain, Ways *w)
{
    switch (k) {
    case 1:
        find_ways(s, cuts, 1, gain, w);
        break;
    case 2:
        find_ways(s, cuts, 2, gain, w);
        break;
    case 3:
        find_ways(s, cuts, 3, gain, w);
        break;
    case 4:
        find_ways(s, cuts, 4, gain, w);
        break;
    default:
        find_ways(s, cuts, DEPTH - 1, gain, w);
    }
}

/* Makes the exchange that closes with a gain after k steps, or the best of those reached by
 * continuing along the best way as long as it may gain more (Lin and Kernighan 1973). */
static gboolean close_best(DtSearch *s, const DtCuts *cuts, int k, const Ways *ways)
{
    Ways w = *ways;
    Way closing = w.closing;
    DtCuts now = *cuts, closed = *cuts;
    int closed_k = k;
    int64_t gain = w.gain;
    while (w.n > 0 && w.way[0].open > gain) {
        const int64_t open = w.way[0].open;
        now = follow(s, &now, k, &w.way[0]);
        find_ways_on(s, &now, ++k, open, &w);
        if (w.gain > gain) {
            gain = w.gain;
            closing = w.closing;
            closed = now;
            closed_k = k;
        }
    }
    closed = follow(s, &closed, closed_k, &closing);
    if (!dt_search_exchange(s, &closed, closed_k + 1))
        return FALSE;
    s->closed_at = closed_k + 1;
    s->gain = gain;
    return TRUE;
}

/* k steps are removed and all but the last added, with a gain so far. Looks for one more step,
 * and for a way to close; TRUE, with the exchange made, if one gains. */
static gboolean deepen(DtSearch *s, const DtCuts *cuts, int k, int64_t gain)
{
    Ways w;
    find_ways_on(s, cuts, k, gain, &w);
    if (w.gain > 0 && close_best(s, cuts, k, &w))
        return TRUE;
    for (int i = 0; i < w.n; i++) {
        const DtCuts more = follow(s, cuts, k, &w.way[i]);
        if (deepen(s, &more, k + 1, w.way[i].open))
            return TRUE;
    }
    return FALSE;
}

static gboolean improve_at(DtSearch *s, int32_t a)
{
    const DtCuts none = {0};
    for (int b_after = 1; b_after >= 0; b_after--) {
        const int32_t at = s->pos[a];
        const DtPlace *p = s->place + at - !b_after;
        if (p->step == DT_SEARCH_FIXED)
            continue;
        s->end[0] = a;
        s->end[1] = p[b_after].node;
        const int32_t gap = b_after ? at : at > 0 ? at - 1 : (int32_t)s->n - 1;
        const DtCuts cuts = dt_cuts_add(&none, 0, gap, b_after);
        if (deepen(s, &cuts, 1, p->step))
            return TRUE;
    }
    return FALSE;
}

typedef struct {
    int32_t smaller, greater;
} Beside;

static inline Beside beside(const DtSearch *s, int32_t a)
{
    const DtPlace *p = s->place + s->pos[a];
    return (Beside){MIN(p[-1].node, p[1].node), MAX(p[-1].node, p[1].node)};
}

int64_t dt_search_settle(DtSearch *s, gboolean undoable)
{
    int64_t gained = 0;
    s->breadth = undoable ? narrow : broad;
    while (s->waiting > 0 && !dt_work_stopped()) {
        const int32_t a = dt_search_next(s);
        Beside now = beside(s, a);
        if (s->vain[a][0] == now.smaller && s->vain[a][1] == now.greater)
            continue;
        while (improve_at(s, a)) {
            gained += s->gain;
            for (int i = 0; i < 2 * s->closed_at; i++)
                dt_search_look_at(s, s->end[i]);
            if (!undoable)
                dt_search_forget(s);
        }
        now = beside(s, a);
        s->vain[a][0] = now.smaller;
        s->vain[a][1] = now.greater;
    }
    return gained;
}

void dt_tour_improve(DtTour *t, const DtTourBudget *b)
{
    if (t->n < 4)
        return;
    DtSearch s;
    dt_search_init(&s, t);
    for (uint32_t i = 0; i < t->n; i++)
        dt_search_look_at(&s, t->order[i]);
    t->length -= dt_search_settle(&s, FALSE);
    dt_search_kick(&s, b);
    dt_search_finish(&s);
}
