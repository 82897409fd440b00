/* part-square: the same figure twice, the paper turned by 90 degrees in between (reversal; Evans, Hocken
 * and Estler 1996).
 *
 * The first time, combs along X at the bottom, in the middle and at the top of a square, and combs along Y at its
 * left, in the middle and at its right. Turned, they lie along the other axis, and a vernier is drawn against
 * each of them. What the axes are off square by moves the outer combs of one axis apart and those of the other
 * together; a rail that bows moves the middle one against both; how the paper was laid down again moves all of
 * them alike. All combs of an axis stand at the same place along it, so that what its pulley does there is the
 * same for all of them. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>

/* Coarser than elsewhere, and finely pitched: combs of both axes are read against each other, and pulleys
 * off centre stretch one by some per cent of the other. */
static const double least_mm = 0.12;

enum { ENDS = 4, ALL = 6 };

static double pitch_of(const DtProfile *p)
{
    return dt_sheet_pitch(p) - 0.4;
}

/* Half a pitch either way, so that no place is beyond the numbers. */
static int last_tick(const DtProfile *p)
{
    return (int)ceil(0.55 * pitch_of(p) / least_mm);
}

/* Side of the square and its lower left corner on the bed. */
static DtBox square_in(DtSheetArea area)
{
    const double thick = MAX(dt_vernier_above_mm, dt_vernier_below_mm);
    const double side = floor(MIN(dt_box_width(area), dt_box_height(area)) - 2 * thick);
    return (DtBox){area.x0 + thick, area.y0 + thick, area.x0 + thick + side,
                   area.y0 + thick + side};
}

/* How far the combs of an axis stand beside the middle, so that the two in the middle are clear of each other; 0 where
 * the square is too small for these. */
static double beside(const DtProfile *p, DtBox square)
{
    const double name_mm = 6, least_side_mm = 90; /* a bow over less than that hardly shows */
    const double across = MAX(dt_vernier_above_mm, dt_vernier_below_mm);
    const double clear = last_tick(p) * pitch_of(p) + name_mm + across;
    return dt_box_width(square) > MAX(4 * clear, least_side_mm) ? clear : 0;
}

static int combs_in(const DtProfile *p, DtBox square)
{
    return beside(p, square) > 0 ? ALL : ENDS;
}

/* Ink to command along the axis over a comb at this place, as far as the profile knows scale, pulley and
 * positions. */
static double stretch(const DtProfile *p, int axis, DtPoint at)
{
    const double half = last_tick(p) * pitch_of(p);
    DtPoint low = at, high = at;
    *(axis == 0 ? &low.x : &low.y) -= half;
    *(axis == 0 ? &high.x : &high.y) += half;
    return dt_point_distance(dt_machine_ink_at(p, low), dt_machine_ink_at(p, high)) / (2 * half);
}

/* Comb `i` as it is drawn first: bottom, top, left, right, and in the middle along X and along Y. Numbers of those
 * along Y fall, so that they rise once they are turned. The pitch is one on paper, as far as the profile knows the
 * axes: combs of both are read against each other. */
static DtVernier comb(const DtProfile *p, DtBox square, int i)
{
    const double middle_x = (square.x0 + square.x1) / 2, middle_y = (square.y0 + square.y1) / 2;
    const double x = middle_x - beside(p, square), y = middle_y + beside(p, square);
    const DtPoint at[ALL] = {{x, square.y0}, {x, square.y1}, {square.x0, y},
                             {square.x1, y}, {x, middle_y},  {middle_x, y}};
    const int axis = i < 2 || i == ENDS ? 0 : 1;
    return (DtVernier){.part = DT_SHEET_SQUARE,
                       .axis = axis,
                       .row = i,
                       .at = at[i],
                       .pitch = pitch_of(p) / stretch(p, axis, at[i]) * (axis == 0 ? 1 : -1),
                       .first = -last_tick(p),
                       .last = last_tick(p),
                       .one_way = TRUE,
                       .main_above = axis == 0,
                       .main_from = 1};
}

/* Ink and command as far as the profile knows scale and squareness. */
static DtPoint ink_of(const DtProfile *p, DtPoint c)
{
    const double along_y = p->scale[1] * c.y;
    return dt_point(p->scale[0] * c.x + along_y * sin(p->square), along_y * cos(p->square));
}

static DtPoint command_of(const DtProfile *p, DtPoint ink)
{
    const double y = ink.y / cos(p->square);
    return dt_point((ink.x - y * sin(p->square)) / p->scale[0], y / p->scale[1]);
}

/* Where a comb lies once the paper was turned counter-clockwise and laid down with its lower left corner
 * where that was before. */
static DtPoint turned_place(const DtTestSheet *s, const DtProfile *p, DtPoint at)
{
    const DtPoint corner = ink_of(p, s->paper_at), ink = dt_point_sub(ink_of(p, at), corner);
    return command_of(p, dt_point(corner.x + s->paper_h - ink.y, corner.y + ink.x));
}

DtPoint dt_sheet_unturned_place(const DtTestSheet *s, const DtProfile *p, DtPoint at)
{
    const DtPoint corner = ink_of(p, s->paper_at), ink = dt_point_sub(ink_of(p, at), corner);
    return command_of(p, dt_point(corner.x + ink.y, corner.y + s->paper_h - ink.x));
}

DtSheetArea dt_sheet_turnable(const DtTestSheet *s, const DtProfile *p, DtSheetArea area,
                              DtBox reach)
{
    const double slope = 1.02, clear_mm = 0.5; /* axes differ by their scales, and lean */
    const DtPoint corners[] = {
        {area.x0, area.y0}, {area.x1, area.y0}, {area.x0, area.y1}, {area.x1, area.y1}};
    DtBox turned = DT_BOX_EMPTY;
    for (size_t i = 0; i < G_N_ELEMENTS(corners); i++)
        turned = dt_box_add_point(turned, turned_place(s, p, corners[i]));
    if (turned.x1 > reach.x1)
        area.y0 += slope * (turned.x1 - reach.x1) + clear_mm;
    if (turned.y1 > reach.y1)
        area.x1 -= slope * (turned.y1 - reach.y1) + clear_mm;
    return area;
}

static gboolean check(const DtProfile *p, DtSheetArea area, GError **error)
{
    const double least =
        2 * last_tick(p) * pitch_of(p) + 2 * (dt_vernier_above_mm + dt_vernier_below_mm);
    return dt_sheet_need_room(area, least, least, "square", error);
}

gboolean dt_sheet_add_square(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error)
{
    const DtBox square = square_in(area);
    if (!check(p, area, error))
        return FALSE;
    /* right, top, the middle ones, left, bottom: the least travel from other parts and to home */
    static const int order[ALL] = {3, 1, 4, 5, 2, 0};
    for (int i = 0; i < ALL; i++)
        if (order[i] < combs_in(p, square)) {
            const DtVernier v = comb(p, square, order[i]);
            dt_vernier_add_main(s, &v);
        }
    return TRUE;
}

gboolean dt_sheet_add_square_turned(DtTestSheet *s, const DtProfile *p, DtSheetArea area,
                                    GError **error)
{
    static const char *const names[ALL] = {"S1", "S2", "S3", "S4", "S5", "S6"};
    const DtBox square = square_in(area);
    const DtMark pause =
        dt_sheet_mark(DT_MARK_PAUSE, DT_SHEET_SQUARE, -1, s->paper_at, s->paper_at);
    dt_sheet_add(s, &pause);
    /* left, top, the middle ones, right, bottom as they lie now */
    static const int order[ALL] = {1, 3, 5, 4, 0, 2};
    for (int k = 0; k < ALL; k++) {
        const int i = order[k];
        if (i >= combs_in(p, square))
            continue;
        const DtVernier first = comb(p, square, i);
        const DtPoint at = turned_place(s, p, first.at);
        const double by = stretch(p, 1 - first.axis, at);
        const DtVernier v = {.part = DT_SHEET_SQUARE,
                             .axis = 1 - first.axis,
                             .row = i,
                             .at = at,
                             .pitch = pitch_of(p) / by,
                             .least = least_mm / by,
                             .first = first.first,
                             .last = first.last,
                             .main_from = 1,
                             .vernier_from = 1,
                             .one_way = TRUE,
                             .name = names[i]};
        dt_vernier_add_vernier(s, &v);
        if (!dt_vernier_add_letters(s, &v, error) || !dt_vernier_add_name(s, &v, error))
            return FALSE;
    }
    return TRUE;
}
