/* vernier: two combs whose pitch differs by the least count. Where a tick of one lines up with its
 * neighbour of the other, the tick's number times the least count is how far the combs are displaced
 * (the vernier principle; common practice, no source).
 *
 * The ticks of a comb follow each other in the direction of its approach, the first one after a reversal of
 * its own, so that all of them are drawn with the slack on the same side. Ticks of the same number are
 * drawn across the line in the same direction: whatever the other axis does to the carriage, it does to
 * both. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

static const double short_mm = 1.5, long_mm = 2.5, overlap_mm = 0.4, number_mm = 1.6;
const double dt_vernier_below_mm = 3.8, dt_vernier_above_mm = 7.2;

enum { LONG_EVERY = 5, LONG_COMB = 10 };

/* `along` the axis of the vernier from its tick 0, `across` its line. */
static DtPoint place(const DtVernier *v, double along, double across)
{
    return v->axis == 0 ? dt_point(v->at.x + along, v->at.y + across)
                        : dt_point(v->at.x + across, v->at.y + along);
}

static double tick_at(const DtVernier *v, DtMarkKind kind, int k)
{
    return kind == DT_MARK_COMB ? k * v->pitch : v->shift + k * (v->pitch - v->least);
}

static void add_tick(DtTestSheet *s, const DtVernier *v, DtMarkKind kind, int k, int from,
                     gboolean first)
{
    const double length = k % LONG_EVERY == 0 ? long_mm : short_mm;
    const gboolean below = kind == DT_MARK_COMB && !v->main_above;
    const double low = below ? -length : kind == DT_MARK_COMB ? 0 : -overlap_mm;
    const double high = below ? 0 : length;
    const double along = tick_at(v, kind, k);
    /* to and fro saves the way back */
    const gboolean up = v->opposed ? kind == DT_MARK_VERNIER : !v->one_way && k % 2 != 0;
    DtMark m = dt_sheet_mark(kind, v->part, v->axis, place(v, along, up ? low : high),
                             place(v, along, up ? high : low));
    m.approach[v->axis] = from;
    m.needs_no_reversal = !first;
    m.row = v->row;
    m.place = k;
    dt_sheet_add(s, &m);
}

static void add_comb(DtTestSheet *s, const DtVernier *v, DtMarkKind kind, int from)
{
    const gboolean rising = (from > 0) == (v->pitch > 0);
    for (int i = 0; i <= v->last - v->first; i++)
        add_tick(s, v, kind, rising ? v->first + i : v->last - i, from, i == 0);
}

void dt_vernier_add_main(DtTestSheet *s, const DtVernier *v)
{
    add_comb(s, v, DT_MARK_COMB, v->main_from);
}

void dt_vernier_add_vernier(DtTestSheet *s, const DtVernier *v)
{
    add_comb(s, v, DT_MARK_VERNIER, v->vernier_from);
}

void dt_vernier_add_opposed(DtTestSheet *s, const DtVernier *v)
{
    for (int k = v->first; k <= v->last; k++) {
        /* in the order in which they stand along the axis, or the approach would be the wrong one */
        const gboolean main_first = tick_at(v, DT_MARK_COMB, k) <= tick_at(v, DT_MARK_VERNIER, k);
        add_tick(s, v, main_first ? DT_MARK_COMB : DT_MARK_VERNIER, k, v->main_from, k == v->first);
        add_tick(s, v, main_first ? DT_MARK_VERNIER : DT_MARK_COMB, k, v->main_from, FALSE);
    }
}

gboolean dt_vernier_add_letters(DtTestSheet *s, const DtVernier *v, GError **error)
{
    const double gap = 0.8;
    const int every = v->last < LONG_COMB ? LONG_EVERY : 2 * LONG_EVERY;
    for (int k = v->first; k <= v->last; k++) {
        if (k % every != 0)
            continue;
        char number[8];
        g_snprintf(number, sizeof number, "%d", k);
        DtPoint at = place(v, tick_at(v, DT_MARK_VERNIER, k), long_mm + gap);
        if (v->axis == 1)
            at.y -= number_mm / 2;
        if (!dt_sheet_add_text(s, v->part, number, at, number_mm, v->axis == 0 ? 0.5 : 0, error))
            return FALSE;
    }
    return TRUE;
}

void dt_vernier_add_arrows(DtTestSheet *s, const DtVernier *v)
{
    const double end = tick_at(v, DT_MARK_COMB, v->last) + 1.5, arrow_mm = 3.2;
    const double across[] = {0.8, 2.7};
    const int from[] = {v->main_from, v->vernier_from};
    for (int i = 0; i < 2; i++) {
        const DtPoint low = place(v, end, across[i]), high = place(v, end + arrow_mm, across[i]);
        dt_sheet_add_arrow(s, v->part, from[i] > 0 ? low : high, from[i] > 0 ? high : low);
    }
}

gboolean dt_vernier_add_name(DtTestSheet *s, const DtVernier *v, GError **error)
{
    const double end = tick_at(v, DT_MARK_COMB, v->last) + 1.5;
    const DtPoint at = place(v, end, v->axis == 0 ? -long_mm : -2);
    return dt_sheet_add_text(s, v->part, v->name, at, number_mm, v->axis == 0 ? 0 : 1, error);
}
