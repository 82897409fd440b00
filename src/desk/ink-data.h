/* ink-data: moves as what the page draws: typed arrays, little-endian, after a header of 64 bytes.
 *
 *     0   u32  0x314B4E49, "INK1"
 *     4   u32  strokes n, u32 points m
 *     12  u32  0
 *     16  f64  seconds of the whole, homing and pen changes left out; f64 seconds of homing
 *     64  f32  x, y of each point (2 m), bed mm
 *         u32  first point of each stroke (n + 1)
 *         f32  begin of each stroke, s (n); f32 end (n)
 *         u8   pen of each stroke, index in the rack (n)
 */
#pragma once

#include "drawtrue/code.h"

typedef struct {
    size_t strokes, points;
    double total_s, home_s;
} DtInkSummary;

GBytes *dt_desk_ink_bytes(const DtMoves *m, const DtTimes *t, DtInkSummary *out);

/* The start of stroke number `i`, from 0; 0 if there is none. */
double dt_desk_ink_begin_s(GBytes *ink, const DtInkSummary *sum, size_t i);

enum { DT_OWN_PARTS = 480 };

/* A drawing in its original order: which pen draws in each equal part of its time. */
typedef struct {
    gboolean known;
    double total_s;
    size_t changes;
    uint8_t pen[DT_OWN_PARTS]; /* 255: none */
} DtOwnOrder;

void dt_desk_own_order(const DtMoves *m, const DtTimes *t, DtOwnOrder *out);
