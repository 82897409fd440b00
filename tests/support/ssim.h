/* ssim: how alike two grey pictures are in structure (Wang, Bovik, Sheikh and Simoncelli 2004, "Image quality
 * assessment: from error visibility to structural similarity"). */
#pragma once

#include <glib.h>

/* The mean over all windows of 11 by 11 pixels, Gaussian with a standard deviation of 1.5 pixels, K1 = 0.01,
 * K2 = 0.03, of pictures of w by h values from 0 to `range`: 1 for the same picture, never more. 1 where
 * no window fits. */
double ssim_mean(const float *a, const float *b, int w, int h, double range);
