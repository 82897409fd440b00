/* layers (private to ink): the layers of paint at a place, seen from above.
 *
 * A label stands for an overlap of layers from the top down to the first opaque one. Consecutive
 * flat layers of one group in an overlap are mixed into one. */
#pragma once

#include "ink/paint/means.h"
#include "ink/paint/stack.h"

/* Alpha from which on a paint is opaque: less than half a step of eight bits is missing. */
#define DT_PAINT_LAYER_OPAQUE (254.5 / 255)
/* Alpha from which on a paint covers at least half of what lies beneath: 128 of 255 in eight bits. */
#define DT_PAINT_LAYER_SOLID 0.5

typedef struct {
    DtColour colour;      /* of all of it, or the mean of `tone` */
    const DtTone *tone;   /* NULL where it is flat */
    const DtMeans *means; /* in place of a tone; NULL: none */
    gboolean opaque;      /* lets nothing through, wherever it is */
    int pen;              /* the requested pen, -1 for none */
    int group;            /* the innermost group it is in that is painted as one, -1 for none */
    double opacity;       /* of that group, part of the alpha; 1 for none */
    int ink;              /* what is drawn is decided: the caller's number for it; -1: not yet */
} DtPaintLayer;

/* What is visible at a place. */
typedef struct {
    DtColour colour; /* not premultiplied; alpha: the share of what lies beneath that is hidden */
    int pen;         /* the requested pen, -1 for none */
} DtSeen;

typedef struct DtPaintLayers DtPaintLayers;

DtPaintLayers *dt_paint_layers_new(void);
void dt_paint_layers_free(DtPaintLayers *c);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtPaintLayers, dt_paint_layers_free)

/* The label of an overlap of one layer. */
int dt_paint_layers_label(DtPaintLayers *c, const DtPaintLayer *layer);
/* How labels are combined, for a stack. */
DtStackOverlap dt_paint_layers_overlap(DtPaintLayers *c);

/* The colour that a browser shows (Porter and Duff 1984, "source over", in sRGB values), groups
 * with an opacity of their own painted as one. Tones are evaluated at the place, or by their
 * means. */
DtSeen dt_paint_layers_seen_at(const DtPaintLayers *c, int label, DtPoint at);
DtSeen dt_paint_layers_seen(const DtPaintLayers *c, int label);
/* Whether the label's colour changes from place to place. */
gboolean dt_paint_layers_changes(const DtPaintLayers *c, int label);
/* Whether some of the label's colour is that of a raster picture. */
gboolean dt_paint_layers_is_picture(const DtPaintLayers *c, int label);
/* What is drawn there if that is decided, -1 otherwise. */
int dt_paint_layers_ink(const DtPaintLayers *c, int label);
