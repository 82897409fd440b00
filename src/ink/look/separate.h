/* separate (private to ink): separates gradients and pictures into pens, each with a local
 * share. */
#pragma once

#include "ink/look/appear.h"

enum { DT_SEPARATION_MOST = 4 };

typedef struct DtSeparation DtSeparation;

/* The distance for which the difference is evaluated. */
typedef enum { DT_JUDGE_BOTH, DT_JUDGE_NEAR } DtJudge;

typedef struct {
    int asked;     /* 0 or more: only this pen */
    unsigned most; /* pens */
    DtToneWay way;
    DtJudge judge;
    gboolean shades; /* light and shade count as such: in pictures, which show things by them */
} DtSeparationRules;

/* Pens for a range of colours, laid over the paper: the one with the least difference to all,
 * then others as long as each reduces noticeably the difference, or that and the error of light
 * and shade. The shares are those with the nearest mean colour by Neugebauer's equations
 * (CIEDE2000, and the difference of lightness once more where light and shade count); how the
 * pattern of one pen or two looks is evaluated from both distances or from 40 cm only. */
DtSeparation *dt_separation_new(const DtAppear *appear, const DtColour *colours, size_t n,
                                DtSeparationRules rules);
/* The mean difference from 40 cm between some colours and the pens' result, and with it, where these count, the
 * error of light and shade: the standard deviation of the difference of L*. With shares for that distance the mean
 * difference never exceeds that of the nearest dense pen. */
double dt_separation_near(const DtSeparation *s, const DtColour *colours, size_t n);
/* The sampling interval for n colours. */
size_t dt_separation_step(size_t n);
void dt_separation_free(DtSeparation *s);
unsigned dt_separation_n_pens(const DtSeparation *s);
int dt_separation_pen(const DtSeparation *s, unsigned i);
/* The share of pen number i where the picture has this colour. */
double dt_separation_share(DtSeparation *s, unsigned i, DtColour c);
/* The mean difference between the colours it was made for and the pens' result. */
double dt_separation_difference(const DtSeparation *s);
/* The one pen that, used densely, has the least difference to all these colours, and the mean of that difference,
 * with `shades` and the standard deviation of their L*, none of which a dense pen shows. */
int dt_separation_dense(const DtAppear *appear, const DtColour *colours, size_t n, gboolean shades,
                        double *difference);
