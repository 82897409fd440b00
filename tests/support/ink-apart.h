/* ink-apart: how far the ink of one virtual machine is from that of another, for tests and benchmarks. */
#pragma once

#include "drawtrue/rig.h"

/* Greatest distance of the ink of either from that of the other, stroke by stroke, mm; G_MAXDOUBLE where
 * they have other strokes or pens. */
double ink_apart(const DtRig *a, const DtRig *b);
