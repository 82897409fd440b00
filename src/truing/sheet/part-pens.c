/* part-pens: each further pen's vernier against a comb of the first pen, along both axes, and pairs of
 * lines that close up, which show how wide its line is. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

enum { LAST = 12, PAIRS = 12 };
static const double least_mm = 0.05, pair_step_mm = 0.1, pair_mm = 6, between_mm = 5, gap_mm = 5;

static DtVernier vernier_of(const DtProfile *p, int axis, size_t pen, DtPoint at, const char *name)
{
    return (DtVernier){.part = DT_SHEET_PENS,
                       .axis = axis,
                       .row = (int)(2 * pen) + axis,
                       .at = at,
                       .pitch = dt_sheet_pitch(p),
                       .least = least_mm,
                       .first = -LAST,
                       .last = LAST,
                       .main_from = 1,
                       .vernier_from = 1,
                       .name = name};
}

/* Two lines `i` steps apart from a tenth of a millimetre on. */
static void add_pair(DtTestSheet *s, DtPoint at, size_t pen, int i)
{
    for (int k = 0; k < 2; k++) {
        const double x = at.x + i * between_mm + k * (i + 1) * pair_step_mm;
        DtMark m = dt_sheet_mark(DT_MARK_DASH, DT_SHEET_PENS, -1, dt_point(x, at.y + pair_mm),
                                 dt_point(x, at.y));
        m.approach[0] = 1;
        m.row = (int)pen;
        m.place = i + 1;
        dt_sheet_add(s, &m);
    }
}

/* What one pen draws; of the first pen the main combs. */
static gboolean add_pen(DtTestSheet *s, const DtProfile *p, DtSheetArea area, size_t pen,
                        GError **error)
{
    const double thick = dt_vernier_above_mm + dt_vernier_below_mm + gap_mm;
    const double half = LAST * dt_sheet_pitch(p) + 2, down = area.y1 - dt_vernier_above_mm,
                 name_mm = 6;
    const size_t first = s->n;
    for (size_t i = 1; i < p->rack.n; i++) {
        const double row = (double)(i - 1) * thick;
        for (int axis = 0; axis < 2 && (pen == 0 || i == pen); axis++) {
            char name[8];
            g_snprintf(name, sizeof name, "P%zu%c", i + 1, axis == 0 ? 'X' : 'Y');
            const DtPoint at = axis == 0
                                   ? dt_point(area.x0 + half, down - row)
                                   : dt_point(area.x0 + 2 * half + 10 + dt_vernier_below_mm + row,
                                              area.y1 - half - name_mm);
            const DtVernier v = vernier_of(p, axis, i, at, name);
            if (pen == 0)
                dt_vernier_add_main(s, &v);
            else
                dt_vernier_add_vernier(s, &v);
            if (pen == 0 &&
                (!dt_vernier_add_letters(s, &v, error) || !dt_vernier_add_name(s, &v, error)))
                return FALSE;
        }
    }
    const DtPoint pairs = dt_point(area.x0, area.y0 + (double)pen * (pair_mm + gap_mm));
    char name[8];
    g_snprintf(name, sizeof name, "W%zu", pen + 1);
    for (int i = 0; i < PAIRS; i++)
        add_pair(s, pairs, pen, i);
    if (!dt_sheet_add_text(s, DT_SHEET_PENS, name,
                           dt_point(pairs.x + PAIRS * between_mm + 2, pairs.y), 2, 0, error))
        return FALSE;
    for (size_t i = first; i < s->n; i++)
        s->marks[i].pen = (uint16_t)pen;
    return TRUE;
}

gboolean dt_sheet_add_pens(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error)
{
    const double thick = dt_vernier_above_mm + dt_vernier_below_mm + gap_mm;
    const double whole = 2 * (LAST * dt_sheet_pitch(p) + 2), more = (double)(p->rack.n - 1) * thick;
    const double pairs = (double)p->rack.n * (pair_mm + gap_mm);
    if (!dt_sheet_need_room(area, MAX(whole + 10 + more, PAIRS * between_mm + 8),
                            MAX(whole + 6, more) + pairs, "pens", error))
        return FALSE;
    for (size_t pen = 0; pen < p->rack.n; pen++)
        if (!add_pen(s, p, area, pen, error))
            return FALSE;
    return TRUE;
}
