/* strips (private to ink): the light from strips of the paper, with the drawn ink on it. */
#pragma once

#include "ink/trace.h"

typedef struct DtStrips DtStrips;

/* Which ink is on a strip. */
typedef enum { DT_STRIPS_ANY_INK, DT_STRIPS_FIELDS, DT_STRIPS_LINES } DtStripsKind;

/* A strip beside a place: from `from` to `to` mm on the left of its way in `across` steps, and `along` mm each way from
 * `begin` mm along it in twice `steps`. What is farther along counts less if it is `faded` (a Hann window), so that it
 * does not matter where the lines of a hatch begin. */
typedef struct {
    double begin, along, from, to;
    int steps, across;
    gboolean faded;
    DtStripsKind kind;
} DtStrip;

/* Average light, with opaque inks of which the darkest is on top, and with transparent ones. */
typedef struct {
    DtLab opaque, clear;
} DtStripLight;

/* Looks at the ink of a trace near its thin places (t->thin), each `stride`-th of them, up to so many mm along and aside
 * of them. The trace must outlive it and keep its strokes. */
DtStrips *dt_strips_new(const DtTrace *t, guint stride, double along, double aside);
void dt_strips_free(DtStrips *s);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtStrips, dt_strips_free)
/* The strips after this are at this place, one of those above; its `way` is of unit length. */
void dt_strips_go_to(DtStrips *s, DtPoint at, DtPoint way);
DtStripLight dt_strips_light(DtStrips *s, const DtStrip *strip);
/* Whether the place itself is under ink of a kind, and how light (L*) the lightest and the darkest pen there are. */
gboolean dt_strips_ink_at(DtStrips *s, DtStripsKind kind, double *lightest, double *darkest);
