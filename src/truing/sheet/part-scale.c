/* part-scale: a long line along each axis with a tick every 10 mm, all of them reached coming from
 * home. A rule is laid beside it. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

static const double every_mm = 10, tick_mm = 3, long_mm = 5, number_mm = 2, lead_mm = 0.5;
enum { NUMBER_EVERY = 5, END_A = 1, END_B = 2 };

static DtPoint place(int axis, DtPoint from, double along, double across)
{
    return axis == 0 ? dt_point(from.x + along, from.y + across)
                     : dt_point(from.x + across, from.y + along);
}

static void add_tick(DtTestSheet *s, int axis, DtPoint from, int k, int n)
{
    const gboolean end = k == 0 || k == n;
    const double length = k % NUMBER_EVERY == 0 || end ? long_mm : tick_mm;
    DtMark m =
        dt_sheet_mark(end ? DT_MARK_GAUGE : DT_MARK_POSITION, DT_SHEET_SCALE, axis,
                      place(axis, from, k * every_mm, length), place(axis, from, k * every_mm, 0));
    m.approach[axis] = 1;
    m.needs_no_reversal = k > 0;
    m.row = axis;
    m.place = !end ? k : k == 0 ? END_A : END_B;
    dt_sheet_add(s, &m);
}

static gboolean add_number(DtTestSheet *s, int axis, DtPoint from, int k, GError **error)
{
    char number[12];
    g_snprintf(number, sizeof number, "%g", k * every_mm);
    DtPoint at = place(axis, from, k * every_mm, long_mm + 0.8);
    if (axis == 1)
        at.y -= number_mm / 2;
    return dt_sheet_add_text(s, DT_SHEET_SCALE, number, at, number_mm, axis == 0 ? 0.5 : 0, error);
}

static gboolean add_gauge(DtTestSheet *s, int axis, DtPoint from, double room, GError **error)
{
    const int n = (int)floor(room / every_mm + 1e-9);
    DtMark line = dt_sheet_mark(DT_MARK_GAUGE, DT_SHEET_SCALE, axis, from,
                                place(axis, from, n * every_mm, 0));
    line.axis = -1; /* its own place shows nothing along it */
    line.row = axis;
    dt_sheet_add(s, &line);
    for (int k = 0; k <= n; k++)
        add_tick(s, axis, from, k, n);
    for (int k = 0; k <= n; k++)
        if ((k % NUMBER_EVERY == 0 || k == n) && (k == n || n - k > 1) &&
            !add_number(s, axis, from, k, error))
            return FALSE;
    return TRUE;
}

gboolean dt_sheet_add_scale(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error)
{
    (void)p;
    const double thick = long_mm + 4, least = 60;
    if (!dt_sheet_need_room(area, least + thick, least + thick, "scale", error))
        return FALSE;
    return add_gauge(s, 0, dt_point(area.x0 + thick, area.y0), dt_box_width(area) - thick - lead_mm,
                     error) &&
           add_gauge(s, 1, dt_point(area.x0, area.y0 + thick),
                     dt_box_height(area) - thick - lead_mm, error);
}
