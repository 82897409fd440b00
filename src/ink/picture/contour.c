/* contour: lines of equal share by marching squares. */
#include "ink/picture/flow.h"

#include "ink/plane/region.h"

#include <math.h>

static double share_at(const DtShareGrid *g, int x, int y)
{
    return x < 0 || y < 0 || x >= g->w || y >= g->h
               ? 0
               : (double)g->share[(size_t)y * (size_t)g->w + (size_t)x];
}

/* Where the level lies between two places. */
static DtPoint between(const DtShareGrid *g, int x0, int y0, int x1, int y1, double level)
{
    double a = share_at(g, x0, y0), b = share_at(g, x1, y1);
    double t = CLAMP((level - a) / (b - a), 0, 1);
    return dt_share_grid_point(g, x0 + t * (x1 - x0), y0 + t * (y1 - y0));
}

/* The part of a cell above the level, as a ring; most cells have all or none. */
static void add_cell(const DtShareGrid *g, int x, int y, double level, DtLines *out)
{
    static const int dx[4] = {0, 1, 1, 0}, dy[4] = {0, 0, 1, 1};
    gboolean begun = FALSE;
    for (int i = 0; i < 4; i++) {
        int k = (i + 1) % 4, ax = x + dx[i], ay = y + dy[i], bx = x + dx[k], by = y + dy[k];
        gboolean a = share_at(g, ax, ay) > level, b = share_at(g, bx, by) > level;
        if ((a || a != b) && !begun) {
            dt_lines_begin(out);
            begun = TRUE;
        }
        if (a)
            dt_lines_point(out, dt_share_grid_point(g, ax, ay));
        if (a != b)
            dt_lines_point(out, between(g, ax, ay, bx, by, level));
    }
    if (begun)
        dt_lines_close(out);
}

void dt_contour_lines(const DtShareGrid *g, int levels, DtLines *out)
{
    for (int i = 0; i < levels; i++) {
        g_auto(DtLines) cells, region;
        dt_lines_init(&cells);
        dt_lines_init(&region);
        for (int y = -1; y < g->h; y++)
            for (int x = -1; x < g->w; x++)
                add_cell(g, x, y, (i + 0.5) / levels, &cells);
        if (dt_region_clean(&cells, DT_PLANE_NONZERO, &region, NULL))
            dt_region_simplify(&region, g->step / 8, out);
    }
}
