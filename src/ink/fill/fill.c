/* fill: ink for an area. The pen's middle stays half a tip inside the edge. */
#include "ink/fill/fill.h"

#include "drawtrue/work.h"
#include "ink/fill/centre.h"
#include "ink/fill/depth.h"
#include "ink/fill/fastest.h"
#include "ink/fill/fit.h"
#include "ink/fill/groups.h"
#include "ink/fill/runs.h"
#include "ink/fill/steps.h"
#include "ink/fill/sweep.h"
#include "ink/look/parts.h"
#include "ink/outline.h"
#include "ink/plane/clips.h"

#include <limits.h>
#include <math.h>

/* A join may be as long as the distance drawn in the time of a pen lift, about this many
 * pitches. */
#define JOIN_PITCHES 8
/* Ink that covers this share is solid. */
#define SOLID 0.98
/* Outlines are simplified to this (mm) first: many close points make an inset slow. */
#define FINE 0.004

static void append_lines(const DtLines *l, DtInkKind kind, const DtFillStyle *f, DtStrokes *out)
{
    for (size_t i = 0; i < l->n; i++)
        dt_strokes_append(out, dt_lines_at(l, i), dt_lines_count(l, i), l->closed[i] != 0, kind,
                          f->pen, f->shape);
}

static gboolean is_solid(const DtFillStyle *f)
{
    return !f->tone && f->coverage >= SOLID;
}

static gboolean joins_lines(const DtFillStyle *f)
{
    return f->hatch == DT_HATCH_SERPENTINE || f->hatch == DT_HATCH_FASTEST;
}

typedef struct {
    const DtFillStyle *f;
    DtLines *out;
} Hatcher;

/* A dense piece narrower than the pitch would become a row of dots: its edge is always drawn. */
static gboolean needs_edge(const DtLines *piece, const DtFillStyle *f)
{
    return is_solid(f) && !f->edge &&
           2 * dt_region_area(piece) < f->pitch * dt_lines_total_length(piece);
}

/* Whether the line along the edge inks the whole piece by itself, so that a hatch would ink it
 * twice: no point of it is farther than half a tip from its edge. Area over edge length is a
 * lower bound for that depth, which identifies wide pieces at once. */
static gboolean edge_is_enough(const DtLines *piece, const DtFillStyle *f)
{
    if (!is_solid(f) || !f->edge ||
        dt_region_area(piece) > f->tip / 2 * dt_lines_total_length(piece))
        return FALSE;
    const DtDepth deep = dt_depth_exceeds(piece, f->tip / 2);
    if (deep != DT_DEPTH_UNKNOWN)
        return deep == DT_DEPTH_LESS;
    g_auto(DtLines) deeper;
    dt_lines_init(&deeper);
    return dt_region_inset(piece, f->tip / 2, &deeper, NULL) && deeper.n == 0;
}

/* The runs of a hatch whose tone varies. Where two end side by side a join lies between their ink. */
static void draw_tone(const DtHatching *h, const DtLines *piece, const DtFillStyle *f, DtLines *out)
{
    g_auto(DtLines) runs;
    dt_lines_init(&runs);
    dt_fill_enter_piece(f, piece);
    dt_tone_thin(h, f->tone, f->tone_user, f->tip * MAX(f->spread, 1), &runs);
    if (dt_fill_joins_runs(f))
        dt_fill_join_runs(&runs, h->grid, h->band, f->tip, out);
    else
        dt_lines_append_lines(out, &runs);
}

/* Lines with gaps between them are not joined as they are, which would darken the edge. */
static void draw_piece(const DtHatching *h, const DtLines *piece, void *user)
{
    const Hatcher *to = user;
    const DtFillStyle *f = to->f;
    if (edge_is_enough(piece, f))
        return;
    if (needs_edge(piece, f))
        dt_lines_append_lines(to->out, piece);
    else if (f->tone)
        draw_tone(h, piece, f, to->out);
    else if (f->hatch == DT_HATCH_FASTEST && !is_solid(f))
        dt_hatch_meander(h, piece, JOIN_PITCHES * f->pitch, f->tip, to->out);
    else if (joins_lines(f) && (is_solid(f) || h->band.n > 1))
        dt_hatch_serpentine(h, piece, JOIN_PITCHES * f->pitch, to->out);
    else
        dt_hatch_plain(h, to->out);
}

/* Where lines are spaced the eye follows them from shape to shape, and where the tone varies the
 * lines of the sheet are thinned together: both keep to the sheet's grid. */
static DtHatchFit choose_fit(const DtFillStyle *f)
{
    if (f->tone || (is_solid(f) && f->pitch > f->tip))
        return DT_FIT_SHEET;
    return is_solid(f) ? DT_FIT_PITCH : f->lined > 0 ? DT_FIT_EVEN : DT_FIT_SHIFT;
}

static gboolean hatch_once(const DtLines *inset, const DtFillStyle *f, DtHatchGrid grid,
                           DtHatchBand band, DtLines *out, GError **error)
{
    Hatcher to = {f, out};
    return dt_hatch_pieces(inset, grid, band, choose_fit(f), draw_piece, &to, error);
}

/* Lines within a ring cover what is farther than this share of the pitch from its middle: a twentieth
 * less than half, since the ink may deviate from the planned line. */
#define BARE_FROM 0.45

/* Between the corners of two nested rings a spot stays farther than half a pitch from both. Half
 * of that angle's sine shows how far out the inner ring must reach to meet it; less than this
 * (mm) is not worth it. */
#define LEAST_SPIKE 0.01

/* Share of the way from a to b that lies before the first of the rings, 0 to 1. */
static double way_inside(const DtLines *rings, DtPoint a, DtPoint b)
{
    const DtPoint d = dt_point_sub(b, a);
    double least = 1;
    for (size_t i = 0; i < rings->n; i++) {
        const DtPoint *p = dt_lines_at(rings, i);
        const size_t n = dt_lines_count(rings, i);
        for (size_t k = 0; k < n; k++) {
            const DtPoint e = dt_point_sub(p[(k + 1) % n], p[k]), from = dt_point_sub(p[k], a);
            const double det = dt_point_cross(d, e);
            const double f = det != 0 ? dt_point_cross(from, e) / det : -1;
            const double g = det != 0 ? dt_point_cross(from, d) / det : -1;
            if (f >= 0 && f < least && g >= 0 && g <= 1)
                least = f;
        }
    }
    return least;
}

/* The point that closes the spot outside a ring's corner at b, which is on the left of its edges
 * where the area is; FALSE if there is none to close. At a corner so sharp that it lies beyond
 * the next rings outside, a pitch away, it ends at these. */
static gboolean find_spike(DtPoint a, DtPoint b, DtPoint c, double pitch, const DtLines *outside,
                           DtPoint *out)
{
    DtPoint in = dt_point_sub(b, a), on = dt_point_sub(c, b);
    double n_in = hypot(in.x, in.y), n_on = hypot(on.x, on.y);
    if (!(n_in > 0 && n_on > 0) || dt_point_cross(in, on) <= 0)
        return FALSE;
    in = dt_point_scale(in, 1 / n_in);
    on = dt_point_scale(on, 1 / n_on);
    DtPoint way = dt_point_sub(in, on);
    double length = hypot(way.x, way.y); /* 2 cos(half the corner's angle) */
    double half_sine = sqrt(MAX(0, 1 - length * length / 4));
    double reach = pitch / 2 * (1 / MAX(half_sine, 0.05) - 1);
    if (reach < LEAST_SPIKE)
        return FALSE;
    *out = dt_point_add(b, dt_point_scale(way, reach / length));
    if (reach >= pitch)
        *out = dt_point_lerp(b, *out, way_inside(outside, b, *out));
    return TRUE;
}

/* Appends rings drawn densely around one another, inside those `outside`. */
static void append_rings(const DtLines *rings, const DtLines *outside, double pitch, DtLines *out)
{
    for (size_t i = 0; i < rings->n; i++) {
        const DtPoint *p = dt_lines_at(rings, i);
        size_t n = dt_lines_count(rings, i);
        dt_lines_begin(out);
        for (size_t k = 0; k < n; k++) {
            DtPoint spike;
            dt_lines_point(out, p[k]);
            if (find_spike(p[(k + n - 1) % n], p[k], p[(k + 1) % n], pitch, outside, &spike)) {
                dt_lines_point(out, spike);
                dt_lines_point(out, p[k]);
            }
        }
        dt_lines_close(out);
    }
}

/* Rings, one inside the other, each a pitch from the last, `most` of them inside those in *last, which gets those that
 * have no ring inside. */
static gboolean ring_fill(DtLines *last, const DtFillStyle *f, unsigned most, DtLines *out,
                          GError **error)
{
    for (unsigned i = 0; i < most && last->n > 0; i++) {
        DtLines next;
        dt_lines_init(&next);
        if (!dt_region_inset(last, f->pitch, &next, error) ||
            !dt_centre_lines(last, &next, f->pitch, out, error)) {
            dt_lines_clear(&next);
            return FALSE;
        }
        if (f->pitch <= f->tip)
            append_rings(&next, last, f->pitch, out);
        else
            dt_lines_append_lines(out, &next);
        dt_lines_clear(last);
        *last = next;
    }
    return TRUE;
}

static double share_of_direction(const DtFillStyle *f)
{
    return f->hatch == DT_HATCH_CROSSED ? dt_fill_share_of_each(f->coverage) : f->coverage;
}

/* A hatch with gaps covers no more than this inside, even if its whole area is not quite covered as asked for: its
 * bands would be too wide. */
#define MOST_INSIDE 0.98

/* The share that lines cover inside if they cover one of the area around the inset: including their round
 * ends, but with nothing in the rest of the strip along the edge, half a tip wide, before which
 * the lines stop; except where a line along the edge inks both. */
static gboolean share_inside(const DtLines *inset, const DtFillStyle *f, double angle,
                             double *share, GError **error)
{
    const double area = dt_region_area(inset);
    g_auto(DtHatching) h = {0};
    if (!dt_hatch_lines(inset, DT_FILL_NONZERO, (DtHatchGrid){angle, f->tip / *share, 0}, &h,
                        error))
        return FALSE;
    if (h.n == 0 || !(area > 0))
        return TRUE;
    const double bare = 1 - f->lined, ends = bare * (double)h.n * G_PI / 4 * f->tip * f->tip,
                 strip = bare * dt_lines_total_length(inset) * f->tip / 2,
                 inside =
                     *share / CLAMP((area * *share + ends) / (*share * (area + strip)), 0.7, 1.3);
    const gboolean has_gaps = inside < 1 || dt_fill_lines_in_band(*share) > 1;
    *share = has_gaps ? MIN(inside, MAX(MOST_INSIDE, *share)) : inside;
    return TRUE;
}

static gboolean hatch_toned(const DtLines *inset, const DtFillStyle *f, double angle, DtLines *out,
                            GError **error)
{
    DtToneChange change;
    if (f->even && f->pitch <= f->tip * MAX(f->spread, 1) &&
        dt_fill_tone_change(inset, f, angle, &change) && dt_fill_is_slow_tone(&change))
        return dt_fill_changes_across(inset, f, angle, &change)
                   ? dt_fill_tone_across(inset, f, &change, out, error)
                   : dt_fill_tone_steps(inset, f, angle, &change, out, error);
    if (f->tone || is_solid(f))
        return hatch_once(inset, f, (DtHatchGrid){angle, f->pitch, 0}, DT_HATCH_SINGLE, out, error);
    double share = share_of_direction(f);
    if (!share_inside(inset, f, angle, &share, error))
        return FALSE;
    const DtHatchBand band = {dt_fill_lines_in_band(share), f->tip};
    return hatch_once(inset, f, (DtHatchGrid){angle, band.n * f->tip / share, 0}, band, out, error);
}

/* What `n` rings, at least one, and the lines inside them have to do, in what the ways share. */
static gboolean find_rings(const DtLines *piece, const DtFillStyle *f, unsigned n,
                           DtFillShared *shared, GError **error)
{
    DtFillRings *r = &shared->rings[n - 1];
    if (r->known)
        return TRUE;
    if (n > 1 && !find_rings(piece, f, n - 1, shared, error))
        return FALSE;
    dt_lines_copy(&r->rings, n > 1 ? &r[-1].rings : piece);
    dt_lines_copy(&r->last, n > 1 ? &r[-1].last : piece);
    r->known = TRUE;
    return n == 1 || ring_fill(&r->last, f, 1, &r->rings, error);
}

/* Lines that cover what the innermost rings leave bare. Where these touch it is hatched from ring to
 * ring. */
static gboolean sweep(DtFillRings *r, const DtFillStyle *f, DtLines *out, GError **error)
{
    gboolean done;
    if (!r->bare_known && !dt_region_inset(&r->last, BARE_FROM * f->pitch, &r->bare, error))
        return FALSE;
    r->bare_known = TRUE;
    return dt_fill_sweep(&r->bare, f->angle, f->pitch, JOIN_PITCHES * f->pitch, out, &done,
                         error) &&
           (done || hatch_once(&r->last, f, (DtHatchGrid){f->angle, f->pitch, 0}, DT_HATCH_SINGLE,
                               out, error));
}

static gboolean is_edge_enough(const DtLines *piece, const DtFillStyle *f, DtFillShared *shared)
{
    if (!shared->asked)
        shared->edge_is_enough = edge_is_enough(piece, f);
    shared->asked = TRUE;
    return shared->edge_is_enough;
}

/* The way for dt_fill_fastest(). */
static gboolean draw_way(const DtLines *piece, const DtFillStyle *f, unsigned n_rings,
                         DtFillShared *shared, DtLines *out, GError **error)
{
    if (is_edge_enough(piece, f, shared)) {
        dt_lines_append_lines(out, piece);
        return TRUE;
    }
    const unsigned n = MIN(n_rings, DT_FILL_MOST_RINGS);
    if (!find_rings(piece, f, n, shared, error))
        return FALSE;
    DtFillRings *r = &shared->rings[n - 1], all = {.known = FALSE};
    g_auto(DtLines) inside;
    dt_lines_init(&inside);
    if (n_rings > n) {
        dt_lines_copy(&all.rings, &r->rings);
        dt_lines_copy(&all.last, &r->last);
        r = &all;
    }
    const gboolean good =
        ring_fill(&r->last, f, n_rings - n, &r->rings, error) && sweep(r, f, &inside, error);
    if (good)
        dt_fill_chain_rings(&inside, &r->rings, f->pitch, out);
    dt_fill_rings_clear(&all);
    return good;
}

/* Spaced lines are visible, and so is their direction. */
static gboolean may_choose(const DtFillStyle *f)
{
    return f->hatch == DT_HATCH_FASTEST && f->seconds && is_solid(f) && f->edge &&
           f->pitch <= f->tip;
}

static gboolean fill_rings(const DtLines *inset, const DtFillStyle *f, DtLines *out, GError **error)
{
    g_auto(DtLines) last;
    dt_lines_copy(&last, inset);
    return ring_fill(&last, f, UINT_MAX, out, error);
}

static gboolean fill_inset(const DtLines *inset, const DtFillStyle *f, DtLines *out, GError **error)
{
    if (f->hatch == DT_HATCH_RINGS && is_solid(f))
        return fill_rings(inset, f, out, error);
    return hatch_toned(inset, f, f->angle, out, error) &&
           (f->hatch != DT_HATCH_CROSSED || f->tone ||
            hatch_toned(inset, f, f->angle + G_PI / 2, out, error));
}

/* Lines along edges are at least this many tips long: around a whole piece, along a part of an edge, and around a hole;
 * shorter ones would blot more than they show, and close small holes. */
enum { LEAST_LOOP_TIPS = 2, LEAST_EDGE_TIPS = 5, LEAST_HOLE_TIPS = 10 };
/* Least coverage of an open hatch that was thinned for its edge line. One that would cover less than LIGHT without
 * that line is left out instead: the line is enough. */
#define LEAST_LEFT 0.06
#define LIGHT 0.35
/* The eye blurs a line, from 2 m, with what is up to this far from it (mm, three standard deviations, see
 * appear-tables.h). */
#define EDGE_BLURS 2.1

static double least_edge_tips(const DtLines *l, size_t i)
{
    if (!l->closed[i])
        return LEAST_EDGE_TIPS;
    return dt_lines_area(l, i) > 0 ? LEAST_LOOP_TIPS : LEAST_HOLE_TIPS;
}

/* Those parts of the inset outline that run along given parts of the edge. */
static gboolean edge_along(const DtLines *inset, const DtFillStyle *f, DtLines *out, GError **error)
{
    g_auto(DtLines) band, cut;
    dt_lines_init(&band);
    dt_lines_copy(&cut, inset);
    if (!dt_outline_band(f->along, 1.3 * f->tip, DT_CAP_BUTT, f->tip / 10, &band, error) ||
        !dt_clips_mask_lines(&band, &cut, error))
        return FALSE;
    for (size_t i = 0; i < cut.n; i++)
        if (dt_lines_length(&cut, i) >= least_edge_tips(&cut, i) * f->tip)
            dt_lines_append(out, dt_lines_at(&cut, i), dt_lines_count(&cut, i), cut.closed[i] != 0);
    return TRUE;
}

/* Parts of an open hatch that are narrower than the tip are drawn if their middle is at least this many tips long: lines
 * of the artwork that begin at a field of their paint, and sharp corners. */
#define LEAST_THIN_TIPS 1
/* What is left of a thin part's middle beside dark ground is drawn if it is at least this many tips long: with the round
 * ends of the pen that is more than a tip. */
#define LEAST_END_TIPS 0.25
/* Factor between half the width of a part and the distance from its middle at which an edge is beside it. */
#define DARK_REACH 1.2

static gboolean add_band(const DtLines *lines, double width, DtLines *out, GError **error)
{
    return dt_outline_band(lines, width, DT_CAP_ROUND, width / 10, out, error);
}

static void add_long(const DtLines *lines, double least, DtLines *out)
{
    for (size_t i = 0; i < lines->n; i++)
        if (dt_lines_length(lines, i) >= least)
            dt_lines_append(out, dt_lines_at(lines, i), dt_lines_count(lines, i),
                            lines->closed[i] != 0);
}

double dt_fill_dark_reach(const DtThinLines *thin)
{
    return MAX(thin->tip, DARK_REACH * thin->by);
}

/* Those rings that come within `by` of a box. */
static void add_rings_near(const DtLines *rings, DtBox box, double by, DtLines *out)
{
    const DtBox reach = dt_box_grow(box, by);
    for (size_t i = 0; i < rings->n; i++) {
        const DtPoint *p = dt_lines_at(rings, i);
        DtBox own = DT_BOX_EMPTY;
        for (size_t k = 0; k < dt_lines_count(rings, i); k++)
            own = dt_box_add_point(own, p[k]);
        if (!dt_box_is_empty(dt_box_intersect(own, reach)))
            dt_lines_append(out, p, dt_lines_count(rings, i), TRUE);
    }
}

gboolean dt_fill_thin_lines(const DtLines *region, const DtLines *inset, const DtThinLines *thin,
                            DtLines *out, GError **error)
{
    g_auto(DtLines) all, middle, other, lighter, dark;
    const double reach = dt_fill_dark_reach(thin);
    dt_lines_init(&all);
    dt_lines_init(&middle);
    dt_lines_init(&other);
    dt_lines_init(&lighter);
    dt_lines_init(&dark);
    if (!dt_centre_lines(region, inset, thin->by, &all, error))
        return FALSE;
    add_long(&all, thin->least, &middle);
    if (middle.n == 0)
        return TRUE;
    add_rings_near(thin->edges, dt_lines_box(&middle), 2 * reach, &other);
    if (!add_band(thin->lighter, 2 * DT_FILL_SAME_EDGE, &lighter, error) ||
        !dt_clips_drop_lines(&lighter, &other, error) ||
        (other.n > 0 && (!add_band(&other, 2 * reach, &dark, error) ||
                         !dt_clips_drop_lines(&dark, &middle, error))))
        return FALSE;
    add_long(&middle, LEAST_END_TIPS * thin->tip, out);
    return TRUE;
}

/* The share of the area that the line is blurred with, once more by itself: a thinner hatch is right there, and too light in
 * the rest. */
double dt_fill_share_for_edge(double area, double edge)
{
    const double near = area > 0 ? MIN(edge * EDGE_BLURS / area, 1) : 1;
    return near * near;
}

/* What the hatch of an area still has to cover if a line of some length, mm, along its edge covers some of it. */
static double coverage_left(double area, double edge, const DtFillStyle *f)
{
    const double edge_area = edge * f->tip, left = area - edge_area;
    if (left <= 0)
        return 0;
    double share = (area * f->coverage - edge_area) / left;
    if (f->coverage < LIGHT && edge_area > 0 && share < LEAST_LEFT)
        return 0;
    share = f->coverage + (share - f->coverage) * dt_fill_share_for_edge(area, edge);
    return MAX(share, MIN(LEAST_LEFT, f->coverage));
}

/* An open hatch is thinned for the line along the edge of each group of its pieces by itself. */
static gboolean hatch_thinned(const DtLines *region, const DtLines *inset, const DtLines *edge,
                              const DtFillStyle *f, DtLines *out, GError **error)
{
    g_autoptr(DtGroups) groups = dt_groups_new(region, DT_FILL_GROUP_TIPS * f->tip);
    const size_t n = dt_groups_n(groups);
    g_autofree double *along = g_new0(double, n + 1);
    DtLines *inside = g_new0(DtLines, n + 1);
    gboolean good = TRUE;
    for (size_t i = 0; i < edge->n; i++)
        along[dt_groups_at(groups, dt_lines_at(edge, i)[0])] += dt_lines_length(edge, i);
    for (size_t i = 0; i < inset->n; i++)
        dt_lines_append(&inside[dt_groups_at(groups, dt_lines_at(inset, i)[0])],
                        dt_lines_at(inset, i), dt_lines_count(inset, i), TRUE);
    for (size_t i = 0; i < n && good; i++) {
        DtFillStyle own = *f;
        own.coverage = coverage_left(dt_region_area(dt_groups_region(groups, i)), along[i], f);
        own.lined = MIN(along[i] / MAX(dt_lines_total_length(&inside[i]), f->tip), 1);
        good = own.coverage <= 0 || fill_inset(&inside[i], &own, out, error);
    }
    for (size_t i = 0; i < n; i++)
        dt_lines_clear(&inside[i]);
    g_free(inside);
    return good;
}

static gboolean fill_inside(const DtLines *region, const DtLines *inset, const DtLines *edge,
                            const DtFillStyle *f, DtLines *out, GError **error)
{
    if (may_choose(f))
        return dt_fill_fastest(inset, f, draw_way, out, error);
    if (!f->tone && f->coverage <= 0)
        return TRUE;
    return f->along && edge->n > 0 ? hatch_thinned(region, inset, edge, f, out, error)
                                   : fill_inset(inset, f, out, error);
}

static gboolean fill_whole(const DtLines *region, const DtFillStyle *f, DtStrokes *out,
                           GError **error)
{
    g_auto(DtLines) outline, inset, lines, centres, edge;
    dt_lines_init(&outline);
    dt_lines_init(&inset);
    dt_lines_init(&lines);
    dt_lines_init(&centres);
    dt_lines_init(&edge);
    dt_region_simplify(region, FINE, &outline);
    if (!dt_work_check(error) ||
        !(f->within ? dt_region_intersect(&outline, DT_PLANE_NONZERO, f->within, &inset, error)
                    : dt_region_inset(&outline, f->tip / 2, &inset, error)))
        return FALSE;
    if (f->along && !is_solid(f)) {
        if (!edge_along(&inset, f, &edge, error))
            return FALSE;
    } else if (f->edge && is_solid(f) && !may_choose(f)) {
        dt_lines_append_lines(&edge, &inset);
    }
    if (!fill_inside(&outline, &inset, &edge, f, &lines, error))
        return FALSE;
    if (!f->thin_bare && !dt_centre_lines(&outline, &inset, f->tip / 2, &centres, error))
        return FALSE;
    const DtThinLines thin = {f->tip, f->tip / 2, LEAST_THIN_TIPS * f->tip, f->lighter, &outline};
    if (f->thin_bare && f->lighter && f->lighter->n > 0 &&
        !dt_fill_thin_lines(&outline, &inset, &thin, &centres, error))
        return FALSE;
    append_lines(&edge, DT_INK_FILL, f, out);
    append_lines(&lines, DT_INK_FILL, f, out);
    append_lines(&centres, DT_INK_CENTRE, f, out);
    return TRUE;
}

/* Dense regions of more points than this are filled a few pieces at a time, which bounds the
 * memory. Open ones are not: their pitch depends on the whole. The largest come first: the search for
 * the fastest way, which ends some time, gains most by these. */
#define MOST_POINTS 50000

static gboolean fill_in_parts(const DtLines *region, const DtFillStyle *style, DtStrokes *out,
                              GError **error)
{
    g_autoptr(GArray) parts = g_array_new(FALSE, FALSE, sizeof(DtPart));
    g_array_set_clear_func(parts, dt_part_clear);
    dt_parts_add(parts, 0, region);
    g_auto(DtLines) some;
    dt_lines_init(&some);
    gboolean good = dt_work_check(error);
    for (guint i = parts->len; i-- > 0 && good;) {
        dt_lines_append_lines(&some, &g_array_index(parts, DtPart, i).rings);
        if (some.n_pts < MOST_POINTS / 2 && i > 0)
            continue;
        good = fill_whole(&some, style, out, error);
        dt_lines_clear(&some);
    }
    return good;
}

gboolean dt_fill_area(const DtLines *region, const DtFillStyle *style, DtStrokes *out,
                      GError **error)
{
    DtFillStyle own = *style;
    own.tries = may_choose(&own) ? dt_fill_tries_new() : NULL;
    const gboolean whole = region->n_pts <= MOST_POINTS || own.tone || !is_solid(&own);
    const gboolean good =
        whole ? fill_whole(region, &own, out, error) : fill_in_parts(region, &own, out, error);
    dt_fill_tries_free(own.tries);
    return good;
}
