/* appear (private to ink): what ink on paper looks like, and how far that is from a colour.
 *
 * A pen whose lines cover a share of an area makes a pattern. The eye blurs it, more from afar, and
 * what is left of the pattern is not the colour that the area has by its mean. So the difference is
 * taken place by place over the blurred pattern and averaged (CIEDE2000), from 40 cm and from 2 m. */
#pragma once

#include "ink/paint/colour-difference.h"

/* Ink for an area: one pen or two, one across the other. */
typedef struct {
    int pen[2];      /* index into the rack, -1: none; pen[0] < 0: the paper */
    double share[2]; /* that the pen's lines cover, 0 to 1; 1: dense */
} DtRecipe;

#define DT_RECIPE_PAPER ((DtRecipe){{-1, -1}, {0, 0}})

/* Shares that open hatches may have; between the last and 1 there is none. */
#define DT_RECIPE_LEAST 0.06
#define DT_RECIPE_MOST 0.8

typedef struct DtAppear DtAppear;

/* `rack` is kept. */
DtAppear *dt_appear_new(const DtRack *rack, DtColour paper);
void dt_appear_free(DtAppear *a);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtAppear, dt_appear_free)

/* The mean colour of a recipe, linear light: one pen by Murray and Davies, two by Neugebauer's equations
 * with Demichel's shares; where inks lie over one another their transmittances are multiplied. */
void dt_appear_light(const DtAppear *a, DtRecipe r, double light[3]);
DtLab dt_appear_lab(const DtAppear *a, DtRecipe r);
/* The same of any number of pens, each covering a share by itself. */
void dt_appear_light_of_many(const DtAppear *a, const int *pen, const double *share, size_t n,
                             double light[3]);

/* How far the recipe looks from a colour: the weighted mean of both distances. */
double dt_appear_difference(const DtAppear *a, DtLab colour, DtRecipe r);

/* The same from 40 cm alone. */
double dt_appear_near_difference(const DtAppear *a, DtLab colour, DtRecipe r);
/* How far a tone looks from a colour where its pens cover these shares, which change from place to place; from
 * both distances, or from 40 cm alone. */
double dt_appear_tone_difference(const DtAppear *a, DtLab colour, DtRecipe r, gboolean near);
/* How far the nearest dense pen is, or the bare paper. */
double dt_appear_dense_difference(const DtAppear *a, DtLab colour);
/* From here on no open hatch is chosen that from 40 cm looks farther than the nearest dense pen. */
void dt_appear_bound_near(DtAppear *a);

int dt_appear_n_pens(const DtAppear *a);
/* The next share up (way +1) or down (-1) of those that are tried; 0 where there is none. */
double dt_appear_next_share(double share, int way);

/* What may be chosen from. */
typedef struct {
    int only;   /* this pen alone, whatever it costs; -1: any */
    int hatch;  /* open hatches by this pen alone; -1: by any */
    int second; /* where `hatch` is given: by these two, one across the other, as well; -1: none */
    double least;      /* share of open hatches: fewer lines would not show the area's shape */
    gboolean flat;     /* dense or bare, no open hatch */
    gboolean two_pens; /* a second pen may be laid across */
} DtAppearLimits;

/* The recipe that looks nearest; where a dense one is about as near, that. */
DtRecipe dt_appear_choose(DtAppear *a, DtLab colour, DtAppearLimits limits);

/* How far ink is from a colour in a line or a part too narrow for a pattern, of which the pen covers a
 * share (pen -1: the paper). The eye sees lightness in detail finer than hue, so differences in chroma
 * count half (Mullen 1985 has the ratio of the acuities at about three; half is common practice, no
 * source). */
double dt_appear_thin_difference(const DtAppear *a, DtLab colour, int pen, double share);
/* The nearest pen so, dense; -1 where the paper is nearer than any, unless `ink` asks for a pen. */
int dt_appear_choose_thin(const DtAppear *a, DtLab colour, gboolean ink);

/* The pen for a line of this paint and width, mm, that is thinner than the tip of `nearest`, the nearest pen by
 * colour: drawn at the tip's width it would look darker than it is. Another pen of about the same hue and
 * chroma is taken where the eye, which blurs both, finds it much nearer. */
int dt_appear_choose_line(const DtAppear *a, DtColour paint, double width, int nearest);
