/* distance: two passes over the raster, one each way. */
#include "ink/look/distance.h"

typedef struct {
    int dx, dy, cost;
} Step;

static const Step steps[] = {{-1, 0, 5},   {0, -1, 5},  {-1, -1, 7},  {1, -1, 7},
                             {-1, -2, 11}, {1, -2, 11}, {-2, -1, 11}, {2, -1, 11}};

static void relax(uint16_t *d, int w, int h, int x, int y, int sign)
{
    uint16_t *own = &d[(size_t)y * (size_t)w + (size_t)x];
    for (size_t i = 0; i < G_N_ELEMENTS(steps); i++) {
        const int x1 = x + sign * steps[i].dx, y1 = y + sign * steps[i].dy;
        if (x1 < 0 || y1 < 0 || x1 >= w || y1 >= h)
            continue;
        const int by = d[(size_t)y1 * (size_t)w + (size_t)x1] + steps[i].cost;
        if (by < *own)
            *own = (uint16_t)by;
    }
}

void dt_distance_from(const uint8_t *mask, int w, int h, uint16_t *out)
{
    const size_t n = (size_t)w * (size_t)h;
    for (size_t i = 0; i < n; i++)
        out[i] = mask[i] ? 0 : G_MAXUINT16 / 2;
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++)
            if (out[(size_t)y * (size_t)w + (size_t)x] > 0)
                relax(out, w, h, x, y, 1);
    for (int y = h - 1; y >= 0; y--)
        for (int x = w - 1; x >= 0; x--)
            if (out[(size_t)y * (size_t)w + (size_t)x] > 0)
                relax(out, w, h, x, y, -1);
}
