/* cells (private to ink): a grid of stretches of lines, to find those near a place. */
#pragma once

#include "drawtrue/ink.h"

typedef struct {
    DtPoint a, b;
    size_t of; /* the caller's number of the line */
} DtCellStretch;

typedef struct DtCells DtCells;

/* Stretches are found from places up to `reach` mm away. */
DtCells *dt_cells_new(double reach);
void dt_cells_free(DtCells *c);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(DtCells, dt_cells_free)
/* Adds the straight line from a to b. */
void dt_cells_add(DtCells *c, DtPoint a, DtPoint b, size_t of);
/* All stretches (DtCellStretch) within reach of a place, and some others; NULL: none. A line may
 * come in several. */
const GArray *dt_cells_near(const DtCells *c, DtPoint at);
