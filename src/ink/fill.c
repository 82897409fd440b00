/* fill: ink for an area. The pen's middle stays half a tip inside the edge. */
#include "fill.h"

#include "centre.h"
#include "fit.h"

#include <math.h>

/* A join may be as long as what a pen lift would cost in time, about this many pitches. */
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

typedef struct {
    const DtFillStyle *f;
    DtLines *out;
} Hatcher;

/* A dense piece that is narrower than the pitch would be a row of dots: its edge is drawn in any
 * case.
 */
static gboolean needs_edge(const DtLines *piece, const DtFillStyle *f)
{
    return is_solid(f) && !f->edge &&
           2 * dt_region_area(piece) < f->pitch * dt_lines_total_length(piece);
}

/* Whether the line along the edge inks the whole piece by itself, so that a hatch would ink it
 * twice: no place of it is farther than half a tip from its edge. The area over the length of the
 * edge is at most that depth, which tells wide pieces at once. */
static gboolean edge_is_enough(const DtLines *piece, const DtFillStyle *f)
{
    if (!is_solid(f) || !f->edge ||
        dt_region_area(piece) > f->tip / 2 * dt_lines_total_length(piece))
        return FALSE;
    g_auto(DtLines) deeper;
    dt_lines_init(&deeper);
    return dt_region_inset(piece, f->tip / 2, &deeper, NULL) && deeper.n == 0;
}

/* Between lines that cover less than the paper there are no joins: they would darken the edge. */
static void draw_piece(const DtHatching *h, const DtLines *piece, void *user)
{
    const Hatcher *to = user;
    const DtFillStyle *f = to->f;
    if (edge_is_enough(piece, f))
        return;
    if (needs_edge(piece, f))
        dt_lines_append_lines(to->out, piece);
    else if (f->tone)
        dt_tone_thin(h, f->tone, f->tone_user, f->tip, to->out);
    else if (f->hatch == DT_HATCH_SERPENTINE && is_solid(f))
        dt_hatch_serpentine(h, piece, JOIN_PITCHES * f->pitch, to->out);
    else
        dt_hatch_plain(h, to->out);
}

/* Where lines stand apart the eye follows them from shape to shape, and where the tone varies the
 * sheet's lines are thinned as one: both keep to the sheet's grid. */
static DtHatchFit choose_fit(const DtFillStyle *f)
{
    if (f->tone || (is_solid(f) && f->pitch > f->tip))
        return DT_FIT_SHEET;
    return is_solid(f) ? DT_FIT_PITCH : DT_FIT_SHIFT;
}

static gboolean hatch_once(const DtLines *inset, const DtFillStyle *f, double angle, double pitch,
                           DtLines *out, GError **error)
{
    Hatcher to = {f, out};
    return dt_hatch_pieces(inset, (DtHatchGrid){angle, pitch, 0}, choose_fit(f), draw_piece, &to,
                           error);
}

/* Rings, one inside the other, each a pitch from the last. */
static gboolean ring_fill(const DtLines *inset, const DtFillStyle *f, DtLines *out, GError **error)
{
    g_auto(DtLines) ring;
    dt_lines_copy(&ring, inset);
    while (ring.n > 0) {
        DtLines next;
        dt_lines_init(&next);
        if (!dt_region_inset(&ring, f->pitch, &next, error) ||
            !dt_centre_lines(&ring, &next, f->pitch, out, error)) {
            dt_lines_clear(&next);
            return FALSE;
        }
        dt_lines_append_lines(out, &next);
        dt_lines_clear(&ring);
        ring = next;
    }
    return TRUE;
}

/* Two directions cover 1 - (1 - c)^2 where each covers c. */
static double share_of_each(const DtFillStyle *f)
{
    return f->hatch == DT_HATCH_CROSSED ? 1 - sqrt(1 - f->coverage) : f->coverage;
}

/* The pitch at which lines cover a share of the area around the inset: with their round ends, but
 * with nothing in the rest of the strip along the edge, half a tip wide, that the lines stop short
 * of. */
static gboolean toned_pitch(const DtLines *inset, const DtFillStyle *f, double angle, double *pitch,
                            GError **error)
{
    double share = share_of_each(f), area = dt_region_area(inset);
    *pitch = f->tip / share;
    g_auto(DtHatching) h = {0};
    if (!dt_hatch_lines(inset, DT_FILL_NONZERO, (DtHatchGrid){angle, *pitch, 0}, &h, error))
        return FALSE;
    if (h.n == 0 || !(area > 0))
        return TRUE;
    double ends = (double)h.n * G_PI / 4 * f->tip * f->tip;
    double strip = dt_lines_total_length(inset) * f->tip / 2;
    *pitch *= CLAMP((area * share + ends) / (share * (area + strip)), 0.7, 1.3);
    return TRUE;
}

static gboolean hatch_toned(const DtLines *inset, const DtFillStyle *f, double angle, DtLines *out,
                            GError **error)
{
    double pitch = f->pitch;
    return (f->tone || is_solid(f) || toned_pitch(inset, f, angle, &pitch, error)) &&
           hatch_once(inset, f, angle, pitch, out, error);
}

static gboolean fill_inset(const DtLines *inset, const DtFillStyle *f, DtLines *out, GError **error)
{
    if (f->hatch == DT_HATCH_RINGS && is_solid(f))
        return ring_fill(inset, f, out, error);
    return hatch_toned(inset, f, f->angle, out, error) &&
           (f->hatch != DT_HATCH_CROSSED || f->tone ||
            hatch_toned(inset, f, f->angle + G_PI / 2, out, error));
}

gboolean dt_fill_area(const DtLines *region, const DtFillStyle *f, DtStrokes *out, GError **error)
{
    g_auto(DtLines) outline, inset, lines, centres;
    dt_lines_init(&outline);
    dt_lines_init(&inset);
    dt_lines_init(&lines);
    dt_lines_init(&centres);
    dt_region_simplify(region, FINE, &outline);
    if (!dt_region_inset(&outline, f->tip / 2, &inset, error) ||
        !fill_inset(&inset, f, &lines, error))
        return FALSE;
    if (!dt_centre_lines(&outline, &inset, f->tip / 2, &centres, error))
        return FALSE;
    if (f->edge && is_solid(f))
        append_lines(&inset, DT_INK_FILL, f, out);
    append_lines(&lines, DT_INK_FILL, f, out);
    append_lines(&centres, DT_INK_CENTRE, f, out);
    return TRUE;
}
