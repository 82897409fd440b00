/* correct: lost motion along an axis, in commanded mm. Private to the room. */
#pragma once

#include "drawtrue/machine.h"

/* How far the carriage at `c` (commanded mm) lags behind when it is driven towards -. */
double dt_correct_lost(const DtProfile *p, int axis, double c);
/* Length of cord wound by one turn of the pulley, mm. */
double dt_correct_turn_mm(const DtProfile *p, int axis);
