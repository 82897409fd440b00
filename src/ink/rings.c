/* rings: the outlines of all places with one label. */
#include "label.h"

#include <string.h>

typedef struct {
    const DtGraph *g;
    const DtNode *nodes;
    const DtLayer *layers;
    int label;
    uint8_t *state; /* of each edge: 0 no border, 1 runs a to b, 2 runs b to a, 3 done */
} Rings;

static int label_of(const Rings *r, int32_t top)
{
    return top < 0 ? 0 : r->layers[top].label;
}

static DtNode node_of(const Rings *r, uint32_t i)
{
    return r->nodes[i];
}

/* Whether u comes before v when one turns clockwise from `from` (all non-zero vectors; a vector
 * along `from` itself comes last). */
static int half_of(int64_t cross, int64_t dot)
{
    if (cross < 0)
        return 0; /* to the right: the first half of a clockwise turn */
    if (cross == 0)
        return dot < 0 ? 1 : 3;
    return 2;
}

static gboolean turns_before(DtPoint from, DtPoint u, DtPoint v)
{
    int hu = half_of((int64_t)dt_point_cross(from, u), (int64_t)dt_point_dot(from, u));
    int hv = half_of((int64_t)dt_point_cross(from, v), (int64_t)dt_point_dot(from, v));
    if (hu != hv)
        return hu < hv;
    return dt_point_cross(u, v) < 0;
}

static DtPoint vector(const Rings *r, uint32_t from, uint32_t to)
{
    DtNode a = node_of(r, from), b = node_of(r, to);
    return dt_point((double)b.x - a.x, (double)b.y - a.y);
}

/* The border edge on which a ring goes on from `at` after it came from `from`: the first one
 * clockwise from the way back, which closes the wedge of area at the ring's left. */
static uint32_t next_edge(const Rings *r, uint32_t from, uint32_t at)
{
    uint32_t best = UINT32_MAX;
    DtPoint back = vector(r, at, from), best_way = {0, 0};
    for (size_t i = r->g->star_first[at]; i < r->g->star_first[at + 1]; i++) {
        uint32_t e = r->g->star[i];
        const DtGraphEdge *ge = &r->g->e[e];
        if (!((r->state[e] == 1 && ge->a == at) || (r->state[e] == 2 && ge->b == at)))
            continue;
        DtPoint way = vector(r, at, ge->a == at ? ge->b : ge->a);
        if (best == UINT32_MAX || turns_before(back, way, best_way)) {
            best = e;
            best_way = way;
        }
    }
    return best;
}

/* Whether the border runs straight through a node, on one segment that something out of sight
 * crosses there. Both sides of a border leave out the same nodes, so that they still meet. */
static gboolean is_passed(const Rings *r, uint32_t i)
{
    uint32_t segment = UINT32_MAX, n = 0;
    for (size_t k = r->g->star_first[i]; k < r->g->star_first[i + 1]; k++) {
        uint32_t e = r->g->star[k];
        if (r->state[e] == 0)
            continue;
        if (n++ > 0 && r->g->e[e].segment != segment)
            return FALSE;
        segment = r->g->e[e].segment;
    }
    return n == 2;
}

static void add_node(const Rings *r, DtLines *out, uint32_t i)
{
    if (is_passed(r, i))
        return;
    DtNode n = node_of(r, i);
    dt_lines_point(out, dt_point(n.x / DT_GRID_PER_MM, n.y / DT_GRID_PER_MM));
}

/* The first edge stays open to choice until the ring comes back to it, so that a ring which passes
 * through its first node twice is not cut short there. */
static void trace_ring(Rings *r, uint32_t first, DtLines *out)
{
    uint32_t e = first, from = r->state[e] == 1 ? r->g->e[e].a : r->g->e[e].b;
    dt_lines_begin(out);
    do {
        uint32_t to = r->g->e[e].a == from ? r->g->e[e].b : r->g->e[e].a;
        if (e != first)
            r->state[e] = 3;
        add_node(r, out, from);
        e = next_edge(r, from, to);
        from = to;
    } while (e != first && e != UINT32_MAX);
    r->state[first] = 3;
    dt_lines_close(out);
}

void dt_graph_rings(const DtGraph *g, const DtNode *nodes, const DtLayer *layers, int label,
                    DtLines *out, GArray *ring_layers)
{
    Rings r = {g, nodes, layers, label, g_new0(uint8_t, g->n + 1)};
    for (uint32_t e = 0; e < g->n; e++) {
        gboolean left = label_of(&r, g->face[e][0]) == label;
        gboolean right = label_of(&r, g->face[e][1]) == label;
        if (left != right)
            r.state[e] = left ? 1 : 2;
    }
    for (uint32_t e = 0; e < g->n; e++) {
        if (r.state[e] != 1 && r.state[e] != 2)
            continue;
        if (ring_layers) {
            int32_t top = g->face[e][r.state[e] == 1 ? 0 : 1];
            g_array_append_val(ring_layers, top);
        }
        trace_ring(&r, e, out);
    }
    g_free(r.state);
}
