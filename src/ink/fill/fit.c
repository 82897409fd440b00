/* fit: shifts and pitches that give a piece the right amount of ink. */
#include "ink/fill/fit.h"

#include <math.h>
#include <string.h>

/* Length times pitch must equal the area within this share of it. */
#define NEAR 0.001
/* Shifts tried, as parts of the pitch; and halvings of the step between two of them. */
enum { SHIFTS = 64, HALVINGS = 24 };
/* Pitches tried, each narrower by this share, down to this share of the requested one. */
#define NARROWER (2 * NEAR)
#define NARROWEST 0.5
/* Most edges that a search processes, in all: about 20 ms. */
#define MOST_EDGES 2000000
/* A hole counts as part of a piece if lines this much closer than the hatch's connect one with
 * the other. */
#define FINER 4

/* Length on a grid -------------------------------------------------------------------------- */

/* A piece rotated so that the hatch lines run along x. */
typedef struct {
    const DtLines *rings;
    double area, low, high; /* mm^2; extent across the lines */
    DtHatchBand band;
    size_t edges_left; /* left to process before the search gives up */
} Turned;

/* The sum of the x at which the lines cross the edge, and the last line. */
static double crossing_sum(DtPoint lo, DtPoint hi, double k0, double k1, double pitch, double shift)
{
    double n = k1 - k0, middle = shift + (k0 + (n - 1) / 2) * pitch;
    return n * (lo.x + (middle - lo.y) * (hi.x - lo.x) / (hi.y - lo.y));
}

/* Total length of the lines inside: a rising edge ends an interval of the line, a falling one
 * begins it, so that no crossing needs a partner. */
static double length_on(const Turned *t, double pitch, double shift)
{
    double sum = 0;
    for (size_t r = 0; r < t->rings->n; r++) {
        const DtPoint *p = dt_lines_at(t->rings, r);
        size_t n = dt_lines_count(t->rings, r);
        DtPoint a = p[n - 1];
        double ka = ceil((a.y - shift) / pitch);
        for (size_t i = 0; i < n; i++) {
            DtPoint b = p[i];
            double kb = ceil((b.y - shift) / pitch);
            if (ka < kb)
                sum += crossing_sum(a, b, ka, kb, pitch, shift);
            else if (ka > kb)
                sum -= crossing_sum(b, a, kb, ka, pitch, shift);
            a = b;
            ka = kb;
        }
    }
    return sum;
}

/* Share by which length times pitch exceeds the area. */
static double excess(Turned *t, double pitch, double shift)
{
    double length = 0;
    t->edges_left -= MIN(t->edges_left, t->rings->n_pts * t->band.n);
    for (unsigned i = 0; i < t->band.n; i++)
        length += length_on(t, pitch, shift + i * t->band.apart);
    return length * pitch / t->band.n / t->area - 1;
}

/* The search -------------------------------------------------------------------------------- */

typedef struct {
    double pitch, shift, apart; /* apart: the size of the excess */
} Found;

/* Records the shift if it is closer to the area than the best so far; TRUE if it is close
 * enough. */
static gboolean take(Found *best, double pitch, double shift, double excess_there)
{
    if (fabs(excess_there) < best->apart)
        *best = (Found){pitch, shift, fabs(excess_there)};
    return best->apart <= NEAR;
}

/* Between two shifts with excess of opposite sign; if the excess jumps between them there may be
 * none. */
static gboolean halve(Turned *t, double pitch, double a, double ea, double b, Found *best)
{
    for (int i = 0; i < HALVINGS; i++) {
        double middle = (a + b) / 2, e = excess(t, pitch, middle);
        if (take(best, pitch, middle, e))
            return TRUE;
        if ((e > 0) == (ea > 0))
            a = middle;
        else
            b = middle;
    }
    return FALSE;
}

/* Shifts over one pitch, the smallest first, in both directions. */
static gboolean try_shifts(Turned *t, double pitch, Found *best)
{
    double step = pitch / SHIFTS, at[2] = {0, 0}, e[2];
    e[0] = e[1] = excess(t, pitch, 0);
    if (take(best, pitch, 0, e[0]))
        return TRUE;
    for (int i = 1; i <= SHIFTS / 2 && t->edges_left > 0; i++)
        for (int way = 0; way < 2; way++) {
            double shift = way ? -i * step : i * step, here = excess(t, pitch, shift);
            if (take(best, pitch, shift, here) ||
                ((here > 0) != (e[way] > 0) && halve(t, pitch, at[way], e[way], shift, best)))
                return TRUE;
            at[way] = shift;
            e[way] = here;
        }
    return FALSE;
}

/* The pitch that divides the whole width first, with half of it free at either side; then others.
 */
static void try_pitches(Turned *t, double pitch, Found *best)
{
    double width = t->high - t->low, even = width / ceil(width / pitch);
    if (take(best, even, t->low + even / 2, excess(t, even, t->low + even / 2)))
        return;
    for (double p = pitch; p > NARROWEST * pitch && t->edges_left > 0; p *= 1 - NARROWER)
        if (try_shifts(t, p, best))
            return;
}

/* Fewer lines than this are looked at one by one: which are where must not look like chance. */
#define FEW_LINES 3.5

/* The number of lines, evenly spaced with half of that free at either side, whose ink is nearest to what is wanted.
 * TRUE if there are few. */
static gboolean space_evenly(Turned *t, double pitch, Found *best)
{
    const double width = t->high - t->low, lines = width / pitch;
    double least = G_MAXDOUBLE;
    if (t->band.n > 1 || lines >= FEW_LINES)
        return FALSE;
    for (int n = MAX((int)lines, 1); n <= (int)lines + 1; n++) {
        const double own = width / n,
                     apart = fabs(length_on(t, own, t->low + own / 2) * pitch - t->area);
        if (apart < least)
            *best = (Found){own, t->low + own / 2, 0};
        least = MIN(least, apart);
    }
    return TRUE;
}

DtHatchGrid dt_hatch_fit(const DtLines *piece, DtHatchGrid wanted, DtHatchBand band, DtHatchFit fit)
{
    double area = 0;
    for (size_t i = 0; i < piece->n; i++)
        area += dt_lines_area(piece, i);
    if (!(area > 0))
        return wanted;
    g_auto(DtLines) turned;
    dt_lines_copy(&turned, piece);
    dt_lines_transform(&turned, dt_affine_rotate(-wanted.angle));
    DtBox b = dt_lines_box(&turned);
    Turned t = {&turned, area, b.y0 - wanted.shift, b.y1 - wanted.shift, band, MOST_EDGES};
    for (size_t i = 0; i < turned.n_pts; i++)
        turned.pts[i].y -= wanted.shift;
    Found best = {wanted.pitch, 0, G_MAXDOUBLE};
    if (fit == DT_FIT_SHEET) {
        if (!(length_on(&t, wanted.pitch, 0) > 0))
            best.shift = (t.low + t.high) / 2;
    } else if (!(fit == DT_FIT_EVEN && space_evenly(&t, wanted.pitch, &best)) &&
               !try_shifts(&t, wanted.pitch, &best) && fit == DT_FIT_PITCH) {
        try_pitches(&t, wanted.pitch, &best);
    }
    return (DtHatchGrid){wanted.angle, best.pitch, wanted.shift + best.shift};
}

/* Pieces ------------------------------------------------------------------------------------ */

static uint32_t root_of(uint32_t *parent, uint32_t i)
{
    while (parent[i] != i)
        i = parent[i] = parent[parent[i]];
    return i;
}

/* The number of each ring's piece: an interval of a line inside the region connects the rings at
 * its ends. NULL if there would be too many lines; then everything counts as one piece. */
static uint32_t *pieces_of(const DtLines *region, DtHatchGrid wanted)
{
    g_auto(DtHatching) h = {0};
    wanted.pitch /= FINER;
    if (!dt_hatch_lines(region, DT_FILL_NONZERO, wanted, &h, NULL))
        return NULL;
    uint32_t *parent = g_new(uint32_t, region->n + 1);
    for (uint32_t i = 0; i < region->n; i++)
        parent[i] = i;
    for (size_t i = 0; i < h.n; i++) {
        uint32_t a = root_of(parent, h.c[2 * i].ring), b = root_of(parent, h.c[2 * i + 1].ring);
        parent[MAX(a, b)] = MIN(a, b);
    }
    for (uint32_t i = 0; i < region->n; i++)
        parent[i] = root_of(parent, i);
    return parent;
}

static gboolean hatch_piece(const DtLines *piece, DtHatchGrid wanted, DtHatchBand band,
                            DtHatchFit fit, DtPieceFunc each, void *user, GError **error)
{
    g_auto(DtHatching) h = {0};
    if (!dt_hatch_bands(piece, DT_FILL_NONZERO, dt_hatch_fit(piece, wanted, band, fit), band, &h,
                        error))
        return FALSE;
    each(&h, piece, user);
    return TRUE;
}

typedef struct {
    uint32_t piece, ring;
} Member;

static int by_piece(const void *pa, const void *pb)
{
    const Member *a = pa, *b = pb;
    if (a->piece != b->piece)
        return a->piece < b->piece ? -1 : 1;
    return (a->ring > b->ring) - (a->ring < b->ring);
}

gboolean dt_hatch_pieces(const DtLines *region, DtHatchGrid wanted, DtHatchBand band,
                         DtHatchFit fit, DtPieceFunc each, void *user, GError **error)
{
    g_autofree uint32_t *pieces = region->n < 2 ? NULL : pieces_of(region, wanted);
    if (!pieces)
        return hatch_piece(region, wanted, band, fit, each, user, error);
    g_autofree Member *m = g_new(Member, region->n);
    for (uint32_t i = 0; i < region->n; i++)
        m[i] = (Member){pieces[i], i};
    qsort(m, region->n, sizeof *m, by_piece);
    g_auto(DtLines) piece;
    dt_lines_init(&piece);
    for (size_t i = 0, next; i < region->n; i = next) {
        dt_lines_clear(&piece);
        for (next = i; next < region->n && m[next].piece == m[i].piece; next++)
            dt_lines_append(&piece, dt_lines_at(region, m[next].ring),
                            dt_lines_count(region, m[next].ring), TRUE);
        if (!hatch_piece(&piece, wanted, band, fit, each, user, error))
            return FALSE;
    }
    return TRUE;
}
