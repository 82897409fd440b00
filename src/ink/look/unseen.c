/* unseen: counts the narrow parts of the artwork that the ink does not show: those that differ from what
 * is on either side of them, while the ink on them does not. */
#include "ink/look/cells.h"
#include "ink/look/compose.h"

#include "drawtrue/work.h"

#include <math.h>

/* Of more edges of narrow parts, or of so many that are near each other that the search would look at more, nothing is
 * counted; of more places only a sample is looked at. */
#define MOST_EDGES 40000
#define MOST_LOOKS 20000000
#define MOST_PLACES 20000
/* What is narrower (mm) hardly shows in the artwork. */
#define LEAST_WIDTH 0.12
/* The ink on a part differs from that beside it by so much (CIEDE2000). */
#define APART_IN_INK 4.0
/* The ink beside a part is averaged over this many tips each way along it, and between these many tips
 * from its edge, where the eye would see a gap. */
#define ALONG_TIPS 2.5
#define FROM_TIPS 0.375
#define TO_TIPS 1.125
/* A line along the middle of a part may have bare edges of its own between these many tips from it. */
#define EDGE_FROM_TIPS 0.125
#define EDGE_TO_TIPS 0.3125

/* Parts ---------------------------------------------------------------------------------------- */

typedef struct {
    const DtCompose *c;
    DtCells *cells; /* the edges of narrow parts */
    double widest;  /* of narrow parts, mm */
    size_t looks;   /* at edges */
} Search;

static const DtPartEdge *edge_at(const DtCompose *c, size_t i)
{
    return &g_array_index(c->edges, DtPartEdge, i);
}

static gboolean is_narrow(const DtCompose *c, int part)
{
    return part >= 0 && c->sides[part].narrow;
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

/* The edge of a part opposite to a place on its edge `own`; -1: none is near. */
static int find_opposite(Search *s, size_t own, int part, DtPoint at, DtPoint inward, double *width)
{
    const GArray *near = dt_cells_near(s->cells, at);
    int best = -1;
    *width = s->widest;
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

/* Both edges of a part look across it, so that each step counts by half. */
static void look_across(Search *s, size_t own, int part, DtPoint at, double step)
{
    const DtCompose *c = s->c;
    const DtPartEdge *e = edge_at(c, own);
    const DtPoint way = dt_point_scale(dt_point_sub(e->b, e->a), 1 / dt_point_distance(e->a, e->b));
    const double turn = e->left == part ? 1 : -1;
    const DtPoint inward = {-way.y * turn, way.x * turn};
    double width;
    const int opposite = find_opposite(s, own, part, at, inward, &width);
    if (opposite < 0 || width < LEAST_WIDTH)
        return;
    const DtPoint across = {at.x + inward.x * width, at.y + inward.y * width};
    const DtPoint middle = dt_point_lerp(at, across, 0.5);
    const int beyond[2] = {part_beyond(e, part), part_beyond(edge_at(c, (size_t)opposite), part)};
    const DtLab paint = dt_compose_paint_at(c, part, middle),
                near = dt_compose_paint_at(c, beyond[0], at),
                far = dt_compose_paint_at(c, beyond[1], across);
    if (dt_colour_difference(paint, near) < DT_LOOK_APART_IN_ART ||
        dt_colour_difference(paint, far) < DT_LOOK_APART_IN_ART)
        return;
    const DtThinPlace place = {middle, way, width, step / 2, part, FALSE};
    g_array_append_val(c->t->thin, place);
    if (!is_narrow(c, beyond[0]) && !is_narrow(c, beyond[1]))
        add_length(&c->sides[part], near.l - paint.l, far.l - paint.l, step / 2);
}

static void look_along(Search *s, size_t i)
{
    const DtPartEdge *e = edge_at(s->c, i);
    const double length = dt_point_distance(e->a, e->b);
    const int n = MAX(1, (int)(length / DT_LOOK_THIN_STEP)), side[2] = {e->left, e->right};
    for (int k = 0; k < 2 && length > 0; k++)
        for (int j = 0; j < n && is_narrow(s->c, side[k]); j++)
            look_across(s, i, side[k], dt_point_lerp(e->a, e->b, (j + 0.5) / n), length / n);
}

static gboolean is_edge_of_narrow(const DtCompose *c, const DtPartEdge *e)
{
    return e->left != e->right && (is_narrow(c, e->left) || is_narrow(c, e->right));
}

static size_t count_edges(const DtCompose *c)
{
    size_t n = 0;
    for (guint i = 0; i < c->edges->len; i++)
        n += is_edge_of_narrow(c, edge_at(c, i)) ? 1 : 0;
    return n;
}

void dt_compose_find_thin(const DtCompose *c)
{
    if (count_edges(c) > MOST_EDGES) {
        c->t->unseen_mm = NAN;
        return;
    }
    const double widest = DT_LOOK_NARROW_TIPS * dt_compose_tip(c->t);
    g_autoptr(DtCells) cells = dt_cells_new(widest);
    for (guint i = 0; i < c->edges->len; i++)
        if (is_edge_of_narrow(c, edge_at(c, i)))
            dt_cells_add(cells, edge_at(c, i)->a, edge_at(c, i)->b, i);
    Search s = {c, cells, widest, 0};
    for (guint i = 0; i < c->edges->len && s.looks < MOST_LOOKS && !dt_work_stopped(); i++)
        if (is_edge_of_narrow(c, edge_at(c, i)))
            look_along(&s, i);
    if (s.looks >= MOST_LOOKS) {
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

/* Ink ------------------------------------------------------------------------------------------ */

typedef struct {
    const DtTrace *t;
    DtCells *cells;
    double tip;
    double *lightness; /* of the pens */
    double *light;     /* of the pens, linear, three each */
    gboolean *covered; /* by each pen, for one place */
} Paper;

/* Light from strips of paper, with opaque inks of which the darkest is on top, and with transparent ones. */
typedef struct {
    double opaque[3], clear[3];
    int n;
} Light;

typedef enum { ANY_INK, FIELDS, LINES } Kind;

static gboolean is_of_kind(const DtStroke *s, Kind kind)
{
    return kind == ANY_INK || (s->kind == DT_INK_OUTLINE) == (kind == LINES);
}

static void find_covering(const Paper *p, DtPoint at, Kind kind)
{
    const GArray *near = dt_cells_near(p->cells, at);
    for (size_t i = 0; i < p->t->rack->n; i++)
        p->covered[i] = FALSE;
    for (guint i = 0; near && i < near->len; i++) {
        const DtCellStretch *o = &g_array_index(near, DtCellStretch, i);
        const DtStroke *stroke = &p->t->out->strokes[o->of];
        const unsigned pen = stroke->pen;
        if (!p->covered[pen] && is_of_kind(stroke, kind) &&
            dt_point_segment_distance(at, o->a, o->b) < p->t->rack->pens[pen].tip / 2)
            p->covered[pen] = TRUE;
    }
}

static void add_light(const Paper *p, DtPoint at, Kind kind, Light *sum)
{
    const DtColour paper = p->t->o->paper;
    const double bare[3] = {dt_colour_linear(paper.r), dt_colour_linear(paper.g),
                            dt_colour_linear(paper.b)};
    double clear[3] = {bare[0], bare[1], bare[2]};
    const double *opaque = bare;
    double darkest = G_MAXDOUBLE;
    find_covering(p, at, kind);
    for (size_t i = 0; i < p->t->rack->n; i++) {
        if (!p->covered[i])
            continue;
        for (int c = 0; c < 3; c++)
            clear[c] *= p->light[3 * i + (size_t)c];
        if (p->lightness[i] < darkest) {
            darkest = p->lightness[i];
            opaque = &p->light[3 * i];
        }
    }
    for (int c = 0; c < 3; c++) {
        sum->opaque[c] += opaque[c];
        sum->clear[c] += clear[c];
    }
    sum->n++;
}

/* From `from` to `to` mm aside, and `along` mm each way. Beside a line other lines are left out: where many run side by
 * side there is no room for gaps. */
static Light strip_light(const Paper *p, const DtThinPlace *at, double along, double from,
                         double to)
{
    const gboolean beside = fabs(from) > at->width / 2 + p->tip / 4;
    Light sum = {.n = 0};
    for (int i = -4; i <= 4; i++)
        for (int j = 0; j <= (from == to ? 0 : 2); j++) {
            const double u = along * i / 4, v = from + (to - from) * j / 2;
            const DtPoint q = {at->at.x + at->way.x * u - at->way.y * v,
                               at->at.y + at->way.y * u + at->way.x * v};
            add_light(p, q, at->line && beside ? FIELDS : ANY_INK, &sum);
        }
    return sum;
}

static DtLab lab_of(const double sum[3], int n)
{
    return dt_colour_lab_linear(sum[0] / n, sum[1] / n, sum[2] / n);
}

static gboolean differ(const Light *a, const Light *b)
{
    return dt_colour_difference(lab_of(a->opaque, a->n), lab_of(b->opaque, b->n)) >= APART_IN_INK &&
           dt_colour_difference(lab_of(a->clear, a->n), lab_of(b->clear, b->n)) >= APART_IN_INK;
}

/* Whether the ink on a part differs from that beside a line of some width. */
static gboolean stands_out(const Paper *p, const DtThinPlace *at, const Light *on, double width,
                           double along)
{
    for (int side = -1; side <= 1; side += 2) {
        const double edge = width / 2, from = side * (edge + FROM_TIPS * p->tip),
                     to = side * (edge + TO_TIPS * p->tip);
        const Light beside = strip_light(p, at, along, from, to);
        if (!differ(on, &beside))
            return FALSE;
    }
    return TRUE;
}

/* Whether the ink along the middle of a part has other ink, or none, all along both of its edges. */
static gboolean has_edges(const Paper *p, const DtThinPlace *at)
{
    const double along = p->tip / 4;
    const Light middle = strip_light(p, at, along, 0, 0);
    for (int side = -1; side <= 1; side += 2)
        for (int k = 0; k < 2; k++) {
            const double aside = side * (0.5 + (k ? EDGE_TO_TIPS : EDGE_FROM_TIPS)) * p->tip;
            const Light edge = strip_light(p, at, along, aside, aside);
            if (!differ(&middle, &edge))
                return FALSE;
        }
    return TRUE;
}

static double lightest(const Paper *p, DtPoint at)
{
    double l = -G_MAXDOUBLE;
    find_covering(p, at, LINES);
    for (size_t i = 0; i < p->t->rack->n; i++)
        l = p->covered[i] ? MAX(l, p->lightness[i]) : l;
    return l;
}

static double darkest(const Paper *p, DtPoint at)
{
    double l = G_MAXDOUBLE;
    find_covering(p, at, FIELDS);
    for (size_t i = 0; i < p->t->rack->n; i++)
        l = p->covered[i] ? MIN(l, p->lightness[i]) : l;
    return l;
}

/* Whether a line is under a darker pen's field: such length is counted by itself (lost.c). */
static gboolean is_under_darker(const Paper *p, const DtThinPlace *at)
{
    return darkest(p, at->at) < lightest(p, at->at);
}

/* Beside the ink's own width, or in the very places where the artwork differs, or as a line of its own. */
static gboolean is_shown(const Paper *p, const DtThinPlace *at)
{
    const double inner = MAX(at->width - p->tip, 0) / 2;
    const Light on = strip_light(p, at, p->tip / 4, -inner, inner);
    return stands_out(p, at, &on, MAX(at->width, p->tip), ALONG_TIPS * p->tip) ||
           stands_out(p, at, &on, at->width, p->tip / 2) || has_edges(p, at);
}

/* Only near the places that are looked at. */
static void lay_ink(Paper *p, const DtCells *places)
{
    const double most = 1; /* mm */
    const DtStrokes *all = p->t->out;
    for (size_t i = p->t->first; i < all->n && !dt_work_stopped(); i++) {
        const DtStroke *s = &all->strokes[i];
        const DtPoint *q = all->pts + s->first;
        for (size_t k = 0; k + (s->closed ? 0 : 1) < s->n; k++) {
            const DtPoint a = q[k], b = q[(k + 1) % s->n];
            const int n = MAX(1, (int)MIN(ceil(dt_point_distance(a, b) / most), 1e6));
            for (int j = 0; j < n; j++)
                if (dt_cells_near(places, dt_point_lerp(a, b, (j + 0.5) / n)))
                    dt_cells_add(p->cells, dt_point_lerp(a, b, (double)j / n),
                                 dt_point_lerp(a, b, (j + 1.0) / n), i);
        }
    }
}

static guint stride_of(const DtTrace *t)
{
    return t->thin->len / MOST_PLACES + 1;
}

static void lay_ink_near_places(Paper *p)
{
    const double half_stretch = 0.5;
    double reach = 0;
    for (guint i = 0; i < p->t->thin->len; i++)
        reach = MAX(reach, g_array_index(p->t->thin, DtThinPlace, i).width / 2);
    reach += (ALONG_TIPS + TO_TIPS + 1) * p->tip + half_stretch;
    g_autoptr(DtCells) places = dt_cells_new(reach);
    for (guint i = 0; i < p->t->thin->len; i += stride_of(p->t)) {
        const DtPoint at = g_array_index(p->t->thin, DtThinPlace, i).at;
        dt_cells_add(places, at, at, i);
    }
    lay_ink(p, places);
}

static void count_unseen(const Paper *p, DtTrace *t)
{
    g_autofree double *lost = NULL;
    int n = 0, worst = -1;
    for (guint i = 0; i < t->thin->len; i++)
        n = MAX(n, g_array_index(t->thin, DtThinPlace, i).part + 1);
    lost = g_new0(double, (gsize)n + 1);
    g_autofree DtPoint *at = g_new0(DtPoint, (gsize)n + 1);
    const guint stride = stride_of(t);
    for (guint i = 0; i < t->thin->len && !dt_work_stopped(); i += stride) {
        const DtThinPlace *place = &g_array_index(t->thin, DtThinPlace, i);
        if (is_shown(p, place) || is_under_darker(p, place))
            continue;
        lost[place->part] += place->mm * stride;
        at[place->part] = place->at;
    }
    for (int i = 0; i < n; i++) {
        if (lost[i] < p->tip) /* ink has round ends of that width */
            continue;
        t->unseen_mm += lost[i];
        if (worst < 0 || lost[i] > lost[worst])
            worst = i;
    }
    if (worst >= 0)
        t->unseen_at = at[worst];
}

void dt_look_count_unseen(DtTrace *t)
{
    const size_t n = t->rack->n;
    double widest = 0;
    if (t->thin->len == 0)
        return;
    g_autofree double *lightness = g_new(double, n), *light = g_new(double, 3 * n);
    g_autofree gboolean *covered = g_new(gboolean, n);
    for (size_t i = 0; i < n; i++) {
        const DtColour c = t->rack->pens[i].colour;
        widest = MAX(widest, t->rack->pens[i].tip);
        lightness[i] = dt_colour_lab(c).l;
        light[3 * i] = dt_colour_linear(c.r);
        light[3 * i + 1] = dt_colour_linear(c.g);
        light[3 * i + 2] = dt_colour_linear(c.b);
    }
    g_autoptr(DtCells) cells = dt_cells_new(widest / 2);
    Paper p = {t, cells, dt_compose_tip(t), lightness, light, covered};
    lay_ink_near_places(&p);
    count_unseen(&p, t);
}
