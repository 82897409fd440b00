/* tone (private to ink): how much ink makes a lightness. */
#pragma once

#include "ink/paint/colour-difference.h"
#include "ink/fill/hatch.h"

/* How dark a place is to be: the share of it that ink covers, 0 to 1. */
typedef double (*DtToneFunc)(DtPoint at, void *user);

/* The colour of paper of which a share is covered with ink: the two mixed in linear light (Murray
 * and Davies; Neugebauer for one ink). */
DtColour dt_tone_mix(DtColour paper, DtColour pen, double coverage);

/* Leaves out lines, or parts of lines, of a hatch so that what is left, drawn with a pen of width `tip`
 * mm, covers everywhere the share that `tone` asks for. Runs shorter than the tip are not drawn, and gaps
 * shorter than that are drawn across. */
void dt_tone_thin(const DtHatching *h, DtToneFunc tone, void *user, double tip, DtLines *out);
