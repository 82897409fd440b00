/* kicks: disturbs the tour locally, repairs it, and undoes what does not gain. */
#include "route/search.h"

#include "drawtrue/work.h"

#include <string.h>
#include <time.h>

/* xorshift64* (Vigna 2016). The state must not be 0. */
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

typedef struct {
    DtSearch *s;
    const DtTourBudget *b;
    double started, warmest;
    uint64_t random, kicks;
    uint32_t drawn; /* gaps from which each is chosen */
} Kicking;

/* Longest segments in nodes: long enough for the repair to find improvements. */
#define KICK_SEGMENT 40

/* Kicks sweep over the paper by at most this many nodes each time, so that what they touch is
 * still in the cache. */
#define KICK_STRIDE 100

/* The repair mostly brings back the steps that a kick has removed, since nearly all steps are
 * already the best ones. So each gap is the worst of a few drawn at random. It is the worst of half
 * as many after as many kicks as there are nodes, and so on, so that in the end any step may be
 * removed. */
#define MOST_DRAWN 12u

static uint32_t drawn_after(uint64_t kicks, uint32_t n)
{
    const uint64_t rounds = kicks / n;
    return rounds < 4 ? MOST_DRAWN >> rounds : 1;
}

/* How much more a step costs than those to the nearest nodes of its two ends. Tied ends have no
 * step. */
static int64_t excess(const DtSearch *s, uint32_t gap)
{
    const DtPlace *p = s->place + gap % s->n;
    const DtNearNode *a = dt_tour_near(s->t, p[0].node), *b = dt_tour_near(s->t, p[1].node);
    if (p->step == DT_SEARCH_FIXED)
        return -1;
    return 2 * (int64_t)p->step - (a->node < 0 ? 0 : a->cost) - (b->node < 0 ? 0 : b->cost);
}

static uint32_t choose_gap(Kicking *k, uint32_t after, uint32_t limit)
{
    uint32_t gap = after + 1 + draw_below(&k->random, limit);
    if (k->drawn == 1)
        return gap;
    int64_t most = excess(k->s, gap);
    for (uint32_t i = 1; i < k->drawn; i++) {
        const uint32_t other = after + 1 + draw_below(&k->random, limit);
        const int64_t more = excess(k->s, other);
        if (more > most) {
            most = more;
            gap = other;
        }
    }
    return gap;
}

/* A double bridge over three short consecutive segments, from a node on. FALSE if there is no
 * room for one. */
static gboolean choose_gaps(Kicking *k, int32_t node, uint32_t gap[4])
{
    const DtSearch *s = k->s;
    const uint32_t n = s->n, limit = MIN(KICK_SEGMENT, (n - 5) / 3);
    const uint32_t first = (uint32_t)s->pos[node];
    for (int i = 0; i < 4; i++) {
        gap[i] = i > 0 ? choose_gap(k, gap[i - 1], limit) : first;
        while (gap[i] < first + n && s->place[gap[i] % n].step == DT_SEARCH_FIXED)
            gap[i]++;
    }
    const uint32_t turns = gap[0] / n * n;
    for (int i = 0; i < 4; i++)
        gap[i] -= turns;
    return gap[3] < gap[0] + n - 1;
}

static double processor_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* A kick that made the tour longer is sometimes kept, by Metropolis' rule, less often towards
 * the end (Martin, Otto and Felten 1991). The temperature starts at this share of the difference
 * between steps to near nodes, and is zero for the last part of the work. */
#define TEMPERATURE 0.3
#define COLD_FROM 0.9

/* How much more the fifth neighbour costs than the first, on average; about the mean step for
 * scattered points. A lift that every step contains makes no difference here. */
static double near_spread(const DtTour *t)
{
    double sum = 0;
    for (uint32_t i = 0; i < t->n; i++) {
        const DtNearNode *near = dt_tour_near(t, (int32_t)i);
        if (t->width >= 5 && near[4].node >= 0)
            sum += near[4].cost - near[0].cost;
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

/* Share of the budget that is used up, 0 to 1. */
static double spent(const Kicking *k)
{
    double done = (double)k->kicks / (double)k->b->kicks;
    if (k->b->until_s > 0) {
        const double whole = k->b->until_s - k->started;
        done = MAX(done, whole > 0 ? (processor_s() - k->started) / whole : 1);
    }
    return CLAMP(done, 0, 1);
}

/* With too few kicks for every place to cool down again, only gains are kept. */
static double temperature_at(const Kicking *k, double done)
{
    if (done <= 0 || done >= COLD_FROM)
        return 0;
    double expected = (double)k->kicks / done / k->s->t->n;
    return k->warmest * (1 - done / COLD_FROM) * CLAMP(expected - 1, 0, 1);
}

static void kick_on(Kicking *k)
{
    enum { BETWEEN_CHECKS = 32, BETWEEN_REPORTS = 1024 };
    DtSearch *s = k->s;
    double temperature = 0;
    uint32_t node = 0;
    for (uint64_t i = 0;; i++, k->kicks++) {
        if (i % BETWEEN_CHECKS == 0 || k->kicks >= k->b->kicks) {
            const double done = spent(k);
            if (done >= 1 || dt_work_stopped())
                return;
            temperature = temperature_at(k, done);
            k->drawn = drawn_after(k->kicks, s->n);
            if (k->kicks % BETWEEN_REPORTS < BETWEEN_CHECKS)
                dt_work_report(k->b->from + (k->b->to - k->b->from) * done);
        }
        node = (node + 1 + draw_below(&k->random, KICK_STRIDE)) % s->n;
        uint32_t gap[4];
        if (!choose_gaps(k, (int32_t)node, gap))
            continue;
        int64_t cost = dt_search_bridge(s, gap);
        cost -= dt_search_settle(s, TRUE);
        if (is_kept(cost, temperature, &k->random))
            s->t->length += cost;
        else
            dt_search_undo(s);
        dt_search_forget(s);
    }
}

/* Restores the tour before the kicks if they have made it longer. */
void dt_search_kick(DtSearch *s, const DtTourBudget *b)
{
    DtTour *t = s->t;
    if (t->n < 8 || b->kicks == 0)
        return;
    const int64_t length = t->length;
    g_autofree DtPlace *old = g_memdup2(s->place - 1, (t->n + 2) * sizeof *old);
    Kicking k = {.s = s,
                 .b = b,
                 .started = processor_s(),
                 .warmest = TEMPERATURE * near_spread(t),
                 .random = b->seed * UINT64_C(0x9E3779B97F4A7C15) | 1};
    kick_on(&k);
    if (t->length > length) {
        memcpy(s->place - 1, old, (t->n + 2) * sizeof *old);
        t->length = length;
    }
}
