/* grid (private to ink): the share of the paper that a pen is to cover, sampled over a region. */
#pragma once

#include "ink/fill/tone.h"

typedef struct {
    int w, h;
    DtPoint at;   /* the middle of the first place */
    double step;  /* mm between places */
    float *share; /* w*h, rows upwards; 0 outside of the region */
} DtShareGrid;

/* Samples a tone inside a clean region, `step` mm apart or more, at `most` places at most. */
void dt_share_grid_make(const DtLines *region, DtToneFunc tone, void *user, double step,
                        size_t most, DtShareGrid *out);
void dt_share_grid_clear(DtShareGrid *g);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtShareGrid, dt_share_grid_clear)

static inline DtPoint dt_share_grid_point(const DtShareGrid *g, double x, double y)
{
    return dt_point(g->at.x + x * g->step, g->at.y + y * g->step);
}
/* Interpolated linearly; 0 outside the grid. */
double dt_share_grid_at(const DtShareGrid *g, DtPoint p);
