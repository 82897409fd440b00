/* fastest (private to ink): the way to fill a field densely that the machine draws fastest. */
#pragma once

#include "ink/fill/fill.h"

/* What ways to ink one piece have in common, found by the first that needs it. Zero-initialised. */
enum { DT_FILL_MOST_RINGS = 3 };
typedef struct {
    gboolean known;
    DtLines rings, last; /* the edge and the rings within it; those that have none inside */
    gboolean bare_known;
    DtLines bare; /* what the lines inside the last rings have to cover */
} DtFillRings;
void dt_fill_rings_clear(DtFillRings *r);
typedef struct {
    DtFillRings rings[DT_FILL_MOST_RINGS]; /* of one ring, the edge, and of more */
    gboolean asked, edge_is_enough;
} DtFillShared;

/* A way to ink a piece, whose edge is the middle of the line along it: appends that line, rings
 * inside it until there are `rings` lines around, and hatch lines for the rest. `f` gives angle and
 * pitch, which is the same for all that share. */
typedef gboolean (*DtFillWay)(const DtLines *piece, const DtFillStyle *f, unsigned rings,
                              DtFillShared *shared, DtLines *out, GError **error);

DtFillTries *dt_fill_tries_new(void);
void dt_fill_tries_free(DtFillTries *t);

/* Appends lines that ink the inside of a clean inset outline, and its edge, piece by piece in
 * the way that takes the least time by f->seconds: hatch lines in several directions, inside one or
 * more rings, or rings alone. f->tries keeps results for later pieces. */
gboolean dt_fill_fastest(const DtLines *inset, const DtFillStyle *f, DtFillWay way, DtLines *out,
                         GError **error);

/* Joins nested rings, `pitch` apart, into lines that go from ring to ring, those of `inside` first
 * where one of their ends is beside a ring. A ring without an adjacent one stays closed. */
void dt_fill_chain_rings(const DtLines *inside, const DtLines *rings, double pitch, DtLines *out);
