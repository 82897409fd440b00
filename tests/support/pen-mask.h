/* pen-mask: where a pen is wider than what it has to draw. */
#pragma once

#include <stdint.h>

/* 1 in `near` (w*h) for each pixel within `radius` pixels of a part of the mask that is narrower
 * than a round pen of that radius and stands out from where the pen fits by more than half the
 * radius. A pen that draws such a part cannot leave all of these pixels white. */
void pen_mask_near_narrow(const uint8_t *mask, int w, int h, double radius, uint8_t *near);

/* Squared distance of each pixel to the nearest one of `mask` that equals `what` (exact; 1e7 where
 * there is none). */
void pen_mask_squared_distance(const uint8_t *mask, uint8_t what, int w, int h, float *out);

/* A raster's edge may be this far (pixels) from the true one. */
#define PEN_MASK_RASTER 0.75

/* The part of a mask that is painted, with `margin` pixels of room about it: a mask of *cw times
 * *ch whose upper left corner lies at (*x0, *y0) of the first, which may be outside of it. Free
 * with g_free(). */
uint8_t *pen_mask_crop(const uint8_t *mask, int w, int h, int margin, int *x0, int *y0, int *cw,
                       int *ch);
