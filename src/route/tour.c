/* tour: nodes, neighbour lists and lengths. */
#include "route/tour.h"

#include "drawtrue/work.h"
#include "route/links.h"
#include "route/near.h"
#include "route/tour-private.h"

#include <string.h>

DtTour *dt_tour_new(const DtMetric *m, uint32_t n, const DtPoint *at, const int32_t *tied,
                    const uint8_t *side)
{
    DtTour *t = g_new0(DtTour, 1);
    t->metric = *m;
    t->n = n;
    t->at = g_new(DtPoint, n);
    t->tied = g_new(int32_t, n);
    t->side = g_new0(uint8_t, n);
    t->label = g_new(uint32_t, n);
    t->order = g_new(int32_t, n);
    t->pos = g_new(int32_t, n);
    dt_near_curve(at, n, t->label);
    g_autofree int32_t *number = g_new(int32_t, n);
    for (uint32_t i = 0; i < n; i++)
        number[t->label[i]] = (int32_t)i;
    for (uint32_t i = 0; i < n; i++) {
        uint32_t k = t->label[i];
        t->at[i] = at[k];
        t->tied[i] = tied && tied[k] >= 0 ? number[tied[k]] : -1;
        t->side[i] = side ? side[k] : DT_SIDE_FREE;
    }
    return t;
}

void dt_tour_set_links(DtTour *t, DtLinks *links, const uint32_t *end)
{
    t->links = links;
    t->end = g_new(uint32_t, t->n);
    for (uint32_t i = 0; i < t->n; i++) {
        t->end[i] = end[t->label[i]];
        t->side[i] |= DT_SIDE_LINKED;
    }
}

/* From rest, or to rest, at one end. */
static int32_t stop_at(const DtTour *t, int32_t a)
{
    return t->end[a] != G_MAXUINT32 ? t->links->end[t->end[a]].stop : 0;
}

static int32_t lifted_step(const DtTour *t, int32_t a, int32_t b)
{
    DtMetric lifted = t->metric;
    lifted.join2 = -1;
    return dt_metric_step(&lifted, t->at[a], t->at[b]);
}

int32_t dt_tour_step_of_links(const DtTour *t, int32_t a, int32_t b)
{
    uint8_t either = t->side[a] | t->side[b];
    if (either & DT_SIDE_ANYWHERE)
        return 0;
    if (either & DT_SIDE_LIFTED)
        return MIN(DT_METRIC_LIMIT, lifted_step(t, a, b) + stop_at(t, a) + stop_at(t, b));
    return dt_links_cost(t->links, t->end[a], t->end[b]);
}

int32_t dt_tour_step_of_sides(const DtTour *t, int32_t a, int32_t b, int32_t step)
{
    uint8_t either = t->side[a] | t->side[b];
    if (either & DT_SIDE_ANYWHERE)
        return 0;
    if (t->side[a] & t->side[b] & DT_SIDE_DIRECTED)
        return DT_METRIC_LIMIT + step / 2;
    return either & DT_SIDE_LIFTED ? lifted_step(t, a, b) : step;
}

void dt_tour_free(DtTour *t)
{
    if (!t)
        return;
    g_free(t->at);
    g_free(t->tied);
    g_free(t->side);
    g_free(t->label);
    g_free(t->end);
    g_free(t->near);
    g_free(t->order);
    g_free(t->pos);
    g_free(t);
}

void dt_tour_measure(DtTour *t)
{
    t->length = 0;
    for (uint32_t i = 0; i < t->n; i++) {
        int32_t a = t->order[i], b = t->order[i + 1 < t->n ? i + 1 : 0];
        t->pos[a] = (int32_t)i;
        if (t->tied[a] != b)
            t->length += dt_tour_step(t, a, b);
    }
}

void dt_tour_set_order(DtTour *t, const uint32_t *order)
{
    g_autofree int32_t *number = g_new(int32_t, t->n);
    for (uint32_t i = 0; i < t->n; i++)
        number[t->label[i]] = (int32_t)i;
    for (uint32_t i = 0; i < t->n; i++)
        t->order[i] = number[order[i]];
    dt_tour_measure(t);
}

void dt_tour_order(const DtTour *t, uint32_t *order)
{
    for (uint32_t i = 0; i < t->n; i++)
        order[i] = t->label[t->order[i]];
}

/* Neighbour lists ---------------------------------------------------------------------------- */

typedef struct {
    const DtTour *t;
    int32_t self;
} Asking;

static gboolean may_follow(uint32_t item, const void *user)
{
    const Asking *q = user;
    int32_t other = (int32_t)item;
    return other != q->self && other != q->t->tied[q->self] &&
           !(q->t->side[other] & q->t->side[q->self] & DT_SIDE_DIRECTED);
}

/* Time on a machine with unequal axes is closer to a distance in which each axis is scaled by
 * its speed. */
DtPoint *dt_tour_scaled(const DtTour *t)
{
    DtPoint *p = g_new(DtPoint, t->n);
    double kx = 1, ky = 1;
    if (t->metric.kind == DT_METRIC_MOVE_TIME) {
        kx = t->metric.per_speed[0];
        ky = t->metric.per_speed[1];
    }
    for (uint32_t i = 0; i < t->n; i++)
        p[i] = dt_point(t->at[i].x * kx, t->at[i].y * ky);
    return p;
}

void dt_tour_add_near(DtTour *t, int32_t self, uint32_t other, unsigned *have)
{
    DtNearNode *near = t->near + (size_t)self * t->width;
    for (unsigned i = 0; i < *have; i++)
        if (near[i].node == (int32_t)other)
            return;
    if (*have == t->width)
        return;
    const int32_t c = dt_tour_step(t, self, (int32_t)other);
    unsigned i = (*have)++;
    for (; i > 0 && near[i - 1].cost > c; i--)
        near[i] = near[i - 1];
    near[i] = (DtNearNode){(int32_t)other, c};
}

void dt_tour_clear_near(DtTour *t, unsigned most)
{
    t->width = MIN(most, t->n > 1 ? t->n - 1 : 1);
    g_free(t->near);
    t->near = g_new(DtNearNode, (size_t)t->n * t->width);
    memset(t->near, 0xff, (size_t)t->n * t->width * sizeof *t->near);
}

/* Of each node's neighbours this many are the nearest, and one is in each quadrant, for clustered
 * points (Johnson and McGeoch 1997). The search of an empty quadrant gives up after a number of
 * leaves of the tree. */
#define NEAREST 4
#define PATIENCE 50

static int quadrant_of(DtPoint at, DtPoint p)
{
    return (p.x < at.x || (p.x <= at.x && p.y > at.y)) +
           2 * (p.y < at.y || (p.y <= at.y && p.x < at.x));
}

/* The nearest one in a quadrant where none was found. */
static void add_in_quadrant(DtTour *t, const DtNear *tree, const DtNearQuery *all, int quadrant,
                            int32_t self, unsigned *have)
{
    DtNearQuery q = *all;
    q.k = 1;
    q.quadrant = quadrant;
    q.patience = PATIENCE;
    dt_near_find(tree, &q);
    if (q.found > 0)
        dt_tour_add_near(t, self, q.item[0], have);
}

static void find_near_of(DtTour *t, const DtNear *tree, const DtPoint *scaled, int32_t self)
{
    Asking asking = {t, self};
    DtNearQuery q = {
        .at = scaled[self], .k = t->width, .quadrant = -1, .accept = may_follow, .user = &asking};
    dt_near_find(tree, &q);
    unsigned have = 0, in_quadrant = 0;
    for (unsigned i = 0; i < q.found; i++) {
        const unsigned is_in = 1u << quadrant_of(q.at, scaled[q.item[i]]);
        if (i < NEAREST || !(in_quadrant & is_in))
            dt_tour_add_near(t, self, q.item[i], &have);
        in_quadrant |= is_in;
    }
    for (int d = 0; d < 4 && q.found == q.k; d++)
        if (!(in_quadrant >> d & 1))
            add_in_quadrant(t, tree, &q, d, self, &have);
    for (unsigned i = 0; i < q.found; i++)
        dt_tour_add_near(t, self, q.item[i], &have);
}

void dt_tour_find_near(DtTour *t)
{
    if (t->links) {
        dt_tour_find_near_ends(t);
        return;
    }
    dt_tour_clear_near(t, DT_TOUR_NEAR);
    g_autofree DtPoint *scaled = dt_tour_scaled(t);
    DtNear tree;
    dt_near_init(&tree, scaled, NULL, t->n);
    for (uint32_t i = 0; i < t->n && !dt_work_stopped(); i++)
        find_near_of(t, &tree, scaled, (int32_t)i);
    if (dt_work_stopped()) /* nobody has neighbours: the rest is trivial */
        dt_tour_clear_near(t, DT_TOUR_NEAR);
    dt_near_clear(&tree);
}
