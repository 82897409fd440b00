/* hatch (private to ink): parallel lines inside outlines, and their joins.
 *
 * Line k is at v = shift + k * pitch, where u runs along the lines and v across them: u, v are
 * x, y rotated back by the angle. The sheet's own grid has no shift: fills on it are in
 * register. */
#pragma once

#include "drawtrue/base.h"
#include "drawtrue/ink.h"

typedef struct {
    double angle;        /* of the lines, radians */
    double pitch, shift; /* mm */
} DtHatchGrid;

/* Lines side by side in place of each line of a grid: with n > 1, line k is at
 * v = shift + (k div n) * pitch + (k mod n) * apart. */
typedef struct {
    unsigned n;
    double apart; /* mm; n * apart is less than the grid's pitch */
} DtHatchBand;

#define DT_HATCH_SINGLE ((DtHatchBand){1, 0})

/* Where a hatch line crosses an outline. */
typedef struct {
    double u;
    int32_t line;
    uint32_t ring, edge; /* edge of the ring: from its point `edge` to the next */
    int8_t way;          /* +1: the edge rises in v */
} DtCrossing;

/* Interval i runs from c[2i] to c[2i+1], both of one line; by rising line, then by rising u. */
typedef struct {
    DtCrossing *c;
    size_t n; /* intervals */
    DtHatchGrid grid;
    DtHatchBand band;
} DtHatching;

/* Intersects the lines with the outlines, all taken as closed. A vertex belongs to the edge
 * above it: an edge from v0 to v1 crosses line k if min <= k * pitch < max, with the very same
 * numbers for both edges at a vertex, so that every line enters as often as it leaves. Time and
 * memory grow linearly with the edges and crossings. Fails with DT_ERROR_INPUT if the pitch is
 * not positive and finite, a point is not finite, or there would be more than fifty million
 * crossings. */
gboolean dt_hatch_lines(const DtLines *outline, DtFillRule rule, DtHatchGrid grid, DtHatching *out,
                        GError **error);
/* The same with bands of lines. */
gboolean dt_hatch_bands(const DtLines *outline, DtFillRule rule, DtHatchGrid grid, DtHatchBand band,
                        DtHatching *out, GError **error);
void dt_hatching_clear(DtHatching *h);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtHatching, dt_hatching_clear)

DtPoint dt_hatch_point(const DtHatching *h, const DtCrossing *c);
/* Whether no gap is between two crossings' lines: the same one or the next, of one band if there are bands. */
gboolean dt_hatch_are_adjacent(const DtHatching *h, const DtCrossing *a, const DtCrossing *b);
double dt_hatch_length(const DtHatching *h);

/* Joins the intervals of a clean region, hatched, into few lines: from the end of an interval along
 * the region's edge to an adjacent line's interval, at most `reach` mm, never off the region. */
void dt_hatch_serpentine(const DtHatching *h, const DtLines *region, double reach, DtLines *out);
/* The same for a hatch with gaps, drawn by a pen of a tip's width: adjacent bands or lines are joined across
 * gaps of up to a tip, and their ends set back so that the joins add no ink. */
void dt_hatch_meander(const DtHatching *h, const DtLines *region, double reach, double tip,
                      DtLines *out);
/* The numbers of all crossings, ring by ring in the order in which the ring meets them. */
void dt_hatch_order_along(const DtHatching *h, uint32_t *order);
/* Appends those of the points between a and b that a line from a to b needs so that it passes all of
 * them within `flat` mm (Douglas and Peucker 1973). */
void dt_hatch_add_bends(const DtPoint *p, size_t n, DtPoint a, DtPoint b, double flat,
                        DtLines *out);
/* The intervals as lines of two points. */
void dt_hatch_plain(const DtHatching *h, DtLines *out);
