/* compose (private to ink): what the choice of inks for a drawing knows of it. */
#pragma once

#include "ink/look/assign.h"
#include "ink/trace.h"

/* Pens of a tone: of few colours, and of many. */
enum { DT_PENS_OF_GRADIENT = 2, DT_PENS_OF_PICTURE = 4 };

/* One paint as it is seen, laid over the paper. */
typedef struct {
    DtColour colour;
    DtLab lab;
    int asked;
    int label;                /* of the stack where it changes from place to place, -1 where not */
    DtSeparation *separation; /* of such a paint */
    GArray *colours;          /* DtColour: some of those that it has */
    double dense;             /* how far the nearest dense pen is from them */
    gboolean picture;         /* of many colours */
    DtColour mean;
    unsigned labels; /* of the stack that have it */
} DtSeenPaint;

typedef struct {
    DtTrace *t;
    GArray *paints;          /* DtSeenPaint */
    GArray *regions;         /* DtLines, by paint */
    GArray *parts;           /* DtPart; their label is the paint */
    GArray *edges, *borders; /* of the parts */
    GArray *areas;           /* DtLookArea */
    GArray *keys;            /* DtAreaKey, of each area */
    int *area_of;            /* of each part */
    GArray *gaps;            /* DtPartBorder, of areas */
} DtCompose;

/* What parts have in common that are one area. */
typedef struct {
    int paint,
        beside; /* the paint that most of a narrow part borders on; -1: the paper, or not narrow */
    gboolean narrow;
    int least; /* hundredths */
} DtAreaKey;

static inline DtSeenPaint *dt_compose_paint(const DtCompose *c, int i)
{
    return &g_array_index(c->paints, DtSeenPaint, i);
}

static inline DtPart *dt_compose_part(const DtCompose *c, guint i)
{
    return &g_array_index(c->parts, DtPart, i);
}

static inline DtLookArea *dt_compose_area(const DtCompose *c, int i)
{
    return &g_array_index(c->areas, DtLookArea, i);
}

static inline double dt_compose_tip(const DtTrace *t)
{
    double tip = G_MAXDOUBLE;
    for (size_t i = 0; i < t->rack->n; i++)
        tip = MIN(tip, t->rack->pens[i].tip);
    return tip;
}

/* Takes apart again, by what is seen from 40 cm, the tones that look farther from there than dense ink would,
 * where all together do. */
void dt_compose_bound_tones(DtCompose *c);
/* Lines along the edges of open hatches, and the gaps that stay bare, for the places of the areas: place_of[i]
 * is that of area i, -1: the paper. */
gboolean dt_compose_edges(DtCompose *c, const int *place_of, GError **error);
