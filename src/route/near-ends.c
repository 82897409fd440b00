/* near-ends: which ends of sections may follow one another: those at the same place, those
 * reached by a retrace, and, with a lift, the nearest ones elsewhere, preferably where runs must
 * begin. */
#include "route/links.h"
#include "route/near.h"
#include "route/tour-private.h"

#include "drawtrue/work.h"

#include <string.h>

enum { AT_PLACE = 5, ELSEWHERE = 3, PATIENCE = 50 };

typedef struct {
    const DtTour *t;
    int32_t self;
} Asking;

static const DtSectionEnd *end_of(const DtTour *t, int32_t node)
{
    return t->end[node] == G_MAXUINT32 ? NULL : &t->links->end[t->end[node]];
}

static gboolean is_elsewhere(uint32_t item, const void *user)
{
    const Asking *q = user;
    const int32_t other = (int32_t)item;
    if (other == q->self || other == q->t->tied[q->self])
        return FALSE;
    const DtSectionEnd *a = end_of(q->t, q->self), *b = end_of(q->t, other);
    if (!a || !b)
        return TRUE;
    const DtPoint gap = dt_point_sub(b->at, a->at);
    return a->place == DT_NO_NODE || a->place != b->place ||
           dt_point_dot(gap, gap) > q->t->metric.join2;
}

/* The cheapest few of the ends at the same place. */
static void add_at_place(DtTour *t, const int32_t *node_of, int32_t self, unsigned *have)
{
    const DtLinks *l = t->links;
    const DtSectionEnd *e = end_of(t, self);
    int32_t best[AT_PLACE], cost[AT_PLACE];
    unsigned n = 0;
    if (!e || e->place == DT_NO_NODE)
        return;
    for (uint32_t k = l->first_at[e->place]; k < l->first_at[e->place + 1]; k++) {
        const int32_t other = node_of[l->at_place[k]];
        if (other == self || other == t->tied[self])
            continue;
        const int32_t c = dt_tour_step(t, self, other);
        if (n == AT_PLACE && c >= cost[n - 1])
            continue;
        unsigned i = n < AT_PLACE ? n++ : n - 1;
        for (; i > 0 && cost[i - 1] > c; i--) {
            cost[i] = cost[i - 1];
            best[i] = best[i - 1];
        }
        cost[i] = c;
        best[i] = other;
    }
    for (unsigned i = 0; i < n; i++)
        dt_tour_add_near(t, self, (uint32_t)best[i], have);
}

static void add_ways_back(DtTour *t, const int32_t *node_of, int32_t self, unsigned *have)
{
    const DtLinks *l = t->links;
    const uint32_t e = t->end[self];
    for (unsigned i = 0; e != G_MAXUINT32 && i < l->n_retrace[e]; i++) {
        const DtRetrace *r = &l->retrace[(size_t)e * DT_LINKS_MOST + i];
        const int32_t other = node_of[r->to];
        if (other != t->tied[self] && !dt_links_path(l, r->path)->is_banned)
            dt_tour_add_near(t, self, (uint32_t)other, have);
    }
}

static void add_found(DtTour *t, const DtNear *tree, DtNearQuery q, int32_t self, unsigned *have)
{
    const Asking asking = {t, self};
    q.accept = is_elsewhere;
    q.user = &asking;
    q.patience = PATIENCE;
    dt_near_find(tree, &q);
    for (unsigned i = 0; i < q.found; i++)
        dt_tour_add_near(t, self, q.item[i], have);
}

/* k-d trees over those ends at which a run has to begin, and over all ends. */
typedef struct {
    DtNear odd, all;
    DtPoint *scaled;
} Trees;

static void add_elsewhere(DtTour *t, const Trees *trees, int32_t self, unsigned *have)
{
    DtNearQuery q = {.at = trees->scaled[self], .k = ELSEWHERE, .quadrant = -1};
    if (trees->odd.n > 0) {
        add_found(t, &trees->odd, q, self, have);
        q.k = 1;
        for (q.quadrant = 0; q.quadrant < 4; q.quadrant++)
            add_found(t, &trees->odd, q, self, have);
    }
    q.k = 2;
    q.quadrant = -1;
    add_found(t, &trees->all, q, self, have);
}

static void trees_init(const DtTour *t, Trees *trees)
{
    uint32_t n = 0;
    g_autofree uint32_t *odd = g_new(uint32_t, t->n);
    for (uint32_t i = 0; i < t->n; i++) {
        const DtSectionEnd *e = end_of(t, (int32_t)i);
        if (!e || e->is_odd || e->place == DT_NO_NODE)
            odd[n++] = i;
    }
    trees->scaled = dt_tour_scaled(t);
    dt_near_init(&trees->odd, trees->scaled, odd, n);
    dt_near_init(&trees->all, trees->scaled, NULL, t->n);
}

static void trees_clear(Trees *trees)
{
    dt_near_clear(&trees->odd);
    dt_near_clear(&trees->all);
    g_free(trees->scaled);
}

void dt_tour_find_near_ends(DtTour *t)
{
    dt_tour_clear_near(t, DT_TOUR_NEAR_LINKED);
    g_autofree int32_t *node_of = g_new(int32_t, t->links->n + 1);
    for (uint32_t i = 0; i < t->n; i++)
        if (t->end[i] != G_MAXUINT32)
            node_of[t->end[i]] = (int32_t)i;
    Trees trees;
    trees_init(t, &trees);
    for (uint32_t i = 0; i < t->n && !dt_work_stopped(); i++) {
        unsigned have = 0;
        add_at_place(t, node_of, (int32_t)i, &have);
        add_ways_back(t, node_of, (int32_t)i, &have);
        add_elsewhere(t, &trees, (int32_t)i, &have);
    }
    trees_clear(&trees);
}
