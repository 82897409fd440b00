/* part-scale: a long line along each axis with a tick every 10 mm, all of them reached coming from home. A rule is
 * laid beside it. Four ticks and more to a turn of the pulley show how far that is off centre. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

static const double unit_mm = 10, tick_mm = 4, short_mm = 2.5, number_mm = 1.6, lead_mm = 0.5;
enum { LONG_EVERY = 5, END_A = 1, END_B = 2 };

static DtPoint place(int axis, DtPoint from, double along, double across)
{
    return axis == 0 ? dt_point(from.x + along, from.y + across)
                     : dt_point(from.x + across, from.y + along);
}

static void add_tick(DtTestSheet *s, int axis, DtPoint from, int k, int n)
{
    const gboolean end = k == 0 || k == n;
    const double length = end || k % LONG_EVERY == 0 ? tick_mm : short_mm;
    DtMark m =
        dt_sheet_mark(end ? DT_MARK_GAUGE : DT_MARK_POSITION, DT_SHEET_SCALE, axis,
                      place(axis, from, k * unit_mm, length), place(axis, from, k * unit_mm, 0));
    m.approach[axis] = 1;
    m.needs_no_reversal = k > 0;
    m.row = axis;
    m.place = !end ? k : k == 0 ? END_A : END_B;
    dt_sheet_add(s, &m);
}

static gboolean add_number(DtTestSheet *s, int axis, DtPoint from, int k, GError **error)
{
    char number[12];
    g_snprintf(number, sizeof number, "%g", k * unit_mm);
    DtPoint at = place(axis, from, k * unit_mm, tick_mm + 0.8);
    if (axis == 1)
        at.y -= number_mm / 2;
    return dt_sheet_add_text(s, DT_SHEET_SCALE, number, at, number_mm, axis == 0 ? 0.5 : 0, error);
}

/* The line itself; its own place shows nothing along it. */
static void add_line(DtTestSheet *s, int axis, DtPoint from, int n)
{
    DtMark m = dt_sheet_mark(DT_MARK_GAUGE, DT_SHEET_SCALE, -1, place(axis, from, n * unit_mm, 0),
                             place(axis, from, 0, 0));
    m.row = 2 + axis; /* not the ticks' own, with which it would be one stroke */
    dt_sheet_add(s, &m);
}

/* All ticks on the way out, the line on the way back, and then the numbers, on the way to the next part. */
static gboolean add_gauge(DtTestSheet *s, int axis, DtPoint from, double room, GError **error)
{
    const int n = (int)floor(room / unit_mm + 1e-9);
    for (int k = 0; k <= n; k++)
        add_tick(s, axis, from, k, n);
    add_line(s, axis, from, n);
    for (int k = 0; k <= n; k++)
        if ((k == n || (k % LONG_EVERY == 0 && n - k > 1)) && !add_number(s, axis, from, k, error))
            return FALSE;
    return TRUE;
}

gboolean dt_sheet_add_scale(DtTestSheet *s, DtSheetArea area, int axis, GError **error)
{
    const double thick = tick_mm + 4, least = 60;
    if (!dt_sheet_need_room(area, least + thick, least + thick, "scale", error))
        return FALSE;
    const double length = axis == 0 ? dt_box_width(area) : dt_box_height(area);
    return add_gauge(s, axis, place(axis, dt_point(area.x0, area.y0), thick, 0),
                     length - thick - lead_mm, error);
}
