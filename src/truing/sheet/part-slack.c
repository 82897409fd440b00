/* part-slack: verniers whose main comb is drawn coming from home and whose other comb is drawn coming
 * back. The second stays behind by the slack of its place. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

enum { FIRST = -2, LAST = 18, MOST_COMBS = 12 };
static const double least_mm = 0.04, beside_mm = 6; /* the name and its arrows */

double dt_sheet_pitch(const DtProfile *p)
{
    const double usual_mm = 1.6, gap_mm = 1;
    return MAX(usual_mm, gap_mm + 1.5 * p->rack.pens[0].tip);
}

gboolean dt_sheet_need_room(DtSheetArea area, double w, double h, const char *part, GError **error)
{
    if (dt_box_width(area) >= w && dt_box_height(area) >= h)
        return TRUE;
    g_set_error(
        error, DT_ERROR, DT_ERROR_INPUT,
        "the %s part of a sheet needs %.0f x %.0f mm, and %.0f x %.0f mm are left on this paper "
        "within the travel",
        part, w, h, MAX(dt_box_width(area), 0), MAX(dt_box_height(area), 0));
    return FALSE;
}

/* Slack that the profile knows already and that would lie beyond the comb is taken off beforehand. */
static double known_slack(const DtProfile *p, int axis)
{
    const double middle_mm = 0.4, beyond_mm = 0.6;
    double most = 0;
    for (size_t i = 0; i < p->backlash[axis].n; i++)
        most = MAX(most, p->backlash[axis].value[i] / p->scale[axis]);
    return most > beyond_mm ? least_mm * round((most - middle_mm) / least_mm) : 0;
}

static gboolean add_row(DtTestSheet *s, const DtProfile *p, int axis, DtPoint from, double room,
                        GError **error)
{
    const double pitch = dt_sheet_pitch(p), whole = (LAST - FIRST) * pitch + beside_mm;
    const int n = MIN((int)(room / whole), MOST_COMBS);
    const double step = n > 1 ? (room - whole) / (n - 1) : 0;
    for (int i = 0; i < n; i++) {
        char name[8];
        g_snprintf(name, sizeof name, "%c%d", axis == 0 ? 'X' : 'Y', i + 1);
        const double along = -FIRST * pitch + i * step;
        const DtVernier v = {.part = DT_SHEET_SLACK,
                             .axis = axis,
                             .row = axis * MOST_COMBS + i,
                             .at = axis == 0 ? dt_point(from.x + along, from.y)
                                             : dt_point(from.x, from.y + along),
                             .pitch = pitch,
                             .least = least_mm,
                             .shift = -known_slack(p, axis),
                             .first = FIRST,
                             .last = LAST,
                             .main_from = 1,
                             .vernier_from = -1,
                             .name = name};
        dt_vernier_add_main(s, &v);
        dt_vernier_add_vernier(s, &v);
        if (i == 0)
            dt_vernier_add_arrows(s, &v);
        if (!dt_vernier_add_letters(s, &v, error) || !dt_vernier_add_name(s, &v, error))
            return FALSE;
    }
    return TRUE;
}

gboolean dt_sheet_add_slack(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error)
{
    const double whole = (LAST - FIRST) * dt_sheet_pitch(p) + beside_mm;
    const double thick = dt_vernier_below_mm + dt_vernier_above_mm, gap_mm = 4;
    if (!dt_sheet_need_room(area, whole + gap_mm + thick, whole, "slack", error))
        return FALSE;
    const double right = area.x1 - thick;
    return add_row(s, p, 0, dt_point(area.x0, area.y1 - dt_vernier_above_mm),
                   right - gap_mm - area.x0, error) &&
           add_row(s, p, 1, dt_point(right + dt_vernier_below_mm, area.y0), dt_box_height(area),
                   error);
}
