/* trace (private to ink): what the two halves of tracing share. trace.c lays every painted part on
 * the stack; reveal.c takes up what is seen from above and draws it. */
#pragma once

#include "ink/look/separate.h"
#include "ink/paint/threshold.h"
#include "ink/plane/clips.h"

/* Coverages are told apart in this many steps. */
#define DT_TRACE_LEVELS 100

/* What an area is inked with. */
typedef struct {
    int pen;    /* -1: the paper */
    int level;  /* coverage in steps of 1/DT_TRACE_LEVELS */
    int label;  /* of the layers whose tone changes from place to place; -1 for none */
    int across; /* a second pen, laid across the first; -1: none */
    int across_level;
    int turn;        /* of the hatch, in steps of DT_LOOK_TURN_ANGLE */
    gboolean narrow; /* parts too narrow for a pattern: the fields of other pens give way to them */
} DtInk;

#define DT_LOOK_TURN_ANGLE (G_PI / 4)
/* Paints nearer than this (CIEDE2000) are one: a line of its field's own paint needs no gap. */
#define DT_LOOK_ONE_PAINT 5.0
/* A line of a field's own pen shows over a hatch that covers less than this. */
#define DT_LOOK_SHOWS_OVER 0.5
/* Parts that a circle of this many tips does not fit into are too narrow for a pattern. */
#define DT_LOOK_NARROW_TIPS 3.0
#define DT_INK_PAPER ((DtInk){-1, DT_TRACE_LEVELS, -1, -1, 0, 0, FALSE})

/* An ink and where it goes, beside all other inks. */
typedef struct {
    DtInk ink;
    DtLines only;             /* one clean region, while there is no more */
    DtStack *stack;           /* of all its areas, where there are more */
    DtLines cut;              /* areas that are left bare of it, by the nonzero rule */
    DtLines along;            /* parts of its edge that have a line where its hatch is open */
    DtLab paint;              /* what it stands for; of the first of its areas */
    DtSeparation *separation; /* where its tone changes */
    gboolean picture;         /* and has many colours */
} DtInkPlace;

typedef struct {
    const DtDrawing *d;
    const DtRack *rack;
    const DtInkOptions *o;
    DtPens *pens;
    DtClips *clips;
    DtPaintLayers *layers;
    DtStack *stack;
    GArray *inks; /* DtInkPlace */
    int last_translucent; /* shapes up to this one may lie beneath a translucent paint, or have one; -1: none */
    DtStrokes *out;
    size_t first; /* of its strokes that are ours */
    DtLines
        tones; /* all that changes from place to place, as one region; empty where it is one place's */
    DtLines tones_inset; /* by half of `tones_tip` */
    double tones_tip;
    size_t faint;        /* paints and places that hide too little to be drawn */
    size_t together;     /* paints whose parts are too many to be judged one by one */
    gboolean unsearched; /* too much ink to look for lines that lie free */
    DtAppear *appear;    /* where appearance decides; NULL where each paint is judged by itself */
} DtTrace;

/* The ink for what is seen; `label` is that of its layers, -1 where it does not change. */
DtInk dt_trace_choose(DtTrace *t, DtSeen seen, int label, double area_mm2);
/* The number of an ink's place among t->inks; -1 for the paper. Where `paint` is not NULL, of a place for paints
 * like it: a line shows over one paint and not over another that has the same ink. */
int dt_trace_ink_number(DtTrace *t, DtInk ink, const DtLab *paint);
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

static inline DtInkPlace *dt_trace_place(const DtTrace *t, guint i)
{
    return &g_array_index(t->inks, DtInkPlace, i);
}

/* What is seen of the lines of a pen; owner i is line i's. */
typedef struct {
    DtLines lines;
    GArray *owners; /* int */
} DtPenLines;

/* Lays a clean region beside the others of ink number i. */
gboolean dt_trace_lay_region(DtTrace *t, int i, const DtLines *region, GError **error);
/* What all areas of an ink are together; NULL where there is none. */
gboolean dt_trace_finish_place(DtInkPlace *p, const DtLines **region, GError **error);

/* Where appearance decides (look/compose.c, look/give-way.c): chooses for all that is seen and lays it
 * beside; and cuts fields back along the lines of other pens that they would cover. */
gboolean dt_look_compose(DtTrace *t, GError **error);
gboolean dt_look_draw(DtTrace *t, const DtInkPlace *p, const DtLines *region, GError **error);
gboolean dt_look_give_way(DtTrace *t, const DtPenLines *all, GError **error);
/* Of all lines, what the fields of darker pens cover, mm. */
double dt_look_lost_mm(const DtTrace *t);
/* Gives lines thinner than their pen, which lie free on the paper, to a lighter pen of about the same hue where
 * the eye finds that much nearer. */
void dt_look_lighten_lines(DtTrace *t);
/* Whether a line of this paint is drawn as an area among areas: left to the paper, or judged by what
 * lies about it; else *pen is the pen for it. */
gboolean dt_look_line_is_area(DtTrace *t, DtColour paint, int asked, int *pen);
/* Whether a line's paint and a place's are so alike that they may become one. */
gboolean dt_look_is_one_paint(const DtTrace *t, int owner, const DtInkPlace *place);

/* After the stack's end: draws what is seen of it, and what lies beside. */
gboolean dt_trace_reveal(DtTrace *t, GError **error);
