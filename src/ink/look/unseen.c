/* unseen: counts the narrow parts of the artwork that the ink does not show: those that differ from what
 * is on either side of them, while the ink on them does not. */
#include "ink/look/cells.h"
#include "ink/look/compose.h"

#include "drawtrue/work.h"

#include <math.h>

/* Of more places only a sample is looked at. */
#define MOST_PLACES 20000
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
/* The average colour of the ink along a part differs by so much (CIEDE2000): more than samples of one hatch may. */
#define APART_ALONG 6.0
/* An edge of a part may be drawn so far (tips) inside of it and twice as far outside. */
#define EDGE_REACH_TIPS 0.25
/* Steps each way along a part, for a close look and for the average, and to such an edge. */
enum { SHORT_STEPS = 4, LONG_STEPS = 12, EDGE_STEPS = 3 };
/* Such a line is looked at in one piece and so many more each way. */
enum { LINE_PIECES = 2 };
/* A hatch that goes on from a part to what is beside it has lines in some places of the part and none in others. It is
 * shown where at least this share of the places so near (tips) look alike. Not more than so many are compared. */
#define SHARE_ALIKE 0.8
#define NEAR_TIPS 4.0
enum { MOST_COMPARED = 64 };

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
    double weight;
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

static void add_light(const Paper *p, DtPoint at, Kind kind, double weight, Light *sum)
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
        sum->opaque[c] += weight * opaque[c];
        sum->clear[c] += weight * clear[c];
    }
    sum->weight += weight;
}

/* A strip along a part: from `from` to `to` mm aside in `across` steps, and `along` mm each way in twice `steps`. In a
 * long one what is farther counts less (a Hann window), so that it does not matter where the lines of a hatch begin. */
typedef struct {
    double along, from, to;
    int steps, across;
} Strip;

/* Beside a line other lines are left out: where many run side by side there is no room for gaps. */
static Light strip_light(const Paper *p, const DtThinPlace *at, Strip s)
{
    const gboolean beside = fabs(s.from) > at->width / 2 + p->tip / 4;
    Light sum = {.weight = 0};
    for (int i = -s.steps; i <= s.steps; i++)
        for (int j = 0; j <= s.across; j++) {
            const double u = s.along * i / s.steps,
                         v = s.from + (s.to - s.from) * j / MAX(s.across, 1);
            const DtPoint q = {at->at.x + at->way.x * u - at->way.y * v,
                               at->at.y + at->way.y * u + at->way.x * v};
            add_light(p, q, at->line && beside ? FIELDS : ANY_INK,
                      s.steps < LONG_STEPS ? 1 : 1 + cos(G_PI * i / (s.steps + 1)), &sum);
        }
    return sum;
}

static DtLab lab_of(const double sum[3], double n)
{
    return dt_colour_lab_linear(sum[0] / n, sum[1] / n, sum[2] / n);
}

static double difference(const Light *a, const Light *b)
{
    return MIN(dt_colour_difference(lab_of(a->opaque, a->weight), lab_of(b->opaque, b->weight)),
               dt_colour_difference(lab_of(a->clear, a->weight), lab_of(b->clear, b->weight)));
}

/* Close by ----------------------------------------------------------------------------------------- */

/* How the ink on a part looks in one place: whether it differs from that on either side, and is then lighter (1) or
 * darker (-1) than it. */
typedef struct {
    gboolean shown;
    int lighter[2]; /* on the right of its way, and on the left */
} Look;

static void compare(const Light *on, const Light *beside, int side, Look *look)
{
    look->shown = look->shown && difference(on, beside) >= APART_IN_INK;
    look->lighter[side] =
        lab_of(on->opaque, on->weight).l > lab_of(beside->opaque, beside->weight).l ? 1 : -1;
}

/* Beside a line of some width. */
static Look look_beside(const Paper *p, const DtThinPlace *at, const Light *on, double width,
                        double along)
{
    Look look = {TRUE, {0, 0}};
    for (int k = 0; k < 2; k++) {
        const double side = k ? 1 : -1;
        const Light beside =
            strip_light(p, at,
                        (Strip){along, side * (width / 2 + FROM_TIPS * p->tip),
                                side * (width / 2 + TO_TIPS * p->tip), SHORT_STEPS, 2});
        compare(on, &beside, k, &look);
    }
    return look;
}

/* The ink along the middle of a part, beside other ink, or none, all along both of its edges. */
static Look look_at_edges(const Paper *p, const DtThinPlace *at)
{
    const double along = p->tip / 4;
    const Light middle = strip_light(p, at, (Strip){along, 0, 0, SHORT_STEPS, 0});
    Look look = {TRUE, {0, 0}};
    for (int k = 0; k < 4; k++) {
        const double aside =
            (k & 1 ? 1 : -1) * (0.5 + (k & 2 ? EDGE_TO_TIPS : EDGE_FROM_TIPS)) * p->tip;
        const Light edge = strip_light(p, at, (Strip){along, aside, aside, SHORT_STEPS, 0});
        compare(&middle, &edge, k & 1, &look);
    }
    return look;
}

/* Beside the ink's own width, or in the very places where the artwork differs, or as a line of its own. */
static Look look_closely(const Paper *p, const DtThinPlace *at)
{
    const double inner = MAX(at->width - p->tip, 0) / 2;
    const Light on =
        strip_light(p, at, (Strip){p->tip / 4, -inner, inner, SHORT_STEPS, inner > 0 ? 2 : 0});
    Look look = look_beside(p, at, &on, MAX(at->width, p->tip), ALONG_TIPS * p->tip);
    if (!look.shown)
        look = look_beside(p, at, &on, at->width, p->tip / 2);
    return look.shown ? look : look_at_edges(p, at);
}

static gboolean look_alike(const DtThinPlace *p, const Look *a, const DtThinPlace *q, const Look *b)
{
    const int swap = dt_point_dot(p->way, q->way) < 0;
    return a->shown && b->shown && a->lighter[0] == b->lighter[swap] &&
           a->lighter[1] == b->lighter[1 - swap];
}

/* Along a part --------------------------------------------------------------------------------------- */

/* Whether all along a part, so far aside, the ink differs from that on it in the same sense. */
static gboolean is_line_along(const Paper *p, const DtThinPlace *at, const Light *on, double aside)
{
    const double piece = ALONG_TIPS * p->tip / (2 * LINE_PIECES + 1);
    int lighter = 0;
    for (int i = -LINE_PIECES; i <= LINE_PIECES; i++) {
        DtThinPlace there = *at;
        there.line = FALSE; /* other lines are edges, too */
        there.at.x += at->way.x * 2 * piece * i;
        there.at.y += at->way.y * 2 * piece * i;
        const Light edge = strip_light(p, &there, (Strip){piece, aside, aside, SHORT_STEPS, 0});
        Look look = {TRUE, {0, 0}};
        compare(on, &edge, 0, &look);
        if (!look.shown || (lighter != 0 && look.lighter[0] != lighter))
            return FALSE;
        lighter = look.lighter[0];
    }
    return TRUE;
}

static gboolean is_edge_drawn(const Paper *p, const DtThinPlace *at, const Light *on, double side)
{
    for (int k = -EDGE_STEPS; k <= 2 * EDGE_STEPS; k++)
        if (is_line_along(
                p, at, on,
                side * (MAX(at->width, p->tip) / 2 + k * EDGE_REACH_TIPS * p->tip / EDGE_STEPS)))
            return TRUE;
    return FALSE;
}

/* Whether the ink on a part, averaged along it, differs from that on both of its sides or on its edges. */
static gboolean differs_along(const Paper *p, const DtThinPlace *at)
{
    const double along = ALONG_TIPS * p->tip, inner = MAX(at->width - p->tip, 0) / 2;
    const Light on =
        strip_light(p, at, (Strip){along, -inner, inner, LONG_STEPS, inner > 0 ? 4 : 0});
    for (int side = -1; side <= 1; side += 2) {
        const double edge = MAX(at->width, p->tip) / 2;
        const Light beside = strip_light(p, at,
                                         (Strip){along, side * (edge + FROM_TIPS * p->tip),
                                                 side * (edge + TO_TIPS * p->tip), LONG_STEPS, 4});
        if (difference(&on, &beside) < APART_ALONG && !is_edge_drawn(p, at, &on, side))
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

static const DtThinPlace *thin_place(const DtTrace *t, size_t i)
{
    return &g_array_index(t->thin, DtThinPlace, i);
}

static void look_at_all(const Paper *p, Look *looks, DtCells *places)
{
    for (guint i = 0; i < p->t->thin->len && !dt_work_stopped(); i += stride_of(p->t)) {
        const DtThinPlace *place = thin_place(p->t, i);
        looks[i] = look_closely(p, place);
        dt_cells_add(places, place->at, place->at, i);
    }
}

/* Whether most places of a part near one look like it, on one side of it: where a line runs from one field into
 * another it looks otherwise on the other side. */
static gboolean is_consistent(const Paper *p, guint i, const Look *looks, const DtCells *places)
{
    const DtThinPlace *own = thin_place(p->t, i);
    const GArray *near = dt_cells_near(places, own->at);
    int alike[2] = {0, 0}, n[2] = {0, 0};
    for (guint k = 0; near && k < near->len && n[0] + n[1] < MOST_COMPARED; k++) {
        const size_t o = g_array_index(near, DtCellStretch, k).of;
        const DtThinPlace *other = thin_place(p->t, o);
        const DtPoint to = dt_point_sub(other->at, own->at);
        if (other->part != own->part || hypot(to.x, to.y) > NEAR_TIPS * p->tip)
            continue;
        const double ahead = dt_point_dot(to, own->way);
        const int like = look_alike(own, &looks[i], other, &looks[o]);
        for (int side = 0; side < 2; side++)
            if ((side ? ahead : -ahead) > -p->tip / 4) {
                n[side]++;
                alike[side] += like;
            }
    }
    for (int side = 0; side < 2; side++) /* beyond an end there is nothing to compare with */
        if (2 * n[side] >= n[1 - side] && alike[side] >= SHARE_ALIKE * n[side])
            return TRUE;
    return FALSE;
}

static gboolean is_shown(const Paper *p, guint i, const Look *looks, const DtCells *places)
{
    return (looks[i].shown && is_consistent(p, i, looks, places)) ||
           differs_along(p, thin_place(p->t, i));
}

static void count_unseen(const Paper *p, DtTrace *t)
{
    g_autofree double *lost = NULL;
    int n = 0, worst = -1;
    for (guint i = 0; i < t->thin->len; i++)
        n = MAX(n, g_array_index(t->thin, DtThinPlace, i).part + 1);
    lost = g_new0(double, (gsize)n + 1);
    g_autofree DtPoint *at = g_new0(DtPoint, (gsize)n + 1);
    g_autofree Look *looks = g_new0(Look, t->thin->len + 1);
    g_autoptr(DtCells) places = dt_cells_new(NEAR_TIPS * p->tip);
    look_at_all(p, looks, places);
    const guint stride = stride_of(t);
    for (guint i = 0; i < t->thin->len && !dt_work_stopped(); i += stride) {
        const DtThinPlace *place = &g_array_index(t->thin, DtThinPlace, i);
        if (is_shown(p, i, looks, places) || is_under_darker(p, place))
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
