/* split: where segments meet, on the integer grid. Hobby 1999: every end and every crossing,
 * rounded, makes its unit square hot; a segment is then routed through the centres of all hot
 * squares that it touches. In the result there are no crossings except at nodes. */
#include "ink/plane/split.h"

#include "drawtrue/work.h"
#include "ink/plane/radix.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LEAF_SEGMENTS = 12, LEAF_NODES = 6, MOST_PAIRED = 4000 };

/* The work is abandoned beyond this number of tests, and of hot squares on segments: a number
 * per segment, and more in any case. */
#define TESTS_PER_SEGMENT 1000
#define TESTS_AT_LEAST 100000000
#define HITS_PER_SEGMENT 50
#define HITS_AT_LEAST 20000000

typedef struct {
    int64_t x0, y0, x1, y1;
} Box;

typedef struct {
    uint32_t segment, node;
} Hit;

typedef struct {
    const DtSegment *s;
    size_t n;
    GArray *hot;   /* DtNode */
    GArray *stack; /* uint32_t: the segments of the boxes under way */
    GArray *hits;  /* Hit */
    int64_t tests_left, most_hits;
} Work;

/* Boxes ------------------------------------------------------------------------------------- */

/* Whether a segment, scaled by k, touches a closed box. */
static gboolean touches(const DtSegment *s, int64_t k, const Box *b)
{
    int64_t ax = s->a.x * k, ay = s->a.y * k, bx = s->b.x * k, by = s->b.y * k;
    if (MAX(ax, bx) < b->x0 || MIN(ax, bx) > b->x1 || by < b->y0 || ay > b->y1)
        return FALSE;
    if ((ax >= b->x0 && ax <= b->x1 && ay >= b->y0 && ay <= b->y1) ||
        (bx >= b->x0 && bx <= b->x1 && by >= b->y0 && by <= b->y1))
        return TRUE;
    int64_t dx = bx - ax, dy = by - ay;
    int64_t c0 = dx * (b->y0 - ay) - dy * (b->x0 - ax), c1 = dx * (b->y0 - ay) - dy * (b->x1 - ax);
    int64_t c2 = dx * (b->y1 - ay) - dy * (b->x0 - ax), c3 = dx * (b->y1 - ay) - dy * (b->x1 - ax);
    return !((c0 > 0 && c1 > 0 && c2 > 0 && c3 > 0) || (c0 < 0 && c1 < 0 && c2 < 0 && c3 < 0));
}

/* Pushes those of the n segments from `at` of the stack that touch the box; returns their number.
 */
static size_t push_touching(Work *w, size_t at, size_t n, int64_t k, const Box *b)
{
    size_t start = w->stack->len, kept = 0;
    g_array_set_size(w->stack, (guint)(start + n));
    uint32_t *ids = (uint32_t *)(void *)w->stack->data;
    for (size_t i = 0; i < n; i++)
        if (touches(&w->s[ids[at + i]], k, b))
            ids[start + kept++] = ids[at + i];
    g_array_set_size(w->stack, (guint)(start + kept));
    w->tests_left = dt_work_stopped() ? -1 : w->tests_left - (int64_t)n;
    return kept;
}

/* Squares of an even grid, for segments that are short ------------------------------------------ */

/* Their side is a power of two. */
typedef struct {
    int64_t x0, y0;
    int shift;
    int64_t w, h;
    uint32_t *first; /* w * h + 1 */
    uint32_t *list;
} Squares;

static size_t square_of(const Squares *g, DtNode p)
{
    return (size_t)((p.y - g->y0) >> g->shift) * (size_t)g->w + (size_t)((p.x - g->x0) >> g->shift);
}

static Squares lay_squares(Box b, int per_square, size_t n)
{
    const double area = (double)(b.x1 - b.x0 + 1) * (double)(b.y1 - b.y0 + 1);
    const double most = (double)MAX(b.x1 - b.x0 + 1, b.y1 - b.y0 + 1);
    const double side = MAX(sqrt(area * per_square / (double)n), most * per_square / (double)n);
    Squares g = {.x0 = b.x0, .y0 = b.y0, .shift = (int)lround(log2(side + 2))};
    g.w = ((b.x1 - b.x0) >> g.shift) + 1;
    g.h = ((b.y1 - b.y0) >> g.shift) + 1;
    g.first = g_new0(uint32_t, (size_t)g.w * (size_t)g.h + 2);
    return g;
}

/* From the number in each square, two places on, to where each square's entries are to be put, one place
 * on: once they are there, each begins at its own place. */
static void sum_counts(Squares *g)
{
    const size_t m = (size_t)g->w * (size_t)g->h;
    for (size_t i = 1; i < m + 2; i++)
        g->first[i] += g->first[i - 1];
}

static void clear_squares(Squares *g)
{
    g_free(g->first);
    g_free(g->list);
}

/* The squares that a segment's box touches: `wide` from `low` on, and as many in each row up to that of `high`. */
typedef struct {
    size_t low, high, wide;
} Span;

static Span span_of(const Squares *g, const DtSegment *s)
{
    const size_t low = square_of(g, (DtNode){MIN(s->a.x, s->b.x), s->a.y}),
                 high = square_of(g, (DtNode){MAX(s->a.x, s->b.x), s->a.y});
    const size_t up = (size_t)(((s->b.y - g->y0) >> g->shift) - ((s->a.y - g->y0) >> g->shift));
    return (Span){low, low + up * (size_t)g->w, high - low + 1};
}

static size_t rows_of(const Squares *g, const Span *n)
{
    return (n->high - n->low) / (size_t)g->w + 1;
}

/* Crossings ----------------------------------------------------------------------------------- */

static int32_t round_ratio(__int128 num, __int128 den)
{
    __int128 a = 2 * num + den, b = 2 * den; /* floor(num/den + 1/2), den > 0 */
    __int128 q = a / b;
    return (int32_t)(q - (a % b < 0));
}

static int sign(int64_t v)
{
    return (v > 0) - (v < 0);
}

/* Records where two segments cross if that is in the box: two may share several boxes. */
static void cross_pair(Work *w, const DtSegment *p, const DtSegment *q, const Box *in)
{
    if (p->b.y < q->a.y || q->b.y < p->a.y || MAX(p->a.x, p->b.x) < MIN(q->a.x, q->b.x) ||
        MAX(q->a.x, q->b.x) < MIN(p->a.x, p->b.x))
        return;
    int64_t o1 = dt_node_turn(p->a, p->b, q->a), o2 = dt_node_turn(p->a, p->b, q->b);
    if (sign(o1) * sign(o2) >= 0)
        return; /* apart, or an end on the line: ends are hot already */
    if (sign(dt_node_turn(q->a, q->b, p->a)) * sign(dt_node_turn(q->a, q->b, p->b)) >= 0)
        return;
    /* The point of q at o1 / (o1 - o2). */
    __int128 num = o1, den = (__int128)o1 - o2;
    if (den < 0) {
        num = -num;
        den = -den;
    }
    DtNode at = {q->a.x + round_ratio(num * ((int64_t)q->b.x - q->a.x), den),
                 q->a.y + round_ratio(num * ((int64_t)q->b.y - q->a.y), den)};
    if (at.x >= in->x0 && at.x <= in->x1 && at.y >= in->y0 && at.y <= in->y1)
        g_array_append_val(w->hot, at);
}

static void cross_leaf(Work *w, const uint32_t *ids, size_t n, const Box *in)
{
    for (size_t i = 0; i < n; i++)
        for (size_t j = i + 1; j < n; j++)
            cross_pair(w, &w->s[ids[i]], &w->s[ids[j]], in);
    w->tests_left -= (int64_t)(n * n / 2);
    if (w->hot->len > w->most_hits)
        w->tests_left = -1;
}

/* A crowded box of a few grid squares: making them all hot is valid and needs no test. */
static void heat_box(Work *w, const Box *b)
{
    for (int64_t y = b->y0; y <= b->y1; y++)
        for (int64_t x = b->x0; x <= b->x1; x++) {
            DtNode at = {(int32_t)x, (int32_t)y};
            g_array_append_val(w->hot, at);
        }
}

/* `stale` counts the consecutive halvings that did not separate the segments: a bundle that runs
 * through the box side by side. Testing its pairs is then cheaper than following it in ever
 * smaller boxes. */
static void find_crossings(Work *w, size_t at, size_t n, Box b, int stale)
{
    if (w->tests_left < 0 || n < 2)
        return;
    if (n <= LEAF_SEGMENTS ||
        (n <= MOST_PAIRED && n <= (size_t)LEAF_SEGMENTS << MIN(2 * stale, 20))) {
        cross_leaf(w, &g_array_index(w->stack, uint32_t, at), n, &b);
        return;
    }
    if (b.x1 - b.x0 <= 2 && b.y1 - b.y0 <= 2) {
        heat_box(w, &b);
        return;
    }
    Box lower = b, upper = b;
    if (b.x1 - b.x0 > b.y1 - b.y0)
        lower.x1 = upper.x0 = b.x0 + (b.x1 - b.x0) / 2;
    else
        lower.y1 = upper.y0 = b.y0 + (b.y1 - b.y0) / 2;
    size_t base = w->stack->len;
    size_t n_lower = push_touching(w, at, n, 1, &lower);
    size_t n_upper = push_touching(w, at, n, 1, &upper);
    stale = 2 * (n_lower + n_upper) > 3 * n ? stale + 1 : 0;
    find_crossings(w, base + n_lower, n_upper, upper, stale);
    g_array_set_size(w->stack, (guint)(base + n_lower));
    find_crossings(w, base, n_lower, lower, stale);
    g_array_set_size(w->stack, (guint)base);
}

/* Squares of about this many segments' beginnings; they are used if segments, all together, are in at most
 * so many squares each. */
enum { SEGMENTS_PER_SQUARE = 3, MOST_EACH = 5 };

/* Adds each segment to all squares of its box. FALSE if there are too many. */
static gboolean fill_squares(const Work *w, Squares *g)
{
    const size_t across = (size_t)g->w;
    size_t entries = 0;
    for (size_t i = 0; i < w->n; i++) {
        const Span n = span_of(g, &w->s[i]);
        entries += n.wide * rows_of(g, &n);
        if (entries > MOST_EACH * w->n)
            return FALSE;
        for (size_t row = n.low; row <= n.high; row += across)
            for (size_t k = row; k < row + n.wide; k++)
                g->first[k + 2]++;
    }
    sum_counts(g);
    g->list = g_new(uint32_t, entries + 1);
    for (size_t i = 0; i < w->n; i++) {
        const Span n = span_of(g, &w->s[i]);
        for (size_t row = n.low; row <= n.high; row += across)
            for (size_t k = row; k < row + n.wide; k++)
                g->list[g->first[k + 1]++] = (uint32_t)i;
    }
    return TRUE;
}

/* Finds the crossings of one square, the k-th. */
static void cross_square(Work *w, const Squares *g, int64_t k)
{
    const uint32_t *ids = g->list + g->first[k];
    const size_t n = g->first[k + 1] - g->first[k];
    const int64_t x = g->x0 + (k % g->w << g->shift), y = g->y0 + (k / g->w << g->shift);
    const int64_t side = (int64_t)1 << g->shift;
    const Box b = {x, y, x + side, y + side};
    if (n <= LEAF_SEGMENTS) {
        cross_leaf(w, ids, n, &b);
        return;
    }
    g_array_set_size(w->stack, 0);
    g_array_append_vals(w->stack, ids, (guint)n);
    find_crossings(w, 0, n, b, 0);
}

/* Finds the crossings square by square. FALSE if the segments are too long for that. */
static gboolean cross_in_squares(Work *w, Box b)
{
    if (w->n == 0)
        return TRUE;
    Squares g = lay_squares(b, SEGMENTS_PER_SQUARE, w->n);
    const gboolean good = fill_squares(w, &g);
    for (int64_t k = 0; good && k < g.w * g.h && w->tests_left >= 0; k++) {
        cross_square(w, &g, k);
        if (k % 4096 == 0 && dt_work_stopped())
            w->tests_left = -1;
    }
    clear_squares(&g);
    return good;
}

/* Hot squares --------------------------------------------------------------------------------- */

/* Whether a segment passes through the square [x-1/2, x+1/2) x [y-1/2, y+1/2) of a node: closed
 * on the left and at the bottom, open on the right and at the top, so that squares do not
 * overlap. */
static gboolean passes(const DtSegment *s, DtNode n)
{
    int64_t px = 2 * (int64_t)s->a.x, py = 2 * (int64_t)s->a.y;
    int64_t qx = 2 * (int64_t)s->b.x, qy = 2 * (int64_t)s->b.y;
    if (px > qx) {
        int64_t x = px, y = py;
        px = qx, py = qy;
        qx = x, qy = y;
    }
    int64_t x0 = 2 * (int64_t)n.x - 1, x1 = x0 + 2, y0 = 2 * (int64_t)n.y - 1, y1 = y0 + 2;
    if (px >= x1 || qx < x0 || MIN(py, qy) >= y1 || MAX(py, qy) < y0)
        return FALSE;
    if (px == qx || py == qy)
        return TRUE;
    int64_t dx = qx - px, dy = qy - py;
    gboolean rises = dy > 0;
    int upper_left = sign(dx * (y1 - py) - dy * (x0 - px));
    if (upper_left == 0)
        return !rises;
    int upper_right = sign(dx * (y1 - py) - dy * (x1 - px));
    if (upper_right == 0)
        return rises;
    if (upper_left != upper_right)
        return TRUE;
    int lower_left = sign(dx * (y0 - py) - dy * (x0 - px));
    if (lower_left == 0 || lower_left != upper_left)
        return TRUE;
    int lower_right = sign(dx * (y0 - py) - dy * (x1 - px));
    if (lower_right == 0)
        return !rises;
    return lower_right != lower_left;
}

/* Orders ids by x or y about their middle (Hoare 1961, "Find"). */
static void split_about(const DtNode *nodes, uint32_t *ids, size_t n, size_t middle, gboolean by_x)
{
#define KEY(i) (by_x ? nodes[ids[i]].x : nodes[ids[i]].y)
    ptrdiff_t lo = 0, hi = (ptrdiff_t)n - 1, want = (ptrdiff_t)middle;
    while (lo < hi) {
        int32_t pivot = KEY(lo + (hi - lo) / 2);
        ptrdiff_t i = lo - 1, j = hi + 1;
        for (;;) {
            do
                i++;
            while (KEY(i) < pivot);
            do
                j--;
            while (KEY(j) > pivot);
            if (i >= j)
                break;
            uint32_t t = ids[i];
            ids[i] = ids[j];
            ids[j] = t;
        }
        if (want <= j)
            hi = j;
        else
            lo = j + 1;
    }
#undef KEY
}

static void hit_leaf(Work *w, size_t at, size_t n, const DtNode *nodes, const uint32_t *ids,
                     size_t n_ids)
{
    for (size_t i = 0; i < n; i++) {
        uint32_t s = g_array_index(w->stack, uint32_t, at + i);
        for (size_t j = 0; j < n_ids; j++)
            if (passes(&w->s[s], nodes[ids[j]])) {
                Hit h = {s, ids[j]};
                g_array_append_val(w->hits, h);
            }
    }
    w->tests_left -= (int64_t)(n * n_ids);
    if (w->hits->len > w->most_hits)
        w->tests_left = -1;
}

static Box box_of(const DtNode *nodes, const uint32_t *ids, size_t n)
{
    Box b = {INT64_MAX, INT64_MAX, INT64_MIN, INT64_MIN};
    for (size_t i = 0; i < n; i++) {
        DtNode p = nodes[ids[i]];
        b.x0 = MIN(b.x0, 2 * (int64_t)p.x - 1);
        b.x1 = MAX(b.x1, 2 * (int64_t)p.x + 1);
        b.y0 = MIN(b.y0, 2 * (int64_t)p.y - 1);
        b.y1 = MAX(b.y1, 2 * (int64_t)p.y + 1);
    }
    return b;
}

static void find_hits(Work *w, size_t at, size_t n, const DtNode *nodes, uint32_t *ids,
                      size_t n_ids)
{
    if (w->tests_left < 0 || n == 0)
        return;
    Box b = box_of(nodes, ids, n_ids);
    size_t base = w->stack->len;
    size_t n_here = push_touching(w, at, n, 2, &b);
    if (n_ids <= LEAF_NODES) {
        hit_leaf(w, base, n_here, nodes, ids, n_ids);
    } else {
        size_t half = n_ids / 2;
        split_about(nodes, ids, n_ids, half, b.x1 - b.x0 > b.y1 - b.y0);
        find_hits(w, base, n_here, nodes, ids, half);
        find_hits(w, base, n_here, nodes, ids + half, n_ids - half);
    }
    g_array_set_size(w->stack, (guint)base);
}

/* Squares of about this many nodes; segments that touch more squares, or more nodes in them, are followed
 * by halving. */
enum { NODES_PER_SQUARE = 2, MOST_SQUARES = 64, MOST_IN_SQUARES = 200 };

static Squares make_squares(const DtNode *nodes, size_t n)
{
    Box b = {INT64_MAX, INT64_MAX, INT64_MIN, INT64_MIN};
    for (size_t i = 0; i < n; i++) {
        b.x0 = MIN(b.x0, nodes[i].x);
        b.x1 = MAX(b.x1, nodes[i].x);
        b.y0 = MIN(b.y0, nodes[i].y);
        b.y1 = MAX(b.y1, nodes[i].y);
    }
    Squares g = lay_squares(b, NODES_PER_SQUARE, n);
    g.list = g_new(uint32_t, n + 1);
    for (size_t i = 0; i < n; i++)
        g.first[square_of(&g, nodes[i]) + 2]++;
    sum_counts(&g);
    for (size_t i = 0; i < n; i++)
        g.list[g.first[square_of(&g, nodes[i]) + 1]++] = (uint32_t)i;
    return g;
}

/* Whether the grid is suitable for a segment: it touches few squares, with few nodes in them. */
static gboolean is_short(const Squares *g, const Span *n)
{
    if (n->wide * rows_of(g, n) > MOST_SQUARES)
        return FALSE;
    uint32_t nodes = 0;
    for (size_t row = n->low; row <= n->high; row += (size_t)g->w)
        nodes += g->first[row + n->wide] - g->first[row];
    return nodes <= MOST_IN_SQUARES;
}

/* Finds the hits of all segments for which the grid is suitable; leaves the others on the stack. A square of
 * a node outside of a segment's box is not passed. */
static void hit_short(Work *w, const DtNode *nodes, size_t n_nodes)
{
    Squares g = make_squares(nodes, n_nodes);
    g_array_set_size(w->stack, 0);
    for (size_t i = 0; i < w->n && w->tests_left >= 0; i++) {
        const uint32_t id = (uint32_t)i;
        const DtSegment *s = &w->s[i];
        const Span n = span_of(&g, s);
        const int32_t left = MIN(s->a.x, s->b.x), right = MAX(s->a.x, s->b.x);
        if (!is_short(&g, &n)) {
            g_array_append_val(w->stack, id);
            continue;
        }
        for (size_t row = n.low; row <= n.high; row += (size_t)g.w)
            for (uint32_t k = g.first[row]; k < g.first[row + n.wide]; k++) {
                const DtNode p = nodes[g.list[k]];
                if (p.x < left || p.x > right || p.y < s->a.y || p.y > s->b.y || !passes(s, p))
                    continue;
                const Hit h = {id, g.list[k]};
                g_array_append_val(w->hits, h);
            }
        if (i % 4096 == 0 && (dt_work_stopped() || w->hits->len > w->most_hits))
            w->tests_left = -1;
    }
    clear_squares(&g);
}

/* All together -------------------------------------------------------------------------------- */

static void collect_nodes(Work *w, DtSplit *out)
{
    size_t n = w->hot->len;
    g_autofree DtKey *keys = g_new(DtKey, n + 1);
    for (size_t i = 0; i < n; i++) {
        DtNode p = g_array_index(w->hot, DtNode, i);
        keys[i].key = (uint64_t)dt_radix_signed(p.y) << 32 | dt_radix_signed(p.x);
    }
    g_clear_pointer(&w->hot, g_array_unref); /* the keys say it all */
    dt_radix_sort(keys, n);
    out->nodes = g_new(DtNode, n + 1);
    for (size_t i = 0; i < n; i++)
        if (i == 0 || keys[i].key != keys[i - 1].key)
            out->nodes[out->n_nodes++] =
                (DtNode){(int32_t)((uint32_t)keys[i].key ^ 0x80000000u),
                         (int32_t)((uint32_t)(keys[i].key >> 32) ^ 0x80000000u)};
}

typedef struct {
    int64_t along;
    uint32_t node;
} Stop;

static int compare_stops(const void *a, const void *b)
{
    const Stop *p = a, *q = b;
    if (p->along != q->along)
        return p->along < q->along ? -1 : 1;
    return (p->node > q->node) - (p->node < q->node);
}

static void order_chain(const DtSegment *s, const DtNode *nodes, uint32_t *chain, size_t n,
                        GArray *scratch)
{
    if (n < 2)
        return;
    g_array_set_size(scratch, (guint)n);
    Stop *stops = (Stop *)(void *)scratch->data;
    int64_t dx = (int64_t)s->b.x - s->a.x, dy = (int64_t)s->b.y - s->a.y;
    for (size_t i = 0; i < n; i++) {
        DtNode p = nodes[chain[i]];
        stops[i] = (Stop){dx * ((int64_t)p.x - s->a.x) + dy * ((int64_t)p.y - s->a.y), chain[i]};
    }
    if (n == 2 && compare_stops(&stops[0], &stops[1]) > 0) {
        Stop t = stops[0];
        stops[0] = stops[1];
        stops[1] = t;
    } else if (n > 2) {
        qsort(stops, n, sizeof *stops, compare_stops);
    }
    for (size_t i = 0; i < n; i++)
        chain[i] = stops[i].node;
}

static void make_chains(Work *w, DtSplit *out)
{
    out->first = g_new0(uint32_t, w->n + 1);
    out->chain = g_new(uint32_t, w->hits->len + 1);
    for (size_t i = 0; i < w->hits->len; i++)
        out->first[g_array_index(w->hits, Hit, i).segment + 1]++;
    for (size_t i = 0; i < w->n; i++)
        out->first[i + 1] += out->first[i];
    g_autofree uint32_t *fill = g_memdup2(out->first, (w->n + 1) * sizeof *fill);
    for (size_t i = 0; i < w->hits->len; i++) {
        Hit h = g_array_index(w->hits, Hit, i);
        out->chain[fill[h.segment]++] = h.node;
    }
    g_autoptr(GArray) scratch = g_array_new(FALSE, FALSE, sizeof(Stop));
    for (size_t i = 0; i < w->n && !dt_work_stopped(); i++)
        order_chain(&w->s[i], out->nodes, out->chain + out->first[i],
                    out->first[i + 1] - out->first[i], scratch);
}

static Box box_of_segments(const DtSegment *s, size_t n)
{
    Box b = {INT64_MAX, INT64_MAX, INT64_MIN, INT64_MIN};
    for (size_t i = 0; i < n; i++) {
        b.x0 = MIN(b.x0, MIN(s[i].a.x, s[i].b.x));
        b.x1 = MAX(b.x1, MAX(s[i].a.x, s[i].b.x));
        b.y0 = MIN(b.y0, s[i].a.y);
        b.y1 = MAX(b.y1, s[i].b.y);
    }
    return b;
}

static void fill_stack(Work *w)
{
    g_array_set_size(w->stack, 0);
    for (size_t i = 0; i < w->n; i++) {
        uint32_t id = (uint32_t)i;
        g_array_append_val(w->stack, id);
    }
}

gboolean dt_split_segments(const DtSegment *s, size_t n, DtSplit *out, GError **error)
{
    memset(out, 0, sizeof *out);
    Work w = {.s = s, .n = n};
    w.tests_left = MAX((int64_t)n * TESTS_PER_SEGMENT, (int64_t)TESTS_AT_LEAST);
    w.most_hits = MAX((int64_t)n * HITS_PER_SEGMENT, (int64_t)HITS_AT_LEAST);
    w.most_hits = MIN(w.most_hits, G_MAXINT32); /* both ends of all edges are counted in 32 bits */
    w.hot = g_array_new(FALSE, FALSE, sizeof(DtNode));
    w.stack = g_array_new(FALSE, FALSE, sizeof(uint32_t));
    w.hits = g_array_new(FALSE, FALSE, sizeof(Hit));
    g_array_append_vals(w.hot, s, (guint)(2 * n)); /* their ends */
    const Box all = box_of_segments(s, n);
    if (!cross_in_squares(&w, all)) {
        fill_stack(&w);
        find_crossings(&w, 0, n, all, 0);
    }
    collect_nodes(&w, out);
    if (w.tests_left >= 0 && out->n_nodes > 0) {
        g_autofree uint32_t *ids = g_new(uint32_t, out->n_nodes);
        for (size_t i = 0; i < out->n_nodes; i++)
            ids[i] = (uint32_t)i;
        hit_short(&w, out->nodes, out->n_nodes);
        find_hits(&w, 0, w.stack->len, out->nodes, ids, out->n_nodes);
    }
    gboolean good = w.tests_left >= 0;
    if (good)
        make_chains(&w, out);
    else if (dt_work_check(error))
        g_set_error(error, DT_PLANE_ERROR, DT_ERROR_INPUT,
                    "%zu edges cross one another too often to be drawn", n);
    g_array_free(w.stack, TRUE);
    g_array_free(w.hits, TRUE);
    return good;
}

void dt_split_clear(DtSplit *s)
{
    g_free(s->nodes);
    g_free(s->first);
    g_free(s->chain);
    memset(s, 0, sizeof *s);
}
