/* thin-parts: places along the narrow parts of the artwork, and along narrow pieces of wide ones, where they differ
 * from what is on either side. */
#include "ink/look/cells.h"
#include "ink/look/compose.h"

#include "drawtrue/work.h"

#include <math.h>

/* Of more edges, or of so many that are near each other that the search would look at more, nothing is counted. */
#define MOST_EDGES 40000
#define MOST_LOOKS 20000000
/* What is narrower (mm) hardly shows in the artwork. */
#define LEAST_WIDTH 0.12
/* Slivers as narrow, of which not more than so many are seen through in a row. */
enum { MOST_SLIVERS = 4 };
/* Narrow pieces of wide parts are up to this many tips wide: what is hardly wider than a narrow part has no more of a
 * hatch's lines to show it. */
#define WIDEST_PIECE_TIPS 3.5

typedef struct {
    const DtCompose *c;
    DtCells *cells; /* the edges of narrow parts */
    double widest;  /* of narrow parts, mm */
    double reach;   /* at which the other edge of a piece is looked for, mm */
    gboolean all;   /* whether narrow pieces of wide parts are looked for, too */
    GArray *pieces; /* DtThinPlace: places in those */
    size_t looks;   /* at edges and places */
} Search;

static const DtPartEdge *edge_at(const DtCompose *c, size_t i)
{
    return &g_array_index(c->edges, DtPartEdge, i);
}

static gboolean is_narrow(const DtCompose *c, int part)
{
    return part >= 0 && c->sides[part].narrow;
}

/* Pictures have tones, whose edges are no narrow piece's; gradients may leave a narrow rim beside what lies on them. */
static gboolean is_searched(const Search *s, int part)
{
    return is_narrow(s->c, part) ||
           (s->all && part >= 0 &&
            !dt_compose_paint(s->c, dt_compose_part(s->c, (guint)part)->label)->picture);
}

/* The part on the other side of an edge of a part, -1: the paper. */
static int part_beyond(const DtPartEdge *e, int part)
{
    return e->left == part ? e->right : e->left;
}

/* How far from a point, in a direction of unit length, a line is crossed; G_MAXDOUBLE: it is not. */
static double distance_along(DtPoint from, DtPoint way, DtPoint a, DtPoint b)
{
    const DtPoint ab = dt_point_sub(b, a), to = dt_point_sub(a, from);
    const double turn = way.x * ab.y - way.y * ab.x;
    if (turn == 0)
        return G_MAXDOUBLE;
    const double along = (to.x * ab.y - to.y * ab.x) / turn,
                 share = (to.x * way.y - to.y * way.x) / turn;
    return share >= 0 && share <= 1 && along > 0 ? along : G_MAXDOUBLE;
}

/* The edge of a part opposite to a place on its edge `own`, nearer than *width, which becomes its distance; -1: none
 * is. */
static int find_opposite(Search *s, size_t own, int part, DtPoint at, DtPoint inward, double *width)
{
    const GArray *near = dt_cells_near(s->cells, at);
    int best = -1;
    s->looks += near ? near->len : 0;
    for (guint i = 0; near && i < near->len; i++) {
        const DtCellStretch *o = &g_array_index(near, DtCellStretch, i);
        const DtPartEdge *e = edge_at(s->c, o->of);
        if (o->of == own || (e->left != part && e->right != part))
            continue;
        const double d = distance_along(at, inward, o->a, o->b);
        if (d < *width) {
            *width = d;
            best = (int)o->of;
        }
    }
    return best;
}

/* A part that is left bare shows on what is darker by so much (L*): in a more open hatch it would not. It is drawn on
 * what is lighter by so much. */
#define DARKER 20.0
#define LIGHTER 3.0

/* Counts a stretch of a part whose sides, fields and not other lines, are lighter than it by so much. */
static void add_length(DtPartSides *p, double near, double far, double mm)
{
    if (MAX(near, far) < -DARKER)
        p->on_dark += mm;
    else if (MIN(near, far) < LIGHTER)
        p->on_other += mm;
}

static gboolean is_apart(const DtCompose *c, DtLab paint, int beyond, DtPoint at)
{
    return dt_colour_difference(paint, dt_compose_art_at(c, beyond, at)) >= DT_LOOK_APART_IN_ART;
}

/* The part beyond an edge of a part of some paint. Slivers that hardly show are seen through until one is apart from the
 * paint, such as those between shapes whose edges are nearly the same. */
static int find_beyond(Search *s, size_t edge, int part, DtLab paint, DtPoint at, DtPoint way)
{
    const int next = part_beyond(edge_at(s->c, edge), part);
    int beyond = next;
    for (int i = 0; i < MOST_SLIVERS && !is_apart(s->c, paint, beyond, at); i++) {
        double width = LEAST_WIDTH;
        const int opposite = find_opposite(s, edge, beyond, at, way, &width);
        if (opposite < 0)
            return next;
        edge = (size_t)opposite;
        beyond = part_beyond(edge_at(s->c, edge), beyond);
        at = (DtPoint){at.x + way.x * width, at.y + way.y * width};
    }
    return beyond;
}

/* What is drawn on either side decides there, not the artwork: a flat ink for a paint that changes. */
static void add_sides(const DtCompose *c, int part, const int beyond[2], const DtPoint at[3],
                      double mm)
{
    const DtLab paint = dt_compose_paint_at(c, part, at[0]),
                near = dt_compose_paint_at(c, beyond[0], at[1]),
                far = dt_compose_paint_at(c, beyond[1], at[2]);
    if (dt_colour_difference(paint, near) >= DT_LOOK_APART_IN_ART &&
        dt_colour_difference(paint, far) >= DT_LOOK_APART_IN_ART && !is_narrow(c, beyond[0]) &&
        !is_narrow(c, beyond[1]))
        add_length(&c->sides[part], near.l - paint.l, far.l - paint.l, mm);
}

/* Both edges of a part look across it, so that each step counts by half. */
static void look_across(Search *s, size_t own, int part, DtPoint at, double step)
{
    const DtCompose *c = s->c;
    const DtPartEdge *e = edge_at(c, own);
    const DtPoint way = dt_point_scale(dt_point_sub(e->b, e->a), 1 / dt_point_distance(e->a, e->b));
    const double turn = e->left == part ? 1 : -1;
    const DtPoint inward = {-way.y * turn, way.x * turn};
    double width = is_narrow(c, part) ? s->widest : s->reach;
    const int opposite = find_opposite(s, own, part, at, inward, &width);
    if (opposite < 0 || width < LEAST_WIDTH)
        return;
    const DtPoint across = {at.x + inward.x * width, at.y + inward.y * width};
    const DtPoint middle = dt_point_lerp(at, across, 0.5);
    const DtLab paint = dt_compose_art_at(c, part, middle);
    const int beyond[2] = {find_beyond(s, own, part, paint, at, dt_point_scale(inward, -1)),
                           find_beyond(s, (size_t)opposite, part, paint, across, inward)};
    if (is_narrow(c, part))
        add_sides(c, part, beyond, (DtPoint[]){middle, at, across}, step / 2);
    if (!is_apart(c, paint, beyond[0], at) || !is_apart(c, paint, beyond[1], across))
        return;
    const DtThinPlace place = {middle, way, width, step / 2, part, FALSE};
    GArray *to = is_narrow(c, part) ? c->t->thin : s->pieces;
    g_array_append_val(to, place);
}

static void look_along(Search *s, size_t i)
{
    const DtPartEdge *e = edge_at(s->c, i);
    const double length = dt_point_distance(e->a, e->b);
    const int n = MAX(1, (int)(length / DT_LOOK_THIN_STEP)), side[2] = {e->left, e->right};
    for (int k = 0; k < 2 && length > 0; k++)
        for (int j = 0; j < n && is_searched(s, side[k]); j++)
            look_across(s, i, side[k], dt_point_lerp(e->a, e->b, (j + 0.5) / n), length / n);
}

static gboolean is_edge_of_searched(const Search *s, const DtPartEdge *e)
{
    return e->left != e->right && (is_searched(s, e->left) || is_searched(s, e->right));
}

static size_t count_edges(const Search *s)
{
    size_t n = 0;
    for (guint i = 0; i < s->c->edges->len; i++)
        n += is_edge_of_searched(s, edge_at(s->c, i)) ? 1 : 0;
    return n;
}

/* Narrow pieces of wide parts --------------------------------------------------------------------- */

/* Places of one part no farther apart than this (mm) are in the same piece. */
#define ONE_PIECE (2 * DT_LOOK_THIN_STEP)
/* Shorter pieces (tips) are corners. */
#define LEAST_PIECE_TIPS 5.0

static guint first_of(guint *of, guint i)
{
    while (of[i] != i)
        i = of[i] = of[of[i]];
    return i;
}

static const DtThinPlace *piece_place(const Search *s, size_t i)
{
    return &g_array_index(s->pieces, DtThinPlace, i);
}

/* Adds the places in narrow pieces, such as the stems of a large letter: each piece is counted like a part, with a
 * number of its own after those of the parts and lines. */
static void add_pieces(Search *s, int first_number)
{
    const guint n = s->pieces->len;
    g_autofree guint *of = g_new(guint, n + 1);
    g_autoptr(DtCells) cells = dt_cells_new(ONE_PIECE);
    for (guint i = 0; i < n; i++) {
        const DtPoint at = piece_place(s, i)->at;
        const GArray *near = dt_cells_near(cells, at);
        of[i] = i;
        s->looks += near ? near->len : 0;
        if (s->looks >= MOST_LOOKS)
            return;
        for (guint k = 0; near && k < near->len; k++) {
            const guint o = (guint)g_array_index(near, DtCellStretch, k).of;
            if (piece_place(s, o)->part == piece_place(s, i)->part &&
                dt_point_distance(piece_place(s, o)->at, at) <= ONE_PIECE)
                of[first_of(of, o)] = i;
        }
        dt_cells_add(cells, at, at, i);
    }
    g_autofree double *length = g_new0(double, n + 1);
    for (guint i = 0; i < n; i++)
        length[first_of(of, i)] += piece_place(s, i)->mm;
    for (guint i = 0; i < n; i++) {
        DtThinPlace place = *piece_place(s, i);
        place.part = first_number + (int)first_of(of, i);
        if (length[first_of(of, i)] >= LEAST_PIECE_TIPS * dt_compose_tip(s->c->t))
            g_array_append_val(s->c->t->thin, place);
    }
}

/* FALSE: there are too many edges. */
static gboolean find_thin(Search *s, int first_number)
{
    const DtCompose *c = s->c;
    const guint found = c->t->thin->len;
    if (count_edges(s) > MOST_EDGES)
        return FALSE;
    s->widest = DT_LOOK_NARROW_TIPS * dt_compose_tip(c->t);
    s->reach = s->all ? WIDEST_PIECE_TIPS * dt_compose_tip(c->t) : s->widest;
    g_autoptr(DtCells) cells = s->cells = dt_cells_new(s->reach);
    g_autoptr(GArray) pieces = s->pieces = g_array_new(FALSE, FALSE, sizeof(DtThinPlace));
    for (guint i = 0; i < c->edges->len; i++)
        if (is_edge_of_searched(s, edge_at(c, i)))
            dt_cells_add(cells, edge_at(c, i)->a, edge_at(c, i)->b, i);
    for (guint i = 0; i < c->edges->len && s->looks < MOST_LOOKS && !dt_work_stopped(); i++)
        if (is_edge_of_searched(s, edge_at(c, i)))
            look_along(s, i);
    add_pieces(s, first_number);
    if (s->looks < MOST_LOOKS)
        return TRUE;
    g_array_set_size(c->t->thin, found);
    return FALSE;
}

static void clear_sides(const DtCompose *c)
{
    for (guint i = 0; i < c->parts->len; i++)
        c->sides[i].on_dark = c->sides[i].on_other = 0;
}

void dt_compose_find_thin(const DtCompose *c, gboolean all)
{
    const int *owner, *overlay, n_lines = (int)dt_stack_lines(c->t->stack, &owner, &overlay)->n;
    Search s = {.c = c, .all = all};
    if (all && find_thin(&s, (int)c->parts->len + n_lines))
        return;
    clear_sides(c);
    s = (Search){.c = c};
    if (!find_thin(&s, 0)) {
        c->t->unseen_mm = NAN;
        g_array_set_size(c->t->thin, 0);
    }
}

/* An area of at least this many mm^2 can be seen however thin its parts are. */
#define SEEN_ANYWAY 1.0

/* Of parts that are wide enough to be seen a line of the pen's width is seen that is twice as long. */
void dt_compose_mark_slivers(const DtCompose *c)
{
    const double tip = dt_compose_tip(c->t);
    g_autofree double *seen = g_new0(double, c->areas->len + 1);
    for (guint i = 0; i < c->parts->len; i++)
        if (dt_compose_part(c, i)->width >= LEAST_WIDTH)
            seen[c->area_of[i]] += dt_compose_part(c, i)->area;
    for (int i = 0; i < (int)c->areas->len; i++) {
        DtLookArea *a = dt_compose_area(c, i);
        a->sliver = a->area < SEEN_ANYWAY && seen[i] < 2 * tip * tip;
    }
}
