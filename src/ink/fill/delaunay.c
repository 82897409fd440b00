/* delaunay: divide and conquer on quad-edges (Guibas and Stolfi 1985, "Primitives for the
 * manipulation of general subdivisions and the computation of Voronoi diagrams"). */
#include "ink/fill/delaunay.h"

#include "drawtrue/work.h"

#include <string.h>

/* A quad-edge is four entries in a row: the edge, its dual, its reverse, its dual's reverse. */
typedef struct {
    uint32_t next;   /* counterclockwise about the origin */
    uint32_t origin; /* of entries 0 and 2 */
} Entry;

typedef struct {
    const DtNode *p;
    Entry *e;
    uint32_t n, cap, free; /* free: head of the list of deleted edges */
} Mesh;

static uint32_t rot(uint32_t e)
{
    return (e & ~3u) | ((e + 1) & 3);
}
static uint32_t sym(uint32_t e)
{
    return e ^ 2;
}
static uint32_t unrot(uint32_t e)
{
    return (e & ~3u) | ((e + 3) & 3);
}
static uint32_t origin_next(const Mesh *m, uint32_t e)
{
    return m->e[e].next;
}
static uint32_t origin_previous(const Mesh *m, uint32_t e)
{
    return rot(m->e[rot(e)].next);
}
static uint32_t left_next(const Mesh *m, uint32_t e)
{
    return rot(m->e[unrot(e)].next);
}
static uint32_t right_previous(const Mesh *m, uint32_t e)
{
    return m->e[sym(e)].next;
}
static uint32_t origin(const Mesh *m, uint32_t e)
{
    return m->e[e].origin;
}
static uint32_t target(const Mesh *m, uint32_t e)
{
    return m->e[sym(e)].origin;
}

static void splice(Mesh *m, uint32_t a, uint32_t b)
{
    uint32_t alpha = rot(m->e[a].next), beta = rot(m->e[b].next);
    uint32_t t = m->e[a].next;
    m->e[a].next = m->e[b].next;
    m->e[b].next = t;
    t = m->e[alpha].next;
    m->e[alpha].next = m->e[beta].next;
    m->e[beta].next = t;
}

static uint32_t make_edge(Mesh *m, uint32_t from, uint32_t to)
{
    uint32_t e = m->free;
    if (e != UINT32_MAX) {
        m->free = m->e[e].origin;
    } else {
        if (m->n + 4 > m->cap) {
            m->cap = m->cap ? 2 * m->cap : 256;
            m->e = g_renew(Entry, m->e, m->cap);
        }
        e = m->n;
        m->n += 4;
    }
    m->e[e] = (Entry){e, from};
    m->e[e + 1] = (Entry){e + 3, UINT32_MAX};
    m->e[e + 2] = (Entry){e + 2, to};
    m->e[e + 3] = (Entry){e + 1, UINT32_MAX};
    return e;
}

static uint32_t connect(Mesh *m, uint32_t a, uint32_t b)
{
    uint32_t e = make_edge(m, target(m, a), origin(m, b));
    splice(m, e, left_next(m, a));
    splice(m, sym(e), b);
    return e;
}

static void delete_edge(Mesh *m, uint32_t e)
{
    splice(m, e, origin_previous(m, e));
    splice(m, sym(e), origin_previous(m, sym(e)));
    e &= ~3u;
    m->e[e + 1].next = UINT32_MAX; /* marks it as deleted */
    m->e[e].origin = m->free;
    m->free = e;
}

static gboolean is_deleted(const Mesh *m, uint32_t e)
{
    return m->e[(e & ~3u) + 1].next == UINT32_MAX;
}

/* Predicates -------------------------------------------------------------------------------- */

static int64_t turn(const Mesh *m, uint32_t a, uint32_t b, uint32_t c)
{
    DtNode p = m->p[a], q = m->p[b], r = m->p[c];
    return ((int64_t)q.x - p.x) * ((int64_t)r.y - p.y) -
           ((int64_t)q.y - p.y) * ((int64_t)r.x - p.x);
}

static gboolean right_of(const Mesh *m, uint32_t p, uint32_t e)
{
    return turn(m, p, target(m, e), origin(m, e)) > 0;
}

static gboolean left_of(const Mesh *m, uint32_t p, uint32_t e)
{
    return turn(m, p, origin(m, e), target(m, e)) > 0;
}

gboolean dt_delaunay_in_circle(const DtNode *p, uint32_t ia, uint32_t ib, uint32_t ic, uint32_t id)
{
    const DtNode d = p[id];
    int64_t ax = (int64_t)p[ia].x - d.x, ay = (int64_t)p[ia].y - d.y;
    int64_t bx = (int64_t)p[ib].x - d.x, by = (int64_t)p[ib].y - d.y;
    int64_t cx = (int64_t)p[ic].x - d.x, cy = (int64_t)p[ic].y - d.y;
    return (__int128)(ax * ax + ay * ay) * (bx * cy - by * cx) -
               (__int128)(bx * bx + by * by) * (ax * cy - ay * cx) +
               (__int128)(cx * cx + cy * cy) * (ax * by - ay * bx) >
           0;
}

static gboolean in_circle(const Mesh *m, uint32_t a, uint32_t b, uint32_t c, uint32_t d)
{
    return dt_delaunay_in_circle(m->p, a, b, c, d);
}

/* Divide and conquer ------------------------------------------------------------------------ */

typedef struct {
    uint32_t left, right; /* hull edges: counterclockwise out of the leftmost point, and clockwise
                           * out of the rightmost one */
} Hull;

static Hull three(Mesh *m, uint32_t s)
{
    uint32_t a = make_edge(m, s, s + 1), b = make_edge(m, s + 1, s + 2);
    splice(m, sym(a), b);
    int64_t side = turn(m, s, s + 1, s + 2);
    if (side == 0)
        return (Hull){a, sym(b)};
    uint32_t c = connect(m, b, a);
    return side > 0 ? (Hull){a, sym(b)} : (Hull){sym(c), c};
}

static uint32_t lower_tangent(Mesh *m, Hull *l, Hull *r)
{
    for (;;) {
        if (left_of(m, origin(m, r->left), l->right))
            l->right = left_next(m, l->right);
        else if (right_of(m, origin(m, l->right), r->left))
            r->left = right_previous(m, r->left);
        else
            break;
    }
    return connect(m, sym(r->left), l->right);
}

static uint32_t left_candidate(Mesh *m, uint32_t base)
{
    uint32_t c = origin_next(m, sym(base));
    if (right_of(m, target(m, c), base))
        while (in_circle(m, target(m, base), origin(m, base), target(m, c),
                         target(m, origin_next(m, c)))) {
            uint32_t t = origin_next(m, c);
            delete_edge(m, c);
            c = t;
        }
    return c;
}

static uint32_t right_candidate(Mesh *m, uint32_t base)
{
    uint32_t c = origin_previous(m, base);
    if (right_of(m, target(m, c), base))
        while (in_circle(m, target(m, base), origin(m, base), target(m, c),
                         target(m, origin_previous(m, c)))) {
            uint32_t t = origin_previous(m, c);
            delete_edge(m, c);
            c = t;
        }
    return c;
}

static void zip(Mesh *m, uint32_t base)
{
    for (;;) {
        uint32_t l = left_candidate(m, base), r = right_candidate(m, base);
        gboolean good_l = right_of(m, target(m, l), base), good_r = right_of(m, target(m, r), base);
        if ((!good_l && !good_r) || dt_work_stopped())
            return;
        if (!good_l ||
            (good_r && in_circle(m, target(m, l), origin(m, l), origin(m, r), target(m, r))))
            base = connect(m, r, sym(base));
        else
            base = connect(m, sym(base), sym(l));
    }
}

static Hull triangulate(Mesh *m, uint32_t s, uint32_t n)
{
    if (n == 2) {
        uint32_t a = make_edge(m, s, s + 1);
        return (Hull){a, sym(a)};
    }
    if (n == 3)
        return three(m, s);
    if (dt_work_stopped()) /* nothing is joined from here on */
        return triangulate(m, s, 2);
    Hull l = triangulate(m, s, n / 2), r = triangulate(m, s + n / 2, n - n / 2);
    if (dt_work_stopped())
        return l;
    uint32_t far_left = l.left, far_right = r.right;
    uint32_t base = lower_tangent(m, &l, &r);
    if (origin(m, l.right) == origin(m, far_left))
        far_left = sym(base);
    if (origin(m, r.left) == origin(m, far_right))
        far_right = base;
    zip(m, base);
    return (Hull){far_left, far_right};
}

/* Triangles --------------------------------------------------------------------------------- */

/* The triangle at each directed edge's left; corner 0 is the origin of its first edge. */
static void number_triangles(const Mesh *m, uint32_t *face, DtTriangles *out)
{
    for (uint32_t e = 0; e < m->n; e += 2) {
        if (is_deleted(m, e) || face[e / 2] != UINT32_MAX)
            continue;
        uint32_t f = left_next(m, e), g = left_next(m, f);
        if (left_next(m, g) != e || turn(m, origin(m, e), origin(m, f), origin(m, g)) <= 0)
            continue;
        uint32_t id = (uint32_t)out->n++;
        uint32_t edges[3] = {e, f, g};
        for (uint32_t k = 0; k < 3; k++) {
            out->v[3 * id + k] = origin(m, edges[k]);
            out->t[3 * id + k] = sym(edges[k]);
            face[edges[k] / 2] = id;
        }
    }
    for (size_t i = 0; i < 3 * out->n; i++)
        out->t[i] = face[out->t[i] / 2];
}

void dt_delaunay(const DtNode *p, size_t n, DtTriangles *out)
{
    memset(out, 0, sizeof *out);
    if (n < 3)
        return;
    Mesh m = {p, NULL, 0, 0, UINT32_MAX};
    triangulate(&m, 0, (uint32_t)n);
    if (dt_work_stopped()) {
        g_free(m.e);
        return;
    }
    g_autofree uint32_t *face = g_new(uint32_t, m.n / 2 + 1);
    memset(face, 0xff, (m.n / 2 + 1) * sizeof *face);
    out->v = g_new(uint32_t, 6 * n);
    out->t = g_new(uint32_t, 6 * n);
    number_triangles(&m, face, out);
    g_free(m.e);
}

void dt_triangles_clear(DtTriangles *t)
{
    g_free(t->v);
    g_free(t->t);
    memset(t, 0, sizeof *t);
}
