/* graph: the unique edges of a split and the star of edges at each node. */
#include "ink/plane/label.h"

#include "drawtrue/work.h"
#include "ink/plane/radix.h"

#include <string.h>

/* The stretches between neighbouring nodes of all segments, by their places in split->chain: keys of
 * the lower node, then the higher one, in rising order. Each segment is said at all of its places. */
static DtKey *stretches(const DtSplit *split, size_t n_segments, uint32_t *segment_at, size_t *n)
{
    DtKey *keys = g_new(DtKey, (gsize)split->first[n_segments] + 1);
    size_t k = 0;
    for (size_t i = 0; i < n_segments && !dt_work_stopped(); i++)
        for (uint32_t j = split->first[i]; j + 1 < split->first[i + 1]; j++) {
            uint64_t a = split->chain[j], b = split->chain[j + 1];
            keys[k++] = (DtKey){a < b ? a << 32 | b : b << 32 | a, j};
            segment_at[j] = (uint32_t)i;
        }
    dt_radix_sort(keys, k);
    *n = k;
    return keys;
}

/* Adds a turn to those from `start` on, summed per layer. */
static void add_turn(GArray *turns, size_t start, DtTurn t)
{
    for (size_t i = start; i < turns->len; i++)
        if (g_array_index(turns, DtTurn, i).layer == t.layer) {
            g_array_index(turns, DtTurn, i).by += t.by;
            return;
        }
    g_array_append_val(turns, t);
}

static void drop_zero_turns(GArray *turns, size_t start)
{
    size_t k = start;
    for (size_t i = start; i < turns->len; i++) {
        DtTurn t = g_array_index(turns, DtTurn, i);
        if (t.by != 0)
            g_array_index(turns, DtTurn, k++) = t;
    }
    g_array_set_size(turns, (guint)k);
}

static void make_stars(DtGraph *g)
{
    g->star_first = g_new0(uint32_t, g->n_nodes + 1);
    g->star = g_new(uint32_t, 2 * g->n + 1);
    for (size_t i = 0; i < g->n && !dt_work_stopped(); i++) {
        g->star_first[g->e[i].a + 1]++;
        g->star_first[g->e[i].b + 1]++;
    }
    for (size_t i = 0; i < g->n_nodes; i++)
        g->star_first[i + 1] += g->star_first[i];
    if (dt_work_stopped())
        return;
    g_autofree uint32_t *fill = g_memdup2(g->star_first, (g->n_nodes + 1) * sizeof *fill);
    for (size_t i = 0; i < g->n && !dt_work_stopped(); i++) {
        g->star[fill[g->e[i].a]++] = (uint32_t)i;
        g->star[fill[g->e[i].b]++] = (uint32_t)i;
    }
}

void dt_graph_make(DtGraph *g, const DtSplit *split, size_t n_segments, const DtTurn *turns,
                   const uint32_t *turn_first, uint32_t *chain_edge)
{
    size_t n = 0;
    g_autofree uint32_t *segment_at = g_new(uint32_t, (gsize)split->first[n_segments] + 1);
    DtKey *keys = stretches(split, n_segments, segment_at, &n);
    memset(g, 0, sizeof *g);
    g->n_nodes = split->n_nodes;
    /* An edge takes the place of the first of its keys, or of one before it. */
    G_STATIC_ASSERT(sizeof(DtGraphEdge) == sizeof(DtKey));
    g->e = (DtGraphEdge *)(void *)keys;
    g->turn_first = g_new(uint32_t, n + 1);
    GArray *sums = g_array_new(FALSE, FALSE, sizeof(DtTurn));
    for (size_t i = 0; i < n && !dt_work_stopped();) {
        const uint32_t start = sums->len;
        size_t j = i;
        g->turn_first[g->n] = start;
        const uint64_t key = keys[i].key;
        const DtGraphEdge edge = {(uint32_t)(key >> 32), (uint32_t)key, segment_at[keys[i].id]};
        for (; j < n && keys[j].key == key; j++) {
            const uint32_t at = keys[j].id, segment = segment_at[at];
            /* +1: the segment runs from the lower node to the higher */
            const int32_t way = split->chain[at] < split->chain[at + 1] ? 1 : -1;
            chain_edge[at] = (uint32_t)g->n;
            for (uint32_t k = turn_first[segment]; k < turn_first[segment + 1]; k++)
                add_turn(sums, start, (DtTurn){turns[k].layer, turns[k].by * way});
        }
        drop_zero_turns(sums, start);
        g->e[g->n++] = edge;
        i = j;
    }
    g->turn_first[g->n] = sums->len;
    g->turn = (DtTurn *)(void *)g_array_free(sums, FALSE);
    g->e = g_renew(DtGraphEdge, g->e, g->n + 1);
    g_clear_pointer(&segment_at, g_free);
    make_stars(g);
}

void dt_graph_clear(DtGraph *g)
{
    g_free(g->e);
    g_free(g->turn_first);
    g_free(g->turn);
    g_free(g->star_first);
    g_free(g->star);
    g_free(g->face);
    dt_number_lists_clear(&g->overlaps);
    g_free(g->overlap_label);
    memset(g, 0, sizeof *g);
}
