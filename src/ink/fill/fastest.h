/* fastest (private to ink): of the ways to fill a field densely, the one that this machine draws soonest. */
#pragma once

#include "ink/fill/fill.h"

/* A way to ink a piece: its lines go to `out`. `f` says kind, angle and pitch. */
typedef gboolean (*DtFillWay)(const DtLines *piece, const DtFillStyle *f, DtLines *out,
                              GError **error);

DtFillTries *dt_fill_tries_new(void);
void dt_fill_tries_free(DtFillTries *t);

/* Appends lines that ink what lies inside a clean inset outline, and along it, piece by piece by the way
 * that takes the least time by f->seconds: parallel lines in several directions by `hatch`, or rings by
 * `rings`, joined into one another where they lie side by side. f->tries keeps what is found for later pieces. */
gboolean dt_fill_fastest(const DtLines *inset, const DtFillStyle *f, DtFillWay hatch,
                         DtFillWay rings, DtLines *out, GError **error);

/* Joins rings that lie about one another, `pitch` apart, into lines that go from ring to ring. A ring that
 * has no other beside it stays closed. */
void dt_fill_chain_rings(const DtLines *rings, double pitch, DtLines *out);
