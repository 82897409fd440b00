/* balance (private to ink): the ink that a tone asks for and that lines have laid, by place. */
#pragma once

#include "ink/picture/grid.h"

typedef struct {
    int w, h;
    double cell;         /* mm */
    DtPoint at;          /* the corner of the first cell */
    float *asked, *laid; /* mm^2 of ink in each cell */
} DtBalance;

/* Cells of about `cell` mm over a grid of shares. */
void dt_balance_init(DtBalance *b, const DtShareGrid *g, double cell);
void dt_balance_clear(DtBalance *b);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(DtBalance, dt_balance_clear)

/* Lays ink at a place, mm^2; less than 0 takes it away again. */
void dt_balance_lay(DtBalance *b, DtPoint p, double mm2);
/* What is asked for and what is laid in the square of 2 * `reach` mm around a place. */
void dt_balance_around(const DtBalance *b, DtPoint p, double reach, double *asked, double *laid);
