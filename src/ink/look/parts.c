/* parts: rings to pieces, edges to borders. */
#include "ink/look/parts.h"

#include "drawtrue/work.h"
#include "ink/plane/radix.h"
#include "ink/plane/split.h"

#include <math.h>

/* If the number of holes times that of outer rings exceeds this, the region is not taken apart:
 * that would take seconds. */
#define MOST_TESTS 20000000.0

typedef struct {
    DtBox box;
    double area;
    size_t ring;
} Outer;

static DtBox ring_box(const DtLines *l, size_t i)
{
    DtBox b = DT_BOX_EMPTY;
    for (size_t k = 0; k < dt_lines_count(l, i); k++)
        b = dt_box_add_point(b, dt_lines_at(l, i)[k]);
    return b;
}

static gboolean ring_holds(const DtLines *l, size_t ring, DtPoint p)
{
    const DtPoint *q = dt_lines_at(l, ring);
    size_t n = dt_lines_count(l, ring);
    gboolean in = FALSE;
    for (size_t i = 0, k = n - 1; i < n; k = i++)
        if ((q[i].y > p.y) != (q[k].y > p.y) &&
            p.x < q[i].x + (p.y - q[i].y) * (q[k].x - q[i].x) / (q[k].y - q[i].y))
            in = !in;
    return in;
}

/* A point just outside a hole's ring, and so inside its piece: by the middle of its longest edge. */
static DtPoint beside_hole(const DtLines *l, size_t ring)
{
    const DtPoint *p = dt_lines_at(l, ring);
    size_t n = dt_lines_count(l, ring), best = 0;
    double longest = -1;
    for (size_t i = 0; i < n; i++) {
        double d = dt_point_distance(p[i], p[(i + 1) % n]);
        if (d > longest) {
            longest = d;
            best = i;
        }
    }
    DtPoint a = p[best], b = p[(best + 1) % n], m = dt_point_lerp(a, b, 0.5);
    double k = longest > 0 ? 1e-4 / longest : 0;
    return dt_point(m.x - (b.y - a.y) * k, m.y + (b.x - a.x) * k); /* the area is at its left */
}

static int by_area(const void *pa, const void *pb)
{
    const Outer *a = pa, *b = pb;
    if (a->area != b->area)
        return a->area < b->area ? -1 : 1;
    return (a->ring > b->ring) - (a->ring < b->ring);
}

static void measure(DtPart *p)
{
    p->area = dt_region_area(&p->rings);
    double length = dt_lines_total_length(&p->rings);
    p->width = length > 0 ? 2 * p->area / length : 0;
}

static void add_whole(GArray *parts, int label, const DtLines *region)
{
    DtPart p = {.label = label};
    dt_lines_copy(&p.rings, region);
    measure(&p);
    g_array_append_val(parts, p);
}

gboolean dt_parts_add(GArray *parts, int label, const DtLines *region)
{
    g_autofree Outer *outer = g_new(Outer, region->n + 1);
    size_t n = 0;
    for (size_t i = 0; i < region->n; i++) {
        double area = dt_lines_area(region, i);
        if (area > 0)
            outer[n++] = (Outer){ring_box(region, i), area, i};
    }
    const gboolean too_many = (double)n * (double)(region->n - n) > MOST_TESTS;
    if (n < 2 || too_many) {
        if (region->n > 0)
            add_whole(parts, label, region);
        return !too_many;
    }
    qsort(outer, n, sizeof *outer, by_area);
    size_t first = parts->len;
    for (size_t i = 0; i < n; i++) {
        DtPart p = {.label = label};
        dt_lines_init(&p.rings);
        dt_lines_append(&p.rings, dt_lines_at(region, outer[i].ring),
                        dt_lines_count(region, outer[i].ring), TRUE);
        g_array_append_val(parts, p);
    }
    for (size_t i = 0; i < region->n && !dt_work_stopped(); i++) {
        if (dt_lines_area(region, i) > 0 || dt_lines_count(region, i) < 3)
            continue;
        DtPoint at = beside_hole(region, i);
        size_t k = 0;
        while (k + 1 < n && !dt_work_stopped() &&
               !(dt_box_contains(outer[k].box, at) && ring_holds(region, outer[k].ring, at)))
            k++;
        dt_lines_append(&g_array_index(parts, DtPart, first + k).rings, dt_lines_at(region, i),
                        dt_lines_count(region, i), TRUE);
    }
    for (size_t i = first; i < parts->len; i++)
        measure(&g_array_index(parts, DtPart, i));
    return TRUE;
}

void dt_part_clear(gpointer part)
{
    dt_lines_clear(&((DtPart *)part)->rings);
}

/* Borders ------------------------------------------------------------------------------------ */

/* Sorts by the pair; merges those of one pair. */
static void sum_up(GArray *borders)
{
    g_autofree DtPartBorder *old = g_memdup2(borders->data, borders->len * sizeof *old);
    g_autofree DtKey *keys = g_new(DtKey, borders->len + 1);
    for (guint i = 0; i < borders->len; i++)
        keys[i] = (DtKey){(uint64_t)dt_radix_signed(old[i].a) << 32 | dt_radix_signed(old[i].b), i};
    dt_radix_sort(keys, borders->len);
    guint k = 0;
    for (guint i = 0; i < borders->len; i++) {
        DtPartBorder b = old[keys[i].id];
        DtPartBorder *last = k > 0 ? &g_array_index(borders, DtPartBorder, k - 1) : NULL;
        if (last && last->a == b.a && last->b == b.b)
            last->length += b.length;
        else
            g_array_index(borders, DtPartBorder, k++) = b;
    }
    g_array_set_size(borders, k);
}

static void add_border(GArray *borders, int p, int q, double length)
{
    DtPartBorder b = {MIN(p, q), MAX(p, q), length};
    if (p != q)
        g_array_append_val(borders, b);
}

gboolean dt_parts_borders(const GArray *parts, GArray **edges, GArray **borders, GError **error)
{
    *edges = g_array_new(FALSE, FALSE, sizeof(DtPartEdge));
    *borders = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    g_autoptr(DtPlane) plane = dt_plane_new();
    for (guint i = 0; i < parts->len; i++) {
        int layer = dt_plane_add_layer(plane, DT_PLANE_NONZERO, (int)i + 1);
        dt_plane_add_rings(plane, layer, &g_array_index(parts, DtPart, i).rings);
    }
    if (!dt_plane_build(plane, error))
        return FALSE;
    for (size_t i = 0; i < dt_plane_n_edges(plane); i++) {
        int left, right;
        DtNode a, b;
        dt_plane_edge_sides(plane, i, &left, &right);
        if (left == right)
            continue;
        dt_plane_edge(plane, i, &a, &b);
        DtPartEdge e = {{a.x / DT_GRID_PER_MM, a.y / DT_GRID_PER_MM},
                        {b.x / DT_GRID_PER_MM, b.y / DT_GRID_PER_MM},
                        left - 1,
                        right - 1};
        g_array_append_val(*edges, e);
        add_border(*borders, e.left, e.right, dt_point_distance(e.a, e.b));
    }
    sum_up(*borders);
    return TRUE;
}

static DtNode node_at(DtPoint p)
{
    return (DtNode){(int32_t)lround(p.x * DT_GRID_PER_MM), (int32_t)lround(p.y * DT_GRID_PER_MM)};
}

static uint64_t node_key(DtPoint p)
{
    const DtNode n = node_at(p);
    return (uint64_t)dt_radix_signed(n.y) << 32 | dt_radix_signed(n.x);
}

/* The edge from p to q, which has a part on its left, as a plane gives it: from the lower node. */
static DtPartEdge edge_of_ring(DtPoint p, DtPoint q, int part)
{
    if (dt_node_compare(node_at(p), node_at(q)) < 0)
        return (DtPartEdge){p, q, part, -1};
    return (DtPartEdge){q, p, -1, part};
}

/* By their lower ends, then by their upper ones: the order of a plane's edges. */
static void sort_edges(GArray *edges)
{
    g_autofree DtPartEdge *old = g_memdup2(edges->data, edges->len * sizeof *old);
    g_autofree DtKey *keys = g_new(DtKey, edges->len + 1);
    for (guint i = 0; i < edges->len; i++)
        keys[i] = (DtKey){node_key(old[i].b), i};
    dt_radix_sort(keys, edges->len);
    for (guint i = 0; i < edges->len; i++)
        keys[i].key = node_key(old[keys[i].id].a);
    dt_radix_sort(keys, edges->len);
    for (guint i = 0; i < edges->len && !dt_work_stopped(); i++)
        g_array_index(edges, DtPartEdge, i) = old[keys[i].id];
}

void dt_parts_borders_apart(const GArray *parts, GArray **edges, GArray **borders)
{
    *edges = g_array_new(FALSE, FALSE, sizeof(DtPartEdge));
    *borders = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    for (guint i = 0; i < parts->len && !dt_work_stopped(); i++) {
        const DtLines *l = &g_array_index(parts, DtPart, i).rings;
        for (size_t r = 0; r < l->n; r++) {
            const DtPoint *p = dt_lines_at(l, r);
            const size_t n = dt_lines_count(l, r);
            for (size_t k = 0; k < n; k++) {
                const DtPartEdge e = edge_of_ring(p[k], p[(k + 1) % n], (int)i);
                g_array_append_val(*edges, e);
            }
        }
    }
    sort_edges(*edges);
    for (guint i = 0; i < (*edges)->len && !dt_work_stopped(); i++) {
        const DtPartEdge *e = &g_array_index(*edges, DtPartEdge, i);
        add_border(*borders, e->left, e->right, dt_point_distance(e->a, e->b));
    }
    sum_up(*borders);
}

GArray *dt_parts_group_borders(const GArray *borders, const int *of)
{
    GArray *out = g_array_new(FALSE, FALSE, sizeof(DtPartBorder));
    for (guint i = 0; i < borders->len; i++) {
        const DtPartBorder *b = &g_array_index(borders, DtPartBorder, i);
        add_border(out, b->a < 0 ? -1 : of[b->a], of[b->b], b->length);
    }
    sum_up(out);
    return out;
}

/* Bends of a region flatter than this (mm) are dropped when it is narrowed and widened again, and by so much more it is
 * widened. */
#define FLAT 0.01
#define MARGIN 0.02

gboolean dt_parts_find_wide(const DtLines *region, double width, DtLines *out, GError **error)
{
    g_auto(DtLines) plain, core;
    dt_lines_init(&plain);
    dt_lines_init(&core);
    dt_region_simplify(region, FLAT, &plain);
    return dt_region_inset(&plain, width / 2, &core, error) &&
           (core.n == 0 || dt_region_inset(&core, -width / 2 - MARGIN, out, error));
}
