/* improve: local search by sequential k-opt moves, and kicks with undo. */
#include "route/tour.h"

#include "drawtrue/work.h"
#include "route/tour-private.h"

#include <string.h>
#include <time.h>

#define DEPTH DT_TOUR_DEPTH

/* How many ways to go on are followed after each step of an exchange. All are looked at for one
 * that closes with a gain. */
static const int breadth[DEPTH - 1] = {5, 3, 1, 1, 0};

/* Nodes that an exchange may move, at most. Where points stand in clusters, the steps between them
 * improve by long moves alone. */
#define LONGEST_MOVE 50000

typedef struct {
    DtTour *t;
    /* The exchange in hand: removes (end[0],end[1]), (end[2],end[3])... and adds (end[1],end[2])
     * ... (end[2k-1],end[0]). A key sorts ends along the tour: twice the position, plus one where
     * the removed step leads on from there, so that one node can stand at both ends of a segment.
     */
    int32_t end[2 * DEPTH], key[2 * DEPTH];
    int closed_at; /* k of the exchange that was found */
    int64_t gain;  /* of the exchange that was found */
    /* What is still to be looked at, first in first out. */
    int32_t *queue;
    uint8_t *queued;
    uint32_t head, waiting;
    /* Old contents of what was rewritten, for undo. */
    int32_t *kept;
    size_t n_kept, cap_kept;
    struct Rewrite {
        uint32_t from, n;
    } * rewrites;
    size_t n_rewrites, cap_rewrites;
} Search;

static inline int32_t after(const DtTour *t, int32_t a)
{
    uint32_t p = (uint32_t)t->pos[a] + 1;
    return t->order[p == t->n ? 0 : p];
}

static inline int32_t before(const DtTour *t, int32_t a)
{
    uint32_t p = (uint32_t)t->pos[a];
    return t->order[p == 0 ? t->n - 1 : p - 1];
}

/* Queue -------------------------------------------------------------------------------------- */

static inline void look_at(Search *s, int32_t a)
{
    if (s->queued[a])
        return;
    s->queued[a] = 1;
    uint32_t i = s->head + s->waiting++;
    s->queue[i >= s->t->n ? i - s->t->n : i] = a;
}

static inline int32_t next_to_look_at(Search *s)
{
    int32_t a = s->queue[s->head++];
    if (s->head == s->t->n)
        s->head = 0;
    s->waiting--;
    s->queued[a] = 0;
    return a;
}

/* Rewriting the tour ------------------------------------------------------------------------- */

/* Keeps the n nodes from position `from` on, which wrap around, and returns them. */
static const int32_t *keep(Search *s, uint32_t from, uint32_t n)
{
    if (s->n_kept + n > s->cap_kept) {
        s->cap_kept = MAX(2 * s->cap_kept, s->n_kept + n);
        s->kept = g_renew(int32_t, s->kept, s->cap_kept);
    }
    if (s->n_rewrites == s->cap_rewrites) {
        s->cap_rewrites = MAX(2 * s->cap_rewrites, 64);
        s->rewrites = g_renew(struct Rewrite, s->rewrites, s->cap_rewrites);
    }
    s->rewrites[s->n_rewrites++] = (struct Rewrite){from, n};
    int32_t *to = s->kept + s->n_kept;
    uint32_t first = MIN(n, s->t->n - from);
    memcpy(to, s->t->order + from, first * sizeof *to);
    memcpy(to + first, s->t->order, (n - first) * sizeof *to);
    s->n_kept += n;
    return to;
}

static inline uint32_t put(DtTour *t, uint32_t at, int32_t node)
{
    t->order[at] = node;
    t->pos[node] = (int32_t)at;
    return at + 1 == t->n ? 0 : at + 1;
}

static void undo(Search *s)
{
    while (s->n_rewrites > 0) {
        struct Rewrite r = s->rewrites[--s->n_rewrites];
        s->n_kept -= r.n;
        uint32_t at = r.from;
        for (uint32_t i = 0; i < r.n; i++)
            at = put(s->t, at, s->kept[s->n_kept + i]);
    }
}

static void forget(Search *s)
{
    s->n_kept = 0;
    s->n_rewrites = 0;
}

/* Exchanges ---------------------------------------------------------------------------------- */

/* The ends in tour order: rank[i] of end i, at[r] the end of rank r. */
typedef struct {
    int rank[2 * DEPTH], at[2 * DEPTH];
} Ranks;

static inline void rank_ends(const Search *s, int k, Ranks *r)
{
    for (int i = 0; i < 2 * k; i++) {
        int j = i;
        for (; j > 0 && s->key[r->at[j - 1]] > s->key[i]; j--)
            r->at[j] = r->at[j - 1];
        r->at[j] = i;
    }
    for (int i = 0; i < 2 * k; i++)
        r->rank[r->at[i]] = i;
}

/* The end to which the exchange joins end i. */
static inline int joined_to(int i, int k)
{
    if (i & 1)
        return i + 1 == 2 * k ? 0 : i + 1;
    return i == 0 ? 2 * k - 1 : i - 1;
}

/* The far end of the segment that end i bounds. */
static inline int across(const Search *s, const Ranks *r, int i, int k)
{
    int j = r->rank[i] + (s->key[i] & 1 ? -1 : 1);
    if (j < 0)
        j += 2 * k;
    else if (j == 2 * k)
        j = 0;
    return r->at[j];
}

/* Whether the exchange leaves one tour: it passes all k segments before it returns. */
static gboolean is_tour(const Search *s, int k)
{
    Ranks r;
    rank_ends(s, k, &r);
    int i = 0, passed = 0;
    do {
        i = joined_to(across(s, &r, i, k), k);
        passed++;
    } while (i != 0);
    return passed == k;
}

typedef struct {
    uint32_t from, n;
    gboolean backwards;
} Segment;

static inline Segment segment_of(const Search *s, int entered, int left)
{
    uint32_t n = s->t->n;
    uint32_t a = (uint32_t)s->key[entered] >> 1, b = (uint32_t)s->key[left] >> 1;
    if (s->key[entered] & 1)
        return (Segment){a, (a >= b ? a - b : a + n - b) + 1, TRUE};
    return (Segment){a, (b >= a ? b - a : b + n - a) + 1, FALSE};
}

/* Makes the exchange: the longest segment stays, the others are rewritten behind it. FALSE where
 * that would move more nodes than allowed. */
static gboolean exchange(Search *s, int k)
{
    DtTour *t = s->t;
    Ranks r;
    rank_ends(s, k, &r);
    int longest = 0;
    uint32_t most = 0;
    for (int i = 0; i < 2 * k; i++)
        if (s->key[i] & 1) {
            uint32_t n = segment_of(s, across(s, &r, i, k), i).n;
            if (n > most) {
                most = n;
                longest = i;
            }
        }
    uint32_t n_moved = t->n - most;
    if (n_moved > LONGEST_MOVE)
        return FALSE;
    uint32_t to = ((uint32_t)s->key[longest] >> 1) + 1;
    if (to == t->n)
        to = 0;
    uint32_t first = to;
    const int32_t *old = keep(s, to, n_moved);
    int i = joined_to(longest, k);
    for (int passed = 1; passed < k; passed++) {
        int left = across(s, &r, i, k);
        Segment g = segment_of(s, i, left);
        uint32_t from = g.from >= first ? g.from - first : g.from + t->n - first;
        if (g.backwards)
            for (uint32_t m = 0; m < g.n; m++)
                to = put(t, to, old[from - m]);
        else
            for (uint32_t m = 0; m < g.n; m++)
                to = put(t, to, old[from + m]);
        i = joined_to(left, k);
    }
    return TRUE;
}

static inline void set_removed(Search *s, int i, int32_t a, int32_t b, gboolean b_after)
{
    s->end[i] = a;
    s->end[i + 1] = b;
    s->key[i] = 2 * s->t->pos[a] + b_after;
    s->key[i + 1] = 2 * s->t->pos[b] + !b_after;
}

static inline gboolean is_removed(const Search *s, int k, int32_t a, int32_t b)
{
    for (int i = 0; i < 2 * k; i += 2)
        if ((s->end[i] == a && s->end[i + 1] == b) || (s->end[i] == b && s->end[i + 1] == a))
            return TRUE;
    return FALSE;
}

/* A way to go on: the step (c,d) is removed after `last` has been joined to c. */
typedef struct {
    int32_t c, d;
    gboolean d_after;
    int64_t open; /* gain so far, before d is joined to anything */
} Way;

typedef struct {
    Way way[2 * DT_TOUR_NEAR_LINKED]; /* best first */
    int n;
    Way closing;  /* with the greatest gain of those that leave one tour */
    int64_t gain; /* 0: there is none */
} Ways;

static inline void add_way(Ways *w, Way way)
{
    int i = w->n++;
    for (; i > 0 && w->way[i - 1].open < way.open; i--)
        w->way[i] = w->way[i - 1];
    w->way[i] = way;
}

/* Whether the step from d to first may cost less than `most`, without calculating it. */
static inline gboolean may_close(const DtTour *t, int32_t d, int32_t first, int64_t most)
{
    if (most <= 0)
        return FALSE;
    return (t->side[d] | t->side[first]) ||
           dt_metric_least(&t->metric, t->at[d], t->at[first]) < (double)most;
}

/* All ways on from k removed steps. */
static void find_ways(Search *s, int k, int64_t gain, Ways *w)
{
    const DtTour *t = s->t;
    int32_t last = s->end[2 * k - 1], first = s->end[0];
    const int32_t *near = t->near + (size_t)last * t->width;
    const int32_t *near_cost = t->near_cost + (size_t)last * t->width;
    int32_t next = after(t, last), previous = before(t, last);
    w->n = 0;
    w->gain = 0;
    for (unsigned j = 0; j < t->width; j++) {
        int32_t c = near[j];
        int64_t added = gain - near_cost[j];
        if (c < 0 || added <= 0)
            break;
        if (c == next || c == previous)
            continue;
        for (int d_after = 0; d_after < 2; d_after++) {
            int32_t d = d_after ? after(t, c) : before(t, c);
            if (t->tied[c] == d || d == first || is_removed(s, k, c, d))
                continue;
            Way way = {c, d, d_after, added + dt_tour_step(t, c, d)};
            if (breadth[k - 1] > 0)
                add_way(w, way);
            if (!may_close(t, d, first, way.open - w->gain))
                continue;
            int64_t closed = way.open - dt_tour_step(t, d, first);
            if (closed > w->gain && t->tied[d] != first) {
                set_removed(s, 2 * k, c, d, d_after);
                if (is_tour(s, k + 1)) {
                    w->gain = closed;
                    w->closing = way;
                }
            }
        }
    }
}

/* k steps are removed and all but the last added, with a gain so far. Looks for one more, and for a
 * way to close; TRUE with the exchange made where one gains. */
static gboolean deepen(Search *s, int k, int64_t gain)
{
    Ways w;
    find_ways(s, k, gain, &w);
    if (w.gain > 0) {
        set_removed(s, 2 * k, w.closing.c, w.closing.d, w.closing.d_after);
        if (exchange(s, k + 1)) {
            s->closed_at = k + 1;
            s->gain = w.gain;
            return TRUE;
        }
    }
    for (int i = 0; k + 1 < DEPTH && i < MIN(w.n, breadth[k - 1]); i++) {
        set_removed(s, 2 * k, w.way[i].c, w.way[i].d, w.way[i].d_after);
        if (deepen(s, k + 1, w.way[i].open))
            return TRUE;
    }
    return FALSE;
}

static gboolean improve_at(Search *s, int32_t a)
{
    for (int way = 0; way < 2; way++) {
        int32_t b = way ? before(s->t, a) : after(s->t, a);
        if (s->t->tied[a] == b)
            continue;
        set_removed(s, 0, a, b, !way);
        if (deepen(s, 1, dt_tour_step(s->t, a, b)))
            return TRUE;
    }
    return FALSE;
}

static int64_t settle(Search *s, gboolean undoable)
{
    int64_t gained = 0;
    while (s->waiting > 0 && !dt_work_stopped()) {
        int32_t a = next_to_look_at(s);
        while (improve_at(s, a)) {
            gained += s->gain;
            for (int i = 0; i < 2 * s->closed_at; i++)
                look_at(s, s->end[i]);
            if (!undoable)
                forget(s);
        }
    }
    return gained;
}

/* Kicks -------------------------------------------------------------------------------------- */

/* xorshift64* (Vigna 2016). */
static inline uint64_t draw(uint64_t *state)
{
    *state ^= *state >> 12;
    *state ^= *state << 25;
    *state ^= *state >> 27;
    return *state * UINT64_C(2685821657736338717);
}

static inline uint32_t draw_below(uint64_t *state, uint32_t n)
{
    return (uint32_t)((draw(state) >> 32) * n >> 32);
}

/* Segments of this many nodes at most: long enough that the repair has something to find. */
#define KICK_SEGMENT 30

/* Kicks sweep over the paper, at most this many nodes further each time, so that what they touch is
 * still in the cache. */
#define KICK_STRIDE 100

/* Whether the step from a position on (past the last one, too) joins a tied pair. */
static inline gboolean is_tied_step(const DtTour *t, uint32_t at)
{
    uint32_t a = at >= t->n ? at - t->n : at;
    return t->tied[t->order[a]] == t->order[a + 1 == t->n ? 0 : a + 1];
}

/* A double bridge over three short segments in a row, from a node on. Returns what it costs. */
static int64_t kick(Search *s, uint64_t *random, uint32_t node)
{
    DtTour *t = s->t;
    uint32_t limit = MIN(KICK_SEGMENT, (t->n - 5) / 3);
    uint32_t cut[4] = {(uint32_t)t->pos[node], 0, 0, 0};
    for (int i = 0; i < 4; i++) {
        if (i > 0)
            cut[i] = cut[i - 1] + 1 + draw_below(random, limit);
        if (is_tied_step(t, cut[i])) /* the next one is not */
            cut[i]++;
    }
    uint32_t p = cut[0] >= t->n ? cut[0] - t->n : cut[0];
    for (int i = 3; i >= 0; i--)
        cut[i] -= cut[0] - p;
    int32_t left[4], right[4];
    for (int i = 0; i < 4; i++) {
        uint32_t at = cut[i] >= t->n ? cut[i] - t->n : cut[i];
        left[i] = t->order[at];
        right[i] = t->order[at + 1 == t->n ? 0 : at + 1];
    }
    int64_t cost = 0;
    for (int i = 0; i < 4; i++)
        cost -= dt_tour_step(t, left[i], right[i]);
    cost += dt_tour_step(t, left[0], right[2]) + (int64_t)dt_tour_step(t, left[3], right[1]) +
            dt_tour_step(t, left[2], right[0]) + (int64_t)dt_tour_step(t, left[1], right[3]);
    uint32_t to = p + 1 == t->n ? 0 : p + 1;
    const int32_t *old = keep(s, to, cut[3] - p);
    for (int i = 2; i >= 0; i--)
        for (uint32_t m = cut[i]; m < cut[i + 1]; m++)
            to = put(t, to, old[m - p]);
    for (int i = 0; i < 4; i++) {
        look_at(s, left[i]);
        look_at(s, right[i]);
    }
    return cost;
}

static double processor_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* A kick that made the tour longer is kept now and then, by Metropolis' rule, the less often the
 * nearer the end is (Martin, Otto and Felten 1991). The temperature starts at this share of what
 * steps to near nodes differ by, and is nothing for the last part of the work. */
#define TEMPERATURE 0.3
#define COLD_FROM 0.9

/* How much more the fifth neighbour costs than the first, on average; for scattered points about
 * the mean step. A lift that every step contains makes no difference here. */
static double near_spread(const DtTour *t)
{
    double sum = 0;
    for (uint32_t i = 0; i < t->n; i++) {
        const int32_t *near = t->near + (size_t)i * t->width;
        const int32_t *near_cost = t->near_cost + (size_t)i * t->width;
        if (t->width >= 5 && near[4] >= 0)
            sum += near_cost[4] - near_cost[0];
    }
    return sum / t->n;
}

static inline gboolean is_kept(int64_t cost, double temperature, uint64_t *random)
{
    if (cost <= 0)
        return TRUE;
    if (temperature <= 0)
        return FALSE;
    double u = ((double)(draw(random) >> 11) + 1) * 0x1p-53;
    return (double)cost <= -log(u) * temperature;
}

/* How far the budget is spent, 0 to 1. */
static double spent(const DtTourBudget *b, double started, uint64_t kicks)
{
    double done = (double)kicks / (double)b->kicks;
    if (b->until_s > 0)
        done = MAX(done, (processor_s() - started) / (b->until_s - started));
    return CLAMP(done, 0, 1);
}

/* With too few kicks for every place to cool down again, none but gains are kept. */
static double temperature_at(const DtTour *t, double warmest, double done, uint64_t kicks)
{
    if (done <= 0 || done >= COLD_FROM)
        return 0;
    double expected = (double)kicks / done / t->n;
    return warmest * (1 - done / COLD_FROM) * CLAMP(expected - 1, 0, 1);
}

static void kick_on(Search *s, const DtTourBudget *b)
{
    enum { BETWEEN_CHECKS = 32, BETWEEN_REPORTS = 1024 };
    DtTour *t = s->t;
    uint64_t random = b->seed * UINT64_C(0x9E3779B97F4A7C15) | 1;
    uint32_t node = 0;
    double started = processor_s(), temperature = 0;
    double warmest = TEMPERATURE * near_spread(t);
    for (uint64_t i = 0; i < b->kicks; i++) {
        if (i % BETWEEN_CHECKS == 0) {
            double done = spent(b, started, i);
            if (b->until_s > 0 && processor_s() >= b->until_s)
                break;
            temperature = temperature_at(t, warmest, done, i);
            if (dt_work_stopped())
                return;
            if (i % BETWEEN_REPORTS == 0)
                dt_work_report(b->from + (b->to - b->from) * done);
        }
        node = (node + 1 + draw_below(&random, KICK_STRIDE)) % t->n;
        int64_t cost = kick(s, &random, node);
        cost -= settle(s, TRUE);
        if (is_kept(cost, temperature, &random))
            t->length += cost;
        else
            undo(s);
        forget(s);
    }
}

/* Kicks, and back to where they began should they have made the tour longer. */
static void kick_safely(Search *s, const DtTourBudget *b)
{
    DtTour *t = s->t;
    if (t->n < 8 || b->kicks == 0)
        return;
    int64_t length = t->length;
    g_autofree int32_t *order = g_memdup2(t->order, t->n * sizeof *order);
    kick_on(s, b);
    if (t->length > length) {
        memcpy(t->order, order, t->n * sizeof *order);
        dt_tour_measure(t);
    }
}

void dt_tour_improve(DtTour *t, const DtTourBudget *b)
{
    if (t->n < 4)
        return;
    Search s = {.t = t};
    s.queue = g_new(int32_t, t->n);
    s.queued = g_new0(uint8_t, t->n);
    for (uint32_t i = 0; i < t->n; i++)
        look_at(&s, t->order[i]);
    t->length -= settle(&s, FALSE);
    kick_safely(&s, b);
    g_free(s.queue);
    g_free(s.queued);
    g_free(s.kept);
    g_free(s.rewrites);
}
