/* plane: layers and lines in, labelled edges out. */
#include "ink/plane/plane.h"

#include "drawtrue/work.h"
#include "ink/plane/label.h"
#include "ink/plane/radix.h"

#include <math.h>
#include <string.h>

/* An edge as it was added: `owner` is a layer, or ~(index of its piece) for a line. */
typedef struct {
    DtSegment s;
    int32_t owner;
    int8_t way; /* +1: from s.a to s.b */
} Edge;

typedef struct {
    int height;
    gboolean closed;
    size_t first, n; /* its pieces */
} Line;

/* A piece of a line: its final place. */
typedef struct {
    uint32_t segment;
    int8_t way; /* 0: shorter than the grid */
} Piece;

struct DtPlane {
    GArray *layers; /* DtPlaneLayer */
    GArray *edges;  /* Edge */
    GArray *lines;  /* Line */
    GArray *pieces; /* Piece */
    gboolean bad;   /* a point was not finite or out of range */
    DtOverlapFunc label_overlap;
    void *name_user;
    DtSplit split;
    DtGraph graph;
    uint32_t *chain_edge; /* beside split.chain: the unique edge to the next node */
};

DtPlane *dt_plane_new(void)
{
    DtPlane *p = g_new0(DtPlane, 1);
    p->layers = g_array_new(FALSE, FALSE, sizeof(DtPlaneLayer));
    p->edges = g_array_new(FALSE, FALSE, sizeof(Edge));
    p->lines = g_array_new(FALSE, FALSE, sizeof(Line));
    p->pieces = g_array_new(FALSE, FALSE, sizeof(Piece));
    return p;
}

void dt_plane_free(DtPlane *p)
{
    if (!p)
        return;
    g_array_free(p->layers, TRUE);
    g_array_free(p->edges, TRUE);
    g_array_free(p->lines, TRUE);
    g_array_free(p->pieces, TRUE);
    dt_split_clear(&p->split);
    dt_graph_clear(&p->graph);
    g_free(p->chain_edge);
    g_free(p);
}

static int add_layer(DtPlane *p, DtPlaneLayer l)
{
    g_array_append_val(p->layers, l);
    return (int)p->layers->len - 1;
}

int dt_plane_add_layer(DtPlane *p, DtPlaneRule rule, int label)
{
    return add_layer(p, (DtPlaneLayer){label, (uint8_t)rule, FALSE});
}

int dt_plane_add_translucent_layer(DtPlane *p, DtPlaneRule rule, int label)
{
    return add_layer(p, (DtPlaneLayer){label, (uint8_t)rule, TRUE});
}

void dt_plane_label_overlaps(DtPlane *p, DtOverlapFunc name, void *user)
{
    p->label_overlap = name;
    p->name_user = user;
}

static DtNode to_node(DtPlane *p, DtPoint at)
{
    if (!(fabs(at.x) <= DT_PLANE_REACH && fabs(at.y) <= DT_PLANE_REACH)) {
        p->bad = TRUE;
        return (DtNode){0, 0};
    }
    return (DtNode){(int32_t)lround(at.x * DT_GRID_PER_MM), (int32_t)lround(at.y * DT_GRID_PER_MM)};
}

static void add_edge(DtPlane *p, DtNode a, DtNode b, int32_t owner)
{
    int order = dt_node_compare(a, b);
    if (order == 0)
        return;
    Edge e = {order < 0 ? (DtSegment){a, b} : (DtSegment){b, a}, owner, order < 0 ? 1 : -1};
    g_array_append_val(p->edges, e);
}

void dt_plane_add_ring(DtPlane *p, int layer, const DtPoint *pts, size_t n)
{
    if (n < 3)
        return;
    DtNode last = to_node(p, pts[n - 1]);
    for (size_t i = 0; i < n; i++) {
        DtNode next = to_node(p, pts[i]);
        add_edge(p, last, next, layer);
        last = next;
    }
}

void dt_plane_add_rings(DtPlane *p, int layer, const DtLines *lines)
{
    for (size_t i = 0; i < lines->n; i++)
        dt_plane_add_ring(p, layer, dt_lines_at(lines, i), dt_lines_count(lines, i));
}

static void add_piece(DtPlane *p, DtNode a, DtNode b)
{
    Piece piece = {0, 0};
    if (dt_node_compare(a, b) != 0)
        add_edge(p, a, b, ~(int32_t)p->pieces->len);
    g_array_append_val(p->pieces, piece);
}

int dt_plane_add_line(DtPlane *p, int height, const DtPoint *pts, size_t n, gboolean closed)
{
    Line l = {height, closed && n > 2, p->pieces->len, 0};
    DtNode start = n > 0 ? to_node(p, pts[0]) : (DtNode){0, 0}, last = start;
    for (size_t i = 1; i < n; i++) {
        DtNode next = to_node(p, pts[i]);
        add_piece(p, last, next);
        last = next;
    }
    if (l.closed)
        add_piece(p, last, start);
    l.n = p->pieces->len - l.first;
    g_array_append_val(p->lines, l);
    return (int)p->lines->len - 1;
}

/* Building ------------------------------------------------------------------------------------ */

static uint64_t node_key(DtNode n)
{
    return (uint64_t)dt_radix_signed(n.y) << 32 | dt_radix_signed(n.x);
}

/* Orders the edges by their segments' first ends, those that share one by the second; those of one
 * segment stay in the order of their layers. */
static void sort_edges(GArray *edges)
{
    size_t n = edges->len;
    g_autofree Edge *old = g_memdup2(edges->data, n * sizeof *old);
    g_autofree DtKey *keys = g_new(DtKey, n + 1);
    for (size_t i = 0; i < n; i++)
        keys[i] = (DtKey){node_key(old[i].s.a), (uint32_t)i};
    dt_radix_sort(keys, n);
    for (size_t i = 0, end; i < n && !dt_work_stopped(); i = end) {
        const uint64_t first = keys[i].key;
        for (end = i; end < n && keys[end].key == first; end++)
            keys[end].key = node_key(old[keys[end].id].s.b);
        dt_radix_sort(keys + i, end - i);
    }
    for (size_t i = 0; i < n && !dt_work_stopped(); i++)
        g_array_index(edges, Edge, i) = old[keys[i].id];
}

/* Merges equal edges into one segment; first[i] is where segment i's edges begin. */
static DtSegment *unique_segments(DtPlane *p, uint32_t **first, size_t *n)
{
    sort_edges(p->edges);
    const uint32_t m = p->edges->len;
    size_t k = 0;
    DtSegment *s = g_new(DtSegment, (gsize)m + 1);
    *first = g_new(uint32_t, (gsize)m + 1);
    for (uint32_t i = 0; i < m; i++) {
        const Edge *e = &g_array_index(p->edges, Edge, i);
        if (k == 0 || dt_node_compare(s[k - 1].a, e->s.a) != 0 ||
            dt_node_compare(s[k - 1].b, e->s.b) != 0) {
            (*first)[k] = i;
            s[k++] = e->s;
        }
    }
    (*first)[k] = m;
    *n = k;
    return s;
}

/* Each segment's contribution to its layers' winding numbers; records where the pieces of lines
 * went. */
static void sum_turns(DtPlane *p, const uint32_t *first, size_t n, GArray *turns,
                      uint32_t *turn_first)
{
    for (size_t i = 0; i < n && !dt_work_stopped(); i++) {
        turn_first[i] = turns->len;
        for (size_t j = first[i]; j < first[i + 1]; j++) {
            const Edge *e = &g_array_index(p->edges, Edge, j);
            if (e->owner < 0) {
                g_array_index(p->pieces, Piece, ~e->owner) = (Piece){(uint32_t)i, e->way};
                continue;
            }
            DtTurn *last =
                turns->len > turn_first[i] ? &g_array_index(turns, DtTurn, turns->len - 1) : NULL;
            if (last && last->layer == e->owner) {
                last->by += e->way;
                continue;
            }
            if (last && last->by == 0)
                g_array_set_size(turns, turns->len - 1);
            DtTurn t = {e->owner, e->way};
            g_array_append_val(turns, t);
        }
        if (turns->len > turn_first[i] && g_array_index(turns, DtTurn, turns->len - 1).by == 0)
            g_array_set_size(turns, turns->len - 1);
    }
    turn_first[n] = turns->len;
}

static const DtPlaneLayer *layers_of(const DtPlane *p)
{
    return (const DtPlaneLayer *)(const void *)p->layers->data;
}

/* The label of the first n layers of an overlap. */
static int label_overlap(const DtPlane *p, const int32_t *layers, size_t n)
{
    if (!p->label_overlap)
        return layers_of(p)[layers[0]].label;
    g_autofree int *labels = g_new(int, n);
    for (size_t i = 0; i < n; i++)
        labels[i] = layers_of(p)[layers[i]].label;
    return p->label_overlap(labels, n, p->name_user);
}

static void name_overlaps(DtPlane *p)
{
    size_t count = dt_number_lists_count(&p->graph.overlaps), n;
    p->graph.overlap_label = g_new(int, count + 1);
    for (uint32_t i = 0; i < count && !dt_work_stopped(); i++) {
        const int32_t *overlap = dt_number_lists_at(&p->graph.overlaps, i, &n);
        p->graph.overlap_label[i] = label_overlap(p, overlap, n);
    }
}

GQuark dt_plane_error_quark(void)
{
    return g_quark_from_static_string("drawtrue-plane-error");
}

gboolean dt_plane_settle_error(gboolean good, GError **error)
{
    if (error != NULL && *error != NULL && (*error)->domain == DT_PLANE_ERROR)
        (*error)->domain = DT_ERROR;
    return good;
}

gboolean dt_plane_build(DtPlane *p, GError **error)
{
    if (p->bad) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "a point of the drawing is not finite or lies more than %g m away",
                    DT_PLANE_REACH / 1000);
        return FALSE;
    }
    size_t n = 0;
    g_autofree uint32_t *first = NULL;
    g_autofree DtSegment *s = unique_segments(p, &first, &n);
    g_autoptr(GArray) turns = g_array_new(FALSE, FALSE, sizeof(DtTurn));
    g_autofree uint32_t *turn_first = g_new(uint32_t, n + 1);
    sum_turns(p, first, n, turns, turn_first);
    g_clear_pointer(&first, g_free);
    g_array_free(p->edges, TRUE);
    p->edges = g_array_new(FALSE, FALSE, sizeof(Edge));
    if (!dt_work_check(error))
        return FALSE;
    if (!dt_split_segments(s, n, &p->split, error))
        return FALSE;
    g_clear_pointer(&s, g_free);
    p->chain_edge = g_new(uint32_t, (gsize)p->split.first[n] + 1);
    dt_graph_make(&p->graph, &p->split, n, (const DtTurn *)(void *)turns->data, turn_first,
                  p->chain_edge);
    g_clear_pointer(&turn_first, g_free);
    g_clear_pointer(&turns, g_array_unref);
    if (!dt_work_check(error))
        return FALSE;
    if (!dt_graph_label(&p->graph, p->split.nodes, layers_of(p), p->layers->len)) {
        g_set_error_literal(error, DT_PLANE_ERROR, DT_ERROR_INPUT,
                            "too many translucent areas lie on top of one another to be drawn");
        return FALSE;
    }
    if (!dt_work_check(error))
        return FALSE;
    name_overlaps(p);
    return dt_work_check(error);
}

size_t dt_plane_n_edges(const DtPlane *p)
{
    return p->graph.n;
}

void dt_plane_edge(const DtPlane *p, size_t i, DtNode *a, DtNode *b)
{
    *a = p->split.nodes[p->graph.e[i].a];
    *b = p->split.nodes[p->graph.e[i].b];
}

void dt_plane_edge_sides(const DtPlane *p, size_t i, int *left, int *right)
{
    const DtPlaneLayer *layers = (const DtPlaneLayer *)(const void *)p->layers->data;
    *left = dt_graph_label_of(&p->graph, layers, p->graph.face[i][0]);
    *right = dt_graph_label_of(&p->graph, layers, p->graph.face[i][1]);
}

/* Answers ------------------------------------------------------------------------------------- */

static DtPoint to_point(const DtPlane *p, uint32_t node)
{
    DtNode n = p->split.nodes[node];
    return dt_point(n.x / DT_GRID_PER_MM, n.y / DT_GRID_PER_MM);
}

void dt_plane_region(const DtPlane *p, int label, DtLines *out)
{
    dt_graph_rings(&p->graph, p->split.nodes, layers_of(p), label, out);
}

void dt_plane_regions(const DtPlane *p, GArray *regions)
{
    dt_graph_all_rings(&p->graph, p->split.nodes, layers_of(p), regions);
}

/* What hides a line at a height: nothing, an overlap of translucent layers, or a layer that
 * hides it. */
enum { CLEAR = 0, HIDDEN = -1 };

static int overlay_of(const DtPlane *p, int32_t face, int height)
{
    const DtGraph *g = &p->graph;
    if (face < 0 || (size_t)face < g->n_layers)
        return face < height ? CLEAR : HIDDEN;
    size_t n, above = 0;
    const int32_t *overlap =
        dt_number_lists_at(&g->overlaps, (uint32_t)((size_t)face - g->n_layers), &n);
    while (above < n && overlap[above] >= height)
        above++;
    if (above == 0)
        return CLEAR;
    return layers_of(p)[overlap[above - 1]].translucent ? label_overlap(p, overlap, above) : HIDDEN;
}

/* The thinner of the overlays on an edge's two sides. */
static gboolean edge_overlay(const DtPlane *p, uint32_t e, int height, DtPlaneSides *said)
{
    const int left = overlay_of(p, p->graph.face[e][0], height),
              right = left == CLEAR ? CLEAR : overlay_of(p, p->graph.face[e][1], height);
    *said = (DtPlaneSides){right == CLEAR || left == HIDDEN ? right : left, 0};
    return said->left != HIDDEN;
}

/* Both overlays, where neither hides the line. */
static gboolean edge_overlays(const DtPlane *p, uint32_t e, int height, DtPlaneSides *said)
{
    *said = (DtPlaneSides){overlay_of(p, p->graph.face[e][0], height),
                           overlay_of(p, p->graph.face[e][1], height)};
    return said->left != HIDDEN && said->right != HIDDEN;
}

/* Number of sides of an edge that are in places of a label. */
static gboolean count_sides(const DtPlane *p, uint32_t e, int height, DtPlaneSides *said)
{
    (void)height;
    *said =
        (DtPlaneSides){(dt_graph_label_of(&p->graph, layers_of(p), p->graph.face[e][0]) > 0) +
                           (dt_graph_label_of(&p->graph, layers_of(p), p->graph.face[e][1]) > 0),
                       0};
    return TRUE;
}

/* The parts of a line in order, by what is said of their edges; those of which nothing is said are left out. `down`
 * while the last part, of which `last` is said, continues. */
typedef struct {
    gboolean (*say)(const DtPlane *p, uint32_t edge, int height, DtPlaneSides *said);
    DtLines lines;
    GArray *said; /* DtPlaneSides */
    gboolean down;
    DtPlaneSides last;
} Parts;

static gboolean are_alike(DtPlaneSides a, DtPlaneSides b)
{
    return a.left == b.left && a.right == b.right;
}

/* Follows the chain of one piece in the line's direction and adds what is visible. */
static void walk_piece(const DtPlane *p, Piece piece, int height, Parts *out)
{
    size_t f = p->split.first[piece.segment], n = p->split.first[piece.segment + 1] - f;
    for (size_t i = 0; i + 1 < n; i++) {
        size_t k = piece.way > 0 ? f + i : f + n - 2 - i;
        uint32_t from = p->split.chain[piece.way > 0 ? k : k + 1];
        uint32_t to = p->split.chain[piece.way > 0 ? k + 1 : k];
        DtPlaneSides said;
        if (!out->say(p, p->chain_edge[k], height, &said)) {
            out->down = FALSE;
            continue;
        }
        if (!out->down || !are_alike(said, out->last)) {
            dt_lines_begin(&out->lines);
            dt_lines_point(&out->lines, to_point(p, from));
            g_array_append_val(out->said, said);
            out->down = TRUE;
            out->last = said;
        }
        dt_lines_point(&out->lines, to_point(p, to));
    }
}

static gboolean same(DtPoint a, DtPoint b)
{
    return a.x == b.x && a.y == b.y;
}

/* Appends all parts; the last one is joined to the first if the line is closed. `all_said` is of DtPlaneSides, or of
 * int: then it receives `left`, in which a single number is said. */
static void append_parts(const Parts *parts, gboolean closed, DtLines *out, GArray *all_said)
{
    const DtLines *l = &parts->lines;
    const DtPoint *head = dt_lines_at(l, 0), *tail = dt_lines_at(l, l->n - 1);
    size_t n_head = dt_lines_count(l, 0), n_tail = dt_lines_count(l, l->n - 1);
    const DtPlaneSides *said = (const DtPlaneSides *)(const void *)parts->said->data;
    gboolean wraps =
        closed && same(head[0], tail[n_tail - 1]) && are_alike(said[0], said[l->n - 1]);
    size_t first = wraps && l->n > 1 ? 1 : 0;
    for (size_t i = first; all_said && i < l->n; i++)
        g_array_append_vals(all_said, &said[i], 1);
    if (wraps && l->n == 1) {
        dt_lines_append(out, head, n_head - 1, n_head > 3);
        if (n_head <= 3) /* there and back: it needs its last point */
            dt_lines_point(out, head[n_head - 1]);
        return;
    }
    for (size_t i = first; i < l->n; i++)
        dt_lines_append(out, dt_lines_at(l, i), dt_lines_count(l, i), FALSE);
    for (size_t i = 1; wraps && i < n_head; i++)
        dt_lines_point(out, head[i]);
}

static void walk_line(const DtPlane *p, int line, Parts *parts, DtLines *out, GArray *all_said)
{
    const Line *l = &g_array_index(p->lines, Line, line);
    parts->said = g_array_new(FALSE, FALSE, sizeof(DtPlaneSides));
    dt_lines_init(&parts->lines);
    for (size_t i = 0; i < l->n; i++) {
        Piece piece = g_array_index(p->pieces, Piece, l->first + i);
        if (piece.way != 0)
            walk_piece(p, piece, l->height, parts);
    }
    if (parts->lines.n > 0)
        append_parts(parts, l->closed, out, all_said);
    dt_lines_clear(&parts->lines);
    g_array_free(parts->said, TRUE);
}

void dt_plane_visible(const DtPlane *p, int line, DtLines *out, GArray *overlays)
{
    Parts parts = {.say = edge_overlay};
    walk_line(p, line, &parts, out, overlays);
}

void dt_plane_beside(const DtPlane *p, int line, DtLines *out, GArray *sides)
{
    Parts parts = {.say = edge_overlays};
    walk_line(p, line, &parts, out, sides);
}

void dt_plane_sides(const DtPlane *p, int line, DtLines *out, GArray *sides)
{
    Parts parts = {.say = count_sides};
    walk_line(p, line, &parts, out, sides);
}
