/* pens (private to ink): which pen draws what. */
#pragma once

#include "ink/paint/colour-difference.h"

typedef struct DtPens DtPens;

/* The arguments must outlive it. */
DtPens *dt_pens_new(const DtDrawing *d, const DtRack *rack, const DtInkOptions *o);
void dt_pens_free(DtPens *p);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtPens, dt_pens_free)

/* The pen that is assigned one of the shape's classes, or otherwise its id or one of its groups;
 * -1 for none. */
int dt_pens_asked(const DtPens *p, const DtShape *s);
/* The pen that the user's rules assign to a colour laid over the paper; -1 for none. */
int dt_pens_ruled(const DtPens *p, DtColour c);
/* The pen for a colour laid over the paper, -1 for the paper: the requested pen; otherwise the
 * paper if the colour looks like it; otherwise the nearest pen by CIEDE2000. */
int dt_pens_choose(DtPens *p, DtColour c, int asked, double area_mm2);
/* The same if lines may be spaced: the pen that, at the right coverage, comes nearest; *coverage
 * receives that coverage. */
int dt_pens_choose_tone(DtPens *p, DtColour c, int asked, double area_mm2, double *coverage);
/* Whether a colour, laid over the paper, cannot be told from it, and no pen is nearer. */
gboolean dt_pens_looks_like_paper(DtPens *p, DtColour c);
/* Records a choice made elsewhere; `before` is filled in, and its area is added to that of a
 * match that looks alike. A negative area takes back what another pen draws instead. */
void dt_pens_record(DtPens *p, DtInkMatch m);
void dt_pens_report(const DtPens *p, DtInkReport *r);
