/* pens (private to ink): which pen draws what. */
#pragma once

#include "colour.h"

typedef struct DtPens DtPens;

DtPens *dt_pens_new(const DtDrawing *d, const DtRack *rack, DtColour paper);
void dt_pens_free(DtPens *p);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtPens, dt_pens_free)

/* The pen for a paint of a shape, -1 for the paper: the pen that asks for one of the shape's
 * classes or for a group it is in; else the paper where the paint looks like it; else the nearest
 * pen by CIEDE2000. */
int dt_pens_choose(DtPens *p, const DtShape *s, const DtPaint *paint, double area_mm2);
/* The same where lines may be spaced: the pen that, covering the right share of the paper, comes
 * nearest; *coverage gets that share. */
int dt_pens_choose_tone(DtPens *p, const DtShape *s, const DtPaint *paint, double area_mm2,
                        double *coverage);
void dt_pens_report(const DtPens *p, DtInkReport *r);
