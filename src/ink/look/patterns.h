/* patterns (private to ink): the local coverage of hatches and tones, blurred by the eye. */
#pragma once

#include "drawtrue/ink.h"

/* Coverage at x mm from the centre of a line of width w, of lines a period apart that are blurred
 * by a Gaussian of this standard deviation, mm. */
double dt_pattern_line(double x, double w, double period, double sigma);
/* Coverage at sample i of n, from the centre of a line to half way to the next, of lines this wide that
 * cover a share, above 0. */
double dt_pattern_hatch(int i, int n, double share, double tip, double sigma);
/* The same of a tone, whose lines are a tip apart and are dropped one by one: where most are drawn
 * the gaps form the pattern, each a tip wide. */
double dt_pattern_tone(int i, int n, double share, double tip, double sigma);
