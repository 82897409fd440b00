/* splice: inserts loops into the pieces that pass them. A loop ends where it begins, so wherever
 * a piece comes within the join of a loop, the pen can go round it there and continue, without a
 * lift. Private to route. */
#pragma once

#include "route/pieces.h"

typedef struct {
    DtPiece *p;
    size_t n, cap;
} DtPieces;

void dt_pieces_add(DtPieces *to, DtPiece piece);

/* Inserts every loop that comes within `join` mm of another piece into it, ends of pieces first.
 * The points of pieces that grew belong to `owned`, an array that frees them. */
void dt_pieces_splice(DtPieces *set, double join, GPtrArray *owned);
