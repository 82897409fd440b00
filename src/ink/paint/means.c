/* means: reading them. */
#include "ink/paint/means.h"

#include <math.h>

static double channel(const DtMeans *m, int x, int y, int c)
{
    return (double)m->rgb[3 * ((size_t)y * (size_t)m->w + (size_t)x) + (size_t)c];
}

DtColour dt_means_at(const DtMeans *m, DtPoint p)
{
    const double x = CLAMP((p.x - m->at.x) / m->step, 0, m->w - 1),
                 y = CLAMP((p.y - m->at.y) / m->step, 0, m->h - 1);
    const int i = (int)x, k = (int)y, i1 = MIN(i + 1, m->w - 1), k1 = MIN(k + 1, m->h - 1);
    const double u = x - i, v = y - k;
    double out[3];
    for (int c = 0; c < 3; c++)
        out[c] = (channel(m, i, k, c) * (1 - u) + channel(m, i1, k, c) * u) * (1 - v) +
                 (channel(m, i, k1, c) * (1 - u) + channel(m, i1, k1, c) * u) * v;
    return (DtColour){out[0], out[1], out[2], 1};
}

void dt_means_free(DtMeans *m)
{
    if (m)
        g_free(m->rgb);
    g_free(m);
}
