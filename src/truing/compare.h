/* compare: what the files that compare sheets share. Private to the room. */
#pragma once

#include "drawtrue/truing.h"

/* Value of the figures of one kind along an axis at a place: linear between, constant beyond; 0 where there
 * are none. */
double dt_figures_value_at(const DtFigures *f, DtErrorKind kind, int axis, double at);
