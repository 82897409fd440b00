/* flood: round each face along its edges, and across each edge to the face beyond, if it is new (depth
 * first search, Tarjan 1972). A half is a chain in one direction, 2 * chain along it and 2 * chain + 1
 * against it; the face of a half is on its left. */
#include "ink/plane/flood.h"

#include "drawtrue/work.h"
#include "ink/plane/split.h"

enum { NONE = UINT32_MAX };

struct DtFlood {
    DtGraph *g;
    const DtChains *c;
    uint32_t *next;   /* of each half, the one after it with the same face on its left */
    uint32_t *parent; /* of each chain, in its group's tree */
    uint8_t *done;    /* of each half: its face is known */
};

/* Stars ------------------------------------------------------------------------------------- */

typedef struct {
    const DtGraph *g;
    const DtNode *nodes;
    uint32_t centre;
} Star;

static DtNode far_end(const Star *s, uint32_t edge)
{
    const DtGraphEdge *e = &s->g->e[edge];
    return s->nodes[e->a == s->centre ? e->b : e->a];
}

/* Nodes are ordered by y, then by x: those after the centre are in the first half of the turn. */
static int by_turn(const void *pa, const void *pb, gpointer user)
{
    const Star *s = user;
    const DtNode c = s->nodes[s->centre];
    const DtNode p = far_end(s, *(const uint32_t *)pa), q = far_end(s, *(const uint32_t *)pb);
    const int hp = dt_node_compare(p, c) < 0, hq = dt_node_compare(q, c) < 0;
    if (hp != hq)
        return hp - hq;
    const int64_t turn = dt_node_turn(c, p, q);
    return (turn < 0) - (turn > 0);
}

static size_t degree(const DtGraph *g, uint32_t node)
{
    return g->star_first[node + 1] - g->star_first[node];
}

static uint32_t root_of(uint32_t *parent, uint32_t i)
{
    while (parent[i] != i)
        i = parent[i] = parent[parent[i]];
    return i;
}

/* Most stars have so few edges that sorting them by insertion is fastest. */
static void sort_star(DtGraph *g, const DtNode *nodes, uint32_t node)
{
    enum { FEW = 12 };
    const Star s = {g, nodes, node};
    uint32_t *e = g->star + g->star_first[node];
    const size_t n = degree(g, node);
    if (n > FEW) {
        g_qsort_with_data(e, (gint)n, sizeof *e, by_turn, (gpointer)&s);
        return;
    }
    for (size_t i = 1; i < n; i++) {
        const uint32_t now = e[i];
        size_t k = i;
        for (; k > 0 && by_turn(&e[k - 1], &now, (gpointer)&s) > 0; k--)
            e[k] = e[k - 1];
        e[k] = now;
    }
}

/* The half that starts at a node with this edge; its opposite ends there. */
static uint32_t half_from(const DtFlood *f, uint32_t node, uint32_t edge)
{
    const gboolean along = (f->g->e[edge].a == node) != (f->c->back[edge] != 0);
    return 2 * f->c->chain[edge] + (along ? 0 : 1);
}

/* Links the halves that end at a node, whose star is in order, each to the first one clockwise from where
 * it came; and records that their chains are connected. */
static void join_chains(DtFlood *f, uint32_t node)
{
    const DtGraph *g = f->g;
    const size_t first = g->star_first[node], end = g->star_first[node + 1];
    uint32_t before = first < end ? half_from(f, node, g->star[end - 1]) : NONE;
    for (size_t i = first; i < end; i++) {
        const uint32_t out = half_from(f, node, g->star[i]);
        f->next[out ^ 1] = before;
        before = out;
        f->parent[root_of(f->parent, out / 2)] = root_of(f->parent, f->c->chain[g->star[first]]);
    }
}

DtFlood *dt_flood_new(DtGraph *g, const DtNode *nodes, const DtChains *c)
{
    const uint32_t n = c->speaker->len;
    DtFlood *f = g_new0(DtFlood, 1);
    *f = (DtFlood){g, c, g_new(uint32_t, 2 * (size_t)n + 1), g_new(uint32_t, n + 1),
                   g_new0(uint8_t, 2 * (size_t)n + 1)};
    for (uint32_t i = 0; i < n; i++) {
        f->next[2 * i] = 2 * i; /* a chain that is closed by itself ends nowhere */
        f->next[2 * i + 1] = 2 * i + 1;
        f->parent[i] = i;
    }
    for (uint32_t i = 0; i < g->n_nodes && !dt_work_stopped(); i++) {
        if (degree(g, i) == 2)
            continue;
        sort_star(g, nodes, i);
        join_chains(f, i);
    }
    return f;
}

void dt_flood_free(DtFlood *f)
{
    if (!f)
        return;
    g_free(f->next);
    g_free(f->parent);
    g_free(f->done);
    g_free(f);
}

uint32_t dt_flood_group(DtFlood *f, uint32_t chain)
{
    return root_of(f->parent, chain);
}

/* Faces ------------------------------------------------------------------------------------- */

static uint32_t speaker_of(const DtFlood *f, uint32_t h)
{
    return g_array_index(f->c->speaker, uint32_t, h / 2);
}

/* Which side of its speaker is on the left of a half. */
static int side_of(const DtFlood *f, uint32_t h)
{
    return (int)(h & 1) ^ (f->c->back[speaker_of(f, h)] != 0);
}

/* Gives a face to all halves round it. */
static void go_round(DtFlood *f, uint32_t h, int32_t face)
{
    for (; !f->done[h]; h = f->next[h]) {
        f->done[h] = 1;
        f->g->face[speaker_of(f, h)][side_of(f, h)] = face;
    }
}

static void cross(const DtFlood *f, uint32_t h, int way, const DtFloodPlace *p)
{
    p->cross(speaker_of(f, h), side_of(f, h) == 0 ? -way : way, p->user);
}

/* A face under way: the half by which it was entered, and the next one to look across. */
typedef struct {
    uint32_t first, now;
} Round;

void dt_flood_from(DtFlood *f, uint32_t edge, int side, DtFloodPlace place)
{
    const uint32_t chain = f->c->chain[edge];
    const int along = side ^ (f->c->back[edge] != 0);
    const Round start = {2 * chain + (uint32_t)along, 2 * chain + (uint32_t)along};
    if (f->done[start.first])
        return;
    g_autoptr(GArray) rounds = g_array_new(FALSE, FALSE, sizeof(Round));
    g_array_append_val(rounds, start);
    go_round(f, start.first, place.face(place.user));
    while (rounds->len > 0 && !dt_work_stopped()) {
        Round *r = &g_array_index(rounds, Round, rounds->len - 1);
        const uint32_t h = r->now, beyond = h ^ 1;
        if (h == NONE) { /* all round: back to where it was entered */
            const uint32_t first = r->first;
            g_array_set_size(rounds, rounds->len - 1);
            if (rounds->len > 0)
                cross(f, first, 1, &place);
            continue;
        }
        r->now = f->next[h];
        if (r->now == r->first)
            r->now = NONE;
        if (f->done[beyond])
            continue;
        cross(f, h, 1, &place);
        go_round(f, beyond, place.face(place.user));
        const Round inner = {beyond, beyond};
        g_array_append_val(rounds, inner);
    }
}
