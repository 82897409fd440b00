/* patterns (private to ink): the local coverage of hatches and tones, blurred by the eye. */
#pragma once

#include "drawtrue/ink.h"

/* Coverage at x mm from the centre of a line of width w, of lines a period apart that are blurred
 * by a Gaussian of this standard deviation, mm. */
double dt_pattern_line(double x, double w, double period, double sigma);
/* Coverage at sample i of n, from the centre of a line to half way to the next, of lines this wide that
 * cover a share, above 0. */
double dt_pattern_hatch(int i, int n, double share, double tip, double sigma);
/* How tones are drawn: by lines a tip apart that are dropped one by one, so that where most are drawn the gaps form
 * the pattern, each a tip wide; or by even hatches, whose gaps are as narrow as the pen allows. */
typedef enum { DT_TONE_THINNED, DT_TONE_EVEN, DT_TONE_WAYS } DtToneWay;

/* The same of a tone. */
double dt_pattern_tone(int i, int n, double share, double tip, double sigma, DtToneWay way);
