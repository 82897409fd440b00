/* pens (private to ink): which pen draws what. */
#pragma once

#include "ink/paint/colour-difference.h"

typedef struct DtPens DtPens;

/* All are kept. */
DtPens *dt_pens_new(const DtDrawing *d, const DtRack *rack, const DtInkOptions *o);
void dt_pens_free(DtPens *p);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtPens, dt_pens_free)

/* The pen that asks for one of the shape's classes, else for its id or a group it is in; -1 for
 * none. */
int dt_pens_asked(const DtPens *p, const DtShape *s);
/* The pen that the maker's rules name for a colour laid over the paper; -1 for none. */
int dt_pens_ruled(const DtPens *p, DtColour c);
/* The pen for a colour laid over the paper, -1 for the paper: the pen that was asked for; else the
 * paper where the colour looks like it; else the nearest pen by CIEDE2000. */
int dt_pens_choose(DtPens *p, DtColour c, int asked, double area_mm2);
/* The same where lines may be spaced: the pen that, covering the right share of the paper, comes
 * nearest; *coverage gets that share. */
int dt_pens_choose_tone(DtPens *p, DtColour c, int asked, double area_mm2, double *coverage);
/* Whether a colour, laid over the paper, cannot be told from it, and no pen comes nearer. */
gboolean dt_pens_looks_like_paper(DtPens *p, DtColour c);
/* Puts down what was chosen elsewhere; `before` is filled in, and its area is added to that of a match
 * that looks alike. A negative area takes back what another pen is to draw after all. */
void dt_pens_record(DtPens *p, DtInkMatch m);
void dt_pens_report(const DtPens *p, DtInkReport *r);
