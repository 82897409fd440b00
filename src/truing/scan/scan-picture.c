/* scan-picture: see scan-picture.h. */
#include "truing/scan/scan-picture.h"

#include "drawtrue/art.h"
#include "drawtrue/base.h"

#include <math.h>
#include <string.h>

/* A4 at 600 dpi in four inks of 16 bits, unpacked, is 280 MB. */
#define LARGEST_FILE ((gsize)512 << 20)

gboolean dt_scan_picture_load(const char *path, DtScanPicture *out, GError **error)
{
    *out = (DtScanPicture){0};
    gsize len = 0;
    g_autofree char *why = NULL, *data = dt_base_read_file(path, LARGEST_FILE, &len, error);
    if (data == NULL)
        return FALSE;
    out->grey = dt_art_read_grey(data, len, &out->w, &out->h, &out->dpi, &why);
    if (out->grey == NULL)
        g_set_error(error, DT_ERROR, DT_ERROR_INPUT, "%s: %s", path, why);
    return out->grey != NULL;
}

void dt_scan_picture_clear(DtScanPicture *p)
{
    g_free(p->grey);
    *p = (DtScanPicture){0};
}

void dt_scan_picture_shrink(const DtScanPicture *p, int by, DtScanPicture *out)
{
    out->w = MAX(p->w / by, 1);
    out->h = MAX(p->h / by, 1);
    out->grey = g_malloc((gsize)out->w * (gsize)out->h);
    const int cw = MIN(by, p->w), ch = MIN(by, p->h);
    for (int y = 0; y < out->h; y++)
        for (int x = 0; x < out->w; x++) {
            guint sum = 0;
            for (int v = 0; v < ch; v++) {
                const guint8 *row = p->grey + (gsize)(y * by + v) * (gsize)p->w + (gsize)(x * by);
                for (int u = 0; u < cw; u++)
                    sum += row[u];
            }
            out->grey[(gsize)y * (gsize)out->w + (gsize)x] = (guint8)(sum / (guint)(cw * ch));
        }
}

double dt_scan_grey_at(const DtScanPicture *p, double x, double y)
{
    const double u = CLAMP(x - 0.5, 0, p->w - 1.0), v = CLAMP(y - 0.5, 0, p->h - 1.0);
    const int i = MIN((int)u, MAX(p->w - 2, 0)), j = MIN((int)v, MAX(p->h - 2, 0));
    const int i1 = MIN(i + 1, p->w - 1), j1 = MIN(j + 1, p->h - 1);
    const double fx = u - i, fy = v - j;
    const guint8 *a = p->grey + (gsize)j * (gsize)p->w, *b = p->grey + (gsize)j1 * (gsize)p->w;
    return (a[i] * (1 - fx) + a[i1] * fx) * (1 - fy) + (b[i] * (1 - fx) + b[i1] * fx) * fy;
}

/* Figures ------------------------------------------------------------------------------------ */

/* Sums over rectangles: entry (x, y) is that of all pixels left of x and above y. */
static guint32 *sum_table(const DtScanPicture *p)
{
    const gsize stride = (gsize)p->w + 1;
    guint32 *sums = g_new0(guint32, stride * ((gsize)p->h + 1));
    for (int y = 0; y < p->h; y++) {
        guint32 row = 0;
        for (int x = 0; x < p->w; x++) {
            row += p->grey[(gsize)y * (gsize)p->w + (gsize)x];
            sums[(gsize)(y + 1) * stride + (gsize)x + 1] =
                sums[(gsize)y * stride + (gsize)x + 1] + row;
        }
    }
    return sums;
}

/* Darker than this share of the mean around it is ink. */
static const double dark_share = 0.82;

static guint8 *find_dark(const DtScanPicture *p, int around)
{
    guint32 *sums = sum_table(p);
    const gsize stride = (gsize)p->w + 1;
    guint8 *dark = g_malloc((gsize)p->w * (gsize)p->h);
    for (int y = 0; y < p->h; y++)
        for (int x = 0; x < p->w; x++) {
            const gsize x0 = (gsize)MAX(x - around, 0), x1 = (gsize)MIN(x + around + 1, p->w);
            const gsize y0 = (gsize)MAX(y - around, 0), y1 = (gsize)MIN(y + around + 1, p->h);
            const guint32 sum = sums[y1 * stride + x1] - sums[y0 * stride + x1] -
                                sums[y1 * stride + x0] + sums[y0 * stride + x0];
            const gsize at = (gsize)y * (gsize)p->w + (gsize)x;
            const double mean = sum / (double)((x1 - x0) * (y1 - y0));
            dark[at] = p->grey[at] < mean * dark_share;
        }
    g_free(sums);
    return dark;
}

typedef struct {
    double n, x, y, xx, yy, xy, radius;
} Moments;

static DtScanFigure figure_of(const Moments *m)
{
    const double x = m->x / m->n, y = m->y / m->n;
    const double xx = m->xx / m->n - x * x, yy = m->yy / m->n - y * y, xy = m->xy / m->n - x * y;
    const double mean = (xx + yy) / 2, spread = hypot((xx - yy) / 2, xy);
    return (DtScanFigure){.n = (int)m->n,
                          .middle = {x + 0.5, y + 0.5},
                          .along = sqrt(MAX(mean + spread, 0)),
                          .across = sqrt(MAX(mean - spread, 0)),
                          .angle = atan2(2 * xy, xx - yy) / 2,
                          .radius = m->radius};
}

/* All pixels of the figure that holds `start`, which are no longer dark afterwards, onto `stack`. */
static void gather(const DtScanPicture *p, guint8 *dark, guint32 start, GArray *stack)
{
    g_array_set_size(stack, 0);
    g_array_append_val(stack, start);
    dark[start] = 0;
    for (guint i = 0; i < stack->len; i++) {
        const guint32 at = g_array_index(stack, guint32, i);
        const int x = (int)(at % (guint32)p->w), y = (int)(at / (guint32)p->w);
        for (int v = MAX(y - 1, 0); v <= MIN(y + 1, p->h - 1); v++)
            for (int u = MAX(x - 1, 0); u <= MIN(x + 1, p->w - 1); u++) {
                const guint32 next = (guint32)v * (guint32)p->w + (guint32)u;
                if (dark[next]) {
                    dark[next] = 0;
                    g_array_append_val(stack, next);
                }
            }
    }
}

static Moments moments_of(const DtScanPicture *p, const GArray *pixels)
{
    Moments m = {.n = pixels->len};
    for (guint i = 0; i < pixels->len; i++) {
        const guint32 at = g_array_index(pixels, guint32, i);
        const double x = at % (guint32)p->w, y = at / (guint32)p->w;
        m.x += x;
        m.y += y;
        m.xx += x * x;
        m.yy += y * y;
        m.xy += x * y;
    }
    for (guint i = 0; i < pixels->len; i++) {
        const guint32 at = g_array_index(pixels, guint32, i);
        const double x = at % (guint32)p->w - m.x / m.n, y = at / (guint32)p->w - m.y / m.n;
        m.radius = MAX(m.radius, hypot(x, y));
    }
    return m;
}

GArray *dt_scan_figures(const DtScanPicture *p, int around, int least)
{
    GArray *figures = g_array_new(FALSE, FALSE, sizeof(DtScanFigure));
    g_autoptr(GArray) pixels = g_array_new(FALSE, FALSE, sizeof(guint32));
    guint8 *dark = find_dark(p, around);
    for (guint32 at = 0; at < (guint32)p->w * (guint32)p->h; at++) {
        if (!dark[at])
            continue;
        gather(p, dark, at, pixels);
        if (pixels->len < (guint)least)
            continue;
        const Moments m = moments_of(p, pixels);
        const DtScanFigure f = figure_of(&m);
        g_array_append_val(figures, f);
    }
    g_free(dark);
    return figures;
}
