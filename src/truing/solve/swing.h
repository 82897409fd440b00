/* swing: how a carriage swings after a sudden start or stop, from the strokes in steps. Private to the room. */
#pragma once

#include "drawtrue/truing.h"

typedef struct {
    gboolean drawn; /* the sheet has such strokes, and enough of them was seen */
    double hz;      /* 0: nothing stands out of the noise */
    double
        size; /* mm, of the swing after a stop at the pull-in rate, without its damping: v / (2 pi f) */
    double sd; /* of the size; where nothing stands out, of a swing that was looked for */
} DtSwing;

/* By a damped sine behind each corner, as a mass on a spring makes it whose end jumps from one speed to another, all
 * corners of an axis together; its frequency and damping are searched for. The uncertainty follows from how much the
 * corners differ. A swing is told where its size is 4.5 standard uncertainties, which chance reaches in 1 of 100
 * cases at most (Student's t of 15 degrees of freedom, Bonferroni over 30 trials). */
void dt_find_swing(const DtEvidence *e, const DtProfile *p, int axis, DtSwing *out);
