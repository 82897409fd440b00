/* scan-pens: a row of short strokes for each pen on a sheet for scanning, across both axes, all approached alike:
 * where they lie against those of the first pen is where the pen sits in the holder, and how wide they are its
 * tip. Steps of its hatch beside them show how dark that looks, where there is room for them. They stand in the
 * upper left quarter, which the rows of marks leave free. */
#include "truing/sheet/scan-part.h"
#include "truing/sheet/sheet-parts.h"

enum { STROKES = 4 };                                 /* across each axis */
static const double upright_mm = 3.4, lying_mm = 5.8; /* pitch of the strokes across X, across Y */
static const double row_mm = 7, name_mm = 7, tones_gap_mm = 3;

static void add_stroke(DtTestSheet *s, size_t pen, int axis, DtPoint at, int place)
{
    const double half = DT_SHEET_STROKE_MM / 2;
    const DtPoint by = axis == 0 ? dt_point(0, half) : dt_point(half, 0);
    DtMark m = dt_sheet_mark(DT_MARK_DASH, DT_SHEET_PENS, axis, dt_point_sub(at, by),
                             dt_point_add(at, by));
    m.approach[0] = m.approach[1] = 1;
    m.row = (int)pen;
    m.place = place;
    m.pen = (uint16_t)pen;
    dt_sheet_add(s, &m);
}

gboolean dt_sheet_add_scan_pens(DtTestSheet *s, const DtProfile *p, GError **error)
{
    const double left = 25, above_middle = 10, beside_middle = 6, above = 14, letter_mm = 1.8;
    const double w = STROKES * (upright_mm + lying_mm) + name_mm;
    const DtSheetArea area = {s->paper_at.x + left, s->paper_at.y + s->paper_h / 2 + above_middle,
                              s->paper_at.x + s->paper_w / 2 - beside_middle,
                              s->paper_at.y + s->paper_h - above};
    const size_t rows = (size_t)MAX(dt_box_height(area) / row_mm, 1);
    const size_t columns = (p->rack.n + rows - 1) / rows;
    double tones = 0;
    for (size_t pen = 0; pen < p->rack.n; pen++)
        tones = MAX(tones, dt_sheet_scan_tones_size(p, pen).x + tones_gap_mm);
    if (dt_box_width(area) < (w + tones) * (double)columns)
        tones = 0;
    if (!dt_sheet_need_room(area, w * (double)columns, row_mm, "pens", error))
        return FALSE;
    for (size_t pen = 0; pen < p->rack.n; pen++) {
        const DtPoint at = dt_point(area.x0 + (w + tones) * (double)(pen / rows),
                                    area.y1 - row_mm * ((double)(pen % rows) + 0.5));
        for (int i = 0; i < STROKES; i++)
            add_stroke(s, pen, 0, dt_point(at.x + (i + 0.5) * upright_mm, at.y), i);
        for (int i = 0; i < STROKES; i++)
            add_stroke(s, pen, 1,
                       dt_point(at.x + STROKES * upright_mm + (i + 0.5) * lying_mm, at.y), i);
        g_autofree char *name = g_strdup_printf("P%zu", pen + 1);
        const size_t first = s->n;
        const DtPoint letters =
            dt_point(at.x + STROKES * (upright_mm + lying_mm) + 1, at.y - letter_mm / 2);
        if (!dt_sheet_add_text(s, DT_SHEET_PENS, name, letters, letter_mm, 0, error))
            return FALSE;
        for (size_t i = first; i < s->n; i++)
            s->marks[i].pen = (uint16_t)pen;
        if (tones > 0)
            dt_sheet_add_scan_tones(
                s, p, pen, dt_point(at.x + w, at.y - dt_sheet_scan_tones_size(p, pen).y / 2));
    }
    return TRUE;
}
