/* compose (private to ink): the data for choosing the inks of a drawing. */
#pragma once

#include "ink/look/assign.h"
#include "ink/trace.h"

/* Pens of a tone: of few colours, and of many. */
enum { DT_PENS_OF_GRADIENT = 2, DT_PENS_OF_PICTURE = 4 };

/* One visible paint, laid over the paper. */
typedef struct {
    DtColour colour;
    DtLab lab;
    int asked;
    int label;                /* label in the stack if it changes from place to place, -1
                               * otherwise */
    int tone;                 /* that label also if its tones are drawn as one flat paint */
    DtSeparation *separation; /* of such a paint */
    GArray *colours;          /* DtColour: samples of its colours */
    double dense;             /* difference of the nearest dense pen */
    gboolean picture;         /* of many colours */
    gboolean texture;         /* mean colours of one */
    DtColour mean;
    unsigned labels; /* of the stack that have it */
} DtSeenPaint;

/* A part, and what is on either side of it if it is narrow. */
typedef struct {
    gboolean narrow;
    double on_dark;  /* mm on which both sides are so much darker that it shows if it is bare */
    double on_other; /* mm on which it does not, nor are both sides lighter */
} DtPartSides;

typedef struct {
    DtTrace *t;
    GArray *paints;          /* DtSeenPaint */
    GArray *regions;         /* DtLines, by paint */
    GArray *parts;           /* DtPart; their label is the paint */
    GArray *edges, *borders; /* of the parts */
    GArray *attached;        /* int: the part from which each of the last parts was taken */
    DtPartSides *sides;      /* of each part */
    GArray *areas;           /* DtLookArea */
    GArray *keys;            /* DtAreaKey, of each area */
    int *area_of;            /* of each part */
    GArray *gaps;            /* DtPartBorder, of areas */
} DtCompose;

/* Properties shared by the parts of one area. */
typedef struct {
    int paint,
        beside; /* the paint that a narrow part mostly borders on; -1: the paper, or not narrow */
    gboolean narrow, on_dark;
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

static inline DtSeparationRules dt_compose_separation_rules(const DtTrace *t, const DtSeenPaint *p,
                                                            DtJudge judge)
{
    return (DtSeparationRules){.asked = p->asked,
                               .most = p->picture ? DT_PENS_OF_PICTURE : DT_PENS_OF_GRADIENT,
                               .way = dt_look_tone_way(t, p->picture),
                               .judge = judge,
                               .shades = p->picture};
}

/* Adds a clean region of what changes from place to place. */
void dt_compose_add_tone(DtCompose *c, int label, const DtLines *region);
/* Of areas of many parts narrower than the pen the mean colours are one paint in place of theirs: t->means, and
 * t->texture_mm2. */
gboolean dt_compose_average_textures(DtCompose *c, GError **error);
/* Separates again, for 40 cm, the tones that would differ more from there than dense ink, if all
 * together do. */
void dt_compose_bound_tones(DtCompose *c);
/* Whether the artwork is lighter beyond an edge of an open part than in it, or, unless the part is wide and bare, as
 * light in quite another colour: a bare line would not show there either. */
gboolean dt_compose_is_lighter_beside(const DtCompose *c, const DtPartEdge *e, int part, int other);
/* Whether a part is narrow and left bare, though it would show as a line. */
gboolean dt_compose_is_bare_line(const DtCompose *c, int part);
/* Of each edge, whether the part on its left (bit 0) or right (bit 1) is drawn as a line along its middle there. Free
 * with g_free(). */
uint8_t *dt_compose_find_middles(const DtCompose *c);
/* The paint of a part, -1: the paper, at a place. */
DtLab dt_compose_paint_at(const DtCompose *c, int part, DtPoint at);
/* The same in the artwork, where a paint changes that is drawn as a flat one. */
DtLab dt_compose_art_at(const DtCompose *c, int part, DtPoint at);
/* Divides a narrow region whose paint changes, with its label and samples (DtColour) of its colours: `other` is where
 * another ink than the best for all of it is much nearer, `one` the rest; clean. FALSE: one ink does. */
gboolean dt_compose_divide_narrow(const DtCompose *c, int label, const GArray *samples,
                                  const DtLines *region, DtLines *one, DtLines *other);
/* What lies beside one another differs by so much (CIEDE2000) in the artwork that it must in ink. */
#define DT_LOOK_APART_IN_ART 10.0
/* Steps along thin parts and lines, mm. */
#define DT_LOOK_THIN_STEP 0.4
/* Records the places along narrow parts where they differ from what is on either side, and counts
 * those with a darker one in c->sides; with `all`, also along narrow pieces of wide parts unless there are too many. If
 * there are too many even without, t->unseen_mm becomes NAN. */
void dt_compose_find_thin(const DtCompose *c, gboolean all);
/* The same for strokes that are drawn as lines, and what they lie on; sets `along` of the areas. */
void dt_compose_find_thin_lines(const DtCompose *c);
/* Marks the areas of which so little is seen in the artwork that nothing need tell them apart. */
void dt_compose_mark_slivers(const DtCompose *c);
/* Makes one part of the parts of each blend; those narrower than `narrow` mm join others. What is recorded of their
 * places is kept. */
gboolean dt_compose_join_blends(DtCompose *c, double narrow, GError **error);
/* Makes parts of their own, the last ones, of what is attached to others, narrower than `narrow` mm, and beside what is
 * darker. Edges and borders are found anew. */
gboolean dt_compose_take_off_lines(DtCompose *c, double narrow, GError **error);
/* Gives such a part the place of the one from which it was taken, if both are dense ink of one pen. */
void dt_compose_join_attached(const DtCompose *c, int *place_of_part);
/* Lines along the edges of open hatches, and the bare gaps, for the places of the areas:
 * place_of[i] is that of area i, -1: the paper. */
gboolean dt_compose_edges(DtCompose *c, const int *place_of, GError **error);
/* How much wider, mm, a cut along an edge has to be in the place of a tone: if there are several, their ink reaches half
 * a tip into it, since it is limited only by the edge of all of them together. */
double dt_compose_overlap(const DtCompose *c, guint place);
/* Cuts darker fields back along thin parts that are left bare, for places as above. */
gboolean dt_compose_make_room(const DtCompose *c, const int *place_of, GError **error);
/* Gives crossing lines of one ink the place of the first of them: place_of_part[i] is that of
 * part i. */
void dt_compose_join_crossings(const DtCompose *c, int *place_of_part);
