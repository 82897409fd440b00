/* distances: by two passes, one each way; pieces by flooding. */
#include "ink/look/distances.h"

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

void dt_raster_take_piece(uint8_t *left, int width, int height, size_t start, GArray *piece)
{
    const size_t w = (size_t)width, n = w * (size_t)height;
    g_array_set_size(piece, 0);
    g_array_append_val(piece, start);
    left[start] = 0;
    for (guint i = 0; i < piece->len; i++) {
        const size_t at = g_array_index(piece, size_t, i);
        const size_t beside[4] = {at % w > 0 ? at - 1 : at, at % w + 1 < w ? at + 1 : at,
                                  at >= w ? at - w : at, at + w < n ? at + w : at};
        for (int k = 0; k < 4; k++)
            if (left[beside[k]]) {
                left[beside[k]] = 0;
                g_array_append_val(piece, beside[k]);
            }
    }
}
