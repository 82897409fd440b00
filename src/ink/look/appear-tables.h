/* appear-tables (private to appear.c and appear-lines.c): what both halves know of the pens. */
#pragma once

#include "ink/look/appear.h"

#include <math.h>

/* Standard deviations of the eye's luminance blur on the paper, mm, from 40 cm and from 2 m (the
 * narrow Gaussian of S-CIELAB, Zhang and Wandell 1997), and the weight of each. */
#define NEAR 0.14
#define FAR 0.70
#define NEAR_COUNTS 0.55
/* Sample points across half a pattern. */
enum { NEAR_SAMPLES = 12, FAR_SAMPLES = 5, SAMPLES = NEAR_SAMPLES + FAR_SAMPLES };
/* Shares that are tried; the last is dense. */
enum { LEVELS = 38 };
/* Shares of tones. */
enum { TONE_STEPS = 20 };

struct DtAppear {
    const DtRack *rack;
    DtColour paper;
    double paper_light[3];
    DtLab paper_lab;
    double (*light)[3];               /* of each pen */
    double *gain;                     /* its n of Yule and Nielsen */
    double (*over)[3];                /* of each two pens: light of both inks */
    DtLab *lab;                       /* the same */
    double (*share)[LEVELS][SAMPLES]; /* of each pen: local coverage of its blurred lines */
    DtLab (*seen)[LEVELS][SAMPLES];   /* the same, seen */
    DtLab (*mean)[LEVELS];            /* of each pen: the mean colour of its lines */
    double (*rough)[LEVELS];          /* and their mean difference from it, from 40 cm */
    /* The same of each way to draw tones, whose share changes from place to place, in steps of 1/TONE_STEPS. */
    double (*tone_share)[DT_TONE_WAYS][TONE_STEPS + 1][SAMPLES];
    DtLab (*tone_seen)[DT_TONE_WAYS][TONE_STEPS + 1][SAMPLES];
    gboolean near_bound;
    GHashTable *known; /* of colours and limits -> DtRecipe */
    GHashTable *lines; /* of lines' colours, widths and pens -> double: their differences */
    gboolean has_line; /* of the last line that was asked for, */
    DtColour line;     /* its paint, and that as seen */
    DtLab line_lab;
};

static inline void light_of(DtColour c, double out[3])
{
    out[0] = dt_colour_linear(c.r);
    out[1] = dt_colour_linear(c.g);
    out[2] = dt_colour_linear(c.b);
}

/* After Murray and Davies, and Yule and Nielsen where n > 1. */
static inline void mix_light(const double *paper, const double *ink, double share, double n,
                             double *out)
{
    for (int c = 0; c < 3; c++)
        out[c] = n == 1 ? paper[c] * (1 - share) + ink[c] * share
                        : pow(pow(paper[c], 1 / n) * (1 - share) + pow(ink[c], 1 / n) * share, n);
}

static inline DtLab lab_of(const double *light)
{
    return dt_colour_lab_linear(light[0], light[1], light[2]);
}

static inline gboolean is_grey(DtLab c)
{
    return hypot(c.a, c.b) < DT_APPEAR_GREY;
}
