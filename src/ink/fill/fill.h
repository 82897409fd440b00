/* fill (private to ink): ink for an area. */
#pragma once

#include "ink/plane/region.h"
#include "ink/fill/tone.h"

#include <math.h>

/* Results on the fastest way to fill pieces so far. */
typedef struct DtFillTries DtFillTries;

typedef void (*DtEnterPiece)(const DtLines *piece, void *tone_user);

typedef struct {
    DtHatch hatch;
    double angle, pitch, tip; /* mm, radians */
    unsigned pen;
    int shape;
    gboolean edge;   /* a solid fill has a line along its edge, half a tip inside */
    double coverage; /* share of the area to be inked; 1 for solid */
    const DtLines
        *along; /* if not NULL, an open hatch has a line along those parts of its edge that run
                 * along these lines, and is thinned in return; coverage 0: only that line */
    const DtLines
        *within; /* if not NULL, the pen's centre stays inside this instead of half a tip inside
                  * the edge: the hatch continues beyond parts of the edge */
    gboolean thin_bare; /* what is narrower than the tip gets no line of its own ... */
    const DtLines *
        lighter; /* ... if not NULL, except where it is long and all its edge runs along these lines */
    DtToneFunc tone; /* if not NULL, the local coverage */
    DtEnterPiece
        enter_piece; /* if not NULL, called with each connected piece before its tone is sampled to draw it */
    void *tone_user;      /* of both */
    gboolean even;        /* of a tone: where it changes slowly, in even hatches of a few shares */
    double spread;        /* of a tone: hatched as with a pen wider by this factor; 0: 1 */
    DtInkSeconds seconds; /* with DT_HATCH_FASTEST; NULL: as DT_HATCH_SERPENTINE */
    void *seconds_user;
    double lined;       /* share of an open hatch's edge that has a line; set by dt_fill_area() */
    DtFillTries *tries; /* with DT_HATCH_FASTEST; set by dt_fill_area() */
} DtFillStyle;

/* Whether runs of a hatch are joined where they end side by side. */
static inline gboolean dt_fill_joins_runs(const DtFillStyle *f)
{
    return f->hatch == DT_HATCH_FASTEST && f->pitch <= f->tip;
}

static inline void dt_fill_enter_piece(const DtFillStyle *f, const DtLines *piece)
{
    if (f->enter_piece)
        f->enter_piece(piece, f->tone_user);
}

/* Appends the strokes that ink a clean region: if requested an inset outline, so that the edge
 * is sharp and every sliver is covered, the hatch inside it, and centre lines where the region
 * is narrower than the tip. */
gboolean dt_fill_area(const DtLines *region, const DtFillStyle *f, DtStrokes *out, GError **error);

typedef struct {
    double tip;   /* mm */
    double by;    /* half the width of the widest of the parts, mm */
    double least; /* parts with a shorter middle are left out, mm */
    const DtLines *lighter;
    const DtLines *edges; /* closed: those that are dark where they do not run along `lighter` */
} DtThinLines;

/* Edges this near (mm) to given ones are theirs. */
#define DT_FILL_SAME_EDGE 0.02

/* How far from the middle of a part dark edges are beside it, mm. */
double dt_fill_dark_reach(const DtThinLines *thin);

/* Appends the lines along the middle of those parts of a clean region that its inset by half a tip leaves out (all
 * parts if that is empty), except where one of the edges near them does not run along the lines `lighter`. */
gboolean dt_fill_thin_lines(const DtLines *region, const DtLines *inset, const DtThinLines *thin,
                            DtLines *out, GError **error);

/* Pieces of an area up to this many tips apart, as where a line over it cuts it, are thinned alike for the line along
 * their edge. */
#define DT_FILL_GROUP_TIPS 3.0

/* How much of the ink, 0 to 1, of a line of some length, mm, along the edge of an area, mm^2, its hatch is thinned by: all of
 * it in narrow shapes, hardly any in wide ones. */
double dt_fill_share_for_edge(double area, double edge);

/* Gaps between the lines of an open hatch are at least this many tips wide, or they would close. */
#define DT_FILL_LEAST_GAP 0.2

/* The lines that a hatch which covers a share has side by side, from gap to gap. */
static inline unsigned dt_fill_lines_in_band(double share)
{
    return share >= 1 ? 1 : (unsigned)MAX(ceil(DT_FILL_LEAST_GAP * share / (1 - share)), 1);
}

/* The coverage of each of two directions that cross and cover a share together, 1 - (1 - c)^2 if each
 * covers c (Demichel 1924). */
static inline double dt_fill_share_of_each(double share)
{
    return 1 - sqrt(1 - share);
}
