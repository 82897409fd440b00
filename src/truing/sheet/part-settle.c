/* part-settle: dashes with ever longer waits. On the left the pen is dropped with a wait of 0, 20 ms,
 * 40 ms, ... before it sets out: a dash whose wait is too short begins late, farther from the upright line
 * than the others. On the right it is lifted with such waits before the way to the next dash: a pen that is
 * still down drags a hook. Above them are dashes for which a servo lowers the pen ever deeper, where the
 * profile's words can tell it to. */
#include "drawtrue/code.h"
#include "truing/sheet/sheet-parts.h"

#include <math.h>

enum { ROWS = 16, NUMBER_EVERY = 5, DROP = 0, LIFT = 1, HEIGHT = 2, HEIGHTS = 13 };
static const double step_s = 0.02, pitch_mm = 2, dash_mm = 4, gap_mm = 7, number_mm = 1.6;
static const double slit_mm = 0.3; /* paper between the upright line and dashes in time */

/* Long enough for any pen that the ladder can measure. */
static const double sure_s = 0.35;

static double wait_of(int i)
{
    return i == 0 ? -1 : i * step_s;
}

/* The i-th dash of a row, from left to right; all waits are long enough. */
static DtMark dash(DtPoint at, int row, int i)
{
    const double y = at.y + i * pitch_mm;
    DtMark m = dt_sheet_mark(DT_MARK_DASH, DT_SHEET_SETTLE, -1, dt_point(at.x, y),
                             dt_point(at.x + dash_mm, y));
    m.approach[0] = 1;
    m.row = row;
    m.place = i;
    m.drop_s = sure_s; /* a hook behind it does not matter */
    return m;
}

/* Each dash is approached from the left, so that no slack hides a late beginning. The upright line stands clear of
 * them: a line that they touched would hide as much of their beginning as it is wide. */
static void add_drops(DtTestSheet *s, DtPoint at, double tip)
{
    const double high = (ROWS - 1) * pitch_mm + 1, x = at.x - tip - slit_mm;
    DtMark line = dt_sheet_mark(DT_MARK_DASH, DT_SHEET_SETTLE, -1, dt_point(x, at.y + high),
                                dt_point(x, at.y - 1));
    line.approach[0] = 1;
    line.row = DROP;
    line.place = -1;
    line.drop_s = line.lift_s = sure_s;
    dt_sheet_add(s, &line);
    for (int i = 0; i < ROWS; i++) {
        DtMark m = dash(at, DROP, i);
        m.drop_s = wait_of(i);
        dt_sheet_add(s, &m);
    }
}

/* To and fro, so that the way to the next dash leads straight up, where a hook shows. */
static void add_lifts(DtTestSheet *s, DtPoint at)
{
    for (int i = 0; i < ROWS; i++) {
        const double y = at.y + i * pitch_mm;
        const DtPoint left = dt_point(at.x, y), right = dt_point(at.x + dash_mm, y);
        DtMark m = dt_sheet_mark(DT_MARK_DASH, DT_SHEET_SETTLE, -1, i % 2 == 0 ? left : right,
                                 i % 2 == 0 ? right : left);
        m.approach[1] = i == 0 ? 1 : 0;
        m.row = LIFT;
        m.place = i;
        m.drop_s = sure_s;
        m.lift_s = wait_of(i);
        dt_sheet_add(s, &m);
    }
}

/* From half of the S that the profile has up to a tenth more. */
static double word_of(double s, double least, double most, int i)
{
    return CLAMP(round(s * (10 + i) / 2) / 10, least, most);
}

/* FALSE where the profile's pen has no such word. */
static gboolean add_heights(DtTestSheet *s, const DtProfile *p, DtPoint at)
{
    double word, least, most;
    if (!dt_code_drop_word(p, &word, &least, &most))
        return FALSE;
    for (int i = 0; i < HEIGHTS; i++) {
        DtMark m = dash(at, HEIGHT, i);
        if (i % 2 != 0) { /* to and fro, which saves the way back: no end is measured */
            const DtPoint left = m.from;
            m.from = m.to;
            m.to = left;
        }
        m.approach[0] = i == 0;
        m.drop_word = word_of(word, least, most, i);
        dt_sheet_add(s, &m);
    }
    return TRUE;
}

static gboolean add_numbers(DtTestSheet *s, DtPoint at, int rows, GError **error)
{
    for (int i = 0; i < rows; i += NUMBER_EVERY) {
        char number[8];
        g_snprintf(number, sizeof number, "%d", i);
        if (!dt_sheet_add_text(s, DT_SHEET_SETTLE, number,
                               dt_point(at.x - 1.5, at.y + i * pitch_mm - number_mm / 2), number_mm,
                               1, error))
            return FALSE;
    }
    return TRUE;
}

gboolean dt_sheet_add_settle(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error)
{
    const double tip = p->rack.pens[0].tip, left_mm = MAX(5, 1.5 * tip + slit_mm), between = 6;
    const double w = left_mm + 2 * dash_mm + gap_mm + 3, h = ROWS * pitch_mm + 6;
    double word, least, most;
    if (!dt_code_takes(p, "G4")) {
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT,
                    "settle: the waits of its dashes differ, and the words of this controller lack "
                    "a dwell (G4); the other parts can be drawn: 'drawtrue sheet slack scale "
                    "square'");
        return FALSE;
    }
    const gboolean varies = dt_code_drop_word(p, &word, &least, &most);
    if (!dt_sheet_need_room(area, w, h + (varies ? HEIGHTS * pitch_mm + between : 0), "settle",
                            error))
        return FALSE;
    const DtPoint drops = dt_point(area.x0 + left_mm, area.y0 + 1);
    const DtPoint lifts = dt_point(drops.x + dash_mm + gap_mm, drops.y);
    const double above = drops.y + ROWS * pitch_mm;
    const DtPoint heights = dt_point(drops.x, above + between);
    add_drops(s, drops, tip);
    add_lifts(s, lifts);
    if (!add_numbers(s, lifts, ROWS, error) || /* between both */
        !dt_sheet_add_text(s, DT_SHEET_SETTLE, "drop", dt_point(drops.x, above + 0.4), number_mm, 0,
                           error) ||
        !dt_sheet_add_text(s, DT_SHEET_SETTLE, "lift", dt_point(lifts.x, above + 0.4), number_mm, 0,
                           error))
        return FALSE;
    return !add_heights(s, p, heights) ||
           (add_numbers(s, heights, HEIGHTS, error) &&
            dt_sheet_add_text(s, DT_SHEET_SETTLE, "height",
                              dt_point(heights.x, heights.y + HEIGHTS * pitch_mm), number_mm, 0,
                              error));
}
