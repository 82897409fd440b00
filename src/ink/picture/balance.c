/* balance: the ink that a tone asks for and that lines have laid, by place. */
#include "ink/picture/balance.h"

#include <math.h>
#include <string.h>

static int cell_of(double from, double v, double cell, int n)
{
    return CLAMP((int)floor((v - from) / cell), 0, n - 1);
}

static size_t cell_at(const DtBalance *b, DtPoint p)
{
    return (size_t)cell_of(b->at.y, p.y, b->cell, b->h) * (size_t)b->w +
           (size_t)cell_of(b->at.x, p.x, b->cell, b->w);
}

void dt_balance_init(DtBalance *b, const DtShareGrid *g, double cell)
{
    const double half = g->step / 2;
    *b = (DtBalance){.cell = MAX(cell, g->step), .at = {g->at.x - half, g->at.y - half}};
    b->w = (int)(g->w * g->step / b->cell) + 1;
    b->h = (int)(g->h * g->step / b->cell) + 1;
    b->asked = g_new0(float, (size_t)b->w *(size_t)b->h);
    b->laid = g_new0(float, (size_t)b->w *(size_t)b->h);
    for (int y = 0; y < g->h; y++)
        for (int x = 0; x < g->w; x++)
            b->asked[cell_at(b, dt_share_grid_point(g, x, y))] +=
                (float)(g->step * g->step) * g->share[(size_t)y * (size_t)g->w + (size_t)x];
}

void dt_balance_clear(DtBalance *b)
{
    g_free(b->asked);
    g_free(b->laid);
    memset(b, 0, sizeof *b);
}

void dt_balance_lay(DtBalance *b, DtPoint p, double mm2)
{
    b->laid[cell_at(b, p)] += (float)mm2;
}

void dt_balance_around(const DtBalance *b, DtPoint p, double reach, double *asked, double *laid)
{
    const int x0 = cell_of(b->at.x, p.x - reach, b->cell, b->w),
              x1 = cell_of(b->at.x, p.x + reach, b->cell, b->w),
              y0 = cell_of(b->at.y, p.y - reach, b->cell, b->h),
              y1 = cell_of(b->at.y, p.y + reach, b->cell, b->h);
    *asked = *laid = 0;
    for (int y = y0; y <= y1; y++)
        for (int x = x0; x <= x1; x++) {
            const size_t i = (size_t)y * (size_t)b->w + (size_t)x;
            *asked += (double)b->asked[i];
            *laid += (double)b->laid[i];
        }
}
