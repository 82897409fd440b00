/* cuts: which steps close an exchange, tabulated for every arrangement of the removed steps. */
#include "route/cuts.h"

/* Without the closing step there is a path from the first to the last end, and possibly rings
 * apart from it. If there are none, a step of the path is removed whose end nearer to the first
 * one is joined to the last. If there is one ring, any of its steps opens it. More rings cannot
 * be joined by one step. */
static uint16_t closings_of(const DtCuts *cuts, int k)
{
    uint32_t on_path = 0, in_ring = 0, ways = 0;
    const uint32_t all = (1u << k) - 1;
    for (int e = 0; e != 2 * k;) {
        DtCutsPassage p = dt_cuts_pass(cuts, k, e);
        ways |= (p.forward ? 2u : 1u) << 2 * p.segment;
        on_path |= 1u << p.segment;
        e = p.end == 2 * k - 1 ? 2 * k : dt_cuts_joined(p.end, k);
    }
    if (on_path == all)
        return (uint16_t)ways;
    ways = 0;
    int first = 0;
    while (on_path >> first & 1)
        first++;
    DtCutsPassage p = {first, cuts->left[first], TRUE};
    do {
        ways |= 3u << 2 * p.segment;
        in_ring |= 1u << p.segment;
        p = dt_cuts_pass(cuts, k, dt_cuts_joined(p.end, k));
    } while (p.segment != first);
    return (on_path | in_ring) == all ? (uint16_t)ways : 0;
}

/* Fills in all arrangements that extend the k cuts. Only the order of the gaps matters. */
static void fill(uint16_t *table, const DtCuts *cuts, int k)
{
    if (k > 0)
        table[cuts->arrangement] = closings_of(cuts, k);
    if (k + 1 == DT_TOUR_DEPTH)
        return;
    DtCuts spread = *cuts;
    for (int i = 0; i < k; i++)
        spread.gap[i] = 2 * i + 1;
    for (int r = 0; r <= k; r++)
        for (int first_before = 0; first_before < 2; first_before++) {
            DtCuts more = spread;
            dt_cuts_add(&more, k, 2 * r, first_before);
            fill(table, &more, k + 1);
        }
}

const uint16_t *dt_cuts_closings(void)
{
    static uint16_t table[4283];
    static gsize is_filled;
    G_STATIC_ASSERT(G_N_ELEMENTS(table) == 1 + 2 + 8 + 48 + 384 + 3840);
    if (g_once_init_enter(&is_filled)) {
        const DtCuts none = {0};
        fill(table, &none, 0);
        g_once_init_leave(&is_filled, 1);
    }
    return table;
}
