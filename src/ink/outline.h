/* outline (private to ink): stroked outlines as areas or as centre lines. */
#pragma once

#include "drawtrue/ink.h"

/* The stroke's dashed centre lines, mm. A dash or dot shorter than `least` mm is lengthened to
 * it, so that it still marks the paper; gaps shorter than `bridge` mm, which the pen would
 * cover, are closed. */
void dt_outline_centre(const DtLines *outline, const DtStrokeStyle *s, double least, double bridge,
                       DtLines *out);
/* The stroke's area as rings, to be taken together by the nonzero rule; arcs within `tolerance` mm.
 */
void dt_outline_area(const DtLines *outline, const DtStrokeStyle *s, double tolerance,
                     DtLines *out);

/* The same area in parts that overlap: for long lines each part is a clean region, so that a
 * line that crosses itself very often is not a single arrangement. Fails as dt_plane_build()
 * does. */
gboolean dt_outline_region(const DtLines *outline, const DtStrokeStyle *s, double tolerance,
                           DtLines *out, GError **error);

/* The area within half a width of lines, with round joins, as a clean region. */
gboolean dt_outline_band(const DtLines *lines, double width, DtCap cap, double tolerance,
                         DtLines *out, GError **error);

/* The line type that one of the class words names, as lengths in line widths, dashes and gaps
 * alternating; NULL if there is none. Names and proportions are those of ISO 128-20. */
const double *dt_dash_of_class(const char *classes, size_t *n);

/* The list of dashes without gaps shorter than `least`; no entries if none is left. It begins at
 * *shift of the given list. g_free(). */
double *dt_dash_bridge(const double *dash, size_t n, double least, size_t *n_out, double *shift);
/* dash: cuts lines into dashes. Lengths in the unit of the lines; a pattern that is not positive
 * and finite, or that would give more than a million dashes, leaves the lines whole. */
void dt_dash_lines(const DtLines *lines, const double *dash, size_t n, double offset, DtLines *out);
