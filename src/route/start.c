/* start: a first tour from greedy fragments (Bentley 1992). */
#include "route/tour.h"

#include "drawtrue/work.h"
#include "route/near.h"
#include "route/tour-private.h"

#include <string.h>

typedef struct {
    int32_t cost, a, b;
} Link;

/* Fragments grow by the cheapest link between two ends. */
typedef struct {
    DtTour *t;
    int32_t (*next)[2]; /* up to two neighbours of each node, -1: none */
    int32_t *other_end; /* of an end: the far end of its fragment */
    uint32_t fragments;
} Growing;

static inline uint32_t digit(const Link *l, int32_t least, int shift, uint32_t mask)
{
    return ((uint32_t)l->cost - (uint32_t)least) >> shift & mask;
}

/* A stable radix sort. */
static void sort_by_cost(Link *links, size_t n)
{
    enum { BITS = 11, VALUES = 1 << BITS };
    g_autofree Link *other = g_new(Link, n);
    int32_t least = G_MAXINT32, most = G_MININT32;
    for (size_t i = 0; i < n; i++) {
        least = MIN(least, links[i].cost);
        most = MAX(most, links[i].cost);
    }
    for (int shift = 0; n > 0 && ((int64_t)most - least) >> shift > 0; shift += BITS) {
        size_t start[VALUES + 1] = {0};
        for (size_t i = 0; i < n; i++)
            start[digit(&links[i], least, shift, VALUES - 1) + 1]++;
        for (int v = 0; v < VALUES; v++)
            start[v + 1] += start[v];
        for (size_t i = 0; i < n; i++)
            other[start[digit(&links[i], least, shift, VALUES - 1)]++] = links[i];
        memcpy(links, other, n * sizeof *links);
    }
}

static gboolean is_end(const Growing *g, int32_t a)
{
    return g->next[a][1] < 0;
}

static void join(Growing *g, int32_t a, int32_t b)
{
    if (a == b || !is_end(g, a) || !is_end(g, b) || g->other_end[a] == b)
        return;
    int32_t far_a = g->other_end[a], far_b = g->other_end[b];
    g->next[a][g->next[a][0] >= 0] = b;
    g->next[b][g->next[b][0] >= 0] = a;
    g->other_end[far_a] = far_b;
    g->other_end[far_b] = far_a;
    g->fragments--;
}

static void join_cheapest(Growing *g, Link *links, size_t n)
{
    sort_by_cost(links, n);
    for (size_t i = 0; i < n; i++)
        join(g, links[i].a, links[i].b);
}

/* Links are taken in ranges of their costs, the cheapest first, so that few of them are in memory at a
 * time: a range has so many at most, or is one class of costs. */
enum { NEAREST = 8, MOST_LINKS = 1 << 22, CLASSES = 1 << 16 };

typedef struct {
    int32_t least;
    int shift;
    uint32_t n[CLASSES]; /* links in each class, those in two lists counted twice */
} Costs;

/* The most distant neighbours are left out: they may be the nearest ones on their side only, and the
 * ends that remain have others which are nearer. */
static unsigned nearest_used(const DtTour *t)
{
    return t->links ? t->width : MIN(t->width, NEAREST);
}

static uint32_t class_of(const Costs *c, int32_t cost)
{
    return ((uint32_t)cost - (uint32_t)c->least) >> c->shift;
}

static void count_costs(const DtTour *t, Costs *c)
{
    const unsigned width = nearest_used(t);
    int32_t most = G_MININT32;
    c->least = G_MAXINT32;
    c->shift = 0;
    for (uint32_t a = 0; a < t->n; a++)
        for (const DtNearNode *near = dt_tour_near(t, (int32_t)a), *end = near + width;
             near < end && near->node >= 0; near++) {
            c->least = MIN(c->least, near->cost);
            most = MAX(most, near->cost);
        }
    while (most > c->least && ((int64_t)most - c->least) >> c->shift >= CLASSES)
        c->shift++;
    for (uint32_t a = 0; a < t->n; a++)
        for (const DtNearNode *near = dt_tour_near(t, (int32_t)a), *end = near + width;
             near < end && near->node >= 0; near++)
            c->n[class_of(c, near->cost)]++;
}

/* Whether a link that b has, too, is to be taken from its list. */
static gboolean is_in_list(const DtTour *t, int32_t b, int32_t a)
{
    const DtNearNode *near = dt_tour_near(t, b);
    for (unsigned j = 0; j < nearest_used(t); j++)
        if (near[j].node == a)
            return TRUE;
    return FALSE;
}

/* Joins by the links of the classes from `low` to before `high`. What is no end, or the other end of the same
 * fragment, will not be one again. */
static void join_range(Growing *g, const Costs *c, uint32_t low, uint32_t high, Link *links)
{
    const DtTour *t = g->t;
    size_t n = 0;
    for (int32_t a = 0; a < (int32_t)t->n; a++) {
        const DtNearNode *near = dt_tour_near(t, a);
        for (unsigned k = 0; is_end(g, a) && k < nearest_used(t); k++) {
            const int32_t b = near[k].node;
            if (b < 0 || class_of(c, near[k].cost) >= high)
                break;
            if (class_of(c, near[k].cost) < low || !is_end(g, b) || g->other_end[a] == b ||
                (b < a && is_in_list(t, b, a)))
                continue;
            links[n++] = (Link){near[k].cost, a, b};
        }
    }
    join_cheapest(g, links, n);
}

static void join_near(Growing *g)
{
    g_autofree Costs *c = g_new0(Costs, 1);
    count_costs(g->t, c);
    for (uint32_t low = 0, high; low < CLASSES && !dt_work_stopped(); low = high) {
        size_t n = c->n[low];
        for (high = low + 1; high < CLASSES && n + c->n[high] <= MOST_LINKS; high++)
            n += c->n[high];
        g_autofree Link *links = g_new(Link, n + 1);
        if (n > 0)
            join_range(g, c, low, high, links);
    }
}

typedef struct {
    const Growing *g;
    int32_t self;
} Asking;

static gboolean other_fragment(uint32_t item, const void *user)
{
    const Asking *q = user;
    int32_t other = (int32_t)item;
    return other != q->self && other != q->g->other_end[q->self] &&
           !(q->g->t->side[other] & q->g->t->side[q->self] & DT_SIDE_DIRECTED);
}

/* One round over the remaining ends: each looks for its nearest ends of other fragments. */
static void join_ends(Growing *g, const DtPoint *scaled)
{
    enum { ASKED = 5 };
    uint32_t n = 0;
    g_autofree uint32_t *ends = g_new(uint32_t, (size_t)g->fragments * 2);
    for (uint32_t i = 0; i < g->t->n; i++)
        if (is_end(g, (int32_t)i))
            ends[n++] = i;
    g_autofree Link *links = g_new(Link, (size_t)n * ASKED);
    size_t n_links = 0;
    DtNear tree;
    dt_near_init(&tree, scaled, ends, n);
    for (uint32_t i = 0; i < n && !dt_work_stopped(); i++) {
        Asking asking = {g, (int32_t)ends[i]};
        DtNearQuery q = {.at = scaled[ends[i]],
                         .k = ASKED,
                         .quadrant = -1,
                         .accept = other_fragment,
                         .user = &asking};
        dt_near_find(&tree, &q);
        for (unsigned k = 0; k < q.found; k++) {
            int32_t a = (int32_t)ends[i], b = (int32_t)q.item[k];
            links[n_links++] = (Link){dt_tour_step(g->t, a, b), MIN(a, b), MAX(a, b)};
        }
    }
    dt_near_clear(&tree);
    join_cheapest(g, links, n_links);
}

/* The remaining ones, one after the other along the curve. */
static void join_rest(Growing *g)
{
    int32_t tail = -1;
    for (uint32_t i = 0; i < g->t->n; i++) {
        int32_t a = (int32_t)i;
        if (!is_end(g, a) || (tail >= 0 && g->other_end[a] == tail))
            continue;
        if (tail < 0) {
            tail = a;
            continue;
        }
        if (g->t->side[tail] & g->t->side[a] & DT_SIDE_DIRECTED)
            a = g->other_end[a];
        int32_t far = g->other_end[a];
        join(g, tail, a);
        tail = far;
    }
}

static void walk(const Growing *g)
{
    DtTour *t = g->t;
    int32_t at = 0, before = -1;
    for (uint32_t i = 0; i < t->n; i++)
        if (is_end(g, (int32_t)i)) {
            at = (int32_t)i;
            break;
        }
    for (uint32_t i = 0; i < t->n; i++) {
        t->order[i] = at;
        int32_t next = g->next[at][0];
        if (next == before && g->next[at][1] >= 0)
            next = g->next[at][1];
        before = at;
        at = next;
    }
    dt_tour_measure(t);
}

void dt_tour_start(DtTour *t)
{
    Growing g = {t, g_malloc(sizeof(int32_t[2]) * t->n), g_new(int32_t, t->n), t->n};
    for (uint32_t i = 0; i < t->n; i++) {
        g.next[i][0] = t->tied[i];
        g.next[i][1] = -1;
        g.other_end[i] = t->tied[i] >= 0 ? t->tied[i] : (int32_t)i;
        if (t->tied[i] > (int32_t)i)
            g.fragments--;
    }
    join_near(&g);
    g_autofree DtPoint *scaled = dt_tour_scaled(t);
    while (g.fragments > 1) {
        uint32_t before = g.fragments;
        join_ends(&g, scaled);
        if (g.fragments > before - before / 10 - 1 && g.fragments > 1)
            join_rest(&g);
    }
    walk(&g);
    g_free(g.next);
    g_free(g.other_end);
}
