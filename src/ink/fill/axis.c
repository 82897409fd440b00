/* axis: from triangles to centre lines. */
#include "ink/fill/axis.h"

#include "ink/fill/delaunay.h"
#include "ink/plane/radix.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Twigs up to this many times `by` are dropped: the forks into the corners of a blunt end. */
#define TWIG 1.6
/* Bends flatter than this (mm) are dropped. */
#define FLAT 0.01

enum { NONE = UINT32_MAX };

/* Sampled edges ----------------------------------------------------------------------------- */

typedef struct {
    GArray *nodes;     /* DtNode: the distinct points, by x, then by y */
    DtNodeEdges walls; /* the area is on their left */
} Edges;

static DtNode node_at(DtPoint p)
{
    return (DtNode){(int32_t)lround(p.x * DT_GRID_PER_MM), (int32_t)lround(p.y * DT_GRID_PER_MM)};
}

static double step_for(double by)
{
    return by / 2;
}

double dt_axis_samples(const DtLines *rings, double by)
{
    return dt_lines_total_length(rings) / step_for(by) + (double)rings->n_pts;
}

/* The points along each ring, at most `step` apart, as keys that rise with x, then with y, and their places in
 * the walk along the rings; ring_first gets where each ring begins. */
static void sample_rings(const DtLines *l, double step, GArray *samples, GArray *ring_first)
{
    for (size_t r = 0; r < l->n; r++) {
        const DtPoint *p = dt_lines_at(l, r);
        size_t n = dt_lines_count(l, r);
        guint begin = samples->len;
        g_array_append_val(ring_first, begin);
        for (size_t i = 0; i < n; i++) {
            DtPoint a = p[i], b = p[(i + 1) % n];
            int parts = (int)ceil(dt_point_distance(a, b) / step);
            for (int k = 0; k < parts; k++) {
                const DtNode at = node_at(dt_point_lerp(a, b, (double)k / parts));
                const DtKey s = {(uint64_t)dt_radix_signed(at.x) << 32 | dt_radix_signed(at.y),
                                 samples->len};
                g_array_append_val(samples, s);
            }
        }
    }
    g_array_append_val(ring_first, samples->len);
}

/* The distinct points of the samples, which are sorted; id[i] is that of the i-th along the rings. */
static GArray *distinct_nodes(const GArray *samples, uint32_t *id)
{
    GArray *nodes = g_array_new(FALSE, FALSE, sizeof(DtNode));
    for (guint i = 0; i < samples->len; i++) {
        const DtKey *s = &g_array_index(samples, DtKey, i);
        const DtNode at = {(int32_t)dt_radix_signed((int32_t)(uint32_t)(s->key >> 32)),
                           (int32_t)dt_radix_signed((int32_t)(uint32_t)s->key)};
        if (i == 0 || s->key != s[-1].key)
            g_array_append_val(nodes, at);
        id[s->id] = nodes->len - 1;
    }
    return nodes;
}

/* Lists the walls along the rings by the nodes from which they go. */
static void list_walls(const GArray *ring_first, const uint32_t *id, Edges *e)
{
    const guint n = g_array_index(ring_first, guint, ring_first->len - 1);
    e->walls.first = g_new0(uint32_t, e->nodes->len + 2);
    e->walls.end = g_new(uint32_t, n + 1);
    for (guint i = 0; i < n; i++)
        e->walls.first[id[i] + 2]++;
    for (guint i = 2; i < e->nodes->len + 2; i++)
        e->walls.first[i] += e->walls.first[i - 1];
    for (guint r = 0; r + 1 < ring_first->len; r++) {
        const guint first = g_array_index(ring_first, guint, r);
        const guint end = g_array_index(ring_first, guint, r + 1);
        for (guint i = first; i < end; i++)
            e->walls.end[e->walls.first[id[i] + 1]++] = id[i + 1 < end ? i + 1 : first];
    }
}

static void make_edges(const DtLines *l, double step, Edges *e)
{
    g_autoptr(GArray) samples = g_array_new(FALSE, FALSE, sizeof(DtKey));
    g_autoptr(GArray) ring_first = g_array_new(FALSE, FALSE, sizeof(guint));
    sample_rings(l, step, samples, ring_first);
    dt_radix_sort((DtKey *)(void *)samples->data, samples->len);
    g_autofree uint32_t *id = g_new(uint32_t, samples->len + 1);
    e->nodes = distinct_nodes(samples, id);
    list_walls(ring_first, id, e);
}

static gboolean is_wall(const Edges *e, uint32_t from, uint32_t to)
{
    return dt_node_edges_have(&e->walls, from, to);
}

/* Inside ------------------------------------------------------------------------------------ */

static uint32_t corner(const DtTriangles *t, uint32_t i, uint32_t k)
{
    return t->v[3 * i + k % 3];
}

/* 1 inside, 2 outside, 0 without a wall. Walls decide for their triangles; these pass it on to
 * their neighbours across edges that are not walls. */
static uint8_t *find_inside(const Edges *e, const DtTriangles *t)
{
    uint8_t *state = g_new0(uint8_t, t->n + 1);
    g_autoptr(GArray) queue = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    for (uint32_t i = 0; i < t->n; i++) {
        for (uint32_t k = 0; k < 3 && !state[i]; k++) {
            if (is_wall(e, corner(t, i, k), corner(t, i, k + 1)))
                state[i] = 1;
            else if (is_wall(e, corner(t, i, k + 1), corner(t, i, k)))
                state[i] = 2;
        }
        if (state[i])
            g_array_append_val(queue, i);
    }
    for (guint at = 0; at < queue->len; at++) {
        uint32_t i = g_array_index(queue, uint32_t, at);
        for (uint32_t k = 0; k < 3; k++) {
            uint32_t j = t->t[3 * i + k], a = corner(t, i, k), b = corner(t, i, k + 1);
            if (j == NONE || state[j] || is_wall(e, a, b) || is_wall(e, b, a))
                continue;
            state[j] = state[i];
            g_array_append_val(queue, j);
        }
    }
    return state;
}

/* The axis as a graph ----------------------------------------------------------------------- */

typedef struct {
    DtPoint at;
    uint32_t link[3];
    uint8_t n_links;
    uint8_t is_hub; /* centre of a triangle, not of an edge */
    uint8_t used;
} Joint;

static Joint *joint(GArray *g, uint32_t i)
{
    return &g_array_index(g, Joint, i);
}

static uint32_t add_joint(GArray *g, DtPoint at, gboolean hub)
{
    Joint j = {at, {NONE, NONE, NONE}, 0, hub != FALSE, 0};
    g_array_append_val(g, j);
    return g->len - 1;
}

static void add_link(GArray *g, uint32_t a, uint32_t b)
{
    if (joint(g, a)->n_links < 3 && joint(g, b)->n_links < 3) {
        joint(g, a)->link[joint(g, a)->n_links++] = b;
        joint(g, b)->link[joint(g, b)->n_links++] = a;
    }
}

static void drop_link(GArray *g, uint32_t a, uint32_t b)
{
    Joint *j = joint(g, a);
    for (uint8_t i = 0; i < j->n_links; i++)
        if (j->link[i] == b) {
            j->link[i] = j->link[--j->n_links];
            return;
        }
}

static DtPoint middle(const Edges *e, const uint32_t *v, size_t n)
{
    DtPoint sum = {0, 0};
    for (size_t i = 0; i < n; i++) {
        DtNode p = g_array_index(e->nodes, DtNode, v[i]);
        sum = dt_point_add(sum, dt_point(p.x, p.y));
    }
    return dt_point_scale(sum, 1 / (DT_GRID_PER_MM * (double)n));
}

static GArray *make_graph(const Edges *e, const DtTriangles *t, const uint8_t *state)
{
    GArray *g = g_array_new(FALSE, FALSE, sizeof(Joint));
    g_autofree uint32_t *edge_joint = g_new(uint32_t, 3 * t->n + 1);
    for (uint32_t i = 0; i < t->n; i++)
        for (uint32_t k = 0; k < 3; k++) {
            uint32_t j = t->t[3 * i + k], *id = &edge_joint[3 * i + k];
            uint32_t ends[2] = {corner(t, i, k), corner(t, i, k + 1)};
            *id = NONE;
            if (state[i] != 1 || j == NONE || state[j] != 1 || is_wall(e, ends[0], ends[1]))
                continue;
            if (i < j) {
                *id = add_joint(g, middle(e, ends, 2), FALSE);
                continue;
            }
            for (uint32_t q = 0; q < 3; q++)
                if (t->t[3 * j + q] == i)
                    *id = edge_joint[3 * j + q];
        }
    for (uint32_t i = 0; i < t->n; i++) {
        uint32_t in[3], n = 0;
        for (uint32_t k = 0; k < 3; k++)
            if (edge_joint[3 * i + k] != NONE)
                in[n++] = edge_joint[3 * i + k];
        if (n == 2)
            add_link(g, in[0], in[1]);
        if (n < 3)
            continue;
        uint32_t hub = add_joint(g, middle(e, &t->v[3 * i], 3), TRUE);
        for (uint32_t k = 0; k < 3; k++)
            add_link(g, hub, in[k]);
    }
    return g;
}

/* The joints from `from` through `to` to the next end or fork. */
static double walk(GArray *g, uint32_t from, uint32_t to, GArray *path)
{
    double length = 0;
    g_array_set_size(path, 0);
    g_array_append_val(path, from);
    while (to != NONE) {
        length += dt_point_distance(joint(g, from)->at, joint(g, to)->at);
        g_array_append_val(path, to);
        const Joint *j = joint(g, to);
        if (j->n_links != 2 || to == g_array_index(path, uint32_t, 0))
            break;
        uint32_t next = j->link[0] == from ? j->link[1] : j->link[0];
        from = to;
        to = next;
    }
    return length;
}

static void cut_twigs(GArray *g, double longest)
{
    g_autoptr(GArray) path = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    g_autoptr(GArray) cuts = g_array_new(FALSE, FALSE, 2 * sizeof(uint32_t));
    for (uint32_t i = 0; i < g->len; i++) {
        if (joint(g, i)->n_links != 1)
            continue;
        double length = walk(g, i, joint(g, i)->link[0], path);
        uint32_t pair[2] = {g_array_index(path, uint32_t, path->len - 2),
                            g_array_index(path, uint32_t, path->len - 1)};
        if (length >= longest || joint(g, pair[1])->n_links != 3)
            continue;
        for (guint k = 0; k + 1 < path->len; k++)
            joint(g, g_array_index(path, uint32_t, k))->used = 1;
        g_array_append_vals(cuts, pair, 1);
    }
    for (guint i = 0; i < cuts->len; i++) {
        const uint32_t *pair = (const uint32_t *)(void *)cuts->data + 2 * i;
        drop_link(g, pair[1], pair[0]);
    }
    for (uint32_t i = 0; i < g->len; i++)
        if (joint(g, i)->used)
            joint(g, i)->n_links = 0;
}

/* Output ------------------------------------------------------------------------------------ */

/* The square of a point's distance from a segment. */
static double distance2(DtPoint p, DtPoint a, DtPoint b)
{
    const DtPoint ab = dt_point_sub(b, a), ap = dt_point_sub(p, a);
    const double length2 = dt_point_dot(ab, ab);
    const double t = length2 > 0 ? CLAMP(dt_point_dot(ap, ab) / length2, 0, 1) : 0;
    const DtPoint d = dt_point_sub(ap, dt_point_scale(ab, t));
    return dt_point_dot(d, d);
}

static void add_bends(const DtPoint *p, size_t n, DtLines *out)
{
    double worst = FLAT * FLAT;
    size_t at = 0;
    for (size_t i = 1; i + 1 < n; i++) {
        double d = distance2(p[i], p[0], p[n - 1]);
        if (d > worst) {
            worst = d;
            at = i;
        }
    }
    if (at == 0)
        return;
    add_bends(p, at + 1, out);
    dt_lines_point(out, p[at]);
    add_bends(p + at, n - at, out);
}

/* Chords zigzag about the middle: each inner point is replaced by the mean of itself and the
 * midpoint of its neighbours. */
static void smooth(DtPoint *p, size_t n)
{
    for (int pass = 0; pass < 2; pass++) {
        DtPoint last = p[0];
        for (size_t i = 1; i + 1 < n; i++) {
            DtPoint here = p[i];
            p[i] = dt_point_lerp(dt_point_lerp(last, p[i + 1], 0.5), here, 0.5);
            last = here;
        }
    }
}

static void add_path(GArray *g, const GArray *path, DtLines *out)
{
    g_autoptr(GArray) pts = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    for (guint i = 0; i < path->len; i++) {
        Joint *j = joint(g, g_array_index(path, uint32_t, i));
        if (j->is_hub && j->n_links == 2 && i > 0 && i + 1 < path->len)
            continue; /* a fork that lost its twig */
        g_array_append_val(pts, j->at);
    }
    DtPoint *p = (DtPoint *)(void *)pts->data;
    smooth(p, pts->len);
    dt_lines_begin(out);
    dt_lines_point(out, p[0]);
    add_bends(p, pts->len, out);
    dt_lines_point(out, p[pts->len - 1]);
}

static void mark(GArray *g, const GArray *path)
{
    for (guint i = 0; i < path->len; i++)
        joint(g, g_array_index(path, uint32_t, i))->used = 1;
}

static void add_dot(DtPoint at, DtLines *out)
{
    dt_lines_begin(out);
    dt_lines_point(out, at);
    dt_lines_point(out, (DtPoint){at.x + DT_AXIS_DOT, at.y});
}

static void collect(GArray *g, DtLines *out)
{
    g_autoptr(GArray) path = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    for (uint32_t i = 0; i < g->len; i++) { /* between ends and forks */
        Joint *j = joint(g, i);
        if (j->n_links == 2 || j->n_links == 0)
            continue;
        for (uint8_t k = 0; k < j->n_links; k++) {
            uint32_t to = joint(g, i)->link[k];
            if (joint(g, to)->n_links == 2 && joint(g, to)->used)
                continue;
            walk(g, i, to, path);
            uint32_t last = g_array_index(path, uint32_t, path->len - 1);
            if (path->len == 2 && last < i)
                continue; /* a link between two forks, drawn from the other */
            mark(g, path);
            add_path(g, path, out);
        }
    }
    for (uint32_t i = 0; i < g->len; i++) { /* loops */
        if (joint(g, i)->used || joint(g, i)->n_links != 2)
            continue;
        walk(g, i, joint(g, i)->link[0], path);
        mark(g, path);
        add_path(g, path, out);
    }
    for (uint32_t i = 0; i < g->len; i++) /* forks that lost all their twigs */
        if (joint(g, i)->is_hub && !joint(g, i)->used && joint(g, i)->n_links == 0)
            add_dot(joint(g, i)->at, out);
}

void dt_axis_lines(const DtLines *rings, double by, DtLines *out)
{
    if (rings->n == 0)
        return;
    Edges e;
    make_edges(rings, step_for(by), &e);
    DtTriangles t;
    const DtNode *nodes = (const DtNode *)(const void *)e.nodes->data;
    dt_delaunay(nodes, e.nodes->len, &t);
    dt_delaunay_constrain(nodes, e.nodes->len, &e.walls, &t);
    g_autofree uint8_t *state = find_inside(&e, &t);
    GArray *g = make_graph(&e, &t, state);
    cut_twigs(g, TWIG * by);
    collect(g, out);
    g_array_free(g, TRUE);
    dt_triangles_clear(&t);
    g_array_free(e.nodes, TRUE);
    g_free(e.walls.first);
    g_free(e.walls.end);
}
