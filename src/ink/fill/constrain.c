/* constrain: given edges are forced into a triangulation by flips (Sloan 1993, "A fast algorithm for
 * generating constrained Delaunay triangulations"), and the edges that they displaced are made
 * Delaunay's again where no given edge is in the way (Lawson 1977). */
#include "ink/fill/delaunay.h"

#include "drawtrue/work.h"
#include "ink/plane/split.h"

#include <string.h>

enum { NONE = UINT32_MAX, MOST_PASSES = 8 };

typedef struct {
    const DtNode *p;
    DtTriangles *t;
    const DtNodeEdges *given;
    uint32_t *at;   /* of each node: a triangle with that corner; NONE: none */
    GArray *across; /* Pair: edges that the edge under way crosses */
    GArray *fresh;  /* Pair: edges made by flips */
} Forcing;

typedef struct {
    uint32_t a, b;
} Pair;

/* The edge of a triangle from corner k to the next. */
typedef struct {
    uint32_t triangle, k;
} Side;

static uint32_t corner(const Forcing *f, uint32_t triangle, uint32_t k)
{
    return f->t->v[3 * triangle + k % 3];
}

static uint32_t beyond(const Forcing *f, Side s)
{
    return f->t->t[3 * s.triangle + s.k];
}

static int64_t turn(const Forcing *f, uint32_t a, uint32_t b, uint32_t c)
{
    return dt_node_turn(f->p[a], f->p[b], f->p[c]);
}

static uint32_t corner_of(const Forcing *f, uint32_t triangle, uint32_t node)
{
    uint32_t k = 0;
    while (k < 2 && f->t->v[3 * triangle + k] != node)
        k++;
    return k;
}

/* Goes round a node, counterclockwise, and at the hull once more the other way. FALSE: there are no more
 * triangles. *s is the side of the triangle that starts at the node. */
typedef struct {
    uint32_t node, first;
    gboolean back;
} Round;

static gboolean start_round(const Forcing *f, uint32_t node, Round *r, Side *s)
{
    const uint32_t first = f->at[node];
    *r = (Round){node, first, FALSE};
    if (first == NONE)
        return FALSE;
    *s = (Side){first, corner_of(f, first, node)};
    return TRUE;
}

static gboolean go_round(const Forcing *f, Round *r, Side *s)
{
    uint32_t next = NONE;
    if (!r->back) {
        next = beyond(f, (Side){s->triangle, (s->k + 2) % 3});
        if (next == NONE) {
            r->back = TRUE;
            *s = (Side){r->first, corner_of(f, r->first, r->node)};
        }
    }
    if (r->back)
        next = beyond(f, *s);
    if (next == NONE || next == r->first)
        return FALSE;
    *s = (Side){next, corner_of(f, next, r->node)};
    return TRUE;
}

/* The side from a to b. */
static gboolean find_side(const Forcing *f, uint32_t a, uint32_t b, Side *s)
{
    Round r;
    for (gboolean more = start_round(f, a, &r, s); more; more = go_round(f, &r, s))
        if (corner(f, s->triangle, s->k + 1) == b)
            return TRUE;
    return FALSE;
}

/* Flips ------------------------------------------------------------------------------------ */

static void set_neighbour(const Forcing *f, uint32_t triangle, uint32_t old, uint32_t now)
{
    for (uint32_t k = 0; triangle != NONE && k < 3; k++)
        if (f->t->t[3 * triangle + k] == old) {
            f->t->t[3 * triangle + k] = now;
            return;
        }
}

static void set_triangle(const Forcing *f, uint32_t i, const uint32_t v[3], const uint32_t t[3])
{
    for (uint32_t k = 0; k < 3; k++) {
        f->t->v[3 * i + k] = v[k];
        f->t->t[3 * i + k] = t[k];
        f->at[v[k]] = i;
    }
}

/* The two corners that face a side; FALSE at the hull, or where the two triangles are no convex
 * quadrilateral, so that they have no other diagonal. */
static gboolean may_flip(const Forcing *f, Side s, uint32_t *c, uint32_t *d)
{
    const uint32_t other = beyond(f, s);
    if (other == NONE)
        return FALSE;
    const uint32_t a = corner(f, s.triangle, s.k), b = corner(f, s.triangle, s.k + 1);
    *c = corner(f, s.triangle, s.k + 2);
    *d = corner(f, other, corner_of(f, other, a) + 1);
    return turn(f, *d, *c, a) > 0 && turn(f, *c, *d, b) > 0;
}

/* Instead of the side a-b of abc and bad, that from c to d: adc and dbc. */
static void flip(const Forcing *f, Side s, uint32_t c, uint32_t d)
{
    const uint32_t i = s.triangle, j = beyond(f, s), a = corner(f, i, s.k),
                   b = corner(f, i, s.k + 1);
    const uint32_t *t = f->t->t;
    const uint32_t bc = t[3 * i + (s.k + 1) % 3], ca = t[3 * i + (s.k + 2) % 3],
                   in_j = corner_of(f, j, a), ad = t[3 * j + in_j], db = t[3 * j + (in_j + 1) % 3];
    set_triangle(f, i, (const uint32_t[]){a, d, c}, (const uint32_t[]){ad, j, ca});
    set_triangle(f, j, (const uint32_t[]){d, b, c}, (const uint32_t[]){db, bc, i});
    set_neighbour(f, ad, j, i);
    set_neighbour(f, bc, i, j);
}

/* Forcing ---------------------------------------------------------------------------------- */

static gboolean is_given(const Forcing *f, uint32_t a, uint32_t b)
{
    return dt_node_edges_have(f->given, a, b) || dt_node_edges_have(f->given, b, a);
}

/* The first triangle on the way from a to b, as the side that faces a, which the way crosses. FALSE if the edge is
 * there, or if another node is on it. */
static gboolean leave_node(const Forcing *f, uint32_t a, uint32_t b, Side *s)
{
    Round r;
    Side at;
    for (gboolean more = start_round(f, a, &r, &at); more; more = go_round(f, &r, &at)) {
        const uint32_t u = corner(f, at.triangle, at.k + 1), w = corner(f, at.triangle, at.k + 2);
        if (u == b || w == b)
            return FALSE;
        if (turn(f, a, b, u) < 0 && turn(f, a, b, w) > 0) {
            *s = (Side){at.triangle, (at.k + 1) % 3};
            return TRUE;
        }
    }
    return FALSE;
}

/* Lists the edges between a and b. FALSE if one of them must stay, or if another node is on the way. */
static gboolean list_across(Forcing *f, uint32_t a, uint32_t b)
{
    Side s;
    g_array_set_size(f->across, 0);
    if (!leave_node(f, a, b, &s))
        return FALSE;
    for (;;) {
        const Pair edge = {corner(f, s.triangle, s.k), corner(f, s.triangle, s.k + 1)};
        const uint32_t next = beyond(f, s);
        if (next == NONE || is_given(f, edge.a, edge.b))
            return FALSE;
        g_array_append_val(f->across, edge);
        const uint32_t k = corner_of(f, next, edge.b), apex = corner(f, next, k + 2);
        if (apex == b)
            return TRUE;
        const int64_t side = turn(f, a, b, apex);
        if (side == 0)
            return FALSE;
        s = (Side){next, side > 0 ? (k + 1) % 3 : (k + 2) % 3};
    }
}

static gboolean is_between(const Forcing *f, uint32_t a, uint32_t b, uint32_t c, uint32_t d)
{
    return c != a && c != b && d != a && d != b && (turn(f, a, b, c) > 0) != (turn(f, a, b, d) > 0);
}

/* Each edge that is flipped in turn comes to lie across a-b again, or beside it; one that cannot be flipped
 * yet can be once others are. The number of flips is bounded in any case. */
static void flip_across(Forcing *f, uint32_t a, uint32_t b)
{
    const guint most = 100 + 50 * f->across->len;
    guint in_vain = 0;
    for (guint i = 0; i < MIN(f->across->len, most) && in_vain <= f->across->len - i; i++) {
        const Pair edge = g_array_index(f->across, Pair, i);
        Side s;
        Pair made;
        if (!find_side(f, edge.a, edge.b, &s))
            continue;
        if (!may_flip(f, s, &made.a, &made.b)) {
            g_array_append_val(f->across, edge);
            in_vain++;
            continue;
        }
        in_vain = 0;
        flip(f, s, made.a, made.b);
        if (is_between(f, a, b, made.a, made.b))
            g_array_append_val(f->across, made);
        else
            g_array_append_val(f->fresh, made);
    }
}

/* Flips those of the fresh edges that are not Delaunay's. */
static void mend_fresh(Forcing *f)
{
    for (guint pass = 0; pass < MOST_PASSES; pass++) {
        gboolean flipped = FALSE;
        for (guint i = 0; i < f->fresh->len; i++) {
            Pair *edge = &g_array_index(f->fresh, Pair, i), made;
            Side s;
            if (is_given(f, edge->a, edge->b) || !find_side(f, edge->a, edge->b, &s) ||
                !may_flip(f, s, &made.a, &made.b) ||
                !dt_delaunay_in_circle(f->p, edge->a, edge->b, made.a, made.b))
                continue;
            flip(f, s, made.a, made.b);
            *edge = made;
            flipped = TRUE;
        }
        if (!flipped)
            break;
    }
}

static void force(Forcing *f, uint32_t a, uint32_t b)
{
    if (!list_across(f, a, b))
        return;
    g_array_set_size(f->fresh, 0);
    flip_across(f, a, b);
    mend_fresh(f);
}

void dt_delaunay_constrain(const DtNode *p, size_t n, const DtNodeEdges *given, DtTriangles *t)
{
    Forcing f = {p, t, given, g_new(uint32_t, n + 1), NULL, NULL};
    f.across = g_array_new(FALSE, FALSE, sizeof(Pair));
    f.fresh = g_array_new(FALSE, FALSE, sizeof(Pair));
    memset(f.at, 0xff, n * sizeof *f.at);
    for (size_t i = 0; i < 3 * t->n; i++)
        f.at[t->v[i]] = (uint32_t)(i / 3);
    for (uint32_t a = 0; a < n && !dt_work_stopped(); a++)
        for (uint32_t i = given->first[a]; i < given->first[a + 1]; i++)
            if (given->end[i] != a)
                force(&f, a, given->end[i]);
    g_free(f.at);
    g_array_free(f.across, TRUE);
    g_array_free(f.fresh, TRUE);
}
