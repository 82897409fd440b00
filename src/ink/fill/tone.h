/* tone (private to ink): how much ink makes a lightness. */
#pragma once

#include "ink/paint/colour-difference.h"
#include "ink/fill/hatch.h"

/* The local darkness: the share that ink covers, 0 to 1. */
typedef double (*DtToneFunc)(DtPoint at, void *user);

/* The colour of paper of which a share is covered with ink: the two mixed in linear light (Murray
 * and Davies; Neugebauer for one ink). */
DtColour dt_tone_mix(DtColour paper, DtColour pen, double coverage);

/* Drops lines, or parts of lines, of a hatch so that the rest, drawn with a pen of width `tip`
 * mm, covers the local share that `tone` requests. Runs shorter than the tip are not drawn, and
 * gaps shorter than the tip are closed. */
void dt_tone_thin(const DtHatching *h, DtToneFunc tone, void *user, double tip, DtLines *out);
