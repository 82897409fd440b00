/* grid: a tone on a square grid. */
#include "ink/picture/grid.h"

#include <math.h>
#include <string.h>

void dt_share_grid_make(const DtLines *region, DtToneFunc tone, void *user, double step,
                        size_t most, DtShareGrid *out)
{
    DtBox b = dt_lines_box(region);
    memset(out, 0, sizeof *out);
    if (dt_box_is_empty(b))
        return;
    out->step = MAX(step, sqrt(dt_box_width(b) * dt_box_height(b) / (double)most));
    out->step = MAX(out->step, MAX(dt_box_width(b), dt_box_height(b)) / 30000);
    out->w = MAX(1, (int)ceil(dt_box_width(b) / out->step));
    out->h = MAX(1, (int)ceil(dt_box_height(b) / out->step));
    out->at = dt_point(b.x0 + out->step / 2, b.y0 + out->step / 2);
    out->share = g_new0(float, (size_t)out->w *(size_t)out->h);
    g_auto(DtHatching) rows = {0};
    if (!dt_hatch_lines(region, DT_FILL_NONZERO, (DtHatchGrid){0, out->step, out->at.y}, &rows,
                        NULL))
        return;
    for (size_t i = 0; i < rows.n; i++) {
        int y = rows.c[2 * i].line;
        int x0 = (int)ceil((rows.c[2 * i].u - out->at.x) / out->step);
        int x1 = (int)floor((rows.c[2 * i + 1].u - out->at.x) / out->step);
        for (int x = MAX(x0, 0); x <= MIN(x1, out->w - 1) && y >= 0 && y < out->h; x++) {
            double s = tone(dt_share_grid_point(out, x, y), user);
            out->share[(size_t)y * (size_t)out->w + (size_t)x] = (float)CLAMP(s, 0, 1);
        }
    }
}

void dt_share_grid_clear(DtShareGrid *g)
{
    g_free(g->share);
    memset(g, 0, sizeof *g);
}

static double place(const DtShareGrid *g, int x, int y)
{
    return x < 0 || y < 0 || x >= g->w || y >= g->h
               ? 0
               : (double)g->share[(size_t)y * (size_t)g->w + (size_t)x];
}

double dt_share_grid_at(const DtShareGrid *g, DtPoint p)
{
    double x = (p.x - g->at.x) / g->step, y = (p.y - g->at.y) / g->step;
    if (!(x > -1 && y > -1 && x < g->w && y < g->h))
        return 0;
    int i = (int)floor(x), k = (int)floor(y);
    double u = x - i, v = y - k;
    return (place(g, i, k) * (1 - u) + place(g, i + 1, k) * u) * (1 - v) +
           (place(g, i, k + 1) * (1 - u) + place(g, i + 1, k + 1) * u) * v;
}
