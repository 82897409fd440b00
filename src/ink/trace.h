/* trace (private to ink): what the two halves of tracing share. trace.c lays every painted part on
 * the stack; reveal.c takes up what is seen from above and draws it. */
#pragma once

#include "ink/plane/clips.h"
#include "ink/paint/threshold.h"

/* Coverages are told apart in this many steps. */
#define DT_TRACE_LEVELS 100

/* What an area is inked with. */
typedef struct {
    int pen;   /* -1: the paper */
    int level; /* coverage in steps of 1/DT_TRACE_LEVELS */
    int label; /* of the layers whose tone changes from place to place; -1 for none */
} DtInk;

/* An ink and where it goes, beside all other inks. */
typedef struct {
    DtInk ink;
    DtLines only;   /* one clean region, while there is no more */
    DtStack *stack; /* of all its areas, where there are more */
} DtInkPlace;

typedef struct {
    const DtDrawing *d;
    const DtRack *rack;
    const DtInkOptions *o;
    DtPens *pens;
    DtClips *clips;
    DtPaintLayers *layers;
    DtStack *stack;
    GArray *inks;   /* DtInkPlace */
    int last_translucent; /* shapes up to this one may lie beneath a translucent paint, or have one; -1: none */
    DtStrokes *out;
    size_t first; /* of its strokes that are ours */
} DtTrace;

/* The ink for what is seen; `label` is that of its layers, -1 where it does not change. */
DtInk dt_trace_choose(DtTrace *t, DtSeen seen, int label, double area_mm2);
/* The number of an ink among t->inks; -1 for the paper. */
int dt_trace_ink_number(DtTrace *t, DtInk ink);
/* Where what the label stands for is drawn, within a box. */
gboolean dt_trace_parts(DtTrace *t, int label, DtBox box, DtThreshold *out, GError **error);
/* Lays an area of ink number i beside all other inks. */
gboolean dt_trace_lay_beside(DtTrace *t, int i, const DtLines *area, DtPlaneRule rule,
                             GError **error);
/* Strokes for a clean region. */
gboolean dt_trace_region(DtTrace *t, const DtLines *region, DtInk ink, int shape, GError **error);
void dt_trace_lines(DtTrace *t, const DtLines *l, int pen, int shape);

/* A line's owner on the stack: its pen and its shape in one number. */
static inline int dt_trace_owner(const DtTrace *t, int pen, int shape)
{
    return shape * (int)t->rack->n + pen;
}

/* After the stack's end: draws what is seen of it, and what lies beside. */
gboolean dt_trace_reveal(DtTrace *t, GError **error);
