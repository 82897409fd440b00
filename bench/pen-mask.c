/* pen-mask: the opening of a mask by a disc, by exact distance transforms. */
#include "pen-mask.h"

#include <glib.h>
#include <math.h>

/* Lower envelope of parabolas along one row (Felzenszwalb and Huttenlocher 2012, "Distance
 * transforms of sampled functions"): f becomes the least of f(q) + (q - p)^2. */
static void row_transform(float *f, int n, int *v, float *z, float *copy)
{
    int k = 0;
    v[0] = 0;
    z[0] = -INFINITY;
    z[1] = INFINITY;
    for (int q = 0; q < n; q++)
        copy[q] = f[q];
    for (int q = 1; q < n; q++) {
        float s;
        for (;; k--) {
            int p = v[k];
            s = ((copy[q] + (float)q * (float)q) - (copy[p] + (float)p * (float)p)) /
                (float)(2 * (q - p));
            if (s > z[k] || k == 0)
                break;
        }
        if (s > z[k])
            k++;
        v[k] = q;
        z[k] = k == 0 ? -INFINITY : s;
        z[k + 1] = INFINITY;
    }
    for (int q = 0, j = 0; q < n; q++) {
        while (z[j + 1] < (float)q)
            j++;
        float d = (float)(q - v[j]);
        f[q] = copy[v[j]] + d * d;
    }
}

#define FAR 1e7F

void pen_mask_squared_distance(const uint8_t *seed, uint8_t what, int w, int h, float *out)
{
    int most = MAX(w, h) + 1;
    g_autofree int *v = g_new(int, most);
    g_autofree float *z = g_new(float, most + 1), *copy = g_new(float, most),
                     *column = g_new(float, most);
    for (int i = 0; i < w * h; i++)
        out[i] = seed[i] == what ? 0 : FAR;
    for (int y = 0; y < h; y++)
        row_transform(out + (size_t)y * (size_t)w, w, v, z, copy);
    for (int x = 0; x < w; x++) {
        for (int y = 0; y < h; y++)
            column[y] = out[y * w + x];
        row_transform(column, h, v, z, copy);
        for (int y = 0; y < h; y++)
            out[y * w + x] = column[y];
    }
}

void pen_mask_near_narrow(const uint8_t *mask, int w, int h, double radius, uint8_t *near)
{
    g_autofree float *d = g_new(float, (size_t)w *(size_t)h);
    float inside = (float)((radius - PEN_MASK_RASTER) * (radius - PEN_MASK_RASTER)), r2 = (float)(radius * radius);
    float out = (float)((1.5 * radius) * (1.5 * radius));
    int n = w * h;
    pen_mask_squared_distance(mask, 0, w, h, d);
    for (int i = 0; i < n; i++)
        near[i] = mask[i] && d[i] >= inside; /* the pen's middle may be here */
    pen_mask_squared_distance(near, 1, w, h, d);
    for (int i = 0; i < n; i++)
        near[i] = mask[i] && d[i] > out; /* half a radius beyond what it reaches */
    pen_mask_squared_distance(near, 1, w, h, d);
    for (int i = 0; i < n; i++)
        near[i] = d[i] <= r2;
}
