/* trace (private to ink): shared by the two halves of tracing. trace.c puts every painted part
 * on the stack; reveal.c takes what is visible from above and draws it. */
#pragma once

#include "ink/look/separate.h"
#include "ink/paint/threshold.h"
#include "ink/plane/clips.h"

/* Coverages are distinguished in this many steps. */
#define DT_TRACE_LEVELS 100

/* The ink of an area. */
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
/* Paints that differ by less than this (CIEDE2000) are the same: a line with its field's own
 * paint needs no gap. */
#define DT_LOOK_ONE_PAINT 5.0
/* A line with a field's own pen is visible over a hatch that covers less than this. */
#define DT_LOOK_SHOWS_OVER 0.5
/* A pen darker than a line's by this much (L*) hides it. */
#define DT_LOOK_DARKER 3.0
/* Parts into which a circle of this many tips does not fit are too narrow for a pattern. */
#define DT_LOOK_NARROW_TIPS 3.0
#define DT_INK_PAPER ((DtInk){-1, DT_TRACE_LEVELS, -1, -1, 0, 0, FALSE})

/* An ink and where it goes, apart from all other inks. */
typedef struct {
    DtInk ink;
    DtLines only;             /* one clean region, while there is no more */
    DtStack *stack;           /* of all its areas, if there are several */
    DtLines cut;              /* areas that are kept bare of it, by the nonzero rule */
    GArray *pen_cuts;         /* of places.c: areas that are kept bare of one of its pens */
    DtLines along;            /* parts of its edge that have a line if its hatch is open */
    DtLines lighter;          /* parts of its edge beside the paper or a lighter paint */
    DtLab paint;              /* the paint it represents; that of the first of its areas */
    DtSeparation *separation; /* where its tone changes */
    gboolean picture;         /* and has many colours */
    gboolean beside_lighter;  /* not all of it lies between darker areas */
} DtInkPlace;

/* A place along a narrow part or a line of the artwork that differs from what is on either side. */
typedef struct {
    DtPoint at, way; /* in its middle; along it, of unit length */
    double width, mm;
    int part;
    gboolean line; /* of a stroke that is drawn as a line */
} DtThinPlace;

/* How a line of some paint and width is drawn, once it was judged: dt_look_line_is_area(). */
typedef struct {
    gboolean is_known, is_area;
    DtColour paint;
    double width;
    int pen;
} DtLineLook;

#define DT_LINE_LOOKS 64

typedef struct {
    const DtDrawing *d;
    const DtRack *rack;
    const DtInkOptions *o;
    DtPens *pens;
    DtClips *clips;
    DtPaintLayers *layers;
    DtStack *stack;
    GArray *inks;         /* DtInkPlace */
    int last_translucent; /* shapes up to this one may be beneath a translucent paint, or have
                           * one; -1: none */
    DtStrokes *out;
    size_t first; /* of its strokes that are ours */
    DtLines
        tones; /* everything that changes from place to place, as one region; empty if it is only
                * one place's */
    DtLines tones_inset; /* by half of `tones_tip` */
    double tones_tip;
    GPtrArray *pointed;    /* struct DtPointed: tones to be drawn in a limited number of points */
    size_t points_wanted;  /* by all of them */
    size_t faint;          /* paints and places that hide too little to be drawn */
    DtMeans *means;        /* of textures finer than the pen; NULL: there are none */
    double texture_mm2;    /* their area */
    double crowded_mm;     /* length of lines left out where they crowd, or too many there */
    double beside_mm2;     /* ink of dense areas beyond their own area */
    size_t together;       /* paints with too many parts to be judged one by one */
    gboolean unsearched;   /* too much ink to search for free lines */
    size_t run_end;        /* the fine strokes of shapes up to this one are judged together: */
    gboolean side_by_side; /* whether they paint an area */
    GArray *thin;          /* DtThinPlace */
    gboolean only_thin;    /* nothing is drawn: only `thin` is found */
    double unseen_mm;      /* length of narrow parts that the ink does not show */
    DtPoint unseen_at;     /* in the part that is lost on the greatest length */
    DtAppear *appear;      /* if appearance decides; NULL if each paint is judged by itself */
    DtLineLook line_looks[DT_LINE_LOOKS]; /* of the last lines, each in the place of its style */
} DtTrace;

/* Fails with DT_ERROR_INPUT unless the rack has pens, and all values are in range. */
gboolean dt_trace_check_options(const DtRack *rack, const DtInkOptions *o, GError **error);
/* The ink for what is visible; `label` is that of its layers, -1 if it does not change. */
DtInk dt_trace_choose(DtTrace *t, DtSeen seen, int label, double area_mm2);
/* The number of an ink's place among t->inks; -1 for the paper. If `paint` is not NULL, that of
 * a place for similar paints: a line may be visible over one paint and not over another with the
 * same ink. */
int dt_trace_ink_number(DtTrace *t, DtInk ink, const DtLab *paint);
/* Where what the label stands for is drawn, inside a box. */
gboolean dt_trace_parts(DtTrace *t, int label, DtBox box, DtThreshold *out, GError **error);
/* Adds an area of ink number i, apart from all other inks. */
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

/* How tones are drawn: in even hatches, except pictures and what is crossed. */
static inline DtToneWay dt_look_tone_way(const DtTrace *t, gboolean picture)
{
    return picture || t->o->hatch == DT_HATCH_CROSSED ? DT_TONE_THINNED : DT_TONE_EVEN;
}

static inline DtInkPlace *dt_trace_place(const DtTrace *t, guint i)
{
    return &g_array_index(t->inks, DtInkPlace, i);
}

/* The visible parts of the lines of a pen; owner i is line i's. */
typedef struct {
    DtLines lines;
    GArray *owners; /* int */
} DtPenLines;

/* Frees what a DtInkPlace owns: an element of t->inks. */
void dt_trace_clear_place(gpointer place);
/* The areas that are kept bare of one pen's part of a place's ink, by the nonzero rule, for more to be added; valid until
 * another pen's are asked for. */
DtLines *dt_trace_pen_cut(DtInkPlace *p, int pen);
/* Sets *region to `left`, which receives what is left of it, if there is anything to cut: areas by the nonzero rule. */
gboolean dt_trace_subtract_cut(const DtLines *cut, const DtLines **region, DtLines *left,
                               GError **error);
/* The same with what is kept bare of one pen of a place. */
gboolean dt_trace_subtract_pen_cut(const DtInkPlace *p, int pen, const DtLines **region,
                                   DtLines *left, GError **error);
/* Adds a clean region to the others of ink number i. */
gboolean dt_trace_lay_region(DtTrace *t, int i, const DtLines *region, GError **error);
/* The union of all areas of an ink; NULL if there are none. */
gboolean dt_trace_finish_place(DtInkPlace *p, const DtLines **region, GError **error);

/* If appearance decides (look/compose.c, look/give-way.c): chooses for everything visible and
 * adds the areas; and cuts fields back along the lines of other pens that they would cover. */
gboolean dt_look_compose(DtTrace *t, GError **error);
gboolean dt_look_draw(DtTrace *t, const DtInkPlace *p, const DtLines *region, GError **error);
/* Draws what was put off until the number of its points could be shared out. */
gboolean dt_look_draw_points(DtTrace *t, GError **error);
gboolean dt_look_give_way(DtTrace *t, const DtPenLines *all, GError **error);
/* Length of all lines that the fields of darker pens cover, mm. */
double dt_look_lost_mm(const DtTrace *t);
/* Compares the ink on narrow parts with the ink beside them: sets unseen_mm and unseen_at. */
void dt_look_count_unseen(DtTrace *t);
/* Gives lines thinner than their pen, on bare paper, to a lighter pen of about the same hue if
 * the eye finds that much more similar. */
void dt_look_lighten_lines(DtTrace *t);
/* Whether a line of this paint and width, mm, is drawn as an area among areas: left bare, or
 * judged by its surroundings; otherwise *pen is the pen for it. */
gboolean dt_look_line_is_area(DtTrace *t, DtColour paint, double width, int asked, int *pen);
/* Sets t->side_by_side: whether the fine stroke of a shape lies side by side with others, of its own or of the next shapes,
 * so that they paint an area. Shapes are asked for in order. */
gboolean dt_look_find_side_by_side(DtTrace *t, size_t shape, GError **error);
/* Such a stroke so much wider that small gaps to others beside it are closed. */
DtStrokeStyle dt_look_close_gaps(const DtStrokeStyle *stroke);
/* The same of a filled strip among such strokes, as a clean region; empty if it is none. */
gboolean dt_look_close_fill(const DtTrace *t, size_t shape, DtLines *out, GError **error);
/* Whether a line's paint and a place's are so similar that they may be merged. */
gboolean dt_look_is_one_paint(const DtTrace *t, int owner, const DtInkPlace *place);

/* After the stack's end: draws what is visible of it, and the areas that were added. */
gboolean dt_trace_reveal(DtTrace *t, GError **error);
