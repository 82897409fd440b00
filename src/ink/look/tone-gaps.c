/* tone-gaps: gaps in the ink of paints that change from place to place, where it would hide narrow parts beside it or
 * merge with another ink: in those of its pens that would, if what the others leave tells the two apart. */
#include "ink/look/tone-gaps.h"

#include "ink/look/cells.h"
#include "ink/outline.h"

#include <math.h>

/* What is beside a tone is separated from it if the paints differ by this much (CIEDE2000). */
#define TONE_APART 10.0
/* Pens that are lighter than a line by more than this (L*) do not hide it. */
#define LIGHTER 3.0
/* The ink of the other pens shows as a gap if it differs by this much (CIEDE2000) from the ink on either side. */
#define GAP_SHOWS 12.0
/* The middle of a narrow piece lies this near (mm) to half its width from its edges. */
#define NEAR_MIDDLE 0.15

struct DtToneGaps {
    const DtCompose *c;
    const int *place_of;
    DtCells
        *pieces;   /* the places along narrow pieces of wide parts, by their number in c->t->thin */
    double widest; /* of those, mm */
    DtLines *edges; /* along which ink is cut back: see edges_of() */
    gsize n_edges;
};

/* The ink on one side of an edge, and the paint that it stands for. */
typedef struct {
    DtLab ink, paint;
    double bare; /* share of the paper that stays bare */
    unsigned n;  /* pens */
    int pen[DT_PENS_OF_PICTURE];
    double share[DT_PENS_OF_PICTURE];
    const DtLookArea *area;
    double width; /* of a narrow piece of a wide part there, mm; 0: it is none */
} EdgeSide;

/* The edges of a place along which a pen, -1: all of its ink, is cut back from other ink, or from that of another tone. */
static DtLines *edges_of(const DtToneGaps *g, guint place, int pen, gboolean from_tone)
{
    return &g->edges[2 * (place * (g->c->t->rack->n + 1) + (gsize)(pen + 1)) + (from_tone ? 1 : 0)];
}

DtToneGaps *dt_tone_gaps_new(const DtCompose *c, const int *place_of)
{
    DtToneGaps *g = g_new0(DtToneGaps, 1);
    g->c = c;
    g->place_of = place_of;
    g->n_edges = 2 * c->t->inks->len * (c->t->rack->n + 1);
    g->edges = g_new0(DtLines, g->n_edges + 1);
    for (guint i = 0; i < c->t->thin->len; i++)
        g->widest = MAX(g->widest, g_array_index(c->t->thin, DtThinPlace, i).width);
    g->pieces = dt_cells_new(g->widest / 2 + DT_LOOK_THIN_STEP);
    for (guint i = 0; i < c->t->thin->len; i++) {
        const DtThinPlace *p = &g_array_index(c->t->thin, DtThinPlace, i);
        if (!p->line && p->part >= (int)c->parts->len)
            dt_cells_add(g->pieces, p->at, p->at, i);
    }
    return g;
}

void dt_tone_gaps_free(DtToneGaps *g)
{
    for (gsize i = 0; i < g->n_edges; i++)
        dt_lines_clear(&g->edges[i]);
    dt_cells_free(g->pieces);
    g_free(g->edges);
    g_free(g);
}

/* Sides --------------------------------------------------------------------------------------- */

static void add_pen(EdgeSide *s, int pen, double share)
{
    if (pen < 0)
        return;
    s->pen[s->n] = pen;
    s->share[s->n++] = share;
    s->bare *= 1 - share;
}

/* How wide a narrow piece is on whose edge a place lies, with the piece on its left or right; 0: none is there. */
static double width_of_piece(const DtToneGaps *g, DtPoint at, DtPoint way, gboolean on_left)
{
    const GArray *near = dt_cells_near(g->pieces, at);
    double width = 0, nearest = DT_LOOK_THIN_STEP;
    for (guint i = 0; near && i < near->len; i++) {
        const DtThinPlace *p =
            &g_array_index(g->c->t->thin, DtThinPlace, g_array_index(near, DtCellStretch, i).of);
        const DtPoint to = dt_point_sub(p->at, at);
        const double along = fabs(dt_point_dot(to, way)),
                     inward = dt_point_cross(way, to) * (on_left ? 1 : -1);
        if (along >= nearest || fabs(inward - p->width / 2) > NEAR_MIDDLE)
            continue;
        nearest = along;
        width = p->width;
    }
    return width;
}

static void find_tone(const DtToneGaps *g, int part, DtPoint at, EdgeSide *out)
{
    const DtCompose *c = g->c;
    const DtSeenPaint *p = dt_compose_paint(c, dt_compose_part(c, (guint)part)->label);
    DtSeparation *s = dt_trace_place(c->t, (guint)g->place_of[c->area_of[part]])->separation;
    const DtColour seen =
        dt_colour_over(dt_paint_layers_seen_at(c->t->layers, p->label, at).colour, c->t->o->paper);
    for (unsigned i = 0; i < dt_separation_n_pens(s); i++)
        add_pen(out, dt_separation_pen(s, i), dt_separation_share(s, i, seen));
    out->paint = dt_colour_lab(seen);
}

/* FALSE: nothing is cut back there. */
static gboolean find_side(const DtToneGaps *g, int part, DtPoint at, DtPoint way, gboolean on_left,
                          EdgeSide *out)
{
    const DtCompose *c = g->c;
    const DtLookArea *a = dt_compose_area(c, c->area_of[part]);
    *out = (EdgeSide){.paint = a->lab, .bare = 1, .area = a};
    if (dt_compose_paint(c, dt_compose_part(c, (guint)part)->label)->picture)
        return FALSE;
    if (a->fixed) {
        const DtSeparation *s =
            dt_trace_place(c->t, (guint)g->place_of[c->area_of[part]])->separation;
        if (!s || dt_separation_n_pens(s) > DT_PENS_OF_PICTURE)
            return FALSE;
        find_tone(g, part, at, out);
    } else {
        for (int k = 0; k < 2; k++)
            add_pen(out, a->recipe.pen[k], a->recipe.share[k]);
    }
    double light[3];
    if (!a->narrow)
        out->width = width_of_piece(g, at, way, on_left);
    dt_appear_light_of_many(c->t->appear, out->pen, out->share, out->n, light);
    out->ink = dt_colour_lab_linear(light[0], light[1], light[2]);
    return TRUE;
}

static gboolean is_tone(const EdgeSide *s)
{
    return s->area->fixed;
}

static gboolean is_narrow(const EdgeSide *s)
{
    return s->area->narrow || s->width > 0;
}

static double lightness_of(const DtToneGaps *g, int pen)
{
    return dt_colour_lab(g->c->t->rack->pens[pen].colour).l;
}

/* The pen that shows most on a side: of its hatch's pens the first that covers half, otherwise the one that covers most;
 * -1: none. */
static int main_pen(const EdgeSide *s)
{
    int best = -1;
    double most = 0;
    for (unsigned i = 0; i < s->n; i++) {
        if (s->share[i] <= most)
            continue;
        most = s->share[i];
        best = s->pen[i];
    }
    return best;
}

static double share_of_pen(const EdgeSide *s, int pen)
{
    for (unsigned i = 0; i < s->n; i++)
        if (s->pen[i] == pen)
            return s->share[i];
    return 0;
}

/* Gaps ---------------------------------------------------------------------------------------- */

/* Whether a line would be lost in its own pen's share of a tone beside it. */
static gboolean is_lost_in_own_pen(const DtToneGaps *g, const EdgeSide *line, const EdgeSide *tone)
{
    const double tip = dt_compose_tip(g->c->t);
    const int pen = main_pen(line);
    if (pen < 0 || (is_tone(line) && line->width == 0))
        return FALSE;
    const DtRecipe own = is_tone(line) ? (DtRecipe){{pen, -1}, {share_of_pen(line, pen), 0}}
                                       : line->area->recipe,
                   beside = {{own.pen[0], -1}, {share_of_pen(tone, own.pen[0]), 0}};
    DtLookArea area = *line->area;
    if (line->width > 0) {
        area.narrow = TRUE;
        area.least = MIN(tip / line->width, 1);
    }
    return beside.share[0] > 0 && dt_look_is_line_lost(&area, own, beside, tip);
}

/* Whether the ink of a tone would hide a narrow part: those of its pens that are no lighter than the part's cover so
 * much there. A piece of a wide part that is wide enough is not lost in its own pen. */
static gboolean is_swallowed(const DtToneGaps *g, const EdgeSide *line, const EdgeSide *tone)
{
    const int own = is_tone(line) ? main_pen(line) : line->area->recipe.pen[0];
    if (!is_narrow(line) || own < 0 || !is_tone(tone) || is_narrow(tone))
        return FALSE;
    double bare = 1; /* of them all together (Demichel 1924) */
    for (unsigned i = 0; i < tone->n; i++)
        if (lightness_of(g, tone->pen[i]) <= lightness_of(g, own) + LIGHTER &&
            !(line->width > 0 && tone->pen[i] == own && !is_lost_in_own_pen(g, line, tone)))
            bare *= 1 - tone->share[i];
    return 1 - bare >= DT_LOOK_SHOWS_OVER;
}

/* Which of two sides has its ink cut back for a gap, if the paints differ and the inks do not: the one that has a tone, or
 * of two the darker one. -1: none. */
static int merged_side(const DtToneGaps *g, const EdgeSide side[2])
{
    if (side[0].area->narrow || side[1].area->narrow ||
        MAX(side[0].bare, side[1].bare) > 1 - DT_LOOK_SHOWS_OVER)
        return -1;
    if (dt_colour_difference(side[0].ink, side[1].ink) >= DT_LOOK_TOLD_APART &&
        !is_lost_in_own_pen(g, &side[0], &side[1]) && !is_lost_in_own_pen(g, &side[1], &side[0]))
        return -1;
    const int cut =
        is_tone(&side[0]) && (!is_tone(&side[1]) || side[0].paint.l < side[1].paint.l) ? 0 : 1;
    return dt_look_is_worth_a_gap(g->c->t->appear, side[cut].paint, side[1 - cut].paint,
                                  dt_compose_tip(g->c->t))
               ? cut
               : -1;
}

/* Marks the pens of a tone that are no lighter than what they would hide. FALSE: all of its ink is cut back, since what
 * the others leave would not show as a gap. */
static gboolean choose_pens(const DtToneGaps *g, const EdgeSide *beside, const EdgeSide *tone,
                            gboolean *cut)
{
    const int own = main_pen(beside);
    double share[DT_PENS_OF_PICTURE] = {0}, light[3], left_over = 0;
    for (unsigned i = 0; i < tone->n; i++) {
        cut[i] = own < 0 || lightness_of(g, tone->pen[i]) <= lightness_of(g, own) + LIGHTER;
        share[i] = cut[i] ? 0 : tone->share[i];
        left_over = MAX(left_over, share[i]);
    }
    dt_appear_light_of_many(g->c->t->appear, tone->pen, share, tone->n, light);
    const DtLab left = dt_colour_lab_linear(light[0], light[1], light[2]);
    return left_over >= DT_RECIPE_LEAST && dt_colour_difference(left, beside->ink) >= GAP_SHOWS &&
           dt_colour_difference(left, tone->ink) >= GAP_SHOWS;
}

static void add_gap(const DtToneGaps *g, int place, const EdgeSide *beside, const EdgeSide *tone,
                    const DtPoint ends[2])
{
    gboolean cut[DT_PENS_OF_PICTURE];
    if (!choose_pens(g, beside, tone, cut)) {
        dt_lines_append(edges_of(g, (guint)place, -1, is_tone(beside)), ends, 2, FALSE);
        return;
    }
    for (unsigned i = 0; i < tone->n; i++)
        if (cut[i])
            dt_lines_append(edges_of(g, (guint)place, tone->pen[i], is_tone(beside)), ends, 2,
                            FALSE);
}

static void look_at(const DtToneGaps *g, const DtPartEdge *e, DtPoint a, DtPoint b)
{
    const DtPoint ends[2] = {a, b}, at = dt_point_lerp(a, b, 0.5),
                  way = dt_point_scale(dt_point_sub(b, a), 1 / dt_point_distance(a, b));
    const int part[2] = {e->left, e->right};
    EdgeSide side[2];
    for (int k = 0; k < 2; k++)
        if (!find_side(g, part[k], at, way, k == 0, &side[k]))
            return;
    if (dt_colour_difference(side[0].paint, side[1].paint) < TONE_APART)
        return;
    int place[2];
    for (int k = 0; k < 2; k++)
        place[k] = g->place_of[g->c->area_of[part[k]]];
    for (int k = 0; k < 2; k++)
        if (is_swallowed(g, &side[k], &side[1 - k])) {
            add_gap(g, place[1 - k], &side[k], &side[1 - k], ends);
            return;
        }
    const int cut = merged_side(g, side);
    if (cut >= 0)
        add_gap(g, place[cut], &side[1 - cut], &side[cut], ends);
}

void dt_tone_gaps_add(const DtToneGaps *g, const DtPartEdge *e)
{
    const double length = dt_point_distance(e->a, e->b);
    if (!(length > 0) || (!dt_compose_area(g->c, g->c->area_of[e->left])->fixed &&
                          !dt_compose_area(g->c, g->c->area_of[e->right])->fixed))
        return;
    const int n = MAX(1, (int)(length / DT_LOOK_THIN_STEP));
    for (int i = 0; i < n; i++)
        look_at(g, e, dt_point_lerp(e->a, e->b, (double)i / n),
                dt_point_lerp(e->a, e->b, (i + 1.0) / n));
}

/* The ink of a tone reaches half a tip beyond its own edge, too. A gap in all of the ink is not widened for that: it would
 * be wide, and the eye sees bare paper better than a paler ink. */
static gboolean cut_band(const DtToneGaps *g, guint place, int pen, gboolean from_tone,
                         DtLines *cut, GError **error)
{
    const double tip = dt_compose_tip(g->c->t), overlap = dt_compose_overlap(g->c, place),
                 width =
                     2 * DT_LOOK_GAP_TIPS * tip + overlap + (from_tone && pen >= 0 ? overlap : 0);
    return dt_outline_band(edges_of(g, place, pen, from_tone), width, DT_CAP_ROUND, width / 20, cut,
                           error);
}

gboolean dt_tone_gaps_cut(const DtToneGaps *g, GError **error)
{
    for (guint i = 0; i < g->c->t->inks->len; i++) {
        DtInkPlace *p = dt_trace_place(g->c->t, i);
        for (int pen = -1; pen < (int)g->c->t->rack->n; pen++)
            for (int from_tone = 0; from_tone <= 1; from_tone++)
                if (edges_of(g, i, pen, from_tone)->n > 0 &&
                    !cut_band(g, i, pen, from_tone, pen < 0 ? &p->cut : dt_trace_pen_cut(p, pen),
                              error))
                    return FALSE;
    }
    return TRUE;
}
