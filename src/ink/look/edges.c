/* edges: lines and bare gaps along the edges of areas. */
#include "ink/look/chains.h"
#include "ink/look/compose.h"
#include "ink/look/tone-gaps.h"
#include "ink/outline.h"

/* An open hatch has a line along its edge where the neighbour is bare paper, or lighter by this much: without it a
 * light shape shows only as ends of lines. */
#define LIGHTER 3.0

static gboolean is_gap(const DtCompose *c, int a, int b)
{
    for (guint i = 0; i < c->gaps->len; i++) {
        const DtPartBorder *g = &g_array_index(c->gaps, DtPartBorder, i);
        if ((g->a == a && g->b == b) || (g->a == b && g->b == a))
            return TRUE;
    }
    return FALSE;
}

/* Whether an area has a line along its edge toward another (-1: the bare paper). */
static gboolean has_edge_toward(const DtCompose *c, int area, int other)
{
    if (area < 0 || dt_compose_area(c, area)->fixed)
        return FALSE;
    const DtLookArea *a = dt_compose_area(c, area);
    DtRecipe beside = other < 0 ? DT_RECIPE_PAPER : dt_compose_area(c, other)->recipe;
    if (other >= 0 && dt_compose_area(c, other)->fixed)
        return FALSE;
    if (a->recipe.pen[0] < 0)
        return a->outline >= 0 && !a->narrow && beside.pen[0] < 0;
    if (!c->t->o->edge || (a->recipe.share[0] >= 1 && a->recipe.pen[1] < 0))
        return FALSE;
    return beside.pen[0] < 0 || dt_appear_lab(c->t->appear, beside).l >
                                    dt_appear_lab(c->t->appear, a->recipe).l + LIGHTER;
}

/* A gradient has a line along its edge where its first pen covers at least this share of it and what is beside it is
 * lighter: by so much more if that is a gradient too, since layers over one cut it into parts. */
#define LEAST_TONE 0.12
#define TONES_APART 15.0

static gboolean has_tone_edge(const DtCompose *c, const DtPartEdge *e, int part, int other,
                              const int *place_of)
{
    const int area = c->area_of[part];
    if (!c->t->o->edge || !dt_compose_area(c, area)->fixed)
        return FALSE;
    const DtSeenPaint *p = dt_compose_paint(c, dt_compose_part(c, (guint)part)->label);
    DtSeparation *s = dt_trace_place(c->t, (guint)place_of[area])->separation;
    if (!s || p->picture || p->texture)
        return FALSE;
    const gboolean tone_beside = other >= 0 && dt_compose_area(c, c->area_of[other])->fixed;
    const DtPoint at = dt_point_lerp(e->a, e->b, 0.5);
    const DtColour seen =
        dt_colour_over(dt_paint_layers_seen_at(c->t->layers, p->label, at).colour, c->t->o->paper);
    return dt_separation_n_pens(s) > 0 && dt_separation_share(s, 0, seen) >= LEAST_TONE &&
           dt_compose_paint_at(c, other, at).l >
               dt_colour_lab(seen).l + (tone_beside ? TONES_APART : LIGHTER);
}

gboolean dt_compose_is_lighter_beside(const DtCompose *c, const DtPartEdge *e, int part, int other)
{
    const DtLookArea *a = dt_compose_area(c, c->area_of[part]);
    const gboolean bare = a->recipe.pen[0] < 0,
                   open = bare ? a->outline >= 0 : a->recipe.share[0] < 1;
    if (a->fixed || !open)
        return FALSE;
    const DtLab beside = dt_compose_paint_at(c, other, dt_point_lerp(e->a, e->b, 0.5));
    return beside.l > a->lab.l + LIGHTER ||
           ((!bare || a->narrow) && beside.l > a->lab.l - LIGHTER &&
            dt_colour_difference(beside, a->lab) >= DT_LOOK_APART_IN_ART);
}

/* Whether a part has an edge toward another; `middle`: that one is drawn along its middle there. */
static gboolean has_part_edge(const DtCompose *c, gboolean middle, int part, int other)
{
    return part >= 0 && !(other >= 0 && middle) &&
           has_edge_toward(c, c->area_of[part], other < 0 ? -1 : c->area_of[other]);
}

static void add_stretch(DtLines *l, DtPoint a, DtPoint b)
{
    DtPoint p[2] = {a, b};
    dt_lines_append(l, p, 2, FALSE);
}

static gboolean stroke_area(const DtLines *lines, double width, DtLines *out, GError **error)
{
    return dt_outline_band(lines, width, DT_CAP_ROUND, width / 20, out, error);
}

/* Records an edge along which the paper stays bare: half of the gap on either side, or all of it
 * on the other side if one is narrow. */
static void add_gap(const DtCompose *c, const DtPartEdge *e, const int *side, const int *place_of,
                    DtLines *shared, DtLines *one_sided, gboolean *has_gap)
{
    gboolean narrow[2] = {dt_compose_area(c, side[0])->narrow, dt_compose_area(c, side[1])->narrow};
    if (!narrow[0] && !narrow[1]) {
        add_stretch(shared, e->a, e->b);
        has_gap[place_of[side[0]]] = has_gap[place_of[side[1]]] = TRUE;
    } else if (!narrow[0] || !narrow[1]) {
        add_stretch(&one_sided[place_of[side[narrow[0] ? 1 : 0]]], e->a, e->b);
    }
}

double dt_compose_overlap(const DtCompose *c, guint place)
{
    const gboolean tones = dt_trace_place(c->t, place)->separation && c->t->tones.n > 0;
    return tones ? dt_compose_tip(c->t) : 0;
}

static gboolean cut_gaps(DtCompose *c, const DtLines *shared, const DtLines *one_sided,
                         const gboolean *has_gap, GError **error)
{
    double tip = dt_compose_tip(c->t);
    g_auto(DtLines) area;
    dt_lines_init(&area);
    if (shared->n > 0 && !stroke_area(shared, DT_LOOK_GAP_TIPS * tip, &area, error))
        return FALSE;
    for (guint i = 0; i < c->t->inks->len; i++) {
        DtLines *cut = &dt_trace_place(c->t, i)->cut;
        if (has_gap[i])
            dt_lines_append_lines(cut, &area);
        if (one_sided[i].n > 0 &&
            !stroke_area(&one_sided[i], 2 * DT_LOOK_GAP_TIPS * tip + dt_compose_overlap(c, i), cut,
                         error))
            return FALSE;
    }
    return TRUE;
}

gboolean dt_compose_edges(DtCompose *c, const int *place_of, GError **error)
{
    g_auto(DtLines) shared;
    dt_lines_init(&shared);
    guint n = c->t->inks->len;
    DtLines *one_sided = g_new0(DtLines, n + 1);
    g_autofree gboolean *has_gap = g_new0(gboolean, n + 1);
    g_autofree uint8_t *middle = dt_compose_find_middles(c);
    g_autoptr(DtToneGaps) tone_gaps = dt_tone_gaps_new(c, place_of);
    for (guint i = 0; i < c->edges->len; i++) {
        const DtPartEdge *e = &g_array_index(c->edges, DtPartEdge, i);
        if (e->left == e->right)
            continue;
        const int part[2] = {e->left, e->right};
        int side[2] = {e->left < 0 ? -1 : c->area_of[e->left],
                       e->right < 0 ? -1 : c->area_of[e->right]};
        for (int k = 0; k < 2; k++) {
            if (side[k] < 0 || place_of[side[k]] < 0)
                continue;
            DtInkPlace *p = dt_trace_place(c->t, (guint)place_of[side[k]]);
            const gboolean of_tone = has_tone_edge(c, e, part[k], part[1 - k], place_of);
            if (of_tone || has_part_edge(c, middle[i] >> (1 - k) & 1, part[k], part[1 - k]))
                add_stretch(&p->along, e->a, e->b);
            if (of_tone || (dt_compose_is_lighter_beside(c, e, part[k], part[1 - k]) &&
                            !(dt_compose_is_bare_line(c, part[k]) &&
                              has_part_edge(c, middle[i] >> k & 1, part[1 - k], part[k]))))
                add_stretch(&p->lighter, e->a, e->b);
        }
        if (side[0] < 0 || side[1] < 0 || place_of[side[0]] < 0 || place_of[side[1]] < 0)
            continue;
        dt_tone_gaps_add(tone_gaps, e);
        if (c->gaps->len > 0 && is_gap(c, side[0], side[1]))
            add_gap(c, e, side, place_of, &shared, one_sided, has_gap);
    }
    for (guint i = 0; i < n; i++)
        dt_chain_stretches(&dt_trace_place(c->t, i)->along);
    gboolean good =
        cut_gaps(c, &shared, one_sided, has_gap, error) && dt_tone_gaps_cut(tone_gaps, error);
    for (guint i = 0; i < n; i++)
        dt_lines_clear(&one_sided[i]);
    g_free(one_sided);
    return good;
}
