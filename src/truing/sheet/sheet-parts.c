/* sheet-parts: what is drawn where on a sheet. */
#include "truing/sheet/sheet-parts.h"

#include <math.h>
#include <string.h>

/* The one table of the parts. */
static const struct {
    DtSheetKind kind;
    const char *name, *help;
} kinds_table[] = {
    {DT_SHEET_SLACK, "slack",
     N_("verniers that show the lost motion of each axis, place by place")},
    {DT_SHEET_SCALE, "scale", N_("a long line along each axis, to lay a rule on")},
    {DT_SHEET_SQUARE, "square",
     N_("one figure drawn twice, the paper turned by 90 degrees in between")},
    {DT_SHEET_SETTLE, "settle",
     N_("dashes with ever longer waits, for the pen's lift and drop times and its height")},
    {DT_SHEET_SPEED, "speed",
     N_("runs ever faster, sharper and more sudden, until steps are lost")},
    {DT_SHEET_PENS, "pens",
     N_("each pen's place against the first one's, how wide its line is, and how dark its "
        "hatches look")},
    {DT_SHEET_SCAN, "scan",
     N_("rows of marks for a flat-bed scanner: everything that position shows")},
};

guint dt_sheet_kinds(const char *name)
{
    if (strcmp(name, "all") == 0)
        return DT_SHEET_SLACK | DT_SHEET_SCALE | DT_SHEET_SQUARE | DT_SHEET_SETTLE;
    for (size_t i = 0; i < G_N_ELEMENTS(kinds_table); i++)
        if (strcmp(name, kinds_table[i].name) == 0)
            return kinds_table[i].kind;
    return 0;
}

const char *dt_sheet_kind_name(DtSheetKind kind)
{
    for (size_t i = 0; i < G_N_ELEMENTS(kinds_table); i++)
        if (kinds_table[i].kind == kind)
            return kinds_table[i].name;
    return "";
}

const char *dt_sheet_kind_help(DtSheetKind kind)
{
    for (size_t i = 0; i < G_N_ELEMENTS(kinds_table); i++)
        if (kinds_table[i].kind == kind)
            return _(kinds_table[i].help);
    return "";
}

static const double title_mm = 1.6, title_room_mm = 5, gap_mm = 3;

/* As far as the axes go with their overrun. */
static DtBox reach_of(const DtTestSheet *s, const DtProfile *p)
{
    return dt_box_grow((DtBox){0, 0, p->travel[0], p->travel[1]}, -s->overrun - 0.1);
}

/* The paper less its margin, as far as the axes reach. */
static DtSheetArea usable(const DtTestSheet *s, const DtProfile *p)
{
    const double margin = MAX(p->margin, 1);
    const DtBox paper = {s->paper_at.x + margin, s->paper_at.y + margin,
                         s->paper_at.x + s->paper_w - margin, s->paper_at.y + s->paper_h - margin};
    return dt_box_intersect(paper, reach_of(s, p));
}

/* Along the upper edge, and no farther: a machine may have a long name, or the paper be narrow. */
static gboolean add_title(DtTestSheet *s, DtSheetKind part, DtSheetArea area, GError **error)
{
    g_autofree char *text =
        g_strdup_printf("sheet %" PRId64 "  %s  %s", s->number, s->date, s->machine);
    return dt_sheet_add_text_within(s, part, text, dt_point(area.x0, area.y1 - title_mm), title_mm,
                                    area.x1 - area.x0, error);
}

static DtSheetArea below_title(DtSheetArea area)
{
    area.y1 -= title_room_mm;
    return area;
}

/* Which way the axes run, so that a place on the sheet is found again on the machine; `at` is where the arrows
 * meet. */
static gboolean add_axes(DtTestSheet *s, DtPoint at, GError **error)
{
    const double arrow_mm = 6, gap = 0.8;
    dt_sheet_add_arrow(s, DT_SHEET_SCAN, at, dt_point(at.x + arrow_mm, at.y));
    dt_sheet_add_arrow(s, DT_SHEET_SCAN, at, dt_point(at.x, at.y + arrow_mm));
    return dt_sheet_add_text(s, DT_SHEET_SCAN, "X",
                             dt_point(at.x + arrow_mm + gap, at.y - title_mm / 2), title_mm, 0,
                             error) &&
           dt_sheet_add_text(s, DT_SHEET_SCAN, "Y", dt_point(at.x, at.y + arrow_mm + gap), title_mm,
                             0.5, error);
}

/* Within the empty quarter at the lower left of the rows of marks: the name, the longest of the three, goes below
 * the arrows. */
static gboolean add_scan_title(DtTestSheet *s, GError **error)
{
    const double left = 0.17, up = 0.36, line_mm = 4.5, arrows_mm = 16;
    const double room = (0.5 - left) * s->paper_w - title_mm;
    g_autofree char *number = g_strdup_printf("sheet %" PRId64, s->number);
    const char *const lines[] = {number, s->date, s->machine};
    for (size_t i = 0; i < G_N_ELEMENTS(lines); i++) {
        const DtPoint at = dt_point(s->paper_at.x + left * s->paper_w,
                                    s->paper_at.y + up * s->paper_h - (double)i * line_mm);
        if (!dt_sheet_add_text_within(s, DT_SHEET_SCAN, lines[i], at, title_mm, room, error))
            return FALSE;
    }
    const DtPoint arrows = {s->paper_at.x + s->paper_w / 2 - arrows_mm,
                            s->paper_at.y + up * s->paper_h - line_mm};
    return add_axes(s, arrows, error);
}

/* Several parts on one sheet: gauge lines along the left and lower edge, slack along the upper and
 * right, the square within, and the settle test beside it. */
typedef struct {
    DtSheetArea scale, slack, square, settle;
} Layout;

static Layout lay_out(DtSheetArea a, guint kinds)
{
    const double gauge = kinds & DT_SHEET_SCALE ? 9 : 0;
    const double verniers =
        kinds & DT_SHEET_SLACK ? dt_vernier_above_mm + dt_vernier_below_mm + gap_mm : 0;
    const double settle = kinds & DT_SHEET_SETTLE ? 32 : 0;
    Layout l = {.scale = a, .slack = a};
    if (gauge > 0) {
        l.slack.x0 += gauge + 2 * gap_mm; /* clear of the line's numbers */
        l.scale.x1 -= verniers;
    }
    DtSheetArea inner = {a.x0 + gauge + gap_mm, a.y0 + gauge + gap_mm, a.x1 - verniers,
                         a.y1 - verniers};
    l.settle = l.square = inner;
    l.settle.x0 = MAX(inner.x0, inner.x1 - settle);
    if (settle > 0)
        l.square.x1 -= settle + gap_mm;
    return l;
}

static gboolean add_eye_parts(DtTestSheet *s, const DtProfile *p, DtSheetArea area, GError **error)
{
    const guint kinds = s->kinds;
    const Layout l = lay_out(below_title(area), kinds);
    const DtSheetArea square = dt_sheet_turnable(s, p, l.square, reach_of(s, p));
    /* left and top, then bottom and right: the least travel */
    for (int axis = 1; axis >= 0; axis--) {
        if ((kinds & DT_SHEET_SCALE) && !dt_sheet_add_scale(s, l.scale, axis, error))
            return FALSE;
        if (axis == 1 && !add_title(s, (DtSheetKind)(kinds & -kinds), area, error))
            return FALSE;
        if ((kinds & DT_SHEET_SLACK) && !dt_sheet_add_slack(s, p, l.slack, 1 - axis, error))
            return FALSE;
    }
    return (!(kinds & DT_SHEET_SETTLE) || dt_sheet_add_settle(s, p, l.settle, error)) &&
           (!(kinds & DT_SHEET_SQUARE) || (dt_sheet_add_square(s, p, square, error) &&
                                           dt_sheet_add_square_turned(s, p, square, error)));
}

static gboolean fill(DtTestSheet *s, const DtProfile *p, GError **error)
{
    static const guint by_eye = DT_SHEET_SLACK | DT_SHEET_SCALE | DT_SHEET_SQUARE | DT_SHEET_SETTLE;
    DtSheetArea area = usable(s, p);
    if (s->kinds & DT_SHEET_SCAN)
        return dt_sheet_add_scan_part(s, p, error) && add_scan_title(s, error) &&
               (!(s->kinds & DT_SHEET_PENS) || dt_sheet_add_scan_pens(s, p, error));
    if (s->kinds & by_eye)
        return add_eye_parts(s, p, area, error);
    if (s->kinds & DT_SHEET_PENS) /* near home, to which each pen comes back */
        area.y1 =
            MIN(area.y1, area.y0 + title_room_mm + dt_sheet_pens_height(p, below_title(area)));
    if (!add_title(s, (DtSheetKind)(s->kinds & -s->kinds), area, error))
        return FALSE;
    if (s->kinds & DT_SHEET_SPEED)
        return dt_sheet_add_speed(s, p, below_title(area), error);
    return dt_sheet_add_pens(s, p, below_title(area), error);
}

static DtPoint on_steps(const DtProfile *p, DtPoint at)
{
    const double *n = p->steps_per_mm;
    return dt_point(round(at.x * n[0]) / n[0], round(at.y * n[1]) / n[1]);
}

/* To whole steps of the motors, so that the ink is where it was commanded. What is rounded otherwise follows
 * a pattern, which a fit would take for the machine's error. */
static void put_on_steps(DtTestSheet *s, const DtProfile *p)
{
    for (size_t i = 0; i < s->n; i++) {
        s->marks[i].from = on_steps(p, s->marks[i].from);
        s->marks[i].to = on_steps(p, s->marks[i].to);
    }
}

DtTestSheet *dt_sheet_new(const DtProfile *p, guint kinds, const char *date, gint64 number,
                          GError **error)
{
    g_autoptr(DtTestSheet) s = dt_sheet_new_blank(p, kinds, date, number);
    /* the speed sheet homes between its letters */
    if (!fill(s, p, error) || (!(kinds & DT_SHEET_SPEED) && !dt_sheet_tour_letters(s, p, error)))
        return NULL;
    put_on_steps(s, p);
    return g_steal_pointer(&s);
}
