/* draw: strokes for an ink's areas: one hatch, one across the other, or a hatch that varies with
 * the paint. */
#include "ink/trace.h"

#include "drawtrue/work.h"
#include "ink/fill/centre.h"
#include "ink/fill/fill.h"
#include "ink/fill/groups.h"
#include "ink/look/cells.h"
#include "ink/look/parts.h"
#include "ink/picture/flow.h"
#include "ink/picture/stipple.h"

#include <math.h>

/* Pens of a picture hatch in directions this far apart. */
#define PICTURE_ANGLE (G_PI / 3)

typedef struct {
    const DtTrace *t;
    DtSeparation *separation;
    int label;
    unsigned pen;           /* of the separation */
    gboolean even;          /* lines of one direction, in steps where the tone changes slowly */
    const DtGroups *groups; /* of its pieces, if there are lines along the edge; owned elsewhere */
    double *kept;           /* share of its ink, 0 to 1, in each of them: the line takes the rest */
    double kept_here;       /* in the piece that is drawn */
} Tone;

static void enter_piece(const DtLines *piece, void *user)
{
    Tone *tone = user;
    if (tone->groups && piece->n > 0)
        tone->kept_here = tone->kept[dt_groups_at(tone->groups, dt_lines_at(piece, 0)[0])];
}

static double share_at(DtPoint at, void *user)
{
    const Tone *tone = user;
    DtColour c = dt_paint_layers_seen_at(tone->t->layers, tone->label, at).colour;
    return tone->kept_here *
           dt_separation_share(tone->separation, tone->pen, dt_colour_over(c, tone->t->o->paper));
}

static DtFillStyle style_for(const DtTrace *t, int pen, double angle, double coverage)
{
    double tip = t->rack->pens[pen].tip;
    return (DtFillStyle){.hatch = t->o->hatch,
                         .angle = angle,
                         .pitch = (t->o->pitch > 0 ? t->o->pitch : tip) *
                                  (coverage < 1 ? 1 : t->o->spread),
                         .tip = tip,
                         .pen = (unsigned)pen,
                         .shape = -1,
                         .edge = t->o->edge,
                         .coverage = coverage < 1 ? coverage / t->o->spread : 1,
                         .thin_bare = coverage < 1,
                         .seconds = t->o->seconds,
                         .seconds_user = t->o->seconds_user};
}

static void append(const DtLines *l, DtInkKind kind, int pen, DtStrokes *out)
{
    for (size_t i = 0; i < l->n; i++)
        dt_strokes_append(out, dt_lines_at(l, i), dt_lines_count(l, i), l->closed[i] != 0, kind,
                          (unsigned)pen, -1);
}

/* For crossed lines, the second direction starts at the first of these shares of the total, and
 * equals the first from the other on: light tones have fine lines in one direction. Since the
 * two cover independently, 1 - (1 - a)(1 - b) is covered (Demichel 1924). */
#define SECOND_FROM 0.12
#define SECOND_FULL 0.35
/* From this share on an area is solid: where it is for so many tips around, the first direction covers it alone. Nearer
 * to the border lines in both meet it more exactly. */
#define SOLID_SHARE 0.997
#define SOLID_REACH_TIPS 6

static double second_share(double all)
{
    double t = CLAMP((all - SECOND_FROM) / (SECOND_FULL - SECOND_FROM), 0, 1);
    return t * t * (3 - 2 * t) * dt_fill_share_of_each(all);
}

static gboolean is_solid_around(DtPoint at, Tone *tone)
{
    const int pen = dt_separation_pen(tone->separation, tone->pen);
    const double d = SOLID_REACH_TIPS * tone->t->rack->pens[pen].tip;
    return share_at((DtPoint){at.x - d, at.y}, tone) >= SOLID_SHARE &&
           share_at((DtPoint){at.x + d, at.y}, tone) >= SOLID_SHARE &&
           share_at((DtPoint){at.x, at.y - d}, tone) >= SOLID_SHARE &&
           share_at((DtPoint){at.x, at.y + d}, tone) >= SOLID_SHARE;
}

static double crossed_second(DtPoint at, void *user)
{
    const double all = share_at(at, user);
    return all >= SOLID_SHARE && is_solid_around(at, user) ? 0 : second_share(all);
}

static double crossed_first(DtPoint at, void *user)
{
    double all = share_at(at, user), second = second_share(all);
    return second >= 1 ? 1 : 1 - (1 - all) / (1 - second);
}

/* Where the centre of a pen that draws tones may go: what changes from place to place is often
 * cut into parts by layers over it, and no seam between them must be visible. */
static gboolean tones_inset(DtTrace *t, double tip, const DtLines **out, GError **error)
{
    *out = t->tones.n > 0 ? &t->tones_inset : NULL;
    if (t->tones.n == 0 || t->tones_tip == tip)
        return TRUE;
    dt_lines_clear(&t->tones_inset);
    t->tones_tip = tip;
    return dt_region_inset(&t->tones, tip / 2, &t->tones_inset, error);
}

static gboolean hatch_tone(DtTrace *t, Tone *tone, int pen, DtToneFunc share, double angle,
                           const DtLines *region, GError **error)
{
    DtFillStyle f = style_for(t, pen, angle, 0);
    f.tone = share;
    f.tone_user = tone;
    f.enter_piece = enter_piece;
    f.even = tone->even;
    f.spread = t->o->spread;
    f.pitch *= f.spread;
    if (!tones_inset(t, f.tip, &f.within, error))
        return FALSE;
    return dt_fill_area(region, &f, t->out, error);
}

/* Places at which a tone is sampled for its mean. */
#define MEAN_MOST 100000
/* A gradient's hatch keeps at least this much of its ink. */
#define LEAST_KEPT 0.3

/* Steps of a picture's grid, tips, and rounds of relaxation. Points settle on the places of their grid: on a coarse
 * one they stay farther from the even spacing that covers most with fewest. */
#define GRID_TIPS 0.25
#define POINT_GRID_TIPS 0.125
#define GRID_MOST 4000000
enum { ROUNDS = 24 };

static gboolean uses_points(const DtTrace *t)
{
    return t->o->picture == DT_PICTURE_STIPPLE || t->o->picture == DT_PICTURE_TOUR;
}

static DtPointsUse use_of_points(const DtTrace *t)
{
    return t->o->picture == DT_PICTURE_TOUR ? DT_POINTS_TOUR : DT_POINTS_DOTS;
}

static void draw_points(DtTrace *t, const DtShareGrid *g, int pen, size_t n)
{
    const DtPointsUse use = use_of_points(t);
    g_autofree DtPoint *p =
        dt_stipple_points(g, n, t->rack->pens[pen].tip * t->o->spread, use, ROUNDS, NULL);
    for (size_t i = 0; i < n; i++) {
        DtPoint dot[2] = {p[i], {p[i].x + 0.01, p[i].y}};
        dt_strokes_append(t->out, dot, 2, FALSE, use == DT_POINTS_TOUR ? DT_INK_TOUR : DT_INK_DOT,
                          (unsigned)pen, -1);
    }
}

static void draw_flow(Tone *tone, const DtLines *region, const DtShareGrid *g, double wide,
                      double angle, DtLines *out)
{
    g_auto(DtShareGrid) whole = {0};
    dt_share_grid_make(region, share_at, tone, wide * GRID_TIPS, GRID_MOST, &whole);
    dt_flow_lines(g, &whole, wide, angle, out);
}

/* The shares of a tone where the pen's centre may go. */
static gboolean make_grid(DtTrace *t, Tone *tone, int pen, const DtLines *region, DtShareGrid *g,
                          GError **error)
{
    const double tip = t->rack->pens[pen].tip;
    g_auto(DtLines) inset;
    dt_lines_init(&inset);
    const DtLines *within;
    if (!tones_inset(t, tip, &within, error) ||
        !(within ? dt_region_intersect(region, DT_PLANE_NONZERO, within, &inset, error)
                 : dt_region_inset(region, tip / 2, &inset, error)))
        return FALSE;
    dt_share_grid_make(&inset, share_at, tone,
                       tip * t->o->spread * (uses_points(t) ? POINT_GRID_TIPS : GRID_TIPS),
                       GRID_MOST, g);
    return TRUE;
}

/* What is drawn in points, whose number is shared out once all that want some are known. */
struct DtPointed {
    Tone tone;
    int pen;
    DtLines region;
    size_t wanted;
};

static void pointed_free(gpointer user)
{
    struct DtPointed *p = user;
    dt_lines_clear(&p->region);
    g_free(p);
}

static void put_off(DtTrace *t, const Tone *tone, int pen, const DtLines *region, size_t wanted)
{
    struct DtPointed *p = g_new0(struct DtPointed, 1);
    p->tone = *tone;
    p->pen = pen;
    dt_lines_copy(&p->region, region);
    p->wanted = wanted;
    if (!t->pointed)
        t->pointed = g_ptr_array_new_with_free_func(pointed_free);
    g_ptr_array_add(t->pointed, p);
    t->points_wanted += wanted;
}

gboolean dt_look_draw_points(DtTrace *t, GError **error)
{
    const size_t most = t->points_wanted > t->o->points ? t->o->points : t->points_wanted;
    size_t before = 0;
    for (guint i = 0; t->pointed && i < t->pointed->len; i++) {
        struct DtPointed *p = g_ptr_array_index(t->pointed, i);
        g_auto(DtShareGrid) g = {0};
        /* so that all together are as many as allowed */
        const double per = (double)most / (double)MAX(t->points_wanted, (size_t)1);
        const size_t first = (size_t)llround((double)before * per);
        before += p->wanted;
        if (!make_grid(t, &p->tone, p->pen, &p->region, &g, error))
            return FALSE;
        draw_points(t, &g, p->pen, (size_t)llround((double)before * per) - first);
        if (!dt_work_check(error))
            return FALSE;
    }
    return TRUE;
}

/* A method that works on a grid of shares. */
static gboolean draw_from_grid(DtTrace *t, Tone *tone, int pen, double angle, const DtLines *region,
                               GError **error)
{
    const double wide = t->rack->pens[pen].tip * t->o->spread;
    g_auto(DtLines) lines;
    g_auto(DtShareGrid) g = {0};
    dt_lines_init(&lines);
    if (!make_grid(t, tone, pen, region, &g, error))
        return FALSE;
    if (uses_points(t)) {
        const size_t n = dt_stipple_count(&g, wide, use_of_points(t));
        if (t->o->points > 0)
            put_off(t, tone, pen, region, n);
        else
            draw_points(t, &g, pen, n);
    } else if (t->o->picture == DT_PICTURE_FLOW) {
        draw_flow(tone, region, &g, wide, angle, &lines);
    } else {
        dt_contour_lines(&g, wide, &lines);
    }
    append(&lines, DT_INK_FILL, pen, t->out);
    return dt_work_check(error);
}

/* Ink of a tone, mm^2. */
static double tone_ink(const DtTrace *t, Tone *tone, int pen, const DtLines *region)
{
    g_auto(DtShareGrid) g = {0};
    double sum = 0;
    dt_share_grid_make(region, share_at, tone, t->rack->pens[pen].tip, MEAN_MOST, &g);
    for (int i = 0; i < g.w * g.h; i++)
        sum += g.share[i];
    return sum * g.step * g.step;
}

/* Adds to each group of pieces, for the strokes from number `first` on, `wide` mm: their ink, and how much of their
 * place the tone would ink anyway, mm^2. */
static void add_stroke_ink(const DtTrace *t, Tone *tone, size_t first, double wide, double *all,
                           double *toned)
{
    for (size_t i = first; i < t->out->n; i++) {
        const DtStroke *s = &t->out->strokes[i];
        const DtPoint *p = &t->out->pts[s->first];
        const size_t group = dt_groups_at(tone->groups, p[0]);
        for (size_t k = 0; k + (s->closed ? 0 : 1) < s->n; k++) {
            const DtPoint next = p[(k + 1) % s->n];
            const double ink = dt_point_distance(p[k], next) * wide;
            all[group] += ink;
            toned[group] += ink * share_at(dt_point_lerp(p[k], next, 0.5), tone);
        }
    }
}

/* The line along the edge of a gradient, or along the middle of what is narrower than the tip, in its first pen. The
 * hatch of each group of pieces is thinned in return. */
static gboolean draw_tone_edge(DtTrace *t, const DtInkPlace *p, Tone *tone, int pen,
                               const DtLines *region, GError **error)
{
    DtFillStyle f = style_for(t, pen, t->o->angle, 0);
    f.along = &p->along;
    f.lighter = &p->lighter;
    const size_t first = t->out->n, n = dt_groups_n(tone->groups);
    if (!dt_fill_area(region, &f, t->out, error))
        return FALSE;
    g_autofree double *edge = g_new0(double, n + 1);
    g_autofree double *toned = g_new0(double, n + 1);
    add_stroke_ink(t, tone, first, f.tip * t->o->spread, edge, toned);
    for (size_t i = 0; i < n; i++) {
        const DtLines *group = dt_groups_region(tone->groups, i);
        const double all = edge[i] > 0 ? tone_ink(t, tone, pen, group) : 0;
        const double kept =
            all > toned[i] ? CLAMP((all - edge[i]) / (all - toned[i]), LEAST_KEPT, 1) : 1;
        tone->kept[i] = 1 - (1 - kept) * dt_fill_share_for_edge(dt_region_area(group),
                                                                edge[i] / (f.tip * t->o->spread));
    }
    return dt_work_check(error);
}

/* Whether tones are hatched. */
static gboolean is_hatched(const DtTrace *t)
{
    return t->o->picture == DT_PICTURE_CROSSED || t->o->picture == DT_PICTURE_HATCH;
}

/* Gradients are hatched, unless a method without hatching was requested. */
static gboolean draw_pen_of_tone(DtTrace *t, const DtInkPlace *p, Tone *tone, const DtLines *region,
                                 GError **error)
{
    const gboolean crossed = t->o->hatch == DT_HATCH_CROSSED ||
                             (p->picture && t->o->picture == DT_PICTURE_CROSSED),
                   hatched = is_hatched(t);
    const int pen = dt_separation_pen(p->separation, tone->pen);
    const double angle = t->o->angle + tone->pen * (crossed ? PICTURE_ANGLE / 2 : PICTURE_ANGLE);
    if (tone->groups && !draw_tone_edge(t, p, tone, pen, region, error))
        return FALSE;
    return !hatched  ? draw_from_grid(t, tone, pen, angle, region, error)
           : crossed ? hatch_tone(t, tone, pen, crossed_first, angle, region, error) &&
                           hatch_tone(t, tone, pen, crossed_second, angle + G_PI / 2, region, error)
                     : hatch_tone(t, tone, pen, share_at, angle, region, error);
}

static gboolean draw_tone(DtTrace *t, const DtInkPlace *p, const DtLines *region, GError **error)
{
    for (unsigned i = 0; i < dt_separation_n_pens(p->separation); i++) {
        const int pen = dt_separation_pen(p->separation, i);
        const DtLines *own = region;
        g_auto(DtLines) left;
        g_autoptr(DtGroups) groups = NULL;
        g_autofree double *kept = NULL;
        dt_lines_init(&left);
        if (!dt_trace_subtract_pen_cut(p, pen, &own, &left, error))
            return FALSE;
        if (i == 0 && is_hatched(t) && p->along.n > 0) {
            groups = dt_groups_new(own, DT_FILL_GROUP_TIPS * t->rack->pens[p->ink.pen].tip);
            kept = g_new0(double, dt_groups_n(groups) + 1);
        }
        Tone tone = {t,
                     p->separation,
                     p->ink.label,
                     i,
                     dt_look_tone_way(t, p->picture) == DT_TONE_EVEN,
                     groups,
                     kept,
                     1};
        if (!draw_pen_of_tone(t, p, &tone, own, error))
            return FALSE;
    }
    return TRUE;
}

/* One line along the middle of parts that are narrow. */
static gboolean draw_middle(DtTrace *t, int pen, const DtLines *region, GError **error)
{
    g_auto(DtLines) none, middle;
    dt_lines_init(&none);
    dt_lines_init(&middle);
    double widest = DT_LOOK_NARROW_TIPS * t->rack->pens[pen].tip;
    if (!dt_centre_lines(region, &none, widest / 2, &middle, error))
        return FALSE;
    append(&middle, DT_INK_CENTRE, pen, t->out);
    return TRUE;
}

/* Lines shorter than this many tips are left out: the pen is that wide. */
#define LEAST_LINE_TIPS 1.0

/* The pieces of narrow parts are looked at by their width, in steps of this many tips. */
#define WIDTH_STEP 0.5

/* Places on an edge are looked at in steps of this, mm. */
#define EDGE_STEP 0.5
/* Share of the reach of dark edges within which a piece's middle lies in any case. */
#define SURE 0.75

static DtCells *cells_along(const DtLines *lines)
{
    DtCells *cells = dt_cells_new(EDGE_STEP / 2 + 2 * DT_FILL_SAME_EDGE);
    for (size_t i = 0; i < lines->n && !dt_work_stopped(); i++) {
        const DtPoint *p = dt_lines_at(lines, i);
        const size_t n = dt_lines_count(lines, i);
        for (size_t k = 0; k + (lines->closed[i] ? 0 : 1) < n; k++)
            dt_cells_add(cells, p[k], p[(k + 1) % n], i);
    }
    return cells;
}

/* Whether two straight lines come as near as edges that count as the same, or cross. */
static gboolean are_near(DtPoint a, DtPoint b, DtPoint c, DtPoint d)
{
    const DtPoint ab = dt_point_sub(b, a), cd = dt_point_sub(d, c);
    const gboolean cross =
        dt_point_cross(ab, dt_point_sub(c, a)) * dt_point_cross(ab, dt_point_sub(d, a)) <= 0 &&
        dt_point_cross(cd, dt_point_sub(a, c)) * dt_point_cross(cd, dt_point_sub(b, c)) <= 0;
    const double least = 1.1 * DT_FILL_SAME_EDGE; /* a little more than the band along an edge */
    return cross || dt_point_segment_distance(a, c, d) <= least ||
           dt_point_segment_distance(b, c, d) <= least ||
           dt_point_segment_distance(c, a, b) <= least ||
           dt_point_segment_distance(d, a, b) <= least;
}

static gboolean is_near_one(const DtCells *cells, DtPoint at, DtPoint a, DtPoint b)
{
    const GArray *near = dt_cells_near(cells, at);
    for (guint i = 0; near && i < near->len; i++) {
        const DtCellStretch *s = &g_array_index(near, DtCellStretch, i);
        if (are_near(a, b, s->a, s->b))
            return TRUE;
    }
    return FALSE;
}

static gboolean may_run_along(const DtCells *cells, const DtLines *rings)
{
    for (size_t i = 0; i < rings->n; i++) {
        const DtPoint *p = dt_lines_at(rings, i);
        const size_t n = dt_lines_count(rings, i);
        for (size_t k = 0; k < n; k++) {
            const DtPoint a = p[k], b = p[(k + 1) % n];
            const int steps = (int)ceil(dt_point_distance(a, b) / EDGE_STEP);
            for (int s = 0; s <= steps; s++)
                if (is_near_one(cells, dt_point_lerp(a, b, (double)s / MAX(steps, 1)), a, b))
                    return TRUE;
        }
    }
    return FALSE;
}

/* Those pieces that are up to `width` mm wide, and wider than `above`. Those that may have a line go to `lined`, too:
 * what is so narrow that dark edges reach all of it needs a lighter edge. */
static void add_pieces(const GArray *pieces, double above, double width, const DtThinLines *thin,
                       const DtCells *lighter, DtLines *all, DtLines *lined)
{
    for (guint i = 0; i < pieces->len && !dt_work_stopped(); i++) {
        const DtPart *p = &g_array_index(pieces, DtPart, i);
        if (!(p->width > above && p->width <= width))
            continue;
        dt_lines_append_lines(all, &p->rings);
        if (p->width > SURE * dt_fill_dark_reach(thin) || may_run_along(lighter, &p->rings))
            dt_lines_append_lines(lined, &p->rings);
    }
}

/* Narrow parts that are left bare: one line along their middle where the artwork is lighter on both sides. */
static gboolean draw_on_lighter(DtTrace *t, const DtInkPlace *p, const DtLines *region,
                                GError **error)
{
    const double tip = t->rack->pens[p->ink.pen].tip;
    g_autoptr(GArray) pieces = g_array_new(FALSE, FALSE, sizeof(DtPart));
    g_autoptr(DtCells) lighter = cells_along(&p->lighter);
    g_array_set_clear_func(pieces, dt_part_clear);
    if (p->lighter.n > 0)
        dt_parts_add(pieces, 0, region);
    for (double tips = 1; tips <= DT_LOOK_NARROW_TIPS; tips += WIDTH_STEP) {
        const gboolean first = tips <= 1, last = tips >= DT_LOOK_NARROW_TIPS;
        g_auto(DtLines) all, lined, none, middle;
        const DtThinLines thin = {tip, tips * tip / 2, LEAST_LINE_TIPS * tip, &p->lighter, &all};
        dt_lines_init(&all);
        dt_lines_init(&lined);
        dt_lines_init(&none);
        dt_lines_init(&middle);
        add_pieces(pieces, first ? -1 : (tips - WIDTH_STEP) * tip, last ? G_MAXDOUBLE : tips * tip,
                   &thin, lighter, &all, &lined);
        if (lined.n > 0 && !dt_fill_thin_lines(&lined, &none, &thin, &middle, error))
            return FALSE;
        append(&middle, DT_INK_CENTRE, p->ink.pen, t->out);
    }
    return dt_work_check(error);
}

/* A line along the middle of a narrow part that is at least so many tips wide leaves edges that are seen. */
#define EDGED_TIPS 1.6

/* Narrow parts that a line along their middle shows by the bare edges that it leaves beside darker ink: where they are too
 * thin for that they are left bare. */
static gboolean draw_edged(DtTrace *t, const DtInkPlace *p, const DtLines *region, GError **error)
{
    const double width = EDGED_TIPS * t->rack->pens[p->ink.pen].tip;
    g_auto(DtLines) grown, wide, thin;
    dt_lines_init(&grown);
    dt_lines_init(&wide);
    dt_lines_init(&thin);
    return dt_parts_find_wide(region, width, &grown, error) &&
           dt_region_intersect(region, DT_PLANE_NONZERO, &grown, &wide, error) &&
           dt_region_subtract(region, DT_PLANE_NONZERO, &grown, &thin, error) &&
           draw_middle(t, p->ink.pen, &wide, error) && draw_on_lighter(t, p, &thin, error);
}

static gboolean draw_narrow(DtTrace *t, const DtInkPlace *p, const DtLines *region, GError **error)
{
    if (p->ink.level == 0)
        return draw_on_lighter(t, p, region, error);
    return p->beside_lighter ? draw_middle(t, p->ink.pen, region, error)
                             : draw_edged(t, p, region, error);
}

static double share_of(int level)
{
    return (double)level / DT_TRACE_LEVELS;
}

/* Of two directions together (Demichel 1924). */
static double share_of_both(const DtInk *ink)
{
    return 1 - (1 - share_of(ink->level)) * (1 - share_of(ink->across_level));
}

/* Whether one pen's lines in two directions are drawn as the kind of hatch that was asked for: in one direction, or
 * crossed anyway. */
static gboolean is_drawn_as_one(const DtTrace *t, const DtInk *ink)
{
    return ink->across == ink->pen &&
           (t->o->hatch == DT_HATCH_LINES || t->o->hatch == DT_HATCH_CROSSED);
}

gboolean dt_look_draw(DtTrace *t, const DtInkPlace *p, const DtLines *region, GError **error)
{
    const DtInk *ink = &p->ink;
    if (p->separation)
        return draw_tone(t, p, region, error);
    if (ink->narrow && ink->level < DT_TRACE_LEVELS)
        return draw_narrow(t, p, region, error);
    double angle = t->o->angle + ink->turn * DT_LOOK_TURN_ANGLE;
    const gboolean as_one = is_drawn_as_one(t, ink);
    DtFillStyle f =
        style_for(t, ink->pen, angle, as_one ? share_of_both(ink) : share_of(ink->level));
    f.along = ink->level < DT_TRACE_LEVELS ? &p->along : NULL;
    f.lighter = ink->level < DT_TRACE_LEVELS ? &p->lighter : NULL;
    if (!dt_fill_area(region, &f, t->out, error))
        return FALSE;
    if (ink->across < 0 || as_one)
        return TRUE;
    f = style_for(t, ink->across, angle + G_PI / 2, share_of(ink->across_level));
    f.along =
        ink->across_level < DT_TRACE_LEVELS && ink->level == DT_TRACE_LEVELS ? &p->along : NULL;
    return dt_fill_area(region, &f, t->out, error);
}
