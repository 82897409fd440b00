/* rings: the outlines of all places with one label, or with each. */
#include "ink/plane/label.h"

#include "drawtrue/work.h"

#include <string.h>

typedef struct {
    const DtGraph *g;
    const DtNode *nodes;
    const DtPlaneLayer *layers;
    uint8_t *state; /* of each edge: 0 no border, 1 runs a to b, 2 runs b to a, 3 done */
} Rings;

static DtNode node_of(const Rings *r, uint32_t i)
{
    return r->nodes[i];
}

/* Whether u comes before v when turning clockwise from `from` (all non-zero vectors; a vector
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

/* Whether a border runs from `at` along the edge. */
static gboolean leaves(const Rings *r, uint32_t e, uint32_t at)
{
    return (r->state[e] == 1 && r->g->e[e].a == at) || (r->state[e] == 2 && r->g->e[e].b == at);
}

static DtPoint way_along(const Rings *r, uint32_t e, uint32_t at)
{
    const DtGraphEdge *ge = &r->g->e[e];
    return vector(r, at, ge->a == at ? ge->b : ge->a);
}

static gboolean comes_before(const Rings *r, uint32_t from, uint32_t at, uint32_t e, uint32_t other)
{
    return turns_before(vector(r, at, from), way_along(r, e, at), way_along(r, other, at));
}

/* The border edge on which a ring continues from `at` after it came from `from`: the first one
 * clockwise from the reverse direction, which closes the wedge of area on the ring's left. */
static uint32_t next_edge(const Rings *r, uint32_t from, uint32_t at)
{
    uint32_t best = UINT32_MAX;
    for (size_t i = r->g->star_first[at]; i < r->g->star_first[at + 1]; i++) {
        uint32_t e = r->g->star[i];
        if (leaves(r, e, at) && (best == UINT32_MAX || comes_before(r, from, at, e, best)))
            best = e;
    }
    return best;
}

static gboolean is_border(const Rings *r, uint32_t e)
{
    return dt_graph_label_of(r->g, r->layers, r->g->face[e][0]) !=
           dt_graph_label_of(r->g, r->layers, r->g->face[e][1]);
}

/* Whether a border runs straight through a node, on one segment that something invisible crosses
 * there, and no other border meets it: both sides leave out the same nodes, so that they still
 * meet. A node is rounded, so that one left out on one side only would leave a sliver. */
static gboolean is_passed(const Rings *r, uint32_t i)
{
    uint32_t segment = UINT32_MAX, n = 0;
    for (size_t k = r->g->star_first[i]; k < r->g->star_first[i + 1]; k++) {
        uint32_t e = r->g->star[k];
        if (!is_border(r, e))
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

/* The first edge stays available until the ring returns to it, so that a ring which passes
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

void dt_graph_rings(const DtGraph *g, const DtNode *nodes, const DtPlaneLayer *layers, int label,
                    DtLines *out)
{
    Rings r = {g, nodes, layers, g_new0(uint8_t, g->n + 1)};
    for (uint32_t e = 0; e < g->n; e++) {
        gboolean left = dt_graph_label_of(g, layers, g->face[e][0]) == label;
        gboolean right = dt_graph_label_of(g, layers, g->face[e][1]) == label;
        if (left != right)
            r.state[e] = left ? 1 : 2;
    }
    for (uint32_t e = 0; e < g->n && !dt_work_stopped(); e++)
        if (r.state[e] == 1 || r.state[e] == 2)
            trace_ring(&r, e, out);
    g_free(r.state);
}

/* An edge that borders a label's places, and its state. */
typedef struct {
    uint32_t edge;
    uint8_t state;
} Border;

/* The borders of label after label: those of label i from first[i] to first[i+1]-1. */
static Border *sort_borders(const DtGraph *g, const DtPlaneLayer *layers, size_t n_labels,
                            size_t *first)
{
    for (int pass = 0;; pass++) {
        Border *b = pass == 0 ? NULL : g_new(Border, first[n_labels] + 1);
        for (uint32_t e = 0; e < g->n; e++) {
            int side[2] = {dt_graph_label_of(g, layers, g->face[e][0]),
                           dt_graph_label_of(g, layers, g->face[e][1])};
            for (int k = 0; k < 2 && side[0] != side[1]; k++)
                if (pass == 0)
                    first[side[k] + 1]++;
                else
                    b[first[side[k]]++] = (Border){e, (uint8_t)(k + 1)};
        }
        for (size_t i = 0; pass == 0 && i < n_labels; i++)
            first[i + 1] += first[i];
        if (pass == 1) {
            memmove(first + 1, first, n_labels * sizeof *first);
            first[0] = 0;
            return b;
        }
    }
}

static size_t count_labels(const DtGraph *g, const DtPlaneLayer *layers)
{
    int most = 0;
    for (uint32_t e = 0; e < g->n; e++)
        for (int k = 0; k < 2; k++)
            most = MAX(most, dt_graph_label_of(g, layers, g->face[e][k]));
    return (size_t)most + 1;
}

void dt_graph_all_rings(const DtGraph *g, const DtNode *nodes, const DtPlaneLayer *layers,
                        GArray *regions)
{
    size_t n = count_labels(g, layers);
    g_autofree size_t *first = g_new0(size_t, n + 1);
    g_autofree Border *b = sort_borders(g, layers, n, first);
    if (regions->len < n)
        g_array_set_size(regions, (guint)n);
    Rings r = {g, nodes, layers, g_new0(uint8_t, g->n + 1)};
    for (size_t label = 1; label < n && !dt_work_stopped(); label++) {
        for (size_t i = first[label]; i < first[label + 1]; i++)
            r.state[b[i].edge] = b[i].state;
        for (size_t i = first[label]; i < first[label + 1] && !dt_work_stopped(); i++)
            if (r.state[b[i].edge] == 1 || r.state[b[i].edge] == 2)
                trace_ring(&r, b[i].edge, &g_array_index(regions, DtLines, label));
        for (size_t i = first[label]; i < first[label + 1]; i++)
            r.state[b[i].edge] = 0;
    }
    g_free(r.state);
}
