/* part-pens: each further pen's vernier against a comb of the first pen, along both axes, pairs of lines that close
 * up, which show how wide its line is, and steps of its hatch, which show how dark that looks. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

enum { LAST = 12, PAIRS = 12 };
static const double least_mm = 0.05, pair_step_mm = 0.1, name_high_mm = 1.6, pair_mm = 3.5,
                    between_mm = 4, gap_mm = 5;

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

/* Two lines `i` steps apart from a tenth of a millimetre on, to and fro, which saves the way back. The first of all
 * comes after a reversal; the others are approached from the one before them. */
static void add_pair(DtTestSheet *s, DtPoint at, size_t pen, int i)
{
    for (int k = 0; k < 2; k++) {
        const double x = at.x + i * between_mm + k * (i + 1) * pair_step_mm;
        const DtPoint low = dt_point(x, at.y), high = dt_point(x, at.y + pair_mm);
        DtMark m = dt_sheet_mark(DT_MARK_DASH, DT_SHEET_PENS, -1, k == 0 ? high : low,
                                 k == 0 ? low : high);
        m.approach[0] = 1;
        m.needs_no_reversal = i > 0 || k > 0;
        m.row = (int)pen;
        m.place = i + 1;
        dt_sheet_add(s, &m);
    }
}

/* Where the rows of pairs and of tone steps stand: side by side where the area is wide enough. */
typedef struct {
    double strip_mm; /* height of a tone strip: more where there is room, for the eye's sake */
    double pairs_pitch, tones_pitch;
    DtPoint tones; /* of the first pen's tone steps, from the area's lower left corner */
    double w, h;   /* of all */
} Rows;

static DtPoint largest_tones(const DtProfile *p, double strip_mm)
{
    DtPoint all = {0, 0};
    for (size_t i = 0; i < p->rack.n; i++) {
        const DtPoint size = dt_sheet_tones_size(p, i, strip_mm);
        all = dt_point(MAX(all.x, size.x), MAX(all.y, size.y));
    }
    return all;
}

static Rows rows_with(const DtProfile *p, double width, double strip_mm)
{
    const double pairs_w = PAIRS * between_mm + 8, clear_mm = 2, n = (double)p->rack.n;
    const DtPoint tones = largest_tones(p, strip_mm);
    Rows r = {strip_mm, pair_mm + gap_mm, tones.y + clear_mm, {0, 0}, 0, 0};
    if (pairs_w + gap_mm + tones.x <= width) {
        r.pairs_pitch = r.tones_pitch = MAX(r.pairs_pitch, r.tones_pitch);
        r.tones.x = pairs_w + gap_mm;
        r.w = r.tones.x + tones.x;
        r.h = n * r.tones_pitch;
    } else {
        r.tones.y = n * r.pairs_pitch;
        r.w = MAX(pairs_w, tones.x);
        r.h = r.tones.y + n * r.tones_pitch;
    }
    return r;
}

/* What the verniers need above them. */
static double verniers_height(const DtProfile *p)
{
    const double thick = dt_vernier_above_mm + dt_vernier_below_mm + gap_mm;
    return MAX(2 * (LAST * dt_sheet_pitch(p) + 2) + 6, (double)(p->rack.n - 1) * thick);
}

static Rows rows_of(const DtProfile *p, DtSheetArea area)
{
    const double least_mm_high = 3.6, most_mm = 4.4, step_mm = 0.4;
    double strip = most_mm;
    while (strip > least_mm_high + step_mm / 2 &&
           verniers_height(p) + rows_with(p, dt_box_width(area), strip).h > dt_box_height(area))
        strip -= step_mm;
    return rows_with(p, dt_box_width(area), strip);
}

double dt_sheet_pens_height(const DtProfile *p, DtSheetArea area)
{
    return verniers_height(p) + rows_of(p, area).h;
}

/* What one pen draws; of the first pen the main combs. */
static gboolean add_pen(DtTestSheet *s, const DtProfile *p, DtSheetArea area, size_t pen,
                        GError **error)
{
    const Rows rows = rows_of(p, area);
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
    const DtPoint pairs = dt_point(area.x0, area.y0 + (double)pen * rows.pairs_pitch);
    const DtPoint tones =
        dt_point(area.x0 + rows.tones.x, area.y0 + rows.tones.y + (double)pen * rows.tones_pitch);
    char name[8];
    g_snprintf(name, sizeof name, "W%zu", pen + 1);
    for (int i = 0; i < PAIRS; i++)
        add_pair(s, pairs, pen, i);
    if (!dt_sheet_add_text(s, DT_SHEET_PENS, name,
                           dt_point(pairs.x + PAIRS * between_mm + 2, pairs.y), name_high_mm, 0,
                           error) ||
        !dt_sheet_add_tones(s, p, pen, tones, rows.strip_mm, error))
        return FALSE;
    for (size_t i = first; i < s->n; i++)
        s->marks[i].pen = (uint16_t)pen;
    return TRUE;
}

gboolean dt_sheet_add_pens(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error)
{
    const double thick = dt_vernier_above_mm + dt_vernier_below_mm + gap_mm;
    const double whole = 2 * (LAST * dt_sheet_pitch(p) + 2), more = (double)(p->rack.n - 1) * thick;
    const Rows rows = rows_of(p, area);
    if (!dt_sheet_need_room(area, MAX(whole + 10 + more, rows.w), verniers_height(p) + rows.h,
                            "pens", error))
        return FALSE;
    for (size_t pen = 0; pen < p->rack.n; pen++)
        if (!add_pen(s, p, area, pen, error))
            return FALSE;
    return TRUE;
}
