/* coats (private to ink): what lies on a place, seen from above: coats of paint, laid one over the
 * other.
 *
 * A label stands for a pile of coats from the top down to the first that lets nothing through. Flat
 * coats of one group that follow one another in a pile are mixed into one. */
#pragma once

#include "stack.h"

/* Alpha from which on nothing is let through: less than half a step of eight bits is missing. */
#define DT_COAT_OPAQUE (254.5 / 255)
/* Alpha from which on a paint covers at least half of what lies beneath: 128 of 255 in eight bits. */
#define DT_COAT_SOLID 0.5

typedef struct {
    DtColour colour;    /* of all of it, or the mean of `tone` */
    const DtTone *tone; /* NULL where it is flat */
    gboolean opaque;    /* lets nothing through, wherever it is */
    int pen;            /* that was asked for, -1 for none */
    int group;          /* the innermost group it is in that is painted as one, -1 for none */
    double opacity;     /* of that group, part of the alpha; 1 for none */
    int ink;            /* what is drawn is settled: the caller's number for it; -1: not yet */
} DtCoat;

/* What is seen at a place. */
typedef struct {
    DtColour colour; /* not premultiplied; alpha: the share of what lies beneath that is hidden */
    int pen;         /* that was asked for, -1 for none */
} DtSeen;

typedef struct DtCoats DtCoats;

DtCoats *dt_coats_new(void);
void dt_coats_free(DtCoats *c);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtCoats, dt_coats_free)

/* The label of a pile of one coat. */
int dt_coats_label(DtCoats *c, const DtCoat *coat);
/* How labels lie over one another, for a stack. */
DtStackPiles dt_coats_piles(DtCoats *c);

/* The colour that a browser shows (Porter and Duff 1984, "source over", in sRGB values), groups
 * of an opacity of their own painted as one. Tones are looked at in the place, or by their means.
 */
DtSeen dt_coats_seen_at(const DtCoats *c, int label, DtPoint at);
DtSeen dt_coats_seen(const DtCoats *c, int label);
/* Whether the label's colour changes from place to place. */
gboolean dt_coats_changes(const DtCoats *c, int label);
/* What is drawn there where that is settled, -1 where it is not. */
int dt_coats_ink(const DtCoats *c, int label);
