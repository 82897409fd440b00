/* part-slack: verniers whose main comb is drawn coming from home and whose other comb is drawn coming
 * back. The second stays behind by the slack of its place. All main combs of an axis are drawn on the way out
 * and all others on the way back, each with a reversal of its own. Between them, where there is room, short
 * verniers of which both combs are drawn coming from home, but across in opposite ways: they show by how much the
 * carriage of the axis twists when the other axis turns round. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

enum { FIRST = -2, LAST = 15, MOST_COMBS = 12, FEW = 4 };
static const double least_mm = 0.04, beside_mm = 8; /* the name and its arrows */
static const double apart_mm = 44;                  /* beyond a few, combs need not be closer */
enum { TWIST_LAST = 3, MOST_TWISTS = 2 };
static const double twist_least_mm = 0.08, twist_name_mm = 7;

double dt_sheet_pitch(const DtProfile *p)
{
    const double usual_mm = 1.4, gap_mm = 0.8;
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

/* The verniers of an axis, with even gaps over `room` mm: `n` for slack, and `twists` for twist, one behind the
 * first and one before the last of the others. */
typedef struct {
    int n, twists;
    double whole, twist_whole, gap;
    DtVernier first; /* for slack; its tick 0 would be at the beginning of the room */
} Verniers;

static Verniers verniers_in(const DtProfile *p, int axis, DtPoint from, double room)
{
    const double pitch = dt_sheet_pitch(p), whole = (LAST - FIRST) * pitch + beside_mm,
                 twist_whole = 2 * TWIST_LAST * pitch + twist_name_mm;
    const int n = MIN(MIN((int)(room / whole), MOST_COMBS), MAX(FEW, (int)(room / apart_mm)));
    const double left = room - n * whole;
    const int twists = n < 2 ? 0 : (int)CLAMP(left / twist_whole, 0, MOST_TWISTS);
    const int gaps = n + twists - 1;
    return (Verniers){.n = n,
                      .twists = twists,
                      .whole = whole,
                      .twist_whole = twist_whole,
                      .gap = gaps > 0 ? (left - twists * twist_whole) / gaps : 0,
                      .first = {.part = DT_SHEET_SLACK,
                                .axis = axis,
                                .row = axis * MOST_COMBS,
                                .at = from,
                                .pitch = pitch,
                                .least = least_mm,
                                .shift = -known_slack(p, axis),
                                .first = FIRST,
                                .last = LAST,
                                .main_from = 1,
                                .vernier_from = -1}};
}

/* How many verniers for twist stand before that for slack, or before the other one for twist. */
static int twists_before(const Verniers *v, int i)
{
    return MIN(v->twists, (i > 0) + (i > 0 && i == v->n - 1));
}

static DtVernier vernier_at(const Verniers *v, int i)
{
    DtVernier one = v->first;
    const int twists = twists_before(v, i);
    *(one.axis == 0 ? &one.at.x : &one.at.y) +=
        i * (v->whole + v->gap) + twists * (v->twist_whole + v->gap) - FIRST * one.pitch;
    one.row += i;
    return one;
}

/* Twist vernier `i`, which stands behind that for slack `after`. */
static DtVernier twist_at(const Verniers *v, int i, int after)
{
    DtVernier one = v->first;
    *(one.axis == 0 ? &one.at.x : &one.at.y) +=
        (after + 1) * (v->whole + v->gap) + i * (v->twist_whole + v->gap) + TWIST_LAST * one.pitch;
    one.row = DT_SLACK_TWIST_ROW + 2 * one.axis + i;
    one.least = twist_least_mm;
    one.shift = 0;
    one.first = -TWIST_LAST;
    one.last = TWIST_LAST;
    one.opposed = TRUE;
    return one;
}

static gboolean add_name(DtTestSheet *s, DtVernier *v, const char *sort, int i, GError **error)
{
    char name[8];
    g_snprintf(name, sizeof name, "%s%c%d", sort, "XY"[v->axis], i + 1);
    v->name = name;
    return dt_vernier_add_name(s, v, error);
}

/* Each vernier with its letters, since the next one has a reversal of its own: its name, which is where it begins, and
 * then the numbers. */
static gboolean add_row(DtTestSheet *s, const Verniers *v, GError **error)
{
    for (int i = 0; i < v->n; i++) {
        const DtVernier one = vernier_at(v, i);
        dt_vernier_add_main(s, &one);
        for (int t = twists_before(v, i); t < twists_before(v, i + 1); t++) {
            const DtVernier twist = twist_at(v, t, i);
            dt_vernier_add_opposed(s, &twist);
        }
    }
    for (int i = v->n - 1; i >= 0; i--) {
        DtVernier one = vernier_at(v, i);
        for (int t = twists_before(v, i + 1) - 1; t >= twists_before(v, i); t--) {
            DtVernier twist = twist_at(v, t, i);
            if (!add_name(s, &twist, "T", t, error) || !dt_vernier_add_letters(s, &twist, error))
                return FALSE;
        }
        if (!add_name(s, &one, "", i, error))
            return FALSE;
        dt_vernier_add_vernier(s, &one);
        if (!dt_vernier_add_letters(s, &one, error))
            return FALSE;
    }
    const DtVernier first = vernier_at(v, 0);
    dt_vernier_add_arrows(s, &first);
    return TRUE;
}

gboolean dt_sheet_add_slack(DtTestSheet *s, const DtProfile *p, DtSheetArea area, int axis,
                            GError **error)
{
    const double whole = (LAST - FIRST) * dt_sheet_pitch(p) + beside_mm;
    const double thick = dt_vernier_below_mm + dt_vernier_above_mm, gap_mm = 4;
    if (!dt_sheet_need_room(area, whole + gap_mm + thick, whole, "slack", error))
        return FALSE;
    const double right = area.x1 - thick;
    const Verniers v = axis == 0
                           ? verniers_in(p, axis, dt_point(area.x0, area.y1 - dt_vernier_above_mm),
                                         right - gap_mm - area.x0)
                           : verniers_in(p, axis, dt_point(right + dt_vernier_below_mm, area.y0),
                                         dt_box_height(area));
    return add_row(s, &v, error);
}
