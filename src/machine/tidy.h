/* tidy: makes the way of the carriage through one run fit for motors with slack. Private to the
 * room. */
#pragma once

#include "machine/correct.h"

/* A position of the carriage, commanded mm. turn[i] is 0, or the direction (-1 or 1) in which axis
 * i, which stands still on the way to here, sets out afterwards: its slack is taken up on the way.
 */
typedef struct {
    double at[2];
    int8_t turn[2];
} DtCarriagePoint;

/* Tidies `points`, a GArray of DtCarriagePoint, in place; `spare` is another for its own use. The first
 * and last points stay where they are within half a step, and nothing strays by more than a step:
 * reversals smaller than half a step are not followed on an axis with slack; points within a
 * quarter of a step of the line between their neighbours go; and where an axis turns round gently,
 * it waits within a step of its outermost point while the other axis goes on and its own slack is
 * taken up. */
void dt_tidy_run(const DtProfile *p, GArray *points, GArray *spare);
