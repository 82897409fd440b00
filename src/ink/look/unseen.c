/* unseen: counts the narrow parts of the artwork that the ink does not show: those that differ from what
 * is on either side of them, while the ink on them does not. */
#include "ink/look/cells.h"
#include "ink/look/compose.h"
#include "ink/look/strips.h"

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
    DtStrips *strips;
    double tip;
} Paper;

static void go_to(const Paper *p, const DtThinPlace *at)
{
    dt_strips_go_to(p->strips, at->at, at->way);
}

/* Beside a line other lines are left out: where many run side by side there is no room for gaps. */
static DtStripsKind kind_beside(const DtThinPlace *at)
{
    return at->line ? DT_STRIPS_FIELDS : DT_STRIPS_ANY_INK;
}

static double width_in_ink(const Paper *p, const DtThinPlace *at)
{
    return MAX(at->width, p->tip);
}

static gboolean differ(const DtStripLight *a, const DtStripLight *b, double apart)
{
    return dt_colour_difference(a->opaque, b->opaque) >= apart &&
           dt_colour_difference(a->clear, b->clear) >= apart;
}

/* Close by ----------------------------------------------------------------------------------------- */

/* How the ink on a part looks in one place: whether it differs from that on either side, and is then lighter (1) or
 * darker (-1) than it. */
typedef struct {
    gboolean shown;
    int lighter[2]; /* on the right of its way, and on the left */
} Look;

/* FALSE: it does not differ. */
static gboolean compare(const DtStripLight *on, const DtStripLight *beside, int side, Look *look)
{
    look->shown = differ(on, beside, APART_IN_INK);
    look->lighter[side] = on->opaque.l > beside->opaque.l ? 1 : -1;
    return look->shown;
}

/* Beside a line of some width. */
static Look look_beside(const Paper *p, const DtThinPlace *at, const DtStripLight *on, double width,
                        double along)
{
    Look look = {TRUE, {0, 0}};
    for (int k = 0; k < 2 && look.shown; k++) {
        const double side = k ? 1 : -1;
        const DtStripLight beside =
            dt_strips_light(p->strips, &(DtStrip){.along = along,
                                                  .from = side * (width / 2 + FROM_TIPS * p->tip),
                                                  .to = side * (width / 2 + TO_TIPS * p->tip),
                                                  .steps = SHORT_STEPS,
                                                  .across = 2,
                                                  .kind = kind_beside(at)});
        compare(on, &beside, k, &look);
    }
    return look;
}

/* A line so far aside of a place, as long each way from so far along it. */
static DtStripLight light_of_line(const Paper *p, double begin, double along, double aside,
                                  DtStripsKind kind)
{
    return dt_strips_light(p->strips, &(DtStrip){.begin = begin,
                                                 .along = along,
                                                 .from = aside,
                                                 .to = aside,
                                                 .steps = SHORT_STEPS,
                                                 .kind = kind});
}

/* The ink along the middle of a part, beside other ink, or none, all along both of its edges. */
static Look look_at_edges(const Paper *p, const DtThinPlace *at)
{
    const double along = p->tip / 4;
    const DtStripLight middle = light_of_line(p, 0, along, 0, DT_STRIPS_ANY_INK);
    Look look = {TRUE, {0, 0}};
    for (int k = 0; k < 4 && look.shown; k++) {
        const double aside = (0.5 + (k & 2 ? EDGE_TO_TIPS : EDGE_FROM_TIPS)) * p->tip;
        const DtStripsKind kind =
            aside > at->width / 2 + p->tip / 4 ? kind_beside(at) : DT_STRIPS_ANY_INK;
        const DtStripLight edge = light_of_line(p, 0, along, k & 1 ? aside : -aside, kind);
        compare(&middle, &edge, k & 1, &look);
    }
    return look;
}

/* Beside the ink's own width, or in the very places where the artwork differs, or as a line of its own. */
static Look look_closely(const Paper *p, const DtThinPlace *at)
{
    const double inner = MAX(at->width - p->tip, 0) / 2;
    const DtStripLight on = dt_strips_light(p->strips, &(DtStrip){.along = p->tip / 4,
                                                                  .from = -inner,
                                                                  .to = inner,
                                                                  .steps = SHORT_STEPS,
                                                                  .across = inner > 0 ? 2 : 0});
    Look look = look_beside(p, at, &on, width_in_ink(p, at), ALONG_TIPS * p->tip);
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

/* Whether all along a part, so far aside, the ink differs from that on it in the same sense. Other lines are edges, too. */
static gboolean is_line_along(const Paper *p, const DtStripLight *on, double aside)
{
    const double piece = ALONG_TIPS * p->tip / (2 * LINE_PIECES + 1);
    int lighter = 0;
    for (int i = -LINE_PIECES; i <= LINE_PIECES; i++) {
        const DtStripLight edge = light_of_line(p, 2 * piece * i, piece, aside, DT_STRIPS_ANY_INK);
        Look look = {TRUE, {0, 0}};
        if (!compare(on, &edge, 0, &look) || (lighter != 0 && look.lighter[0] != lighter))
            return FALSE;
        lighter = look.lighter[0];
    }
    return TRUE;
}

static gboolean is_edge_drawn(const Paper *p, const DtThinPlace *at, const DtStripLight *on,
                              double side)
{
    for (int k = -EDGE_STEPS; k <= 2 * EDGE_STEPS; k++)
        if (is_line_along(
                p, on,
                side * (width_in_ink(p, at) / 2 + k * EDGE_REACH_TIPS * p->tip / EDGE_STEPS)))
            return TRUE;
    return FALSE;
}

/* Whether the ink on a part, averaged along it, differs from that on both of its sides or on its edges. */
static gboolean differs_along(const Paper *p, const DtThinPlace *at)
{
    const double inner = MAX(at->width - p->tip, 0) / 2, edge = width_in_ink(p, at) / 2;
    DtStrip strip = {.along = ALONG_TIPS * p->tip,
                     .from = -inner,
                     .to = inner,
                     .steps = LONG_STEPS,
                     .across = inner > 0 ? 4 : 0,
                     .faded = TRUE};
    const DtStripLight on = dt_strips_light(p->strips, &strip);
    strip.across = 4;
    strip.kind = kind_beside(at);
    for (int side = -1; side <= 1; side += 2) {
        strip.from = side * (edge + FROM_TIPS * p->tip);
        strip.to = side * (edge + TO_TIPS * p->tip);
        const DtStripLight beside = dt_strips_light(p->strips, &strip);
        if (!differ(&on, &beside, APART_ALONG) && !is_edge_drawn(p, at, &on, side))
            return FALSE;
    }
    return TRUE;
}

/* Whether the place is on a line under a darker pen's field: such length is counted by itself (lost.c). */
static gboolean is_under_darker(const Paper *p)
{
    double lightest, darkest, other;
    return dt_strips_ink_at(p->strips, DT_STRIPS_LINES, &lightest, &other) &&
           dt_strips_ink_at(p->strips, DT_STRIPS_FIELDS, &other, &darkest) &&
           darkest < lightest - DT_LOOK_DARKER;
}

static guint stride_of(const DtTrace *t)
{
    return t->thin->len / MOST_PLACES + 1;
}

static const DtThinPlace *thin_place(const DtTrace *t, size_t i)
{
    return &g_array_index(t->thin, DtThinPlace, i);
}

static void look_at_all(const Paper *p, Look *looks, DtCells *places)
{
    for (guint i = 0; i < p->t->thin->len && !dt_work_stopped(); i += stride_of(p->t)) {
        const DtThinPlace *place = thin_place(p->t, i);
        go_to(p, place);
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
    if (looks[i].shown && is_consistent(p, i, looks, places))
        return TRUE;
    go_to(p, thin_place(p->t, i));
    return differs_along(p, thin_place(p->t, i));
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
        if (is_shown(p, i, looks, places) || is_under_darker(p))
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
    const double tip = dt_compose_tip(t);
    double widest = tip;
    if (t->thin->len == 0)
        return;
    for (guint i = 0; i < t->thin->len; i++)
        widest = MAX(widest, thin_place(t, i)->width);
    g_autoptr(DtStrips) strips = dt_strips_new(
        t, stride_of(t), ALONG_TIPS * tip, widest / 2 + MAX(TO_TIPS, 2 * EDGE_REACH_TIPS) * tip);
    count_unseen(&(Paper){t, strips, tip}, t);
}
