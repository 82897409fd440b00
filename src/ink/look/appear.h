/* appear (private to ink): what ink on paper looks like, and how much that differs from a
 * colour.
 *
 * A pen whose lines cover a share of an area makes a pattern. The eye blurs it, more from a
 * larger distance, and the blurred pattern differs from the mean colour of the area. So the
 * difference is evaluated point by point over the blurred pattern and averaged (CIEDE2000), from
 * 40 cm and from 2 m. */
#pragma once

#include "ink/look/patterns.h"
#include "ink/paint/colour-difference.h"

/* Ink for an area: one pen or two, one across the other; twice the same: its lines in two directions. */
typedef struct {
    int pen[2];      /* index into the rack, -1: none; pen[0] < 0: the paper */
    double share[2]; /* that the pen's lines cover, 0 to 1; 1: dense */
} DtRecipe;

#define DT_RECIPE_PAPER ((DtRecipe){{-1, -1}, {0, 0}})

/* Possible coverages of open hatches; between the last one and 1 there is none. */
#define DT_RECIPE_LEAST 0.06
#define DT_RECIPE_MOST 0.97

/* Below this chroma a colour is a grey. */
#define DT_APPEAR_GREY 7.0

/* Ink of less than this L* is black, whatever its hue. */
#define DT_APPEAR_BLACK 20.0

/* Up to this difference from the paper a paint is nearly white: where it is left bare nothing is
 * missed. */
#define DT_APPEAR_NEARLY_WHITE 3.5
/* Shapes are seen by their lightness first: CIEDE2000 alone would take a pen of the right hue that is far too dark.
 * The difference of the mean lightness counts once more, by this much. */
#define DT_APPEAR_LIGHTNESS_COUNTS 0.25

typedef struct DtAppear DtAppear;

/* `rack` is kept. */
DtAppear *dt_appear_new(const DtRack *rack, DtColour paper);
void dt_appear_free(DtAppear *a);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtAppear, dt_appear_free)

/* The mean colour of a recipe, linear light: one pen by Murray and Davies, two by Neugebauer's
 * equations with Demichel's shares; where inks overlap their transmittances are multiplied. */
void dt_appear_light(const DtAppear *a, DtRecipe r, double light[3]);
DtLab dt_appear_lab(const DtAppear *a, DtRecipe r);
/* The same of any number of pens, each covering a share by itself. */
void dt_appear_light_of_many(const DtAppear *a, const int *pen, const double *share, size_t n,
                             double light[3]);

/* The mean colour of a recipe if its inks are opaque, the darker one on top: where two overlap only that is seen, unless
 * their overprint was measured. */
DtLab dt_appear_opaque_lab(const DtAppear *a, DtRecipe r);

/* Difference between the recipe and a colour: the weighted mean of both distances, and a share of the difference
 * of the mean lightness. */
double dt_appear_difference(const DtAppear *a, DtLab colour, DtRecipe r);

/* The same from 40 cm only. */
double dt_appear_near_difference(const DtAppear *a, DtLab colour, DtRecipe r);
/* Difference between a tone and a colour when its pens cover these shares, which vary; from both
 * distances, or from 40 cm only. */
double dt_appear_tone_difference(const DtAppear *a, DtLab colour, DtRecipe r, DtToneWay way,
                                 gboolean near);
/* Difference of the nearest dense pen, or of the bare paper if the colour is nearly white. A light
 * grey that is not must be inked: its hatch is compared with ink, not with the paper. */
double dt_appear_dense_difference(const DtAppear *a, DtLab colour);
/* From here on no open hatch is chosen whose difference from 40 cm exceeds that of the nearest
 * dense pen. */
void dt_appear_bound_near(DtAppear *a);
/* Whether that is so of a recipe. */
gboolean dt_appear_is_too_far(const DtAppear *a, DtLab colour, DtRecipe r);

int dt_appear_n_pens(const DtAppear *a);
/* The next coverage up (way +1) or down (-1) of those that are tried; 0 if there is none. */
double dt_appear_next_share(double share, int way);

/* Constraints on the choice. */
typedef struct {
    int only;          /* only this pen, whatever the difference; -1: any */
    int hatch;         /* open hatches only by this pen; -1: by any */
    int second;        /* if `hatch` is given: also by these two, one across the other; -1: none */
    gboolean greys;    /* if `hatch` is given: also by all pens with grey ink */
    double least;      /* least coverage of open hatches: fewer lines would not show the area's
                        * shape */
    gboolean flat;     /* dense or bare, no open hatch */
    gboolean two_pens; /* a second pen may be laid across */
} DtAppearLimits;

/* The recipe with the least difference; a dense one if its difference is about as small. */
DtRecipe dt_appear_choose(DtAppear *a, DtLab colour, DtAppearLimits limits);

/* Difference between ink and a colour in a line or a part too narrow for a pattern, of which the
 * pen covers a share (pen -1: the paper). The eye resolves lightness more finely than hue, so
 * differences in chroma count half (Mullen 1985 has the ratio of the acuities at about three;
 * half is common practice, no source). */
double dt_appear_thin_difference(const DtAppear *a, DtLab colour, int pen, double share);
/* The nearest pen by that measure, dense; -1 if the paper is nearer than any, unless `ink`
 * requires a pen. */
int dt_appear_choose_thin(const DtAppear *a, DtLab colour, gboolean ink);

/* The pen for a line of this paint and width, mm, that is thinner than the tip of `nearest`, the
 * nearest pen by colour: at the tip's width it would look too dark. Another pen of about the
 * same hue and chroma is used if the difference as seen by the eye, which blurs both, is much
 * smaller. */
int dt_appear_choose_line(const DtAppear *a, DtColour paint, double width, int nearest);

/* Difference between a line of a grey, `width` mm wide, and one of a grey ink, `drawn` mm wide, as the eye sees
 * them: blurred with the paper beside them. The mean over the width of the ink, from both distances. Of other colours
 * the difference of dense ink: blurring a line does not change its hue. */
double dt_appear_line_difference(DtAppear *a, DtColour paint, double width, int pen, double drawn);

/* A grey line or narrow part, `width` mm wide, that a recipe would draw in colour: drawn in grey ink
 * instead, dense or covering `least`, unless the eye finds that much farther. It blurs a line with
 * the paper beside it, so that black ink looks lighter than it is, and stays grey. */
DtRecipe dt_appear_keep_grey(const DtAppear *a, DtLab colour, double width, double least,
                             DtRecipe r);
