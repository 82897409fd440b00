/* pen-mask: the opening of a mask by a disc, by exact distance transforms. */
#include "support/pen-mask.h"

#include <glib.h>
#include <math.h>
#include <string.h>

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

/* Columns are copied out in bundles of neighbours: one by one they would fetch a line of memory for
 * every number. */
enum { BUNDLE = 16 };

static void transform_columns(float *out, int w, int h, int *v, float *z, float *copy)
{
    g_autofree float *bundle = g_new(float, (size_t)BUNDLE *(size_t)h);
    for (int x = 0; x < w; x += BUNDLE) {
        int n = MIN(BUNDLE, w - x);
        for (int y = 0; y < h; y++)
            for (int k = 0; k < n; k++)
                bundle[k * h + y] = out[(size_t)y * (size_t)w + (size_t)(x + k)];
        for (int k = 0; k < n; k++)
            row_transform(bundle + k * h, h, v, z, copy);
        for (int y = 0; y < h; y++)
            for (int k = 0; k < n; k++)
                out[(size_t)y * (size_t)w + (size_t)(x + k)] = bundle[k * h + y];
    }
}

void pen_mask_squared_distance(const uint8_t *seed, uint8_t what, int w, int h, float *out)
{
    int most = MAX(w, h) + 1;
    g_autofree int *v = g_new(int, most);
    g_autofree float *z = g_new(float, most + 1), *copy = g_new(float, most);
    for (int i = 0; i < w * h; i++)
        out[i] = seed[i] == what ? 0 : FAR;
    for (int y = 0; y < h; y++)
        row_transform(out + (size_t)y * (size_t)w, w, v, z, copy);
    transform_columns(out, w, h, v, z, copy);
}

uint8_t *pen_mask_crop(const uint8_t *mask, int w, int h, int margin, int *x0, int *y0, int *cw,
                       int *ch)
{
    int left = w, right = -1, top = h, bottom = -1;
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++)
            if (mask[(size_t)y * (size_t)w + (size_t)x]) {
                left = MIN(left, x);
                right = MAX(right, x);
                top = MIN(top, y);
                bottom = y;
            }
    *x0 = left - margin;
    *y0 = top - margin;
    *cw = MAX(right - left + 1, 0) + 2 * margin;
    *ch = MAX(bottom - top + 1, 0) + 2 * margin;
    uint8_t *m = g_malloc0((size_t)*cw * (size_t)*ch);
    for (int y = top; y <= bottom; y++)
        for (int x = left; x <= right; x++)
            m[(size_t)(y - *y0) * (size_t)*cw + (size_t)(x - *x0)] =
                mask[(size_t)y * (size_t)w + (size_t)x] != 0;
    return m;
}

static void near_narrow(const uint8_t *mask, int w, int h, double radius, uint8_t *near)
{
    g_autofree float *d = g_new(float, (size_t)w *(size_t)h);
    float inside = (float)((radius - PEN_MASK_RASTER) * (radius - PEN_MASK_RASTER)),
          r2 = (float)(radius * radius);
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

void pen_mask_near_narrow(const uint8_t *mask, int w, int h, double radius, uint8_t *near)
{
    int x0, y0, cw, ch;
    g_autofree uint8_t *m = pen_mask_crop(mask, w, h, (int)radius + 2, &x0, &y0, &cw, &ch);
    g_autofree uint8_t *found = g_malloc0((size_t)cw * (size_t)ch);
    near_narrow(m, cw, ch, radius, found);
    memset(near, 0, (size_t)w * (size_t)h);
    for (int y = MAX(0, y0); y < MIN(h, y0 + ch); y++)
        for (int x = MAX(0, x0); x < MIN(w, x0 + cw); x++)
            near[(size_t)y * (size_t)w + (size_t)x] =
                found[(size_t)(y - y0) * (size_t)cw + (size_t)(x - x0)];
}
