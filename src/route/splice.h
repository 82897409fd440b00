/* splice: loops into the pieces that pass them. A loop ends where it begins, so wherever a piece
 * comes within the join of a loop, the pen can go round it there and then on, without a lift.
 * Private to route. */
#pragma once

#include "route/pieces.h"

typedef struct {
    DtPiece *p;
    size_t n, cap;
} DtPieces;

void dt_pieces_add(DtPieces *to, DtPiece piece);

/* Puts every loop that comes within `join` mm of another piece into it, ends of pieces first, and open
 * pieces of up to `retrace` mm out and back where that saves a lift; returns how many of these. The
 * points of pieces that grew belong to `owned`, an array that frees them. */
size_t dt_pieces_splice(DtPieces *set, double join, double retrace, GPtrArray *owned);

/* Sets is_spur[i], of each piece, where the pen may draw it out and back from another one; returns how
 * many. None is longer than `longest` mm. */
size_t dt_spurs_find(const DtPieces *set, double join, double longest, uint8_t *is_spur);
