/* improve: local search by sequential k-opt moves. */
#include "route/search.h"

#include "drawtrue/work.h"
#include "route/links.h"

#define DEPTH DT_TOUR_DEPTH

/* How many continuations are followed after each step of an exchange, at first and after kicks. */
#define BROADEST 5
static const int broad[DEPTH - 1] = {5, 3, 1, 1, 0};
static const int narrow[DEPTH - 1] = {3, 2, 1, 1, 0};

/* Through how many of the near nodes an exchange may be closed after each step. A kick is mostly
 * repaired by exchanges of some depth: a small gain through a distant node bars the way to them.
 * Where links give the costs this would only cost time. */
static const unsigned every[DEPTH - 1] = {DT_TOUR_MOST_NEAR, DT_TOUR_MOST_NEAR, DT_TOUR_MOST_NEAR,
                                          DT_TOUR_MOST_NEAR, DT_TOUR_MOST_NEAR};
static const unsigned nearest[DEPTH - 1] = {DT_TOUR_MOST_NEAR, 6, 8, DT_TOUR_MOST_NEAR,
                                            DT_TOUR_MOST_NEAR};

/* A continuation: the last end is joined to one of its near nodes, c, and the step from c to the
 * node d before or after it is removed. As one number, greater if the gain before d is joined to
 * anything is greater, or if it was found first. */
typedef int64_t Way;

#define WAYS (2 * DT_TOUR_MOST_NEAR)

static inline Way way_of(int64_t open, unsigned which)
{
    return open * WAYS + (WAYS - 1) - which;
}

static inline int64_t open_gain(Way way)
{
    return way / WAYS;
}

static inline unsigned which_of(Way way)
{
    return (WAYS - 1) - (unsigned)(way % WAYS);
}

typedef struct {
    Way way[BROADEST]; /* best first */
    int n;
    Way closing;  /* with the largest gain of those that leave one tour */
    int64_t gain; /* 0: none */
} Ways;

/* How many of the k removed steps come before a gap; -1 if it is one of theirs. */
static inline int segment_of(const DtSearch *s, const int k, int32_t gap)
{
    int segment = 0;
    gboolean is_removed = FALSE;
    const int32_t *removed = s->gap;
    for (int i = 0; i < k; i++) {
        const int32_t other = removed[i];
        is_removed |= other == gap;
        segment += other < gap;
    }
    return is_removed ? -1 : segment;
}

static inline int32_t gap_of(const DtSearch *s, int32_t at, gboolean d_after)
{
    return d_after ? at : at > 0 ? at - 1 : (int32_t)s->n - 1;
}

/* The step that is removed: its other end, and the place before it. */
typedef struct {
    int32_t d, gap;
    gboolean d_after;
} Removal;

static inline Removal removal_of(const DtSearch *s, const DtNearNode *near, unsigned which)
{
    const gboolean d_after = which & 1;
    const int32_t at = s->pos[near[which / 2].node], beside = d_after ? at + 1 : at - 1;
    return (Removal){s->place[beside].node, gap_of(s, at, d_after), d_after};
}

/* Possible ways from the last of k removed steps, at most two for each near node. */
typedef struct {
    Way way[WAYS];
    unsigned n;
    uint32_t may_close; /* a bit for each: closing there may gain more than `least` */
} Listed;

/* What a step to the end where the exchange closes costs at least. */
typedef struct {
    float x, y, lift_from, lift, less;
} Bound;

static inline Bound bound_at(const DtSearch *s, int32_t first)
{
    const DtLinks *l = s->t->links;
    const uint32_t end = l ? s->t->end[first] : G_MAXUINT32;
    Bound b = {s->at[first].x, s->at[first].y, s->lift_from, s->lift, DT_SEARCH_INEXACT};
    if (end != G_MAXUINT32 && l->n_retrace[end] > 0) {
        b.lift = 0;
        b.less = s->retrace_less;
    } else if (end != G_MAXUINT32) {
        b.lift += (float)l->end[end].stop;
    }
    return b;
}

static inline uint32_t may_cost_less(Bound b, DtBoundAt at, int64_t most_cost)
{
    const float dx = fabsf(at.x - b.x), dy = fabsf(at.y - b.y), most = MAX(dx, dy);
    const float lift = most > b.lift_from ? b.lift : 0;
    return !(most + lift - b.less >= (float)most_cost);
}

/* Without branches that depend on the costs: they would often be predicted wrongly. */
static inline void list_ways(const DtSearch *s, const int k, int64_t gain, int64_t least, Listed *l)
{
    const DtPlace *place = s->place;
    const int32_t *pos = s->pos;
    const DtBoundAt *at = s->at;
    const int32_t last = s->end[2 * k - 1];
    const DtNearNode *near = dt_tour_near(s->t, last);
    const DtPlace *at_last = place + pos[last];
    const int32_t next = at_last[1].node, previous = at_last[-1].node;
    const unsigned width = s->t->width, closers = s->closers[k - 1];
    const Bound bound = bound_at(s, s->end[0]);
    Way *way = l->way;
    uint32_t may_close = 0;
    unsigned n = 0;
    for (unsigned j = 0; j < width; j++) {
        const DtNearNode c = near[j];
        const int64_t added = gain - c.cost;
        if (c.node < 0 || added <= 0)
            break;
        const DtPlace *p = place + pos[c.node];
        const DtPlace before = p[-1];
        const int32_t after = p[1].node, step = p[0].step;
        const uint32_t is_free = (uint32_t)(c.node != next) & (uint32_t)(c.node != previous),
                       is_tried = j < closers;
        const int64_t open_before = added + before.step, open_after = added + step;
        /* A way that is not possible is overwritten by the next one. */
        const uint32_t has_before = is_free & (uint32_t)(before.step != DT_SEARCH_FIXED);
        way[n] = way_of(open_before, 2 * j);
        may_close |=
            (has_before & is_tried & may_cost_less(bound, at[before.node], open_before - least))
            << n;
        n += has_before;
        const uint32_t has_after = is_free & (uint32_t)(step != DT_SEARCH_FIXED);
        way[n] = way_of(open_after, 2 * j + 1);
        may_close |= (has_after & is_tried & may_cost_less(bound, at[after], open_after - least))
                     << n;
        n += has_after;
    }
    l->n = n;
    l->may_close = may_close;
}

/* All continuations from k removed steps, and the closing that gains most if that is more than
 * `least`. Specialised for each k by the compiler. */
static inline void find_ways(const DtSearch *s, uint16_t arrangement, const int k, int64_t gain,
                             int64_t least, Ways *w)
{
    const int32_t first = s->end[0];
    const DtNearNode *near = dt_tour_near(s->t, s->end[2 * k - 1]);
    const uint32_t closings = s->closings[arrangement];
    const int most = k + 1 < DEPTH ? s->breadth[k - 1] : 0;
    Listed l;
    list_ways(s, k, gain, least, &l);
    int64_t most_gain = least;
    for (uint32_t bits = l.may_close; bits; bits &= bits - 1) {
        const Way way = l.way[__builtin_ctz(bits)];
        const int64_t open = open_gain(way);
        if (open <= most_gain)
            continue;
        const Removal r = removal_of(s, near, which_of(way));
        const int segment = segment_of(s, k, r.gap);
        if (r.d == first || segment < 0 ||
            !(closings >> (2 * (segment < k ? segment : 0) + r.d_after) & 1))
            continue;
        const int64_t closed = open - dt_tour_step(s->t, r.d, first);
        if (closed > most_gain) {
            most_gain = closed;
            w->closing = way;
        }
    }
    w->gain = most_gain == least ? 0 : most_gain;
    int n = 0;
    while (n < most) {
        Way best = 0;
        unsigned best_at = 0;
        const Way *way = l.way;
        for (unsigned i = 0; i < l.n; i++) {
            best_at = way[i] > best ? i : best_at;
            best = MAX(best, way[i]);
        }
        if (best == 0)
            break;
        l.way[best_at] = 0;
        const Removal r = removal_of(s, near, which_of(best));
        if (r.d != first && segment_of(s, k, r.gap) >= 0)
            w->way[n++] = best;
    }
    w->n = n;
}

/* Removes the step of a continuation from k removed steps. Returns their arrangement. */
static inline uint16_t follow(DtSearch *s, uint16_t arrangement, int k, Way way)
{
    const DtNearNode *near = dt_tour_near(s->t, s->end[2 * k - 1]);
    const Removal r = removal_of(s, near, which_of(way));
    s->end[2 * k] = near[which_of(way) / 2].node;
    s->end[2 * k + 1] = r.d;
    s->gap[k] = r.gap;
    s->first_before[k] = (uint8_t)r.d_after;
    return dt_cuts_extended(arrangement, k, segment_of(s, k, r.gap), r.d_after);
}

/* Instantiates find_ways() for each k. */
static void find_ways_on(const DtSearch *s, uint16_t arrangement, int k, int64_t gain,
                         int64_t least, Ways *w)
{
    switch (k) {
    case 1:
        find_ways(s, arrangement, 1, gain, least, w);
        break;
    case 2:
        find_ways(s, arrangement, 2, gain, least, w);
        break;
    case 3:
        find_ways(s, arrangement, 3, gain, least, w);
        break;
    case 4:
        find_ways(s, arrangement, 4, gain, least, w);
        break;
    default:
        find_ways(s, arrangement, DEPTH - 1, gain, least, w);
    }
}

/* Makes the exchange that closes with a gain after k steps, or the best of those reached by
 * continuing along the best way as long as it may gain more (Lin and Kernighan 1973). */
static gboolean close_best(DtSearch *s, uint16_t arrangement, int k, const Ways *ways)
{
    Ways w = *ways;
    Way closing = w.closing;
    int closed_k = k;
    int64_t gain = w.gain;
    while (w.n > 0 && open_gain(w.way[0]) > gain) {
        const int64_t open = open_gain(w.way[0]);
        arrangement = follow(s, arrangement, k, w.way[0]);
        find_ways_on(s, arrangement, ++k, open, gain, &w);
        if (w.gain > gain) {
            gain = w.gain;
            closing = w.closing;
            closed_k = k;
        }
    }
    follow(s, 0, closed_k, closing);
    if (!dt_search_exchange(s, closed_k + 1))
        return FALSE;
    s->closed_at = closed_k + 1;
    s->gain = gain;
    return TRUE;
}

/* k steps are removed and all but the last added, with a gain so far. Looks for one more step,
 * and for a way to close; TRUE, with the exchange made, if one gains more than `least`. */
static gboolean deepen(DtSearch *s, uint16_t arrangement, int k, int64_t gain, int64_t least)
{
    Ways w;
    find_ways_on(s, arrangement, k, gain, least, &w);
    const gboolean waits = w.gain > 0 && k <= s->patient;
    if (w.gain > 0 && !waits && close_best(s, arrangement, k, &w))
        return TRUE;
    for (int i = 0; i < w.n; i++) {
        const uint16_t more = follow(s, arrangement, k, w.way[i]);
        if (deepen(s, more, k + 1, open_gain(w.way[i]), waits ? w.gain : least))
            return TRUE;
    }
    w.n = 0;
    return waits && close_best(s, arrangement, k, &w);
}

static gboolean improve_at(DtSearch *s, int32_t a)
{
    for (int b_after = 1; b_after >= 0; b_after--) {
        const int32_t at = s->pos[a];
        const DtPlace *p = s->place + at - !b_after;
        if (p->step == DT_SEARCH_FIXED)
            continue;
        const int32_t b = p[b_after].node;
        if (s->vain[a][0] == b || s->vain[a][1] == b)
            continue;
        s->end[0] = a;
        s->end[1] = b;
        s->gap[0] = gap_of(s, at, b_after);
        s->first_before[0] = (uint8_t)b_after;
        if (deepen(s, dt_cuts_extended(0, 0, 0, b_after), 1, p->step, 0))
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
    const gboolean selective = undoable && !s->t->links;
    s->closers = selective ? nearest : every;
    s->patient = selective ? 1 : 0;
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
