/* fastest (private to ink): the way to fill a field densely that the machine draws fastest. */
#pragma once

#include "ink/fill/fill.h"

/* A way to ink a piece: appends its lines to `out`. `f` gives kind, angle and pitch. */
typedef gboolean (*DtFillWay)(const DtLines *piece, const DtFillStyle *f, DtLines *out,
                              GError **error);

DtFillTries *dt_fill_tries_new(void);
void dt_fill_tries_free(DtFillTries *t);

/* Appends lines that ink the inside of a clean inset outline, and its edge, piece by piece in
 * the way that takes the least time by f->seconds: parallel lines in several directions by
 * `hatch`, or rings by `rings`, joined where they are adjacent. f->tries keeps results for later
 * pieces. */
gboolean dt_fill_fastest(const DtLines *inset, const DtFillStyle *f, DtFillWay hatch,
                         DtFillWay rings, DtLines *out, GError **error);

/* Joins nested rings, `pitch` apart, into lines that go from ring to ring. A ring without an
 * adjacent one stays closed. */
void dt_fill_chain_rings(const DtLines *rings, double pitch, DtLines *out);
