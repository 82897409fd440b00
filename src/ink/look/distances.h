/* distances (private to ink): distances from the places of a mask on a raster, and its connected pieces. */
#pragma once

#include <glib.h>
#include <stdint.h>

/* Distances are in steps of this share of a place's width. */
enum { DT_DISTANCE_ONE = 5 };

/* Of each of w * h places the distance from the nearest one where `mask` is not 0, in `out`, by steps to neighbours and as a
 * knight moves (chamfer 5-7-11, Borgefors 1986, "Distance transformations in digital images"): within 2 % of the
 * true one, at most G_MAXUINT16 / 2. */
void dt_distance_from(const uint8_t *mask, int w, int h, uint16_t *out);

/* Takes the places where `left` is not 0 that are connected with `start`, side by side, out of it; `piece` (size_t) receives
 * their numbers. */
void dt_raster_take_piece(uint8_t *left, int w, int h, size_t start, GArray *piece);
