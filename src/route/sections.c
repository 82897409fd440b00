/* sections: marks on the pieces, found by a grid over their edges, and the sections between
 * them. */
#include "route/sections.h"

#include "drawtrue/work.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_EDGES = 1000000, MOST_MARKS = 60000, MOST_PAIRS = 30000000, MOST_AROUND = 32 };

typedef struct {
    uint64_t cell;
    uint32_t piece, edge;
} Entry;

/* A place on a piece: the index of an edge's first vertex plus the fraction of the edge behind it. */
typedef struct {
    uint32_t piece, node;
    double place;
    DtPoint at;
} Mark;

typedef struct {
    const DtPieces *set;
    double join, cell;
    Entry *entry;
    size_t n_entries;
    size_t *first_vertex; /* of each piece, into `along` */
    double *along;   /* of each vertex, mm from the piece's first; one more where it is closed */
    GArray *marks;   /* Mark */
    GArray *touch;   /* uint32_t pairs of marks */
    uint32_t *group; /* of each piece: union-find by halving */
    size_t pairs;    /* number of edges examined */
} Cutting;

static size_t edges_of(const DtPiece *p)
{
    return p->n < 2 ? 0 : p->closed ? p->n : p->n - 1;
}

static DtPoint vertex(const DtPiece *p, size_t i)
{
    return p->pts[i < p->n ? i : i - p->n];
}

/* Grid --------------------------------------------------------------------------------------- */

static uint64_t cell_key(const Cutting *c, double x, double y)
{
    const int64_t i = (int64_t)floor(x / c->cell), k = (int64_t)floor(y / c->cell);
    return (uint64_t)(uint32_t)(int32_t)i << 32 | (uint32_t)(int32_t)k;
}

static int by_cell(const void *x, const void *y)
{
    const Entry *a = x, *b = y;
    if (a->cell != b->cell)
        return a->cell < b->cell ? -1 : 1;
    if (a->piece != b->piece)
        return a->piece < b->piece ? -1 : 1;
    return (a->edge > b->edge) - (a->edge < b->edge);
}

/* Enters the edge in every cell that it passes: the cells on both sides of each grid line it
 * crosses. */
static void enter_edge(const Cutting *c, GArray *entries, uint32_t piece, uint32_t edge)
{
    const DtPiece *p = &c->set->p[piece];
    const DtPoint a = vertex(p, edge), b = vertex(p, edge + 1);
    const int64_t x0 = (int64_t)floor(MIN(a.x, b.x) / c->cell),
                  x1 = (int64_t)floor(MAX(a.x, b.x) / c->cell);
    for (int64_t x = x0; x <= x1; x++) {
        double y0 = MIN(a.y, b.y), y1 = MAX(a.y, b.y);
        if (x0 != x1) {
            const double slope = (b.y - a.y) / (b.x - a.x), left = (double)x * c->cell;
            const double u = a.y + slope * (left - a.x), w = u + slope * c->cell;
            y0 = MAX(y0, MIN(u, w) - 1e-9);
            y1 = MIN(y1, MAX(u, w) + 1e-9);
        }
        for (int64_t y = (int64_t)floor(y0 / c->cell); y <= (int64_t)floor(y1 / c->cell); y++) {
            const Entry e = {(uint64_t)(uint32_t)(int32_t)x << 32 | (uint32_t)(int32_t)y, piece,
                             edge};
            g_array_append_val(entries, e);
        }
    }
}

static gboolean fill_grid(Cutting *c)
{
    GArray *entries = g_array_new(FALSE, FALSE, sizeof(Entry));
    for (size_t i = 0; i < c->set->n; i++)
        for (size_t e = 0; e < edges_of(&c->set->p[i]) && entries->len < 4 * MOST_EDGES; e++)
            enter_edge(c, entries, (uint32_t)i, (uint32_t)e);
    c->n_entries = entries->len;
    c->entry = (Entry *)(void *)g_array_free(entries, FALSE);
    if (c->n_entries >= 4 * MOST_EDGES)
        return FALSE;
    qsort(c->entry, c->n_entries, sizeof *c->entry, by_cell);
    return TRUE;
}

static size_t first_of(const Cutting *c, uint64_t cell)
{
    size_t low = 0, high = c->n_entries;
    while (low < high) {
        const size_t middle = (low + high) / 2;
        if (c->entry[middle].cell < cell)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static gboolean measure(Cutting *c)
{
    size_t edges = 0, vertices = 0;
    c->first_vertex = g_new(size_t, c->set->n);
    for (size_t i = 0; i < c->set->n; i++) {
        c->first_vertex[i] = vertices;
        edges += edges_of(&c->set->p[i]);
        vertices += c->set->p[i].n + 1;
    }
    if (edges > MOST_EDGES)
        return FALSE;
    c->along = g_new(double, vertices);
    for (size_t i = 0; i < c->set->n; i++) {
        const DtPiece *p = &c->set->p[i];
        double *along = c->along + c->first_vertex[i];
        along[0] = 0;
        for (size_t e = 0; e < edges_of(p); e++)
            along[e + 1] = along[e] + dt_point_distance(vertex(p, e), vertex(p, e + 1));
    }
    return TRUE;
}

static double mm_at(const Cutting *c, uint32_t piece, double place)
{
    const double *along = c->along + c->first_vertex[piece];
    const size_t e = (size_t)place, last = edges_of(&c->set->p[piece]);
    return e >= last ? along[last] : along[e] + (place - (double)e) * (along[e + 1] - along[e]);
}

/* Marks -------------------------------------------------------------------------------------- */

static uint32_t add_mark(Cutting *c, uint32_t piece, double place, DtPoint at)
{
    const Mark m = {piece, DT_NO_NODE, place, at};
    g_array_append_val(c->marks, m);
    return c->marks->len - 1;
}

static void add_touch(Cutting *c, uint32_t a, uint32_t b)
{
    g_array_append_val(c->touch, a);
    g_array_append_val(c->touch, b);
}

/* The two ends of each open piece. */
static void mark_ends(Cutting *c)
{
    for (uint32_t i = 0; i < c->set->n; i++) {
        const DtPiece *p = &c->set->p[i];
        if (p->closed || p->n < 2)
            continue;
        add_mark(c, i, 0, p->pts[0]);
        add_mark(c, i, (double)(p->n - 1), p->pts[p->n - 1]);
    }
}

/* What an end comes near: the nearest place of each piece. */
typedef struct {
    uint32_t piece;
    double place, distance;
    DtPoint at;
} Nearby;

typedef struct {
    uint32_t self;
    double self_mm;
    DtPoint at;
    Nearby found[MOST_AROUND];
    int n;
} Around;

static Nearby nearest_on(const Cutting *c, const Entry *e, DtPoint at)
{
    const DtPiece *p = &c->set->p[e->piece];
    const DtPoint a = vertex(p, e->edge), b = vertex(p, e->edge + 1), d = dt_point_sub(b, a);
    const double n = dt_point_dot(d, d);
    const double t = n > 0 ? CLAMP(dt_point_dot(dt_point_sub(at, a), d) / n, 0, 1) : 0;
    const DtPoint q = dt_point_lerp(a, b, t);
    Nearby near = {e->piece, e->edge + t, dt_point_distance(q, at), q};
    for (int k = 0; k < 2 && !p->closed; k++) { /* preferably an end rather than a place beside
                                                 * it */
        const DtPoint end = p->pts[k ? p->n - 1 : 0];
        const gboolean here = e->edge == (k ? p->n - 2 : 0);
        if (here && dt_point_distance(end, at) <= c->join)
            near = (Nearby){e->piece, k ? (double)(p->n - 1) : 0, 0, end};
    }
    return near;
}

static void look_at_edge(Cutting *c, const Entry *e, void *user)
{
    Around *a = user;
    Nearby near = nearest_on(c, e, a->at);
    const double distance = dt_point_distance(near.at, a->at);
    if (distance > c->join ||
        (e->piece == a->self && fabs(mm_at(c, e->piece, near.place) - a->self_mm) < 4 * c->join))
        return;
    int k = 0;
    while (k < a->n && a->found[k].piece != near.piece)
        k++;
    if (k == a->n && a->n == MOST_AROUND)
        return;
    if (k == a->n)
        a->found[a->n++] = near;
    else if (near.distance < a->found[k].distance)
        a->found[k] = near;
}

typedef void (*Meeting)(Cutting *c, const Entry *e, void *user);

/* Calls back for every edge in the cells within the join of a place; for some more than once. */
static void each_around(Cutting *c, DtPoint at, Meeting met, void *user)
{
    uint64_t seen[9];
    int n = 0;
    for (int k = 0; k < 9; k++) {
        const uint64_t cell =
            cell_key(c, at.x + (k % 3 - 1) * c->join, at.y + (k / 3 - 1) * c->join);
        gboolean known = FALSE;
        for (int j = 0; j < n; j++)
            known |= seen[j] == cell;
        if (known)
            continue;
        seen[n++] = cell;
        for (size_t i = first_of(c, cell); i < c->n_entries && c->entry[i].cell == cell; i++) {
            c->pairs++;
            met(c, &c->entry[i], user);
        }
    }
}

static void touch_at_end(Cutting *c, uint32_t mark)
{
    const Mark m = g_array_index(c->marks, Mark, mark);
    Around a = {.self = m.piece, .self_mm = mm_at(c, m.piece, m.place), .at = m.at};
    each_around(c, m.at, look_at_edge, &a);
    for (int k = 0; k < a.n; k++)
        add_touch(c, mark, add_mark(c, a.found[k].piece, a.found[k].place, a.found[k].at));
}

static void touch_at_ends(Cutting *c)
{
    const guint n = c->marks->len;
    for (guint i = 0; i < n && !dt_work_stopped(); i++)
        touch_at_end(c, i);
}

/* Crossings ---------------------------------------------------------------------------------- */

static gboolean are_adjacent(const Cutting *c, const Entry *x, const Entry *y)
{
    if (x->piece != y->piece)
        return FALSE;
    const DtPiece *p = &c->set->p[x->piece];
    const uint32_t apart = MAX(x->edge, y->edge) - MIN(x->edge, y->edge);
    return apart <= 1 || (p->closed && apart + 1 == p->n);
}

static void cross(Cutting *c, const Entry *x, const Entry *y)
{
    const DtPiece *p = &c->set->p[x->piece], *q = &c->set->p[y->piece];
    const DtPoint a = vertex(p, x->edge), b = vertex(q, y->edge);
    const DtPoint u = dt_point_sub(vertex(p, x->edge + 1), a),
                  v = dt_point_sub(vertex(q, y->edge + 1), b), w = dt_point_sub(b, a);
    const double area = dt_point_cross(u, v), parallel = 1e-6;
    /* Crossings of edges of one line, such as a hatch line with a gap in it, are due to
     * rounding. */
    if (area * area <= parallel * parallel * dt_point_dot(u, u) * dt_point_dot(v, v))
        return;
    const double s = dt_point_cross(w, v) / area, t = dt_point_cross(w, u) / area;
    if (s < 0 || s > 1 || t < 0 || t > 1)
        return;
    const DtPoint at = dt_point_lerp(a, dt_point_add(a, u), s);
    if (cell_key(c, at.x, at.y) != x->cell) /* found in its own cell only */
        return;
    add_touch(c, add_mark(c, x->piece, x->edge + s, at), add_mark(c, y->piece, y->edge + t, at));
}

static gboolean touch_at_crossings(Cutting *c)
{
    for (size_t i = 0; i < c->n_entries; i++) {
        for (size_t k = i + 1; k < c->n_entries && c->entry[k].cell == c->entry[i].cell; k++) {
            c->pairs++;
            if (!are_adjacent(c, &c->entry[i], &c->entry[k]))
                cross(c, &c->entry[i], &c->entry[k]);
        }
        if (c->pairs > MOST_PAIRS || c->marks->len > MOST_MARKS || dt_work_stopped())
            return FALSE;
    }
    return TRUE;
}

/* Loops -------------------------------------------------------------------------------------- */

static uint32_t group_of(Cutting *c, uint32_t i)
{
    while (c->group[i] != i)
        i = c->group[i] = c->group[c->group[i]];
    return i;
}

static void group_touching(Cutting *c)
{
    c->group = g_new(uint32_t, c->set->n);
    for (uint32_t i = 0; i < c->set->n; i++)
        c->group[i] = i;
    for (guint i = 0; i + 1 < c->touch->len; i += 2) {
        const uint32_t *both = &g_array_index(c->touch, uint32_t, i);
        const uint32_t a = g_array_index(c->marks, Mark, both[0]).piece,
                       b = g_array_index(c->marks, Mark, both[1]).piece;
        c->group[group_of(c, a)] = group_of(c, b);
    }
}

typedef struct {
    uint32_t piece, vertex;
} Corner;

/* A loop and something that it is not connected with yet. */
static void hang_loop(Cutting *c, const Entry *e, void *user)
{
    const Corner *k = user;
    const DtPiece *p = &c->set->p[k->piece];
    if (!p->closed && !c->set->p[e->piece].closed)
        return;
    if (group_of(c, k->piece) == group_of(c, e->piece))
        return;
    const DtPoint at = p->pts[k->vertex];
    const Nearby near = nearest_on(c, e, at);
    if (dt_point_distance(near.at, at) > c->join)
        return;
    add_touch(c, add_mark(c, k->piece, k->vertex, at),
              add_mark(c, near.piece, near.place, near.at));
    c->group[group_of(c, k->piece)] = group_of(c, e->piece);
}

/* Two edges that do not cross are nearest at an end of one of them. */
static gboolean touch_at_loops(Cutting *c)
{
    gboolean any = FALSE;
    for (size_t i = 0; i < c->set->n; i++)
        any |= c->set->p[i].closed;
    group_touching(c);
    for (uint32_t i = 0; i < c->set->n && any; i++) {
        const DtPiece *p = &c->set->p[i];
        for (uint32_t v = 0; v < p->n && p->n > 1; v++) {
            Corner k = {i, v};
            each_around(c, p->pts[v], hang_loop, &k);
        }
        if (c->pairs > MOST_PAIRS || dt_work_stopped())
            return FALSE;
    }
    return TRUE;
}

/* Sections ----------------------------------------------------------------------------------- */

static gint by_place(gconstpointer x, gconstpointer y, gpointer user)
{
    const GArray *marks = user;
    const uint32_t *i = x, *k = y;
    const Mark *a = &g_array_index(marks, Mark, *i), *b = &g_array_index(marks, Mark, *k);
    if (a->piece != b->piece)
        return a->piece < b->piece ? -1 : 1;
    if (a->place != b->place)
        return a->place < b->place ? -1 : 1;
    return (*i > *k) - (*i < *k);
}

static uint32_t add_node(DtSections *out, GArray *nodes, DtPoint at)
{
    g_array_append_val(nodes, at);
    return out->n_nodes++;
}

static void add_section(DtSections *out, GArray *ends, const DtPiece *p, const Mark *from,
                        const Mark *to)
{
    const size_t first = (size_t)from->place + 1;
    double until = to->place;
    if (until <= from->place && p->closed)
        until += (double)p->n;
    GArray *pts = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    g_array_append_val(pts, from->at);
    for (size_t k = first; (double)k < until; k++) {
        const DtPoint v = vertex(p, k);
        g_array_append_val(pts, v);
    }
    g_array_append_val(pts, to->at);
    DtPiece section = {.n = pts->len, .stroke = p->stroke};
    section.pts = (const DtPoint *)(const void *)pts->data;
    g_ptr_array_add(out->owned, g_array_free(pts, FALSE));
    const uint32_t both[2] = {from->node, to->node};
    g_array_append_vals(ends, both, 2);
    dt_pieces_add(&out->set, section);
}

static void keep_whole(DtSections *out, GArray *ends, const DtPiece *p)
{
    const uint32_t none[2] = {DT_NO_NODE, DT_NO_NODE};
    g_array_append_vals(ends, none, 2);
    dt_pieces_add(&out->set, *p);
}

typedef struct {
    GArray *nodes, *ends;
    DtSections *out;
} Output;

/* Gives each of a piece's marks, which come in order, a node; marks close together share one.
 * The last one of an open piece has its own. */
static GArray *merge_marks(Cutting *c, Output *o, const uint32_t *order, size_t n)
{
    const double least = c->join / 4;
    GArray *kept = g_array_new(FALSE, FALSE, sizeof(Mark));
    const uint32_t piece = g_array_index(c->marks, Mark, order[0]).piece;
    const DtPiece *p = &c->set->p[piece];
    const double whole = mm_at(c, piece, (double)edges_of(p));
    double last_mm = -1;
    for (size_t i = 0; i < n; i++) {
        Mark *m = &g_array_index(c->marks, Mark, order[i]);
        const double mm = mm_at(c, piece, m->place);
        const gboolean is_end = !p->closed && m->place == (double)(p->n - 1);
        const gboolean beside_end = !p->closed && whole - mm <= least && mm > least && !is_end;
        if (p->closed && kept->len > 0 &&
            whole - mm + mm_at(c, piece, g_array_index(kept, Mark, 0).place) <= least) {
            m->node = g_array_index(kept, Mark, 0).node;
            continue;
        }
        if (beside_end) /* the end comes last, and takes it */
            continue;
        if (kept->len > 0 && (is_end ? last_mm >= whole && kept->len > 1 : mm - last_mm <= least)) {
            m->node = g_array_index(kept, Mark, kept->len - 1).node;
            continue;
        }
        m->node = add_node(o->out, o->nodes, m->at);
        last_mm = is_end ? whole : mm;
        g_array_append_val(kept, *m);
    }
    for (size_t i = 0; i < n; i++) {
        Mark *m = &g_array_index(c->marks, Mark, order[i]);
        if (m->node == DT_NO_NODE)
            m->node = g_array_index(kept, Mark, kept->len - 1).node;
    }
    return kept;
}

static void cut_piece(Cutting *c, Output *o, uint32_t piece, const uint32_t *order, size_t n)
{
    const DtPiece *p = &c->set->p[piece];
    if (n == 0) {
        keep_whole(o->out, o->ends, p);
        return;
    }
    g_autoptr(GArray) kept = merge_marks(c, o, order, n);
    const Mark *m = (const Mark *)(const void *)kept->data;
    for (guint k = 0; k + 1 < kept->len; k++)
        add_section(o->out, o->ends, p, &m[k], &m[k + 1]);
    if (p->closed)
        add_section(o->out, o->ends, p, &m[kept->len - 1], &m[0]);
}

static void cut_all(Cutting *c, DtSections *out)
{
    const guint n = c->marks->len;
    g_autofree uint32_t *order = g_new(uint32_t, n + 1);
    Output o = {g_array_new(FALSE, FALSE, sizeof(DtPoint)),
                g_array_new(FALSE, FALSE, sizeof(uint32_t)), out};
    for (guint i = 0; i < n; i++)
        order[i] = i;
    g_qsort_with_data(order, (gint)n, sizeof *order, by_place, c->marks);
    guint from = 0;
    for (uint32_t i = 0; i < c->set->n; i++) {
        guint to = from;
        while (to < n && g_array_index(c->marks, Mark, order[to]).piece == i)
            to++;
        cut_piece(c, &o, i, order + from, to - from);
        from = to;
    }
    out->at = (DtPoint *)(void *)g_array_free(o.nodes, FALSE);
    out->node = (uint32_t(*)[2])(void *)g_array_free(o.ends, FALSE);
}

/* After marks were merged two nodes may be too far apart. */
static void take_contacts(const Cutting *c, DtSections *out)
{
    out->contact = g_malloc(sizeof *out->contact * (c->touch->len / 2 + 1));
    for (guint i = 0; i + 1 < c->touch->len; i += 2) {
        const uint32_t a = g_array_index(c->marks, Mark, g_array_index(c->touch, uint32_t, i)).node,
                       b = g_array_index(c->marks, Mark, g_array_index(c->touch, uint32_t, i + 1))
                               .node;
        if (a == b || dt_point_distance(out->at[a], out->at[b]) > c->join + 1e-9)
            continue;
        out->contact[out->n_contacts][0] = a;
        out->contact[out->n_contacts++][1] = b;
    }
}

gboolean dt_sections_cut(const DtPieces *set, double join, DtSections *out)
{
    Cutting c = {.set = set,
                 .join = join,
                 .cell = MAX(1, 4 * join),
                 .marks = g_array_new(FALSE, FALSE, sizeof(Mark)),
                 .touch = g_array_new(FALSE, FALSE, sizeof(uint32_t))};
    gboolean good = measure(&c) && fill_grid(&c);
    if (good) {
        mark_ends(&c);
        touch_at_ends(&c);
        good = touch_at_crossings(&c) && touch_at_loops(&c);
    }
    *out = (DtSections){0};
    if (good) {
        out->owned = g_ptr_array_new_with_free_func(g_free);
        cut_all(&c, out);
        take_contacts(&c, out);
    }
    g_free(c.entry);
    g_free(c.first_vertex);
    g_free(c.along);
    g_free(c.group);
    g_array_unref(c.marks);
    g_array_unref(c.touch);
    return good;
}

void dt_sections_clear(DtSections *s)
{
    g_free(s->set.p);
    g_free(s->node);
    g_free(s->at);
    g_free(s->contact);
    if (s->owned)
        g_ptr_array_unref(s->owned);
    *s = (DtSections){0};
}
