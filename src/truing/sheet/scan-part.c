/* scan-part: the marks that a scan measures. Rows of short strokes across each axis, a pair at each
 * place, one approached towards + and one towards -, so that their distance shows the slack; long lines
 * along each axis for straightness and squareness, one of them with ticks for a rule; figures by which a
 * scan finds the sheet; and its number in strokes. The middles of the four quarters of the paper stay
 * free for other parts. */
#include "truing/sheet/scan-part.h"

#include <math.h>

static const double edge_mm = 4; /* from the paper's edge to any ink of this part, */
static const double far_share =
    0.015;                           /* and this share of the travel at the far ends: of the scale,
                                        * nothing is known yet */
static const double pair_mm = 2;     /* between the marks of a pair */
static const double clear_mm = 1.1;  /* between a mark and anything beside it */
static const double end_mm = 0.7;    /* and before and behind it */
static const double line_mm = 6.5;   /* from the area's edge to the outer long lines */
static const double beside_mm = 4.5; /* from the middle row to its long line */
static const double tick_mm = 6;
static const double least_pitch_mm = 5.2;
enum { PLACES = 28, ROWS = 3 }; /* low, middle and high across the axis */

typedef struct {
    DtTestSheet *sheet;
    const DtProfile *p;
    DtBox area;    /* where this part may put ink */
    GArray *taken; /* DtBox: where it has */
} Layout;

static DtBox stroke_box(DtPoint a, DtPoint b)
{
    return dt_box_add_point(dt_box_add_point(DT_BOX_EMPTY, a), b);
}

static gboolean is_free(const Layout *l, DtBox b)
{
    for (guint i = 0; i < l->taken->len; i++)
        if (!dt_box_is_empty(dt_box_intersect(b, g_array_index(l->taken, DtBox, i))))
            return FALSE;
    return TRUE;
}

static void take(Layout *l, DtPoint a, DtPoint b)
{
    const DtBox box = stroke_box(a, b);
    g_array_append_val(l->taken, box);
}

/* A point from its coordinate along an axis and the one across. */
static DtPoint at(int axis, double along, double across)
{
    return axis == 0 ? dt_point(along, across) : dt_point(across, along);
}

static double low(const Layout *l, int axis)
{
    return axis == 0 ? l->area.x0 : l->area.y0;
}

static double high(const Layout *l, int axis)
{
    return axis == 0 ? l->area.x1 : l->area.y1;
}

static double middle(const Layout *l, int axis)
{
    return (low(l, axis) + high(l, axis)) / 2;
}

/* Finders -------------------------------------------------------------------------------------- */

static void add_finder_stroke(Layout *l, DtPoint a, DtPoint b, int row, int place)
{
    DtMark m = dt_sheet_mark(DT_MARK_FINDER, DT_SHEET_SCAN, -1, a, b);
    m.row = row;
    m.place = place;
    dt_sheet_add(l->sheet, &m);
    take(l, a, b);
}

/* Where finder `place` stands: three in corners; the other is drawn in from its corner, so that they
 * look alike no other way round. */
static DtPoint finder_at(const Layout *l, int place)
{
    const DtBox b = dt_box_grow(l->area, -(line_mm + DT_SHEET_FINDER_MM / 2 + 3));
    const DtPoint at[DT_SHEET_FINDERS] = {
        {b.x0, b.y0}, {b.x1, b.y0}, {b.x1 - 0.17 * dt_box_width(l->area), b.y1}, {b.x0, b.y1}};
    return at[place];
}

/* Two strokes each way that cross: the same under a quarter turn, in one piece however large the slack
 * is, and like nothing else on the sheet. */
static void add_finder(Layout *l, int place)
{
    const DtPoint c = finder_at(l, place);
    const double half = DT_SHEET_FINDER_MM / 2, gap = DT_SHEET_FINDER_GAP_MM / 2;
    const double strokes[4][4] = {{-half, -gap, half, -gap},
                                  {half, gap, -half, gap},
                                  {-gap, half, -gap, -half},
                                  {gap, -half, gap, half}};
    for (int i = 0; i < 4; i++) {
        const double *k = strokes[i];
        add_finder_stroke(l, dt_point(c.x + k[0], c.y + k[1]), dt_point(c.x + k[2], c.y + k[3]),
                          DT_SHEET_ROW_FINDERS, place);
    }
}

/* The sheet's number: a stroke for each bit, above the middle of its place for 1 and below for 0. */
static void add_number(Layout *l)
{
    const double pitch = 2.5;
    const DtPoint from = {middle(l, 0) + beside_mm + 6, middle(l, 1) + beside_mm + 7};
    for (int i = 0; i < DT_SHEET_NUMBER_BITS; i++) {
        const int up = (l->sheet->number >> i & 1) ? 1 : -1;
        const DtPoint a = {from.x + i * pitch, from.y + up * DT_SHEET_BIT_GAP_MM};
        add_finder_stroke(l, a, dt_point(a.x, a.y + up * DT_SHEET_BIT_MM), DT_SHEET_ROW_NUMBER, i);
    }
}

/* Long lines ----------------------------------------------------------------------------------- */

static void add_tick(Layout *l, int axis, double along, double across, int row, int place)
{
    DtMark m =
        dt_sheet_mark(DT_MARK_GAUGE, DT_SHEET_SCAN, axis, at(axis, along, across - tick_mm / 2),
                      at(axis, along, across + tick_mm / 2));
    m.approach[0] = m.approach[1] = 1;
    m.row = row;
    m.place = place;
    dt_sheet_add(l->sheet, &m);
    take(l, m.from, m.to);
}

/* The line itself lies along `axis`, and shows the place across it. */
static void add_line(Layout *l, int axis, int row, int way)
{
    const int other = 1 - axis;
    const double places[ROWS] = {low(l, other) + line_mm, middle(l, other) + beside_mm,
                                 high(l, other) - line_mm};
    const double a = low(l, axis) + line_mm, b = high(l, axis) - line_mm, across = places[row];
    DtMark m = dt_sheet_mark(DT_MARK_GAUGE, DT_SHEET_SCAN, axis, at(axis, way > 0 ? a : b, across),
                             at(axis, way > 0 ? b : a, across));
    m.approach[axis] = way;
    m.approach[other] = 1;
    m.row = row;
    dt_sheet_add(l->sheet, &m);
    take(l, m.from, m.to);
    if (row != DT_SHEET_GAUGE_ROW)
        return;
    add_tick(l, axis, way > 0 ? b : a, across, row, way > 0 ? 2 : 1);
    add_tick(l, axis, way > 0 ? a : b, across, row, way > 0 ? 1 : 2);
}

/* Rows ----------------------------------------------------------------------------------------- */

typedef struct {
    int axis, row, way; /* the rows are drawn on the way there or on the way back */
    double across, pitch;
} Row;

static DtMark make_mark(const Row *r, double along, int place, int approach, int stroke)
{
    const double half = stroke * DT_SHEET_STROKE_MM / 2;
    DtMark m =
        dt_sheet_mark(DT_MARK_POSITION, DT_SHEET_SCAN, r->axis,
                      at(r->axis, along, r->across - half), at(r->axis, along, r->across + half));
    m.approach[r->axis] = approach;
    m.approach[1 - r->axis] = stroke;
    m.row = r->row;
    m.place = place;
    return m;
}

static gboolean has_room(const Layout *l, const Row *r, double along)
{
    const DtBox box = stroke_box(
        at(r->axis, along - clear_mm, r->across - DT_SHEET_STROKE_MM / 2 - end_mm),
        at(r->axis, along + pair_mm + clear_mm, r->across + DT_SHEET_STROKE_MM / 2 + end_mm));
    return is_free(l, box);
}

/* The strokes of a place and of the next but one go the same way, those of a pair now the same way and
 * now against each other, so that neither a twist nor a drag looks like slack. */
static void add_pair(Layout *l, const Row *r, double along, int place)
{
    static const int ways[4][2] = {{1, 1}, {-1, -1}, {1, -1}, {-1, 1}};
    const int *way = ways[(place + r->row) % 4];
    const DtMark plus = make_mark(r, along, place, 1, way[0]);
    const DtMark minus = make_mark(r, along + pair_mm, place, -1, way[1]);
    dt_sheet_add(l->sheet, r->way > 0 ? &plus : &minus);
    dt_sheet_add(l->sheet, r->way > 0 ? &minus : &plus);
    take(l, plus.from, plus.to);
    take(l, minus.from, minus.to);
}

/* Places are not quite evenly spaced, so that no gear's period hides between them. */
static double shift_of(const Row *r, int place)
{
    const double most_mm = 1, golden = 0.6180339887498949;
    const double t = golden * (place + 7 * r->row + 3);
    return most_mm * (t - floor(t) - 0.5);
}

static void add_row(Layout *l, const Row *r)
{
    const double first = low(l, r->axis) + r->row * r->pitch / ROWS;
    const int n = (int)floor((high(l, r->axis) - pair_mm - first) / r->pitch) + 1;
    for (int i = 0; i < n; i++) {
        const int place = r->way > 0 ? i : n - 1 - i;
        const double along = CLAMP(first + place * r->pitch + shift_of(r, place), low(l, r->axis),
                                   high(l, r->axis) - pair_mm);
        if (has_room(l, r, along))
            add_pair(l, r, along, place);
    }
}

/* A whole number of places a turn of the pulley, some PLACES along the longer side. */
static double pitch_of(const Layout *l, int axis)
{
    const double turn = G_PI * (l->p->pulley_diameter[axis] + l->p->cord_diameter[axis]);
    const double longest = MAX(dt_box_width(l->area), dt_box_height(l->area));
    const double parts = MAX(round(turn * PLACES / longest), 1);
    double pitch = turn / parts;
    if (pitch > longest / 8 || pitch < least_pitch_mm) /* a pulley of quite another size */
        pitch = MAX(longest / PLACES, least_pitch_mm);
    return pitch;
}

static void add_row_of(Layout *l, int axis, int number, int way)
{
    const int other = 1 - axis;
    const double across[ROWS] = {low(l, other) + DT_SHEET_STROKE_MM / 2, middle(l, other),
                                 high(l, other) - DT_SHEET_STROKE_MM / 2};
    const Row row = {axis, number, way, across[number], pitch_of(l, axis)};
    add_row(l, &row);
}

/* Once round the sheet and twice through its middle, with little travel: first the lines and finders,
 * which the rows then leave free. */
static void add_all(Layout *l)
{
    static const struct {
        int axis, row, way;
    } tour[] = {{0, 0, 1}, {1, 2, 1}, {0, 2, -1}, {1, 0, -1}, {0, 1, 1}, {1, 1, -1}};
    for (int i = 0; i < (int)G_N_ELEMENTS(tour); i++) {
        if (i < DT_SHEET_FINDERS)
            add_finder(l, i);
        add_line(l, tour[i].axis, tour[i].row, tour[i].way);
    }
    add_number(l);
    for (gsize i = 0; i < G_N_ELEMENTS(tour); i++)
        add_row_of(l, tour[i].axis, tour[i].row, tour[i].way);
    const double clear = 3;
    const DtBox quarter = {middle(l, 0) + beside_mm + clear, low(l, 1) + line_mm + clear,
                           high(l, 0) - line_mm - clear,
                           middle(l, 1) - DT_SHEET_STROKE_MM / 2 - clear};
    dt_sheet_add_swings(l->sheet, l->p, quarter);
}

/* The part of the paper that the axes reach with an overrun to spare. */
static DtBox usable(const DtTestSheet *s, const DtProfile *p)
{
    const double x1 = s->paper_at.x + s->paper_w, y1 = s->paper_at.y + s->paper_h;
    const DtBox paper = {s->paper_at.x, s->paper_at.y, x1 - far_share * x1, y1 - far_share * y1};
    const DtBox travel = {0, 0, p->travel[0], p->travel[1]};
    return dt_box_intersect(dt_box_grow(paper, -edge_mm), dt_box_grow(travel, -s->overrun));
}

gboolean dt_sheet_add_scan_part(DtTestSheet *s, const DtProfile *p, GError **error)
{
    const double least_mm = 90;
    Layout l = {.sheet = s, .p = p, .area = usable(s, p)};
    if (dt_box_is_empty(l.area) || MIN(dt_box_width(l.area), dt_box_height(l.area)) < least_mm) {
        g_set_error(
            error, DT_ERROR, DT_ERROR_INPUT,
            "a sheet for scanning needs %g by %g mm at least, and of the paper of %g by %g mm "
            "at %g, %g mm the machine reaches less",
            least_mm, least_mm, s->paper_w, s->paper_h, s->paper_at.x, s->paper_at.y);
        return FALSE;
    }
    l.taken = g_array_new(FALSE, FALSE, sizeof(DtBox));
    add_all(&l);
    g_array_unref(l.taken);
    return TRUE;
}
