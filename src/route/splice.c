/* splice: finds where pieces touch loops by a grid over the loops' edges, attaches each loop to
 * one piece, and rewrites the pieces that got one. */
#include "route/splice.h"

#include "drawtrue/work.h"

#include <math.h>
#include <string.h>

#define NONE G_MAXUINT32

/* A loop attached to its host. A place on a piece is the index of an edge's first vertex plus
 * the fraction of the edge after it. */
typedef struct {
    uint32_t guest, next; /* next of the same host */
    double host_place, guest_place;
    DtPoint host_at, guest_at;
} Hook;

/* Edges of the loops by the cells that they pass: those of cell i are edge[start[i]] to
 * edge[end[i] - 1]. So that thousands of overlapping loops are each examined once, the edges of
 * a loop that has been attached are removed from the cells in which they are met. */
typedef struct {
    DtPoint origin;
    double cell;
    uint32_t columns, rows;
    uint32_t *start, *end, *edge;
} Grid;

typedef struct {
    DtPieces *set;
    double join;
    uint32_t *first_edge; /* for each piece; an edge's number is that plus its first vertex */
    uint32_t *owner;      /* of each edge of a loop */
    uint32_t n_edges;
    Grid grid;
    Hook *hooks;
    uint32_t n_hooks;
    uint32_t *hook;   /* first hook of each host, NONE: none */
    uint8_t *is_hung; /* of each piece */
    uint32_t *queue;  /* hosts whose paths are still to be searched along */
    uint32_t n_queue;
} Splicing;

void dt_pieces_add(DtPieces *to, DtPiece piece)
{
    if (to->n == to->cap) {
        to->cap = MAX(64, 2 * to->cap);
        to->p = g_renew(DtPiece, to->p, to->cap);
    }
    to->p[to->n++] = piece;
}

static inline DtPoint vertex(const DtPiece *p, size_t i)
{
    return p->pts[i < p->n ? i : i - p->n];
}

static inline size_t edges_of(const DtPiece *p)
{
    return p->closed ? p->n : p->n - 1;
}

/* Grid --------------------------------------------------------------------------------------- */

/* Cells that part of an edge, at most a cell long, passes, extended by the join. */
typedef struct {
    uint32_t x0, y0, x1, y1;
} Cells;

static uint32_t cell_of(double v, double origin, double cell, uint32_t most)
{
    double k = floor((v - origin) / cell);
    return k <= 0 ? 0 : k >= most ? most - 1 : (uint32_t)k;
}

static Cells cells_around(const Grid *g, DtPoint a, DtPoint b, double by)
{
    return (Cells){cell_of(MIN(a.x, b.x) - by, g->origin.x, g->cell, g->columns),
                   cell_of(MIN(a.y, b.y) - by, g->origin.y, g->cell, g->rows),
                   cell_of(MAX(a.x, b.x) + by, g->origin.x, g->cell, g->columns),
                   cell_of(MAX(a.y, b.y) + by, g->origin.y, g->cell, g->rows)};
}

/* The number of parts into which an edge is divided, each no longer than a cell. */
static uint32_t stretches(const Grid *g, DtPoint a, DtPoint b)
{
    return 1 + (uint32_t)MIN(dt_point_distance(a, b) / g->cell, 1e6);
}

/* Counts, or with `put` enters, the edge in the cells that it passes; a cell shared by two parts
 * may get it twice. */
static void enter_edge(Grid *g, DtPoint a, DtPoint b, uint32_t edge, gboolean put)
{
    uint32_t n = stretches(g, a, b);
    for (uint32_t k = 0; k < n; k++) {
        Cells c = cells_around(g, dt_point_lerp(a, b, (double)k / n),
                               dt_point_lerp(a, b, (double)(k + 1) / n), 0);
        for (uint32_t y = c.y0; y <= c.y1; y++)
            for (uint32_t x = c.x0; x <= c.x1; x++) {
                uint32_t *at = &g->start[y * g->columns + x];
                if (put)
                    g->edge[--*at] = edge;
                else
                    ++*at;
            }
    }
}

static void enter_loops(Splicing *s, gboolean put)
{
    for (size_t i = 0; i < s->set->n && !dt_work_stopped(); i++) {
        const DtPiece *p = &s->set->p[i];
        for (size_t e = 0; p->closed && e < p->n; e++)
            enter_edge(&s->grid, vertex(p, e), vertex(p, e + 1), s->first_edge[i] + (uint32_t)e,
                       put);
    }
}

/* Numbers the edges of the loops; their box and length determine the grid. FALSE if there is
 * nothing to find. */
static gboolean measure(Splicing *s)
{
    DtBox box = DT_BOX_EMPTY;
    double length = 0;
    uint64_t n = 0;
    for (size_t i = 0; i < s->set->n; i++) {
        const DtPiece *p = &s->set->p[i];
        s->first_edge[i] = (uint32_t)n;
        if (!p->closed)
            continue;
        n += p->n;
        if (n > G_MAXINT32)
            return FALSE;
        for (size_t e = 0; e < p->n; e++) {
            box = dt_box_add_point(box, p->pts[e]);
            length += dt_point_distance(p->pts[e], vertex(p, e + 1));
        }
    }
    if (n == 0 || !isfinite(length))
        return FALSE;
    s->n_edges = (uint32_t)n;
    /* About as many cells as edges, no smaller than the join, with a few parts per edge at most. */
    double w = dt_box_width(box), h = dt_box_height(box), count = (double)n;
    double cell = MAX(MAX(sqrt(w * h / count), length / (4 * count)), 2 * s->join);
    cell = MAX(cell, MAX(w, h) / 20000);
    s->grid.cell = cell > 0 ? cell : 1;
    s->grid.origin = dt_point(box.x0, box.y0);
    s->grid.columns = (uint32_t)(w / s->grid.cell) + 1;
    s->grid.rows = (uint32_t)(h / s->grid.cell) + 1;
    return TRUE;
}

static void grid_init(Splicing *s)
{
    Grid *g = &s->grid;
    size_t cells = (size_t)g->columns * g->rows;
    g->start = g_new0(uint32_t, cells + 1);
    enter_loops(s, FALSE);
    for (size_t i = 0; i < cells; i++)
        g->start[i + 1] += g->start[i];
    g->edge = g_new(uint32_t, g->start[cells] + 1);
    enter_loops(s, TRUE);
    g->end = g_memdup2(g->start + 1, cells * sizeof *g->end);
    s->owner = g_new(uint32_t, s->n_edges);
    for (size_t i = 0; i < s->set->n; i++)
        for (size_t e = 0; s->set->p[i].closed && e < s->set->p[i].n; e++)
            s->owner[s->first_edge[i] + e] = (uint32_t)i;
}

/* Contacts ----------------------------------------------------------------------------------- */

/* Fractions along two segments at which they are nearest (Ericson 2005, "Real-Time Collision
 * Detection", 5.1.9, in the plane). */
typedef struct {
    double s, t, distance;
} Contact;

static double fraction_near(DtPoint p, DtPoint a, DtPoint b)
{
    DtPoint d = dt_point_sub(b, a);
    double n = dt_point_dot(d, d);
    return n > 0 ? CLAMP(dt_point_dot(dt_point_sub(p, a), d) / n, 0, 1) : 0;
}

static void offer(Contact *best, DtPoint a, DtPoint b, double s, DtPoint c, DtPoint d, double t)
{
    double distance = dt_point_distance(dt_point_lerp(a, b, s), dt_point_lerp(c, d, t));
    if (distance < best->distance)
        *best = (Contact){s, t, distance};
}

static Contact nearest_of(DtPoint a, DtPoint b, DtPoint c, DtPoint d)
{
    Contact best = {0, 0, G_MAXDOUBLE};
    offer(&best, a, b, 0, c, d, fraction_near(a, c, d));
    offer(&best, a, b, 1, c, d, fraction_near(b, c, d));
    offer(&best, a, b, fraction_near(c, a, b), c, d, 0);
    offer(&best, a, b, fraction_near(d, a, b), c, d, 1);
    DtPoint u = dt_point_sub(b, a), v = dt_point_sub(d, c), w = dt_point_sub(c, a);
    double cross = dt_point_cross(u, v);
    if (cross != 0) {
        double s = dt_point_cross(w, v) / cross, t = dt_point_cross(w, u) / cross;
        if (s > 0 && s < 1 && t > 0 && t < 1)
            best = (Contact){s, t, 0};
    }
    return best;
}

static void hang(Splicing *s, uint32_t host, double host_place, DtPoint host_at, uint32_t edge,
                 double t)
{
    uint32_t guest = s->owner[edge], e = edge - s->first_edge[guest];
    const DtPiece *p = &s->set->p[guest];
    s->hooks[s->n_hooks] = (Hook){.guest = guest,
                                  .next = s->hook[host],
                                  .host_place = host_place,
                                  .guest_place = e + t,
                                  .host_at = host_at,
                                  .guest_at = dt_point_lerp(vertex(p, e), vertex(p, e + 1), t)};
    s->hook[host] = s->n_hooks++;
    s->is_hung[guest] = 1;
    s->queue[s->n_queue++] = guest;
}

/* A part of a host's edge, from a to b: from the fraction f0 of the edge to f1. */
typedef struct {
    uint32_t host;
    size_t edge;
    double f0, f1;
    DtPoint a, b;
} Stretch;

/* Attaches every loop of the cell that is within the join of the part. */
static void look_in_cell(Splicing *s, const Stretch *h, size_t cell)
{
    Grid *g = &s->grid;
    for (uint32_t i = g->start[cell]; i < g->end[cell];) {
        uint32_t other = g->edge[i], loop = s->owner[other];
        if (s->is_hung[loop]) {
            g->edge[i] = g->edge[--g->end[cell]];
            continue;
        }
        size_t e = other - s->first_edge[loop];
        const DtPiece *l = &s->set->p[loop];
        Contact at = nearest_of(h->a, h->b, vertex(l, e), vertex(l, e + 1));
        if (at.distance <= s->join)
            hang(s, h->host, (double)h->edge + h->f0 + at.s * (h->f1 - h->f0),
                 dt_point_lerp(h->a, h->b, at.s), other, at.t);
        i++;
    }
}

/* Attaches every loop within the join of the part from a to b of an edge to the host. */
static void look_along(Splicing *s, uint32_t host, size_t edge, DtPoint a, DtPoint b)
{
    const Grid *g = &s->grid;
    uint32_t n = stretches(g, a, b);
    for (uint32_t k = 0; k < n; k++) {
        Stretch h = {host, edge, (double)k / n, (double)(k + 1) / n, a, b};
        h.a = dt_point_lerp(a, b, h.f0);
        h.b = dt_point_lerp(a, b, h.f1);
        Cells c = cells_around(g, h.a, h.b, s->join);
        for (uint32_t y = c.y0; y <= c.y1; y++)
            for (uint32_t x = c.x0; x <= c.x1; x++)
                look_in_cell(s, &h, (size_t)y * g->columns + x);
    }
}

static void look_along_piece(Splicing *s, uint32_t host)
{
    const DtPiece *p = &s->set->p[host];
    for (size_t e = 0; e < edges_of(p) && !dt_work_stopped(); e++)
        look_along(s, host, e, vertex(p, e), vertex(p, e + 1));
}

/* Loops at the ends of open pieces, then along the paths of everything reached, then the
 * remaining loops to each other. */
static void find_hooks(Splicing *s)
{
    size_t n = s->set->n;
    for (size_t i = 0; i < n && !dt_work_stopped(); i++) {
        const DtPiece *p = &s->set->p[i];
        if (p->closed)
            continue;
        s->is_hung[i] = 1;
        look_along(s, (uint32_t)i, 0, p->pts[0], p->pts[0]);
        look_along(s, (uint32_t)i, p->n - 1, p->pts[p->n - 1], p->pts[p->n - 1]);
    }
    for (size_t i = 0; i < n; i++)
        if (!s->set->p[i].closed)
            look_along_piece(s, (uint32_t)i);
    uint32_t done = 0;
    for (size_t i = 0; i <= n; i++) {
        while (done < s->n_queue)
            look_along_piece(s, s->queue[done++]);
        if (i == n || s->is_hung[i])
            continue;
        s->is_hung[i] = 2; /* remains a separate loop */
        s->queue[s->n_queue++] = (uint32_t)i;
    }
}

/* Rewriting ---------------------------------------------------------------------------------- */

/* One piece of the path: walked from `from`, a place, over `todo` vertices, to where it began. */
typedef struct {
    uint32_t piece;
    gboolean backwards;
    double from;     /* of a loop; 0 for an open piece */
    DtPoint from_at; /* the path returns to here */
    size_t step;     /* edges begun */
    GArray *hooks;   /* of uint32_t, in the order of the path */
    guint next_hook;
} Walk;

/* Position of a place along the path, in edges. */
static double along(const Splicing *s, const Walk *w, double place)
{
    const DtPiece *p = &s->set->p[w->piece];
    if (!p->closed)
        return place;
    double d = w->backwards ? w->from - place : place - w->from;
    return d < 0 ? d + (double)p->n : d;
}

typedef struct {
    const Splicing *s;
    const Walk *w;
} Sorting;

static gint by_way(gconstpointer x, gconstpointer y, gpointer user)
{
    const Sorting *q = user;
    const uint32_t *a = x, *b = y;
    double p = along(q->s, q->w, q->s->hooks[*a].host_place),
           r = along(q->s, q->w, q->s->hooks[*b].host_place);
    if (p != r)
        return p < r ? -1 : 1;
    return (*a > *b) - (*a < *b);
}

static Walk start_walk(const Splicing *s, uint32_t piece, double from, DtPoint from_at,
                       gboolean backwards)
{
    Walk w = {.piece = piece, .from = from, .from_at = from_at, .backwards = backwards};
    w.hooks = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    for (uint32_t h = s->hook[piece]; h != NONE; h = s->hooks[h].next)
        g_array_append_val(w.hooks, h);
    Sorting sorting = {s, &w};
    g_array_sort_with_data(w.hooks, by_way, &sorting);
    return w;
}

/* Position along the path of the k-th vertex after its beginning, k >= 1, and its coordinates. */
static double vertex_along(const Splicing *s, const Walk *w, size_t k, DtPoint *at)
{
    const DtPiece *p = &s->set->p[w->piece];
    if (!p->closed) {
        *at = p->pts[k];
        return (double)k;
    }
    size_t e = MIN((size_t)w->from, p->n - 1);
    double t = w->from - (double)e;
    if (w->backwards) {
        *at = vertex(p, e + p->n - (k - 1));
        return t + (double)(k - 1);
    }
    *at = vertex(p, e + k);
    return (double)k - t;
}

static size_t vertices_ahead(const Splicing *s, const Walk *w)
{
    const DtPiece *p = &s->set->p[w->piece];
    return p->closed ? p->n : p->n - 1;
}

static void add_point(GArray *out, DtPoint p)
{
    if (out->len > 0) {
        DtPoint last = g_array_index(out, DtPoint, out->len - 1);
        if (last.x == p.x && last.y == p.y)
            return;
    }
    g_array_append_val(out, p);
}

static DtPoint direction(DtPoint from, DtPoint to)
{
    DtPoint d = dt_point_sub(to, from);
    double n = sqrt(dt_point_dot(d, d));
    return n > 0 ? dt_point_scale(d, 1 / n) : d;
}

/* Whether traversing the guest backwards has smoother corners where it is entered and left. */
static gboolean rather_backwards(const Splicing *s, const Walk *host, const Hook *h,
                                 const GArray *out)
{
    const DtPiece *p = &s->set->p[h->guest];
    size_t e = MIN((size_t)h->guest_place, p->n - 1);
    DtPoint along_it = direction(vertex(p, e), vertex(p, e + 1)), next;
    DtPoint in = dt_point(0, 0), on = in;
    if (out->len > 1)
        in = direction(g_array_index(out, DtPoint, out->len - 2),
                       g_array_index(out, DtPoint, out->len - 1));
    if (host->step < vertices_ahead(s, host)) {
        vertex_along(s, host, host->step + 1, &next);
        on = direction(h->host_at, next);
    }
    return dt_point_dot(along_it, dt_point_add(in, on)) < 0;
}

/* The piece with everything attached to it. */
static GArray *write_piece(const Splicing *s, uint32_t root)
{
    GArray *out = g_array_new(FALSE, FALSE, sizeof(DtPoint));
    g_autoptr(GArray) stack = g_array_new(FALSE, FALSE, sizeof(Walk));
    Walk first = start_walk(s, root, 0, s->set->p[root].pts[0], FALSE);
    g_array_append_val(stack, first);
    add_point(out, first.from_at);
    while (stack->len > 0) {
        Walk *w = &g_array_index(stack, Walk, stack->len - 1);
        DtPoint at = w->from_at;
        gboolean more = w->step < vertices_ahead(s, w);
        double next = more ? vertex_along(s, w, w->step + 1, &at) : INFINITY;
        const Hook *h = w->next_hook < w->hooks->len
                            ? &s->hooks[g_array_index(w->hooks, uint32_t, w->next_hook)]
                            : NULL;
        if (h && along(s, w, h->host_place) <= next) {
            w->next_hook++;
            add_point(out, h->host_at);
            gboolean backwards = rather_backwards(s, w, h, out);
            Walk guest = start_walk(s, h->guest, h->guest_place, h->guest_at, backwards);
            add_point(out, h->guest_at);
            g_array_append_val(stack, guest);
            continue;
        }
        if (more || s->set->p[w->piece].closed)
            add_point(out, at); /* a loop finally returns to where it began */
        if (more) {
            w->step++;
            continue;
        }
        g_array_unref(w->hooks);
        g_array_set_size(stack, stack->len - 1);
        if (stack->len > 0) { /* back onto the host */
            const Walk *host = &g_array_index(stack, Walk, stack->len - 1);
            uint32_t hook = g_array_index(host->hooks, uint32_t, host->next_hook - 1);
            add_point(out, s->hooks[hook].host_at);
        }
    }
    return out;
}

/* Removes the attached loops from the set and gives the others their new points. */
static void rewrite(Splicing *s, GPtrArray *owned)
{
    DtPieces *set = s->set;
    size_t kept = 0;
    g_autofree DtPiece *grown = g_new(DtPiece, set->n);
    for (size_t i = 0; i < set->n; i++) {
        if (set->p[i].closed && s->is_hung[i] == 1)
            continue;
        DtPiece p = set->p[i];
        if (s->hook[i] != NONE) {
            GArray *points = write_piece(s, (uint32_t)i);
            p.n = points->len - (p.closed ? 1 : 0); /* a loop's first point is not repeated */
            p.pts = (const DtPoint *)(const void *)points->data;
            g_ptr_array_add(owned, g_array_free(points, FALSE));
        }
        grown[kept++] = p;
    }
    memcpy(set->p, grown, kept * sizeof *grown);
    set->n = kept;
}

void dt_pieces_splice(DtPieces *set, double join, GPtrArray *owned)
{
    size_t n = set->n;
    if (n < 2 || n >= G_MAXUINT32 / 2)
        return;
    Splicing s = {.set = set, .join = join, .first_edge = g_new(uint32_t, n)};
    s.hook = g_new(uint32_t, n);
    memset(s.hook, 0xff, n * sizeof *s.hook);
    s.is_hung = g_new0(uint8_t, n);
    if (measure(&s)) {
        grid_init(&s);
        s.hooks = g_new(Hook, n);
        s.queue = g_new(uint32_t, n);
        find_hooks(&s);
    }
    if (s.n_hooks > 0 && !dt_work_stopped())
        rewrite(&s, owned);
    g_free(s.first_edge);
    g_free(s.owner);
    g_free(s.grid.start);
    g_free(s.grid.end);
    g_free(s.grid.edge);
    g_free(s.hooks);
    g_free(s.hook);
    g_free(s.is_hung);
    g_free(s.queue);
}
