/* separate (private to ink): gradients and pictures taken apart into pens, each with a share of its own
 * from place to place. */
#pragma once

#include "ink/look/appear.h"

enum { DT_SEPARATION_MOST = 4 };

typedef struct DtSeparation DtSeparation;

/* From where the eye judges. */
typedef enum { DT_JUDGE_BOTH, DT_JUDGE_NEAR } DtJudge;

/* Pens for a range of colours, laid over the paper: the one that comes nearest to all, then others while
 * each brings them nearer by a noticeable amount; `most` pens at most. asked >= 0: that pen alone. The
 * shares are those whose mean colour by Neugebauer's equations is nearest (CIEDE2000). Nearest is what looks so
 * from both distances, or from 40 cm alone. */
DtSeparation *dt_separation_new(const DtAppear *appear, const DtColour *colours, size_t n,
                                int asked, unsigned most, DtJudge judge);
/* The mean difference from 40 cm of some colours as the pens make them; judged so, it is never above that of the
 * nearest dense pen. */
double dt_separation_near(const DtSeparation *s, const DtColour *colours, size_t n);
/* Every how manieth of n colours is looked at. */
size_t dt_separation_step(size_t n);
void dt_separation_free(DtSeparation *s);
unsigned dt_separation_n_pens(const DtSeparation *s);
int dt_separation_pen(const DtSeparation *s, unsigned i);
/* The share of pen number i where the picture has this colour. */
double dt_separation_share(DtSeparation *s, unsigned i, DtColour c);
/* The mean difference between the colours it was made for and what the pens make of them. */
double dt_separation_difference(const DtSeparation *s);
/* The one pen that, laid densely, comes nearest to all these colours, and by how much it is off in the
 * mean. */
int dt_separation_dense(const DtAppear *appear, const DtColour *colours, size_t n,
                        double *difference);
