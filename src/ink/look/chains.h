/* chains (private to ink): stretches of edges as long lines. */
#pragma once

#include "drawtrue/geom.h"

/* Joins open lines end to end where just two of them end at a point; a ring of them becomes a closed line. */
void dt_chain_stretches(DtLines *l);
