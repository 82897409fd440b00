/* label: what lies at either side of every edge. One edge of each connected group of them is asked, and
 * from there what lies round it is followed from face to face. Overlaps of translucent layers are
 * numbered in the order in which they are met, which must not depend on how edges are connected: there
 * one edge is asked of each chain of edges between two nodes of degree two, which share their sides.
 * An edge is asked on a scan line at a half grid unit, which meets no node: all edges that cross the
 * line are walked in order, the winding number of every layer kept, and what is on top read off. */
#include "ink/plane/label.h"

#include "drawtrue/work.h"
#include "ink/plane/flood.h"
#include "ink/plane/radix.h"

#include <math.h>
#include <string.h>

/* Sets of layers: a tree of 64-bit words, so that the highest member is found at once. ------ */

enum { SET_LEVELS = 4 };

/* Total number of layers in all overlaps: beyond this they take too much time and memory. */
#define MOST_OVERLAPS 10000000u

typedef struct {
    uint64_t *level[SET_LEVELS]; /* 0: a bit for each layer; above: a bit for each word below */
} Set;

static void set_init(Set *s, size_t n)
{
    for (int i = 0; i < SET_LEVELS; i++) {
        n = n / 64 + 1;
        s->level[i] = g_new0(uint64_t, n);
    }
}

static void set_clear(Set *s)
{
    for (int i = 0; i < SET_LEVELS; i++)
        g_free(s->level[i]);
}

static void set_put(Set *s, size_t i, gboolean in)
{
    for (int l = 0; l < SET_LEVELS; l++, i /= 64) {
        uint64_t *word = &s->level[l][i / 64], bit = (uint64_t)1 << (i % 64);
        if (in) {
            *word |= bit;
        } else {
            *word &= ~bit;
            if (*word)
                return;
        }
    }
}

static int32_t set_highest(const Set *s)
{
    size_t i = 0;
    for (int l = SET_LEVELS - 1; l >= 0; l--) {
        uint64_t word = s->level[l][i];
        if (!word)
            return -1;
        i = i * 64 + (size_t)(63 - __builtin_clzll(word));
    }
    return (int32_t)i;
}

/* The highest member below i, -1 for none. */
static int32_t set_below(const Set *s, size_t i)
{
    for (int l = 0; l < SET_LEVELS; l++, i /= 64) {
        uint64_t word = s->level[l][i / 64] & (((uint64_t)1 << (i % 64)) - 1);
        if (!word)
            continue;
        i = i / 64 * 64 + (size_t)(63 - __builtin_clzll(word));
        while (l-- > 0)
            i = i * 64 + (size_t)(63 - __builtin_clzll(s->level[l][i]));
        return (int32_t)i;
    }
    return -1;
}

/* The state of a walk along a scan line. ---------------------------------------------------- */

typedef struct {
    const DtPlaneLayer *layers;
    int32_t *winding;
    Set inside;
    GArray *overlap; /* int32_t: scratch */
} Walk;

static gboolean is_inside(uint8_t rule, int32_t winding)
{
    switch ((DtPlaneRule)rule) {
    case DT_PLANE_EVENODD:
        return winding & 1;
    case DT_PLANE_POSITIVE:
        return winding > 0;
    case DT_PLANE_OUTSIDE:
        return winding == 0;
    case DT_PLANE_NONZERO:
        break;
    }
    return winding != 0;
}

static void walk_init(Walk *w, const DtPlaneLayer *layers, size_t n)
{
    w->layers = layers;
    w->winding = g_new0(int32_t, n + 1);
    set_init(&w->inside, n);
    w->overlap = g_array_new(FALSE, FALSE, sizeof(int32_t));
    for (size_t i = 0; i < n; i++)
        if (is_inside(layers[i].rule, 0))
            set_put(&w->inside, i, TRUE);
}

static void walk_clear(Walk *w)
{
    g_free(w->winding);
    set_clear(&w->inside);
    g_array_free(w->overlap, TRUE);
}

static void walk_turn(Walk *w, DtTurn t, int sign)
{
    const DtPlaneLayer *l = &w->layers[t.layer];
    int32_t before = w->winding[t.layer], after = before + sign * t.by;
    w->winding[t.layer] = after;
    gboolean in = is_inside(l->rule, after);
    if (in != is_inside(l->rule, before))
        set_put(&w->inside, (size_t)t.layer, in);
}

/* Scans ------------------------------------------------------------------------------------- */

/* An edge in a scan: it extends from lo to hi across the scan lines; at lo it is at `at_lo`.
 * Upright scans run along x, with y as lo; others run along y. */
typedef struct {
    int32_t lo, hi, at_lo, at_hi;
    uint32_t edge;
    uint8_t before; /* the side of the edge from which the walk comes */
    uint8_t asked;
} Span;

typedef struct {
    double x;
    uint32_t span;
} Crossing;

static double span_at(const Span *s, int32_t line)
{
    double t = (line + 0.5 - s->lo) / ((double)s->hi - s->lo);
    return s->at_lo + t * ((double)s->at_hi - s->at_lo);
}

/* Spans do not cross, and scan lines meet no node, so that no two crossings are equal. */
static int order_at(const Span *a, const Span *b, double xa, double xb, int32_t line)
{
    if (fabs(xa - xb) > 1e-4)
        return xa < xb ? -1 : 1;
    int64_t da = (int64_t)a->hi - a->lo, db = (int64_t)b->hi - b->lo;
    __int128 na = (__int128)2 * a->at_lo * da +
                  ((__int128)a->at_hi - a->at_lo) * (2 * (int64_t)line + 1 - 2 * (int64_t)a->lo);
    __int128 nb = (__int128)2 * b->at_lo * db +
                  ((__int128)b->at_hi - b->at_lo) * (2 * (int64_t)line + 1 - 2 * (int64_t)b->lo);
    na *= db;
    nb *= da;
    return na < nb ? -1 : na > nb;
}

typedef struct {
    const Span *spans;
    int32_t line;
} Order;

static int compare_crossings(const void *pa, const void *pb, void *user)
{
    const Order *o = user;
    const Crossing *a = pa, *b = pb;
    return order_at(&o->spans[a->span], &o->spans[b->span], a->x, b->x, o->line);
}

/* The smallest set of scan lines that meets all n spans: always the last line of the span that ends
 * first. */
static GArray *choose_lines(const Span *spans, size_t n)
{
    g_autofree DtKey *ends = g_new(DtKey, n + 1);
    for (size_t i = 0; i < n; i++)
        ends[i] = (DtKey){dt_radix_signed(spans[i].hi), (uint32_t)i};
    dt_radix_sort(ends, n);
    GArray *lines = g_array_new(FALSE, FALSE, sizeof(int32_t));
    for (size_t i = 0; i < n; i++) {
        const Span *s = &spans[ends[i].id];
        int32_t line = s->hi - 1;
        if (lines->len == 0 || g_array_index(lines, int32_t, lines->len - 1) < s->lo)
            g_array_append_val(lines, line);
    }
    return lines;
}

/* Whether a span meets one of the lines, which rise. */
static gboolean meets_line(const Span *s, const GArray *lines)
{
    const int32_t *at = (const int32_t *)(const void *)lines->data;
    size_t lo = 0, hi = lines->len;
    while (lo < hi) {
        const size_t mid = lo + (hi - lo) / 2;
        if (at[mid] < s->lo)
            lo = mid + 1;
        else
            hi = mid;
    }
    return lo < lines->len && at[lo] < s->hi;
}

/* The top layer at the present place of the walk. */
static int32_t face_here(DtGraph *g, Walk *w)
{
    int32_t top = set_highest(&w->inside);
    if (top < 0 || !w->layers[top].translucent || g->overlaps.items->len > MOST_OVERLAPS)
        return top;
    g_array_set_size(w->overlap, 0);
    for (int32_t i = top; i >= 0; i = set_below(&w->inside, (size_t)i)) {
        g_array_append_val(w->overlap, i);
        if (!w->layers[i].translucent)
            break;
    }
    uint32_t overlap = dt_number_lists_put(
        &g->overlaps, (const int32_t *)(const void *)w->overlap->data, w->overlap->len);
    return (int32_t)(g->n_layers + overlap);
}

/* A graph and what is known at the present place of a walk over it. */
typedef struct {
    DtGraph *g;
    Walk *w;
    DtFlood *flood; /* NULL: each chain is asked */
} Survey;

static void cross_edge(uint32_t edge, int way, gpointer user)
{
    const Survey *v = user;
    for (size_t k = v->g->turn_first[edge]; k < v->g->turn_first[edge + 1]; k++)
        walk_turn(v->w, v->g->turn[k], way);
}

static int32_t say_face(gpointer user)
{
    const Survey *v = user;
    return face_here(v->g, v->w);
}

static void walk_line(Survey *v, const Span *spans, const GArray *active)
{
    for (size_t i = 0; i < active->len; i++) {
        const Span *s = &spans[g_array_index(active, Crossing, i).span];
        const gboolean alone = s->asked && !v->flood;
        if (s->asked && v->flood)
            dt_flood_from(v->flood, s->edge, s->before, (DtFloodPlace){cross_edge, say_face, v});
        if (alone)
            v->g->face[s->edge][s->before] = say_face(v);
        cross_edge(s->edge, s->before == 0 ? -1 : 1, v);
        if (alone)
            v->g->face[s->edge][!s->before] = say_face(v);
    }
}

/* Removes spans that have ended and merges in those that have begun; the rest keeps its order. */
static GArray *advance(GArray *active, GArray *next, const Span *spans, size_t n, size_t *begun,
                       int32_t line)
{
    Order order = {spans, line};
    g_autoptr(GArray) fresh = g_array_new(FALSE, FALSE, sizeof(Crossing));
    for (; *begun < n && spans[*begun].lo <= line; (*begun)++)
        if (spans[*begun].hi > line) {
            Crossing c = {span_at(&spans[*begun], line), (uint32_t)*begun};
            g_array_append_val(fresh, c);
        }
    g_array_sort_with_data(fresh, compare_crossings, &order);
    g_array_set_size(next, 0);
    size_t j = 0;
    for (size_t i = 0; i < active->len; i++) {
        Crossing c = g_array_index(active, Crossing, i);
        if (spans[c.span].hi <= line)
            continue;
        c.x = span_at(&spans[c.span], line);
        while (j < fresh->len &&
               compare_crossings(&g_array_index(fresh, Crossing, j), &c, &order) < 0)
            g_array_append_val(next, g_array_index(fresh, Crossing, j++));
        g_array_append_val(next, c);
    }
    if (j < fresh->len)
        g_array_append_vals(next, &g_array_index(fresh, Crossing, j), (guint)(fresh->len - j));
    return next;
}

/* `spans` in the order of their lower ends. */
static void scan(Survey *v, const Span *spans, size_t n, const GArray *lines)
{
    GArray *active = g_array_new(FALSE, FALSE, sizeof(Crossing));
    GArray *next = g_array_new(FALSE, FALSE, sizeof(Crossing));
    size_t begun = 0;
    for (size_t i = 0; i < lines->len && !dt_work_stopped(); i++) {
        GArray *now = advance(active, next, spans, n, &begun, g_array_index(lines, int32_t, i));
        next = active;
        active = now;
        walk_line(v, spans, active);
    }
    g_array_free(active, TRUE);
    g_array_free(next, TRUE);
}

/* Chains ------------------------------------------------------------------------------------ */

static int64_t rise(const DtGraph *g, const DtNode *nodes, uint32_t e)
{
    return (int64_t)nodes[g->e[e].b].y - nodes[g->e[e].a].y;
}

/* Follows a chain from edge e through its node `at`. */
static void follow_chain(const DtGraph *g, const DtNode *nodes, DtChains *c, uint32_t e,
                         uint32_t at, gboolean forward)
{
    uint32_t id = c->chain[e];
    while (g->star_first[at + 1] - g->star_first[at] == 2) {
        const uint32_t *star = g->star + g->star_first[at];
        uint32_t f = star[0] == e ? star[1] : star[0];
        if (c->chain[f] != UINT32_MAX)
            return;
        c->chain[f] = id;
        c->back[f] = forward ? g->e[f].a != at : g->e[f].b != at;
        uint32_t *speaker = &g_array_index(c->speaker, uint32_t, id);
        if (rise(g, nodes, f) > rise(g, nodes, *speaker))
            *speaker = f;
        at = g->e[f].a == at ? g->e[f].b : g->e[f].a;
        e = f;
    }
}

static void make_chains(const DtGraph *g, const DtNode *nodes, DtChains *c)
{
    c->chain = g_new(uint32_t, g->n + 1);
    memset(c->chain, 0xff, (g->n + 1) * sizeof *c->chain);
    c->back = g_new0(uint8_t, g->n + 1);
    c->speaker = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    for (uint32_t e = 0; e < g->n && !dt_work_stopped(); e++) {
        if (c->chain[e] != UINT32_MAX)
            continue;
        c->chain[e] = c->speaker->len;
        g_array_append_val(c->speaker, e);
        follow_chain(g, nodes, c, e, g->e[e].b, TRUE);
        follow_chain(g, nodes, c, e, g->e[e].a, FALSE);
    }
}

static Span upright_span(const DtGraph *g, const DtNode *nodes, uint32_t e)
{
    DtNode a = nodes[g->e[e].a], b = nodes[g->e[e].b];
    return (Span){a.y, b.y, a.x, b.x, e, 0, 0};
}

static Span level_span(const DtGraph *g, const DtNode *nodes, uint32_t e)
{
    DtNode a = nodes[g->e[e].a], b = nodes[g->e[e].b];
    if (a.x < b.x)
        return (Span){a.x, b.x, a.y, b.y, e, 1, 0};
    return (Span){b.x, a.x, b.y, a.y, e, 0, 0};
}

static uint32_t speaker_of(const DtChains *c, uint32_t chain)
{
    return g_array_index(c->speaker, uint32_t, chain);
}

/* The edge to ask for each chain, UINT32_MAX for none: its representative, or that of the chain which
 * rises most of all that are connected, so that few scan lines meet them all. */
static uint32_t *choose_asked(const DtGraph *g, const DtNode *nodes, const DtChains *c,
                              DtFlood *flood)
{
    uint32_t *asked = g_new(uint32_t, c->speaker->len + 1);
    if (!flood) {
        memcpy(asked, c->speaker->data, c->speaker->len * sizeof *asked);
        return asked;
    }
    memset(asked, 0xff, (c->speaker->len + 1) * sizeof *asked);
    g_autofree uint32_t *best = g_memdup2(asked, (c->speaker->len + 1) * sizeof *asked);
    for (uint32_t i = 0; i < c->speaker->len; i++) {
        uint32_t *most = &best[dt_flood_group(flood, i)];
        if (*most == UINT32_MAX ||
            rise(g, nodes, speaker_of(c, i)) > rise(g, nodes, speaker_of(c, *most)))
            *most = i;
    }
    for (uint32_t i = 0; i < c->speaker->len; i++)
        if (best[i] != UINT32_MAX)
            asked[best[i]] = speaker_of(c, best[i]);
    return asked;
}

static Span span_of(const DtGraph *g, const DtNode *nodes, uint32_t e, gboolean upright)
{
    return upright ? upright_span(g, nodes, e) : level_span(g, nodes, e);
}

/* The scan lines on which the asked edges that rise (upright), or that are level, are evaluated. */
static GArray *lines_for(const DtGraph *g, const DtNode *nodes, const DtChains *c,
                         const uint32_t *asked, gboolean upright)
{
    g_autoptr(GArray) spans = g_array_new(FALSE, FALSE, sizeof(Span));
    for (guint i = 0; i < c->speaker->len; i++)
        if (asked[i] != UINT32_MAX && (rise(g, nodes, asked[i]) > 0) == upright) {
            const Span s = span_of(g, nodes, asked[i], upright);
            g_array_append_val(spans, s);
        }
    return choose_lines((const Span *)(const void *)spans->data, spans->len);
}

/* The spans of all edges that a line meets and that are asked or change a winding number, by their
 * lower ends. */
static Span *spans_on(const DtGraph *g, const DtNode *nodes, const DtChains *c,
                      const uint32_t *asked, gboolean upright, const GArray *lines, size_t *n)
{
    g_autoptr(GArray) keys = g_array_new(FALSE, FALSE, sizeof(DtKey));
    for (uint32_t e = 0; e < g->n && !dt_work_stopped(); e++) {
        if (asked[c->chain[e]] != e && g->turn_first[e] == g->turn_first[e + 1])
            continue;
        const Span s = span_of(g, nodes, e, upright);
        const DtKey key = {dt_radix_signed(s.lo), e};
        if (meets_line(&s, lines))
            g_array_append_val(keys, key);
    }
    DtKey *k = (DtKey *)(void *)keys->data;
    *n = keys->len;
    dt_radix_sort(k, *n);
    Span *spans = g_new(Span, *n + 1);
    for (size_t i = 0; i < *n; i++) {
        const uint32_t e = k[i].id;
        spans[i] = span_of(g, nodes, e, upright);
        spans[i].asked = asked[c->chain[e]] == e && (rise(g, nodes, e) > 0) == upright;
    }
    return spans;
}

/* Evaluates the asked edges that rise (upright) or that are level, on scan lines of that kind. */
static void ask(Survey *v, const DtNode *nodes, const DtChains *c, const uint32_t *asked,
                gboolean upright)
{
    size_t n;
    g_autoptr(GArray) lines = lines_for(v->g, nodes, c, asked, upright);
    if (dt_work_stopped() || lines->len == 0)
        return;
    g_autofree Span *spans = spans_on(v->g, nodes, c, asked, upright, lines, &n);
    if (!dt_work_stopped())
        scan(v, spans, n, lines);
}

static gboolean has_translucent(const DtPlaneLayer *layers, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (layers[i].translucent)
            return TRUE;
    return FALSE;
}

gboolean dt_graph_label(DtGraph *g, const DtNode *nodes, const DtPlaneLayer *layers,
                        size_t n_layers)
{
    g->n_layers = n_layers;
    dt_number_lists_init(&g->overlaps);
    g->face = g_malloc0((g->n + 1) * sizeof *g->face);
    DtChains c;
    make_chains(g, nodes, &c);
    Walk w;
    walk_init(&w, layers, n_layers);
    Survey v = {g, &w, NULL};
    if (!has_translucent(layers, n_layers))
        v.flood = dt_flood_new(g, nodes, &c);
    uint32_t *asked = choose_asked(g, nodes, &c, v.flood);
    ask(&v, nodes, &c, asked, TRUE);
    ask(&v, nodes, &c, asked, FALSE);
    g_free(asked);
    dt_flood_free(v.flood);
    walk_clear(&w);
    for (uint32_t e = 0; e < g->n && !dt_work_stopped(); e++) {
        uint32_t s = speaker_of(&c, c.chain[e]);
        int swap = c.back[s] != c.back[e];
        if (s == e)
            continue;
        g->face[e][0] = g->face[s][swap];
        g->face[e][1] = g->face[s][!swap];
    }
    g_free(c.chain);
    g_free(c.back);
    g_array_free(c.speaker, TRUE);
    return g->overlaps.items->len <= MOST_OVERLAPS;
}
