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

/* What a pen takes: its strokes across X, those across Y, its name and, where there is room, its tone steps; all in
 * one row, or on narrow paper in rows below each other. */
typedef struct {
    gboolean has_tones;
    int lying_row, tones_row; /* from the block's first on */
    double name, tones;       /* from the block's left edge */
    double w, h;              /* of a block */
    size_t rows, most;        /* of blocks below each other; how many there is room for in all */
} Blocks;

typedef struct {
    gboolean has_tones;
    int lying_row, tones_row;
} Way;

static Blocks blocks_with(const DtProfile *p, DtSheetArea area, Way way)
{
    Blocks b = {.has_tones = way.has_tones, .lying_row = way.lying_row, .tones_row = way.tones_row};
    double tones_mm = 0;
    for (size_t pen = 0; way.has_tones && pen < p->rack.n; pen++)
        tones_mm = MAX(tones_mm, dt_sheet_scan_tones_size(p, pen).x + tones_gap_mm);
    b.name = STROKES * (way.lying_row > 0 ? upright_mm : upright_mm + lying_mm);
    b.tones = way.tones_row > 0 ? 0 : b.name + name_mm;
    b.w = MAX(MAX(b.name + name_mm, b.tones + tones_mm), STROKES * lying_mm);
    b.h = row_mm * (1 + MAX(way.lying_row, way.tones_row));
    b.rows = (size_t)MAX(dt_box_height(area) / b.h, 0);
    b.most = b.rows * (size_t)MAX(dt_box_width(area) / b.w, 0);
    return b;
}

/* The first that fits; otherwise the one with room for the most pens. */
static Blocks blocks_of(const DtProfile *p, DtSheetArea area)
{
    static const Way ways[] = {
        {TRUE, 0, 0}, {TRUE, 1, 0}, {TRUE, 1, 2}, {FALSE, 0, 0}, {FALSE, 1, 0}};
    Blocks best = {0};
    for (size_t i = 0; i < G_N_ELEMENTS(ways); i++) {
        const Blocks b = blocks_with(p, area, ways[i]);
        if (b.most >= p->rack.n)
            return b;
        if (i == 0 || b.most > best.most)
            best = b;
    }
    return best;
}

static gboolean add_block(DtTestSheet *s, const DtProfile *p, const Blocks *b, size_t pen,
                          DtPoint at, GError **error)
{
    const double letter_mm = 1.8;
    const DtPoint tones = dt_point(at.x + b->tones, at.y - b->tones_row * row_mm -
                                                        dt_sheet_scan_tones_size(p, pen).y / 2);
    const DtPoint lying = b->lying_row > 0 ? dt_point(at.x, at.y - b->lying_row * row_mm)
                                           : dt_point(at.x + STROKES * upright_mm, at.y);
    for (int i = 0; i < STROKES; i++)
        add_stroke(s, pen, 0, dt_point(at.x + (i + 0.5) * upright_mm, at.y), i);
    for (int i = 0; i < STROKES; i++)
        add_stroke(s, pen, 1, dt_point(lying.x + (i + 0.5) * lying_mm, lying.y), i);
    g_autofree char *name = g_strdup_printf("P%zu", pen + 1);
    const size_t first = s->n;
    const DtPoint letters = dt_point(at.x + b->name + 1, at.y - letter_mm / 2);
    if (!dt_sheet_add_text(s, DT_SHEET_PENS, name, letters, letter_mm, 0, error))
        return FALSE;
    for (size_t i = first; i < s->n; i++)
        s->marks[i].pen = (uint16_t)pen;
    if (b->has_tones)
        dt_sheet_add_scan_tones(s, p, pen, tones);
    return TRUE;
}

gboolean dt_sheet_add_scan_pens(DtTestSheet *s, const DtProfile *p, GError **error)
{
    const double left = 25, above_middle = 10, beside_middle = 6, above = 14;
    const DtSheetArea area = {s->paper_at.x + left, s->paper_at.y + s->paper_h / 2 + above_middle,
                              s->paper_at.x + s->paper_w / 2 - beside_middle,
                              s->paper_at.y + s->paper_h - above};
    const Blocks b = blocks_of(p, area);
    if (b.most < p->rack.n) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "beside the marks for a scan this paper has room for %zu of the %zu pens; take "
                    "larger paper, or a profile with fewer pens",
                    b.most, p->rack.n);
        return FALSE;
    }
    for (size_t pen = 0; pen < p->rack.n; pen++) {
        const DtPoint at = dt_point(area.x0 + b.w * (double)(pen / b.rows),
                                    area.y1 - b.h * (double)(pen % b.rows) - row_mm / 2);
        if (!add_block(s, p, &b, pen, at, error))
            return FALSE;
    }
    return TRUE;
}
