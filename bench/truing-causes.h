/* truing-causes: how much of the ink's error on corrected machines comes of each cause, and how much of the
 * expected error does. */
#pragma once

#include "truing-loop.h"

/* For n machines from the seed on, with a drawing; prints. Returns the exit code. */
int truing_causes(int n, int seed, const char *art, const char *folder);
