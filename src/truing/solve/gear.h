/* gear: an error that repeats with each tooth of a gear, whose period nobody has told. Private to the
 * room. */
#pragma once

#include "truing/solve/model.h"

typedef struct {
    double amplitude, sd; /* mm; 0 where nothing stands out of the noise */
    double period;        /* mm along the axis */
} DtGearError;

/* By the periodogram of what the fit leaves at unevenly spaced places (Lomb 1976, Scargle 1982): the strongest
 * period from 0.8 to 6 mm, where chance would give one as strong in 1 of 100 cases at most. */
void dt_find_gear(const DtModel *m, int axis, DtGearError *out);
